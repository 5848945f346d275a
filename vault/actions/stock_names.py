"""Models, stores and bins as they are typed: a slip of the finger must not make a second MAIN."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from difflib import get_close_matches
from pathlib import PurePath

from labels.pictures import PICTURE_SUFFIXES
from vault.actions.desk import Desk
from vault.actions.luminaire import driver_models
from vault.actions.stock_told import listed
from vault.db import stock_rows
from vault.db.session import Session
from vault.db.stock_places import bins_of, delivery_notes, order_numbers
from vault.domain.stock import Act, Movement
from vault.errors import GearkeepError, UsageProblem
from vault.exchange.plain import nearest
from vault.exchange.stock_cells import day_words
from vault.spares.stock_state import Due, StockState

# What is written in one way and another. Between figures it parts them: DN 1-12 is another note than DN 11-2.
_BLANKS_AND_DASHES = re.compile(r"[\s\u2010-\u2015-]+")
_PARTING = re.compile(r"(?<=[0-9])[\s\u2010-\u2015-]+(?=[0-9])")
_BRINGS = frozenset({Act.RECEIPT, Act.RETURN, Act.COUNT, Act.ORDER, Act.RESERVE})


def model_named(session: Session, said: str) -> str:
    """A driver model or an item with terms, typed in any case.

    Raises UsageProblem: not-found with a near name, ambiguous where two differ in nothing but their capitals.
    """
    known, wanted = {*driver_models(session), *stock_rows.supply_terms(session)}, said.strip()
    if wanted in known:
        return wanted
    same = sorted(model for model in known if model.casefold() == wanted.casefold())
    if len(same) > 1:
        raise UsageProblem(f"{wanted} may be any of {', '.join(same)}.", kind="ambiguous",
                           hint="Type the model with its capitals as they are.")
    if not same:
        near = nearest(wanted, known)
        raise UsageProblem(f"The vault does not know the model {wanted}.{f' {near[0].upper()}{near[1:]}' if near else ''}",
                           kind="not-found", hint="See the models with: gearkeep driver list. A new one comes with: "
                                                  "gearkeep driver load FILE, a battery with: gearkeep stock load FILE.")
    return same[0]


def read_model(desk: Desk, said: str) -> str:
    """`model_named` in a session of its own, for a question: raises GearkeepError, since nothing was found, not used wrongly."""
    with desk.vault.reading() as session:
        try:
            return model_named(session, said)
        except UsageProblem as problem:
            raise GearkeepError(problem.what, hint=problem.hint, kind=problem.kind) from problem


def refuse_near_store(session: Session, store: str | None) -> None:
    """Raises UsageProblem (near-name) for a store whose name another's is but for capitals and blanks."""
    if store is not None:
        _refuse_near("store", store, stock_rows.stores(session))


def place_notes(session: Session, body: Movement, before: StockState) -> Iterator[str]:
    """Stores that this movement names first, in words. before: of the models that it moves.

    Raises UsageProblem (near-name) for a store or a bin that is another's but for capitals and blanks, and for a new delivery
    note or order that is another's but for capitals, blanks and dashes; file-name for a new store or bin that is called like
    a picture or a list.
    """
    _refuse_near_numbers(session, body, before)
    places = {(shelf.store, shelf.bin) for shelf in before.shelves}
    # Where the models lie already needs no look at everything that was ever moved.
    if not {body.store, body.to_store or body.store} <= {store for store, _ in places}:
        yield from _new_stores(body, stock_rows.stores(session))
    for store, bins in _bins(body).items():
        fresh = sorted(name for name in bins if (store, name) not in places)
        held = bins_of(session, store) if fresh else []
        for name in fresh:
            _refuse_near("bin", name, held, f" in {store}")
            if name not in held:
                _refuse_file("bin", name)


def _new_stores(body: Movement, known: Sequence[str]) -> Iterator[str]:
    for store in filter(None, (body.store, body.to_store)):
        _refuse_near("store", store, known)
        if store not in known:
            _refuse_file("store", store)
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


def open_orders(due: Iterable[Due]) -> str:
    """PO-7 (10, due 2027-05-31) and PO-8 (2, due 2027-06-30)."""
    return listed([f"{one.order} ({one.pieces}, due {day_words(one.due_day)})" for one in due])


def _refuse_near_numbers(session: Session, body: Movement, before: StockState) -> None:
    if body.act is Act.RECEIPT and body.delivery is not None:
        _refuse_near("delivery note", body.delivery, delivery_notes(session), bare=bare_number)
    if body.act in (Act.RECEIPT, Act.ORDER, Act.CANCEL) and body.order is not None:
        due = [one for one in before.orders if one.model in {line.model for line in body.lines}]
        _refuse_near("order", body.order, order_numbers(session), bare=bare_number,
                     hint=f" Open for what it names: {open_orders(due)}." if due else "")


def _refuse_near(what: str, name: str, known: Iterable[str], where: str = "", *, bare: Callable[[str], str] | None = None,
                 hint: str = "") -> None:
    bare = bare or _bare
    same = [one for one in known if bare(one) == bare(name)]
    if same and name not in same:
        raise UsageProblem(f"There is no {what} {name}{where}, but {same[0]}.", kind="near-name",
                           hint=f"Nothing was signed. Type it as {same[0]}.{hint}")


def _refuse_file(what: str, name: str) -> None:
    """Raises UsageProblem (file-name) for a new name that is plainly a file's: its label was to be read."""
    if PurePath(name).suffix.casefold() in PICTURE_SUFFIXES | {".csv", ".xlsx"}:
        raise UsageProblem(f"{name} is a file's name; no {what} is called so.", kind="file-name",
                           hint=f"Nothing was signed. Type the name of the {what}, or give the picture of a bin's label behind "
                                "--bin, --to or --to-bin.")


def _bare(name: str) -> str:
    return "".join(name.casefold().split())


def bare_number(number: str) -> str:
    """The number of a note or an order without its capitals, blanks and dashes."""
    return _BLANKS_AND_DASHES.sub("", _PARTING.sub("~", number.casefold().strip()))

