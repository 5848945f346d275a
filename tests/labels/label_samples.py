"""Labels to test with: the words of an invented building, and capsules of random bytes."""

from __future__ import annotations

import random

from labels.content import BigFigure, LabelContent

LINK = "HTTPS://LX.EXAMPLE.EU/L/7K3D9QXW6"
BANNER = "PROVISIONAL – NOT APPROVED"
FIGURES = (
    BigFigure(caption="ADDRESS from 0", value="12"),
    BigFigure(caption="", value="700 mA"),
    BigFigure(caption="", value="switched maintained 3\u00a0h"),
)
DIGEST = "8f3a 9c01 77de 4b20"
MARKS = ("v3", "12\u00a0Apr 2031")
LINES = (
    "Level 2, corridor 2.14",
    "own battery",
    "27.0–54.0\u00a0V ≤\u00a044.0\u00a0W",
)


def capsule(size: int, link: str = LINK) -> str:
    """A link with `size` random bytes behind it, as one decimal integer with a leading 1 byte."""
    data = random.Random(size).randbytes(size)
    return f"{link}#{int.from_bytes(bytes([1]) + data, 'big')}"


def content(
    size: int | None = 200,
    *,
    figures: tuple[BigFigure, ...] = FIGURES,
    lines: tuple[str, ...] = LINES,
    banner: str | None = None,
    link_only: bool = False,
) -> LabelContent:
    """One label; `size` bytes in its capsule, or no capsule at all."""
    return LabelContent(
        tag_shown="7K3D 9QXW 6",
        link_text=LINK,
        capsule_text=None if size is None else capsule(size),
        big=figures,
        lines=lines,
        digest=DIGEST,
        marks=MARKS,
        extras=("line L2-A",),
        banner=banner,
        capsule_optional=link_only,
    )
