"""What a plan of how many spares to hold is asked for."""

from __future__ import annotations

from dataclasses import dataclass, field

from vault.spares.burning_hours import HoursTable
from vault.spares.hold_plan import OrderCosts
from vault.spares.holding import Policy


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldAsked:
    """What is planned for. models: the set to choose from; none: those that are stocked or have terms beyond a price, else all.
    also: chosen besides. hours: burning hours. stores: those that count alone; none: all.
    """

    models: tuple[str, ...] = ()
    also: tuple[str, ...] = ()
    policy: Policy = field(default_factory=Policy)
    hours: HoursTable = field(default_factory=HoursTable)
    with_care: bool = False
    costs: OrderCosts | None = None
    stores: tuple[str, ...] = ()
