"""gearkeep stock today, stock week, stock end-of-life."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import click

from vault.cli.shell import FAILED, Progress, command, desk, json_text, say
from vault.cli.stock import stock

if TYPE_CHECKING:
    from vault.actions.holding import HoldAsked

_MINIMUM = (
    click.option("--lead-weeks", type=click.IntRange(0, 520), help="Lead time where the terms tell none. Left out: unknown."),
    click.option("--review-weeks", type=click.IntRange(0, 520), default=4, show_default=True,
                 help="Weeks between two looks at the reorder list."),
)


def minimum_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """Options that say how minimums are reckoned."""
    for option in reversed(_MINIMUM):
        function = option(function)
    return function


def asked(lead_weeks: int | None, review_weeks: int) -> HoldAsked:
    """What those options say."""
    from vault.actions.holding import HoldAsked
    from vault.spares.holding import Policy

    return HoldAsked(policy=Policy(lead_days=None if lead_weeks is None else lead_weeks * 7, review_days=review_weeks * 7))


@command(stock, example="gearkeep stock today")
@minimum_options
@click.option("--all", "everything", is_flag=True, help="Every line uncut, however many there are.")
def today(everything: bool, lead_weeks: int | None, review_weeks: int, as_json: bool) -> int:
    """Show what is to be done today, on one screen of 80 by 24; ! marks what is vital, ? what is unknown.

    Vital models below their minimum, luminaires that no spare can save, waiting repairs, end-of-life dates, orders overdue,
    ageing batteries, spares to be reset, what else to order, counts due. Exit code 1 when something vital is to be done.
    """
    from vault.actions.today import today as look
    from vault.exchange.today_text import screen, whole

    found = look(desk(), asked(lead_weeks, review_weeks), progress=Progress("Coverage"))
    if as_json:
        say(json_text({"site": found.site, "day": found.day, "to_do": len(found.tasks), "vital": found.vital, "tasks": [
            {"topic": task.topic.name.lower().replace("_", "-"), "what": task.what, "pieces": task.pieces, "unit": task.unit,
             "command": f"gearkeep {task.command}", "vital": task.vital, "unknown": task.unknown, "model": task.model,
             "tag": task.tag} for task in found.tasks], "looked_at": list(found.looked)}))
    else:
        say(*(whole(found) if everything else screen(found)))
    return FAILED if found.vital else 0
