"""gearkeep hold: how many spares to hold."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from vault.cli.shell import Progress, command, desk, json_text, refuse_existing, say, table
from vault.errors import UsageProblem

if TYPE_CHECKING:
    from vault.actions.holding import HoldAsked, Money
    from vault.exchange.table_out import Cell

_SHARED = (
    click.option("--model", "models", multiple=True, help="Choose from these models alone; may be repeated. Left out: those that "
                 "are stocked or have terms."),
    click.option("--service-vital", type=float, default=99, show_default=True, help="Service level of vital models, per cent."),
    click.option("--service-essential", type=float, default=95, show_default=True, help="Of essential models, per cent."),
    click.option("--service-desirable", type=float, default=90, show_default=True, help="Of desirable models, per cent."),
    click.option("--review-weeks", type=click.IntRange(0, 520), default=4, show_default=True,
                 help="Weeks between two looks at the reorder list."),
    click.option("--lead-weeks", type=click.IntRange(0, 520), help="Lead time where the terms tell none. Left out: unknown."),
    click.option("--hours-per-year", type=click.IntRange(0, 8784), default=4000, show_default=True,
                 help="Burning hours of general lighting."),
    click.option("--with-care", is_flag=True, help="Let a model serve what it fits with care."),
)


def _planned(function: Callable[..., Any]) -> Callable[..., Any]:
    for option in reversed(_SHARED):
        function = option(function)
    return function


def permille(percent: float, option: str) -> int:
    """990 for 99. Raises UsageProblem for what is no service level, or finer than 0.1 %."""
    found = round(percent * 10)
    if not 0 < found < 1000 or abs(found - percent * 10) > 1e-6:
        raise UsageProblem(f"{option} {percent:g} is no service level.", kind="bad-value",
                           hint="Give per cent from 0.1 to 99.9 in steps of 0.1.")
    return found


def _asked(given: dict[str, Any], **more: Any) -> HoldAsked:
    from vault.actions.holding import HoldAsked
    from vault.domain.terms import Importance
    from vault.spares.holding import Policy

    service = {one: permille(given[f"service_{one.name.lower()}"], f"--service-{one.name.lower()}") for one in Importance}
    weeks = given["lead_weeks"]
    policy = Policy(service_permille=service, review_days=given["review_weeks"] * 7,
                    lead_days=None if weeks is None else weeks * 7)
    return HoldAsked(models=tuple(given["models"]), policy=policy, hours_per_year=given["hours_per_year"],
                     with_care=given["with_care"], **more)


def cents(said: str, option: str) -> int:
    """2450 for 24.50. Raises UsageProblem."""
    from vault.exchange.stock_cells import cents_of

    found = cents_of(said)
    if found is None:
        raise UsageProblem(f"{option} {said} is no sum of money.", kind="bad-value", hint="Write it such as 1500 or 24.50.")
    return found


def _write(path: Path, name: str, rows: Sequence[Sequence[Cell]]) -> None:
    from vault.exchange.table_out import Sheet, write_csv_table, write_xlsx_table

    if path.suffix.lower() == ".xlsx":
        write_xlsx_table(path, [Sheet(name=name, rows=rows)])
    else:
        write_csv_table(path, rows)


def _check_out(path: Path | None) -> None:
    if path is None:
        return
    if path.suffix.lower() not in (".csv", ".xlsx"):
        raise UsageProblem(f"{path} ends in {path.suffix or 'nothing'}.", kind="bad-value", hint="End it in .csv or .xlsx.")
    refuse_existing(path)


@click.group(epilog="Example: gearkeep hold plan --lead-weeks 8")
def hold() -> None:
    """How many spares to hold: levels, what a budget buys, opening stock, the last-time buy. S spares cover S demands."""


@command(hold, example="gearkeep hold plan --lead-weeks 8 --out levels.xlsx")
@_planned
@click.option("--order-cost", metavar="MONEY", help="What one order costs, such as 25.00: order what costs least.")
@click.option("--keeping-percent", type=click.IntRange(1, 100), default=20, show_default=True,
              help="What keeping a piece for a year costs, per cent of its price; counts with --order-cost.")
@click.option("--out", type=click.Path(path_type=Path), metavar="FILE", help="Write the plan to FILE.csv or FILE.xlsx.")
def plan(order_cost: str | None, keeping_percent: int, out: Path | None, as_json: bool, **given: Any) -> int:
    """Reorder point and order-up-to level of each model, and what to order now.

    The reorder point is the fewest spares that cover the demand of lead time and review period at the service level. Order when
    what lies there and is on order, less what is reserved, is at or below it.
    """
    from vault.actions.holding import hold_plan
    from vault.cli.hold_text import SCREEN_HEADINGS, beside, file_rows, plan_json, screen_row
    from vault.spares.hold_plan import OrderCosts
    from vault.spares.holding import covers_words

    _check_out(out)
    costs = OrderCosts(order_cents=cents(order_cost, "--order-cost"), keeping_percent=keeping_percent) if order_cost else None
    found = hold_plan(desk(), _asked(given, costs=costs), progress=Progress("Coverage"))
    if out is not None:
        _write(out, "Levels", file_rows(found))
    if as_json:
        say(json_text(plan_json(found)))
    else:
        service = found.plan.policy.service_permille
        table(SCREEN_HEADINGS, [screen_row(line, service[line.importance]) for line in found.plan.lines])
        say(*(f"{line.model}: {covers_words(line.levels.reorder_point, line.levels.no_shortage)}."
              for line in found.plan.lines if line.levels), *beside(found))
        if out is not None:
            say(f"Written: {out}.")
    return 0 if found.plan.lines else 1


@command(hold, example="gearkeep hold opening --lead-weeks 8")
@_planned
def opening(as_json: bool, **given: Any) -> int:
    """Stock to lay in at handover: until what the first review orders has come, at least one of each vital model.

    Beside it, for comparison, 2 to 10 % of the gear in service (common practice, no source).
    """
    from vault.actions.holding import hold_plan
    from vault.cli.hold_text import OPENING_HEADINGS, beside, opening_row, plan_json
    from vault.spares.holding import chance_of_no_shortage, covers_words

    found = hold_plan(desk(), _asked(given), progress=Progress("Coverage"))
    if as_json:
        say(json_text(plan_json(found)))
    else:
        table(OPENING_HEADINGS, [opening_row(line) for line in found.plan.lines])
        say(*(f"{line.model}: {covers_words(line.opening, chance_of_no_shortage(line.opening_mean, line.opening))}."
              for line in found.plan.lines if line.opening is not None and line.opening_mean is not None), *beside(found))
    return 0 if found.plan.lines else 1


@command(hold, example="gearkeep hold budget 1500 --lead-weeks 8")
@_planned
@click.argument("money", required=False, metavar="[MONEY]")
@click.option("--curve", "show_curve", is_flag=True, help="Show cost against service instead.")
@click.option("--met-at-once", type=float, metavar="PERCENT", help="What it costs to meet this share at once.")
@click.option("--out", type=click.Path(path_type=Path), metavar="FILE", help="Write the curve to FILE.csv or FILE.xlsx.")
@click.option("--plot", type=click.Path(path_type=Path), metavar="FILE.svg", help="Draw the curve; figures as CSV beside.")
def budget(money: str | None, show_curve: bool, met_at_once: float | None, out: Path | None, plot: Path | None, as_json: bool,
           **given: Any) -> int:
    """What a sum of money buys, where each cent takes most waiting off; or the curve; or what a service costs."""
    from vault.actions.holding import what_money_buys
    from vault.cli.hold_text import curve_rows

    if (money is not None) + show_curve + (met_at_once is not None) != 1:
        raise UsageProblem("Say one of: a sum of money, --curve, --met-at-once.", hint="For example: gearkeep hold budget 1500.")
    _check_out(out)
    spent = cents(money, "The budget") if money is not None else None
    wanted = permille(met_at_once, "--met-at-once") if met_at_once is not None else None
    found = what_money_buys(desk(), _asked(given), progress=Progress("Coverage"))
    if plot is not None:
        from vault.cli.hold_chart import write_curve

        write_curve(plot, found)
    if out is not None:
        _write(out, "Curve", curve_rows(found))
    return _say_money(found, spent, wanted, as_json)


def _say_money(found: Money, spent: int | None, wanted: int | None, as_json: bool) -> int:
    from vault.cli.hold_text import bought_lines, cost_lines, missing_lines, point_row, thinned
    from vault.spares.marginal import bought_for, cost_of_service

    told: dict[str, Any] = {"currency": found.currency, "unpriced": list(found.unpriced),
                            "no_lead_time": list(found.no_lead)}
    lines: list[str] = []
    if spent is not None:
        bought = bought_for(found.curve, spent)
        told |= {"stock": dict(bought.stock), "cost_cents": bought.cost_cents, "met_at_once": bought.served,
                 "no_shortage": bought.no_shortage, "waiting": bought.waiting, "frontier": bought.frontier}
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
        table(["cost", "met at once", "none goes wanting", "weighted waiting"],
              [point_row(point, found.currency) for point in thinned(found.curve.points)])
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
@_planned
@click.argument("model")
@click.option("--years", type=click.IntRange(1, 60), required=True, help="Years that its gear stays in use.")
@click.option("--wear-shape", type=float, help="Weibull shape of wear-out, above 1.")
@click.option("--wear-life-hours", type=click.IntRange(1, 10_000_000), help="Weibull scale: hours at which 63.2 % have worn out.")
@click.option("--age", "ages", multiple=True, metavar="HOURS", help="Hours burnt: of all gear, or PIECESxHOURS for each group.")
@click.option("--retiring", type=click.IntRange(0), default=0, help="Gear due to be retired before: left out, the oldest first.")
@click.option("--service", type=float, help="Service level, per cent. Left out: by importance.")
def last_time(model: str, years: int, wear_shape: float | None, wear_life_hours: int | None, ages: tuple[str, ...], retiring: int,
              service: float | None, as_json: bool, **given: Any) -> None:
    """Pieces to buy of a model that will not be made again: random failures, and wear-out shown apart."""
    from vault.actions.last_time import LastTimeAsked
    from vault.actions.last_time import last_time as find
    from vault.cli.hold_text import last_json, last_lines

    wish = LastTimeAsked(years=years, wear_shape=wear_shape, wear_life_h=wear_life_hours, ages=_ages(ages), retiring=retiring,
                         service_permille=None if service is None else permille(service, "--service"))
    found = find(desk(), model, wish, _asked(given), progress=Progress("Coverage"))
    if as_json:
        say(json_text(last_json(found)))
    else:
        say(*last_lines(found))
