"""Work orders on paper: what stands on their pages, in which order, and what may be read and ticked there."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pypdfium2
import pytest
import zxingcpp

from labels.code import make_symbol
from vault.domain.pictures import Figures, Resistor, Switches
from vault.errors import GearkeepError
from vault.exchange.work_order import Offer, OrderStep, ReadbackField, SpareToFit, WorkOrder
from vault.exchange.work_order_parts import TICK
from vault.exchange.work_order_pdf import write_work_orders

LINK = "HTTPS://LX.EXAMPLE.EU/L/7K3D9QXW6"
BANK = Switches(caption="Switches: current", numbers=(3, 4, 5), on=(True, False, True), on_is_down=True, off_limits=(1, 2),
                gives="700 mA")
SPARE = SpareToFit(
    model="GEN-1", title="Generic spare, 44 W", verdict="fits with care", refused=False, stock="4 in MAIN, bin A1",
    findings=("CARE Set 680 mA, 2.9 % off the recorded 700 mA.",), cannot_hold=("Power limit: 31.0 W.",),
    steps=(OrderStep(text="Photograph the old driver."),
           OrderStep(text="Set the switches: 3 ON 4 OFF 5 ON", detail=("With the supply off.", "This gives 700 mA."))),
    pictures=(BANK, Figures(caption="Bus", rows=(("fade time", "4"),))), class_hint="GEN-1 is another model than OLD-1.")
ORDER = WorkOrder(
    tag_shown="7K3D 9QXW 6", version=3, site="Test Baths", gear="general gear", place="Hall <east> & west, row 7",
    type_words="Type T1: Linear luminaire", link_text=LINK,
    matrix=tuple(tuple(map(bool, row)) for row in make_symbol(LINK, level="Q", max_version=10).matrix),
    facts=(("Where", "line D1, circuit L1"), ("Record", "version 3, digest aaaa bbbb cccc dddd")),
    banner="PROVISIONAL – NOT APPROVED: readback-differs", findings=("STOP Current reads 500 mA.",),
    large=(("CURRENT", "700 mA"), ("VOLTAGE WINDOW", "30.0 to 44.0 V"), ("SHORT ADDRESS, numbered from 1", "7")),
    settings=(("fade time", "2.0 s (fade time 4)"), ("minimum level", "level 86 (1 %)")),
    neighbours=("CH-008, row 8, address 8",), cautions=("Competent persons only.", "Prove it dead."), spare=SPARE, offers=(),
    remarks=(),
    readback=(ReadbackField(says="Current, in mA", expected="700 mA"),
              ReadbackField(says="Short address, as on the bus, 0 to 63", expected="7 (numbered from 1; 6 on the bus)")),
    evidence=(("The current", "mA"),), retests=("Earth continuity, with the supply off.", "Insulation: at least 1 MΩ."),
    checkpoint="The vault's journal holds 207 entries, root 526a 2b4e …")
UNNAMED = replace(ORDER, spare=None, remarks=("Output: constant current.",),
                  offers=(Offer(model="GEN-2", verdict="fits", stock="2 in MAIN", reason="Generic spare, 50 W"),))
REFUSED = replace(ORDER, spare=replace(SPARE, verdict="does not fit", refused=True, steps=(), pictures=(), cannot_hold=()))


def _texts(path: Path) -> list[str]:
    """The text of each page, on one line."""
    with pypdfium2.PdfDocument(path) as document:
        return [" ".join(page.get_textpage().get_text_range().split()) for page in document]


def _written(path: Path, *orders: WorkOrder) -> str:
    write_work_orders(path, orders)
    return " ".join(_texts(path))


def _boxes(path: Path, side: float = TICK + 1.6) -> int:
    """Boxes to tick on all pages: square paths of that side, the width of their edge at both ends in it."""
    with pypdfium2.PdfDocument(path) as document:
        bounds = [one.get_bounds() for page in document for one in page.get_objects()]
    return sum(abs(right - left - side) < 0.3 and abs(top - bottom - side) < 0.3 for left, bottom, right, top in bounds)


@pytest.mark.parametrize("said", [
    "7K3D 9QXW 6", "Hall <east> & west, row 7", "Type T1: Linear luminaire", "line D1, circuit L1", "aaaa bbbb cccc dddd",
    "PROVISIONAL – NOT APPROVED: readback-differs", "STOP Current reads 500 mA.", "700 mA", "30.0 to 44.0 V",
    "SHORT ADDRESS, numbered from 1", "fade time: 2.0 s (fade time 4)", "CH-008, row 8, address 8", "Is this the luminaire?",
    "Competent persons only.", "Prove it dead.", "GEN-1 – fits with care", "4 in MAIN, bin A1", "Set 680 mA, 2.9 % off",
    "It cannot hold: Power limit: 31.0 W.", "Photograph the old driver.", "Set the switches: 3 ON 4 OFF 5 ON",
    "With the supply off.", "gives 700 mA", "Current, in mA", "set to 7 (numbered from 1; 6 on the bus)",
    "The current is known by: meter, mA photograph of the switches parameter sheet", "Insulation: at least 1 MΩ.",
    "like for like approved equivalent modification, approved by (code)", "another model than OLD-1",
    "scrapped kept for inspection returned to the store sent back to its maker", "signer code date signature",
    "root 526a 2b4e", "Test Baths", "page 1 of 2", "version 3",
])
def test_everything_stands_on_the_paper(tmp_path: Path, said: str) -> None:
    """Each setting, caution, step, field and line to fill in."""
    assert said in _written(tmp_path / "one.pdf", ORDER)


def test_it_is_read_in_the_order_in_which_it_is_worked(tmp_path: Path) -> None:
    """Which luminaire, cautions, what the spare cannot hold, steps, drawing, readback, tests, signature."""
    text = _written(tmp_path / "one.pdf", ORDER)
    parts = ["Is this the luminaire?", "Competent persons only.", "Prove it dead.", "It cannot hold",
             "Photograph the old driver.", "Set the switches", "How it is set by hand", "Read back", "Test again",
             "Class of the change", "Done by"]
    places = [text.index(part) for part in parts]
    assert places == sorted(places)


@pytest.mark.parametrize(("order", "boxes"), [
    # identity 4, cautions 1; steps 2, readback 2, evidence 3, tests 2 × 3, model 1, class 3, old driver 4
    (ORDER, 4 + 1 + 2 + 2 + 3 + 6 + 1 + 3 + 4),
    # one spare to choose and five steps to write stand in for the steps and the model
    (UNNAMED, 4 + 1 + 1 + 5 + 2 + 3 + 6 + 3 + 4),
    (REFUSED, 4 + 1),
])
def test_there_is_a_box_for_all_that_is_ticked(tmp_path: Path, order: WorkOrder, boxes: int) -> None:
    """As many squares as there are things to say yes to."""
    write_work_orders(tmp_path / "one.pdf", [order])
    assert _boxes(tmp_path / "one.pdf") == boxes


def test_the_code_reads_as_the_label_does(tmp_path: Path) -> None:
    """From the page as it is printed at 200 dots an inch."""
    write_work_orders(tmp_path / "one.pdf", [ORDER])
    with pypdfium2.PdfDocument(tmp_path / "one.pdf") as document:
        picture = document[0].render(scale=200 / 72).to_pil()
    assert [one.text for one in zxingcpp.read_barcodes(picture)] == [LINK]


def test_without_a_spare_it_ranks_what_fits(tmp_path: Path) -> None:
    """And leaves lines for what was done."""
    text = _written(tmp_path / "one.pdf", UNNAMED)
    assert text.index("Prove it dead.") < text.index("Output: constant current.") < text.index("GEN-2") < text.index("Steps done")


def test_a_spare_that_does_not_fit_gets_no_steps(tmp_path: Path) -> None:
    """The cautions and the reasons stand there, nothing to do and nothing to fill in."""
    text = _written(tmp_path / "one.pdf", REFUSED)
    assert "does not fit" in text and "CARE Set 680 mA" in text and "Do not fit it." in text
    assert [said for said in ("Steps", "Read back", "Test again", "Class of the change") if said in text] == []


def test_each_order_begins_on_a_page_of_its_own(tmp_path: Path) -> None:
    """Pages are counted for each; the head of every page says whose it is."""
    orders = [ORDER, REFUSED, replace(UNNAMED, tag_shown="0000 0000 0")]
    counts = write_work_orders(tmp_path / "many.pdf", orders)
    pages = _texts(tmp_path / "many.pdf")
    expected = [(order.tag_shown, number, count) for order, count in zip(orders, counts, strict=True)
                for number in range(1, count + 1)]
    assert len(pages) == sum(counts)
    assert all(f"Work order {tag} version 3" in page and f"page {number} of {count}" in page
               for page, (tag, number, count) in zip(pages, expected, strict=True))


@pytest.mark.parametrize("order", [
    replace(ORDER, place="W" * 40),
    replace(ORDER, large=(("CURRENT", "700 mA / " * 12),)),
    replace(ORDER, spare=replace(SPARE, steps=SPARE.steps * 6)),
    replace(ORDER, spare=replace(SPARE, pictures=(
        BANK, Resistor(caption="Resistor", ohms_words="14.3 kΩ", bands=("brown", "yellow"), gives="350 mA")))),
    replace(ORDER, cautions=("Wait 5 minutes, then measure its terminals before you touch them. " * 2,) * 12),
    replace(ORDER, readback=(*ORDER.readback * 6, ReadbackField(says="Scenes, or none", expected=", ".join(
        f"{number}: level 254 (100 %)" for number in range(16)))), spare=replace(SPARE, pictures=())),
    replace(ORDER, readback=ORDER.readback * 13, settings=ORDER.settings * 12),
])
def test_two_pages_are_enough(tmp_path: Path, order: WorkOrder) -> None:
    """Long places and figures, many steps, two drawings, all cautions, a long readback."""
    assert write_work_orders(tmp_path / "one.pdf", [order])[0] <= 2
    assert "Done by" in " ".join(_texts(tmp_path / "one.pdf"))


@pytest.mark.parametrize(("order", "name", "kind"), [
    (replace(ORDER, place="Зал 7"), "one.pdf", "no-glyph"),
    (replace(ORDER, spare=replace(SPARE, title="箱")), "one.pdf", "no-glyph"),
    (ORDER, "nowhere/one.pdf", "unwritable-file"),
])
def test_what_cannot_be_printed_leaves_no_file(tmp_path: Path, order: WorkOrder, name: str, kind: str) -> None:
    """A letter that the font lacks would be an empty frame on the paper."""
    with pytest.raises(GearkeepError) as caught:
        write_work_orders(tmp_path / name, [order])
    assert (caught.value.kind, list(tmp_path.iterdir())) == (kind, [])


def test_the_same_order_gives_the_same_bytes(tmp_path: Path) -> None:
    """No clock and no chance in the file."""
    for name in ("one.pdf", "two.pdf"):
        write_work_orders(tmp_path / name, [ORDER])
    assert (tmp_path / "one.pdf").read_bytes() == (tmp_path / "two.pdf").read_bytes()


def test_progress_is_told_for_each(tmp_path: Path) -> None:
    """Up to all of them."""
    told: list[tuple[int, int]] = []
    write_work_orders(tmp_path / "two.pdf", [ORDER, UNNAMED], lambda done, total: told.append((done, total)))
    assert told == [(1, 2), (2, 2)]
