"""Addresses of a vault's or a schedule's luminaires: planned in walking order, or checked as they stand."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from vault.actions.address_file import FileGathered, gather_file
from vault.actions.address_items import Gathered, Site, gather_vault
from vault.db.audit import Progress, quiet
from vault.db.session import Session, Vault
from vault.domain.address_check import TrackState, check_items
from vault.domain.address_items import Item, Placed, Plan, Track, Unplaced
from vault.domain.address_plan import plan_addresses
from vault.domain.circuit_rules import share_limit_ma
from vault.domain.findings import Finding, Severity
from vault.domain.rules import without_repeats
from vault.domain.site import LineKind
from vault.errors import UsageProblem
from vault.exchange.schedule_mapping import ScheduleMapping
from vault.exchange.tables import read_tables


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is to be planned or checked. lines: only these; share: luminaires without a line go on any of them. order:
    references in the order of the walk. file: a schedule in place of the vault's own luminaires.
    """

    file: Path | None = None
    mapping: ScheduleMapping = field(default_factory=ScheduleMapping)
    lines: Sequence[str] = ()
    share: bool = False
    order: Sequence[str] = ()
    leave_percent: int = 0
    renumber: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """Plans of the control lines and of the central circuits. tags: key -> tag of luminaires in the vault. held: the file.
    strangers: references of the order that no luminaire bears.
    """

    lines: Plan
    circuits: Plan
    findings: tuple[Finding, ...]
    tags: Mapping[str, str]
    held: FileGathered | None = None
    strangers: tuple[str, ...] = ()

    @property
    def tracks(self) -> Mapping[tuple[str, str], Track]:
        """(kind, name) -> line or circuit."""
        return {(track.kind.value, track.name): track for plan in (self.lines, self.circuits) for track in plan.tracks}

    @property
    def placed(self) -> Iterator[tuple[Track, Placed]]:
        """Everything that has an address, lines first."""
        for plan in (self.lines, self.circuits):
            known = {track.name: track for track in plan.tracks}
            yield from ((known[one.track], one) for one in plan.placed)

    def before(self, track: Track, one: Placed) -> tuple[Track, int] | None:
        """Where a moved address was, and its number there as the site writes it."""
        if one.before is None:
            return None
        elsewhere = one.item.set_on not in (None, track.name)
        was_on = self.tracks.get((track.kind.value, one.item.set_on or ""), track) if elsewhere else track
        return was_on, was_on.written(one.before)

    def was(self, track: Track, one: Placed) -> str:
        """The same in words: "was 33", "was 4 on line D2"; "" where nothing is moved."""
        found = self.before(track, one)
        if found is None:
            return ""
        return f"was {found[1]}" + (f" on {found[0].shown}" if found[0].name != track.name else "")

    @property
    def unplaced(self) -> tuple[Unplaced, ...]:
        """Everything that gets none, also what cannot be read."""
        known = {one.item.reference for _, one in self.placed}
        unread = tuple(Unplaced(item=Item(key=one.reference, reference=one.reference, place="", lines=(), slots=()), why=one.why)
                       for one in (self.held.unread if self.held else ()) if one.reference not in known)
        return (*self.lines.unplaced, *self.circuits.unplaced, *unread)

    def tag_of(self, item: Item) -> str | None:
        """The tag of a luminaire in the vault."""
        return self.tags.get(item.key) or self.tags.get(item.key.rpartition(" ")[0])


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedSite:
    """How every line and central circuit stands, and what belongs to none of them."""

    states: tuple[TrackState, ...]
    findings: tuple[Finding, ...]

    @property
    def everything(self) -> tuple[Finding, ...]:
        """All findings."""
        return (*(finding for state in self.states for finding in state.findings), *self.findings)


def read_order(path: Path) -> tuple[str, ...]:
    """References from a file, one a line, or in the first column of a table; a heading "reference" is passed over.

    Raises FileProblem; UsageProblem (bad-order) for a reference that stands twice.
    """
    cells = [row[0].strip() for row in read_tables(path)[0].rows if row and row[0].strip()]
    found = [cell for cell in cells if cell.casefold() != "reference"]
    twice = sorted({cell for cell in found if found.count(cell) > 1}) if len(set(found)) < len(found) else []
    if twice:
        raise UsageProblem(f"{path.name} names {', '.join(twice[:5])} twice.", kind="bad-order",
                           hint="Name each luminaire once, in the order of the walk.")
    return tuple(found)


def plan_site(vault: Vault, asked: Asked, progress: Progress = quiet) -> Planned:
    """A plan for the vault's luminaires or a file's. Signs nothing. Raises UsageProblem (not-found), FileProblem …"""
    with vault.reading() as session:
        return plan_in(session, asked, progress=progress)


def plan_in(session: Session, asked: Asked, *, stays: Mapping[str, str] | None = None, progress: Progress = quiet) -> Planned:
    """The same within a transaction. stays: key -> why a luminaire keeps what it has."""
    site = Site.of(session)
    found, held = _gathered(session, site, asked, progress)
    why = stays or {}

    def planned(items: Sequence[Item], tracks: Sequence[Track]) -> Plan:
        return plan_addresses(items, tracks, order=asked.order, leave_percent=asked.leave_percent, renumber=asked.renumber)

    on_lines = [replace(item, stays=why.get(item.key, item.stays)) for item in found.on_lines]
    on_circuits = [replace(item, stays=why.get(item.key.rpartition(" ")[0], item.stays)) for item in found.on_circuits]
    lines = planned(on_lines, found.line_tracks(site, asked.lines))
    circuits = planned(on_circuits, found.circuit_tracks(site))
    loads = (finding for some in found.load_findings(site).values() for finding in some)
    known = {item.reference for item in (*found.on_lines, *found.on_circuits)}
    return Planned(lines=lines, circuits=circuits, tags=found.tags, held=held,
                   strangers=tuple(name for name in asked.order if name not in known),
                   findings=without_repeats((*lines.findings, *circuits.findings, *loads, *_unread(held))))


def check_site(vault: Vault, asked: Asked, progress: Progress = quiet) -> CheckedSite:
    """Every line and central circuit as it stands. Raises as `plan_site` does."""
    with vault.reading() as session:
        site = Site.of(session)
        found, held = _gathered(session, site, asked, progress)
        also = asked.lines or ([] if held else [name for name, line in site.lines.items()
                                                if line.kind is not LineKind.CENTRAL_BATTERY_BUS])
        lines = check_items(found.on_lines, found.line_tracks(site, also))
        circuits = check_items(found.on_circuits, found.circuit_tracks(site), further=found.load_findings(site))
        loaded = tuple(_with_load(state, found, site) for state in circuits.states)
        wanted = tuple(state for state in lines.states if not asked.lines or state.track.name in asked.lines)
        return CheckedSite(states=(*wanted, *loaded), findings=(*lines.findings, *circuits.findings, *_unread(held)))


def _gathered(session: Session, site: Site, asked: Asked, progress: Progress) -> tuple[Gathered, FileGathered | None]:
    for name in asked.lines:
        if name not in site.lines:
            raise UsageProblem(f"The vault does not know the line {name}.", kind="not-found",
                               hint=f"It knows {', '.join(site.lines) or 'none'}; load others with: gearkeep line load FILE.")
    if asked.share and not asked.lines:
        raise UsageProblem("Luminaires without a line are to be shared out, and no line is named.", kind="no-line",
                           hint="Name the lines that they may go on: --line D1 --line D2.")
    if asked.file is None:
        return gather_vault(session, site, lines=asked.lines, share=asked.share, progress=progress), None
    held = gather_file(session, site, asked.file, mapping=asked.mapping, lines=asked.lines, share=asked.share, progress=progress)
    return held.gathered, held


def _with_load(state: TrackState, found: Gathered, site: Site) -> TrackState:
    circuit = site.circuits.get(state.track.name)
    loads = [member.load_ma for member in found.members.get(state.track.name, {}).values()]
    limit = share_limit_ma(circuit) if circuit else None
    return replace(state, load_ma=None if None in loads else sum(load or 0 for load in loads),
                   load_max_ma=None if limit is None else int(limit))


def _unread(held: FileGathered | None) -> tuple[Finding, ...]:
    """A row that cannot be read may hold any address."""
    return tuple(Finding(rule="row-unreadable", severity=Severity.CARE if one.placed else Severity.UNKNOWN,
                         found="a row that cannot be read whole", allowed="a row that can be read", where=one.reference,
                         source="what cannot be read is unknown", says=f"{one.why[:1].upper()}{one.why[1:]}. Its luminaire "
                         f"{'is planned all the same' if one.placed else 'gets no new address'}.")
                 for one in (held.unread if held else ()))


__all__ = ["Asked", "CheckedSite", "Planned", "check_site", "plan_in", "plan_site", "read_order"]
