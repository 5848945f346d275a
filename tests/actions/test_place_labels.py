"""Labels of bins, spares and control lines: what they say, what their code says, what scanning them answers."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st
from small_vault import HOST, SmallVault

from labels.reading import read_picture
from vault.actions.place_labels import Content, bin_label, line_label, print_place, spare_label, told
from vault.actions.stock_load import load_stock
from vault.errors import GearkeepError, UsageProblem
from vault.trust.place_link import Place, PlaceText, parse_place, place_link

LABELS = {
    "bin": (lambda: bin_label("MAIN", "A1"), "HTTPS://LX.EXAMPLE.EU/B/MAIN/A1", "Bin A1 of the store MAIN holds "),
    "spare": (lambda: spare_label("GEN-50-1050", "G5-0412"), "HTTPS://LX.EXAMPLE.EU/D/GEN-50-1050/G5-0412",
              "Spare GEN-50-1050, serial G5-0412: "),
    "model": (lambda: spare_label("GEN-50-1050", None), "HTTPS://LX.EXAMPLE.EU/D/GEN-50-1050", "Spare GEN-50-1050: "),
    "line": (lambda: line_label("D1"), "HTTPS://LX.EXAMPLE.EU/N/D1", "Line D1: "),
}


@pytest.mark.parametrize(("content", "code", "sentence"), LABELS.values(), ids=LABELS)
def test_a_label_reads_back_and_is_answered(small: SmallVault, content: Callable[[], Content], code: str, sentence: str) -> None:
    """The picture's one code holds the link, and scanning that link says what the thing is."""
    out = small.folder / "place.png"
    drawn = print_place(small.open(), content(), out)
    assert [found.text for found in read_picture(out)] == [code]
    assert drawn.left_off == ()
    read = parse_place(code)
    assert read is not None
    with small.open().reading() as session:
        assert told(session, read).startswith(sentence)


@pytest.mark.parametrize(
    "content", [bin_label("MAIN", "Z9"), spare_label("NO-SUCH", None), line_label("X9")], ids=["bin", "spare", "line"]
)
def test_what_is_not_there_is_refused_with_what_is(small: SmallVault, content: Content) -> None:
    """A bin, model or line that the vault does not know names those that it does or the command that lists them."""
    with pytest.raises(UsageProblem) as caught:
        print_place(small.open(), content, small.folder / "place.png")
    assert caught.value.kind == "not-found" and caught.value.hint
    assert not (small.folder / "place.png").exists()


def test_a_battery_has_a_label_too(small: SmallVault) -> None:
    """What it is and how long it keeps, by its terms; scanning it says the same."""
    (small.folder / "b.csv").write_text("model,item,shelf_life_months\nBATT-4,battery,24\n", encoding="utf-8")
    load_stock(small.desk("S01"), small.folder / "b.csv", store="MAIN")
    print_place(small.open(), spare_label("BATT-4", None), small.folder / "battery.png")
    code, = [found.text for found in read_picture(small.folder / "battery.png")]
    read = parse_place(code)
    assert read is not None
    with small.open().reading() as session:
        assert told(session, read) == "Spare BATT-4: battery, keeps 24 months."


def test_a_label_of_another_vault_is_not_answered(small: SmallVault) -> None:
    """Bin A1 of somebody else is not bin A1 here."""
    with small.open().reading() as session, pytest.raises(GearkeepError) as caught:
        told(session, PlaceText(host="OTHER.EXAMPLE", place=Place.BIN, names=("MAIN", "A1")))
    assert caught.value.kind == "other-vault"


NAMES = st.text(alphabet="ABCXYZ0189.-", min_size=1, max_size=24)


@given(place=st.sampled_from(Place), names=st.lists(NAMES, min_size=1, max_size=2))
def test_a_link_comes_back(place: Place, names: list[str]) -> None:
    """What was put into a link is read out of it."""
    read = parse_place(place_link(HOST, place, *names))
    assert read == PlaceText(host=HOST.upper(), place=place, names=tuple(names))


@pytest.mark.parametrize("text", ["", "https://lx.example.eu/L/7K3D9QXW6", "HTTPS://LX.EXAMPLE.EU/B/", "BIN A1", "é"])
def test_other_texts_are_no_such_link(text: str) -> None:
    """A luminaire's label, half a link and plain words are left to others."""
    assert parse_place(text) is None


@pytest.mark.parametrize("name", ["two words", "Prüf", "A/B", ""])
def test_a_name_that_no_code_holds_is_refused(name: str) -> None:
    """Rather than printed as something else."""
    with pytest.raises(UsageProblem, match="cannot stand"):
        place_link(HOST, Place.BIN, name)
