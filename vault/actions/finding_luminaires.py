"""A luminaire found without its label: by place, type, line and address, serial number, or by what hangs beside it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from vault.actions.handover_addresses import address_uses
from vault.actions.luminaire import View, all_current, current, find_tag, view
from vault.actions.neighbourhood import Neighbour, neighbours
from vault.actions.origins import Taken, taken_of
from vault.db import finding, queries, taken
from vault.db.finding import Wanted
from vault.db.session import Session, Vault
from vault.db.taken_mirror import mirror_of
from vault.domain.places import nearest_places
from vault.domain.record import Record
from vault.domain.site import Line
from vault.domain.tag import shown
from vault.errors import UsageProblem
from vault.trust.statements import Kind

Progress = Callable[[int, int], None]
_LISTED = 12  # the nearest, when neighbours are asked for
_TOLD = 6  # neighbours that are told of, to know a luminaire by


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is known of the luminaire; all of it has to hold. address: as the site writes it, on `line`, or without a line
    the central battery address on `circuit`. near: a tag whose neighbours are meant. answering: addresses as the site writes
    them that answered on `line`; meant are those that did not.
    """

    text: str | None = None
    place: str | None = None
    type_code: str | None = None
    line: str | None = None
    address: int | None = None
    circuit: str | None = None
    serial: str | None = None
    near: str | None = None
    answering: frozenset[int] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """One luminaire. addresses: in the site's numbering, central ones behind those on the line. apart: how it lies to the one
    whose neighbours were asked for. states: frozen, conflict, provisional, retired, as far as they are true. taken: whose it is,
    None for this vault's own.
    """

    tag: str
    reference: str | None
    place: str
    line: str | None
    addresses: tuple[int, ...]
    circuit: str | None
    type_code: str
    version: int
    states: tuple[str, ...]
    apart: str | None = None
    taken: Taken | None = None

    def as_json(self) -> dict[str, Any]:
        """The keys that other programs rely on."""
        return {"tag": self.tag, "reference": self.reference, "place": self.place, "line": self.line,
                "addresses": list(self.addresses), "circuit": self.circuit, "type": self.type_code, "version": self.version,
                "states": list(self.states), "apart": self.apart, "taken": self.taken.as_json() if self.taken else None}


@dataclass(frozen=True, slots=True, kw_only=True)
class Search:
    """What was found. offered: where nothing was, what the vault knows that comes closest, in words."""

    found: tuple[Found, ...]
    offered: str = ""


def find(vault: Vault, asked: Asked, progress: Progress = lambda _done, _all: None) -> Search:
    """Luminaires of which everything asked holds, each verified.

    Raises UsageProblem (nothing-asked, bad-search); GearkeepError for a tag that is not known; VerificationError (bad-index).
    """
    _refuse_unclear(asked)
    with vault.reading() as session:
        lines = all_current(session, Kind.LINE)
        beside = _beside(session, asked.near, lines)
        wanted = Wanted(text=asked.text, place=asked.place, type_code=asked.type_code, line=asked.line, circuit=asked.circuit
                        if asked.line is not None or asked.address is None else None, serial=asked.serial,
                        tags=list(beside) if beside is not None else None)
        found = list(_found(session, asked, wanted, lines, beside or {}, progress))
        own = {one.tag for one in found}
        # One that was adopted is found as what it is here.
        found += [one for one in _found_elsewhere(session, asked, wanted, progress)
                  if one.taken is None or not own & set(one.taken.adopted_as)]
        offered = "" if found else _offer(session, asked, lines)
    if beside is not None:
        order = {tag: number for number, tag in enumerate(beside)}
        found.sort(key=lambda one: order[one.tag])
    return Search(found=tuple(found), offered=offered)


def _refuse_unclear(asked: Asked) -> None:
    if asked == Asked():
        raise UsageProblem("Nothing to look for was given.", kind="nothing-asked",
                           hint="Give a text, or --place, --type, --line, --circuit, --serial or --near TAG.")
    if asked.address is not None and asked.line is None and asked.circuit is None:
        raise UsageProblem("An address says nothing without its line.", kind="bad-search",
                           hint="Give --line NAME, or --circuit NAME for a central battery address.")
    if asked.answering is not None and asked.line is None:
        raise UsageProblem("Which line answered is not known.", kind="bad-search", hint="Give --line NAME beside --answering.")


def _beside(session: Session, near: str | None, lines: Mapping[str, Line]) -> dict[str, Neighbour] | None:
    if near is None:
        return None
    return {one.row.tag: one for one in neighbours(session, view(session, find_tag(session, near)), lines)[:_LISTED]}


def _found(session: Session, asked: Asked, wanted: Wanted, lines: Mapping[str, Line],
           beside: Mapping[str, Neighbour], progress: Progress) -> Iterator[Found]:
    tags = dict.fromkeys(row.tag for row in finding.search(session, wanted))
    for done, tag in enumerate(tags, 1):
        progress(done, len(tags))
        heads = queries.verified_heads(session, tag)
        for head in heads:
            _held_against_index(head.row, head.statement.body)
        # One of two that disagree is enough: either may be true.
        if any(finding.says(head.statement.body, wanted) and _addressed(head.statement.body, asked, lines) for head in heads):
            yield _told(view(session, tag), lines, beside[tag].apart if tag in beside else None)


def _found_elsewhere(session: Session, asked: Asked, wanted: Wanted, progress: Progress) -> Iterator[Found]:
    """Luminaires of logs taken over. Serial numbers, neighbours and what answers on a line are looked for in this vault alone."""
    if asked.serial is not None or asked.near is not None or asked.answering is not None:
        return
    by_log = taken.search(session, finding.taken_conditions(wanted))
    for log in taken.taken_logs(session):
        tags = by_log.get(log.log_id, [])
        if not tags:
            continue
        with mirror_of(session, log, tags) as mirror:
            lines = all_current(mirror, Kind.LINE)
            for done, tag in enumerate(tags, 1):
                progress(done, len(tags))
                bodies = [head.statement.body for head in queries.verified_heads(mirror, tag)]
                if any(finding.says(one, wanted) and _addressed(one, asked, lines) for one in bodies):
                    yield replace(_told(view(mirror, tag), lines, None), taken=taken_of(session, log, tag))


def _held_against_index(row: queries.RecordRow, record: Record) -> None:
    signed = (record.place, record.line, record.circuit, record.reference, record.fixture_type.code)
    if (row.place, row.line, row.circuit, row.reference, row.type_code) != signed:
        raise queries.bad_index(f"it says otherwise of where {shown(row.tag)} hangs or of its type than version {row.version}")


def _shorts(record: Record, lines: Mapping[str, Line]) -> list[int]:
    """Short addresses as the site writes them."""
    line = lines.get(record.line or "")
    first = line.addresses_from if line is not None else 0
    uses = address_uses("", record.line, record.gears)
    return sorted({use.short_address + first for use in uses if use.short_address is not None})


def _centrals(record: Record, circuit: str | None) -> list[int]:
    uses = address_uses("", record.line, record.gears)
    return sorted({use.central_address for use in uses if use.central_address is not None
                   and (circuit is None or (use.central_circuit or "").casefold() == circuit.strip().casefold())})


def _addressed(record: Record, asked: Asked, lines: Mapping[str, Line]) -> bool:
    shorts = _shorts(record, lines)
    if asked.answering is not None and not set(shorts) - asked.answering:
        return False
    if asked.address is None:
        return True
    return asked.address in (shorts if asked.line is not None else _centrals(record, asked.circuit))


def states_of(seen: View) -> tuple[str, ...]:
    """frozen, conflict, provisional, retired, as far as they are true."""
    return tuple(word for word, is_so in (("frozen", bool(seen.frozen)), ("conflict", seen.conflict),
                                          ("provisional", seen.provisional), ("retired", seen.retired)) if is_so)


def _told(seen: View, lines: Mapping[str, Line], apart: str | None) -> Found:
    record = seen.record
    return Found(
        tag=seen.tag, reference=record.reference, place=record.place, line=record.line,
        addresses=(*_shorts(record, lines), *_centrals(record, None)), circuit=record.circuit,
        type_code=record.fixture_type.code, version=record.version, states=states_of(seen), apart=apart)


def _offer(session: Session, asked: Asked, lines: Mapping[str, Line]) -> str:
    """What comes closest to a search that found nothing, in a sentence or more."""
    said = []
    if asked.line is not None and asked.line not in lines:
        said.append(f"There is no line {asked.line}; there is {', '.join(sorted(lines)) or 'none'}.")
    if asked.type_code is not None and current(session, Kind.RATING, asked.type_code) is None:
        known = sorted(all_current(session, Kind.RATING))
        said.append(f"There is no type {asked.type_code}; there is {', '.join(known) or 'none'}.")
    place = asked.place or asked.text
    near = nearest_places(place, finding.places(session)) if place is not None else ()
    if near:
        said.append(f"The nearest places are: {'; '.join(near)}.")
    if not said and asked.answering is not None:
        return ""
    return " ".join(said) or "Give less, and look through what is found."


def neighbours_of(session: Session, seen: View, most: int = _TOLD) -> tuple[str, ...]:
    """What hangs beside a luminaire, a line for each, the nearest first: enough to know it by."""
    lines = all_current(session, Kind.LINE)
    return tuple(_said(one) for one in neighbours(session, seen, lines)[:most])


def _said(one: Neighbour) -> str:
    name = one.record.reference or shown(one.row.tag)
    return f"{name}, {one.record.place}, type {one.record.fixture_type.code}: {one.apart}"
