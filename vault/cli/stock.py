"""gearkeep stock: what comes in, goes out and is kept."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from vault.cli.quantity import CountingCommand, Pieces
from vault.cli.shell import command, desk, json_text, say, table
from vault.cli.stock_moved_text import say_moved
from vault.errors import UsageProblem

DEFAULT_STORE = "MAIN"
_PIECES = {
    "model": click.argument("model", metavar="MODEL|LABEL"), "quantity": click.argument("quantity", type=Pieces(1)),
    "found": click.argument("quantity", type=Pieces(0)),
    "store": click.option("--store", help=f"Store or van; left out, the label's own, else {DEFAULT_STORE}."),
    "bin": click.option("--bin", "bin_name", help="Bin, up to 16 characters, or a picture or link of its label."),
    "serial": click.option("--serial", help="Serial number, for a single piece."),
    "why": click.option("--because", required=True, help="Why, up to 60 characters."),
    "because": click.option("--because", help="Why, up to 60 characters."),
    "condition": click.option("--condition", type=click.Choice(["good", "needs-reset"]), help="Of which pieces."),
    "made": click.option("--made", help="Day a battery was made, such as 2027-05-31."),
    "for": click.option("--for", "tag", required=True, help="Luminaire: its tag, or the link of its label."),
    "luminaire": click.option("--for", "tag", help="Luminaire that it goes to: its tag, or the link of its label."),
    "order": click.option("--order", help="Order's number, up to 24 characters."),
    "number": click.option("--order", required=True, help="Order's number, up to 24 characters."),
    "delivery": click.option("--delivery", help="Delivery note, up to 24 characters."),
    "supplier": click.option("--supplier", help="Who supplies it, up to 24 characters."),
    "even": click.option("--even-reserved", is_flag=True, help="Take pieces that are kept for other luminaires; it is told."),
}


class StockGroup(click.Group):
    """Its commands tell a negative number as one."""

    command_class = CountingCommand


@click.group(cls=StockGroup, epilog="Example: gearkeep stock list")
def stock() -> None:
    """Spare drivers and batteries in the stores. Every movement is signed; a count is a movement with a reason."""


def _act(name: str, act: str, example: str, *options: str) -> Callable[[Callable[..., Any]], click.Command]:
    """A command that moves one line of a model that is typed, or scanned from a spare's or a bin's label.

    The function turns the options of its own into what the action is given besides.
    """

    def decorate(function: Callable[..., dict[str, Any]]) -> click.Command:
        def run(as_json: bool, **given: Any) -> None:
            from vault.actions.stock import one_movement
            from vault.actions.stock_scan import find_item
            from vault.domain.stock import Act, Condition

            at, takes_bin, takes_serial = desk(), "bin" in options, "serial" in options
            item = find_item(at, given.pop("model"), store=given.pop("store"), bin_name=given.pop("bin_name", None),
                             serial=given.pop("serial", None))
            fields = {"store": item.store or DEFAULT_STORE, "model": item.model, "quantity": given.pop("quantity"),
                      "bin_name": item.bin if takes_bin else None, "serial": item.serial if takes_serial else None,
                      "tag_text": given.pop("tag", None), "made_day": day(given.pop("made", None)),
                      "even_reserved": given.pop("even_reserved", False)}
            condition = given.pop("condition", None)
            fields["condition"] = Condition.NEEDS_RESET if condition == "needs-reset" else Condition.GOOD if condition else None
            say_moved(one_movement(at, act=Act[act], **fields, **function(**given)), as_json)

        run.__doc__, run.__name__ = function.__doc__, name
        made = command(stock, name=name, example=example)(run)
        for option in ("model", *options):
            _PIECES[option](made)
        for parameter in getattr(function, "__click_params__", ()):
            made.params.append(parameter)
        made.params.sort(key=lambda p: (not isinstance(p, click.Argument), p.name != "model"))
        return made

    return decorate


def day(said: str | None) -> int | None:
    """Days since 1970-01-01. Raises UsageProblem for what is no day."""
    from vault.exchange.stock_cells import day_of

    found = day_of(said) if said is not None else None
    if said is not None and (found is None or found < 0):
        raise UsageProblem(f"{said} is not a day.", kind="bad-value", hint="Write year, month and day such as 2027-05-31.")
    return found


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


@_act("receive", "RECEIPT", "gearkeep --key store.key stock receive CC-50 4 --bin A3 --order PO-7 --delivery DN-31",
      "quantity", "store", "bin", "serial", "made", "condition", "order", "delivery", "supplier", "because")
def receive(order: str | None, delivery: str | None, supplier: str | None, because: str | None) -> dict[str, Any]:
    """Pieces come in. An order that is named has so many fewer to come."""
    from vault.actions.stock import Said

    return {"said": Said(order=order, delivery=delivery, supplier=supplier, reason=because)}


@_act("issue", "ISSUE", "gearkeep --key store.key stock issue CC-50 1 --bin A3 --for 7K3D9QXW6",
      "quantity", "store", "bin", "serial", "made", "luminaire", "even", "because")
def issue(because: str | None) -> dict[str, Any]:
    """Pieces go out (a swap does this by itself). What was reserved for the luminaire is used up.

    Refused: a driver that does not fit the luminaire, a battery past its shelf life.
    """
    return {"reason": because}


@_act("return", "RETURN", "gearkeep --key store.key stock return CC-50 1 --bin A3",
      "quantity", "store", "bin", "serial", "made", "condition", "because")
def return_(because: str | None) -> dict[str, Any]:
    """Pieces come back; they need a reset until they are checked, unless --condition good says otherwise."""
    return {"reason": because}


@_act("check", "CHECKED", "gearkeep --key store.key stock check CC-50 1 --bin A3", "quantity", "store", "bin", "serial", "made",
      "because")
def check(because: str | None) -> dict[str, Any]:
    """Returned pieces were reset and tested: they may be issued again."""
    return {"reason": because}


@_act("count", "COUNT", 'gearkeep --key store.key stock count CC-50 3 --bin A3 --because "yearly count"',
      "found", "store", "bin", "serial", "made", "condition", "why")
def count(because: str) -> dict[str, Any]:
    """Set a bin to what was counted there; with --made the pieces of that day, first those whose day was unknown."""
    return {"reason": because}


@_act("scrap", "SCRAP", 'gearkeep --key store.key stock scrap CC-50 1 --bin A3 --because "water damage" --stream electronics',
      "quantity", "store", "bin", "serial", "made", "condition", "why")
@click.option("--stream", type=click.Choice(["electronics", "battery", "lamp", "metal"]),
              help="Waste stream that they went into.")
def scrap(because: str, stream: str | None) -> dict[str, Any]:
    """Pieces are thrown away, each waste stream by itself: drivers as electronics, batteries as batteries."""
    from vault.actions.stock import Said
    from vault.domain.stock import Stream

    return {"said": Said(reason=because, stream=Stream[stream.upper()] if stream else None)}


@_act("transfer", "TRANSFER", "gearkeep --key store.key stock transfer CC-50 2 --bin A3 --to VAN-1",
      "quantity", "store", "bin", "serial", "made", "condition", "even", "because")
@click.option("--to", "to_store", required=True, help="Store or van that gets them; the same store to move them to another bin.")
@click.option("--to-bin", help="Bin there; left out, one of the same name.")
def transfer(to_store: str, to_bin: str | None, because: str | None) -> dict[str, Any]:
    """Pieces go to another store, van or bin, in one statement."""
    from vault.actions.stock import Said

    return {"said": Said(reason=because, to_store=to_store), "to_bin": to_bin}


@command(stock, example='gearkeep --key store.key stock batch count.csv --as count --because "yearly count"')
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--as", "act", required=True, type=click.Choice(["count", "return", "scrap", "transfer"]), help="What is done.")
@click.option("--store", default=DEFAULT_STORE, show_default=True, help="Store or van where it is done.")
@click.option("--to", "to_store", help="Store or van that gets what is transferred; bins keep their names.")
@click.option("--stream", type=click.Choice(["electronics", "battery", "lamp", "metal"]),
              help="Waste stream, of what is scrapped.")
@click.option("--even-reserved", is_flag=True, help="Take pieces that are kept for other luminaires; it is told.")
@click.option("--because", help="Why, up to 60 characters; a count and a scrap need it.")
def batch(file: Path, act: str, store: str, to_store: str | None, stream: str | None, even_reserved: bool, because: str | None,
          as_json: bool) -> None:
    """Count, take back, scrap or transfer everything that a list names: all of it, or nothing.

    Columns: model, quantity, bin, serial, condition, made. Rows without a quantity are left alone. A sheet to count by is written
    by `stock list --sheet`.
    """
    from vault.cli.stock_batch_text import batch_and_say

    batch_and_say(file, act=act, store=store, to_store=to_store, stream=stream, even_reserved=even_reserved, because=because,
                  as_json=as_json)


@_act("reserve", "RESERVE", "gearkeep --key store.key stock reserve CC-50 1 --for 7K3D9QXW6", "quantity", "store", "for",
      "because")
def reserve(because: str | None) -> dict[str, Any]:
    """Keep pieces for the planned swap of a luminaire; a driver that does not fit it is refused."""
    return {"reason": because}


@_act("release", "RELEASE", "gearkeep --key store.key stock release CC-50 1 --for 7K3D9QXW6", "quantity", "store", "for",
      "because")
def release(because: str | None) -> dict[str, Any]:
    """Pieces that were kept for a luminaire are free again."""
    return {"reason": because}


@_act("order", "ORDER", "gearkeep --key store.key stock order CC-50 10 --order PO-7 --due 2027-05-31",
      "quantity", "store", "number", "supplier", "because")
@click.option("--due", required=True, help="Day on which it should come, such as 2027-05-31.")
def order_(order: str, due: str, supplier: str | None, because: str | None) -> dict[str, Any]:
    """Pieces were ordered and will come. Nothing is sent to a supplier. Refused once the last order of a model is past."""
    from vault.actions.stock import Said
    from vault.spares.stock_walk import DAY_S

    due_day = day(due)
    if due_day is not None and due_day < desk().now_s() // DAY_S:
        raise UsageProblem(f"{due} is past; an order cannot be due then.", kind="bad-value",
                           hint="Say the day that the supplier names now.")
    return {"said": Said(order=order, due_day=due_day, supplier=supplier, reason=because)}


@_act("cancel", "CANCEL", "gearkeep --key store.key stock cancel CC-50 10 --order PO-7", "quantity", "store", "number", "because")
def cancel(order: str, because: str | None) -> dict[str, Any]:
    """Pieces on order will not come."""
    from vault.actions.stock import Said

    return {"said": Said(order=order, reason=because)}


@command(stock, name="list", example="gearkeep stock list --json")
@click.option("--model", help="This driver model or item alone.")
@click.option("--store", help="This store or van alone.")
@click.option("--sheet", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE",
              help="Write a sheet to count one store by, .csv or .xlsx, for: stock batch FILE --as count.")
def list_(model: str | None, store: str | None, sheet: Path | None, as_json: bool) -> int:
    """List what lies where, what is reserved, on order and free, and which bins are due for a count."""
    from vault.actions.stock import read_stock_state
    from vault.actions.stock_doubts import read_stock_doubts
    from vault.cli.stock_text import as_json as told
    from vault.cli.stock_text import lines, nothing_words, rows, state_holds

    state = read_stock_state(desk(), [model] if model else None)
    doubts = read_stock_doubts(desk(), [model] if model else None)
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
    """Show what is agreed about each item: supplier, price, lead time, importance, last order. `stock load` sets it."""
    from vault.actions.stock_doubts import read_stock_doubts
    from vault.actions.stock_load import read_terms
    from vault.cli.stock_text import TERMS_HEADINGS, terms_json, terms_row

    found = read_terms(desk(), model)
    doubts = read_stock_doubts(desk(), found, terms_alone=True)
    if as_json:
        say(json_text({"terms": [terms_json(one) for one in found.values()], "doubts": list(doubts)}))
    elif found:
        table(TERMS_HEADINGS, [terms_row(one) for one in found.values()])
    else:
        say("Nothing is agreed yet. Load a list: gearkeep stock load FILE.")
    if not as_json:
        say(*(f"note: {doubt}" for doubt in doubts))
    return 0 if found else 1
