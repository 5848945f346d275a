"""What to order, by supplier: vital first, with quantity, price, sum, lead time and why. Pure; what is not known stays so."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from vault.domain.terms import Importance, ItemTerms
from vault.spares.coming import position
from vault.spares.hold_plan import HoldLine, HoldPlan
from vault.spares.stock_state import StockState
from vault.spares.stores import elsewhere_words
from vault.spares.successor import Successor


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderLine:
    """One model to order. pieces: up to the order-up-to level, in whole packs. price_cents, sum_cents, currency, supplier: None
    where the terms tell none. position: on hand + on order - reserved; elsewhere: of what is there and coming, what lies outside
    of the main store. last_order_day, successor: of a model that ends.
    """

    model: str
    supplier: str | None
    importance: Importance
    pieces: int
    pack: int
    price_cents: int | None
    currency: str | None
    lead_days: int
    lead_told: bool
    on_hand: int
    on_order: int
    reserved: int
    position: int
    reorder_point: int
    order_up_to: int
    last_order_day: int | None
    successor: Successor | None
    elsewhere: tuple[tuple[str, int], ...] = ()

    @property
    def sum_cents(self) -> int | None:
        """What it comes to."""
        return None if self.price_cents is None else self.price_cents * self.pieces

    @property
    def why(self) -> str:
        """Position against reorder point, in words."""
        packs = f" in packs of {self.pack}" if self.pack > 1 else ""
        where = f" ({elsewhere_words(self.elsewhere)})" if self.elsewhere else ""
        return (f"{self.on_hand} on hand, {self.on_order} on order{where}, {self.reserved} reserved make {self.position}; order "
                f"at {self.reorder_point}, up to {self.order_up_to}{packs}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Untold:
    """A model of which nobody can say whether to order it. lacks: what is not known, in words."""

    model: str
    importance: Importance | None
    position: int
    lacks: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplierOrder:
    """What one supplier gets asked for. sums: cents by currency of what has a price; unpriced: models without one."""

    supplier: str | None
    lines: tuple[OrderLine, ...]

    @property
    def sums(self) -> dict[str, int]:
        """Cents by currency, by its name; "" where none is named."""
        found: dict[str, int] = {}
        for line in self.lines:
            if line.sum_cents is not None:
                found[line.currency or ""] = found.get(line.currency or "", 0) + line.sum_cents
        return dict(sorted(found.items()))

    @property
    def unpriced(self) -> tuple[str, ...]:
        """Models whose price is not known; no sum counts them."""
        return tuple(line.model for line in self.lines if line.price_cents is None)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReorderList:
    """orders: suppliers with vital lines first, then by name, the unknown one last; ended: lines of models that no maker takes
    an order for any more. untold: models whose need nobody can tell. held_back: models that are not ordered for the sake of
    pieces outside of the main store alone.
    """

    orders: tuple[SupplierOrder, ...]
    ended: tuple[OrderLine, ...]
    untold: tuple[Untold, ...]
    held_back: tuple[HoldLine, ...] = ()

    @property
    def lines(self) -> tuple[OrderLine, ...]:
        """Every line to be ordered, in the order of the list."""
        return tuple(line for order in self.orders for line in order.lines)


def reorder_list(plan: HoldPlan, state: StockState, after: Mapping[str, Successor] | None = None,
                 fits: Mapping[str, int] | None = None) -> ReorderList:
    """What a plan says to order now, and of what it cannot say anything. after: what replaces a model, by its name; fits: gear
    in service that it may stand in for.
    """
    wanted, over, untold = list[OrderLine](), list[OrderLine](), list[Untold]()
    for line in plan.lines:
        if line.levels is None or line.to_order is None:
            untold.append(Untold(model=line.model, importance=line.importance, position=line.position, lacks="lead time unknown"))
        elif line.to_order:
            terms = state.terms.get(line.model)
            (over if line.ended else wanted).append(_line(line, terms.supplier if terms else None, (after or {}).get(line.model)))
    untold += _without_demand({line.model for line in plan.lines}, state, fits or {}, plan.policy.lead_days)
    by_supplier: dict[str | None, list[OrderLine]] = {}
    for one in sorted(wanted, key=_vital_first):
        by_supplier.setdefault(one.supplier, []).append(one)
    orders = [SupplierOrder(supplier=name, lines=tuple(lines)) for name, lines in by_supplier.items()]
    return ReorderList(
        orders=tuple(sorted(orders, key=lambda one: (one.supplier is None, one.lines[0].importance is not Importance.VITAL,
                                                     one.supplier or ""))),
        ended=tuple(sorted(over, key=_vital_first)),
        untold=tuple(sorted(untold, key=lambda one: (one.importance is not Importance.VITAL, one.model))),
        held_back=tuple(line for line in plan.lines if _is_held_back(line)))


def _is_held_back(line: HoldLine) -> bool:
    return (line.levels is not None and not line.ended and not line.to_order and bool(line.elsewhere)
            and line.position - sum(pieces for _, pieces in line.elsewhere) <= line.levels.reorder_point)


def _vital_first(line: OrderLine) -> tuple[Importance, str]:
    return line.importance, line.model


def _line(line: HoldLine, supplier: str | None, after: Successor | None) -> OrderLine:
    assert line.levels is not None and line.to_order is not None and line.lead_days is not None  # levels hang on a lead time
    return OrderLine(
        model=line.model, supplier=supplier, importance=line.importance, pieces=line.to_order,
        pack=line.pack, price_cents=line.price_cents, currency=line.currency,
        lead_days=line.lead_days, lead_told=line.lead_told, on_hand=line.on_hand, on_order=line.on_order, reserved=line.reserved,
        position=line.position, reorder_point=line.levels.reorder_point, order_up_to=line.levels.order_up_to,
        last_order_day=line.last_order_day, successor=after,
        elsewhere=line.elsewhere)


def _without_demand(planned: set[str], state: StockState, fits: Mapping[str, int],
                    lead_days: int | None) -> Sequence[Untold]:
    """Items with terms that no gear falls to, batteries among them: how many are needed is not known."""
    terms: Mapping[str, ItemTerms] = state.terms
    return [Untold(model=model, importance=one.importance, lacks=_lacks_demand(fits.get(model, 0)),
                   position=position(state, model, lead_days=lead_days))
            for model, one in terms.items() if model not in planned]


def _lacks_demand(fits: int) -> str:
    if not fits:
        return "demand unknown: no gear in service falls to it"
    return f"no demand of its own: the {fits} gear that it fits {'falls' if fits == 1 else 'fall'} to other models"


__all__ = ["OrderLine", "ReorderList", "SupplierOrder", "Untold", "reorder_list"]
