"""Stock lists taken in: pieces as receipts on a delivery note, and what is agreed about each item."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any

from vault.actions.desk import Desk
from vault.actions.luminaire import driver_models
from vault.actions.stock import LINES_PER_STATEMENT, Moved, Said, move_stock
from vault.actions.stock_asked import asked_of
from vault.actions.stock_doubts import doubtful_terms
from vault.actions.stock_repeats import Earlier, earlier_lines
from vault.actions.terms_doubts import doubts_of
from vault.actions.unsure import Unsure
from vault.db import stock_rows
from vault.db.audit import Progress, quiet
from vault.db.session import Session
from vault.domain.stock import Act, MovementLine
from vault.domain.terms import Item, ItemTerms, SupplyTerms
from vault.errors import UsageProblem
from vault.exchange.delivery_note import given_note
from vault.exchange.stock_cells import TAKE_AWAY, day_words, term_name, term_words
from vault.exchange.stock_file import StockFile, read_stock_file
from vault.exchange.stock_known import Known
from vault.spares.stock_walk import DAY_S
from vault.trust.statements import Kind

_MOST_LEFT = 5  # items whose blank cells are named


@dataclass(frozen=True, slots=True, kw_only=True)
class TermChanged:
    """One field of an item's terms. name: its column's heading; before, after: as a cell is written, None for nothing.
    first: whether nothing was agreed about the item before.
    """

    model: str
    first: bool
    name: str
    before: str | None
    after: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Loaded:
    """What a stock list changed. moved: None where it named no pieces.

    note: the delivery note, as given or made of the lines. again: lines that stood on it already and added nothing.
    terms: items whose terms changed; changes: what changed of them. notes: sentences to be heard besides those of `moved`.
    """

    store: str
    note: str
    moved: Moved | None
    received: int
    again: int
    terms: tuple[str, ...]
    changes: tuple[TermChanged, ...] = ()
    notes: tuple[str, ...] = ()


def load_stock(desk: Desk, path: Path, *, store: str, order: str | None = None, delivery: str | None = None,
               supplier: str | None = None, sure: bool = False, progress: Progress = quiet) -> Loaded:
    """Take in everything that a file says, or nothing. A line that came on the same delivery note before adds nothing; without
    a note a digest of the lines stands in for it, so that the same list is never received twice.

    sure: what is asked is confirmed. Raises Unsure where something should be looked at again: a last order that is past, a
    replacement that does not do, lines without a note that came before on one; StockProblem; GearkeepError: delivery-differs
    where the note was received with another quantity, and what `move_stock` raises.
    """
    with desk.vault.reading() as session:
        known = Known(drivers=driver_models(session), terms=stock_rows.supply_terms(session))
        listed = read_stock_file(path, known=known, today_day=desk.now_s() // DAY_S)
        wanted = tuple(line for line in listed.lines if line.quantity)
        doubts = doubts_of(session, changed_terms(session, listed.terms), listed.said_at, today=desk.now_s() // DAY_S,
                           progress=progress)
        earlier = earlier_lines(session, store, wanted) if wanted else ()
        asked, hints = _asked(store, wanted, earlier, delivery, listed.note)
        figures, ways = asked_of(session, Act.RECEIPT, store, wanted, order) if wanted else ((), ())
    note = delivery or listed.note
    if (doubts.asked or asked or figures) and not sure:
        raise Unsure(path.name, (*doubts.asked, *asked, *figures), (*hints, *ways) or (_SIGN_ALL,))
    same = tuple(one for one in earlier if one.whole)
    notes = (*doubts.told, *doubts.asked, *_left(listed, known), *_came(wanted, same, delivery, listed.note))
    with desk.vault.writing() as session:
        changed = changed_terms(session, listed.terms)
        sign_terms(session, desk, tuple(after for _, after in changed))
        moved = move_stock(session, desk, act=Act.RECEIPT, store=store, lines=wanted,
                           said=Said(order=order, delivery=note, supplier=supplier)) if wanted else None
    again = moved.again if moved else 0
    if moved and delivery is None:
        # What stands of a note that nobody gave is said in `notes`.
        moved = replace(moved, notes=tuple(one for one in moved.notes if note not in one))
    return Loaded(store=store, note=note, moved=moved, received=len(wanted) - again, again=again,
                  terms=tuple(after.model for _, after in changed), changes=tuple(_changes(changed)), notes=notes)


_SIGN_ALL = "Correct the file, or say --yes to sign it all the same."


def _these(count: int) -> str:
    return "The same line" if count == 1 else f"The same {count} lines"


def _on(one: Earlier) -> str:
    note = given_note(one.delivery)
    return f"on {day_words(one.day)} " + (f"on delivery {note}" if note else "without a delivery note")


def _asked(store: str, wanted: tuple[MovementLine, ...], earlier: tuple[Earlier, ...], delivery: str | None,
           own: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What is asked about lines without a note that came before, all or most, on another one, or typed; and what can be done."""
    if delivery is not None or not earlier or any(one.delivery == own for one in earlier):
        return (), ()
    first, other = earlier[0], "If it is another one, give its own note with --delivery, or say --yes."
    note = given_note(first.delivery)
    if not first.whole:
        known = f"give its note: --delivery {note}; only what did not come on it is added." if note else (
            "load what did not come alone, and sign what differs with: gearkeep stock count.")
        known = f"If this is that delivery, {known}"
        count = f"{first.shared} of these" if first.shared < len(wanted) else "these"
        return (f"{count} {len(wanted)} lines came into {store} {_on(first)}",), (known, other)
    known = (f"If this is that delivery, give its note: --delivery {note}; it then adds nothing." if note else
             "If this is that delivery, nothing is to be done.")
    return (f"{_these(len(wanted)).replace('T', 't', 1)} came into {store} {_on(first)}",), (known, other)


def _came(wanted: tuple[MovementLine, ...], same: tuple[Earlier, ...], delivery: str | None, own: str) -> tuple[str, ...]:
    """That the lines came before, where they add nothing or count once more."""
    if delivery is None and any(one.delivery == own for one in same):
        first = next(one for one in same if one.delivery == own)
        return (f"{_these(len(wanted))} came {_on(first)} and {'adds' if len(wanted) == 1 else 'add'} nothing. If another "
                "delivery brought them once more, give its note: --delivery NOTE.",)
    others = [one for one in same if one.delivery != delivery]
    if not others or any(one.delivery == delivery for one in same):
        return ()
    return (f"{_these(len(wanted))} came {_on(others[0])} too; they are received once more.",)


def _left(listed: StockFile, known: Known) -> tuple[str, ...]:
    """That blank cells left what is agreed."""
    told = []
    for model, names in listed.left.items():
        held, said = known.terms.get(model), listed.terms.get(model, {})
        kept = [f"{term_name(name)} {term_words(name, value)}" for name in names
                if name not in said and held is not None and (value := getattr(held, name)) is not None]
        told += [f"{model} {', '.join(kept)}"] if kept else []
    if not told:
        return ()
    more = f"; and {len(told) - _MOST_LEFT} more items" if len(told) > _MOST_LEFT else ""
    return (f"Blank cells leave what is agreed: {'; '.join(told[:_MOST_LEFT])}{more}. Write {TAKE_AWAY[0]} in a cell to take its "
            "value away.",)


def _changes(changed: tuple[tuple[ItemTerms, ItemTerms], ...]) -> list[TermChanged]:
    return [TermChanged(model=after.model, first=before == ItemTerms(model=before.model), name=term_name(one.name),
                        before=_cell(one.name, before), after=_cell(one.name, after))
            for before, after in changed for one in fields(ItemTerms)
            if getattr(before, one.name) != getattr(after, one.name)]


def _cell(name: str, terms: ItemTerms) -> str | None:
    value = getattr(terms, name)
    return None if value is None else term_words(name, value)


def changed_terms(session: Session, said: Mapping[str, Mapping[str, Any]]) -> tuple[tuple[ItemTerms, ItemTerms], ...]:
    """(before, after) of every item whose terms differ from what is agreed.

    Raises UsageProblem: not-found for what is neither a driver model nor called a battery or another item, bad-value for a
    driver called something else, a price without a currency.
    """
    if not said:
        return ()
    held = stock_rows.supply_terms(session, said)
    drivers, doubtful = driver_models(session), doubtful_terms(session)
    changed = []
    for model, given in said.items():
        before = held.get(model, ItemTerms(model=model))
        after = replace(before, **given)
        if model not in drivers and after.item in (None, Item.DRIVER):
            raise UsageProblem(f"The vault does not know the driver model {model}.", kind="not-found",
                               hint="Load its data first with: gearkeep driver load FILE. What is no driver gets battery or "
                                    "other in the column item.")
        if model in drivers and after.item not in (None, Item.DRIVER):
            raise UsageProblem(f"{model} is a driver model of the catalogue, not a {after.item.name.lower()}.", kind="bad-value",
                               hint="Leave the column item blank, or give the item another name.")
        if after.price_cents is not None and after.currency is None:
            raise UsageProblem(f"The price of {model} has no currency.", kind="bad-value",
                               hint="Add a column currency, such as EUR.")
        if after != before or model in doubtful:
            changed.append((before, after))
    return tuple(changed)


def sign_terms(session: Session, desk: Desk, lines: tuple[ItemTerms, ...]) -> None:
    """Sign the terms of items, in statements of up to 500."""
    for start in range(0, len(lines), LINES_PER_STATEMENT):
        body = SupplyTerms(time_s=desk.now_s(), main_size=session.size(), lines=lines[start : start + LINES_PER_STATEMENT])
        session.append(Kind.SUPPLY_TERMS, body, desk.key())


def set_terms(session: Session, desk: Desk, said: Mapping[str, Mapping[str, Any]]) -> tuple[str, ...]:
    """Sign the terms of items as changed; those that stay the same add nothing. Returns the items whose terms changed.

    Raises as `changed_terms` does.
    """
    lines = tuple(after for _, after in changed_terms(session, said))
    sign_terms(session, desk, lines)
    return tuple(line.model for line in lines)


def read_terms(desk: Desk, model: str | None = None) -> dict[str, ItemTerms]:
    """Model -> what is agreed about it, of one item or of all."""
    with desk.vault.reading() as session:
        return stock_rows.supply_terms(session, None if model is None else [model])
