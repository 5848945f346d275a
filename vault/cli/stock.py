"""gearkeep stock: what comes in, goes out and is kept, a model at a time."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import click

from vault.cli.quantity import CountingCommand, Pieces
from vault.cli.shell import command, desk
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
    "for": click.option("--for", "tag", required=True, help="Luminaire: its tag, or a picture or link of its label."),
    "luminaire": click.option("--for", "tag", help="Luminaire that it goes to: its tag, or a picture or link of its label."),
    "order": click.option("--order", help="Order's number, up to 24 characters."),
    "number": click.option("--order", required=True, help="Order's number, up to 24 characters."),
    "delivery": click.option("--delivery", help="Delivery note, up to 24 characters."),
    "supplier": click.option("--supplier", help="Who supplies it, up to 24 characters."),
    "yes": click.option("--yes", is_flag=True, help="What is asked is looked at; sign it all the same."),
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
            from vault.actions.stock_scan import find_item, find_luminaire
            from vault.cli.second_look import done_when_sure
            from vault.domain.stock import Act, Condition

            at, takes_bin, takes_serial = desk(), "bin" in options, "serial" in options
            item = find_item(at, given.pop("model"), store=given.pop("store"), bin_name=given.pop("bin_name", None),
                             serial=given.pop("serial", None))
            tag = given.pop("tag", None)
            fields = {"store": item.store or DEFAULT_STORE, "model": item.model, "quantity": given.pop("quantity"),
                      "bin_name": item.bin if takes_bin else None, "serial": item.serial if takes_serial else None,
                      "tag_text": find_luminaire(at, tag) if tag else None, "made_day": day(given.pop("made", None)),
                      "even_reserved": given.pop("even_reserved", False)}
            condition = given.pop("condition", None)
            fields["condition"] = Condition.NEEDS_RESET if condition == "needs-reset" else Condition.GOOD if condition else None
            sure = given.pop("yes", False)
            fields |= function(**given)
            say_moved(done_when_sure(lambda sure: one_movement(at, act=Act[act], sure=sure, **fields), sure=sure,
                                     as_json=as_json), as_json)

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


@_act("receive", "RECEIPT", "gearkeep --key store.key stock receive CC-50 4 --bin A3 --order PO-7 --delivery DN-31",
      "quantity", "store", "bin", "serial", "made", "condition", "order", "delivery", "supplier", "because", "yes")
def receive(order: str | None, delivery: str | None, supplier: str | None, because: str | None) -> dict[str, Any]:
    """Pieces come in. An order that is named has so many fewer to come.

    Asked: an order that nobody placed while others are open, far more pieces than ever before.
    """
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
      "found", "store", "bin", "serial", "made", "condition", "why", "yes")
def count(because: str) -> dict[str, Any]:
    """Set a bin to what was counted there; with --made the pieces of that day, first those whose day was unknown."""
    return {"reason": because}


@_act("scrap", "SCRAP", 'gearkeep --key store.key stock scrap CC-50 1 --bin A3 --because "water damage" --stream electronics',
      "quantity", "store", "bin", "serial", "made", "condition", "why")
@click.option("--stream", type=click.Choice(["electronics", "battery", "lamp", "metal"]),
              help="Waste stream that they went into. Default: electronics of drivers, battery of batteries.")
def scrap(because: str, stream: str | None) -> dict[str, Any]:
    """Pieces are thrown away, each waste stream by itself: drivers as electronics, batteries as batteries."""
    from vault.actions.stock import Said
    from vault.domain.stock import Stream

    return {"said": Said(reason=because, stream=Stream[stream.upper()] if stream else None)}


@_act("transfer", "TRANSFER", "gearkeep --key store.key stock transfer CC-50 2 --bin A3 --to VAN-1",
      "quantity", "store", "bin", "serial", "made", "condition", "even", "because")
@click.option("--to", "to_store", required=True, help="Store or van that gets them, or a picture or link of a bin's label there; "
              "the same store to move them to another bin.")
@click.option("--to-bin", help="Bin there, or a picture or link of its label; left out, one of the same name.")
def transfer(to_store: str, to_bin: str | None, because: str | None) -> dict[str, Any]:
    """Pieces go to another store, van or bin, in one statement."""
    from vault.actions.stock import Said
    from vault.actions.stock_scan import find_target

    there = find_target(desk(), to_store, to_bin)
    return {"said": Said(reason=because, to_store=there.store), "to_bin": there.bin or None}


@_act("reserve", "RESERVE", "gearkeep --key store.key stock reserve CC-50 1 --for 7K3D9QXW6", "quantity", "store", "for",
      "because", "yes")
def reserve(because: str | None) -> dict[str, Any]:
    """Keep pieces for the planned swap of a luminaire; a driver that does not fit it is refused.

    Asks before more are kept than the luminaire has gear for.
    """
    return {"reason": because}


@_act("release", "RELEASE", "gearkeep --key store.key stock release CC-50 1 --for 7K3D9QXW6", "quantity", "store", "for",
      "because")
def release(because: str | None) -> dict[str, Any]:
    """Pieces that were kept for a luminaire are free again."""
    return {"reason": because}


@_act("order", "ORDER", "gearkeep --key store.key stock order CC-50 10 --order PO-7 --due 2027-05-31",
      "quantity", "store", "number", "supplier", "because", "yes")
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
