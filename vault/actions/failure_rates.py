"""Failure rates learned from the swaps on record, by driver model and by fixture type."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from itertools import pairwise
from typing import Literal

from vault.actions.desk import Desk
from vault.actions.old_drivers import Fate, fates
from vault.actions.service_hours import Ageing, Group, groups_of, strange_words
from vault.db import queries
from vault.db.session import Session
from vault.db.swaps_seen import Span, Swap, first_s, swaps
from vault.domain.settings import Duty
from vault.errors import UsageProblem
from vault.spares.alarm import Alarm, AlarmRule, expected_false_alarms, watch
from vault.spares.burning_hours import YEAR_H, HoursTable
from vault.spares.failure_rate import CREDIBLE_PERMILLE, GammaRate, prior
from vault.spares.stock_walk import DAY_S
from vault.trust.statements import Kind

By = Literal["model", "type"]
NOT_ON_RECORD = "model not on record"
MANY_ENTRIES = 200_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What rates are learned with. models, types: these alone, or all where neither is named. since_s: what came before does
    not count. ageing: weigh hours by temperature. by_year: calendar years (UTC) apart.
    """

    models: tuple[str, ...] = ()
    types: tuple[str, ...] = ()
    since_s: int = 0
    hours: HoursTable = field(default_factory=HoursTable)
    ageing: Ageing | None = None
    before: GammaRate = field(default_factory=prior)
    credible_permille: int = CREDIBLE_PERMILLE
    rule: AlarmRule = field(default_factory=AlarmRule)
    by_year: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class YearSeen:
    """One calendar year. hours: of exposure; expected: failures at the prior's mean; failures: seen."""

    year: int
    hours: float
    expected: float
    failures: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Rate:
    """What is known of one model's or type's failures.

    gear_days: calendar days in service. burning_h, standby_h: what they come to. hours: of exposure, all under power,
    weighed by temperature where asked for. failures: swaps, but for drivers that were not faulty, or damaged from outside;
    undecided: of the failures, those whose cause is still looked for. pieces: in service now; next_year_h: their exposure in
    a year to come. expected: failures at the prior's mean. after: the belief now; `before` again with no exposure.
    """

    by: By
    name: str
    pieces: int
    gear_days: float
    burning_h: float
    standby_h: float
    hours: float
    failures: int
    not_faulty: int
    damaged: int
    undecided: int
    expected: float
    before: GammaRate
    after: GammaRate
    alarm: Alarm
    next_year_h: float
    years: tuple[YearSeen, ...]

    @property
    def prior_alone(self) -> bool:
        """Whether nothing was seen yet."""
        return self.hours == 0 and self.failures == 0

    @property
    def next_year_failures(self) -> float:
        """Mean failures in a year to come of the gear in service now."""
        return self.after.expected_failures(self.next_year_h)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rates:
    """Rates by model, then by type, each by name. notes: what they rest on, in sentences.

    false_alarms: mean number of false alarms among all of them.
    """

    asked: Asked
    rates: tuple[Rate, ...]
    groups: tuple[Group, ...]
    false_alarms: float
    notes: tuple[str, ...]

    def of(self, by: By, name: str) -> Rate | None:
        """The rate of one model or type, None where none of its gear ever served."""
        return next((one for one in self.rates if (one.by, one.name) == (by, name)), None)

    def belief(self, by: By, name: str) -> GammaRate:
        """What is believed of its failures per hour: the prior alone where none ever served."""
        found = self.of(by, name)
        return found.after if found else self.asked.before

    @property
    def alarms(self) -> tuple[Rate, ...]:
        """Those that fail faster than was believed."""
        return tuple(one for one in self.rates if one.alarm.raised)


def failure_rates(desk: Desk, asked: Asked, tell: Callable[[str], None] = lambda _: None) -> Rates:
    """Learn the rates. tell: is told of a step that takes a while.

    Raises UsageProblem (not-found) for a model or type that the vault does not know.
    """
    with desk.vault.reading() as session:
        if session.size() > MANY_ENTRIES:
            tell(f"Adding up the time in service of a journal of {session.size()} entries; a million take about ten seconds.")
        return rates_in(session, asked, now_s=desk.now_s())


def rates_in(session: Session, asked: Asked, *, now_s: int) -> Rates:
    """`failure_rates` within a session that is open."""
    seen = swaps(session)
    counted = [swap for swap in seen.swaps if asked.since_s <= swap.time_s < now_s]
    failed = list(zip(counted, fates(session, counted), strict=True))
    spans = years(max(asked.since_s, first_s(session)), now_s) if asked.by_year else [Span(start_s=asked.since_s, end_s=now_s)]
    groups = groups_of(session, spans, now_s=now_s, hours=asked.hours, ageing=asked.ageing)
    rates = []
    sides: tuple[tuple[By, tuple[str, ...], Kind], ...] = (
        ("model", asked.models, Kind.DRIVER_MODEL), ("type", asked.types, Kind.RATING))
    for by, named, kind in sides:
        side = _Side(by=by, asked=asked, spans=spans, groups=_by_name(by, groups), failed=_by_swap(by, failed))
        wanted = named if asked.models or asked.types else sorted({*side.groups, *side.failed})
        _refuse_unknown(session, kind, [name for name in wanted if name not in side.groups and name not in side.failed
                                        and name != NOT_ON_RECORD])
        rates += [side.rate(name) for name in wanted]
    return Rates(asked=asked, rates=tuple(rates), groups=tuple(groups),
                 false_alarms=expected_false_alarms(one.alarm for one in rates),
                 notes=tuple(_notes(asked, groups, counted, seen.without_past)))


def years(start_s: int, end_s: int) -> list[Span]:
    """Calendar years (UTC) from one second to before another, the first and the last as far as they go."""
    first, last = (datetime.fromtimestamp(at, UTC).year for at in (min(start_s, end_s), end_s))
    edges = [int(datetime(year, 1, 1, tzinfo=UTC).timestamp()) for year in range(first, last + 2)]
    return [Span(start_s=max(start_s, start), end_s=min(end_s, end)) for start, end in pairwise(edges)]


def _by_name(by: By, groups: Iterable[Group]) -> dict[str, list[Group]]:
    found: dict[str, list[Group]] = {}
    for one in groups:
        found.setdefault(one.served.type_code if by == "type" else one.served.model or NOT_ON_RECORD, []).append(one)
    return found


def _by_swap(by: By, failed: Iterable[tuple[Swap, Fate]]) -> dict[str, list[tuple[Swap, Fate]]]:
    found: dict[str, list[tuple[Swap, Fate]]] = {}
    for swap, fate in failed:
        if by == "type":
            found.setdefault(swap.type_code, []).append((swap, fate))
        elif swap.number is not None:
            found.setdefault(swap.model or NOT_ON_RECORD, []).append((swap, fate))
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class _Side:
    """All models, or all types."""

    by: By
    asked: Asked
    spans: Sequence[Span]
    groups: dict[str, list[Group]]
    failed: dict[str, list[tuple[Swap, Fate]]]

    def rate(self, name: str) -> Rate:
        """What one of them comes to."""
        groups, failed, asked = self.groups.get(name, []), self.failed.get(name, []), self.asked
        per_year = [self._year(groups, failed, number) for number in range(len(self.spans))]
        hours, failures = sum(one.hours for one in per_year), sum(one.failures for one in per_year)
        lived = [(group, sum(map(group.part, range(len(self.spans))))) for group in groups]
        return Rate(
            by=self.by, name=name, pieces=sum(group.served.pieces for group in groups),
            gear_days=sum(sum(group.served.seconds) for group in groups) / DAY_S,
            burning_h=sum(part * group.year.burning for group, part in lived),
            standby_h=sum(part * group.year.standby for group, part in lived), hours=hours, failures=failures,
            not_faulty=sum(fate is Fate.NOT_FAULTY for _, fate in failed),
            damaged=sum(fate is Fate.DAMAGED for _, fate in failed),
            undecided=sum(fate is Fate.UNDECIDED for _, fate in failed), expected=asked.before.expected_failures(hours),
            before=asked.before, after=asked.before.after(failures, hours),
            alarm=watch(asked.before, failures, hours, asked.rule),
            next_year_h=sum(group.served.pieces * group.year_exposure_h for group in groups),
            years=tuple(per_year) if asked.by_year else ())

    def _year(self, groups: Sequence[Group], failed: Sequence[tuple[Swap, Fate]], number: int) -> YearSeen:
        span = self.spans[number]
        hours = sum(group.part(number) * group.year_exposure_h for group in groups)
        return YearSeen(year=datetime.fromtimestamp(span.start_s, UTC).year, hours=hours,
                        expected=self.asked.before.expected_failures(hours),
                        failures=sum(fate.is_failure and span.start_s <= swap.time_s < span.end_s
                                     for swap, fate in failed))


def _refuse_unknown(session: Session, kind: Kind, names: Sequence[str]) -> None:
    for name in names:
        if not queries.catalogue(session, kind, name):
            called, list_ = ("driver model", "driver") if kind is Kind.DRIVER_MODEL else ("fixture type", "type")
            raise UsageProblem(f"The vault does not know the {called} {name}.", kind="not-found",
                               hint=f"Run: gearkeep {list_} list.")


def _notes(asked: Asked, groups: Sequence[Group], counted: Sequence[Swap], without_past: int) -> list[str]:
    """What the figures rest on."""
    notes = ["Times are what signers said; a luminaire's first version is when its gear began. They are added up from the index, "
             "which gearkeep audit proves."]
    assumed = sum(group.served.pieces for group in groups if group.assumed)
    if assumed:
        notes.append(f"{asked.hours.default} burning hours a year are assumed for {assumed} gear of which nobody said any.")
    if any(group.served.duty is not Duty.GENERAL for group in groups):
        notes.append(f"Emergency gear: maintained burns {YEAR_H} h a year; non-maintained stands by and burns in its tests "
                     "alone. Hours of standby count too: the electronics are under power.")
    cold = sum(group.served.pieces for group in groups if group.factor is None) if asked.ageing else 0
    if cold:
        notes.append(f"For {cold} gear the ambient temperature of the site or the type is not known: their hours are not "
                     "weighed by it.")
    notes += strange_words(asked.hours, groups)
    unclear = sum(swap.number is None for swap in counted)
    if unclear:
        notes.append(f"{_swaps(unclear)} not say which gear of the luminaire was replaced; of models they count for none.")
    if without_past:
        notes.append(f"{_swaps(without_past, 'has', 'have')} no version before it in this vault and counts for nothing.")
    return notes


def _swaps(count: int, one: str = "does", many: str = "do") -> str:
    return f"1 swap {one}" if count == 1 else f"{count} swaps {many}"
