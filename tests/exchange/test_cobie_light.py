"""Which types of a COBie workbook are luminaires."""

from __future__ import annotations

import pytest

from vault.exchange.cobie_light import Light, judge_type


@pytest.mark.parametrize(("name", "category", "light"), [
    ("Downlight 150", "n/a", Light.YES),
    ("M_Pendant Light - Disk", "n/a", Light.YES),
    ("LED Langfeldleuchte", "", Light.YES),
    ("Notlichtleuchte", "", Light.YES),
    ("Luminaire encastré", "", Light.YES),
    ("Éclairage de secours", "", Light.YES),
    ("Apparecchio di illuminazione", "", Light.YES),
    ("Luminaria empotrada", "", Light.YES),
    ("Noodverlichtingsarmatuur", "", Light.YES),
    ("Lamps", "", Light.YES),
    ("Outdoor lighting bollard", "", Light.YES),
    # Codes from memory: Uniclass 2015, OmniClass 23, MasterFormat, DIN 276.
    ("X100", "Pr_70_70_48: Lamps", Light.YES),
    ("X100", "23-35 47 11: Fixtures", Light.YES),
    ("X100", "26 51 13: Interior", Light.YES),
    ("X100", "445", Light.YES),
    # UniFormat D5020 holds wiring too.
    ("Receptacle", "D5020: Lighting and Branch Wiring", Light.DOUBT),
    ("Downlight", "D5020: Lighting and Branch Wiring", Light.YES),
    ("Light switch", "", Light.DOUBT),
    ("Door with light", "n/a", Light.DOUBT),
    ("Emergency unit 3 h", "", Light.DOUBT),
    ("Luminaire at the door", "Luminaire", Light.DOUBT),
    ("Skylight 600 x 600", "Skylights", Light.NO),
    ("Emergency exit door", "", Light.NO),
    ("Lightning rod", "", Light.NO),
    ("Lichtkuppel", "", Light.NO),
    ("Door Type D", "Doors", Light.NO),
    ("Slighting 445", "", Light.NO),
])
def test_a_type_is_known_by_its_category_and_its_name(name: str, category: str, light: Light) -> None:
    """Codes and words of six languages speak for a luminaire; a word against makes it a question, never a silent guess."""
    judged = judge_type(name, category)
    assert (judged.light, bool(judged.because)) == (light, True)
