"""What stands on a label, as plain texts."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class BigFigure:
    """A figure that must be read from a ladder, with a word or two beside it ("" for none)."""

    caption: str
    value: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelContent:
    """tag_shown: the heading; for a luminaire its nine characters in groups. link_text: the web address alone.
    capsule_text: the same with the record behind "#", or None. big: at most three figures, the most important first.
    digest: hexadecimal groups, "" for none. marks: version and date, or the like; the first always stands.
    lines: the most important first; what finds no room is left off from the end and reported, but never the first
    `must` of them. banner: a warning that nobody may miss, or None. capsule_optional: whether the label may bear the
    link alone when the record finds no room. extras: what stands there only where room is left over, unreported.
    """

    tag_shown: str
    link_text: str
    capsule_text: str | None
    big: tuple[BigFigure, ...]
    lines: tuple[str, ...]
    digest: str = ""
    marks: tuple[str, ...] = ()
    banner: str | None = None
    must: int = 0
    capsule_optional: bool = False
    extras: tuple[str, ...] = ()
