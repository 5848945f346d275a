"""What of the store's journal is nobody's word, told beside its figures: a sentence for each key that was in wrong hands."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from vault.actions.desk import Desk
from vault.actions.today_tasks import typed
from vault.db.session import Session
from vault.db.stock_doubts import DoubtfulStock, Place, doubtful_stock
from vault.domain.counting import be, counted
from vault.domain.stock import Condition
from vault.domain.tag import shown
from vault.spares.today import Task, Topic

_MOST_NAMED = 3  # bins or items


def stock_doubts(session: Session, models: Iterable[str] | None = None, *, terms_alone: bool = False) -> tuple[str, ...]:
    """A sentence for each signer of whose movements or terms some are in doubt: how many, what to do. models: of these alone.
    terms_alone: no movements.
    """
    found = [one for one in doubtful_stock(session) if one.terms or not terms_alone]
    if models is not None:
        wanted = set(models)
        found = [one for one in found if wanted & set(one.models)]
    by_code: dict[str, list[DoubtfulStock]] = {}
    for one in found:
        by_code.setdefault(one.doubt.code, []).append(one)
    return tuple(_sentence(code, some) for code, some in sorted(by_code.items()))


def read_stock_doubts(desk: Desk, models: Iterable[str] | None = None, *, terms_alone: bool = False) -> tuple[str, ...]:
    """`stock_doubts` in a session of its own."""
    with desk.vault.reading() as session:
        return stock_doubts(session, models, terms_alone=terms_alone)


def doubtful_terms(session: Session) -> frozenset[str]:
    """Items whose newest terms are in doubt: the same terms are signed again."""
    return frozenset(model for one in doubtful_stock(session) for model in one.terms)


def _sentence(code: str, some: Sequence[DoubtfulStock]) -> str:
    terms = sum(bool(one.terms) for one in some)
    parts = [(len(some) - terms, "movement", ""), (terms, "statement of terms", "statements of terms")]
    told = " and ".join(counted(number, one, many) for number, one, many in parts if number)
    return (f"{told} by {code}, whose key was in wrong hands, {be(len(some))} in doubt. "
            f"{' '.join(_to_do(some))} Each is named by: gearkeep audit.")


def _to_do(some: Sequence[DoubtfulStock]) -> Iterator[str]:
    places = dict.fromkeys(place for one in some for place in one.places)
    keeps = dict.fromkeys(f"{model} for {shown(tag)}" for one in some for model, tag in one.keeps)
    orders = dict.fromkeys(f"{order} of {model}" for one in some for model, order in one.orders)
    terms = dict.fromkeys(model for one in some for model in one.terms)
    if places:
        yield f"Count again (gearkeep stock count): {_listed([_place_words(place) for place in places])}."
    if keeps:
        yield f"Reserve or release again: {_listed(list(keeps))}."
    if orders:
        yield f"Order or cancel again: {_listed(list(orders))}."
    if terms:
        yield f"Look at the terms and load them again (gearkeep stock load): {_listed(list(terms))}."


def _place_words(place: Place) -> str:
    store, model, name, condition = place
    returned = ", needing a reset," if condition is Condition.NEEDS_RESET else ""
    return f"{model}{returned} in {f'bin {name} of ' if name else ''}{store}"


def _listed(names: Sequence[str]) -> str:
    more = len(names) - _MOST_NAMED
    return "; ".join(names[:_MOST_NAMED]) + (f"; and {more} more" if more > 0 else "")


def doubt_tasks(session: Session) -> Iterator[Task]:
    """A count of each bin that a doubtful movement touched, each item whose terms are in doubt, and what else is to be redone."""
    for one in doubtful_stock(session):
        by = f"with {one.doubt.code}'s key, in doubt"
        for store, model, name, condition in one.places:
            returned = ["--condition needs-reset"] if condition is Condition.NEEDS_RESET else []
            yield _task(Topic.COUNT, f"{model}{f' in {name}' if name else ''}: moved {by}", model, typed(
                "stock count", model, "FOUND", *returned, "--because WHY", bin_name=name, store=store))
        for model, tag in one.keeps:
            yield _task(Topic.COUNT, f"{model} kept for {shown(tag)} {by}", model, "stock list")
        for model, order in one.orders:
            yield _task(Topic.COUNT, f"order {order} of {model} {by}", model, "stock list")
        for model in one.terms:
            yield _task(Topic.TO_ORDER, f"terms of {model} signed {by}", model, "stock load FILE")


def _task(topic: Topic, what: str, model: str, command: str) -> Task:
    return Task(topic=topic, what=what, pieces=None, unit="pieces", unknown=True, model=model, command=command)
