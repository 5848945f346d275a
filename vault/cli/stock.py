"""gearkeep stock."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from vault.cli.shell import command, desk, json_text, say, table

DEFAULT_STORE = "MAIN"


@click.group(epilog="Example: gearkeep stock list")
def stock() -> None:
    """Spare drivers in the stores. Every movement is signed; a count is a movement with a reason."""


def _say(moved: Any, as_json: bool) -> None:
    if as_json:
        say(json_text({"store": moved.store, "act": moved.act.name.lower(), "pieces": moved.pieces}))
        return
    say(*(f"{model}: {pieces} in {moved.store}" for model, pieces in moved.pieces.items()))


@command(stock, example="gearkeep --key store.key stock load stock.csv")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--store", default=DEFAULT_STORE, show_default=True, help="Store or van that receives it.")
@click.option("--order", help="Order or delivery note, up to 24 characters.")
def load(file: Path, store: str, order: str | None, as_json: bool) -> None:
    """Receive everything a CSV file lists (model, quantity, bin, serial)."""
    from vault.actions.stock import load_stock

    _say(load_stock(desk(), file, store=store, order=order), as_json)


def _movement(act_name: str, text: str, example: str, *, reason: bool) -> click.Command:
    def run(model: str, quantity: int, store: str, bin_name: str | None, serial: str | None, as_json: bool,
            because: str | None = None) -> None:
        from vault.actions.stock import one_movement
        from vault.domain.stock import Act

        _say(one_movement(desk(), act=Act[act_name], store=store, model=model, quantity=quantity, bin_name=bin_name,
                          serial=serial, reason=because), as_json)

    run.__doc__ = text
    run.__name__ = act_name.lower().replace("receipt", "receive")
    made = command(stock, name=run.__name__, example=example)(run)
    for add in (click.argument("model"), click.argument("quantity", type=click.IntRange(0 if act_name == "COUNT" else 1)),
                click.option("--store", default=DEFAULT_STORE, show_default=True, help="Store or van."),
                click.option("--bin", "bin_name", help="Bin, up to 16 characters."),
                click.option("--serial", help="Serial number, for a single piece."),
                click.option("--because", required=reason, help="Why, up to 60 characters.")):
        add(made)
    made.params.sort(key=lambda p: (not isinstance(p, click.Argument), p.name != "model"))
    return made


receive = _movement("RECEIPT", "Pieces come in.", "gearkeep --key store.key stock receive CC-50 4 --bin A3", reason=False)
issue = _movement("ISSUE", "Pieces go out (a swap does this by itself).", "gearkeep --key store.key stock issue CC-50 1",
                  reason=False)
return_ = _movement("RETURN", "Pieces come back unused.", "gearkeep --key store.key stock return CC-50 1 --bin A3",
                    reason=False)
count = _movement("COUNT", "Set a bin to what was counted there.",
                  'gearkeep --key store.key stock count CC-50 3 --bin A3 --because "yearly count"', reason=True)
scrap = _movement("SCRAP", "Pieces are thrown away.",
                  'gearkeep --key store.key stock scrap CC-50 1 --because "water damage"', reason=True)


@command(stock, name="list", example="gearkeep stock list --json")
@click.option("--model", help="This driver model alone.")
def list_(model: str | None, as_json: bool) -> int:
    """List what lies where."""
    from vault.actions.stock import list_stock

    found = list_stock(desk(), model)
    if as_json:
        say(json_text({"shelves": [{"store": s.store, "model": s.model, "bin": s.bin, "pieces": s.pieces} for s in found]}))
    else:
        table(["store", "model", "bin", "pieces"], [(s.store, s.model, s.bin, s.pieces) for s in found])
    return 0 if found else 1
