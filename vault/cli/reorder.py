"""gearkeep reorder: what to order, by supplier."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from vault.cli.hold_options import stores_option
from vault.cli.screen import folded, screen_size
from vault.cli.shell import FAILED, Progress, command, desk, json_text, refuse_existing, say, table
from vault.cli.stock_today import asked, minimum_options

_SCREEN = ("  model", "importance", "order", "price", "sum", "lead days", "has", "order at", "up to")


@command(example="gearkeep reorder --lead-weeks 8 --out order.pdf")
@minimum_options
@stores_option
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE",
              help="Write the list to FILE.csv, FILE.xlsx or FILE.pdf (A4).")
def reorder(out: Path | None, as_json: bool, **given: Any) -> int:
    """Show what to order now by supplier, vital models first: how many, price, sum, lead time and why.

    A model is ordered when what lies there and is on order, less what is reserved, is at or below its reorder point; up to its
    order-up-to level, in whole packs. Models without a lead time or demand are listed as unknown. Exit code 1 when a vital model
    has to be ordered or its need is unknown.
    """
    from vault.actions.reorder import ENDINGS, write_reorder
    from vault.actions.reorder import reorder as look
    from vault.domain.terms import Importance
    from vault.exchange.files import refuse_ending

    if out is not None:
        refuse_ending(out, ENDINGS)
        refuse_existing(out)
    found = look(desk(), asked(**given), progress=Progress("Coverage"))
    if out is not None:
        write_reorder(out, found)
    if as_json:
        say(json_text(_json(found)))
    else:
        _show(found, out)
    needed = {one.importance for one in (*found.list.lines, *found.list.ended)} | {one.importance for one in found.list.untold}
    return FAILED if Importance.VITAL in needed else 0


def _show(found: Any, out: Path | None) -> None:
    from vault.exchange.reorder_file import UNKNOWN, ended_words, held_back_words, money_words, notice_words, sums_words
    from vault.spares.stores import DEFAULT_STORE

    lines = found.list.lines
    if not lines:
        say("Nothing is to be ordered" + ("." if not found.list.untold else " of the models whose need is known."))
    for order in found.list.orders:
        sums = sums_words(order.sums, len(order.unpriced))
        say(f"{order.supplier or 'Supplier unknown'}: {'no price known' if sums == UNKNOWN else sums}")
        table(_SCREEN, ((
            f"  {one.model}", one.importance.name.lower(), one.pieces, money_words(one.price_cents), money_words(one.sum_cents),
            one.lead_days, one.position, one.reorder_point, one.order_up_to) for one in order.lines))
    told = [*(f"{one.model}: {notice_words(one)}." for one in lines if notice_words(one)),
            *(f"No longer made: {one.model}, {one.pieces} needed; {ended_words(one)}." for one in found.list.ended),
            *(f"{held_back_words(one)}. {DEFAULT_STORE} by itself: gearkeep reorder --store {DEFAULT_STORE}."
              for one in found.list.held_back),
            *(f"Unknown: {one.model} has {one.position}; {one.lacks}." for one in found.list.untold)]
    if found.uncovered:
        told.append(f"{found.uncovered} gear in service that no stocked model fits: gearkeep cover.")
    told += [f"note: {doubt}" for doubt in found.doubts]
    say(*folded(told, screen_size()))
    say(*found.hours)
    if out is not None:
        say(f"Written: {out}.")


def _json(found: Any) -> dict[str, Any]:
    from vault.exchange.stock_cells import day_words

    def line(one: Any) -> dict[str, Any]:
        return {"model": one.model, "supplier": one.supplier, "importance": one.importance.name.lower(), "order": one.pieces,
                "pack": one.pack, "price_cents": one.price_cents, "sum_cents": one.sum_cents, "currency": one.currency,
                "lead_days": one.lead_days, "lead_assumed": not one.lead_told, "on_hand": one.on_hand, "on_order": one.on_order,
                "reserved": one.reserved, "position": one.position, "elsewhere": dict(one.elsewhere),
                "reorder_point": one.reorder_point, "order_up_to": one.order_up_to,
                "replaced_by": one.successor and one.successor.model, "replacement_fits": one.successor and one.successor.fits,
                "gear_served": one.successor and one.successor.serves,
                "last_order": None if one.last_order_day is None else day_words(one.last_order_day), "why": one.why}

    return {"site": found.site, "day": found.day,
            "orders": [{"supplier": order.supplier, "sums_cents": order.sums, "unpriced": list(order.unpriced),
                        "lines": [line(one) for one in order.lines]} for order in found.list.orders],
            "no_longer_made": [line(one) for one in found.list.ended],
            "unknown": [{"model": one.model, "importance": None if one.importance is None else one.importance.name.lower(),
                         "position": one.position, "lacks": one.lacks} for one in found.list.untold],
            "held_back": [{"model": one.model, "position": one.position, "elsewhere": dict(one.elsewhere)}
                          for one in found.list.held_back],
            "uncovered_gear": found.uncovered, "unsettled_luminaires": found.unsettled, "notes": list(found.notes)}
