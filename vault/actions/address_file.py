"""Luminaires of a schedule file, as an address plan takes them; what cannot be read whole keeps the address that it says."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from vault.actions.address_items import Gathered, Site, gather_circuits, gather_vault
from vault.actions.handover_site import Site as Catalogue
from vault.db.audit import Progress, quiet
from vault.db.heads import tags_of_references, versions_of_tags
from vault.db.session import Session
from vault.domain.address_items import Item, Slot
from vault.domain.rating import Rating
from vault.domain.settings import Protocol
from vault.domain.site import Line
from vault.errors import GearkeepError
from vault.exchange.schedule import OpenSchedule
from vault.exchange.schedule_headings import names_of, plain_heading
from vault.exchange.schedule_mapping import ScheduleMapping
from vault.exchange.schedule_translation import Translation, translate
from vault.exchange.translation_result import COPY

IN_THE_VAULT = "it is in the vault and not in the file"
_SEVERAL = re.compile(r"\s*[+|]\s*")  # "D1+D2": on either of them
_FIRST = 3  # questions that a refusal tells


@dataclass(frozen=True, slots=True, kw_only=True)
class Unread:
    """A luminaire that cannot be read whole. placed: whether it is planned all the same."""

    reference: str
    why: str
    placed: bool


@dataclass(slots=True, kw_only=True)
class FileGathered:
    """What a file says. rows: key -> the rows of the table, from 1 below its headings, one for each gear of the luminaire.
    names: our name of every column of the table. unread: luminaires that cannot be read whole.
    """

    translation: Translation
    gathered: Gathered = field(default_factory=Gathered)
    rows: dict[str, tuple[int, ...]] = field(default_factory=dict)
    names: Sequence[str] = ()
    unread: list[Unread] = field(default_factory=list)


def gather_file(session: Session, site: Site, path: Path, *, mapping: ScheduleMapping, lines: Sequence[str] = (),
                share: bool = False, progress: Progress = quiet) -> FileGathered:
    """Luminaires of a schedule: all, or those on some lines; and what the vault holds on the same lines beside them.

    A cell under `line` of a file with our own headings may name several lines, "D1+D2". Raises FileProblem, ScheduleProblem,
    GearkeepError (open-questions) where the file alone does not say what it means.
    """
    catalogue = Catalogue(session)
    seen = translate(path, ratings=catalogue.ratings, lines=site.lines, circuits=site.circuits, drivers=site.models,
                     mapping=mapping, progress=progress)
    if seen.questions:
        asked = " ".join(question.says for question in seen.questions[:_FIRST])
        raise GearkeepError(f"{path.name} leaves {len(seen.questions)} questions open. {asked}", kind="open-questions",
                            hint="Answer them once with: gearkeep handover FILE --preview --save-map MAP; then give --map MAP.")
    names = _names(seen)
    table, several = _one_line_each(seen, names, site.lines)
    opened = OpenSchedule(table, ratings=catalogue.ratings, lines=site.lines, circuits=site.circuits, mapping=seen.mapping,
                          told=seen.told)
    held = FileGathered(translation=seen, names=names)
    elsewhere = _in_the_vault(session, opened, held.gathered)
    order = {number: at for at, number in enumerate(seen.row_numbers)}
    read: set[int] = set()
    references: set[str] = set()
    for done, one in enumerate(opened.luminaires(), 1):
        progress(done, len(opened))
        if one is None:
            continue
        read.update(one.rows)
        references.add(one.reference)
        named = several.get(order[one.rows[0]], (one.line,) if one.line else ())
        if lines and not set(named) & set(lines) and not (share and not named):
            continue
        set_on = elsewhere.get(one.reference)
        held.gathered.add(site, one.reference, one.reference, one.place, named or (tuple(lines) if share else ()), one.circuit,
                          one.gears, set_on=set_on if set_on not in (None, one.line) and len(named) == 1 else None)
        held.rows[one.reference] = tuple(order[row] + 1 for row in one.rows)
    rejected = opened.closed().rejected
    told = {item.row: item for item in reversed(seen.retold(rejected))}
    broken = {item.row: set[str]() for item in rejected}
    for item in rejected:
        broken[item.row].add(item.column)
    unread: dict[str, list[_Row]] = {}
    for number, cells in opened.raw_rows.items():
        own = dict(zip(names, map(str.strip, cells), strict=False))
        if number not in read and (not lines or own.get("line", "") in lines):
            problem = told.get(number % COPY)
            why = f": {problem.column}: {problem.problem.rstrip('.')}" if problem else ""
            row = _Row(at=order[number] + 1, cells=own, broken=broken.get(number, set()),
                       why=f"row {number % COPY} cannot be read whole{why}")
            unread.setdefault(own.get("reference") or f"row {number % COPY}", []).append(row)
    for reference, some in unread.items():
        _unreadable(held, reference, some, site, catalogue.ratings)
    # A luminaire in a row that says no address keeps the one that the vault knows.
    _beside(session, site, held, references | {item.reference for item in held.gathered.on_lines})
    return held


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """A row that cannot be read whole. at: its place below the headings, from 1. broken: our columns that are wrong."""

    at: int
    cells: Mapping[str, str]
    broken: set[str]
    why: str


def _names(seen: Translation) -> list[str]:
    """Our name of every column; "" for one that is not read."""
    headings, rows = seen.table[0], seen.table[1:]
    empty = {place for place, heading in enumerate(headings) if not plain_heading(heading)}
    filled = {place for place in empty for row in rows if row[place:place + 1] and row[place].strip()}
    return names_of(headings, seen.mapping, filled)


def _one_line_each(seen: Translation, names: Sequence[str],
                   lines: Mapping[str, Line]) -> tuple[Sequence[tuple[str, ...]], dict[int, tuple[str, ...]]]:
    """The table with the first of several lines in each cell, and for each row below the headings all that it names."""
    several: dict[int, tuple[str, ...]] = {}
    if "line" not in names:
        return seen.table, several
    place = names.index("line")
    table = [seen.table[0]]
    for at, row in enumerate(seen.table[1:]):
        said = row[place].strip() if place < len(row) else ""
        parts = tuple(dict.fromkeys(_SEVERAL.split(said)))
        if said and said not in lines and len(parts) > 1 and all(part in lines for part in parts):
            several[at] = parts
            row = (*row[:place], parts[0], *row[place + 1:])
        table.append(row)
    return table, several


def _in_the_vault(session: Session, opened: OpenSchedule, found: Gathered) -> dict[str, str]:
    """Reference -> the line that the vault has it on, for luminaires that it holds once; their tags are noted."""
    once = {tags[0]: reference for reference, tags in tags_of_references(session, opened.references).items() if len(tags) == 1}
    found.tags |= {reference: tag for tag, reference in once.items()}
    return {once[tag]: row.line for tag, versions in versions_of_tags(session, once).items()
            for row, is_head in versions if is_head and row.line is not None}


# Where one of these is wrong, nobody knows whose address it is, or whether one is needed.
_NEEDED = frozenset({"reference", "place", "line", "gear", "control", "address", "central_circuit", "central_address"})


def _unreadable(held: FileGathered, reference: str, rows: Sequence[_Row], site: Site, ratings: Mapping[str, Rating]) -> None:
    """A luminaire that cannot be read whole: its addresses are in use, and it gets one where its row says enough for that."""
    first = rows[0].cells
    plain = not any(row.broken & _NEEDED for row in rows) and all(_is_dali(row.cells, ratings) for row in rows)
    line = site.lines.get(first.get("line", ""))
    gets = plain and line is not None
    slots = []
    for number, row in enumerate(rows):
        own = site.lines.get(row.cells.get("line") or first.get("line", ""))
        address = _number(row.cells.get("address", ""))
        if address is not None:
            address -= own.addresses_from if own else 0
        if gets or address is not None:
            slots.append(Slot(gear=number, duty=(row.cells.get("gear") or "general").replace("-", " "), address=address))
        central = _number(row.cells.get("central_address", ""))
        circuit = row.cells.get("central_circuit", "")
        if circuit:
            held.gathered.on_circuits.append(Item(
                key=f"{reference} row {row.at} {circuit}", reference=reference, place=first.get("place", ""), lines=(circuit,),
                slots=() if central is None else (Slot(address=central),), stays=row.why))
    name = first.get("line", "")
    if slots and name:
        held.gathered.on_lines.append(Item(key=reference, reference=reference, place=first.get("place", ""), lines=(name,),
                                           slots=tuple(slots), stays="" if gets else rows[0].why))
        held.rows[reference] = tuple(row.at for row in rows)
    held.unread.append(Unread(reference=reference, why=rows[0].why, placed=gets))


def _number(said: str) -> int | None:
    return int(said) if said.isdecimal() and len(said) < 4 else None


def _is_dali(cells: Mapping[str, str], ratings: Mapping[str, Rating]) -> bool:
    """Whether the gear of a row is on DALI: its own cell says so, or its type allows nothing else."""
    said = cells.get("control", "").casefold()
    rating = ratings.get(cells.get("type", ""))
    kinds = {protocol for gear in rating.gears for protocol in gear.protocols or ()} if rating else set()
    return said == "dali" or (not said and kinds == {Protocol.DALI})


def _beside(session: Session, site: Site, held: FileGathered, references: set[str]) -> None:
    """What the vault holds on the lines and circuits of the file, of luminaires that the file does not speak of."""
    mine = held.gathered
    there = Gathered()
    lines = sorted({name for item in mine.on_lines for name in item.lines if name in site.lines})
    if lines:
        there.on_lines = gather_vault(session, site, lines=lines).on_lines
    gather_circuits(session, site, there, sorted({name for item in mine.on_circuits for name in item.lines}))
    for items, found in ((mine.on_lines, there.on_lines), (mine.on_circuits, there.on_circuits)):
        for item in found:
            slots = tuple(slot for slot in item.slots if slot.address is not None)
            # On a circuit a luminaire counts without an address too.
            if item.reference not in references and (slots or items is mine.on_circuits):
                items.append(replace(item, slots=slots, stays=IN_THE_VAULT))
    for name, members in there.members.items():
        mine.members[name] = {**{key: one for key, one in members.items() if one.tag_shown not in references},
                              **mine.members.get(name, {})}


__all__ = ["FileGathered", "gather_file"]
