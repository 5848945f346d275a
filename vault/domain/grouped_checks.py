"""The settings of many luminaires against their types' ratings, each kind of settings judged once.

What `check_gears` finds does not depend on which address a gear bears as long as the address exists, nor on the gear's
model and serial number. Luminaires that differ in those alone share one answer.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass, field, replace

from vault.domain.addresses import CENTRAL_MAX, SHORT_MAX
from vault.domain.findings import Finding
from vault.domain.limits import check_gears
from vault.domain.rating import Rating
from vault.domain.settings import Control, Gear, Settings
from vault.domain.site import Circuit, Line


def _any_address(control: Control) -> Control:
    short, central = control.short_address, control.central_address
    return replace(control, short_address=0 if isinstance(short, int) and 0 <= short <= SHORT_MAX else short,
                   central_address=1 if isinstance(central, int) and 1 <= central <= CENTRAL_MAX else central)


def without_address(settings: Settings) -> Settings:
    """The settings with the first address that there is in place of every address that exists."""
    return replace(
        settings, control=_any_address(settings.control) if settings.control else None,
        channels=tuple(replace(channel, control=_any_address(channel.control)) if channel.control else channel
                       for channel in settings.channels))


@dataclass(slots=True)
class GroupedChecks:
    """`check_gears` for many luminaires. One rating for each type code, one circuit for each name, while it is in use."""

    _shapes: dict[Settings, int] = field(default_factory=dict)
    # By identity first: readers share the settings of luminaires that are alike, and comparing takes longer than checking.
    _known: dict[int, tuple[Settings, int]] = field(default_factory=dict)
    _findings: dict[Hashable, tuple[Finding, ...]] = field(default_factory=dict)

    def _shape(self, settings: Settings) -> int:
        known = self._known.get(id(settings))
        if known is None:
            known = settings, self._shapes.setdefault(without_address(settings), len(self._shapes))
            self._known[id(settings)] = known
        return known[1]

    def findings(self, gears: tuple[Gear, ...], rating: Rating, *, line: Line | None,
                 circuit: Circuit | None) -> tuple[Finding, ...]:
        """What `check_gears` finds."""
        site = (line.addresses_from, line.site_ta_c) if line is not None else None
        key = (rating.code, site, circuit.name if circuit is not None else None,
               *((gear.duty, self._shape(gear.settings)) for gear in gears))
        found = self._findings.get(key)
        if found is None:
            found = self._findings[key] = check_gears(gears, rating, line=line, circuit=circuit)
        return found


__all__ = ["GroupedChecks", "without_address"]
