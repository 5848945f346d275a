"""What of a movement is better looked at again before it is signed: figures that cannot be, an order that nobody placed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from vault.actions.stock_names import bare_number, open_orders
from vault.actions.stock_told import where_words
from vault.actions.unsure import Unsure
from vault.db import stock_rows
from vault.db.session import Session
from vault.domain.counting import be, been
from vault.domain.stock import Act, Condition, MovementLine
from vault.exchange.plain import near_letters
from vault.spares.stock_walk import Walk

# What is a slip of the finger and what a large store, no source: a figure typed twice, or a nought too many, is beyond these.
_MORE_THAN, _TIMES = 1000, 100
_COUNT_OFF, _COUNT_TIMES = 50, 10
_ASKED_OF = frozenset({Act.RECEIPT, Act.ORDER, Act.COUNT})
_NAMES = {Act.RECEIPT: "This delivery", Act.ORDER: "This order", Act.COUNT: "This count"}


@dataclass(slots=True, kw_only=True)
class _Seen:
    """walk: what the movements left. largest: model -> the most pieces that one line moved or ordered. orders: (model, number)
    of every order that was placed.
    """

    walk: Walk = field(default_factory=Walk)
    largest: dict[str, int] = field(default_factory=dict)
    orders: set[tuple[str, str]] = field(default_factory=set)


def asked_of(session: Session, act: Act, store: str, lines: Sequence[MovementLine], order: str | None = None,
             ) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What is to be confirmed of a receipt, an order or a count, each as a sentence; and what can be done."""
    if act not in _ASKED_OF:
        return (), ()
    seen = _seen(stock_rows.each_movement(session, models={line.model for line in lines}), orders_alone=act is not Act.COUNT)
    figures = tuple(_counts(seen, store, lines) if act is Act.COUNT else _pieces(seen, act, lines))
    orders = tuple(_orders(seen, lines, order)) if act is Act.RECEIPT and order is not None else ()
    hints = (("If that is the right order, say --yes; what came on no order has no --order.",) if orders else ()) + (
        ("Correct the figure, or say --yes where it is right.",) if figures else ())
    return (*orders, *figures), hints


def refuse_unsure(session: Session, act: Act, store: str, lines: Sequence[MovementLine], order: str | None = None) -> None:
    """Raises Unsure for what `asked_of` finds."""
    asked, hints = asked_of(session, act, store, lines, order)
    if asked:
        raise Unsure(_NAMES[act], asked, hints)


def _seen(rows: Iterable[stock_rows.MovementRow], *, orders_alone: bool) -> _Seen:
    """orders_alone: what lies where is not asked."""
    seen = _Seen()
    for row in rows:
        if not orders_alone or row.order_number is not None:
            seen.walk.take(row)
        seen.largest[row.model] = max(seen.largest.get(row.model, 0), row.quantity)
        if row.act == Act.ORDER and row.order_number is not None:
            seen.orders.add((row.model, row.order_number))
    return seen


def _pieces(seen: _Seen, act: Act, lines: Iterable[MovementLine]) -> Iterator[str]:
    """Lines of far more pieces than were ever moved. What comes first is somebody's opening stock."""
    for line in lines:
        largest = seen.largest.get(line.model, 0)
        if line.quantity <= max(_MORE_THAN, _TIMES * largest) or (not largest and act is Act.RECEIPT):
            continue
        yield f"{line.quantity} of {line.model}, of which " + (
            f"no more than {largest} {been(largest)} ever moved or ordered at once" if largest else
            "none was ever moved or ordered")


def _counts(seen: _Seen, store: str, lines: Iterable[MovementLine]) -> Iterator[str]:
    """Bins in which far more was found than should lie there."""
    for line in lines:
        there = sum(seen.walk.lots_in(store, line.model, line.bin or "", line.condition or Condition.GOOD).values())
        largest = seen.largest.get(line.model, 0)
        most = max(there * _COUNT_TIMES, there + _COUNT_OFF - 1) if there else max(_MORE_THAN, _TIMES * largest)
        if line.quantity > most and largest:
            yield (f"{line.quantity} of {line.model} {been(line.quantity)} counted in {where_words(store, line.bin)}, where "
                   f"{there} should lie")


def _orders(seen: _Seen, lines: Sequence[MovementLine], order: str) -> Iterator[str]:
    """Models that came on an order that nobody placed for them, while others are open."""
    for model in dict.fromkeys(line.model for line in lines):
        due = [one for one in seen.walk.orders() if one.model == model]
        # Another's number but for its dashes is refused, whatever is confirmed.
        if not due or (model, order) in seen.orders or bare_number(order) in {bare_number(one.order) for one in due}:
            continue
        near = near_letters(order, (one.order for one in due))
        yield (f"nothing of {model} was ever ordered on {order}; open for it {be(len(due))} {open_orders(due)}"
               + (f": did you mean {near}?" if near else ""))
