"""A label laid out, rasterised and proved: what every file of labels is made from."""

from __future__ import annotations

from dataclasses import dataclass

from PIL import Image

from labels.boxes import Layout
from labels.content import LabelContent
from labels.errors import LabelError
from labels.faces import face
from labels.layout import lay_out
from labels.media import Medium
from labels.raster import Dots, paint, picture_of, prove_dots


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A label that stands in a file. left_off: lines that found no room; carries_settings: the capsule is on it."""

    tag_shown: str
    left_off: tuple[str, ...]
    carries_settings: bool


def drawn(content: LabelContent, layout: Layout) -> Drawn:
    """What is remembered of a label when its drawing is gone."""
    return Drawn(tag_shown=content.tag_shown, left_off=layout.left_off, carries_settings=layout.carries_settings)


def proven_dots(content: LabelContent, medium: Medium) -> tuple[Layout, Dots]:
    """Layout and dots of a label whose codes were read back from those dots.

    Raises LabelError naming the label: too-big, no-glyph, proof-failed and what the layout raises.
    """
    try:
        layout = lay_out(content, medium)
        _refuse_unknown_letters(layout)
        dots = paint(layout)
        prove_dots(layout, dots)
    except LabelError as problem:
        raise LabelError(f"Label {content.tag_shown}: {problem.what}", hint=problem.hint, kind=problem.kind) from problem
    return layout, dots


def proven(content: LabelContent, medium: Medium) -> tuple[Layout, Image.Image]:
    """The same with a 1-bit picture."""
    layout, dots = proven_dots(content, medium)
    return layout, picture_of(dots)


def _refuse_unknown_letters(layout: Layout) -> None:
    """A letter that the font lacks would print as an empty box and be read as nothing."""
    missing = sorted(set().union(*(set(line.text) - face(line.bold).letters for line in layout.texts)))
    if missing:
        raise LabelError(f"The label's font has no {' '.join(missing)}.", kind="no-glyph",
                         hint="Write the place or the name in Latin letters.")
