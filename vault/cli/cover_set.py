"""gearkeep spares: the smallest or cheapest set of spare models, and what would change it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from vault.cli.screen import folded, screen_size
from vault.cli.shell import FAILED, Progress, command, desk, json_text, refuse_existing, say
from vault.errors import UsageProblem


@click.group(epilog="Example: gearkeep spares set --cheapest")
def spares() -> None:
    """Which models of spare to stock so that every luminaire can be repaired: models, not how many of each."""


_ASKED = (
    click.option("--cheapest", is_flag=True,
                 help="The cheapest set by the loaded prices, one piece of each; else the fewest models."),
    click.option("--care", is_flag=True, help="Let a model that fits with care count as cover."),
    click.option("--share", type=click.FloatRange(0, 100, min_open=True), default=100.0, show_default=True,
                 help="Per cent of the drivers in service to cover; emergency duty is covered in any case."),
    click.option("--any", "any_model", is_flag=True, help="Choose also among models that are marked as not generic."),
    click.option("--seconds", type=click.IntRange(1, 3600), default=60, show_default=True,
                 help="Time for each search; a set that is not proven by then says so."),
    click.option("--all", "everything", is_flag=True, help="Name every luminaire and class."),
)


def _asked(function: Callable[..., Any]) -> Callable[..., Any]:
    for option in reversed(_ASKED):
        function = option(function)
    return function


def _wanted(given: dict[str, Any], keep: tuple[str, ...] = ()) -> Any:
    from vault.actions.covering_set import Wanted

    return Wanted(cheapest=given["cheapest"], with_care=given["care"], share_permille=_permille(given["share"]), keep=keep,
                  any_model=given["any_model"], time_limit_s=float(given["seconds"]))


def _permille(share: float) -> int:
    permille = round(share * 10)
    if abs(share * 10 - permille) > 1e-9 or not permille:
        raise UsageProblem(f"A share of {share:g} % is finer than this counts.", kind="bad-value",
                           hint="Give it to one decimal, such as 97.5.")
    return permille


@command(spares, name="set", example="gearkeep spares set --cheapest --share 95 --keep GEN-50-1050")
@_asked
@click.option("--keep", multiple=True, metavar="MODEL", help="A model that is in the set whatever happens; may be repeated.")
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), help="Write every class with its models: .xlsx or .csv.")
def set_(keep: tuple[str, ...], out: Path | None, everything: bool, as_json: bool, **given: Any) -> int:
    """Find the fewest or cheapest models that cover everything, proven; the next best sets; what forces each model."""
    from vault.actions.covering_set import find_set
    from vault.cli.cover_set_text import set_json, set_lines

    if out is not None:
        if out.suffix.lower() not in (".csv", ".xlsx"):
            raise UsageProblem(f"{out} would be neither a workbook nor CSV.", kind="bad-value",
                               hint="End its name in .xlsx or .csv.")
        refuse_existing(out)
    found = find_set(desk(), _wanted(given, keep), progress=Progress("judged"), searched=Progress("searched"))
    if out is not None:
        from vault.exchange.set_table import write_set

        write_set(out, found.ground.coverage, found.chosen, prices=found.ground.prices, currency=found.ground.currency)
    if as_json:
        say(json_text(set_json(found)))
    else:
        say(*folded(set_lines(found, given["share"], everything), screen_size()))
        say(*([f"Wrote {out}."] if out is not None else []))
    return FAILED if found.chosen.uncoverable or found.ground.unsettled or not found.chosen.proven else 0


@command(spares, example="gearkeep spares without GEN-50-1050")
@click.argument("model")
@_asked
def without(model: str, everything: bool, as_json: bool, **given: Any) -> int:
    """Show what MODEL's end of life takes away: which luminaires lose cover, and the best set without it."""
    from vault.actions.covering_set import find_without
    from vault.cli.what_if_text import without_json, without_lines

    found = find_without(desk(), model, _wanted(given), progress=Progress("judged"))
    say(json_text(without_json(found))) if as_json else say(*folded(without_lines(found, everything), screen_size()))
    return FAILED if found.dropped.lost or found.dropped.unpriced else 0


@command(spares, name="with", example="gearkeep spares with candidate.toml --cheapest --prices quote.csv")
@click.argument("file", type=click.Path(path_type=Path, exists=True, dir_okay=False))
@_asked
@click.option("--price", metavar="PRICE", help="Of each candidate, such as 24.50. Where nobody says it, its worth is told.")
@click.option("--prices", "quoted", type=click.Path(path_type=Path, exists=True, dir_okay=False), metavar="LIST",
              help="A list of prices that count before those on record: CSV or workbook with model, price, currency.")
def with_(file: Path, price: str | None, quoted: Path | None, everything: bool, as_json: bool, **given: Any) -> int:
    """Show what each driver model of FILE would cover, save and replace. Nothing is signed or kept.

    A model of the catalogue is tried with what FILE says of it. Prices come from --price, from the --prices LIST, or from the
    terms on record, and which is told; they count with --cheapest.
    """
    from vault.actions.covering_set import find_with
    from vault.cli.what_if_text import with_json, with_lines
    from vault.exchange.stock_cells import cents_of

    cents = None if price is None else cents_of(price)
    if price is not None and cents is None:
        raise UsageProblem(f"{price} is no price.", kind="bad-value", hint="Write it as 24.50.")
    found = find_with(desk(), file, _wanted(given), price_cents=cents, quoted=quoted, progress=Progress("judged"))
    say(json_text(with_json(found))) if as_json else say(*folded(with_lines(found, everything), screen_size()))
    return 0 if any(one.added.covered for one in found.tried) else FAILED
