"""One pass over the movements of stock, line by line (rules in vault/spares/stock_state.py)."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

from vault.domain.stock import Act, Condition
from vault.domain.terms import ItemTerms
from vault.spares.stock_lots import Lots, less, oldest_first, taken
from vault.spares.stock_state import Due, Kept, MovementLike, Shortfall, StockShelf, StockState, is_battery, is_too_old

DAY_S = 86_400
GOOD, NEEDS_RESET = int(Condition.GOOD), int(Condition.NEEDS_RESET)

_Bin = tuple[str, str, str]  # store, model, bin


@dataclass(slots=True)
class Walk:
    """Everything that the movements so far left. counted: (store, model, bin) -> first movement, last count (days)."""

    shortfalls: list[Shortfall] = field(default_factory=list)
    counted: dict[_Bin, tuple[int, int | None]] = field(default_factory=dict)
    _lots: dict[_Bin, tuple[Lots, Lots]] = field(default_factory=dict)
    _serials: dict[_Bin, dict[str, int]] = field(default_factory=dict)  # serial number -> condition of its piece
    _gone: dict[tuple[str, str], MovementLike] = field(default_factory=dict)  # (model, serial number) -> how it left
    _orders: dict[tuple[str, str], Due] = field(default_factory=dict)
    _kept: dict[tuple[str, str, str], tuple[int, int]] = field(default_factory=dict)

    def take(self, line: MovementLike) -> None:
        """One more line."""
        _DOES[line.act](self, line)

    def _held(self, place: _Bin, line: MovementLike) -> tuple[Lots, Lots]:
        if place not in self._lots:
            self._lots[place] = ({}, {})
            self.counted[place] = (line.time_s // DAY_S, None)
        return self._lots[place]

    def _add(self, place: _Bin, line: MovementLike, condition: int, made: int | None, pieces: int) -> None:
        lots = self._held(place, line)[condition]
        lots[made] = lots.get(made, 0) + pieces

    def lots_in(self, store: str, model: str, bin_name: str, condition: int = GOOD) -> Mapping[int | None, int]:
        """Day made -> pieces of one condition in one bin; empty where nothing lies."""
        return self._lots.get((store, model, bin_name), ({}, {}))[condition]

    def leaving(self, line: MovementLike) -> list[tuple[int | None, int]]:
        """Lots (day made, pieces) that an issue, a scrap, a transfer or a check would take, at most what lies there."""
        place = (line.store, line.model, line.bin or "")
        condition = NEEDS_RESET if line.act == Act.CHECKED else self._condition(place, line)
        return taken(self.lots_in(*place, condition), line)

    def left_by(self, model: str, serial: str) -> MovementLike | None:
        """The issue or scrap by which the piece of that number left the stores, unless it came again or was counted since."""
        return self._gone.get((model, serial))

    def _condition(self, place: _Bin, line: MovementLike) -> int:
        """Of the pieces that a line takes: that of the piece that its number names, else as it says."""
        return self._serials.get(place, {}).get(line.serial or "", line.condition or GOOD)

    def _lies(self, place: _Bin, line: MovementLike, condition: int) -> None:
        if line.serial is not None:
            self._serials.setdefault(place, {})[line.serial] = condition
            self._gone.pop((line.model, line.serial), None)

    def _remove(self, place: _Bin, line: MovementLike, condition: int) -> list[tuple[int | None, int]]:
        """Lots that left, at most what the line says; the rest is a shortfall."""
        lots = self._held(place, line)[condition]
        left = taken(lots, line)
        for made, pieces in left:
            less(lots, made, pieces)
        missing = line.quantity - sum(pieces for _, pieces in left)
        if missing:
            self.shortfalls.append(Shortfall(store=place[0], bin=place[2], model=place[1], missing=missing,
                                             day=line.time_s // DAY_S))
        return left

    def _forget_serials(self, place: _Bin, serial: str | None) -> None:
        known = self._serials.get(place)
        if known is None:
            return
        known.pop(serial or "", None)
        for condition, lots in enumerate(self._lots[place]):
            numbers = [number for number, one in known.items() if one == condition]
            if len(numbers) > sum(lots.values()):
                # Pieces left, or were checked, without their numbers: which of them nobody said.
                for number in numbers:
                    del known[number]

    def come(self, line: MovementLike) -> None:
        """A receipt, or a return, which says itself what needs a reset: those of older programs said nothing and meant good."""
        place = (line.store, line.model, line.bin or "")
        self._add(place, line, line.condition or GOOD, line.made_day, line.quantity)
        self._lies(place, line, line.condition or GOOD)
        if line.act == Act.RECEIPT and line.order_number is not None:
            self.less_to_come(line)

    def go(self, line: MovementLike) -> None:
        """An issue or a scrap. An issue to a luminaire uses up what is kept for it, in its own store first."""
        place = (line.store, line.model, line.bin or "")
        self._remove(place, line, self._condition(place, line))
        self._forget_serials(place, line.serial)
        if line.serial is not None:
            self._gone[line.model, line.serial] = line
        if line.act == Act.ISSUE and line.tag is not None and self._kept:
            self._use_up(line)

    def _use_up(self, line: MovementLike) -> None:
        rest = line.quantity
        kept = [key for key in self._kept if key[1] == line.model and key[2] == line.tag]
        for key in sorted(kept, key=lambda one: one[0] != line.store):
            rest -= self._less_kept(key, rest)

    def _less_kept(self, key: tuple[str, str, str], pieces: int) -> int:
        held, since = self._kept.get(key, (0, 0))
        some = min(held, pieces)
        if held > some:
            self._kept[key] = (held - some, since)
        else:
            self._kept.pop(key, None)
        return some

    def count(self, line: MovementLike) -> None:
        """A count sets the figure: of one lot where it names a day, else of the bin; what is missing left the oldest lots.

        Where more is found of a day than was known, those are first the pieces whose day nobody knew.
        """
        place, condition = (line.store, line.model, line.bin or ""), line.condition or GOOD
        lots = self._held(place, line)[condition]
        if line.made_day is not None:
            more = line.quantity - lots.pop(line.made_day, 0)
            if more > 0 and None in lots:
                less(lots, None, min(more, lots[None]))
            if line.quantity:
                lots[line.made_day] = line.quantity
        else:
            for made in oldest_first(lots):
                surplus = sum(lots.values()) - line.quantity
                if surplus <= 0:
                    break
                less(lots, made, min(surplus, lots[made]))
            found_more = line.quantity - sum(lots.values())
            if found_more > 0:
                lots[None] = lots.get(None, 0) + found_more
        if line.quantity:
            # Of a piece that is known to need a reset a count does not say that it was checked.
            self._lies(place, line, max(condition, self._condition(place, line)))
        self._forget_serials(place, None)
        self.counted[place] = (self.counted[place][0], line.time_s // DAY_S)

    def transfer(self, line: MovementLike) -> None:
        """What is there goes over, in the condition and with the age that it has; a bin keeps its name unless another is said."""
        here = (line.store, line.model, line.bin or "")
        there = (line.to_store or line.store, line.model, line.to_bin or line.bin or "")
        condition = self._condition(here, line)
        for made, pieces in self._remove(here, line, condition):
            self._add(there, line, condition, made, pieces)
        numbers = self._serials.get(here, {})
        # Where none of that condition stays behind, every number of it went along.
        gone = [number for number, one in numbers.items()
                if number == line.serial or (one == condition and not self._lots[here][condition])]
        for number in gone:
            self._serials.setdefault(there, {})[number] = numbers.pop(number)
        self._forget_serials(here, None)

    def check(self, line: MovementLike) -> None:
        """What needed a reset is good again."""
        place = (line.store, line.model, line.bin or "")
        for made, pieces in self._remove(place, line, NEEDS_RESET):
            self._add(place, line, GOOD, made, pieces)
        numbers = self._serials.get(place, {})
        for number in numbers:
            if number == line.serial or not self._lots[place][NEEDS_RESET]:
                numbers[number] = GOOD
        self._forget_serials(place, None)

    def keep(self, line: MovementLike) -> None:
        """Pieces are kept for one luminaire."""
        key = (line.store, line.model, line.tag or "")
        held, since = self._kept.get(key, (0, line.time_s))
        self._kept[key] = (held + line.quantity, since)

    def release(self, line: MovementLike) -> None:
        """They are free again."""
        self._less_kept((line.store, line.model, line.tag or ""), line.quantity)

    def order(self, line: MovementLike) -> None:
        """Pieces will come. An order that is added to keeps its number, and takes the newer day."""
        number, day = line.order_number or "", line.time_s // DAY_S
        known = self._orders.get((number, line.model))
        self._orders[number, line.model] = Due(
            due_day=line.due_day if line.due_day is not None else day, order=number, model=line.model, store=line.store,
            pieces=line.quantity + (known.pieces if known else 0), supplier=line.supplier or (known.supplier if known else None),
            ordered_day=known.ordered_day if known else day)

    def less_to_come(self, line: MovementLike) -> None:
        """A receipt that names the order, or a cancellation; never below nought."""
        key = (line.order_number or "", line.model)
        known = self._orders.get(key)
        if known is None:
            return
        if known.pieces <= line.quantity:
            del self._orders[key]
            return
        self._orders[key] = Due(due_day=known.due_day, order=known.order, model=known.model, store=known.store,
                                pieces=known.pieces - line.quantity, supplier=known.supplier, ordered_day=known.ordered_day)

    def shelves(self) -> tuple[StockShelf, ...]:
        """By store, model and bin. Where no bin was named and nothing lies, there is no shelf."""
        found = []
        for (store, model, bin_name), (good, reset) in sorted(self._lots.items()):
            pieces, returned = sum(good.values()), sum(reset.values())
            if pieces or returned or bin_name:
                numbers = self._serials.get((store, model, bin_name), {})
                found.append(StockShelf(store=store, model=model, bin=bin_name, good=pieces, needs_reset=returned,
                                        serials=tuple(sorted(numbers)), reset_serials=tuple(sorted(
                                            number for number, one in numbers.items() if one == NEEDS_RESET))))
        return tuple(found)

    def orders(self) -> tuple[Due, ...]:
        """What is still to come, the earliest first."""
        return tuple(sorted(self._orders.values(), key=lambda due: (due.due_day, due.order, due.model)))

    def kept(self) -> tuple[Kept, ...]:
        """What is kept for planned swaps."""
        return tuple(Kept(store=store, model=model, tag=tag, pieces=pieces, since_day=since // DAY_S, since_s=since)
                     for (store, model, tag), (pieces, since) in sorted(self._kept.items()))

    def lots(self) -> Iterator[tuple[str, str, str, int | None, int]]:
        """Store, model, bin, day made and pieces of every lot, in whatever condition."""
        for (store, model, bin_name), both in sorted(self._lots.items()):
            joined: Lots = {}
            for lots in both:
                for made, pieces in lots.items():
                    joined[made] = joined.get(made, 0) + pieces
            for made in oldest_first(joined):
                yield store, model, bin_name, made, joined[made]


def state_of(movements: Iterable[MovementLike], terms: Mapping[str, ItemTerms], *, today_day: int) -> StockState:
    """The state after all movements, which come in the order of their log. today_day: days since 1970-01-01."""
    walk = Walk()
    for line in movements:
        walk.take(line)
    return state_from(walk, terms, today_day=today_day)


def state_from(walk: Walk, terms: Mapping[str, ItemTerms], *, today_day: int) -> StockState:
    """The state that a walk has come to."""
    return StockState(
        shelves=tuple(_aged(walk, shelf, terms.get(shelf.model), today_day) for shelf in walk.shelves()), orders=walk.orders(),
        kept=walk.kept(), shortfalls=tuple(walk.shortfalls), terms=terms, today_day=today_day, counted=walk.counted,
        lots=[lot for lot in walk.lots() if is_battery(terms.get(lot[1]))])


def _aged(walk: Walk, shelf: StockShelf, terms: ItemTerms | None, today_day: int) -> StockShelf:
    if terms is None or not is_battery(terms):
        return shelf
    lots = walk.lots_in(shelf.store, shelf.model, shelf.bin)
    return replace(shelf, too_old=sum(pieces for made, pieces in lots.items() if is_too_old(terms, made, today_day)))


_DOES = {int(Act.RECEIPT): Walk.come, int(Act.RETURN): Walk.come, int(Act.ISSUE): Walk.go, int(Act.SCRAP): Walk.go,
         int(Act.COUNT): Walk.count, int(Act.TRANSFER): Walk.transfer, int(Act.CHECKED): Walk.check, int(Act.RESERVE): Walk.keep,
         int(Act.RELEASE): Walk.release, int(Act.ORDER): Walk.order, int(Act.CANCEL): Walk.less_to_come}
