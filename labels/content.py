"""What stands on a label, as plain texts."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class BigFigure:
    """A figure that must be read from a ladder, with the word over it."""

    caption: str
    value: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelContent:
    """tag_shown: nine characters in groups. link_text: the web address of the tag alone. capsule_text: the same with
    the record behind "#", or None. big: at most three. lines: the most important first; what finds no room is left
    off from the end and reported. banner: a warning that nobody may miss, or None. must: how many of the first lines may
    never be left off.
    """

    tag_shown: str
    link_text: str
    capsule_text: str | None
    big: tuple[BigFigure, ...]
    lines: tuple[str, ...]
    banner: str | None = None
    must: int = 0
