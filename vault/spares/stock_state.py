"""What the store holds, from the movements and the terms alone: pure, and the same on every machine.

Pieces lie in lots: store, bin, model, condition and, of what ages, the day it was made. What leaves without a day leaves
the oldest lot first (common practice). A movement that takes more than there is leaves nothing there, and is told as a
shortfall: the figures never fall below nought, and never do so in silence.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import dataclass
from typing import Protocol

from vault.domain.terms import Importance, Item, ItemTerms, shelf_life_days

COUNT_EVERY_DAYS: Mapping[Importance, int] = {  # cycle counts by class: vital quarterly, others yearly (common practice)
    Importance.VITAL: 91, Importance.ESSENTIAL: 365, Importance.DESIRABLE: 365,
}


class MovementLike(Protocol):
    """One line of a movement with what its movement says, as the index gives it (vault/db/stock_rows.MovementRow)."""

    @property
    def act(self) -> int: ...
    @property
    def store(self) -> str: ...
    @property
    def to_store(self) -> str | None: ...
    @property
    def model(self) -> str: ...
    @property
    def quantity(self) -> int: ...
    @property
    def bin(self) -> str | None: ...
    @property
    def to_bin(self) -> str | None: ...
    @property
    def serial(self) -> str | None: ...
    @property
    def tag(self) -> str | None: ...
    @property
    def condition(self) -> int | None: ...
    @property
    def made_day(self) -> int | None: ...
    @property
    def order_number(self) -> str | None: ...
    @property
    def due_day(self) -> int | None: ...
    @property
    def supplier(self) -> str | None: ...
    @property
    def time_s(self) -> int: ...


@dataclass(frozen=True, slots=True, order=True, kw_only=True)
class StockShelf:
    """Pieces of one model in one bin of one store; bin is "" where none was named. good: needs no reset; of these, too_old
    are batteries known to be past their shelf life, which may not be issued. reset_serials: those of the serial numbers whose
    piece needs a reset.
    """

    store: str
    model: str
    bin: str
    good: int
    needs_reset: int
    serials: tuple[str, ...] = ()
    too_old: int = 0
    reset_serials: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, order=True, kw_only=True)
class Due:
    """What is still to come of one model on one order. due_day, ordered_day: days since 1970-01-01."""

    due_day: int
    order: str
    model: str
    store: str
    pieces: int
    supplier: str | None
    ordered_day: int


@dataclass(frozen=True, slots=True, order=True, kw_only=True)
class Kept:
    """Pieces kept for the planned swap of one luminaire. tag: its nine letters. since_s: POSIX seconds."""

    store: str
    model: str
    tag: str
    pieces: int
    since_day: int
    since_s: int = 0


@dataclass(frozen=True, slots=True, order=True, kw_only=True)
class CountDue:
    """A bin whose cycle count is due. last_day: of its last count, None where it was never counted (it then runs from the
    first movement). pieces: good and needing a reset together.
    """

    due_day: int
    store: str
    bin: str
    model: str
    pieces: int
    last_day: int | None
    importance: Importance | None


@dataclass(frozen=True, slots=True, kw_only=True)
class BatteryLot:
    """Batteries made on one day in one bin. age_days and too_old are None where the day or the shelf life is not known."""

    store: str
    bin: str
    model: str
    pieces: int
    made_day: int | None
    age_days: int | None
    shelf_life_months: int | None
    too_old: bool | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Shortfall:
    """A movement that took more than there was: `missing` pieces on `day`."""

    store: str
    bin: str
    model: str
    missing: int
    day: int


@dataclass(frozen=True, slots=True, kw_only=True)
class StockState:
    """Everything the store holds. shelves: by store, model and bin; bins that were emptied stay listed with 0.

    emergency: models that are counted as often as vital ones where their terms name no importance. of_named: these are the
    stores that were named, the others left out.
    """

    shelves: tuple[StockShelf, ...]
    orders: tuple[Due, ...]
    kept: tuple[Kept, ...]
    shortfalls: tuple[Shortfall, ...]
    terms: Mapping[str, ItemTerms]
    today_day: int
    lots: Sequence[tuple[str, str, str, int | None, int]]  # store, model, bin, made_day, pieces, of batteries
    counted: Mapping[tuple[str, str, str], tuple[int, int | None]]  # (store, model, bin) -> first movement, last count
    emergency: Set[str] = frozenset()
    of_named: bool = False

    @property
    def models(self) -> tuple[str, ...]:
        """Models that any movement or term names, sorted."""
        return tuple(sorted({s.model for s in self.shelves} | {d.model for d in self.orders} | {k.model for k in self.kept}
                            | set(self.terms)))

    def usable(self, model: str, store: str | None = None) -> int:
        """Pieces that may be issued, reserved ones among them: good, and not known to be too old."""
        return sum(s.good - s.too_old for s in self._of(model, store))

    def too_old(self, model: str, store: str | None = None) -> int:
        """Good pieces that are known to be past their shelf life."""
        return sum(s.too_old for s in self._of(model, store))

    def needs_reset(self, model: str, store: str | None = None) -> int:
        """Returned pieces that nobody checked yet."""
        return sum(s.needs_reset for s in self._of(model, store))

    def on_hand(self, model: str, store: str | None = None) -> int:
        """All that lies there: usable pieces, those that are too old and those that need a reset."""
        return sum(s.good + s.needs_reset for s in self._of(model, store))

    def reserved(self, model: str, store: str | None = None) -> int:
        """Pieces kept for planned swaps."""
        return sum(k.pieces for k in self.kept if k.model == model and store in (None, k.store))

    def reserved_for(self, model: str, tag: str) -> int:
        """Pieces kept for one luminaire."""
        return sum(k.pieces for k in self.kept if k.model == model and k.tag == tag)

    def on_order(self, model: str, store: str | None = None) -> tuple[Due, ...]:
        """What is still to come, the earliest first."""
        return tuple(d for d in self.orders if d.model == model and store in (None, d.store))

    def free(self, model: str, store: str | None = None) -> int:
        """Usable pieces less those that are reserved; below nought where more is reserved than lies there."""
        return self.usable(model, store) - self.reserved(model, store)

    def overdue(self) -> tuple[Due, ...]:
        """Orders whose day has passed."""
        return tuple(d for d in self.orders if d.due_day < self.today_day)

    def counts_due(self) -> tuple[CountDue, ...]:
        """Bins that hold something and whose count is due by today, the longest due first."""
        found = []
        for shelf in self.shelves:
            pieces = shelf.good + shelf.needs_reset
            if not pieces:
                continue
            first, last = self.counted[shelf.store, shelf.model, shelf.bin]
            terms = self.terms.get(shelf.model)
            due = (first if last is None else last) + count_every(terms, emergency=shelf.model in self.emergency)
            if due <= self.today_day:
                found.append(CountDue(due_day=due, store=shelf.store, bin=shelf.bin, model=shelf.model, pieces=pieces,
                                      last_day=last, importance=terms.importance if terms else None))
        return tuple(sorted(found, key=lambda one: (one.due_day, one.store, one.bin, one.model)))

    def batteries(self) -> tuple[BatteryLot, ...]:
        """Every lot of batteries, the oldest first, those of unknown age before all."""
        found = [self._battery(lot) for lot in self.lots]
        return tuple(sorted(found, key=lambda one: (-1 if one.made_day is None else one.made_day, one.store, one.bin, one.model)))

    def _of(self, model: str, store: str | None) -> Iterable[StockShelf]:
        return (s for s in self.shelves if s.model == model and store in (None, s.store))

    def _battery(self, lot: tuple[str, str, str, int | None, int]) -> BatteryLot:
        store, model, bin_name, made, pieces = lot
        months = self.terms[model].shelf_life_months
        return BatteryLot(store=store, bin=bin_name, model=model, pieces=pieces, made_day=made,
                          age_days=None if made is None else self.today_day - made, shelf_life_months=months,
                          too_old=is_too_old(self.terms[model], made, self.today_day))


def count_every(terms: ItemTerms | None, *, emergency: bool = False) -> int:
    """Days between two counts of an item: its own, else those of its class, where an emergency driver is vital."""
    if terms is not None and terms.count_every_days is not None:
        return terms.count_every_days
    if terms is not None and terms.importance is not None:
        return COUNT_EVERY_DAYS[terms.importance]
    return COUNT_EVERY_DAYS[Importance.VITAL if emergency else Importance.ESSENTIAL]


def is_battery(terms: ItemTerms | None) -> bool:
    """Whether the terms call an item a battery."""
    return terms is not None and terms.item is Item.BATTERY


def is_too_old(terms: ItemTerms, made_day: int | None, today_day: int) -> bool | None:
    """Whether a battery made on a day is past its shelf life; None where the day or the shelf life is not known."""
    months = terms.shelf_life_months
    return None if made_day is None or months is None else today_day - made_day > shelf_life_days(months)


__all__ = ["BatteryLot", "CountDue", "Due", "Kept", "MovementLike", "Shortfall", "StockShelf", "StockState",
           "count_every", "is_battery", "is_too_old"]
