"""gearkeep hold budget, gearkeep hold last-time."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from vault.cli.hold import asked_of, cents, check_out, hold, permille, planned, write
from vault.cli.shell import Progress, command, desk, json_text, say, table
from vault.errors import UsageProblem

if TYPE_CHECKING:
    from vault.actions.holding import Money


@command(hold, example="gearkeep hold budget 1500 --lead-weeks 8")
@planned
@click.argument("money", required=False, metavar="[MONEY]")
@click.option("--from-empty", is_flag=True, help="As if nothing lay there: for a new building.")
@click.option("--curve", "show_curve", is_flag=True, help="Show cost against service instead.")
@click.option("--met-at-once", type=float, metavar="PERCENT", help="What it costs to meet this share at once.")
@click.option("--out", type=click.Path(path_type=Path), metavar="FILE", help="Write the curve to FILE.csv or FILE.xlsx.")
@click.option("--plot", type=click.Path(path_type=Path), metavar="FILE.svg", help="Draw the curve; figures as CSV beside.")
def budget(money: str | None, from_empty: bool, show_curve: bool, met_at_once: float | None, out: Path | None,
           plot: Path | None, as_json: bool, **given: Any) -> int:
    """What a sum of money buys, where each cent takes most waiting off; or the curve; or what a service costs.

    It begins with what lies there and is on order, less what is reserved; bought are whole packs of what can still be ordered.
    """
    from vault.actions.holding import what_money_buys
    from vault.cli.budget_text import curve_rows

    if (money is not None) + show_curve + (met_at_once is not None) != 1:
        raise UsageProblem("Say one of: a sum of money, --curve, --met-at-once.", hint="For example: gearkeep hold budget 1500.")
    check_out(out)
    spent = cents(money, "The budget") if money is not None else None
    wanted = permille(met_at_once, "--met-at-once") if met_at_once is not None else None
    found = what_money_buys(desk(), asked_of(given), from_empty=from_empty, progress=Progress("Coverage"))
    if plot is not None:
        from vault.cli.hold_chart import write_curve

        write_curve(plot, found)
    if out is not None:
        write(out, "Curve", curve_rows(found))
    return _say_money(found, spent, wanted, as_json)


def _say_money(found: Money, spent: int | None, wanted: int | None, as_json: bool) -> int:
    from vault.cli.budget_text import (
        CURVE_HEADINGS,
        bought_lines,
        cost_lines,
        first_words,
        held_json,
        missing_lines,
        point_row,
        thinned,
    )
    from vault.spares.marginal import bought_for, cost_of_service

    told: dict[str, Any] = {"currency": found.currency, "unpriced": list(found.unpriced),
                            "no_lead_time": list(found.no_lead), "no_longer_made": list(found.ended),
                            "from_empty": found.from_empty, "start": held_json(found)}
    lines: list[str] = []
    if spent is not None:
        bought = bought_for(found.curve, spent)
        told |= {"stock": dict(bought.stock), "cost_cents": bought.cost_cents, "met_at_once": bought.served,
                 "no_shortage": bought.no_shortage, "waiting": bought.waiting, "frontier": bought.frontier,
                 "left_cents": bought.left_cents}
        lines = list(bought_lines(bought, found))
    elif wanted is not None:
        at = cost_of_service(found.curve, wanted)
        if at is None:
            raise UsageProblem(f"The curve ends before {wanted / 10:g} % are met at once.", kind="not-found",
                               hint="Ask for less.")
        number, point = at
        stock = found.curve.stock(number)
        told |= {"stock": stock, "cost_cents": point.cost_cents, "met_at_once": point.served,
                 "no_shortage": point.no_shortage, "waiting": point.waiting}
        lines = list(cost_lines(point, stock, found))
    else:
        told |= {"points": [{"model": one.model, "spares": one.spares, "cost_cents": one.cost_cents, "met_at_once": one.served,
                             "no_shortage": one.no_shortage, "waiting": one.waiting} for one in found.curve.points]}
    if as_json:
        say(json_text(told | {"notes": list(found.notes)}))
        return 0
    if spent is None and wanted is None:
        table(CURVE_HEADINGS, [point_row(point, found.currency) for point in thinned(found.curve.points)])
        lines = [first_words(found)]
    say(*lines, *missing_lines(found))
    return 0


_AGE = re.compile(r"(?:([0-9]{1,7})x)?([0-9]{1,7})")


def _ages(said: Sequence[str]) -> tuple[tuple[int | None, int], ...]:
    found = [_AGE.fullmatch(one) for one in said]
    if None in found or (len(found) > 1 and any(one is not None and one[1] is None for one in found)):
        raise UsageProblem(f"--age {' '.join(said)} tells no ages.", kind="bad-value",
                           hint="Give hours burnt of all gear such as 20000, or PIECESxHOURS for each group, such as 40x20000.")
    return tuple((None if one[1] is None else int(one[1]), int(one[2])) for one in found if one is not None)


@command(hold, name="last-time", example="gearkeep hold last-time CC-50 --years 8 --lead-weeks 8")
@planned
@click.argument("model")
@click.option("--years", type=click.IntRange(1, 60), required=True, help="Years that its gear stays in use.")
@click.option("--wear-shape", type=float, help="Weibull shape of wear-out, above 1.")
@click.option("--wear-life-hours", type=click.IntRange(1, 10_000_000), help="Weibull scale: hours at which 63.2 % have worn out.")
@click.option("--age", "ages", multiple=True, metavar="HOURS", help="Hours burnt: of all gear, or PIECESxHOURS for each group.")
@click.option("--retiring", type=click.IntRange(0), default=0, help="Gear due to be retired before: left out, the oldest first.")
@click.option("--service", type=float, help="Service level, per cent. Left out: by importance.")
@click.option("--rate", type=click.FloatRange(0, 100, min_open=True), metavar="PERCENT",
              help="Failure rate that you know, in per cent a 1000 h. Left out: as believed, which asks for more pieces.")
def last_time(model: str, years: int, wear_shape: float | None, wear_life_hours: int | None, ages: tuple[str, ...], retiring: int,
              service: float | None, rate: float | None, as_json: bool, **given: Any) -> None:
    """Pieces to buy of a model that will not be made again: random failures, and wear-out shown apart."""
    from vault.actions.last_time import LastTimeAsked
    from vault.actions.last_time import last_time as find
    from vault.cli.last_time_text import last_json, last_lines
    from vault.spares.failure_rate import FIT, FIT_PER_PERCENT_PER_1000_H

    wish = LastTimeAsked(years=years, wear_shape=wear_shape, wear_life_h=wear_life_hours, ages=_ages(ages), retiring=retiring,
                         service_permille=None if service is None else permille(service, "--service"),
                         rate_per_h=None if rate is None else rate * FIT_PER_PERCENT_PER_1000_H * FIT)
    found = find(desk(), model, wish, asked_of(given), progress=Progress("Coverage"))
    if as_json:
        say(json_text(last_json(found)))
    else:
        say(*last_lines(found))
        if found.last_order_day is not None:
            say(f"Which gear loses cover, and where the replacement fits: gearkeep stock end-of-life {model}.")
