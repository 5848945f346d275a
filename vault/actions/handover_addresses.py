"""Which bus and central addresses are taken, and what is found about those of the next luminaire."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from vault.db import queries
from vault.db.heads import heads_near
from vault.db.session import Session
from vault.domain.addresses import GEAR_ON_A_LINE, SHORT_MAX, AddressUse, check_addresses
from vault.domain.findings import Finding
from vault.domain.record import Reason, Record
from vault.domain.settings import Gear
from vault.domain.site import Circuit, Line
from vault.domain.tag import shown
from vault.exchange.schedule import OpenSchedule


def address_uses(reference: str, line: str | None, gears: Iterable[Gear]) -> list[AddressUse]:
    """Every bus or central address that the gear of a luminaire occupies."""
    found = []
    for gear in gears:
        controls = [c.control for c in gear.settings.channels] + [gear.settings.control]
        for control in controls:
            if control is None:
                continue
            short = control.short_address if isinstance(control.short_address, int) else None
            central = control.central_address if isinstance(control.central_address, int) else None
            if short is not None or central is not None:
                found.append(AddressUse(tag_shown=reference, where=line or "", short_address=short,
                                        central_circuit=control.central_circuit, central_address=central))
    return found


def _places_of(use: AddressUse) -> list[tuple[str, str]]:
    """The line and the central circuit on which an address has to be unique."""
    found = [("line", use.where)] if use.short_address is not None else []
    return found + ([("circuit", use.central_circuit or "")] if use.central_address is not None else [])


@dataclass(slots=True)
class AddressBook:
    """Addresses in use, by the line or the central circuit on which they have to be unique."""

    lines: Mapping[str, Line]
    circuits: Mapping[str, Circuit]
    _uses: dict[tuple[str, str], list[AddressUse]] = field(default_factory=dict)
    _shorts: dict[str, set[int]] = field(default_factory=dict)
    _gear: dict[str, set[tuple[str, int]]] = field(default_factory=dict)

    def remember(self, new: Iterable[AddressUse]) -> None:
        """Add addresses to those in use."""
        for use in new:
            for place in _places_of(use):
                self._uses.setdefault(place, []).append(use)
            if use.short_address is not None:
                self._shorts.setdefault(use.where, set()).add(use.short_address)
                self._gear.setdefault(use.where, set()).add((use.tag_shown, use.short_address))

    def findings(self, uses: Sequence[AddressUse]) -> tuple[Finding, ...]:
        """What is found about the addresses of one more luminaire, which are not in use yet."""
        if self._plainly_free(uses):
            return ()
        others = [other for use in uses for place in _places_of(use) for other in self._uses.get(place, [])]
        return check_addresses(uses, others, lines=self.lines, circuits=self.circuits)

    def _plainly_free(self, uses: Sequence[AddressUse]) -> bool:
        """Whether `check_addresses` would find nothing, told without comparing with every other on the line.

        True for different short addresses that exist, on a line that is known and has room. All else is left to it.
        """
        new: set[int] = set()
        for use in uses:
            short, where = use.short_address, use.where
            if short is None or use.central_circuit is not None or use.central_address is not None:
                return False
            if where != uses[0].where or not where or short in new or not 0 <= short <= SHORT_MAX:
                return False
            if short in self._shorts.get(where, ()):
                return False
            new.add(short)
        if not new:
            return True
        line = self.lines.get(uses[0].where)
        if line is None:
            return False
        return len(self._gear.get(line.name, ())) + len(new) <= (line.gear_max or GEAR_ON_A_LINE)


def remember_others(session: Session, schedule: OpenSchedule, book: AddressBook) -> None:
    """Take in the addresses of luminaires that the schedule does not speak of, on the lines and circuits that it names.

    One that it names in a row that cannot be read keeps its addresses.
    """
    lines = schedule.named("line") if schedule.named("address") else set()
    circuits = schedule.named("central_circuit") if schedule.named("central_address") else set()
    for row in heads_near(session, lines=sorted(lines), central_circuits=sorted(circuits)):
        if row.reason == Reason.RETIRED or schedule.reads(row.reference or ""):
            continue
        record: Record = queries.record_at(session, row).body
        book.remember(address_uses(shown(row.tag), row.line, record.gears))


__all__ = ["AddressBook", "address_uses", "remember_others"]
