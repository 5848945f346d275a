"""What hangs on a circuit or a line, held against its limits."""

from __future__ import annotations

from dataclasses import dataclass

from vault.actions.handover import address_uses
from vault.actions.luminaire import all_current, current, driver_models
from vault.db import queries
from vault.db.session import Session
from vault.domain.addresses import check_line
from vault.domain.circuit_rules import CircuitMember, check_circuit
from vault.domain.driver import DriverModel
from vault.domain.findings import Finding
from vault.domain.record import Reason, Record
from vault.domain.tag import shown
from vault.trust.statements import Kind


@dataclass(frozen=True, slots=True, kw_only=True)
class Wired:
    """How many luminaires hang there, and what the rules say of them together."""

    luminaires: int
    findings: tuple[Finding, ...]


def _records(session: Session, *, line: str | None = None, circuit: str | None = None) -> list[tuple[str, Record]]:
    rows = queries.head_rows(session, line=line, circuit=circuit)
    return [(row.tag, queries.record_at(session, row).body) for row in rows if row.reason != Reason.RETIRED]


def _member(tag: str, record: Record, models: dict[str, DriverModel]) -> CircuitMember:
    known = [models.get(gear.model or "") for gear in record.gears]

    def every(name: str) -> list[int] | None:
        figures = [getattr(model, name) for model in known if model is not None]
        return figures if len(figures) == len(known) and None not in figures else None

    loads, inrush, leakage = every("supply_current_ma"), every("inrush_b16"), every("leakage_ua")
    # One figure that is missing makes the sum unknown; it is never left out as if it were nought.
    return CircuitMember(tag_shown=shown(tag), load_ma=sum(loads) if loads else None,
                         inrush_b16=min(inrush) if inrush else None, leakage_ua=sum(leakage) if leakage else None)


def on_circuit(session: Session, name: str) -> Wired:
    """Everything on a circuit against its breaker and the local rule."""
    circuit, models = current(session, Kind.CIRCUIT, name), driver_models(session)
    held = _records(session, circuit=name)
    members = [_member(tag, record, models) for tag, record in held]
    return Wired(luminaires=len(held), findings=tuple(check_circuit(circuit, members)) if circuit and members else ())


def on_line(session: Session, name: str) -> Wired:
    """Everything on a line: addresses unique and in range, not more gear than it may hold."""
    line, held = current(session, Kind.LINE, name), _records(session, line=name)
    uses = [use for tag, record in held for use in address_uses(shown(tag), name, record.gears)]
    circuits = all_current(session, Kind.CIRCUIT)
    return Wired(luminaires=len(held),
                 findings=tuple(check_line(line, uses, circuits=circuits)) if line and uses else ())
