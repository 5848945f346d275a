"""Stores and bins as they are typed: a slip of the finger must not make a second MAIN."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from difflib import get_close_matches

from vault.actions.stock_told import listed
from vault.db import stock_rows
from vault.db.session import Session
from vault.db.stock_places import bins_of
from vault.domain.stock import Act, Movement
from vault.errors import UsageProblem
from vault.spares.stock_state import StockState

_BRINGS = frozenset({Act.RECEIPT, Act.RETURN, Act.COUNT, Act.ORDER, Act.RESERVE})


def refuse_near_store(session: Session, store: str | None) -> None:
    """Raises UsageProblem (near-name) for a store whose name another's is but for capitals and blanks."""
    if store is not None:
        _refuse_near("store", store, stock_rows.stores(session))


def place_notes(session: Session, body: Movement, before: StockState) -> Iterator[str]:
    """Stores that this movement names first, in words. before: of the models that it moves.

    Raises UsageProblem (near-name) for a store or a bin that is another's but for capitals and blanks.
    """
    places = {(shelf.store, shelf.bin) for shelf in before.shelves}
    # Where the models lie already needs no look at everything that was ever moved.
    if not {body.store, body.to_store or body.store} <= {store for store, _ in places}:
        yield from _new_stores(body, stock_rows.stores(session))
    for store, bins in _bins(body).items():
        fresh = sorted(name for name in bins if (store, name) not in places)
        held = bins_of(session, store) if fresh else []
        for name in fresh:
            _refuse_near("bin", name, held, f" in {store}")


def _new_stores(body: Movement, known: Sequence[str]) -> Iterator[str]:
    for store in filter(None, (body.store, body.to_store)):
        _refuse_near("store", store, known)
        if known and store not in known and (store == body.to_store or body.act in _BRINGS):
            near = get_close_matches(store.casefold(), [one.casefold() for one in known], n=1, cutoff=0.7)
            meant = next((one for one in known if near and one.casefold() == near[0]), None)
            yield (f"{store} is a new store beside {listed(known)}."
                   + (f" Where {meant} was meant, transfer it there: gearkeep stock transfer." if meant else ""))


def _bins(body: Movement) -> dict[str, set[str]]:
    found: dict[str, set[str]] = {body.store: {line.bin for line in body.lines if line.bin}}
    if body.to_store is not None:
        found.setdefault(body.to_store, set()).update(
            there for line in body.lines if (there := line.to_bin or line.bin) and (line.to_bin or body.to_store != body.store))
    return found


def _refuse_near(what: str, name: str, known: Iterable[str], where: str = "") -> None:
    same = [one for one in known if _bare(one) == _bare(name)]
    if same and name not in same:
        raise UsageProblem(f"There is no {what} {name}{where}, but {same[0]}.", kind="near-name", hint=f"Type it as {same[0]}.")


def _bare(name: str) -> str:
    return "".join(name.casefold().split())

