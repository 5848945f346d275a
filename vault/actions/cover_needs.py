"""The need classes of a vault: groups of the index, one signed record of each class read, verified and held against it."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence, Set
from dataclasses import dataclass, replace
from typing import Any

from vault.actions.cover_unsettled import Unsettled, unsettled
from vault.actions.doubt_findings import place_doubts
from vault.actions.held_rating import held_rating
from vault.db import needs as groups_in
from vault.db import queries
from vault.db.needs import Grouped, NeedGroup
from vault.db.session import Session
from vault.domain.findings import Finding
from vault.domain.rating import Rating
from vault.domain.record import Record
from vault.domain.site import Circuit, Line
from vault.domain.tag import from_bytes
from vault.errors import UsageProblem
from vault.spares.coverage import EXAMPLES, Need, alike_circuit, alike_line, need_of
from vault.trust.statements import Kind


@dataclass(frozen=True, slots=True, kw_only=True)
class Needs:
    """classes: by number of pieces, most first. groups, places: of each class in that order, what of the index is in it and an
    example place. unsettled: luminaires counted in no class.
    """

    classes: Sequence[Need]
    groups: Sequence[tuple[NeedGroup, ...]]
    places: Sequence[str]
    unsettled: tuple[Unsettled, ...]


class _Catalogue:
    """What records name, each read and verified once."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self._rows = {kind: {row.name: row for row in queries.catalogue(session, kind)} for kind in (Kind.LINE, Kind.CIRCUIT)}
        self._lines: dict[str | None, Line | None] = {None: None}
        self._circuits: dict[str | None, Circuit | None] = {None: None}
        self._ratings: dict[tuple[str, int], tuple[Rating, ...]] = {}
        self._doubts: dict[tuple[str, str | None, str | None], tuple[Finding, ...]] = {}

    def line(self, name: str | None) -> Line | None:
        """What of a line tells on a spare."""
        if name not in self._lines:
            self._lines[name] = alike_line(self._body(Kind.LINE, name))
        return self._lines[name]

    def circuit(self, name: str | None) -> Circuit | None:
        """What of a circuit tells on a spare."""
        if name not in self._circuits:
            self._circuits[name] = alike_circuit(self._body(Kind.CIRCUIT, name))
        return self._circuits[name]

    def _body(self, kind: Kind, name: str | None) -> Any:
        row = self._rows[kind].get(name or "")
        return None if row is None else queries.catalogue_body(self._session, kind, row)

    def ratings(self, code: str, revision: int) -> tuple[Rating, ...]:
        """The revision that is named, where the vault has it, and the newest where that is another; none where it has none.

        A rating that was loaded anew under a number is held against all that name the number: never less strict than a fit.
        """
        if (code, revision) not in self._ratings:
            rows = queries.catalogue(self._session, Kind.RATING, code)
            wanted = [row for row in rows if row.revision == revision and row is not rows[-1]] + rows[-1:]
            self._ratings[code, revision] = tuple(queries.catalogue_body(self._session, Kind.RATING, row) for row in wanted)
        return self._ratings[code, revision]

    def doubts(self, group: NeedGroup) -> tuple[Finding, ...]:
        """That what a group is judged by (rating, line, circuit) was signed by a key in wrong hands: no spare fits by it."""
        named = group.type_code, group.line, group.circuit
        if named not in self._doubts:
            self._doubts[named] = place_doubts(self._session, *named)
        return self._doubts[named]


def needs_in_service(session: Session, *, type_code: str | None = None, line: str | None = None) -> Needs:
    """Every class in service. Raises VerificationError (bad-index), UsageProblem (not-found) for an unknown type or line."""
    for kind, name in ((Kind.RATING, type_code), (Kind.LINE, line)):
        if name is not None and not queries.catalogue(session, kind, name):
            raise UsageProblem(f"The vault knows no {'type' if kind is Kind.RATING else 'line'} {name}.", kind="not-found",
                               hint="See: gearkeep type list, gearkeep line list.")
    held_back = unsettled(session)
    grouped = _without(session, groups_in.need_groups(session, type_code=type_code, line=line), held_back)
    catalogue = _Catalogue(session)
    alike: dict[object, list[Grouped]] = defaultdict(list)
    for one in grouped:
        group = one.group
        place = catalogue.line(group.line), catalogue.circuit(group.circuit), catalogue.doubts(group)
        alike[group.type_code, group.type_revision, group.duty, group.need, place].append(one)
    apart = {one.tag for one in held_back}
    merged: dict[bytes, tuple[Need, list[NeedGroup], str]] = {}
    for some in alike.values():
        need, place_name = _class(session, catalogue, some, apart)
        groups = [one.group for one in some]
        before = merged.get(need.digest)
        if before is not None:
            need, place_name = _joined(before[0], need), before[2]
            groups = before[1] + groups
        merged[need.digest] = need, groups, place_name
    ordered = sorted(merged.values(), key=lambda one: (-one[0].of.pieces, one[0].digest))
    if type_code is not None or line is not None:
        inside = {tag for tag, _, group in groups_in.groups_of(session, (one.tag for one in held_back))
                  if type_code in (None, group.type_code) and line in (None, group.line)}
        held_back = tuple(one for one in held_back if one.tag in inside)
    return Needs(classes=[one[0] for one in ordered], groups=[tuple(one[1]) for one in ordered],
                 places=[one[2] for one in ordered], unsettled=held_back)


def _without(session: Session, grouped: list[Grouped], held_back: Sequence[Unsettled]) -> list[Grouped]:
    """The groups without luminaires that are unsettled, and with one head of each that has several alike."""
    apart = {one.tag for one in held_back}
    several = set(groups_in.two_heads(session))
    heads: dict[str, list[tuple[tuple[int, int], NeedGroup]]] = defaultdict(list)
    for tag, version, group in groups_in.groups_of(session, apart | several):
        heads[tag].append((version, group))
    less: Counter[NeedGroup] = Counter()
    for tag, found in heads.items():
        newest = max(version for version, _ in found)
        less.update(group for version, group in found if tag in apart or version != newest)
    return [replace(one, pieces=one.pieces - less[one.group], tags=tuple(tag for tag in one.tags if tag not in apart))
            for one in grouped if one.pieces > less[one.group]]


def _class(session: Session, catalogue: _Catalogue, some: list[Grouped], apart: Set[str]) -> tuple[Need, str]:
    """A class and the place of the first of its luminaires. apart: those that it does not count."""
    record, gear = groups_in.held_gear(session, some[0])
    group = some[0].group
    ratings, besides = catalogue.ratings(group.type_code, group.type_revision), catalogue.doubts(group)
    if not ratings:
        ratings, besides = _carried(session, record, besides)
    # The place that is shown is the first one's, and it is one that the class counts.
    first, place = from_bytes(record.tag), record.place
    others = sorted({tag for one in some for tag in one.tags} - {first})
    if first in apart:
        others = others or sorted(set(groups_in.luminaires_of(session, [group])[group]) - apart)
        first, place = others[0], queries.verified_heads(session, others[0])[-1].statement.body.place
    need = need_of(
        gear, ratings, catalogue.line(group.line), catalogue.circuit(group.circuit), pieces=sum(one.pieces for one in some),
        tags=list(dict.fromkeys((first, *others)))[:EXAMPLES], named=(group.type_code, group.type_revision),
        besides=besides)
    return need, place


def _carried(session: Session, record: Record, besides: tuple[Finding, ...]) -> tuple[tuple[Rating, ...], tuple[Finding, ...]]:
    """The few figures that a record carries, which can only stop: what they do not tell is unknown."""
    held = held_rating(session, record)
    return (held.named,), (*besides, held.finding) if held.finding is not None else besides


def _joined(one: Need, other: Need) -> Need:
    tags = tuple(dict.fromkeys((*one.of.tags, *other.of.tags)))[:EXAMPLES]
    return replace(one, of=replace(one.of, pieces=one.of.pieces + other.of.pieces, tags=tags))
