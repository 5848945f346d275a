"""What money buys: a curve and a purchase as rows, lines and JSON."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from vault.actions.holding import Money
from vault.cli.hold_text import money, position_words
from vault.exchange.table_out import Cell
from vault.spares.holding import chance_of_no_shortage, covers_words, percent
from vault.spares.marginal import Bought, Point, Wanted

CURVE_HEADINGS = ("cost", "met at once", "none goes wanting", "weighted waiting")


def thinned(points: Sequence[Point], most: int = 20) -> list[Point]:
    """So many points of a curve, the first and the last among them."""
    if len(points) <= most:
        return list(points)
    return [points[round(at * (len(points) - 1) / (most - 1))] for at in range(most)]


def point_row(point: Point, currency: str) -> tuple[Any, ...]:
    """One point of the curve under CURVE_HEADINGS."""
    return money(point.cost_cents, currency), percent(point.served), percent(point.no_shortage), f"{point.waiting:.4f}"


def curve_rows(found: Money) -> list[tuple[Cell, ...]]:
    """Every point as a table with its headings."""
    headings = ("model bought", "spares of it", "cost, cents", "share met at once", "chance that none goes wanting",
                "weighted waiting")
    return [headings, *((one.model, one.spares, one.cost_cents, f"{one.served:.6f}", f"{one.no_shortage:.6f}",
                         f"{one.waiting:.6f}") for one in found.curve.points)]


def first_words(found: Money) -> str:
    """What the first point of the curve is."""
    first = found.curve.points[0]
    if found.from_empty:
        return (f"The first line is an empty shelf: {percent(first.served)} of demands are met at once, and the chance that "
                f"nothing is asked for before more can come is {percent(first.no_shortage)}.")
    return (f"The first line buys nothing: what lies there and is coming, less what is reserved, meets {percent(first.served)} "
            f"of demands at once, and the chance that none goes wanting is {percent(first.no_shortage)}. From an empty shelf, as "
            "for a new building: --from-empty, or gearkeep hold opening.")


def missing_lines(found: Money) -> Iterator[str]:
    """Models that no money is counted for."""
    if found.unpriced:
        yield f"Without a price above nought, so left out and not taken as free: {', '.join(found.unpriced)}."
    if found.no_lead:
        yield f"No lead time is known, so left out: {', '.join(found.no_lead)}."
    if found.ended:
        yield f"They can no longer be ordered, so left out: {', '.join(found.ended)}."
    yield from found.notes


def _stock_lines(stock: Mapping[str, int], found: Money) -> Iterator[str]:
    """What to buy of each model, and what all that is then there covers; last those of which nothing is bought."""
    kept = []
    for item in sorted(found.curve.items, key=lambda item: item.model):
        more = stock[item.model] - item.held
        if more:
            packs = f" ({_packs(more, item.pack)})" if item.pack > 1 else ""
            cost = money(more * (item.price_cents or 0), found.currency)
            yield f"Buy {more} of {item.model}{packs} for {cost}{_covered(item, stock[item.model], found.from_empty)}."
        else:
            kept.append(f"{item.model} {position_words(item.held)} ({percent(chance_of_no_shortage(item.mean, item.held))})")
    if kept:
        yield ("Nothing to buy of, with what is there or coming, less what is reserved, and the chance that none goes wanting: "
               f"{', '.join(kept)}.")


def _covered(item: Wanted, after: int, from_empty: bool) -> str:
    """What all that is then there or coming covers."""
    if after < 0:
        return f"; it was {position_words(item.held)} of what is reserved, and is still {position_words(after)}"
    covers = covers_words(after, chance_of_no_shortage(item.mean, after))
    if item.held < 0:
        return f"; it was {position_words(item.held)} of what is reserved, then {covers}"
    return f": {covers}" if from_empty else f"; with the {item.held} there or coming {covers}"


def _packs(count: int, pack: int) -> str:
    whole = count // pack
    return f"{whole} {'pack' if whole == 1 else 'packs'} of {pack}"


def _rest(bought: Bought, found: Money) -> Iterator[str]:
    """Why the budget is not spent."""
    left, pack = bought.left_cents, bought.next_pack
    if pack is not None:
        yield (f"Left: {money(left, found.currency)}, which pays for no further pack that would be of use; the cheapest is "
               f"{_pack_words(pack)} for {money(pack.pack_cents, found.currency)}.")
    elif left:
        yield (f"Left: {money(left, found.currency)}. Buying stops there: of every model one piece more would be needed before "
               "others can come with a chance of less than one in a million.")


def _pack_words(item: Wanted) -> str:
    return f"{item.pack} of {item.model}" if item.pack > 1 else f"one {item.model}"


def bought_lines(bought: Bought, found: Money) -> Iterator[str]:
    """What a budget buys, and why it stops."""
    yield from _stock_lines(bought.stock, found)
    before = found.curve.points[0]
    yield (f"Cost {money(bought.cost_cents, found.currency)}. Met at once {percent(bought.served)} of demands (before: "
           f"{percent(before.served)}); chance that none goes wanting of any model {percent(bought.no_shortage)} (before: "
           f"{percent(before.no_shortage)}); weighted waiting {bought.waiting:.4f} (before: {before.waiting:.4f}).")
    yield from _rest(bought, found)
    yield ("No other stock of whole packs and of this cost leaves less waiting." if bought.frontier else
           "The last of the money went into the next best packs that it pays for; another stock may do a little better.")
    yield _counted(found)


def _counted(found: Money) -> str:
    return ("Reckoned from an empty shelf, as for a new building." if found.from_empty else
            "Reckoned from what lies there and is coming, less what is reserved. For a new building: --from-empty, or "
            "gearkeep hold opening.")


def cost_lines(point: Point, stock: Mapping[str, int], found: Money) -> Iterator[str]:
    """What a service costs."""
    yield (f"{percent(point.served)} of demands met at once cost {money(point.cost_cents, found.currency)}; chance that none "
           f"goes wanting of any model {percent(point.no_shortage)}.")
    yield from _stock_lines(stock, found)
    yield _counted(found)


def held_json(found: Money) -> list[dict[str, Any]]:
    """Where the curve begins, by model."""
    return [{"model": item.model, "there": item.held, "pack": item.pack, "price_cents": item.price_cents}
            for item in found.curve.items]
