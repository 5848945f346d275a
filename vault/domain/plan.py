"""A plan: how one spare is set for one gear, in the order in which it is read out."""

from __future__ import annotations

from dataclasses import dataclass

from vault.domain.frames import Frame
from vault.domain.pictures import Picture


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step. means: a setting means in words, or hands, check, readback, test. detail: lines, or ""."""

    number: int
    means: str
    text: str
    detail: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """cautions come first and are never empty; then what the spare cannot hold; then steps and bus frames.

    pictures: one for each thing that is set by hand, and a sheet of figures for each tool, in the order of the steps.
    """

    cautions: tuple[str, ...]
    cannot_hold: tuple[str, ...]
    steps: tuple[Step, ...]
    frames: tuple[Frame, ...]
    pictures: tuple[Picture, ...] = ()
