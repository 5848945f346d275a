"""From what the store holds and what the luminaires need to what is to be done. Pure; a missing figure is a task too."""

from __future__ import annotations

import shlex
from collections.abc import Iterable, Iterator, Mapping, Set
from dataclasses import dataclass

from vault.domain.tag import shown
from vault.domain.terms import Importance, Item, shelf_life_days
from vault.exchange.stock_cells import counted_days, day_words
from vault.spares.coming import coming, given_up
from vault.spares.coverage_gaps import Gaps
from vault.spares.hold_plan import HoldLine, HoldPlan
from vault.spares.stock_state import BatteryLot, Kept, StockState
from vault.spares.stores import DEFAULT_STORE
from vault.spares.today import Task, Topic

USE_FIRST_DAYS = 90  # batteries that will be too old within


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """A luminaire that somebody has to settle. tag: its nine letters. why: in words. stops: names of open stops, if those are
    why. vital: its gear has an emergency duty."""

    tag: str
    why: str
    stops: tuple[str, ...] = ()
    vital: bool = False


def below_tasks(plan: HoldPlan) -> Iterator[Task]:
    """Models at or below their reorder point, and those of which nobody can tell; of one that is made no more `ending_tasks`
    tells.
    """
    for line in plan.lines:
        vital = line.importance is Importance.VITAL
        topic = Topic.BELOW if vital else Topic.TO_ORDER
        if line.ended:
            continue
        if line.levels is None or line.to_order is None:
            yield Task(topic=topic, what=f"{line.model} {_has(line)}, when to order is unknown (no lead time)", pieces=None,
                       unit="pieces", command="stock load FILE", vital=vital, unknown=True, model=line.model)
        elif line.to_order:
            yield Task(topic=topic, what=f"{line.to_order} of {line.model}: {_has(line)}, order at "
                       f"{line.levels.reorder_point}", pieces=line.to_order, unit="pieces", command="reorder", vital=vital,
                       model=line.model)


def _has(line: HoldLine) -> str:
    kept = f" beside {line.reserved} kept" if line.reserved else ""
    return f"has {line.position}{kept}"


def gap_tasks(gaps: Gaps) -> Iterator[Task]:
    """Fixture types of which no spare on the shelf, or no model at all, can save any gear."""
    uncovered = {gap.need for gap in gaps.uncovered}
    found: dict[tuple[str, bool, str], int] = {}
    for gap in gaps.unsaved:
        why = "no model fits" if gap.need in uncovered else "what fits is kept" if gap.kept else \
            "none on the shelf fits"
        key = (gap.of.ratings[-1].code, gap.of.vital, why)
        found[key] = found.get(key, 0) + gap.pieces
    for (code, vital, why), pieces in found.items():
        yield Task(topic=Topic.NO_SPARE, what=f"{pieces} {'emergency' if vital else 'general'} gear of {code}: {why}",
                   pieces=pieces, unit="gear", command=typed("cover", "--type", code), vital=vital)


def vital_models(plan: HoldPlan, state: StockState) -> frozenset[str]:
    """Models that serve an emergency duty, or that the terms call vital."""
    return frozenset({line.model for line in plan.lines if line.importance is Importance.VITAL}
                     | {model for model, terms in state.terms.items() if terms.importance is Importance.VITAL})


def repair_tasks(state: StockState, waiting: Iterable[Waiting], in_service: Mapping[str, bool],
                 vital: Set[str], *, lead_days: int | None = None,
                 swapped: Mapping[tuple[str, str], int] | None = None) -> Iterator[Task]:
    """Luminaires to be settled, and pieces kept for a swap. in_service: of the luminaires that something is kept for those that
    are not retired, with whether they have an emergency duty. vital: models. lead_days: where the terms tell none.
    swapped: (tag, model) -> POSIX seconds of the last swap that left nothing to be done with that model.
    """
    for one in waiting:
        command = f"approve {one.tag} --as CLASS --because WHY" if one.stops else f"show {one.tag}"
        yield Task(topic=Topic.REPAIR, what=f"{shown(one.tag)}: {one.why}", pieces=1, unit="luminaires", command=command,
                   vital=one.vital, tag=one.tag)
    short = {(store, model): max(-state.free(model, store), 0)
             for store, model in {(kept.store, kept.model) for kept in state.kept}}
    # Whoever reserved first gets what there is.
    for kept in sorted(state.kept, key=lambda kept: -kept.since_day):
        if kept.tag in in_service and (swapped or {}).get((kept.tag, kept.model), -1) >= kept.since_s:
            yield _released(kept, "was swapped")
            continue
        missing = min(short[kept.store, kept.model], kept.pieces)
        short[kept.store, kept.model] -= missing
        yield _kept_task(state, kept, missing, in_service.get(kept.tag), kept.model in vital, lead_days)


def _kept_task(state: StockState, kept: Kept, missing: int, emergency: bool | None, is_vital: bool,
               lead_days: int | None) -> Task:
    tag, vital = shown(kept.tag), bool(emergency) or is_vital
    if emergency is None:
        return _released(kept, "is retired")
    if missing:
        due, late = (sum(one.pieces for one in some(state, kept.model, store=kept.store, lead_days=lead_days))
                     for some in (coming, given_up))
        told = f"{due} on order" + (f", {late} too late to count" if late else "")
        return Task(topic=Topic.REPAIR, what=f"{tag} lacks {missing} of {kept.model}, {told}", pieces=missing,
                    unit="pieces", command="stock list" if due else "reorder", vital=vital, model=kept.model, tag=kept.tag)
    return Task(topic=Topic.REPAIR, what=f"{tag} waits since {day_words(kept.since_day)}: {kept.pieces} of {kept.model}",
                pieces=kept.pieces, unit="pieces", command=typed("swap", kept.tag, "--spare", kept.model), vital=vital,
                model=kept.model, tag=kept.tag)


def _released(kept: Kept, why: str) -> Task:
    """A reservation that is left over."""
    return Task(topic=Topic.REPAIR, what=f"{shown(kept.tag)} {why}; {kept.pieces} of {kept.model} kept", pieces=kept.pieces,
                unit="pieces", command=typed("stock release", kept.model, kept.pieces, "--for", kept.tag, store=kept.store),
                model=kept.model, tag=kept.tag)


def old_driver_tasks(old: Iterable[tuple[str, str, str]]) -> Iterator[Task]:
    """Old drivers that were to go to a store and are on no books. old: tag, model, serial number."""
    for tag, model, serial in old:
        yield Task(topic=Topic.RESET, what=f"old {model} {serial} of {shown(tag)} is on no store's books", pieces=1,
                   unit="pieces", command=typed("stock return", model, 1, "--bin BIN", "--serial", serial), model=model, tag=tag)


def stock_tasks(state: StockState, vital: Set[str]) -> Iterator[Task]:
    """What the store's own figures ask for. vital: models."""
    for due in state.overdue():
        yield Task(topic=Topic.OVERDUE, what=f"{due.pieces} of {due.model}, {counted_days(state.today_day - due.due_day)} late",
                   pieces=due.pieces, unit="pieces", vital=due.model in vital, model=due.model,
                   command=typed("stock receive", due.model, due.pieces, "--order", due.order, store=due.store))
    for lot in state.batteries():
        yield from _battery(lot, lot.model in vital)
    for shelf in state.shelves:
        if shelf.needs_reset:
            yield Task(topic=Topic.RESET, what=f"{shelf.needs_reset} of {shelf.model}{_bin_words(shelf.bin)}",
                       pieces=shelf.needs_reset, unit="pieces", vital=shelf.model in vital, model=shelf.model,
                       command=typed("stock check", shelf.model, shelf.needs_reset, bin_name=shelf.bin, store=shelf.store))
    yield from _counts(state, vital)
    yield from _gone(state, vital)


def _gone(state: StockState, vital: Set[str]) -> Iterator[Task]:
    """Batteries and other items that lay there once and are used up: no plan speaks of what is no driver."""
    for model in sorted({shelf.model for shelf in state.shelves}):
        terms = state.terms.get(model)
        if terms is None or terms.item in (None, Item.DRIVER) or state.usable(model) or state.on_order(model):
            continue
        yield Task(topic=Topic.BELOW if model in vital else Topic.TO_ORDER, what=f"{model}: none is left that may be used",
                   pieces=None, unit="pieces", command=typed("stock order", model, "N", "--order NUMBER --due DAY"),
                   vital=model in vital, model=model)


def _battery(lot: BatteryLot, vital: bool) -> Iterator[Task]:
    where = _bin_words(lot.bin)
    if lot.too_old is None or lot.made_day is None or lot.age_days is None or lot.shelf_life_months is None:
        lacks = "day made" if lot.made_day is None else "shelf life"
        command = (typed("stock count", lot.model, "FOUND", "--made DAY --because WHY", bin_name=lot.bin, store=lot.store)
                   if lot.made_day is None else "stock load FILE")
        yield Task(topic=Topic.BATTERY, what=f"{lot.pieces} of {lot.model}{where}: {lacks} unknown", pieces=lot.pieces,
                   unit="pieces", command=command, vital=vital, unknown=True, model=lot.model)
        return
    left = shelf_life_days(lot.shelf_life_months) - lot.age_days
    if lot.too_old:
        yield Task(topic=Topic.BATTERY, what=f"{lot.pieces} of {lot.model}{where} too old by {counted_days(-left)}",
                   pieces=lot.pieces, unit="pieces", vital=vital, model=lot.model, command=typed(
                       "stock scrap", lot.model, lot.pieces, f"--made {day_words(lot.made_day)} --because old --stream battery",
                       bin_name=lot.bin, store=lot.store))
    elif left <= USE_FIRST_DAYS:
        yield Task(topic=Topic.BATTERY, what=f"{lot.pieces} of {lot.model}{where} too old in {counted_days(left)}: use first",
                   pieces=lot.pieces, unit="pieces", vital=vital, model=lot.model,
                   command=typed("stock list", "--model", lot.model))


def _counts(state: StockState, vital: Set[str]) -> Iterator[Task]:
    for short in state.shortfalls:
        last = state.counted.get((short.store, short.model, short.bin), (0, None))[1]
        if last is None or last < short.day:
            yield Task(topic=Topic.COUNT, what=f"{short.model}{_bin_words(short.bin)}: {short.missing} more taken than lay there",
                       pieces=None, unit="pieces", vital=short.model in vital, unknown=True, model=short.model,
                       command=_count(short.model, short.bin, short.store))
    for one in state.counts_due():
        late = state.today_day - one.due_day
        since = f"due {counted_days(late)} ago" if late else "due today"
        yield Task(topic=Topic.COUNT, what=f"{one.model}{_bin_words(one.bin)}, {since}", pieces=one.pieces, unit="pieces",
                   vital=one.model in vital, model=one.model, command=_count(one.model, one.bin, one.store))


def _count(model: str, bin_name: str, store: str) -> str:
    return typed("stock count", model, "FOUND", "--because WHY", bin_name=bin_name, store=store)


def typed(name: str, *words: str | int, bin_name: str = "", store: str = DEFAULT_STORE) -> str:
    """A command line. Words of the vault are quoted for the shell; options given as one text stand as they are."""
    said = [name, *(str(word) if str(word).startswith("--") else shlex.quote(str(word)) for word in words)]
    said += ["--bin", shlex.quote(bin_name)] if bin_name else []
    return " ".join([*said, *(["--store", shlex.quote(store)] if store != DEFAULT_STORE else [])])


def _bin_words(name: str) -> str:
    return f" in bin {name}" if name else ""
