"""gearkeep stock today, stock week, stock end-of-life."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from vault.cli.hold_options import hours_of, hours_options
from vault.cli.screen import screen_size
from vault.cli.shell import FAILED, Progress, command, desk, json_text, refuse_existing, say
from vault.cli.stock import day
from vault.cli.stock_lists import stock

if TYPE_CHECKING:
    from vault.actions.end_of_life import EndOfLife
    from vault.actions.hold_asked import HoldAsked

_MINIMUM = (
    click.option("--lead-weeks", type=click.IntRange(0, 520), help="Lead time where the terms tell none. Left out: unknown."),
    click.option("--review-weeks", type=click.IntRange(0, 520), default=4, show_default=True,
                 help="Weeks between two looks at the reorder list."),
    hours_options,
)


def minimum_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """Options that say how minimums are reckoned."""
    for option in reversed(_MINIMUM):
        function = option(function)
    return function


def asked(*, lead_weeks: int | None, review_weeks: int, hours: Path | None, hours_per_year: int | None,
          stores: tuple[str, ...] = ()) -> HoldAsked:
    """What those options say. Raises GearkeepError: bad-hours, unreadable-file."""
    from vault.actions.hold_asked import HoldAsked
    from vault.spares.holding import Policy

    return HoldAsked(policy=Policy(lead_days=None if lead_weeks is None else lead_weeks * 7, review_days=review_weeks * 7),
                     hours=hours_of(hours, hours_per_year), stores=stores)


@command(stock, example="gearkeep stock today")
@minimum_options
@click.option("--all", "everything", is_flag=True, help="Every task, however many there are.")
def today(everything: bool, as_json: bool, **given: Any) -> int:
    """Show what is to be done today, on one screen of 80 by 24; ! marks what is vital, ? what is unknown.

    Vital models below their minimum, luminaires that no spare can save, waiting repairs, end-of-life dates, orders overdue,
    ageing batteries, spares to be reset, what else to order, counts due. Exit code 1 when something vital is to be done.
    """
    from vault.actions.today import today as look
    from vault.exchange.today_text import screen, whole

    found = look(desk(), asked(**given), progress=Progress("Coverage"))
    if as_json:
        say(json_text({"site": found.site, "day": found.day, "to_do": len(found.tasks), "vital": found.vital, "tasks": [
            {"topic": task.topic.name.lower().replace("_", "-"), "what": task.what, "pieces": task.pieces, "unit": task.unit,
             "command": f"gearkeep {task.command}", "vital": task.vital, "unknown": task.unknown, "model": task.model,
             "tag": task.tag} for task in found.tasks], "looked_at": list(found.looked)}))
    else:
        shown = screen_size()
        say(*(whole(found) if everything else screen(found, columns=None) if shown is None
              else screen(found, columns=shown.columns, lines=shown.lines)))
    return FAILED if found.vital else 0


@command(stock, example="gearkeep stock week --out week.txt")
@minimum_options
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE",
              help="Write the summary to FILE.txt or FILE.csv.")
def week(out: Path | None, as_json: bool, **given: Any) -> None:
    """Sum up the last seven days and look seven days ahead: plain text for a mail, in the same form every week.

    Movements by act, drivers replaced, models that fell below their minimum, orders due and overdue, failure alarms.
    """
    from vault.actions.weekly import ENDINGS, week_rows, week_text, write_week
    from vault.actions.weekly import week as look
    from vault.exchange.files import refuse_ending

    if out is not None:
        refuse_ending(out, ENDINGS)
        refuse_existing(out)
    found = look(desk(), asked(**given), progress=Progress("Coverage"))
    if out is not None:
        write_week(out, found)
    if as_json:
        headings, *rows = week_rows(found)
        say(json_text({"site": found.site, "first": found.first, "last": found.last, "false_alarms": found.false_alarms,
                       "burning_hours": list(found.hours),
                       "rows": [dict(zip(map(str, headings), row, strict=True)) for row in rows]}))
    else:
        say(*week_text(found), *([f"Written: {out}."] if out is not None else []))


@command(stock, name="end-of-life", example="gearkeep --key store.key stock end-of-life CC-50 --last-order 2027-05-31")
@click.argument("model")
@click.option("--last-order", metavar="DAY", help="When its maker takes the last order, such as 2027-05-31; it is signed.")
@click.option("--replaced-by", metavar="MODEL", help="What comes after it; it is signed.")
@click.option("--years", type=click.IntRange(1, 60), default=10, show_default=True,
              help="How long the last-time buy has to last.")
@click.option("--yes", is_flag=True, help="What is asked is looked at; sign it all the same.")
@minimum_options
def end_of_life(model: str, last_order: str | None, replaced_by: str | None, years: int, yes: bool, as_json: bool,
                **given: Any) -> None:
    """Sign a maker's end-of-life notice and show what it means; without options, show one that is on record.

    Which luminaires lose cover, how many to buy a last time, and where the replacement fits. `stock today` then counts down.
    A notice that was wrong is taken back by `stock load` with - in the column last_order.
    """
    from vault.actions.end_of_life import end_of_life as act
    from vault.cli.end_of_life_text import as_json as told
    from vault.cli.end_of_life_text import lines
    from vault.cli.second_look import done_when_sure

    at, wish = desk(), asked(**given)

    def signed(sure: bool) -> EndOfLife:
        return act(at, model, last_order_day=day(last_order), replaced_by=replaced_by, years=years, asked=wish, sure=sure,
                   progress=Progress("Coverage"))

    found = done_when_sure(signed, sure=yes, as_json=as_json)
    if as_json:
        say(json_text(told(found)))
    else:
        say(*lines(found, years))
