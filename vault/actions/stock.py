"""The store: what comes in, goes out, and lies there."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from vault.actions.desk import Desk
from vault.actions.looking import look
from vault.actions.stock_checks import (
    apply,
    keeping_notes,
    not_yet,
    order_notes,
    refuse_serials,
    refuse_unknown,
    reserved_notes,
    rows_of_body,
)
from vault.db import queries
from vault.db.session import Session
from vault.domain.stock import Act, Condition, Movement, MovementLine, Stream
from vault.domain.tag import shown, to_bytes
from vault.errors import GearkeepError, UsageProblem
from vault.spares.levels import Shelf, shelves
from vault.spares.stock_state import StockState, state_from, state_of
from vault.spares.stock_walk import DAY_S, Walk
from vault.trust.statements import Kind

LINES_PER_STATEMENT = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """What a movement left behind in its store: usable pieces of each model that it touched, and those that need a reset.

    notes: sentences that whoever moved it should hear. again: lines that came on the same delivery note before.
    """

    store: str
    act: Act
    pieces: dict[str, int]
    needs_reset: dict[str, int]
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
    return state_of(queries.each_movement(session, models=wanted), queries.supply_terms(session, wanted),
                    today_day=now_s // DAY_S)


def read_stock_state(desk: Desk, models: Iterable[str] | None = None) -> StockState:
    """`stock_state` in a session of its own. Raises GearkeepError (not-found) for a model that the vault does not know."""
    wanted = None if models is None else sorted(set(models))
    with desk.vault.reading() as session:
        if wanted is not None:
            refuse_unknown(session, wanted, GearkeepError)
        return stock_state(session, now_s=desk.now_s(), models=wanted)


def move_stock(session: Session, desk: Desk, *, act: Act, store: str, lines: tuple[MovementLine, ...],
               said: Said | None = None, even_reserved: bool = False) -> Moved:
    """Sign one act inside an open session, in statements of up to 500 lines.

    Stock never goes below nought in silence, and pieces that are kept for other luminaires are issued only with
    `even_reserved`. A line that came on the same delivery note before adds nothing. Raises GearkeepError: stock-short,
    stock-reserved, serial-in-use, already-ordered, not-ordered, not-reserved, delivery-differs; UsageProblem
    (not-found) for an unknown model.
    """
    said = said or Said()
    models = sorted({line.model for line in lines})
    refuse_unknown(session, models)
    again = 0
    if act is Act.RECEIPT and said.delivery is not None:
        fresh = not_yet(session, store, said.delivery, lines)
        lines, again = fresh, len(lines) - len(fresh)
    if act in (Act.RECEIPT, Act.RETURN):
        refuse_serials(session, lines)
    walk, terms, today = Walk(), queries.supply_terms(session, models), desk.now_s() // DAY_S
    for row in queries.each_movement(session, models=models):
        walk.take(row)
    notes: list[str] = []
    if again:
        notes.append(f"{again} {'line was' if again == 1 else 'lines were'} received before on delivery {said.delivery} and "
                     f"{'adds' if again == 1 else 'add'} nothing.")
    for start in range(0, len(lines), LINES_PER_STATEMENT):
        before = state_from(walk, terms, today_day=today)
        body = Movement(
            act=act, store=store, time_s=desk.now_s(), main_size=session.size(), lines=lines[start : start + LINES_PER_STATEMENT],
            reason=said.reason, order=said.order, to_store=said.to_store, due_day=said.due_day, supplier=said.supplier,
            stream=said.stream, delivery=said.delivery)
        if act in (Act.ORDER, Act.CANCEL, Act.RECEIPT):
            notes += order_notes(body, before)
        if act in (Act.RESERVE, Act.RELEASE):
            notes += keeping_notes(body, before)
        apply(walk, list(rows_of_body(body)))
        after = state_from(walk, terms, today_day=today)
        notes += reserved_notes(body, before, after, even_reserved=even_reserved)
        if act is Act.COUNT:
            notes += _count_notes(body, before)
        session.append(Kind.STOCK_MOVEMENT, body, desk.key())
    after = state_from(walk, terms, today_day=today)
    return Moved(store=store, act=act, pieces={model: after.usable(model, store) for model in models},
                 needs_reset={model: after.needs_reset(model, store) for model in models}, notes=tuple(notes), again=again)


def _count_notes(body: Movement, before: StockState) -> list[str]:
    held = {(one.model, one.bin): one for one in before.shelves if one.store == body.store}
    notes = []
    for line in body.lines:
        shelf = held.get((line.model, line.bin or ""))
        reset = line.condition is Condition.NEEDS_RESET
        there = 0 if shelf is None else shelf.needs_reset if reset else shelf.good
        if line.made_day is None and line.quantity != there:
            notes.append(f"{line.quantity} of {line.model} were counted where {there} should lie"
                         f"{f' in bin {line.bin}' if line.bin else ''}: {line.quantity - there:+d}, signed with its reason.")
    return notes


def one_movement(desk: Desk, *, act: Act, store: str, model: str, quantity: int, bin_name: str | None = None,
                 serial: str | None = None, reason: str | None = None, tag_text: str | None = None, to_bin: str | None = None,
                 condition: Condition | None = None, made_day: int | None = None, said: Said | None = None,
                 even_reserved: bool = False) -> Moved:
    """One line of one act. tag_text: as typed or scanned; the luminaire has to be in the vault.

    Raises UsageProblem: bad-value for a day that cannot be, near-name for a store that another's name but for capitals is,
    retired for a luminaire that is gone.
    """
    said = said or Said(reason=reason)
    _refuse_day(act, made_day, desk.now_s() // DAY_S)
    with desk.vault.writing() as session:
        _refuse_near_names(session, {store, said.to_store} - {None})
        seen = look(session, tag_text)[0] if tag_text is not None else None
        if seen is not None and seen.retired and act in (Act.RESERVE, Act.ISSUE):
            raise UsageProblem(f"{shown(seen.tag)} is retired; it needs no spare.", kind="retired",
                               hint="Look it up: gearkeep show TAG.")
        tag = to_bytes(seen.tag) if seen is not None else None
        line = MovementLine(model=model, quantity=quantity, bin=bin_name, serial=serial, tag=tag, condition=condition,
                            made_day=made_day, to_bin=to_bin)
        return move_stock(session, desk, act=act, store=store, lines=(line,), said=said,
                          even_reserved=even_reserved)


def _refuse_day(act: Act, made_day: int | None, today: int) -> None:
    if made_day is not None and made_day > today and act is not Act.SCRAP:
        raise UsageProblem("A battery cannot have been made in the future.", kind="bad-value",
                           hint="Look at the day that it bears.")


def _refuse_near_names(session: Session, stores: Iterable[str | None]) -> None:
    known = queries.stores(session)
    for name in stores:
        same = [one for one in known if name is not None and one != name and one.casefold() == name.casefold()]
        if same and name not in known:
            raise UsageProblem(f"There is no store {name}, but a store {same[0]}.", kind="near-name",
                               hint=f"Type it as {same[0]}.")


def list_stock(desk: Desk, model: str | None = None) -> list[Shelf]:
    """Usable pieces by shelf."""
    with desk.vault.reading() as session:
        return shelves(queries.each_movement(session, model))


def shelf_with(session: Session, model: str, store: str | None, bin_name: str | None, tag: str | None = None,
               serial: str | None = None) -> Shelf:
    """A shelf that holds a piece that may be issued to the luminaire `tag`: where the piece of that serial number lies, if the
    store knows it; from a store that keeps one for the luminaire; else from one with free pieces, else from any.

    Raises GearkeepError (stock-short) when none holds a piece or that very piece lies elsewhere; whether a kept one may
    go is `move_stock`'s to say.
    """
    state = state_of(queries.each_movement(session, model), {}, today_day=0)
    own = [s for s in state.shelves if serial is not None and serial in s.serials]
    found = [s for s in own or state.shelves if s.good > 0 and store in (None, s.store) and bin_name in (None, s.bin)]
    if own and not found:
        where = f"bin {own[0].bin} of {own[0].store}" if own[0].bin else own[0].store
        raise GearkeepError(f"The {model} {serial} lies in {where}" + (
            " and needs a reset." if not own[0].good else "."), kind="stock-short",
            hint="Name that store and bin, or check the piece first (gearkeep stock check). If it lies elsewhere, sign a "
                 "transfer.")
    if not found:
        resets = state.needs_reset(model, store)
        raise GearkeepError(f"No store holds a {model}" + (f" in {store}" if store else "") + (
            f" that may be issued; {resets} still need a reset." if resets else "."), kind="stock-short",
            hint="Check what came back (gearkeep stock check), receive one, or say --no-stock when the driver did not come from "
                 "a store.")
    kept = {one.store for one in state.kept if one.tag == tag}
    best = min(found, key=lambda s: (s.store not in kept, state.free(model, s.store) <= 0, s))
    return Shelf(store=best.store, model=best.model, bin=best.bin, pieces=best.good)
