"""gearkeep stock: lists that are taken in and moved, and what they come to: what lies where, what is agreed."""

from __future__ import annotations

from pathlib import Path

import click

from vault.cli.shell import command, desk, json_text, say, table
from vault.cli.stock import DEFAULT_STORE, stock

__all__ = ["stock"]


@command(stock, example="gearkeep --key store.key stock load stock.csv --delivery DN-31")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--store", default=DEFAULT_STORE, show_default=True, help="Store or van that receives it.")
@click.option("--order", help="Order that it delivers, up to 24 characters.")
@click.option("--delivery", help="Delivery note, up to 24 characters; the same note is received once.")
@click.option("--supplier", help="Who delivered it, up to 24 characters.")
@click.option("--yes", is_flag=True, help="What is asked is looked at; sign it all the same.")
def load(file: Path, store: str, order: str | None, delivery: str | None, supplier: str | None, yes: bool,
         as_json: bool) -> None:
    """Take in a list: opening stock or a delivery, and what is agreed about each item.

    Columns of a CSV file or a workbook: model, quantity, bin, serial, condition, made; item (driver, battery, other),
    supplier, price, currency, lead_days, pack, importance (vital, essential, desirable), last_order, replaced_by, count_days,
    shelf_life_months. Only rows with a quantity are received. The same list twice adds nothing.

    Of what is agreed, a blank cell leaves the value as it is; the word none (or a dash) takes it away. What changed is told,
    old and new. It asks where a last order is past, a replacement does not do, or the same lines came before.
    """
    from vault.cli.stock_load_text import load_and_say

    load_and_say(file, sure=yes, as_json=as_json, store=store, order=order, delivery=delivery, supplier=supplier)


@command(stock, example='gearkeep --key store.key stock batch count.csv --as count --because "yearly count"')
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--as", "act", required=True, type=click.Choice(["count", "return", "scrap", "transfer"]), help="What is done.")
@click.option("--store", default=DEFAULT_STORE, show_default=True, help="Store or van where it is done.")
@click.option("--to", "to_store", help="Store or van that gets what is transferred; bins keep their names.")
@click.option("--stream", type=click.Choice(["electronics", "battery", "lamp", "metal"]),
              help="Waste stream, of what is scrapped.")
@click.option("--even-reserved", is_flag=True, help="Take pieces that are kept for other luminaires; it is told.")
@click.option("--because", help="Why, up to 60 characters; a count and a scrap need it.")
@click.option("--yes", is_flag=True, help="What is asked is looked at; sign it all the same.")
def batch(file: Path, act: str, store: str, to_store: str | None, stream: str | None, even_reserved: bool, because: str | None,
          yes: bool, as_json: bool) -> None:
    """Count, take back, scrap or transfer everything that a list names: all of it, or nothing.

    Columns: model, quantity, bin, serial, condition, made. Rows without a quantity are left alone. A sheet to count by is written
    by `stock list --sheet`.
    """
    from vault.cli.stock_batch_text import batch_and_say

    batch_and_say(file, act=act, store=store, to_store=to_store, stream=stream, even_reserved=even_reserved, because=because,
                  sure=yes, as_json=as_json)


@command(stock, name="list", example="gearkeep stock list --json")
@click.option("--model", help="This driver model or item alone.")
@click.option("--store", help="This store or van alone.")
@click.option("--sheet", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE",
              help="Write a sheet to count one store by, .csv or .xlsx, for: stock batch FILE --as count.")
def list_(model: str | None, store: str | None, sheet: Path | None, as_json: bool) -> int:
    """List what lies where, what is reserved, on order and free, and which bins are due for a count."""
    from vault.actions.stock import read_stock_state
    from vault.actions.stock_doubts import read_stock_doubts
    from vault.actions.stock_names import read_model
    from vault.cli.stock_text import as_json as told
    from vault.cli.stock_text import lines, nothing_words, rows, state_holds

    at = desk()
    model = read_model(at, model) if model is not None else None
    state = read_stock_state(at, [model] if model else None)
    doubts = read_stock_doubts(at, [model] if model else None)
    if as_json:
        say(json_text(told(state, store) | {"doubts": list(doubts)}))
    elif state_holds(state, store):
        table(["store", "model", "bin", "good", "needs reset", "reserved", "on order", "free"], rows(state, store))
        say(*lines(state, store))
    else:
        say(nothing_words(state, model, store))
    if not as_json:
        say(*(f"note: {doubt}" for doubt in doubts))
    if sheet is not None and state_holds(state, store):
        from vault.cli.stock_batch_text import write_sheet

        write_sheet(sheet, state, store, as_json=as_json)
    return 0 if state_holds(state, store) else 1


@command(stock, example="gearkeep stock terms --model CC-50")
@click.option("--model", help="This driver model or item alone.")
def terms(model: str | None, as_json: bool) -> int:
    """Show what is agreed about each item: supplier, price, lead time, importance, last order. `stock load` sets it.

    Only columns in which something stands are shown.
    """
    from vault.actions.stock_doubts import read_stock_doubts
    from vault.actions.stock_load import read_terms
    from vault.actions.stock_names import read_model
    from vault.cli.stock_text import terms_json, terms_table

    at = desk()
    model = read_model(at, model) if model is not None else None
    found = read_terms(at, model)
    doubts = read_stock_doubts(at, found, terms_alone=True)
    if as_json:
        say(json_text({"terms": [terms_json(one) for one in found.values()], "doubts": list(doubts)}))
    elif found:
        table(*terms_table(found.values()))
    else:
        say(f"Nothing is agreed {f'about {model}' if model else 'yet'}. Load a list: gearkeep stock load FILE.")
    if not as_json:
        say(*(f"note: {doubt}" for doubt in doubts))
    return 0 if found else 1
