"""Luminaires of the vault, as an address plan takes them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from vault.actions.luminaire import all_current, driver_models
from vault.db import queries
from vault.db.audit import Progress, quiet
from vault.db.heads import heads_near
from vault.db.queries import RecordRow
from vault.db.session import Session
from vault.domain.address_items import Item, Slot, Track, circuit_track, line_track
from vault.domain.circuit_rules import CircuitMember, check_circuit
from vault.domain.driver import DriverModel
from vault.domain.findings import Finding
from vault.domain.record import Reason, Record
from vault.domain.schema import words
from vault.domain.settings import Control, Gear, Protocol
from vault.domain.site import Circuit, Line
from vault.domain.tag import shown
from vault.trust.statements import Kind

TWO_VERSIONS = "it has two newest versions; settle them first"
# Number and share of a central circuit (DIN V VDE V 0108-100:2010 4.4.6); inrush and leakage are told by `circuit show`.
_SHARE_RULES = frozenset({"circuit-share", "circuit-load"})


@dataclass(slots=True, kw_only=True)
class Site:
    """What the vault knows of lines, circuits and driver models."""

    lines: Mapping[str, Line]
    circuits: Mapping[str, Circuit]
    models: Mapping[str, DriverModel]

    @classmethod
    def of(cls, session: Session) -> Site:
        """As it stands."""
        return cls(lines=all_current(session, Kind.LINE), circuits=all_current(session, Kind.CIRCUIT),
                   models=driver_models(session))


@dataclass(slots=True, kw_only=True)
class Gathered:
    """Luminaires by what they need: an address on a line, or a place on a central circuit. Items of a luminaire bear one key
    on its line, and one with the circuit's name behind it on a circuit. tags: key -> tag, of luminaires in the vault.
    """

    on_lines: list[Item] = field(default_factory=list)
    on_circuits: list[Item] = field(default_factory=list)
    members: dict[str, dict[str, CircuitMember]] = field(default_factory=dict)
    tags: dict[str, str] = field(default_factory=dict)

    def add(self, site: Site, key: str, reference: str, place: str, lines: Sequence[str], circuit: str | None,
            gears: Sequence[Gear], *, stays: str = "", set_on: str | None = None) -> None:
        """One luminaire."""
        slots = tuple(short_slots(gears))
        if slots:
            self.on_lines.append(Item(key=key, reference=reference, place=place, lines=tuple(lines), slots=slots, stays=stays,
                                      set_on=set_on))
        central = central_slots(gears)
        held = site.circuits.get(circuit or "")
        if held is not None and held.central:
            central.setdefault(held.name, [])
        for name, some in central.items():
            self.on_circuits.append(Item(
                key=f"{key} {name}", reference=reference, place=place, lines=(name,), stays=stays, slots=tuple(some)))
            self.members.setdefault(name, {})[key] = circuit_member(reference or key, gears, site.models)

    def line_tracks(self, site: Site, also: Iterable[str] = ()) -> list[Track]:
        """Every line that a luminaire names, and others, by name."""
        names = {name for item in self.on_lines for name in (*item.lines, *((item.set_on,) if item.set_on else ()))} | set(also)
        return [line_track(name, site.lines.get(name)) for name in sorted(names)]

    def circuit_tracks(self, site: Site) -> list[Track]:
        """Every central circuit that a luminaire names."""
        names = {name for item in self.on_circuits for name in item.lines}
        return [circuit_track(name, site.circuits.get(name)) for name in sorted(names)]

    def load_findings(self, site: Site) -> dict[str, tuple[Finding, ...]]:
        """Load of each central circuit against the share that its rule leaves."""
        return {name: tuple(finding for finding in check_circuit(site.circuits[name], list(members.values()))
                            if finding.rule in _SHARE_RULES)
                for name, members in self.members.items() if name in site.circuits}


def controls(gears: Iterable[Gear]) -> Iterator[tuple[int, str, Gear, Control]]:
    """(gear, path, gear itself, control) of everything that may bear an address. A channel with control data of its own
    speaks for itself, and its gear then only where it has an address too.
    """
    for number, gear in enumerate(gears):
        of_channels = [(at, channel.control) for at, channel in enumerate(gear.settings.channels, 1)
                       if channel.control is not None]
        own = gear.settings.control
        if own is not None and (not of_channels or isinstance(own.short_address, int) or own.central_circuit is not None):
            yield number, "control", gear, own
        for at, control in of_channels:
            yield number, f"channels.{at}.control", gear, control


def short_slots(gears: Iterable[Gear]) -> list[Slot]:
    """Everything of a luminaire that needs a short address, or has one."""
    return [Slot(gear=number, path=path, duty=_duty(gear, path),
                 address=control.short_address if isinstance(control.short_address, int) else None)
            for number, path, gear, control in controls(gears)
            if control.protocol is Protocol.DALI or isinstance(control.short_address, int)]


def central_slots(gears: Iterable[Gear]) -> dict[str, list[Slot]]:
    """Everything that needs an address on a central circuit, by its circuit."""
    found: dict[str, list[Slot]] = {}
    for number, path, gear, control in controls(gears):
        if control.central_circuit is not None:
            address = control.central_address if isinstance(control.central_address, int) else None
            found.setdefault(control.central_circuit, []).append(
                Slot(gear=number, path=path, duty=_duty(gear, path), address=address))
    return found


def _duty(gear: Gear, path: str) -> str:
    said = words(gear.duty).replace("-", " ")
    return said if path == "control" else f"{said}, channel {path.split('.')[1]}"


def circuit_member(shown_as: str, gears: Sequence[Gear], models: Mapping[str, DriverModel]) -> CircuitMember:
    """What a luminaire draws; a figure that one gear lacks is not known of the whole."""
    loads = [model.supply_current_ma if (model := models.get(gear.model or "")) else None for gear in gears]
    return CircuitMember(tag_shown=shown_as, load_ma=None if None in loads else sum(load or 0 for load in loads))


def gather_vault(session: Session, site: Site, *, lines: Sequence[str] = (), share: bool = False,
                 progress: Progress = quiet) -> Gathered:
    """Luminaires in service: all, or those on some lines with everything on the central circuits that they name.

    share: those without a line go on any of the lines. Raises VerificationError.
    """
    found = Gathered()
    rows = heads_near(session, lines=lines, central_circuits=()) if lines else queries.head_rows(session)
    if share:
        rows += [row for row in queries.head_rows(session) if row.line is None]
    _take(session, site, rows, found, lines if share else (), progress)
    if lines:
        gather_circuits(session, site, found, [track.name for track in found.circuit_tracks(site)])
    return found


def gather_circuits(session: Session, site: Site, found: Gathered, names: Sequence[str]) -> None:
    """Add everything on some central circuits: whether a circuit is overfull is told of the whole of it."""
    rows = {row.seq: row for name in names for row in queries.head_rows(session, circuit=name)}
    if names:
        rows |= {row.seq: row for row in heads_near(session, lines=(), central_circuits=names)}
    others = Gathered()
    _take(session, site, list(rows.values()), others, (), quiet)
    known = {item.key for item in found.on_circuits}
    found.on_circuits += [item for item in others.on_circuits if item.lines[0] in names and item.key not in known]
    found.tags |= others.tags
    for name in names:
        found.members[name] = others.members.get(name, {}) | found.members.get(name, {})


def _take(session: Session, site: Site, rows: Sequence[RecordRow], found: Gathered, share_over: Sequence[str],
          progress: Progress) -> None:
    by_tag: dict[str, list[RecordRow]] = {}
    for row in rows:
        if row.reason != Reason.RETIRED:
            by_tag.setdefault(row.tag, []).append(row)
    for done, (tag, heads) in enumerate(by_tag.items(), 1):
        newest = max(heads, key=lambda row: (row.version, row.seq))
        record: Record = queries.record_at(session, newest).body
        key = shown(tag)
        found.tags[key] = tag
        found.add(site, key, record.reference or "", record.place, (record.line,) if record.line else share_over,
                  record.circuit, record.gears, stays=TWO_VERSIONS if len(heads) > 1 else "")
        for row in heads:
            if row is not newest:
                _also_at(found, key, queries.record_at(session, row).body)
        progress(done, len(by_tag))


def _also_at(found: Gathered, key: str, other: Record) -> None:
    """The addresses that another newest version of the same luminaire has are in use too."""
    for at, item in enumerate(found.on_lines):
        if item.key == key and item.lines == ((other.line,) if other.line else ()):
            known = {slot.address for slot in item.slots}
            more = tuple(slot for slot in short_slots(other.gears) if slot.address is not None and slot.address not in known)
            found.on_lines[at] = replace(item, slots=(*item.slots, *more))


__all__ = ["Gathered", "Site", "central_slots", "gather_circuits", "gather_vault", "short_slots"]
