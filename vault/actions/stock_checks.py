"""What stands against a movement of stock, before it is signed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from vault.actions.luminaire import driver_models
from vault.actions.stock_names import open_orders
from vault.actions.stock_told import listed, where_words
from vault.db import queries, stock_rows
from vault.db.projections import movement_rows
from vault.db.session import Session
from vault.domain.counting import be, been
from vault.domain.stock import Act, Movement, MovementLine, line_key
from vault.domain.tag import from_bytes, shown
from vault.domain.terms import ItemTerms
from vault.errors import GearkeepError, UsageProblem
from vault.spares.coming import coming, given_up
from vault.spares.stock_state import StockState
from vault.spares.stock_walk import Walk


def rows_of_body(body: Movement) -> Iterator[stock_rows.MovementRow]:
    """The lines of a movement as the index will hold them."""
    for _, values in movement_rows(0, body):
        yield stock_rows.MovementRow._make(values[name] for name in stock_rows.MovementRow._fields)


def refuse_same_bin(act: Act, store: str, to_store: str | None, lines: Sequence[MovementLine]) -> None:
    """Raises UsageProblem (same-bin) for a transfer within a store that names no other bin."""
    for line in lines if act is Act.TRANSFER and to_store == store else ():
        if line.to_bin in (None, line.bin):
            raise UsageProblem(f"{line.model} lies in {where_words(store, line.bin)} already, and the transfer names no other "
                               "place.", kind="same-bin",
                               hint="Nothing was signed. Say the bin with --to-bin, or another store with --to.")


def refuse_unknown(session: Session, models: Sequence[str]) -> None:
    """Raises UsageProblem (not-found) for a model that is neither a driver model nor an item with terms."""
    missing = set(models) - set(driver_models(session))
    missing -= set(stock_rows.supply_terms(session, missing)) if missing else set()
    if missing:
        model = min(missing)
        raise UsageProblem(f"The vault does not know the driver model {model}.", kind="not-found",
                           hint="Load its data first with: gearkeep driver load FILE. A battery or another item that is no "
                                "driver comes with its terms: gearkeep stock load FILE with a column item.")


def reserved_notes(body: Movement, before: StockState, after: StockState, *, even_reserved: bool) -> list[str]:
    """What the movement takes of pieces that are kept for other luminaires, in words.

    Raises GearkeepError (stock-reserved) for an issue or transfer of such, unless told to go on.
    """
    notes = []
    for model in sorted({line.model for line in body.lines}):
        missing = min(-after.free(model, body.store), after.reserved(model, body.store))
        # Kept before against what is on order only: this movement takes nothing from that.
        missing -= max(-before.free(model, body.store), 0)
        if missing <= 0 or body.act not in (Act.ISSUE, Act.TRANSFER, Act.SCRAP):
            continue
        kept = [one for one in after.kept if one.model == model and one.store == body.store]
        whose = ", ".join(f"{one.pieces} for {shown(one.tag)}" for one in kept[:5])
        if body.act is not Act.SCRAP and not even_reserved:
            raise GearkeepError(
                f"{body.store} keeps {sum(one.pieces for one in kept)} of {model} for planned swaps ({whose}), and too few would "
                "be left for them.", kind="stock-reserved",
                hint=f"Take a free piece of another store, release one (gearkeep stock release {model} 1 --for TAG), or say "
                     "--even-reserved.")
        good = " that are not too old" if after.too_old(model, body.store) else ""
        notes.append(f"{missing} of {model} that {body.store} kept for planned swaps {be(missing)} taken "
                     f"({whose}): {body.store} keeps {after.reserved(model, body.store)} and holds "
                     f"{after.usable(model, body.store)}{good} now. Order more, or release what is not needed: gearkeep stock "
                     "release.")
    return notes


def refuse_serials(session: Session, lines: Sequence[MovementLine]) -> None:
    """Raises GearkeepError (serial-in-use) when a piece comes in whose number lies on a shelf or is in service."""
    serials = [line.serial for line in lines if line.serial is not None]
    if not serials:
        return
    for line in lines:
        if line.serial is not None and line.quantity != 1:
            raise UsageProblem(f"{line.quantity} pieces cannot have the serial number {line.serial}.", kind="bad-value",
                               hint="Give each piece a line of its own.")
    for serial in serials:
        if serials.count(serial) > 1:
            raise UsageProblem(f"The serial number {serial} stands twice.", kind="bad-value", hint="Each piece has its own.")
    wanted, shelves = set(serials), Walk()
    for row in stock_rows.each_movement(session, models=stock_rows.models_with_serials(session, wanted)):
        shelves.take(row)
    for shelf in shelves.shelves():
        for serial in wanted.intersection(shelf.serials):
            where = f"bin {shelf.bin} of {shelf.store}" if shelf.bin else shelf.store
            raise GearkeepError(f"The driver with serial number {serial} lies in {where} already.", kind="serial-in-use",
                                hint="Look at its label again. A piece that moved is transferred: gearkeep stock transfer.")
    for serial, tag in sorted(queries.serials_in_service(session, wanted).items()):
        raise GearkeepError(f"The driver with serial number {serial} is in service in {shown(tag)}.", kind="serial-in-use",
                            hint=f"Was it taken out? Then sign the swap first: gearkeep history {tag}.")


def not_yet(session: Session, store: str, note: str, lines: tuple[MovementLine, ...]) -> tuple[MovementLine, ...]:
    """The lines that did not come on this delivery note before; a line that stands twice counts with both.

    Raises GearkeepError (delivery-differs) where the note was received with another quantity of a line.
    """
    held, said = Counter[tuple[object, ...]](), Counter[tuple[object, ...]]()
    for counted, some in ((held, stock_rows.delivered(session, store, note)), (said, lines)):
        for one in some:
            counted[line_key(one)] += one.quantity
    for line in lines:
        before, now = held[line_key(line)], said[line_key(line)]
        if before not in (0, now):
            raise GearkeepError(f"Delivery {note} was received with {before} of {line.model}"
                                f"{f' in bin {line.bin}' if line.bin else ''}, and now it says {now}.",
                                kind="delivery-differs",
                                hint="Nothing was changed. Give a second delivery a note of its own with --delivery, or count "
                                     "the bin: gearkeep stock count.")
    return tuple(line for line in lines if line_key(line) not in held)


def _due_of(state: StockState, body: Movement, model: str) -> int:
    return sum(due.pieces for due in state.on_order(model) if due.order == body.order)


def order_notes(body: Movement, before: StockState) -> list[str]:
    """What a receipt or cancellation says of its order that does not agree with it, in words.

    Raises GearkeepError for an order of that number that is open already (already-ordered), and for a cancellation of more
    than is open (not-ordered).
    """
    notes: list[str] = []
    wanted: dict[str, int] = {}
    for line in body.lines:
        wanted[line.model] = wanted.get(line.model, 0) + line.quantity
    for model, pieces in wanted.items():
        open_now = _due_of(before, body, model)
        if body.act is Act.ORDER and open_now:
            raise GearkeepError(f"{open_now} of {model} {be(open_now)} on order {body.order} already.", kind="already-ordered",
                                hint="Nothing was added. Cancel it first, or give the addition a number of its own.")
        if body.act is Act.ORDER:
            notes += _agreed_notes(body, before.terms.get(model), model, pieces)
        if body.act is Act.CANCEL and pieces > open_now:
            raise GearkeepError(f"{open_now} of {model} {be(open_now)} open on order {body.order}, and {pieces} would be "
                                "cancelled.", kind="not-ordered", hint="What is on order: gearkeep stock list.")
        if body.act is Act.RECEIPT and body.order is not None:
            if not open_now:
                due = before.on_order(model)
                notes.append(f"Nothing of {model} was open on order {body.order}; the pieces are received all the same."
                             + (f" Still open for it: {open_orders(due)}." if due else ""))
            elif pieces > open_now:
                notes.append(f"{pieces} of {model} came, {open_now} {been(open_now)} open on order {body.order}.")
            elif pieces < open_now:
                left = open_now - pieces
                notes.append(f"Part delivery: {left} of {model} {be(left)} still to come on order {body.order}.")
    return notes


def _agreed_notes(body: Movement, agreed: ItemTerms | None, model: str, pieces: int) -> Iterator[str]:
    """How an order differs from what is agreed about the item."""
    if agreed is None:
        return
    pack = agreed.order_multiple or 1
    if pieces % pack:
        full = f"{pieces - pieces % pack} or {pieces - pieces % pack + pack}" if pieces > pack else f"{pack}"
        yield f"{model} comes in packs of {pack}, and {pieces} {been(pieces)} ordered: full packs are {full}."
    if None not in (body.supplier, agreed.supplier) and body.supplier != agreed.supplier:
        yield f"{model} was ordered from {body.supplier}; agreed is {agreed.supplier} (gearkeep stock terms --model {model})."


def _free_elsewhere(state: StockState, model: str, store: str) -> str:
    """Which other stores have free pieces: " VAN-1 has 2 free."; empty for none."""
    free = {shelf.store: state.free(model, shelf.store) for shelf in state.shelves if shelf.model == model}
    said = listed([f"{name} has {pieces} free" for name, pieces in free.items() if pieces > 0 and name != store])
    return f" {said}." if said else ""


def _too_late(pieces: int) -> str:
    """That orders do not count; empty for none."""
    return f" {pieces} more {be(pieces)} on order, but so late that nothing leans on {'it' if pieces == 1 else 'them'}." \
        if pieces else ""


def _old(state: StockState, model: str, store: str) -> str:
    """That batteries lie there that do not count: " 4 that lie there are too old."; empty for none."""
    old = state.too_old(model, store)
    return f" {old} that {'lies' if old == 1 else 'lie'} there {be(old)} too old." if old else ""


def keeping_notes(body: Movement, before: StockState) -> list[str]:
    """What a reservation leans on, in words.

    Raises GearkeepError: stock-short where neither free pieces nor open orders of the store cover a reservation,
    not-reserved where more would be released than is kept.
    """
    notes = []
    wanted: dict[tuple[str, bytes], int] = {}
    for line in body.lines:
        wanted[line.model, line.tag or b""] = wanted.get((line.model, line.tag or b""), 0) + line.quantity
    taken: dict[str, int] = {}
    for (model, tag), pieces in wanted.items():
        name = from_bytes(tag)
        if body.act is Act.RELEASE:
            kept = sum(one.pieces for one in before.kept if (one.model, one.store, one.tag) == (model, body.store, name))
            if pieces > kept:
                raise GearkeepError(f"{body.store} keeps {kept} of {model} for {shown(name)}, and {pieces} would be released.",
                                    kind="not-reserved", hint="What is kept: gearkeep stock list.")
            continue
        # What earlier lines took beyond the free pieces they took of what is coming.
        left = before.free(model, body.store) - taken.get(model, 0)
        free = max(left, 0)
        due, late = (sum(one.pieces for one in some(before, model, store=body.store)) for some in (coming, given_up))
        due = max(due + min(left, 0), 0)
        old = _old(before, model, body.store)
        if pieces > free + due:
            raise GearkeepError(f"{body.store} has {free} of {model} free and {due} on order, and {pieces} would be kept."
                                f"{old}{_too_late(late)}{_free_elsewhere(before, model, body.store)}", kind="stock-short",
                                hint="Order more, transfer some from another store first, or name that store with --store.")
        if pieces > free:
            notes.append(f"{pieces - free} of {model} for {shown(name)} can only be kept once the order comes.{old}")
        taken[model] = taken.get(model, 0) + pieces
    return notes
