"""A holding plan, a curve and a purchase as rows, lines and JSON."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from vault.actions.holding import Holding, Money
from vault.actions.last_time import LastTime
from vault.exchange.table_out import Cell
from vault.spares.failure_rate import rate_words
from vault.spares.hold_plan import HoldLine
from vault.spares.holding import chance_of_no_shortage, covers_words, percent
from vault.spares.marginal import Bought, Point

UNKNOWN = "unknown"
SCREEN_HEADINGS = ("model", "gear", "a year", "lead d", "service", "reorder at", "up to", "position", "order now",
                   "chance", "at once")
FILE_HEADINGS = (
    "model", "importance", "gear in service", "need classes", "demand a year", "lead time, days", "lead time from",
    "service level", "demand until more can come", "reorder point", "order up to", "chance that none goes wanting P(D<=S)",
    "share met at once P(D<=S-1)", "mean waiting", "on hand", "on order", "reserved", "position", "order now", "opening stock",
    "price, cents", "currency")
OPENING_HEADINGS = ("model", "importance", "gear", "demand", "opening stock", "chance", "trade's 2 to 10 %", "on hand")


def _lead_from(line: HoldLine) -> str:
    return UNKNOWN if line.lead_days is None else "terms" if line.lead_told else "assumed"


def screen_row(line: HoldLine, service_permille: int) -> tuple[Any, ...]:
    """One model as a row under SCREEN_HEADINGS."""
    levels = line.levels
    figures = (UNKNOWN,) * 2 if levels is None else (levels.reorder_point, levels.order_up_to)
    shares = (UNKNOWN,) * 2 if levels is None else (percent(levels.no_shortage), percent(levels.fill))
    return (line.model, line.pieces, f"{line.yearly:.2f}", UNKNOWN if line.lead_days is None else line.lead_days,
            f"{line.importance.name.lower()} {service_permille / 10:g} %", *figures, line.position,
            UNKNOWN if line.to_order is None else line.to_order, *shares)


def file_row(line: HoldLine, service_permille: int) -> tuple[Cell, ...]:
    """One model as a row under FILE_HEADINGS."""
    levels = line.levels
    figures: tuple[Cell, ...] = (UNKNOWN,) * 6 if levels is None else (
        f"{levels.mean:.4f}", levels.reorder_point, levels.order_up_to, f"{levels.no_shortage:.4f}", f"{levels.fill:.4f}",
        f"{levels.backorders:.4f}")
    return (line.model, line.importance.name.lower(), line.pieces, len(line.shares), f"{line.yearly:.4f}",
            UNKNOWN if line.lead_days is None else line.lead_days, _lead_from(line), f"{service_permille / 10:g} %", *figures,
            line.on_hand, line.on_order, line.reserved, line.position, UNKNOWN if line.to_order is None else line.to_order,
            UNKNOWN if line.opening is None else line.opening, UNKNOWN if line.price_cents is None else line.price_cents,
            line.currency or UNKNOWN)


def file_rows(holding: Holding) -> list[tuple[Cell, ...]]:
    """The plan as a table with its headings."""
    service = holding.plan.policy.service_permille
    return [FILE_HEADINGS, *(file_row(line, service[line.importance]) for line in holding.plan.lines)]


def opening_row(line: HoldLine) -> tuple[Any, ...]:
    """One model as a row under OPENING_HEADINGS."""
    known = line.opening is not None and line.opening_mean is not None
    chance = percent(chance_of_no_shortage(line.opening_mean, line.opening)) if known else UNKNOWN  # type: ignore[arg-type]
    return (line.model, line.importance.name.lower(), line.pieces, f"{line.opening_mean:.4f}" if known else UNKNOWN,
            line.opening if known else UNKNOWN, chance, f"{line.trade_low} to {line.trade_high}", line.on_hand)


def beside(holding: Holding) -> Iterator[str]:
    """What the plan leaves out and what it rests on."""
    bare = holding.plan.uncovered
    if bare:
        vital = sum(need.pieces for need in bare if need.vital)
        yield (f"{sum(need.pieces for need in bare)} gear ({vital} of them with an emergency duty) in {len(bare)} need classes: "
               "none of the chosen models fits, so nothing is held for them. See: gearkeep cover.")
    if holding.unsettled:
        yield f"{holding.unsettled} luminaires are unsettled and counted nowhere. See: gearkeep cover."
    yield from holding.notes


def plan_json(holding: Holding) -> dict[str, Any]:
    """The plan for JSON. A figure that is not known is null."""
    service = holding.plan.policy.service_permille
    return {"models": [line_json(line, service[line.importance]) for line in holding.plan.lines],
            "review_days": holding.plan.policy.review_days, "chosen": list(holding.chosen), "unsettled": holding.unsettled,
            "uncovered": [{"key": need.key.hex(), "gear": need.pieces, "vital": need.vital, "tags": list(need.tags)}
                          for need in holding.plan.uncovered], "notes": list(holding.notes)}


def line_json(line: HoldLine, service_permille: int) -> dict[str, Any]:
    """One model."""
    levels = line.levels
    return {
        "model": line.model, "importance": line.importance.name.lower(), "gear": line.pieces, "demand_per_year": line.yearly,
        "lead_days": line.lead_days, "lead_from": _lead_from(line), "service_permille": service_permille,
        "levels": None if levels is None else {
            "demand": levels.mean, "reorder_point": levels.reorder_point, "order_up_to": levels.order_up_to,
            "no_shortage": levels.no_shortage, "met_at_once": levels.fill, "waiting": levels.backorders},
        "on_hand": line.on_hand, "on_order": line.on_order, "reserved": line.reserved, "position": line.position,
        "order_now": line.to_order, "opening": line.opening, "trade_2_to_10_percent": [line.trade_low, line.trade_high],
        "price_cents": line.price_cents, "currency": line.currency,
        "classes": [{"key": share.need.key.hex(), "gear": share.origin.pieces, "own_model": share.own, "hours": share.hours,
                     "demand_per_year": share.yearly, "rate_fit": share.belief.mean * 1e9,
                     "rate_fit_90_percent": [rate * 1e9 for rate in share.belief.interval()]} for share in line.shares]}


def money(cents: int, currency: str) -> str:
    """24.50 EUR."""
    return f"{cents // 100:,}.{cents % 100:02d} {currency}".strip()


def thinned(points: Sequence[Point], most: int = 20) -> list[Point]:
    """So many points of a curve, the first and the last among them."""
    if len(points) <= most:
        return list(points)
    return [points[round(at * (len(points) - 1) / (most - 1))] for at in range(most)]


def point_row(point: Point, currency: str) -> tuple[Any, ...]:
    """One point of the curve: cost, met at once, no shortage, waiting."""
    return money(point.cost_cents, currency), percent(point.served), percent(point.no_shortage), f"{point.waiting:.4f}"


def curve_rows(found: Money) -> list[tuple[Cell, ...]]:
    """Every point as a table with its headings."""
    headings = ("model bought", "spares of it", "cost, cents", "share met at once", "chance that none goes wanting",
                "weighted waiting")
    return [headings, *((one.model, one.spares, one.cost_cents, f"{one.served:.6f}", f"{one.no_shortage:.6f}",
                         f"{one.waiting:.6f}") for one in found.curve.points)]


def missing_lines(found: Money) -> Iterator[str]:
    """Models that no money is counted for."""
    if found.unpriced:
        yield f"No price is known, so left out and not taken as free: {', '.join(found.unpriced)}."
    if found.no_lead:
        yield f"No lead time is known, so left out: {', '.join(found.no_lead)}."
    yield from found.notes


def bought_lines(bought: Bought, found: Money) -> Iterator[str]:
    """What a budget buys."""
    means = {item.model: item.mean for item in found.curve.items}
    for model, spares in sorted(bought.stock.items()):
        yield f"{model}: {covers_words(spares, chance_of_no_shortage(means[model], spares))}."
    yield (f"Cost {money(bought.cost_cents, found.currency)}; {percent(bought.served)} of demands met at once; chance that none "
           f"goes wanting of any model {percent(bought.no_shortage)}; weighted waiting {bought.waiting:.4f}.")
    yield ("No other stock of this cost leaves less waiting." if bought.frontier else
           "The last of the money went into the next best pieces that it pays for; another stock may do a little better.")


def cost_lines(point: Point, stock: Mapping[str, int], found: Money) -> Iterator[str]:
    """What a service costs."""
    means = {item.model: item.mean for item in found.curve.items}
    yield (f"{percent(point.served)} of demands met at once cost {money(point.cost_cents, found.currency)}; chance that none "
           f"goes wanting of any model {percent(point.no_shortage)}.")
    for model, spares in sorted(stock.items()):
        yield f"{model}: {covers_words(spares, chance_of_no_shortage(means[model], spares))}."


def _pieces(count: int) -> str:
    return f"{count} {'piece' if count == 1 else 'pieces'}"


def last_lines(one: LastTime) -> Iterator[str]:
    """A last-time buy in sentences."""
    buy = one.buy
    yield (f"{one.model}: {buy.served_pieces} of {one.pieces} gear to be served, {one.hours_per_year:.0f} h a year, "
           f"{rate_words(one.rate_per_h)}; {one.importance.name.lower()}, service level {one.service_permille / 10:g} %.")
    yield f"Random failures: {buy.random_mean:.2f} expected, {_pieces(buy.random_pieces)}."
    if buy.wear_mean:
        yield f"Wear-out reserve: {buy.wear_mean:.2f} expected, {_pieces(buy.wear_reserve)} more."
    yield f"{covers_words(buy.pieces, buy.no_shortage)}."
    yield f"Lying there and coming, less reserved: {buy.on_hand}. To buy: {buy.to_buy}."
    yield from one.notes


def last_json(one: LastTime) -> dict[str, Any]:
    """A last-time buy for JSON."""
    buy = one.buy
    return {"model": one.model, "gear": one.pieces, "served": buy.served_pieces, "hours_per_year": one.hours_per_year,
            "rate_fit": one.rate_per_h * 1e9, "service_permille": one.service_permille, "pieces": buy.pieces,
            "random_pieces": buy.random_pieces, "wear_reserve": buy.wear_reserve, "random_mean": buy.random_mean,
            "wear_mean": buy.wear_mean, "no_shortage": buy.no_shortage, "on_hand": buy.on_hand, "to_buy": buy.to_buy,
            "exact": buy.exact, "notes": list(one.notes)}
