"""What the index says of the stock journal, held against what is signed there before anybody reads it.

Stock figures come from many small rows, so that a single edited one would be followed in silence. The quick way compares rows
with the payload behind a good signature; whatever it does not find equal is looked at by the one door, which says what is wrong.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from sqlalchemy import BindParameter, bindparam, or_, select, union

from vault.db import tables
from vault.db.engine import blob
from vault.db.heads import names
from vault.db.prepared import Prepared
from vault.db.projections import rows_of
from vault.db.session import Session
from vault.db.tables import MAIN, STOCK
from vault.domain.schema import specs
from vault.domain.stock import Movement, MovementLine
from vault.domain.tag import from_bytes
from vault.domain.terms import ItemTerms, SupplyTerms
from vault.errors import GearkeepError, VerificationError
from vault.trust.statements import Kind
from vault.trust.verify import open_stock_statement, verify_movement

LOT = 100  # statements whose rows are compared together: up to 50,000 rows
SOUGHT = 20  # models that are looked for in signed bytes; for more, everything is held

_J, _M, _T = tables.journal.c, tables.movement.c, tables.supply_terms.c
_FIRST: BindParameter[int] = bindparam("first")
_END: BindParameter[int] = bindparam("end")
_SIGNED = Prepared(select(_J.seq, _J.signed).where(_J.log == STOCK, _J.seq >= _FIRST, _J.seq < _END).order_by(_J.seq))
_MOVEMENTS = Prepared(select(tables.movement).where(_M.seq >= _FIRST, _M.seq < _END).order_by(_M.seq, _M.number))
_TERMS = Prepared(select(tables.supply_terms).where(_T.seq >= _FIRST, _T.seq < _END).order_by(_T.seq, _T.number))


class _Columns:
    """How a table's rows come out of a statement's plain payload: each column from the line, or from the whole."""

    def __init__(self, table: Any, body: type, line: type, **others: str) -> None:
        whole, single = ({name: spec.key for name, spec in specs(kind)} for kind in (body, line))
        names = [others.get(column.name, column.name) for column in table.columns][2:]  # behind seq and number
        self._keys = [(name in single, single[name] if name in single else whole[name]) for name in names]
        self._tag = names.index("tag") + 2 if "tag" in names else None
        self._lines = whole["lines"]

    def rows(self, seq: int, body: dict[int, Any]) -> list[tuple[Any, ...]]:
        """The rows that a statement at `seq` stands for, in order."""
        found = []
        for number, line in enumerate(body[self._lines], 1):
            row: list[Any] = [seq, number, *[line.get(key) if of_line else body.get(key) for of_line, key in self._keys]]
            if self._tag is not None and row[self._tag] is not None:
                row[self._tag] = from_bytes(row[self._tag])
            found.append(tuple(row))
        return found


_OF_KIND = {Kind.STOCK_MOVEMENT: _Columns(tables.movement, Movement, MovementLine, order_number="order"),
            Kind.SUPPLY_TERMS: _Columns(tables.supply_terms, SupplyTerms, ItemTerms)}


def hold_stock(session: Session, models: Iterable[str]) -> None:
    """Hold the index of the stock journal against what is signed, of the entries that name one of some models, there or here.

    What was held in this session is not held again. Raises VerificationError: bad-index, or what `verify_movement` raises;
    GearkeepError (damaged) where an entry is missing.
    """
    wanted = sorted(set(models) - session.stock_models_held)
    if not wanted or session.stock_held >= session.size(STOCK):
        return
    if len(wanted) > SOUGHT:
        for _ in each_held(session):
            pass
        return
    signed = select(_J.seq).where(_J.log == STOCK, _J.seq >= session.stock_held,
                                  or_(*(names(session.connection, _J.signed, model) for model in wanted)))
    rows = (select(c.seq).where(c.model.in_(wanted), c.seq >= session.stock_held) for c in (_M, _T))
    hold_entries(session, session.connection.execute(union(signed, *rows)).scalars().all())
    session.stock_models_held.update(wanted)


def hold_terms(session: Session) -> None:
    """Hold what the index says of every statement of terms. Raises as `hold_stock` does."""
    signed = select(_J.seq).where(_J.log == STOCK, _J.kind == int(Kind.SUPPLY_TERMS))
    hold_entries(session, session.connection.execute(union(signed, select(_T.seq))).scalars())


def each_held(session: Session) -> Iterator[tuple[Any, ...]]:
    """Every row of the table of movements, in order, held before it is given. Raises as `hold_stock` does."""
    size = session.size(STOCK)
    for first in range(0, size, LOT):
        end = min(first + LOT, size)
        if end <= session.stock_held:
            yield from _MOVEMENTS.rows(session.connection, first=first, end=end)
            continue
        rows = _held(session, first, end)
        session.stock_held = max(session.stock_held, end)
        yield from rows
    for c in (_M, _T):
        seq = session.connection.execute(select(c.seq).where(or_(c.seq < 0, c.seq >= size)).limit(1)).scalar()
        if seq is not None:
            raise _wrong(seq)


def hold_entries(session: Session, places: Iterable[int]) -> None:
    """Hold what the index says of some entries of the stock journal. Raises as `hold_stock` does."""
    for seq in sorted(set(places) - session.stock_entries_held):
        if seq >= session.stock_held:
            _held(session, seq, seq + 1)
            session.stock_entries_held.add(seq)


def _held(session: Session, first: int, end: int) -> list[tuple[Any, ...]]:
    """The rows of movements of the entries from `first` to before `end`, held with those of terms against what is signed."""
    at = {"first": first, "end": end}
    moved = _MOVEMENTS.rows(session.connection, **at)
    found: dict[int, list[tuple[Any, ...]]] = {}
    for row in (*moved, *_TERMS.rows(session.connection, **at)):
        found.setdefault(row[0], []).append(row)
    entries = _SIGNED.rows(session.connection, **at)
    most = session.size(MAIN)  # asked last: it only grows
    place = first - 1
    for place, (seq, signed) in enumerate(entries, first):
        rows = found.pop(seq, [])
        if seq != place:
            raise _missing(place)
        if not _equal(session, seq, blob(signed), rows, most):
            _hold_carefully(session, seq, blob(signed), rows, most)
    if found:
        raise _wrong(min(found))
    if place != end - 1:
        raise _missing(end - 1)
    return moved


def _equal(session: Session, seq: int, signed: bytes, rows: list[tuple[Any, ...]], most: int) -> bool:
    """Whether an entry is well signed and its rows are its payload; False also where that cannot be told quickly."""
    try:
        kind, body = open_stock_statement(signed, stock_log_id=session.genesis.stock_log_id, signers=session.signers, most=most)
        return _OF_KIND[kind].rows(seq, body) == rows
    except (VerificationError, TypeError, ValueError, AttributeError, KeyError):
        return False


def _hold_carefully(session: Session, seq: int, signed: bytes, rows: list[tuple[Any, ...]], most: int) -> None:
    statement = verify_movement(signed, stock_log_id=session.genesis.stock_log_id, signers=session.signers, main_size=0,
                                most=most)
    due = [tuple(row.values()) for _, row in rows_of(seq, statement)]
    if due != rows:
        raise _wrong(seq)


def _missing(seq: int) -> GearkeepError:
    return GearkeepError(f"Entry {seq} of the stock journal is missing.", kind="damaged",
                         hint="Use no figures of the store. Run: gearkeep audit. Restore a backup.")


def _wrong(seq: int) -> VerificationError:
    return VerificationError(f"The index is wrong: it says otherwise of entry {seq} of the stock journal than what is "
                             "signed there.", kind="bad-index",
                             hint="Use no figures from it. Run: gearkeep audit, then gearkeep rebuild.")
