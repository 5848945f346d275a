"""What goes into a handover pack: every luminaire as it stands in one state of the vault, verified."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from vault.actions.luminaire import View, all_current, view
from vault.db import queries
from vault.db.session import Session
from vault.db.tables import MAIN
from vault.domain.address_items import PLANNED
from vault.domain.apply_means import controls_of
from vault.domain.levels import filled_in
from vault.domain.record import Record
from vault.domain.settings import Control, Duty, Gear, Settings
from vault.domain.site import Circuit, Line
from vault.domain.tag import shown
from vault.trust.statements import Kind
from vault.trust.verify import Statement

Progress = Callable[[int, int], None]
_CATALOGUE = frozenset({Kind.RATING, Kind.DRIVER_MODEL, Kind.CIRCUIT, Kind.LINE})


class _Remembering(Session):
    """The same transaction, in which a part of the catalogue that was verified once is not verified again."""

    def __init__(self, session: Session) -> None:
        super().__init__(session.connection, session.trusted(), session.address)
        self._held: dict[int, Statement] = {}

    def statement(self, seq: int, log: int = MAIN) -> Statement:
        """The statement at a place, verified."""
        if log == MAIN and seq in self._held:
            return self._held[seq]
        made = super().statement(seq, log)
        if log == MAIN and made.kind in _CATALOGUE:
            self._held[seq] = made
        return made


@dataclass(frozen=True, slots=True, kw_only=True)
class BuiltGear:
    """One gear of one luminaire as a version of it says, with what the version's baseline says of settings left out.

    signer: code of whoever signed that version. line, circuit: as the catalogue has them, None where it has none. address: as
    the site writes it, "circuit/number" for a central battery; "" for none.
    """

    seen: View
    record: Record
    signer: str
    gear: Gear
    line: Line | None
    circuit: Circuit | None
    address: str
    states: tuple[str, ...]

    @property
    def tag(self) -> str:
        """As printed and read aloud."""
        return shown(self.seen.tag)

    @property
    def reference(self) -> str:
        """The drawing's name for it, "" for none."""
        return self.record.reference or ""

    @property
    def emergency(self) -> bool:
        """Whether it is of the escape lighting."""
        return self.gear.settings.emergency is not None or self.gear.duty is not Duty.GENERAL

    @property
    def group(self) -> tuple[int, str]:
        """Where it is listed: (0, control line), (1, central battery circuit) or (2, "")."""
        if self.record.line:
            return 0, self.record.line
        control = self.gear.settings.control
        central = control.central_circuit if control is not None else None
        return (1, central) if central else (2, "")


@dataclass(frozen=True, slots=True, kw_only=True)
class AsBuilt:
    """The luminaires in service and those that are gone. gears: in the order in which they are listed."""

    in_service: tuple[View, ...]
    retired: tuple[View, ...]
    gears: tuple[BuiltGear, ...]

    def count(self, state: str) -> int:
        """Luminaires in service in a state of `states_of`."""
        return sum(state in states_of(seen) for seen in self.in_service)


def states_of(seen: View) -> tuple[str, ...]:
    """conflict, frozen, provisional, planned: as far as they are true. None of them may be passed over in silence."""
    held = {"conflict": seen.conflict, "frozen": bool(seen.frozen), "provisional": seen.provisional,
            "planned": seen.record.note == PLANNED}
    return tuple(name for name, true in held.items() if true)


def state_words(state: str) -> str:
    """A state in capitals, as the paper says it."""
    return {"conflict": "IN CONFLICT", "planned": "ADDRESS PLANNED"}.get(state, state.upper())


def gather(session: Session, progress: Progress) -> AsBuilt:
    """Every luminaire, verified. Raises VerificationError at the first that is not good."""
    remembering = _Remembering(session)
    tags = list(dict.fromkeys(row.tag for row in queries.head_rows(remembering)))
    in_service: list[View] = []
    retired: list[View] = []
    for number, tag in enumerate(tags, 1):
        seen = view(remembering, tag)
        (retired if seen.retired and not seen.conflict else in_service).append(seen)
        progress(number, len(tags))
    lines, circuits = all_current(remembering, Kind.LINE), all_current(remembering, Kind.CIRCUIT)
    gears = sorted((gear for seen in in_service for gear in _gears(remembering, seen, lines, circuits)), key=_order)
    return AsBuilt(in_service=tuple(in_service), retired=tuple(retired), gears=tuple(gears))


def _gears(session: Session, seen: View, lines: Mapping[str, Line], circuits: Mapping[str, Circuit]) -> Iterator[BuiltGear]:
    states = states_of(seen)
    # Where versions differ nobody knows which is true: all are shown.
    heads = [head.statement for head in queries.verified_heads(session, seen.tag)] if seen.conflict else [seen.statement]
    for statement in heads:
        record: Record = statement.body
        signer = statement.signer.code if statement.signer is not None else "AUTH"
        line = lines.get(record.line) if record.line else None
        circuit = circuits.get(record.circuit) if record.circuit else None
        for gear in record.gears:
            full = filled_in(gear, record.baseline)
            yield BuiltGear(seen=seen, record=record, signer=signer, gear=full, line=line, circuit=circuit,
                            address=_address(full, line), states=states)


def _address(gear: Gear, line: Line | None) -> str:
    found = []
    for path, control in controls_of(gear.settings):
        channel = "" if path == "control" else f"channel {path.split('.')[1]}: "
        if isinstance(control.short_address, int):
            found.append(f"{channel}{control.short_address + (line.addresses_from if line else 0)}")
        if isinstance(control.central_address, int):
            found.append(f"{channel}{control.central_circuit or '?'}/{control.central_address}")
    return ", ".join(found)


def without_address(settings: Settings) -> Settings:
    """Settings without addresses, groups and scenes: alike for luminaires that differ by their place in the building alone."""
    channels = tuple(replace(channel, control=_bare(channel.control)) for channel in settings.channels)
    return replace(settings, control=_bare(settings.control), channels=channels)


def _bare(control: Control | None) -> Control | None:
    return None if control is None else replace(control, short_address=None, central_address=None, central_circuit=None,
                                                groups=None, scenes=None)


def natural(said: str) -> tuple[Any, ...]:
    """A key to sort names by as people do: D2 before D10."""
    return tuple((0, int(part), "") if part.isdigit() else (1, 0, part) for part in re.split(r"(\d+)", said.casefold()) if part)


def _order(built: BuiltGear) -> tuple[Any, ...]:
    kind, name = built.group
    return (kind, natural(name), not built.address, natural(built.address), natural(built.record.place),
            natural(built.reference), built.seen.tag, built.record.version, built.gear.duty)
