"""The store: what comes in, goes out, and lies there."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from vault.actions.desk import Desk
from vault.actions.looking import look
from vault.actions.luminaire import driver_models
from vault.actions.stock_asked import refuse_unsure
from vault.actions.stock_checks import (
    keeping_notes,
    not_yet,
    order_notes,
    refuse_same_bin,
    refuse_serials,
    refuse_unknown,
    reserved_notes,
    rows_of_body,
)
from vault.actions.stock_fitting import use_notes
from vault.actions.stock_names import place_notes, refuse_near_store
from vault.actions.stock_pieces import as_it_lies, count_notes, lost_numbers, numbers_in, piece_notes, refuse_short, unchecked
from vault.actions.stock_terms import age_notes, by_stream, refuse_last_order, refuse_stream
from vault.actions.stock_told import deed, standing, typed_place, where_words
from vault.db import stock_rows
from vault.db.session import Session
from vault.domain.stock import Act, Condition, Movement, MovementLine, Stream
from vault.domain.tag import shown, to_bytes
from vault.domain.terms import ItemTerms
from vault.errors import GearkeepError, UsageProblem
from vault.spares.levels import Shelf
from vault.spares.stock_state import StockState
from vault.spares.stock_walk import DAY_S, Walk, state_from, state_of
from vault.trust.statements import Kind

LINES_PER_STATEMENT = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """What a movement left behind in its store: usable pieces of each model that it touched, and those that need a reset.

    did: one sentence for each statement. stands: what the stores that were touched hold of each model, in words. notes: sentences
    that whoever moved it should hear. again: lines that came on the same delivery note before.
    """

    store: str
    act: Act
    pieces: dict[str, int]
    needs_reset: dict[str, int]
    did: tuple[str, ...] = ()
    stands: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    again: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What a movement says besides its lines; see vault/domain/stock.Movement."""

    reason: str | None = None
    order: str | None = None
    to_store: str | None = None
    due_day: int | None = None
    supplier: str | None = None
    stream: Stream | None = None
    delivery: str | None = None


def stock_state(session: Session, *, now_s: int, models: Iterable[str] | None = None) -> StockState:
    """The state of the store: of some models, read by an index, or of all."""
    wanted = None if models is None else sorted(set(models))
    state = state_of(stock_rows.each_movement(session, models=wanted), stock_rows.supply_terms(session, wanted),
                     today_day=now_s // DAY_S)
    return replace(state, emergency=frozenset(name for name, model in driver_models(session).items() if model.emergency))


def read_stock_state(desk: Desk, models: Iterable[str] | None = None) -> StockState:
    """`stock_state` in a session of its own."""
    with desk.vault.reading() as session:
        return stock_state(session, now_s=desk.now_s(), models=models)


def move_stock(session: Session, desk: Desk, *, act: Act, store: str, lines: tuple[MovementLine, ...],
               said: Said | None = None, even_reserved: bool = False, in_hand: bool = False) -> Moved:
    """Sign one act inside an open session, in statements of up to 500 lines. What is scrapped without a waste stream goes into
    the one that it has to, each stream in a statement of its own.

    Stock never goes below nought in silence, and pieces that are kept for other luminaires are issued only with
    `even_reserved`. A line that came on the same delivery note before adds nothing. in_hand: somebody read the piece that goes,
    and it has no serial number where the line names none.

    Raises GearkeepError: stock-short, stock-reserved, serial-in-use, serial-elsewhere, which-piece, which-bin, which-condition,
    needs-reset, good-already, not-there, too-old, already-ordered, last-order-passed, not-ordered, not-reserved,
    delivery-differs; UsageProblem: not-found for an unknown model, near-name, file-name, wrong-stream.
    """
    said = said or Said()
    models = sorted({line.model for line in lines})
    refuse_unknown(session, models)
    refuse_same_bin(act, store, said.to_store, lines)
    again = 0
    if act is Act.RETURN:
        lines = tuple(replace(line, condition=Condition.NEEDS_RESET) if line.condition is None else line for line in lines)
    if act is Act.RECEIPT and said.delivery is not None:
        fresh = not_yet(session, store, said.delivery, lines)
        lines, again = fresh, len(lines) - len(fresh)
    if act in (Act.RECEIPT, Act.RETURN):
        refuse_serials(session, lines)
    walk, terms, today = Walk(), stock_rows.supply_terms(session, models), desk.now_s() // DAY_S
    for row in stock_rows.each_movement(session, models=models):
        walk.take(row)
    notes: list[str] = []
    heard: list[str] = []
    did: list[str] = []
    if again:
        notes.append(f"{again} {'line was' if again == 1 else 'lines were'} received before on delivery {said.delivery} and "
                     f"{'adds' if again == 1 else 'add'} nothing.")
    streams: dict[Stream | None, Sequence[MovementLine]] = {said.stream: lines}
    if act is Act.SCRAP and said.stream is None:
        streams = {**by_stream(lines, terms, driver_models(session))}
    for stream, some in ((stream, every[start : start + LINES_PER_STATEMENT]) for stream, every in streams.items()
                         for start in range(0, len(every), LINES_PER_STATEMENT)):
        before = state_from(walk, terms, today_day=today)
        body = Movement(
            act=act, store=store, time_s=desk.now_s(), main_size=session.size(),
            lines=tuple(as_it_lies(walk, act, store, line) for line in some), reason=said.reason, order=said.order,
            to_store=said.to_store, due_day=said.due_day, supplier=said.supplier, stream=stream, delivery=said.delivery)
        if not did:
            notes += place_notes(session, body, before)
        notes += _notes_before(session, body, before, terms)
        for row in rows_of_body(body):
            heard += _take(walk, row, terms, before, in_hand)
        after = state_from(walk, terms, today_day=today)
        notes += reserved_notes(body, before, after, even_reserved=even_reserved)
        session.append(Kind.STOCK_MOVEMENT, body, desk.key())
        did.append(deed(body, after))
    after = state_from(walk, terms, today_day=today)
    touched = list(dict.fromkeys(filter(None, (store, said.to_store))))
    return Moved(store=store, act=act, pieces={model: after.usable(model, store) for model in models},
                 needs_reset={model: after.needs_reset(model, store) for model in models}, did=tuple(did),
                 stands=tuple(standing(after, model, touched) for model in models), notes=(*notes, *heard), again=again)


def _notes_before(session: Session, body: Movement, before: StockState, terms: Mapping[str, ItemTerms]) -> list[str]:
    """What the movement as a whole should hear, and its refusals."""
    if body.act is Act.ORDER:
        refuse_last_order(body, terms, driver_models(session), before.today_day)
    if body.act is Act.SCRAP:
        refuse_stream(body, terms, driver_models(session))
    if body.act in (Act.ORDER, Act.CANCEL, Act.RECEIPT):
        return order_notes(body, before)
    return keeping_notes(body, before) if body.act in (Act.RESERVE, Act.RELEASE) else []


def _take(walk: Walk, row: stock_rows.MovementRow, terms: Mapping[str, ItemTerms], before: StockState,
          in_hand: bool) -> list[str]:
    """Let one line happen; what should be heard of it."""
    refuse_short(walk, row)
    notes = [*piece_notes(walk, row, in_hand=in_hand), *age_notes(walk, row, terms, before), *count_notes(walk, row)]
    numbers = numbers_in(walk, row) if row.act == Act.COUNT else ()
    walk.take(row)
    return [*notes, *lost_numbers(row, numbers, numbers_in(walk, row))] if numbers else notes


def one_movement(desk: Desk, *, act: Act, store: str, model: str, quantity: int, bin_name: str | None = None,
                 serial: str | None = None, reason: str | None = None, tag_text: str | None = None, to_bin: str | None = None,
                 condition: Condition | None = None, made_day: int | None = None, said: Said | None = None,
                 even_reserved: bool = False, sure: bool = False) -> Moved:
    """One line of one act. tag_text: as typed or scanned; the luminaire has to be in the vault. sure: what is asked is
    confirmed.

    Raises Unsure for what should be looked at again; UsageProblem: bad-value for a day that cannot be, retired for a luminaire
    that is gone; GearkeepError (does-not-fit) for a model that cannot be used in the luminaire that it would be kept for or
    issued to.
    """
    said = said or Said(reason=reason)
    _refuse_day(act, made_day, desk.now_s() // DAY_S)
    with desk.vault.writing() as session:
        seen = look(session, tag_text)[0] if tag_text is not None else None
        heard: tuple[str, ...] = ()
        if seen is not None and act in (Act.RESERVE, Act.ISSUE):
            if seen.retired:
                raise UsageProblem(f"{shown(seen.tag)} is retired; it needs no spare.", kind="retired",
                                   hint="Look it up: gearkeep show TAG.")
            keeping = quantity if act is Act.RESERVE and not sure else 0
            heard = tuple(use_notes(session, seen, model, driver_models(session), keeping=keeping))
        tag = to_bytes(seen.tag) if seen is not None else None
        line = MovementLine(model=model, quantity=quantity, bin=bin_name, serial=serial, tag=tag, condition=condition,
                            made_day=made_day, to_bin=to_bin)
        if not sure:
            refuse_unsure(session, act, store, (line,), said.order)
        moved = move_stock(session, desk, act=act, store=store, lines=(line,), said=said, even_reserved=even_reserved)
        return replace(moved, notes=(*heard, *moved.notes))


def _refuse_day(act: Act, made_day: int | None, today: int) -> None:
    if made_day is not None and made_day > today and act is not Act.SCRAP:
        raise UsageProblem("A battery cannot have been made in the future.", kind="bad-value",
                           hint="Look at the day that it bears.")


def shelf_with(session: Session, model: str, store: str | None, bin_name: str | None, tag: str | None = None,
               serial: str | None = None) -> Shelf:
    """A shelf that holds a piece that may be issued to the luminaire `tag`: where the piece of that serial number lies, if the
    store knows it; from a store that keeps one for the luminaire; else from one with free pieces, else from any. Where the
    number is not known to the store, a bin with pieces whose numbers nobody noted comes first.

    Raises GearkeepError: stock-short when none holds a piece or that very piece lies elsewhere, needs-reset when it came back
    and nobody checked it since; whether a kept one may go is `move_stock`'s to say.
    """
    refuse_near_store(session, store)
    state = state_of(stock_rows.each_movement(session, model), {}, today_day=0)
    # Typed in any case; the store's own writing is the one that counts.
    same = serial.casefold() if serial is not None else None
    own = [s for s in state.shelves if any(one.casefold() == same for one in s.serials)]
    for shelf in own:
        for number in shelf.reset_serials:
            if number == serial or (number.casefold() == same and serial not in shelf.serials):
                raise unchecked(shelf, number)
    found = [s for s in own or state.shelves if s.good > 0 and store in (None, s.store) and bin_name in (None, s.bin)]
    if own and not found:
        raise GearkeepError(f"The {model} {serial} lies in {where_words(own[0].store, own[0].bin)}.", kind="stock-short",
                            hint=f"Say {typed_place(own[0].store, own[0].bin)}. If it lies elsewhere, sign a transfer.")
    if not found:
        resets = state.needs_reset(model, store)
        raise GearkeepError(f"No store holds a {model}" + (f" in {store}" if store else "") + (
            f" that may be issued; {resets} still need a reset." if resets else "."), kind="stock-short",
            hint="Check what came back (gearkeep stock check), receive one, or say --no-stock when the driver did not come from "
                 "a store.")
    kept = {one.store for one in state.kept if one.tag == tag}
    best = min(found, key=lambda s: (s.store not in kept, state.free(model, s.store) <= 0,
                                     not own and len(s.serials) >= s.good + s.needs_reset, s))
    return Shelf(store=best.store, model=best.model, bin=best.bin, pieces=best.good)
