"""The pictures of a plan: one for each thing that is set by hand, and a sheet of figures for each tool."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from vault.domain.apply_words import dial_marks, means_words, others_left
from vault.domain.means import Means, Way
from vault.domain.pictures import Dials, Figures, Picture, Places, Resistor, Switches
from vault.domain.resistor import ResistorChoice


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """One setting by hand. what: "current". gives: "700 mA". position or resistor: how its means gives it."""

    means: Means
    what: str
    gives: str
    position: int = 0
    resistor: ResistorChoice | None = None


def pictures_of(placed: Sequence[Placed]) -> Iterator[Picture]:
    """One picture for each; means on one bank of switches are drawn together, each switch as its own means wants it."""
    drawn: list[Placed] = []
    for one in placed:
        if one in drawn:
            continue
        bank = [one]
        if one.means.way is Way.SWITCHES and one.means.states(one.position) is not None:
            bank += [other for other in placed if other not in drawn and _joins(one.means, other)]
        drawn += bank
        yield _switches(bank) if one.means.way is Way.SWITCHES else _single(one)


def _joins(means: Means, other: Placed) -> bool:
    return (other.means.way is Way.SWITCHES and other.means.bank == means.bank
            and not set(other.means.numbers) & set(means.numbers) and other.means.states(other.position) is not None)


def _title(means: Means, *whats: str) -> str:
    named = means_words(means)
    return f"{named[:1].upper()}{named[1:]}: {' and '.join(whats)}"


def _switches(bank: Sequence[Placed]) -> Picture:
    first = bank[0].means
    states: dict[int, bool] = {}
    for one in bank:
        states |= zip(one.means.numbers, one.means.states(one.position) or (), strict=False)
    if not states:
        return _as_figures(bank[0])
    numbers = tuple(sorted(states))
    used = {number for one in bank for number in one.means.numbers}
    return Switches(
        caption=_title(first, *(one.what for one in bank)), numbers=numbers, on=tuple(states[n] for n in numbers),
        on_is_down=first.on_is_down, off_limits=others_left(first, used),
        gives=", ".join(f"{one.what} {one.gives}" if len(bank) > 1 else one.gives for one in bank))


def _as_figures(one: Placed) -> Figures:
    return Figures(caption=_title(one.means, one.what),
                   rows=(("position", f"{one.position}, as the driver's own table draws it"), (one.what, one.gives)))


def _single(one: Placed) -> Picture:
    means, caption = one.means, _title(one.means, one.what)
    if one.resistor is not None:
        return Resistor(caption=caption, ohms_words=one.resistor.ohms_words, bands=one.resistor.bands, gives=one.gives)
    if means.way is Way.ROTARY:
        shown = dial_marks(means, one.position)
        return Dials(caption=caption, digits=shown[0], marks=shown[1], gives=one.gives) if shown else _as_figures(one)
    marks = [means.mark(position) or str(position) for position, _ in means.rows] or (means.marks or "").split()
    chosen = means.mark(one.position) or str(one.position)
    if chosen not in marks:
        marks.append(chosen)
    return Places(caption=caption, marks=tuple(marks), chosen=chosen, plug=means.way is Way.PLUG, gives=one.gives)
