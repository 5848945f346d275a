"""A stock list taken in: asks what has to be confirmed, and says what changed."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from vault.actions.stock_load import Loaded, load_stock
from vault.cli.second_look import done_when_sure
from vault.cli.shell import Progress, desk, json_text, say
from vault.cli.stock_moved_text import say_moved
from vault.exchange.complaints import ended
from vault.exchange.delivery_note import given_note
from vault.exchange.stock_cells import TAKE_AWAY

_MOST = 20  # items that the screen names


def load_and_say(file: Path, *, sure: bool, as_json: bool, store: str, order: str | None, delivery: str | None,
                 supplier: str | None) -> None:
    """Load a list and say what it changed; where it is unsure, ask on a terminal, else refuse. Raises as `load_stock` does."""
    at = desk()

    def load(sure: bool) -> Loaded:
        return load_stock(at, file, store=store, order=order, delivery=delivery, supplier=supplier, sure=sure,
                          progress=Progress("Coverage"))

    done = done_when_sure(load, sure=sure, as_json=as_json)
    if as_json:
        say(json_text(loaded_json(done)))
    else:
        if done.moved:
            say_moved(done.moved, False)
        say(*_lines(done))


def _lines(done: Loaded) -> Iterator[str]:
    if done.terms:
        yield f"Terms of {len(done.terms)} {'item' if len(done.terms) == 1 else 'items'} changed."
    none = TAKE_AWAY[0]
    for model in done.terms[:_MOST]:
        changes = [one for one in done.changes if one.model == model]
        if not changes:
            yield f"  {model}: signed anew as they were; they were in doubt"
        elif changes[0].first:
            yield f"  {model}, new: {'; '.join(f'{one.name} {one.after}' for one in changes)}"
        else:
            yield f"  {model}: {'; '.join(f'{one.name} {one.before or none} → {one.after or none}' for one in changes)}"
    if len(done.terms) > _MOST:
        yield f"  and {len(done.terms) - _MOST} more: gearkeep stock terms"
    if not done.terms and not done.moved:
        yield "Nothing changed: the vault holds all of it."
    for note in done.notes:
        yield f"note: {ended(note)}"


def loaded_json(done: Loaded) -> dict[str, object]:
    """All of it, uncut."""
    moved = done.moved
    return {"store": done.store, "act": "receipt", "delivery": given_note(done.note) if moved else None,
            "received": done.received, "again": done.again, "did": list(moved.did) if moved else [],
            "pieces": moved.pieces if moved else {}, "needs_reset": moved.needs_reset if moved else {},
            "terms": list(done.terms),
            "changes": [{"model": one.model, "field": one.name, "before": one.before, "after": one.after}
                        for one in done.changes],
            "notes": [*(moved.notes if moved else ()), *done.notes]}
