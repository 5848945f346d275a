"""A holding plan line by line: gear that falls to a model, what is believed of it, what lies there and what is wanted."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from vault.domain.terms import Importance
from vault.spares.failure_rate import Evidence, GammaRate
from vault.spares.holding import Policy
from vault.spares.needs import NeedClass
from vault.spares.order_levels import Ordering
from vault.spares.reorder_levels import Levels
from vault.spares.stock_state import Due
from vault.spares.unsure import Part, lasts_years


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """Gear of one class alike in what its record says besides. model: that it bears now, None where no record names one."""

    model: str | None
    circuit: str | None
    pieces: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """Gear that falls to a model. own: because it bears that model now, else it is the cheapest, or the first, that fits.
    hours: of one gear in a year; yearly: mean failures a year of all. evidence: what its rate rests on."""

    need: NeedClass
    origin: Origin
    own: bool
    hours: float
    yearly: float
    evidence: Evidence

    @property
    def belief(self) -> GammaRate:
        """What is believed of its failure rate."""
        return self.evidence.after


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldLine:
    """One model. levels is None where its lead time is not known. yearly: pooled over its classes.

    position: on hand + on order - reserved. to_order: pieces that are wanted now, None where that cannot be said; of a model that
    has ended nobody takes the order. lead_told: whether its terms tell the lead time (else the policy's default). opening: pieces
    to lay in at handover. trade_low, trade_high: 2 and 10 % of the pieces in service, for comparison. late: orders whose day has
    passed; uncounted: those of them that are so late that on_order leaves them out. last_order_day: as the terms tell; ended: it
    is past. ordering: None without costs and a price, or where it cannot be reckoned: unreckoned says why. pack: pieces that come
    together. unsure_point: what the reorder point would be were the failure rate not taken as known. elsewhere: pieces there and
    coming outside of the main store, by store.
    """

    model: str
    shares: tuple[Share, ...]
    pieces: int
    yearly: float
    importance: Importance
    lead_days: int | None
    lead_told: bool
    levels: Levels | None
    on_hand: int
    on_order: int
    reserved: int
    to_order: int | None
    opening: int | None
    trade_low: int
    trade_high: int
    price_cents: int | None
    currency: str | None
    last_order_day: int | None = None
    ended: bool = False
    late: tuple[Due, ...] = ()
    uncounted: tuple[Due, ...] = ()
    ordering: Ordering | None = None
    unreckoned: str = ""
    pack: int = 1
    unsure_point: int | None = None
    elsewhere: tuple[tuple[str, int], ...] = ()

    @property
    def order_now(self) -> int | None:
        """Pieces to order now; 0 of a model that can no longer be ordered."""
        return 0 if self.ended else self.to_order

    @property
    def position(self) -> int:
        return self.on_hand + self.on_order - self.reserved

    @property
    def parts(self) -> tuple[Part, ...]:
        """Its gear by what its rates rest on, with the hours of a year."""
        return parts_of(self.shares)

    @property
    def learned(self) -> tuple[Evidence, ...]:
        """What its rates rest on, the most gear first."""
        gear: Counter[Evidence] = Counter()
        for share in self.shares:
            gear[share.evidence] += share.origin.pieces
        return tuple(one for one, _ in gear.most_common())

    def lasts_years(self, service_permille: int) -> float | None:
        """How long the position covers the demand at a service level, the rate believed and not known; None without demand."""
        return lasts_years(self.parts, self.position, service_permille)


def parts_of(shares: Iterable[Share]) -> tuple[Part, ...]:
    """Gear by what its rate rests on, with the hours of a year."""
    hours: dict[Evidence, float] = {}
    for share in shares:
        hours[share.evidence] = hours.get(share.evidence, 0.0) + share.origin.pieces * share.hours
    return tuple(Part(belief=evidence.after, hours=found) for evidence, found in hours.items())


@dataclass(frozen=True, slots=True, kw_only=True)
class Idle:
    """A model that the store has or has terms of, and that no gear falls to. fits: gear in service that it fits; served_by: the
    models that these fall to. driver: whether it is a driver model at all.
    """

    model: str
    there: int
    fits: int
    served_by: tuple[str, ...]
    driver: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldPlan:
    """Every model that a class falls to. uncovered: classes that none of the chosen models fits, the vital ones first. idle:
    chosen models of the store without a line. mixed: currencies between whose prices no cheapest model could be told.
    """

    lines: tuple[HoldLine, ...]
    uncovered: tuple[NeedClass, ...]
    policy: Policy
    idle: tuple[Idle, ...] = ()
    mixed: tuple[str, ...] = ()
