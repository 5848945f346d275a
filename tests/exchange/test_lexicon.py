"""What headings of other people's schedules mean, and the unit in them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vault.exchange.lexicon import LANGUAGES, fold, lexicon, look_up, unit_named, written_words
from vault.exchange.lexicon_cells import possible, spoken_for, telling
from vault.exchange.lexicon_near import near_fields
from vault.exchange.schedule_columns import GEAR_COLUMNS, LUMINAIRE_COLUMNS
from vault.exchange.schedule_fields import FIELDS


# Headings as schedules of the trade have them in English, German and French; common practice, no source.
@pytest.mark.parametrize(("field", "headings"), [
    ("reference", "Tag No.|Fitting No.|Asset Tag|Leuchten-Nr.|BMK|Kennz.|Repère|Rep."),
    ("type", "Fitting|Lum. Type|Type Ref|Fixture|Typ|LT|Type lum."),
    ("quantity", "No. off|Quantity|Stk.|Menge|Qté|Nb"),
    ("building", "Building|Bldg|Geb.|Gebäude|Bât.|Bâtiment"),
    ("floor", "Floor|Flr|Level|Etage|Ebene|Geschoss|Niveau|Étage"),
    ("room", "Room|Space|Room No.|Raum-Nr.|Raumnr|Local|N° local"),
    ("grid", "Grid Ref|Gridline|Raster|Achse|Axe|Trame"),
    ("board", "Board|Dist. Board|DB|UV|Verteiler|Tableau|Armoire"),
    ("circuit", "Circuit|Way|Cct No.|Stromkreis|Circuit|Départ|Dép."),
    ("power_w", "Load (W)|Power/W|Leistung [W]|P [W]|Puiss. (W)|Puissance|W"),
    ("current_ma", "Iout|Drive Current|Output Current (mA)|Ausgangsstrom|Strom [mA]|Iaus|I sortie (mA)|Courant LED|Courant"),
    ("voltage_window", "Vf range|Vout|Vorwärtsspannung|Flussspg.|Uaus [V]|Tension directe|Plage Vf"),
    ("driver", "Driver|CG|Ballast/Driver|Betriebsgerät|EVG|Konverter|Appareillage|Betriebsgeraet"),
    ("supply", "Supply|Input|Netz|Réseau|Tension alim."),
    ("protection_class", "Class|Elec. Class|Schutzkl.|Schutzklasse|Classe|Cl."),
    ("ip", "IP|IP Rating|Schutzart|Indice IP"),
    ("control", "Ctrl|Dimming|Steuerung|Ansteuerung|Gradation|Commande"),
    ("line", "DALI Line|Bus|Linie|DALI-Linie|Bus DALI"),
    ("address", "Address|SA|DALI Addr.|DALI-Adr.|Adresse|KA|Adr. DALI"),
    ("groups", "Grp|Group(s)|Gruppe(n)|Groupe|Gpe"),
    ("scene_1", "Scene 1|Sc1|Szene 1|Sz.1|Scène 1|Sc. 1|scene_1"),
    ("limits", "Dim limits|Min/Max|Dimmgr.|Min/Max %|Mini/maxi|Bornes"),
    ("emergency_mode", "EM|M/NM|Emergency|DS/BS|Secours|P/NP"),
    ("duration", "Dur.|Duration (h)|Betriebsdauer|Nennbetriebsd.|Autonomie|Durée"),
    ("central", "CBS addr.|Batt. Cct/No.|SiBe-Adr.|Source centr.|ZB-Kreis/Nr."),
])
def test_headings_of_the_trade_mean_one_field(field: str, headings: str) -> None:
    """A heading that means one field is known as it, whatever its case, accents, dots and unit."""
    found = {heading: look_up(heading) for heading in headings.split("|")}
    said = {heading: meaning and (meaning.fields, meaning.sure) for heading, meaning in found.items()}
    assert said == dict.fromkeys(found, ((field,), True))


@pytest.mark.parametrize(("field", "headings"), [
    ("reference", "Rif. apparecchio|Sigla|Nº luminaria|Armatuurnummer"),
    ("type", "Tipo apparecchio|Tipo de luminaria|Armatuurtype"),
    ("quantity", "Q.tà|Cant.|Aantal"), ("floor", "Piano|Planta|Verdieping"), ("room", "Locale|Estancia|Ruimtenr."),
    ("board", "Quadro elettrico|Cuadro|Verdeelkast"), ("circuit", "Interruttore|Circuito|Stroomkring"),
    ("power_w", "Potenza (W)|Potencia [W]|Vermogen (W)"), ("current_ma", "Corrente (mA)|Intensidad|Uitgangsstroom [mA]"),
    ("driver", "Alimentatore|Balasto|Voorschakelapparaat"), ("protection_class", "Classe di isolamento|Clase|Isolatieklasse"),
    ("address", "Indirizzo|Dirección DALI|DALI-adres"), ("groups", "Gruppo|Grupos|DALI-groep"),
    ("duration", "Autonomia|Autonomía (h)|Autonomietijd"), ("emergency_mode", "Emergenza|Emergencia|Noodverlichting"),
])
def test_italian_spanish_and_dutch_headings_are_known(field: str, headings: str) -> None:
    """The other languages' headings lead to the field, or ask with it among the choices."""
    found = [look_up(heading) for heading in headings.split("|")]
    assert [field in meaning.fields for meaning in found if meaning] == [True] * len(found)


@pytest.mark.parametrize(("heading", "fields"), [
    ("SK", {"circuit", "protection_class"}), ("Mode", {"emergency_mode", "control"}), ("Spannung", {"supply", "voltage_window"}),
    ("Volts", {"supply", "voltage_window"}), ("V DC", {"supply", "voltage_window"}), ("Location", {"place", "room", "grid"}),
    ("Lage", {"place", "grid"}), ("L", {"line", "circuit", ""}), ("Pos.", {"reference", "type", "grid"}),
    ("Cct", {"circuit", "coolest_k", "warmest_k"}), ("Groep", {"circuit", "groups"}), ("Ligne", {"line", "circuit"}),
    ("Alim.", {"driver", "supply"}), ("Désignation", {"reference", "type"}), ("SiBe", {"emergency_mode", "central", "circuit"}),
    ("Schaltungsart", {"emergency_mode", "control"}), ("DALI", {"line", "address", "line_address", "control"}),
    ("Ref", {"reference", "type"}), ("Gr.", {"groups", "circuit"}), ("Départ SC", {"central", "central_circuit"}),
])
def test_headings_with_several_meanings_are_never_sure(heading: str, fields: set[str]) -> None:
    """A heading that people use for several things has them all, and is not sure."""
    meaning = look_up(heading)
    assert meaning is not None
    assert set(meaning.fields) == fields
    assert not meaning.sure


@pytest.mark.parametrize(("heading", "fields", "unit"), [
    ("Output Current (mA)", ("current_ma",), "mA"), ("Leistung [W]", ("power_w",), "W"), ("P [W]", ("power_w",), "W"),
    ("I sortie (mA)", ("current_ma",), "mA"), ("Power/W", ("power_w",), "W"), ("Strom in A", ("current_ma",), "A"),
    ("Duration h", ("duration",), "h"), ("Betriebsdauer [Std.]", ("duration",), "h"), ("Min/Max %", ("limits",), "%"),
    ("Output\u00a0Current\u00a0(mA)", ("current_ma",), "mA"), ("U [V]", ("voltage_window", "supply"), "V"),
    ("I/P", ("supply",), ""), ("Vf (V)", ("voltage_window",), "V"),
    ("Scene 3 (%)", ("scene_3",), "%"), ("Iout 2 (mA)", ("current_2_ma",), "mA"), ("Strom Kanal 3", ("current_3_ma",), ""),
    ("Drive current CH1", ("current_ma",), ""), ("DALI min", ("min_level",), ""), ("Menge [Stk.]", ("quantity",), "pcs"),
    ("current_ma", ("current_ma",), "mA"), ("Current mA", ("current_ma",), "mA"), ("mA", ("current_ma",), "mA"),
])
def test_a_unit_is_taken_off_the_heading(heading: str, fields: tuple[str, ...], unit: str) -> None:
    """The unit of a heading is returned, and rules out what is never measured in it."""
    meaning = look_up(heading)
    assert meaning is not None
    assert (meaning.fields, meaning.unit) == (fields, unit)


@pytest.mark.parametrize(("heading", "fields", "exact"), [
    ("Raum / Room", ("room",), True), ("Etage/Niveau", ("floor",), True), ("Typ|Type", ("type",), True),
    ("DALI / Line", ("line",), True),
    ("Luminaire / Type", ("type",), True), ("DALI / Type", ("type", "control", "line", "address", "line_address"), False),
    ("Emergency / Mode", ("emergency_mode",), True), ("Notlicht / DS/BS", ("emergency_mode",), True),
    ("Battery / Address", ("central_address",), True),
    ("Floor/Room", ("room", "floor"), False), ("Adresse (0-63)", ("address",), False), ("Access / Address", ("address",), False),
])
def test_headings_of_two_parts(heading: str, fields: tuple[str, ...], exact: bool) -> None:
    """Two languages that say the same are sure; a group over a heading only where the two together are known."""
    meaning = look_up(heading)
    assert meaning is not None
    assert (meaning.fields, meaning.exact) == (fields, exact)


@pytest.mark.parametrize("heading", ["", "Foo", "Kaffeemaschine", "Betriebsgerät (mA)", "Scene 16", "Remarks", "42"])
def test_what_is_not_known_is_never_sure(heading: str) -> None:
    """Unknown headings, units that cannot be and scenes that are none are left open."""
    meaning = look_up(heading)
    assert meaning is None or not meaning.sure


@pytest.mark.parametrize("name", [*LUMINAIRE_COLUMNS, *GEAR_COLUMNS, "extra:lot"])
def test_our_own_headings_are_ours(name: str) -> None:
    """Each of our headings stands for itself, in any case and with blanks."""
    for written in (name, name.upper(), name.replace("_", " ")):
        meaning = look_up(written)
        assert meaning is not None
        assert (meaning.own, meaning.sure, [field.casefold() for field in meaning.fields]) == (True, True, [name])


def test_the_lexicon_speaks_of_our_fields_alone() -> None:
    """Every list of every language belongs to a field, and every field that people write has a heading in English."""
    assert {name for language in LANGUAGES for name in language.WORDS} - {""} <= set(FIELDS)
    numbered = {name for name in FIELDS if any(digit in name for digit in "0123456789")}
    assert set(FIELDS) - numbered - set(LANGUAGES[0].WORDS) == set()


@given(st.sampled_from(sorted(written_words())), st.sampled_from([str.upper, str.title, str.lower]),
       st.sampled_from([" ", "-", ". ", "\u00a0"]))
def test_folding_forgives_case_blanks_and_marks(heading: str, case: object, blank: str) -> None:
    """However a heading is written, it is the same heading."""
    written = case(heading.replace(" ", blank))  # type: ignore[operator]
    assert fold(written) == fold(heading)
    assert lexicon()[fold(written)] == lexicon()[fold(heading)]


@pytest.mark.parametrize(("said", "unit"),
                         [("mA", "mA"), ("[W]", "W"), ("(V)", "V"), ("Std.", "h"), ("VDC", "V DC"), ("°C", "°C"),
                                            ("A12", ""), ("", ""), ("mAh", "")])
def test_units_are_known_by_themselves(said: str, unit: str) -> None:
    """A cell that is a unit is told from one that is not."""
    assert unit_named(said) == unit


@pytest.mark.parametrize(("heading", "first"), [
    ("Ausgangstrom", "current_ma"), ("Leuchtentype.", "type"), ("Adress", "address"), ("Drvie Current", "current_ma"),
    ("Output current of the LED module (mA)", "current_ma"), ("Schutzklase", "protection_class"), ("Betriebsduer", "duration"),
])
def test_near_misses_are_offered(heading: str, first: str) -> None:
    """A slip of the pen or a word more finds the field first among the few that are offered."""
    assert near_fields(heading)[0] == first


@pytest.mark.parametrize("heading", ["", "x", "Kaffeemaschine", "Bauherr", "zzz"])
def test_what_is_not_near_offers_nothing(heading: str) -> None:
    """A heading that is like none of ours gets no suggestion."""
    assert near_fields(heading) == ()


@pytest.mark.parametrize(("fields", "cells", "left", "likely"), [
    (("circuit", "protection_class"), ["3L2", "4L3", "SiBe"], ("circuit",), "circuit"),
    (("circuit", "protection_class"), ["I", "II", "III"], ("circuit", "protection_class"), "protection_class"),
    (("supply", "voltage_window"), ["27-54 V", "30 bis 42"], ("voltage_window",), "voltage_window"),
    (("supply", "voltage_window"), ["230 V AC"], ("supply",), "supply"),
    (("supply", "voltage_window"), ["24"], ("supply", "voltage_window"), None),
    (("circuit", "coolest_k", "warmest_k"), ["L1/23"], ("circuit",), "circuit"),
    (("circuit", "coolest_k"), ["4000"], ("circuit", "coolest_k"), "coolest_k"),
    (("emergency_mode", "control"), ["DALI", "1-10V"], ("control",), "control"),
    (("emergency_mode", "control"), ["NM", "M"], ("emergency_mode",), "emergency_mode"),
    (("line", "circuit"), ["A"], ("line", "circuit"), None),
])
def test_cells_speak_for_a_meaning(fields: tuple[str, ...], cells: list[str], left: tuple[str, ...], likely: str | None) -> None:
    """Cells rule meanings out, and may speak for one of those that are left."""
    assert possible(fields, cells) == left
    assert spoken_for(fields, cells) == likely


def test_cells_that_say_nothing_do_not_count() -> None:
    """Dashes, ditto marks and "to be confirmed" speak for nothing."""
    assert telling(["-", "n/a", "dto.", '"', "TBC", "s. DB", "I"]) == ["I"]
