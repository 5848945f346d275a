"""A holding plan, a curve and a purchase as rows, lines and JSON."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import Any

from vault.actions.holding import Holding
from vault.domain.counting import be, counted
from vault.exchange.stock_cells import day_words
from vault.exchange.table_out import Cell
from vault.spares.hold_plan import HoldLine, Idle
from vault.spares.holding import chance_of_no_shortage, covers_words, percent
from vault.spares.order_levels import Ordering, Quantity, Review
from vault.spares.stores import elsewhere_words
from vault.spares.successor import successor_words

UNKNOWN = "unknown"
SCREEN_HEADINGS = ("model", "gear", "a year", "lead d", "service", "reorder at", "up to", "position", "order now",
                   "chance", "at once")
FILE_HEADINGS = (
    "model", "importance", "gear in service", "need classes", "demand a year", "lead time, days", "lead time from",
    "service level", "demand until more can come", "reorder point", "order up to", "chance that none goes wanting P(D<=S)",
    "share met at once", "mean waiting", "reorder point, rate not taken as known", "on hand", "on order", "reserved", "position",
    "outside of the main store", "order now", "opening stock", "price, cents", "currency", "last order", "replaced by",
    "economic order quantity", "in packs", "its cost a year, cents", "exact order quantity", "its cost a year, cents",
    "at reviews up to", "its cost a year, cents", "reorder point without service", "order quantity without service",
    "its cost a year, cents")
ORDER_HEADINGS = ("model", "EOQ", "in packs", "cost", "exact", "cost", "at reviews", "cost")
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
            "no longer made" if line.ended else UNKNOWN if line.order_now is None else line.order_now, *shares)


def order_rows(holding: Holding) -> list[tuple[Any, ...]]:
    """Order quantities under ORDER_HEADINGS, of the models of which they are known."""
    found = []
    for line in holding.plan.lines:
        one = line.ordering
        if one is not None:
            review = ("-", "-")
            if one.review is not None:
                review = (f"at {one.review.point} up to {one.review.up_to}", _cost(one.review.cost))
            found.append((line.model, f"{one.eoq:.1f}", one.rounded.pieces, _cost(one.rounded.cost), one.exact.pieces,
                          _cost(one.exact.cost), *review))
    return found


def order_notes(holding: Holding, order_cents: int, keeping_percent: int) -> Iterator[str]:
    """What the order quantities say."""
    lines = holding.plan.lines
    without = [line.model for line in lines if line.ordering is None and not line.ended and not line.unreckoned]
    if without:
        yield f"Without a price above nought or a lead time, so no order quantity: {', '.join(without)}."
    if all(line.ordering is None for line in lines):
        return
    free = sum(line.ordering.exact.cost - line.ordering.free.cost for line in lines if line.ordering is not None)
    yield ("Order quantities. EOQ: the economic order quantity; then in whole packs. Exact: what costs least for Poisson demand "
           "at the plan's reorder point, in whole packs. At reviews: the order-up-to level that costs least when one looks as "
           "often as here; the plan's 'up to' is that.")
    yield (f"Costs are those of a year: {money(order_cents, '')} for each order, {keeping_percent} % of a piece's price for "
           "keeping it, and for a piece that is wanted just so much that the service level is worth its keeping (19 times the "
           "keeping at 95 %, 99 times at 99 %), both as they are at the end of lead time and review period. Without service "
           f"levels, quantities of their own would cost {_cost(free)} a year less (--json and --out name them).")


def _cost(cents: float) -> str:
    return f"{cents / 100:,.2f}"


def _figure(value: float, places: int = 4) -> Decimal:
    return Decimal(f"{value:.{places}f}")


def file_row(line: HoldLine, service_permille: int, replaced_by: str | None) -> tuple[Cell, ...]:
    """One model as a row under FILE_HEADINGS."""
    levels = line.levels
    figures: tuple[Cell, ...] = (UNKNOWN,) * 7 if levels is None else (
        _figure(levels.mean), levels.reorder_point, levels.order_up_to, _figure(levels.no_shortage), _figure(levels.fill),
        _figure(levels.backorders), line.unsure_point)
    return (line.model, line.importance.name.lower(), line.pieces, len(line.shares), _figure(line.yearly),
            UNKNOWN if line.lead_days is None else line.lead_days, _lead_from(line), f"{service_permille / 10:g} %", *figures,
            line.on_hand, line.on_order, line.reserved, line.position, elsewhere_words(line.elsewhere),
            UNKNOWN if line.order_now is None else line.order_now,
            UNKNOWN if line.opening is None else line.opening, UNKNOWN if line.price_cents is None else line.price_cents,
            line.currency or UNKNOWN, "" if line.last_order_day is None else day_words(line.last_order_day), replaced_by or "",
            *_order_cells(line.ordering))


def _order_cells(one: Ordering | None) -> tuple[Cell, ...]:
    if one is None:
        return ("",) * 10
    review: tuple[Cell, ...] = ("", "") if one.review is None else (one.review.up_to, round(one.review.cost))
    return (_figure(one.eoq, 2), one.rounded.pieces, round(one.rounded.cost), one.exact.pieces, round(one.exact.cost), *review,
            one.free.point, one.free.pieces, round(one.free.cost))


def file_rows(holding: Holding) -> list[tuple[Cell, ...]]:
    """The plan as a table with its headings."""
    service = holding.plan.policy.service_permille
    after = {model: one.model for model, one in holding.after.items()}
    return [FILE_HEADINGS, *(file_row(line, service[line.importance], after.get(line.model)) for line in holding.plan.lines)]


def opening_row(line: HoldLine) -> tuple[Any, ...]:
    """One model as a row under OPENING_HEADINGS."""
    mean, stock, chance = UNKNOWN, "no longer made" if line.ended else UNKNOWN, "-" if line.ended else UNKNOWN
    if line.levels is not None:
        mean = f"{line.levels.mean:.4f}"
    if line.levels is not None and line.opening is not None and not line.ended:
        stock, chance = f"{line.opening}", percent(chance_of_no_shortage(line.levels.mean, line.opening))
    return (line.model, line.importance.name.lower(), line.pieces, mean, stock, chance, f"{line.trade_low} to {line.trade_high}",
            line.on_hand)


def opening_words(lines: Sequence[HoldLine]) -> Iterator[str]:
    """What the opening stock of each model covers that can still be ordered."""
    for line in lines:
        if line.levels is not None and line.opening is not None and not line.ended:
            yield f"{line.model}: {covers_words(line.opening, chance_of_no_shortage(line.levels.mean, line.opening))}."


def ended_lines(holding: Holding) -> Iterator[str]:
    """Models that can no longer be ordered: since when, how long what is there lasts, and what comes after."""
    for line in holding.plan.lines:
        if line.ended and line.last_order_day is not None:
            service = holding.plan.policy.service_permille[line.importance]
            lasts = lasts_words(line.position, line.lasts_years(service), service)
            yield (f"{line.model} can no longer be ordered: its last order was {day_words(line.last_order_day)}; "
                   f"{successor_words(holding.after.get(line.model))}. {lasts} "
                   f"See: gearkeep stock end-of-life {line.model}.")


def lasts_words(position: int, years: float | None, service_permille: int) -> str:
    """How long what is there lasts."""
    if position < 0:
        return f"{counted(-position, 'piece')} more of it {be(-position)} reserved than {be(-position)} there or coming."
    if position == 0:
        return "None of it is there or coming that is not reserved."
    if years is None:
        return f"{counted(position, 'piece')} of it {be(position)} there or coming, and no demand is expected."
    return (f"{counted(position, 'piece')} of it {be(position)} there or coming, and not reserved: enough for {_years(years)} "
            f"with a chance of {service_permille / 10:g} %.")


def position_words(position: int) -> str:
    """ "3", or "3 short" where more is reserved than is there or coming."""
    return f"{-position:,} short" if position < 0 else f"{position:,}"


def _years(years: float) -> str:
    weeks = round(years * 52)
    return f"{years:.1f} years" if years >= 1 else counted(weeks, "week") if weeks else "less than a week"


def idle_words(one: Idle) -> str:
    """Why a model of the store has no line."""
    named = f"{one.model} ({one.there} there) has no line: "
    if not one.driver:
        return f"{named}it is no driver model, so how many of it fail in a year is not known."
    if not one.fits:
        return f"{named}it fits no gear in service."
    return (f"{named}the {one.fits} gear that it fits {'falls' if one.fits == 1 else 'fall'} to {', '.join(one.served_by)}, as "
            f"their own model, or as the cheapest or the first that fits. Alone: gearkeep hold plan --model {one.model}.")


def at_once_words(lines: Sequence[HoldLine]) -> Iterator[str]:
    """What the two shares of the table mean."""
    known = [line for line in lines if line.levels is not None]
    if known:
        yield ("'Chance' is of the moment when an order goes out: how likely nobody waits until more can come. 'At once' is of "
               "all the years: the share of demands that the shelf meets, where one orders so, looks as often as here, and who "
               "finds nothing waits. After each look the position is above 'reorder at' and reaches 'up to', in packs somewhat "
               "more.")
    names = [line.model for line in known if line.levels is not None and line.levels.reorder_point == 0 and not line.ended]
    if names:
        yield f"Reorder at 0 ({', '.join(names)}): an order goes out when the last is gone."


def beside(holding: Holding) -> Iterator[str]:
    """What the plan leaves out and what it rests on."""
    yield from ended_lines(holding)
    yield from map(idle_words, holding.plan.idle)
    bare = holding.plan.uncovered
    if bare:
        vital = sum(need.pieces for need in bare if need.vital)
        gear = sum(need.pieces for need in bare)
        yield (f"{gear} gear ({vital} of them with an emergency duty) in {counted(len(bare), 'need class', 'need classes')}: "
               f"none of the chosen models fits, so nothing is held for {'it' if gear == 1 else 'them'}. See: gearkeep cover.")
    if holding.unsettled:
        yield (f"{counted(holding.unsettled, 'luminaire')} {be(holding.unsettled)} unsettled and counted nowhere. See: "
               "gearkeep cover.")
    yield from holding.notes


def plan_json(holding: Holding) -> dict[str, Any]:
    """The plan for JSON. A figure that is not known is null."""
    service = holding.plan.policy.service_permille
    return {"models": [line_json(line, service[line.importance], holding) for line in holding.plan.lines],
            "review_days": holding.plan.policy.review_days, "chosen": list(holding.chosen), "unsettled": holding.unsettled,
            "uncovered": [{"key": need.key.hex(), "gear": need.pieces, "vital": need.vital, "tags": list(need.tags)}
                          for need in holding.plan.uncovered],
            "without_a_line": [{"model": one.model, "there": one.there, "driver": one.driver, "fits_gear": one.fits,
                                "served_by": list(one.served_by)} for one in holding.plan.idle], "notes": list(holding.notes)}


def line_json(line: HoldLine, service_permille: int, holding: Holding) -> dict[str, Any]:
    """One model."""
    levels, ordering, after = line.levels, line.ordering, holding.after.get(line.model)
    return {
        "model": line.model, "importance": line.importance.name.lower(), "gear": line.pieces, "demand_per_year": line.yearly,
        "lead_days": line.lead_days, "lead_from": _lead_from(line), "service_permille": service_permille,
        "levels": None if levels is None else {
            "demand": levels.mean, "reorder_point": levels.reorder_point, "order_up_to": levels.order_up_to,
            "no_shortage": levels.no_shortage, "met_at_once": levels.fill, "waiting": levels.backorders,
            "reorder_point_were_the_rate_not_known": line.unsure_point},
        "on_hand": line.on_hand, "on_order": line.on_order, "reserved": line.reserved, "position": line.position,
        "elsewhere": dict(line.elsewhere), "order_now": line.order_now, "wanted": line.to_order, "can_be_ordered": not line.ended,
        "last_order": None if line.last_order_day is None else day_words(line.last_order_day),
        "lasts_years": line.lasts_years(service_permille),
        "replaced_by": None if after is None else {"model": after.model, "fits_gear": after.fits, "of_gear": after.serves},
        "late_orders": [{"order": due.order, "pieces": due.pieces, "due": day_words(due.due_day),
                         "counted": due not in line.uncounted} for due in line.late],
        "ordering": None if ordering is None else _ordering_json(ordering),
        "opening": line.opening, "trade_2_to_10_percent": [line.trade_low, line.trade_high],
        "price_cents": line.price_cents, "currency": line.currency,
        "classes": [{"key": share.need.key.hex(), "gear": share.origin.pieces, "own_model": share.own, "hours": share.hours,
                     "demand_per_year": share.yearly, "rate_fit": share.belief.mean * 1e9,
                     "rate_fit_90_percent": [rate * 1e9 for rate in share.belief.interval()]} for share in line.shares]}


def _ordering_json(one: Ordering) -> dict[str, Any]:
    def told(found: Quantity | Review) -> dict[str, Any]:
        quantity = {"pieces": found.pieces} if isinstance(found, Quantity) else {"up_to": found.up_to}
        return {"order_at": found.point, **quantity, "cost_cents_a_year": found.cost}

    return {"eoq": one.eoq, "eoq_in_packs": told(one.rounded), "exact": told(one.exact),
            "at_reviews": told(one.review) if one.review else None, "without_service": told(one.free),
            "at_reviews_without_service": told(one.free_review) if one.free_review else None}


def money(cents: int, currency: str) -> str:
    """24.50 EUR."""
    return f"{cents // 100:,}.{cents % 100:02d} {currency}".strip()
