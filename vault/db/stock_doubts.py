"""What a key in wrong hands signed about the store, and what of it nobody has answered for since (FORMAT.md, section Chain).

A movement stands at the last entry of the main journal that its signer saw. It is answered for when the bins that it touched were
counted again, when what it kept or ordered was moved again, and terms when those of the item were signed again: by a good hand.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select

from vault.db import tables
from vault.db.doubts import RULE, doubt_of, said
from vault.db.session import Session
from vault.db.stock_held import hold_stock
from vault.db.stock_rows import MovementRow, each_movement
from vault.db.tables import STOCK
from vault.domain.schema import words
from vault.domain.stock import Act, Condition
from vault.trust.signers import Doubt
from vault.trust.statements import Kind

_J, _T = tables.journal.c, tables.supply_terms.c
# Which of a bin's pieces a line without a condition touches, where not the good ones alone.
_TOUCHES: dict[int, tuple[Condition, ...]] = {int(Act.CHECKED): (Condition.GOOD, Condition.NEEDS_RESET)}
_KEPT = frozenset({int(Act.RESERVE), int(Act.RELEASE)})
_ORDERED = frozenset({int(Act.ORDER), int(Act.CANCEL)})
# Store, model, bin, condition.
Place = tuple[str, str, str, Condition]


@dataclass(frozen=True, slots=True, kw_only=True)
class DoubtfulStock:
    """A statement of the stock journal that is in doubt and not settled. places: to be counted again. keeps: (model, tag) to be
    reserved or released again, orders: (model, order) to be ordered or cancelled again; terms: items whose terms are to be signed
    again. models: all that it names.
    """

    seq: int
    kind: Kind
    doubt: Doubt
    what: str
    models: tuple[str, ...]
    places: tuple[Place, ...] = ()
    keeps: tuple[tuple[str, str], ...] = ()
    orders: tuple[tuple[str, str], ...] = ()
    terms: tuple[str, ...] = ()

    @property
    def why(self) -> str:
        """One sentence for an audit."""
        settle = "sign the terms again" if self.terms else "count the bins again" if self.places else "sign it again"
        return f"{RULE}: {self.what} was signed by {said(self.doubt)}; {settle}"


def doubtful_stock(session: Session) -> list[DoubtfulStock]:
    """Every statement about the store that is in doubt and not settled, in the order of the journal.

    Raises VerificationError for entries or rows that are not good.
    """
    if not session.signers.any_doubt:
        return []
    rows = session.connection.execute(select(_J.seq, _J.key_id).where(
        _J.log == STOCK, _J.key_id.in_(session.signers.suspects())).order_by(_J.seq)).all()
    found = [(seq, statement, doubt) for seq, ident in rows for statement in [session.statement(seq, STOCK)]
             for doubt in [doubt_of(session, ident, statement.body.main_size - 1, behind=True)] if doubt is not None]
    if not found:
        return []
    doubtful = {seq for seq, _, _ in found}
    moved = list(_lines(session, {line.model for _, one, _ in found for line in one.body.lines}))
    settled = _Settled(session, [row for row in moved if row.seq not in doubtful], doubtful, found)
    by_entry: dict[int, list[MovementRow]] = {}
    for row in moved:
        by_entry.setdefault(row.seq, []).append(row)
    told = (settled.rest(seq, statement.kind, statement.body, doubt, by_entry.get(seq, [])) for seq, statement, doubt in found)
    return [one for one in told if one is not None]


def stock_at(session: Session, signer: bytes, place: int) -> int:
    """How many statements about the store a key signed while an entry of the main journal was the last."""
    rows = session.connection.execute(select(_J.seq).where(_J.log == STOCK, _J.key_id == signer)).scalars().all()
    return sum(session.statement(seq, STOCK).body.main_size - 1 == place for seq in rows)


def _lines(session: Session, models: set[str]) -> Iterator[MovementRow]:
    named = sorted(models)
    for start in range(0, len(named), 500):
        yield from each_movement(session, models=named[start : start + 500])


class _Settled:
    """The last good word on each bin, reservation, order and item."""

    def __init__(self, session: Session, good: Iterable[MovementRow], doubtful: set[int], found: list[Any]) -> None:
        self._counts: dict[tuple[Place, int | None], int] = {}
        self._moved: dict[tuple[str, str, str], int] = {}
        for row in good:
            if row.act == Act.COUNT:
                self._counts[_touched(row)[0], row.made_day] = row.seq
            for key in _moved_again(row):
                self._moved[key] = max(row.seq, self._moved.get(key, -1))
        items = sorted({line.model for _, one, _ in found if one.kind is Kind.SUPPLY_TERMS for line in one.body.lines})
        self._terms: dict[str, int] = {}
        for start in range(0, len(items), 500):
            some = items[start : start + 500]
            hold_stock(session, some)
            for model, seq in session.connection.execute(
                    select(_T.model, _T.seq).where(_T.model.in_(some)).order_by(_T.seq)):
                if seq not in doubtful:
                    self._terms[model] = seq

    def rest(self, seq: int, kind: Kind, body: Any, doubt: Doubt, rows: Iterable[MovementRow]) -> DoubtfulStock | None:
        """What of a statement is still to be answered for; None for nothing."""
        models = tuple(dict.fromkeys(line.model for line in body.lines))
        if kind is Kind.SUPPLY_TERMS:
            terms = tuple(model for model in models if self._terms.get(model, -1) < seq)
            what = f"statement of terms of {_named(terms)}"
            return DoubtfulStock(seq=seq, kind=kind, doubt=doubt, what=what, models=models, terms=terms) if terms else None
        places, keeps, orders = dict[Place, None](), dict[tuple[str, str], None](), dict[tuple[str, str], None]()
        for row in rows:
            places |= dict.fromkeys(place for place in _touched(row) if not self._counted(place, row))
            if row.act in _KEPT and self._moved.get(("kept", row.model, row.tag or ""), -1) < seq:
                keeps[row.model, row.tag or ""] = None
            if row.act in _ORDERED and self._moved.get(("order", row.model, row.order_number or ""), -1) < seq:
                orders[row.model, row.order_number or ""] = None
        if not (places or keeps or orders):
            return None
        what = f"{words(body.act)} of {_named(models)} in {body.store}"
        return DoubtfulStock(seq=seq, kind=kind, doubt=doubt, what=what, models=models, places=tuple(places),
                             keeps=tuple(keeps), orders=tuple(orders))

    def _counted(self, place: Place, row: MovementRow) -> bool:
        """Whether somebody good counted the place since, or there what was made on the day that the line names."""
        return any(self._counts.get((place, day), -1) > row.seq for day in (None, row.made_day))


def _touched(row: MovementRow) -> list[Place]:
    if row.act in _KEPT or row.act in _ORDERED:
        return []
    conditions = _TOUCHES.get(row.act, (Condition.GOOD,)) if row.condition is None else (Condition(row.condition),)
    where = [(row.store, row.bin or "")]
    if row.to_store is not None:
        where.append((row.to_store, row.to_bin or row.bin or ""))
    return [(store, row.model, name, condition) for store, name in where for condition in conditions]


def _moved_again(row: MovementRow) -> Iterator[tuple[str, str, str]]:
    if row.tag is not None and row.act in (*_KEPT, int(Act.ISSUE)):
        yield "kept", row.model, row.tag
    if row.order_number is not None and row.act in (*_ORDERED, int(Act.RECEIPT)):
        yield "order", row.model, row.order_number


def _named(models: tuple[str, ...]) -> str:
    more = f" and {len(models) - 2} more" if len(models) > 2 else ""
    return ", ".join(models[:2]) + more
