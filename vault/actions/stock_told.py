"""What a movement of stock did and what stands now, in sentences."""

from __future__ import annotations

import shlex
from collections.abc import Iterable, Iterator, Sequence

from vault.domain.counting import be
from vault.domain.schema import words
from vault.domain.stock import Act, Condition, Movement, MovementLine
from vault.domain.tag import from_bytes, shown
from vault.exchange.stock_cells import day_words
from vault.spares.stock_state import StockShelf, StockState

MOST_NAMED = 5


def where_words(store: str, bin_name: str | None) -> str:
    """bin A1 of MAIN, or MAIN where no bin is named."""
    return f"bin {bin_name} of {store}" if bin_name else store


def typed(name: str, model: str, rest: str | int, store: str, bin_name: str | None) -> str:
    """A stock command as it is typed: gearkeep stock count M1 FOUND --bin A1 --store MAIN; `rest` stands behind the model."""
    return f"gearkeep stock {name} {shlex.quote(model)} {rest} {typed_place(store, bin_name)}"


def typed_place(store: str, bin_name: str | None) -> str:
    """--bin A1 --store MAIN, as it is typed behind a stock command."""
    return shlex.join([*(("--bin", bin_name) if bin_name else ()), "--store", store])


def listed(names: Sequence[str]) -> str:
    """ "H1, H2 and H3"; of many the first few and how many more."""
    if len(names) > MOST_NAMED:
        return f"{', '.join(names[:MOST_NAMED])} and {len(names) - MOST_NAMED} more"
    return " and ".join(filter(None, (", ".join(names[:-1]), names[-1] if names else "")))


def holders(shelves: Iterable[StockShelf], *, store: str, needs_reset: bool = False) -> str:
    """Which bins hold pieces, those of one store first: "Bin A1 of MAIN holds 6, bin LEFT of VAN-1 holds 2."; empty for none."""
    found = [(shelf, shelf.needs_reset if needs_reset else shelf.good) for shelf in shelves]
    found = sorted(((shelf, pieces) for shelf, pieces in found if pieces), key=lambda one: (one[0].store != store, one[0]))
    if not found:
        return ""
    said = listed([f"{where_words(shelf.store, shelf.bin)} holds {pieces}" for shelf, pieces in found])
    return f" {said[0].upper()}{said[1:]}."


def deed(body: Movement, after: StockState) -> str:
    """One sentence: what was done, from where to where."""
    if len(body.lines) > 1:
        models = len({line.model for line in body.lines})
        pieces = sum(line.quantity for line in body.lines)
        return (f"{_VERBS[body.act]} {pieces} {'piece' if pieces == 1 else 'pieces'} of {models} "
                f"{'model' if models == 1 else 'models'} ({len(body.lines)} lines), {body.store}{_waste(body)}.")
    line = body.lines[0]
    return f"{_VERBS[body.act]} {line.quantity} of {line.model}{''.join(_details(body, line, after))}."


_VERBS = {Act.RECEIPT: "Received", Act.ISSUE: "Issued", Act.RETURN: "Took back", Act.COUNT: "Counted", Act.SCRAP: "Scrapped",
          Act.TRANSFER: "Moved", Act.RESERVE: "Kept", Act.RELEASE: "Released", Act.ORDER: "Ordered", Act.CANCEL: "Cancelled",
          Act.CHECKED: "Checked"}
_COMES, _LIES = frozenset({Act.RECEIPT, Act.RETURN}), frozenset({Act.COUNT, Act.CHECKED, Act.RESERVE, Act.RELEASE})


def _details(body: Movement, line: MovementLine, after: StockState) -> Iterator[str]:
    of = [f"serial {line.serial}"] if line.serial is not None else []
    of += [f"made on {day_words(line.made_day)}"] if line.made_day is not None else []
    if line.condition is Condition.NEEDS_RESET and body.act is not Act.RETURN:
        of.append("which need a reset" if line.quantity != 1 else "which needs a reset")
    if of:
        yield f", {', '.join(of)},"
    place = where_words(body.store, line.bin)
    if body.act in (Act.ORDER, Act.CANCEL):
        yield f" for {body.store}, order {body.order}"
        if body.due_day is not None:
            yield f", due {day_words(body.due_day)}"
    elif body.act is Act.TRANSFER:
        yield f" from {place} to {where_words(body.to_store or '', line.to_bin or line.bin)}"
    else:
        yield f" {'into' if body.act in _COMES else 'in' if body.act in _LIES else 'from'} {place}"
    if body.act is Act.RECEIPT and body.order is not None:
        yield f", order {body.order}"
    yield _waste(body)
    if line.tag is not None:
        tag = from_bytes(line.tag)
        yield f" for {shown(tag)}"
        if body.act is Act.RELEASE:
            left = after.reserved_for(line.model, tag)
            yield f"; {left} {be(left)} still kept for it" if left else ", which keeps none now"


def _waste(body: Movement) -> str:
    return f", waste stream {words(body.stream)}" if body.stream is not None else ""


def standing(state: StockState, model: str, stores: Sequence[str]) -> str:
    """What stands of one model in the stores that were touched: usable, to be reset, kept, on order, free."""
    return f"{model}: " + "; ".join(_standing(state, model, store) for store in stores)


def _standing(state: StockState, model: str, store: str) -> str:
    old = state.too_old(model, store)
    said = f"{state.usable(model, store) + old} in {store}"
    resets, kept, free = state.needs_reset(model, store), state.reserved(model, store), state.free(model, store)
    coming = sum(due.pieces for due in state.on_order(model, store))
    if old:
        said += f", {old} too old to be issued"
    if resets:
        said += f", {resets} {'needs' if resets == 1 else 'need'} a reset"
    if coming:
        said += f", {coming} on order"
    if kept:
        said += f", {kept} kept for planned swaps, " + (
            f"{free} free" if free >= 0 else f"{-free} more than {'may be issued' if old or resets else 'lie there'}")
    return said
