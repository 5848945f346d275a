"""What is really black on a label: whatever the texts, ink stays in its own box and nothing is lost unsaid."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from label_samples import BANNER, content

from labels.boxes import Box, Layout
from labels.check import problems_of
from labels.content import BigFigure, LabelContent
from labels.errors import LabelError
from labels.layout import NOT_CARRIED, lay_out
from labels.media import MEDIA
from labels.raster import prove, raster

MEDIUM = MEDIA["60x40"]
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyzÄÅÉÜßøçñ.,;()-–/≤\u00a0"
LONG_WORDS = st.text(alphabet=LETTERS, min_size=1, max_size=40)
PHRASES = st.lists(st.text(alphabet=LETTERS, min_size=1, max_size=12), min_size=1, max_size=4).map(" ".join)
TEXTS = LONG_WORDS | PHRASES.map(lambda text: text[:40])
FIGURES = st.builds(
    BigFigure, caption=st.sampled_from(["", "ADDRESS from 0", "ÜBER gj"]), value=st.sampled_from(["0", "12", "700 mA"]) | TEXTS
)


def numbered(lines: list[str]) -> tuple[str, ...]:
    """Lines that no other text on the label can contain: each begins with its number and a sign used nowhere else."""
    return tuple(f"{number}§{line}" for number, line in enumerate(lines))


def squeezed(text: str) -> str:
    return text.replace(" ", "").replace("\u00a0", "")


CONTENTS = st.builds(
    lambda size, figures, lines, banner, host: dataclasses.replace(
        content(size, figures=tuple(figures), lines=numbered(lines), banner=banner),
        link_text=f"HTTPS://{'A' * host}.EU/L/7K3D9QXW6", capsule_optional=True,
    ),
    size=st.none() | st.integers(min_value=150, max_value=330),
    figures=st.lists(FIGURES, max_size=3),
    lines=st.lists(TEXTS, max_size=8),
    banner=st.none() | st.just(BANNER) | st.text(alphabet=LETTERS, min_size=1, max_size=40),
    host=st.integers(min_value=1, max_value=50),
)


def blank(dots: np.ndarray, boxes: list[Box]) -> np.ndarray:
    """The dots with everything inside the boxes made white."""
    left = dots.copy()
    for box in boxes:
        left[box.top : box.bottom, box.left : box.right] = False
    return left


def laid_out_or_refused(label: LabelContent) -> Layout | None:
    try:
        return lay_out(label, MEDIUM)
    except LabelError as refusal:
        assert refusal.kind == "too-big"
        return None


@settings(max_examples=80, deadline=None)
@given(label=CONTENTS)
@example(label=content(185, figures=(BigFigure(caption="ÜBER", value="ÄÖÜ gj"),), lines=numbered(["Übung gj", "j", "Éj"] * 2)))
@example(label=content(None, figures=(), lines=(), banner="Ä" * 40))
def test_a_label_is_sound_or_too_big(label: LabelContent) -> None:
    """No problems, both codes proved, ink inside its boxes, quiet zones white, and every line printed or named."""
    layout = laid_out_or_refused(label)
    if layout is None:
        return
    assert list(problems_of(layout)) == []
    picture = raster(layout)
    prove(layout, picture)
    dots = ~np.array(picture)
    modules = [
        Box(left=code.box.left + 4 * code.dots, top=code.box.top + 4 * code.dots,
            width=code.symbol.modules * code.dots, height=code.symbol.modules * code.dots)
        for code in layout.codes
    ]  # fmt: skip
    assert not blank(dots, [*(line.box for line in layout.texts), *layout.bars, *modules]).any()
    printed = squeezed("".join(line.text for line in layout.texts))
    assert {line for line in (*label.lines, *label.marks) if squeezed(line) not in printed} == set(layout.left_off)
    assert squeezed(label.tag_shown) in printed
    assert all(squeezed(figure.value) in printed for figure in label.big)
    assert (squeezed(NOT_CARRIED) in printed) == (label.capsule_text is not None and not layout.carries_settings)
    assert squeezed(label.banner or "") == squeezed("".join(line.text for line in layout.texts if line.white))


@pytest.mark.parametrize("banner", [None, BANNER])
def test_a_label_without_a_record_has_the_link_in_its_corner(banner: str | None) -> None:
    """With no capsule asked for there is one code, bottom right, and no word of missing settings."""
    layout = lay_out(content(None, banner=banner), MEDIUM)
    (link,) = layout.codes
    assert (link.name, link.box.right, link.box.bottom, layout.carries_settings) == ("link", 709, 472, False)
    assert NOT_CARRIED not in [line.text for line in layout.texts]


def test_figures_with_accents_stay_on_the_label() -> None:
    """The dots over a large capital at the top are on the label, not cut off at its edge."""
    layout = lay_out(content(None, figures=(BigFigure(caption="", value="ÜBER"),)), MEDIUM)
    (line,) = [line for line in layout.texts if line.text == "ÜBER"]
    ink = ~np.array(raster(layout))[line.box.top : line.box.bottom, line.box.left : line.box.right]
    rows = np.flatnonzero(ink.any(axis=1))
    assert line.box.top >= 0
    assert rows[-1] - rows[0] + 1 == pytest.approx(line.box.height, abs=2)


GOOD = lay_out(content(200, banner=BANNER), MEDIUM)
CAPSULE, LINK_CODE = GOOD.codes
PLAIN = [line for line in GOOD.texts if not line.white]
WHITE = next(line for line in GOOD.texts if line.white)


@pytest.mark.parametrize(
    ("bad", "problem"),
    [
        (dataclasses.replace(GOOD, texts=(PLAIN[0], dataclasses.replace(PLAIN[1], left=PLAIN[0].left, top=PLAIN[0].top))),
         "overlap"),
        (dataclasses.replace(GOOD, texts=(dataclasses.replace(PLAIN[0], left=CAPSULE.box.right - 8, top=300),)), "overlap"),
        (dataclasses.replace(GOOD, bars=(Box(left=300, top=230, width=400, height=40),)), "overlap"),
        (dataclasses.replace(GOOD, codes=(CAPSULE, dataclasses.replace(LINK_CODE, box=CAPSULE.box))), "overlap"),
        (dataclasses.replace(GOOD, texts=(dataclasses.replace(PLAIN[0], cap=23),)), "under 2 mm"),
        (dataclasses.replace(GOOD, texts=(dataclasses.replace(PLAIN[0], left=-1),)), "leaves the label"),
        (dataclasses.replace(GOOD, texts=(dataclasses.replace(PLAIN[0], top=460),)), "leaves the label"),
        (dataclasses.replace(GOOD, texts=(dataclasses.replace(PLAIN[0], text="Ü", top=3),)), "leaves the label"),
        (dataclasses.replace(GOOD, bars=()), "white on white"),
        (dataclasses.replace(GOOD, texts=(dataclasses.replace(WHITE, top=WHITE.top + 100),)), "white on white"),
        (dataclasses.replace(GOOD, codes=(dataclasses.replace(CAPSULE, box=dataclasses.replace(CAPSULE.box, left=-1)),)),
         "capsule leaves the label"),
        (dataclasses.replace(GOOD, codes=(dataclasses.replace(CAPSULE, box=dataclasses.replace(CAPSULE.box, width=300)),)),
         "no quiet zone"),
    ],
)  # fmt: skip
def test_planted_faults_are_named(bad: Layout, problem: str) -> None:
    """A text on a text, in a quiet zone, under 2 mm or off the label, a bar or code astray, white on white: all named."""
    assert list(problems_of(GOOD)) == []
    assert problem in " ".join(problems_of(bad))
