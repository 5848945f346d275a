"""The store: what comes in, goes out, and lies there."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from vault.actions.desk import Desk
from vault.actions.luminaire import driver_models
from vault.db import queries
from vault.db.session import Session
from vault.domain.stock import Act, Movement, MovementLine
from vault.errors import GearkeepError, UsageProblem
from vault.exchange.stock_file import read_stock
from vault.spares.levels import Shelf, pieces_of, shelves
from vault.trust.statements import Kind

LINES_PER_STATEMENT = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """What a movement left behind: pieces of each model it touched, over the whole store."""

    store: str
    act: Act
    pieces: dict[str, int]


def move_stock(session: Session, desk: Desk, *, act: Act, store: str, lines: tuple[MovementLine, ...],
               reason: str | None = None, order: str | None = None) -> Moved:
    """Sign one movement inside an open session. Stock never goes below nought in silence.

    Raises GearkeepError (stock-short) naming model, bin and what is there.
    """
    known = driver_models(session)
    for line in lines:
        if line.model not in known:
            raise UsageProblem(f"The vault does not know the driver model {line.model}.", kind="not-found",
                               hint="Load its data first with: gearkeep driver load FILE.")
    if act in (Act.ISSUE, Act.SCRAP):
        _refuse_short(session, store, lines)
    for start in range(0, len(lines), LINES_PER_STATEMENT):
        body = Movement(act=act, store=store, time_s=desk.now_s(), main_size=session.size(), reason=reason, order=order,
                        lines=lines[start : start + LINES_PER_STATEMENT])
        session.append(Kind.STOCK_MOVEMENT, body, desk.key())
    moved = queries.movements(session)
    return Moved(store=store, act=act, pieces={line.model: pieces_of(moved, line.model, store) for line in lines})


def _refuse_short(session: Session, store: str, lines: tuple[MovementLine, ...]) -> None:
    held = {(s.model, s.bin): s.pieces for s in shelves(queries.movements(session)) if s.store == store}
    wanted: dict[tuple[str, str], int] = {}
    for line in lines:
        place = (line.model, line.bin or "")
        wanted[place] = wanted.get(place, 0) + line.quantity
    for (model, bin_name), pieces in wanted.items():
        there = held.get((model, bin_name), 0)
        if pieces > there:
            where = f"bin {bin_name} of {store}" if bin_name else store
            raise GearkeepError(f"{where} holds {there} of {model}, and {pieces} were asked for.", kind="stock-short",
                                hint="Count the bin and sign the count, or name another bin or store.")


def load_stock(desk: Desk, path: Path, *, store: str, order: str | None = None) -> Moved:
    """Receive everything that a file lists."""
    with desk.vault.writing() as session:
        return move_stock(session, desk, act=Act.RECEIPT, store=store, lines=tuple(read_stock(path)), order=order)


def one_movement(desk: Desk, *, act: Act, store: str, model: str, quantity: int, bin_name: str | None,
                 serial: str | None, reason: str | None) -> Moved:
    """One line of one act."""
    line = MovementLine(model=model, quantity=quantity, bin=bin_name, serial=serial)
    with desk.vault.writing() as session:
        return move_stock(session, desk, act=act, store=store, lines=(line,), reason=reason)


def list_stock(desk: Desk, model: str | None = None) -> list[Shelf]:
    """What lies where."""
    with desk.vault.reading() as session:
        return shelves(queries.movements(session, model))


def shelf_with(session: Session, model: str, store: str | None, bin_name: str | None) -> Shelf:
    """A shelf that holds at least one piece. Raises GearkeepError when none does."""
    found = [s for s in shelves(queries.movements(session, model)) if s.pieces > 0
             and (store is None or s.store == store) and (bin_name is None or s.bin == bin_name)]
    if not found:
        raise GearkeepError(f"No store holds a {model}" + (f" in {store}" if store else "") + ".", kind="stock-short",
                            hint="Receive it first, or say --no-stock when the driver did not come from a store.")
    return found[0]
