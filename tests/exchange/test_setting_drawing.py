"""The drawing of settings: what stands where, how large, and what is refused."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pypdfium2
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from vault.domain.pictures import Dials, Figures, Picture, Places, Resistor, Switches
from vault.errors import GearkeepError
from vault.exchange.canvas import Area, Disc, Drawing, Stroke, Words, text_width
from vault.exchange.setting_drawing import draw_pictures, draw_setting, write_setting

# Capitals of 0.668 of the type size, from the font's own OS/2 table; 72 points to 25.4 mm.
LEAST_WORDS = 2.4 * 72 / 25.4 / 0.668
LEAST_FIGURE = 5.0 * 72 / 25.4 / 0.668

BANK = Switches(caption="Current, switches", numbers=(1, 2, 3, 4), on=(True, False, True, True), on_is_down=False, gives="700 mA")
DIALS = Dials(caption="Address, dials", digits=("1", "7"), marks=tuple("0123456789"), gives="address 17")
JUMPER = Places(caption="Current, jumper", marks=("350", "500", "700"), chosen="500", plug=False, gives="500 mA")
PLUG = replace(JUMPER, caption="Current, plug", plug=True)
RESISTOR = Resistor(caption="Set resistor", ohms_words="7.15 kΩ", bands=("violet", "brown", "green", "brown", "brown"),
                    gives="699 mA")
TABLE = Figures(caption="Over the bus", rows=(("short address", "17"), ("groups", "0, 1, 5, 9 and 12")))
PAGE: dict[str, Any] = {"heading": "Q7K4-M2XP-9  Hall 2, fitting 14  GEN-25-800", "foot": "Version 4 of the record.",
                        "cautions": ["Isolate and lock off.", "Prove dead.", "Wait 5 min.", "Refit the cover."]}

TEXT = st.text(st.sampled_from("abc kW 7Ω"), max_size=60)
MARKS = st.lists(st.text(st.sampled_from("0123ABCDEF"), min_size=1, max_size=3), min_size=1, max_size=10, unique=True).map(tuple)
BANKS = st.integers(1, 12).flatmap(lambda many: st.builds(
    Switches, caption=TEXT, numbers=st.just(tuple(range(1, many + 1))), on=st.tuples(*[st.booleans()] * many),
    on_is_down=st.sampled_from([None, True, False]), gives=TEXT,
    off_limits=st.lists(st.integers(1, 12), unique=True, max_size=4).map(tuple)))
PICTURES: st.SearchStrategy[Picture] = st.one_of(
    BANKS,
    MARKS.flatmap(lambda marks: st.builds(Dials, caption=TEXT, marks=st.just(marks), gives=TEXT, digits=st.lists(
        st.sampled_from(marks), min_size=1, max_size=4).map(tuple))),
    MARKS.flatmap(lambda marks: st.builds(Places, caption=TEXT, marks=st.just(marks), chosen=st.sampled_from(marks),
                                          plug=st.booleans(), gives=TEXT)),
    st.builds(Resistor, caption=TEXT, ohms_words=st.just("14.3 kΩ"), gives=TEXT, bands=st.lists(
        st.sampled_from(["violet", "brown", "silver"]), max_size=6).map(tuple)),
    st.builds(Figures, caption=TEXT, rows=st.lists(st.tuples(TEXT, TEXT), min_size=1, max_size=16).map(tuple)),
)


def words(drawing: Drawing) -> list[Words]:
    """All texts that show anything."""
    return [shape for shape in drawing.shapes if isinstance(shape, Words) and shape.said.strip()]


def said(drawing: Drawing) -> str:
    """All texts as one, in the order of the page."""
    return " ".join(text.said for text in words(drawing))


def text_box(text: Words) -> tuple[float, float, float, float]:
    """Left, top, right and bottom of a text's capitals and figures."""
    wide = text_width(text.said, text.size, text.bold)
    left = text.at[0] - {"start": 0.0, "middle": wide / 2, "end": wide}[text.anchor]
    return left, text.at[1] - 0.668 * text.size, left + wide, text.at[1]


def overlapping(boxes: Sequence[tuple[float, float, float, float]]) -> list[object]:
    """Pairs of boxes that share ground."""
    return [(a, b) for a, b in itertools.combinations(boxes, 2) if a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]]


def levers(drawing: Drawing) -> list[tuple[float, float]]:
    """Centres of the black rectangles, from the left."""
    solid = [shape.points for shape in drawing.shapes if isinstance(shape, Area) and shape.fill == 0 and len(shape.points) == 4]
    return sorted((sum(x for x, _ in points) / 4, sum(y for _, y in points) / 4) for points in solid)


def reach(drawing: Drawing) -> tuple[float, float, float, float]:
    """Left, top, right and bottom of everything drawn."""
    boxes = [text_box(text) for text in words(drawing)]
    boxes += [(x, y, x, y) for shape in drawing.shapes if isinstance(shape, Stroke | Area) for x, y in shape.points]
    boxes += [(s.centre[0] - s.radius, s.centre[1] - s.radius, s.centre[0] + s.radius, s.centre[1] + s.radius)
              for s in drawing.shapes if isinstance(s, Disc)]
    return (min(b[0] for b in boxes), min(b[1] for b in boxes), max(b[2] for b in boxes), max(b[3] for b in boxes))


@pytest.mark.parametrize(("on_is_down", "high"), [(False, [True, False, True, True]), (True, [False, True, False, False])])
def test_a_lever_that_is_on_stands_on_the_on_side(on_is_down: bool, high: list[bool]) -> None:
    """Levers at ON stand on the side that bears the word ON, and turn over with it."""
    drawing = draw_setting([replace(BANK, on_is_down=on_is_down)], **PAGE)
    # The word ON beside the bank is the leftmost; those below the levers name each state.
    mark = {text.said: text.at[1] for text in sorted(words(drawing), key=lambda text: -text.at[0]) if text.said in ("ON", "OFF")}
    middle = (mark["ON"] + mark["OFF"]) / 2
    assert (mark["ON"] > mark["OFF"]) is on_is_down
    assert [y < middle for _, y in levers(drawing)] == high


def test_the_unknown_side_is_never_guessed() -> None:
    """Where ON is not known no lever is drawn; the page says to look, and each switch's state stands in words."""
    drawing = draw_setting([replace(BANK, on_is_down=None)], **PAGE)
    assert levers(drawing) == []
    assert "does not say which way ON is" in said(drawing)
    assert said(drawing).count(" ON ") >= 3


@pytest.mark.parametrize(("numbers", "off_limits", "many"), [
    ((1, 2, 3, 4), (5, 6), 4), ((1, 2, 3, 4), (2,), 3), ((4, 3, 2, 1), (5,), 4)])
def test_a_switch_off_limits_has_no_lever(numbers: tuple[int, ...], off_limits: tuple[int, ...], many: int) -> None:
    """Switches that are to be left alone are drawn without a lever and named."""
    drawing = draw_setting([replace(BANK, numbers=numbers, off_limits=off_limits)], **PAGE)
    assert len(levers(drawing)) == many
    assert "Crossed out: leave switch" in said(drawing)


@pytest.mark.parametrize(("numbers", "off_limits", "order"), [
    ((1, 3), (2,), ["1", "2", "3"]), ((3, 1), (2,), ["3", "2", "1"]), ((2, 1, 3), (), ["2", "1", "3"])])
def test_switches_stand_in_the_driver_s_order(numbers: tuple[int, ...], off_limits: tuple[int, ...], order: list[str]) -> None:
    """The bank is drawn in the order that is printed on the driver, those to be left alone in their place."""
    bank = replace(BANK, numbers=numbers, on=(True,) * len(numbers), off_limits=off_limits)
    marks = [text for text in words(draw_pictures([bank], width=523, height=700)) if text.said.isdigit()]
    assert [text.said for text in sorted(marks, key=lambda text: text.at[0])] == order


@pytest.mark.parametrize(("picture", "phrases"), [
    (BANK, ["Current, switches", "gives 700 mA"]),
    (DIALS, ["dial 2", "Dial 1 is the highest digit", "gives address 17"]),
    (JUMPER, ["Jumper on the place marked 500", "gives 500 mA"]),
    (PLUG, ["Fit the plug marked 500, no other"]),
    (RESISTOR, ["7.15 kΩ", "violet", "green", "gives 699 mA"]),
    (TABLE, ["short address", "17", "0, 1, 5, 9 and 12"]),
])
def test_what_must_be_read_stands_there(tmp_path: Path, picture: Picture, phrases: list[str]) -> None:
    """Every kind of picture says its setting in words, in SVG as in PDF."""
    for name in ("a.svg", "a.pdf"):
        write_setting(tmp_path / name, [picture], **PAGE)
    svg = " ".join(ElementTree.fromstring((tmp_path / "a.svg").read_bytes()).itertext())
    pdf = pypdfium2.PdfDocument(tmp_path / "a.pdf")
    text = " ".join(pdf[0].get_textpage().get_text_bounded().split())
    assert [phrase for phrase in phrases if phrase not in svg or phrase not in text] == []
    assert (len(pdf), pdf[0].get_size()) == (1, (595, 842))


@pytest.mark.parametrize("picture", [DIALS, JUMPER, PLUG])
def test_the_chosen_mark_alone_is_white_on_black(picture: Dials | Places) -> None:
    """One mark on each dial, and one place of all, is filled."""
    wanted = list(picture.digits) if isinstance(picture, Dials) else [picture.chosen]
    assert [text.said for text in words(draw_setting([picture], **PAGE)) if text.grey == 255] == wanted


@pytest.mark.parametrize(("many", "phrase"), [
    (1, "1 caution first."), (2, "2 cautions first."), (7, "7 cautions first. The other 5 stand before the steps")])
def test_cautions_come_first(many: int, phrase: str) -> None:
    """Cautions are counted, the first two in full, above every picture; the rest is said to be elsewhere."""
    page = draw_setting([BANK], **{**PAGE, "cautions": [f"Caution number {n}." for n in range(1, many + 1)]})
    assert phrase in said(page)
    assert "Caution number 3" not in said(page)
    assert said(page).index("Caution number 1") < said(page).index("Current, switches")


def test_nothing_to_set_by_hand_is_said() -> None:
    """A page without pictures says why it is empty."""
    assert "Nothing is set by hand" in said(draw_setting([], **PAGE))


@settings(deadline=None, max_examples=60)
@given(st.lists(PICTURES, min_size=1, max_size=3), st.lists(TEXT, max_size=4))
def test_every_page_is_legible_and_whole(pictures: list[Picture], cautions: list[str]) -> None:
    """All text is large enough, inside the margins, and over no other text; or the page is refused by name."""
    try:
        page = draw_setting(pictures, **{**PAGE, "cautions": cautions})
    except GearkeepError as refused:
        assert refused.kind == "drawing-too-large"
        return
    left, top, right, bottom = reach(page)
    assert (left >= 30, top >= 30, right <= 565, bottom <= 812) == (True, True, True, True)
    assert min(text.size for text in words(page)) >= LEAST_WORDS
    assert [text.size for text in words(page) if text.said.startswith("gives ") and text.size < LEAST_FIGURE] == []
    assert overlapping([text_box(text) for text in words(page)]) == []


@settings(deadline=None, max_examples=40)
@given(BANKS.filter(lambda bank: bank.on_is_down is not None and not bank.off_limits))
def test_every_lever_says_what_was_asked(bank: Switches) -> None:
    """Whatever the bank, lever n is on the ON side exactly where switch n is on."""
    made = draw_pictures([bank], width=523, height=700)
    frame = next(s.points for s in made.shapes if isinstance(s, Stroke) and len(s.points) == 6)
    middle = (frame[0][1] + frame[2][1]) / 2
    assert [(y > middle) == bank.on_is_down for _, y in levers(made)] == list(bank.on)


@pytest.mark.parametrize("width", [523, 300])
def test_pictures_for_another_page_keep_their_room(width: int) -> None:
    """Drawn by themselves, pictures stay within the width and height they were given."""
    made = draw_pictures([BANK, DIALS, RESISTOR], width=width, height=640)
    left, top, right, bottom = reach(made)
    assert (left >= 0, top >= 0, right <= width, bottom <= 640) == (True, True, True, True)


@pytest.mark.parametrize(("pictures", "kind", "phrase"), [
    ([TABLE] * 20, "drawing-too-large", "does not fit one page"),
    ([replace(BANK, numbers=tuple(range(1, 41)), on=(True,) * 40)], "drawing-too-large", "does not fit one page"),
    ([replace(BANK, on=(True,))], "not-drawable", "4 switches and 1 positions"),
    ([replace(BANK, numbers=(), on=())], "not-drawable", "no switch"),
    ([replace(BANK, numbers=(1, 1, 2, 3))], "not-drawable", "twice"),
    ([replace(DIALS, digits=("A",))], "not-drawable", "'A'"),
    ([replace(DIALS, digits=())], "not-drawable", "no dial"),
    ([replace(JUMPER, chosen="800")], "not-drawable", "'800'"),
    ([replace(JUMPER, marks=("500", "500"))], "not-drawable", "twice"),
    ([replace(RESISTOR, ohms_words="")], "not-drawable", "no value"),
    ([replace(TABLE, rows=())], "not-drawable", "no row"),
])
def test_what_cannot_be_drawn_is_refused(tmp_path: Path, pictures: list[Picture], kind: str, phrase: str) -> None:
    """A setting the driver does not have, or more than a page holds, is refused with a hint, and no file is left."""
    with pytest.raises(GearkeepError, match=phrase) as refused:
        write_setting(tmp_path / "a.pdf", pictures, **PAGE)
    assert (refused.value.kind, bool(refused.value.hint)) == (kind, True)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", ["a.gif", "a"])
def test_another_ending_is_refused(tmp_path: Path, name: str) -> None:
    """Only .svg, .png and .pdf are written."""
    with pytest.raises(GearkeepError) as refused:
        write_setting(tmp_path / name, [BANK], **PAGE)
    assert refused.value.kind == "unknown-format"


def test_the_raster_has_the_page_s_size(tmp_path: Path) -> None:
    """PNG holds the A4 page at two pixels a point; a file that stood there is replaced."""
    path = tmp_path / "a.PNG"
    path.write_bytes(b"old")
    write_setting(path, [BANK, TABLE], **PAGE)
    assert Image.open(path).size == (1190, 1684)
