"""What the nature of an item and its terms forbid: a wrong waste stream, an order too late, a battery too old."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from vault.actions.stock_told import listed, typed, where_words
from vault.db.stock_rows import MovementRow
from vault.domain.counting import been
from vault.domain.driver import DriverModel
from vault.domain.schema import words
from vault.domain.stock import Act, Movement, MovementLine, Stream
from vault.domain.terms import Item, ItemTerms
from vault.errors import GearkeepError, UsageProblem
from vault.exchange.stock_cells import counted_days, counted_months, day_words
from vault.spares.stock_state import BatteryLot, StockState, is_battery, is_too_old
from vault.spares.stock_walk import Walk

# Drivers are electrical equipment, batteries are collected apart from it (2012/19/EU, 2006/66/EC, from memory).
_STREAMS = {Item.DRIVER: Stream.ELECTRONICS, Item.BATTERY: Stream.BATTERY}


def refuse_stream(body: Movement, terms: Mapping[str, ItemTerms], drivers: Iterable[str]) -> None:
    """Raises UsageProblem (wrong-stream) for a driver or a battery that would go into another waste stream than its own."""
    for line in body.lines:
        item = _item_of(line.model, terms, drivers)
        right = None if item is None else _STREAMS.get(item)
        if item is None or body.stream is None or right is None or body.stream is right:
            continue
        raise UsageProblem(f"{line.model} is a {words(item)}; it does not go into the waste stream {words(body.stream)}.",
                           kind="wrong-stream", hint=f"Nothing was signed. Say --stream {words(right)}"
                           + (", and scrap its battery by itself." if item is Item.DRIVER else "."))


def _item_of(model: str, terms: Mapping[str, ItemTerms], drivers: Iterable[str]) -> Item | None:
    return Item.DRIVER if model in drivers else terms[model].item if model in terms else None


def by_stream(lines: Sequence[MovementLine], terms: Mapping[str, ItemTerms],
              drivers: Iterable[str]) -> dict[Stream | None, list[MovementLine]]:
    """Lines that are scrapped, by the waste stream that each item has to go into; None for what is neither driver nor battery."""
    found: dict[Stream | None, list[MovementLine]] = {}
    for line in lines:
        item = _item_of(line.model, terms, drivers)
        found.setdefault(None if item is None else _STREAMS.get(item), []).append(line)
    return found


def refuse_last_order(body: Movement, terms: Mapping[str, ItemTerms], drivers: Mapping[str, DriverModel], today: int) -> None:
    """Raises GearkeepError (last-order-passed) for an order of what is not made any more, naming what comes after it."""
    for line in body.lines:
        agreed = terms.get(line.model)
        if agreed is None or agreed.last_order_day is None or agreed.last_order_day >= today:
            continue
        after = agreed.replaced_by
        raise GearkeepError(
            f"{line.model} cannot be ordered any more: its last order was {day_words(agreed.last_order_day)}. "
            + (f"{after} comes after it{_unlike(drivers.get(line.model), drivers.get(after))}." if after
               else "No model is named that comes after it."),
            kind="last-order-passed",
            hint=f"Nothing was signed. Which models can stand in for it: gearkeep spares without {line.model}. "
                 "Where its maker still takes orders, say so first: gearkeep stock load FILE with a column last_order.")


def _unlike(old: DriverModel | None, new: DriverModel | None) -> str:
    """How the model that comes after differs at the first look; whether it fits is for `fit` to say."""
    if old is None or new is None:
        return ""
    if new.output is not old.output:
        return f", but its output is {words(new.output)}, not {words(old.output)}"
    if new.channels < old.channels:
        return f", but has {new.channels} output {'channel' if new.channels == 1 else 'channels'}, not {old.channels}"
    return ""


def age_notes(walk: Walk, row: MovementRow, terms: Mapping[str, ItemTerms], before: StockState) -> Iterator[str]:
    """What is to be heard of the age of batteries that a line moves, before it happens.

    Raises GearkeepError (too-old) for an issue of batteries past their shelf life: they may fail the duty that they are for.
    """
    agreed = terms.get(row.model)
    if agreed is None or not is_battery(agreed):
        return
    lots = [(row.made_day, row.quantity)] if row.act == Act.RECEIPT else walk.leaving(row)
    old = [made for made, _ in lots if made is not None and is_too_old(agreed, made, before.today_day)]
    unknown = sum(pieces for made, pieces in lots if made is None)
    if row.act == Act.RECEIPT and unknown:
        yield f"Nobody can say when these {row.model} will be too old: the day that they were made is not said. {_counting(row)}"
    if row.act in (Act.RECEIPT, Act.TRANSFER) and old:
        yield f"{_age(row, old[0], agreed, before)}: they may not be issued. Scrap them, or send them back."
    if row.act == Act.ISSUE and old:
        raise _too_old(walk, row, old[0], agreed, before)
    if row.act == Act.ISSUE and unknown:
        yield (f"Nobody knows when {unknown} of these {row.model} {been(unknown)} made, so nobody can say "
               f"whether {'it is' if unknown == 1 else 'they are'} too old. {_counting(row)}")
    elif row.act == Act.ISSUE and agreed.shelf_life_months is None:
        yield f"No shelf life is agreed for {row.model}, so nobody can say whether they are too old: gearkeep stock load FILE."
    elif row.act == Act.ISSUE:
        yield from _older_first(row, lots, _good(before, row.model))


def _age(row: MovementRow, made: int, agreed: ItemTerms, before: StockState) -> str:
    return (f"{row.model} made on {day_words(made)} are {counted_days(before.today_day - made)} old, and their shelf "
            f"life is {counted_months(agreed.shelf_life_months or 0)}")


def _counting(row: MovementRow) -> str:
    return f"Read the day off them: {typed('count', row.model, 'FOUND', row.store, row.bin)} --made DAY --because WHY."


def _good(before: StockState, model: str) -> list[BatteryLot]:
    """Lots that are known to be young enough."""
    return [lot for lot in before.batteries() if lot.model == model and lot.too_old is False]


def _too_old(walk: Walk, row: MovementRow, made: int, agreed: ItemTerms, before: StockState) -> GearkeepError:
    first = min(_good(before, row.model), key=lambda lot: (lot.store != row.store, lot.made_day), default=None)
    take = f"No store holds a {row.model} that is known to be young enough; order some."
    if first is not None:
        take = "Take the oldest good ones: " + typed("issue", row.model, min(row.quantity, first.pieces), first.store, first.bin)
        take += f" --made {day_words(first.made_day or 0)}."
    old = walk.lots_in(row.store, row.model, row.bin or "")[made]
    return GearkeepError(
        f"{_age(row, made, agreed, before)}: nothing was issued from {where_words(row.store, row.bin)}.", kind="too-old",
        hint=f"{take} Scrap the old: {typed('scrap', row.model, old, row.store, row.bin)} --made {day_words(made)} "
             "--because \"too old\" --stream battery. A wrong shelf life is mended with gearkeep stock load.")


def _older_first(row: MovementRow, taken: list[tuple[int | None, int]], good: list[BatteryLot]) -> Iterator[str]:
    newest = max((made for made, _ in taken if made is not None), default=0)
    gone = dict(taken)
    older = [f"{left} in {where_words(lot.store, lot.bin)}, made on {day_words(lot.made_day)}" for lot in good
             if lot.store == row.store and lot.made_day is not None and lot.made_day < newest
             and (left := lot.pieces - (gone.get(lot.made_day, 0) if lot.bin == (row.bin or "") else 0))]
    if older:
        yield f"Older {row.model} are still good and should go first: {listed(older)}."
