"""A list of pieces counted, taken back, scrapped or transferred at once, and the sheet that a store is counted by."""

from __future__ import annotations

from pathlib import Path

from vault.actions.stock import Said
from vault.actions.stock_batch import move_listed
from vault.cli.second_look import done_when_sure
from vault.cli.shell import desk, json_text, refuse_existing, say
from vault.cli.stock_moved_text import say_moved
from vault.domain.stock import Act, Stream
from vault.errors import UsageProblem
from vault.exchange.count_sheet import write_count_sheet
from vault.spares.stock_state import StockState


def batch_and_say(file: Path, *, act: str, store: str, to_store: str | None, stream: str | None, even_reserved: bool,
                  because: str | None, sure: bool, as_json: bool) -> None:
    """Sign what the list says, and say what stands now. Raises UsageProblem (missing-option) for what the act needs."""
    needs = {"count": [("--because", because)], "scrap": [("--because", because)], "transfer": [("--to", to_store)]}
    for option, value in needs.get(act, []):
        if value is None:
            raise UsageProblem(f"A {act} needs {option}.", kind="missing-option", hint="See: gearkeep stock batch --help.")
    if (to_store is not None and act != "transfer") or (stream is not None and act != "scrap"):
        raise UsageProblem(f"{'--to' if to_store is not None else '--stream'} is not for a {act}.", kind="bad-option",
                           hint="--to belongs to a transfer, --stream to a scrap.")
    said = Said(reason=because, to_store=to_store, stream=Stream[stream.upper()] if stream else None)
    at = desk()
    moved, left = done_when_sure(lambda sure: move_listed(at, file, act=Act[act.upper()], store=store, said=said,
                                                          even_reserved=even_reserved, sure=sure), sure=sure, as_json=as_json)
    if as_json:
        say(json_text({"store": moved.store, "act": act, "did": list(moved.did), "pieces": moved.pieces,
                       "needs_reset": moved.needs_reset, "notes": list(moved.notes), "left_alone": left}))
        return
    say_moved(moved, False)
    if left:
        say(f"{left} {'row' if left == 1 else 'rows'} without a quantity {'was' if left == 1 else 'were'} left alone.")


def write_sheet(file: Path, state: StockState, store: str | None, *, as_json: bool) -> None:
    """Write the sheet of one store. Raises UsageProblem (which-store) where several hold something and none is named."""
    held = sorted({shelf.store for shelf in state.shelves if shelf.good + shelf.needs_reset and store in (None, shelf.store)})
    if len(held) != 1:
        raise UsageProblem(f"A sheet is of one store, and {', '.join(held)} hold something." if held else "Nothing lies there.",
                           kind="which-store", hint="Say --store NAME.")
    refuse_existing(file)
    rows = write_count_sheet(file, state, held[0])
    if not as_json:
        say(f"Written: {file}, {rows} {'row' if rows == 1 else 'rows'} of {held[0]}. Fill in the column quantity, then: gearkeep "
            f"stock batch {file} --as count --store {held[0]} --because WHY")
