"""What a plan draws: the settings by hand with their positions, and the sheets of figures for tools."""

from __future__ import annotations

from collections.abc import Iterator

from vault.domain.apply_means import ON_THE_BUS, Wanted, position_of
from vault.domain.apply_pictures import Placed
from vault.domain.apply_steps import Chosen
from vault.domain.fields import address_words
from vault.domain.means import HAND_WAYS, Means, Way
from vault.domain.pictures import Figures
from vault.domain.schema import words
from vault.domain.units import ma


def placed_of(chosen: Chosen) -> Iterator[Placed]:
    """Everything that is set by hand at a known position, the currents first."""
    rows = [(label.lower(), way) for label, _, way in chosen.current_rows()
            if way is not None and (way.position is not None or way.resistor is not None) and not way.refused]
    alike = len(rows) > 1 and len({(way.means, way.text) for _, way in rows}) == 1
    for label, way in rows[:1] if alike else rows:
        yield Placed(means=way.means, what="current of every channel" if alike else label, gives=ma(way.gives_ma),
                     position=way.position or 0, resistor=way.resistor)
    for one, means in chosen.taken:
        position = position_of(means, one)
        if position is not None:
            yield Placed(means=means, what=one.field.label, gives=_value(chosen, one), position=position)


def figures_of(chosen: Chosen) -> Iterator[Figures]:
    """A sheet of figures for the NFC tool, for the bus, for the maker's tool, and for means without a known position."""
    sheets: dict[str, list[tuple[str, str]]] = {}
    for label, _, way in chosen.current_rows():
        if way is not None and way.means.way in (Way.NFC, Way.BUS):
            sheets.setdefault(_sheet(way.means, by_standard=False), []).append((label.lower(), ma(way.gives_ma)))
    for one, means in chosen.taken:
        if means.way in (Way.NFC, Way.BUS) or (means.way in HAND_WAYS and position_of(means, one) is None):
            title = _sheet(means, by_standard=one.holds in ON_THE_BUS)
            sheets.setdefault(title, []).append((one.field.label, _value(chosen, one)))
    yield from (Figures(caption=title, rows=tuple(rows)) for title, rows in sheets.items())


def _sheet(means: Means, *, by_standard: bool) -> str:
    if means.way is Way.NFC:
        return "Parameter sheet for the NFC tool"
    if means.way is Way.BUS:
        return "Over the bus" if by_standard else "With the maker's tool over the bus"
    return f"By the {words(means.way)}, as the driver's instructions say"


def _value(chosen: Chosen, one: Wanted) -> str:
    value = one.field.value
    if one.field.name == "short_address" and isinstance(value, int):
        return address_words(value, chosen.line)
    # A drawing is read at arm's length; the steps beside it say whose curve the per cent are of.
    return one.value_said.replace(" on the logarithmic curve", "")
