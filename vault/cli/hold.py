"""gearkeep hold plan, gearkeep hold opening: how many spares to hold."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from vault.cli.hold_options import hours_of, hours_options, stores_option
from vault.cli.shell import Progress, command, desk, json_text, refuse_existing, say, table
from vault.errors import UsageProblem

if TYPE_CHECKING:
    from vault.actions.hold_asked import HoldAsked
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
    hours_options,
    stores_option,
    click.option("--with-care", is_flag=True, help="Let a model serve what it fits with care."),
)


def planned(function: Callable[..., Any]) -> Callable[..., Any]:
    """Options that say what is planned for."""
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


def asked_of(given: dict[str, Any], **more: Any) -> HoldAsked:
    """What those options say. Raises UsageProblem, GearkeepError (out-of-range)."""
    from vault.actions.hold_asked import HoldAsked
    from vault.domain.terms import Importance
    from vault.spares.holding import Policy

    service = {one: permille(given[f"service_{one.name.lower()}"], f"--service-{one.name.lower()}") for one in Importance}
    weeks = given["lead_weeks"]
    policy = Policy(service_permille=service, review_days=given["review_weeks"] * 7,
                    lead_days=None if weeks is None else weeks * 7)
    return HoldAsked(models=tuple(given["models"]), policy=policy, hours=hours_of(given["hours"], given["hours_per_year"]),
                     stores=tuple(given["stores"]), with_care=given["with_care"], **more)


def cents(said: str, option: str) -> int:
    """2450 for 24.50. Raises UsageProblem."""
    from vault.exchange.stock_cells import cents_of

    found = cents_of(said)
    if found is None:
        raise UsageProblem(f"{option} {said} is no sum of money.", kind="bad-value", hint="Write it such as 1500 or 24.50.")
    return found


def write(path: Path, name: str, rows: Sequence[Sequence[Cell]]) -> None:
    """Write a table to FILE.csv or FILE.xlsx. Raises GearkeepError (unwritable-file)."""
    from vault.exchange.table_out import Sheet, write_csv_table, write_xlsx_table

    if path.suffix.lower() == ".xlsx":
        write_xlsx_table(path, [Sheet(name=name, rows=rows)])
    else:
        write_csv_table(path, rows)


def check_out(path: Path | None) -> None:
    """Raises UsageProblem for a file of another kind, or one that is there."""
    if path is None:
        return
    from vault.exchange.files import refuse_ending

    refuse_ending(path, (".csv", ".xlsx"))
    refuse_existing(path)


@click.group(epilog="Example: gearkeep hold plan --lead-weeks 8")
def hold() -> None:
    """How many spares to hold: levels, what a budget buys, opening stock, the last-time buy. S spares cover S demands."""


@command(hold, example="gearkeep hold plan --lead-weeks 8 --out levels.xlsx")
@planned
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
    from vault.cli.hold_text import (
        ORDER_HEADINGS,
        SCREEN_HEADINGS,
        at_once_words,
        beside,
        file_rows,
        order_notes,
        order_rows,
        plan_json,
        screen_row,
    )
    from vault.spares.hold_plan import OrderCosts

    check_out(out)
    costs = OrderCosts(order_cents=cents(order_cost, "--order-cost"), keeping_percent=keeping_percent) if order_cost else None
    found = hold_plan(desk(), asked_of(given, costs=costs), progress=Progress("Coverage"))
    if out is not None:
        write(out, "Levels", file_rows(found))
    if as_json:
        say(json_text(plan_json(found)))
    else:
        service = found.plan.policy.service_permille
        table(SCREEN_HEADINGS, [screen_row(line, service[line.importance]) for line in found.plan.lines])
        say(*at_once_words(found.plan.lines))
        if costs is not None:
            if any(line.ordering for line in found.plan.lines):
                table(ORDER_HEADINGS, order_rows(found))
            say(*order_notes(found, costs.order_cents, costs.keeping_percent))
        say(*beside(found))
        if out is not None:
            say(f"Written: {out}.")
    return 0 if found.plan.lines else 1


@command(hold, example="gearkeep hold opening --lead-weeks 8")
@planned
def opening(as_json: bool, **given: Any) -> int:
    """Stock to lay in at handover: until what the first review orders has come, at least one of each vital model.

    Beside it, for comparison, 2 to 10 % of the gear in service (common practice, no source).
    """
    from vault.actions.holding import hold_plan
    from vault.cli.hold_text import OPENING_HEADINGS, beside, opening_row, opening_words, plan_json

    found = hold_plan(desk(), asked_of(given), progress=Progress("Coverage"))
    if as_json:
        say(json_text(plan_json(found)))
    else:
        table(OPENING_HEADINGS, [opening_row(line) for line in found.plan.lines])
        say(*opening_words(found.plan.lines), *beside(found))
    return 0 if found.plan.lines else 1
