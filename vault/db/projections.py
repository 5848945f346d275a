"""What each statement adds to the index tables. A pure function of the statement and its place."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from sqlalchemy import Table

from vault.db import tables
from vault.domain.record import Record
from vault.domain.settings import Gear
from vault.domain.stock import Movement
from vault.domain.tag import from_bytes
from vault.domain.terms import SupplyTerms
from vault.trust.keys import key_id
from vault.trust.need_digest import need_digest
from vault.trust.statements import (
    Appointment,
    Approval,
    Genesis,
    Grant,
    Kind,
    LabelCopy,
    LabelIssue,
    LabelPlaced,
    LabelSighting,
    LabelWithdrawal,
    Recovery,
    Role,
    SeenLabel,
    Withdrawal,
)
from vault.trust.takeover import TakeOver
from vault.trust.verify import Statement

Row = tuple[Table, dict[str, Any]]


def _signer(seq: int, public_key: bytes, code: str, roles: frozenset[Role], *, until_s: int | None = None,
            ends_others: bool | None = None) -> Row:
    mask = sum(1 << role for role in roles)
    return tables.signer, {"seq": seq, "key_id": key_id(public_key), "public_key": public_key, "code": code,
                           "roles": mask, "until_s": until_s, "ends_others": ends_others}


def _address(value: object) -> int | None:
    return value if isinstance(value, int) else None


def _gear(seq: int, number: int, gear: Gear) -> Row:
    control = gear.settings.control
    return tables.gear, {
        "seq": seq, "number": number, "duty": int(gear.duty), "model": gear.model, "serial": gear.serial,
        "short_address": _address(control.short_address) if control else None,
        "central_circuit": control.central_circuit if control else None,
        "central_address": _address(control.central_address) if control else None, "need": need_digest(gear.settings),
    }


def _record(seq: int, statement: Statement, record: Record) -> Iterator[Row]:
    yield tables.record, {
        "seq": seq, "tag": from_bytes(record.tag), "version": record.version, "digest": statement.digest,
        "prefix": statement.digest[:16], "type_code": record.fixture_type.code,
        "type_revision": record.fixture_type.revision, "place": record.place, "line": record.line,
        "circuit": record.circuit, "reference": record.reference, "reason": int(record.reason),
        "time_s": record.time_s, "open_stops": record.open_stops, "key_id": statement.key_id,
    }
    for number, prefix in enumerate(record.predecessor_prefixes, 1):
        yield tables.record_predecessor, {"seq": seq, "number": number, "prefix": prefix}
    for number, gear in enumerate(record.gears, 1):
        yield _gear(seq, number, gear)
    if record.taken_from is not None:
        origin = record.taken_from
        yield tables.adopted, {"seq": seq, "log_id": origin.log_id, "tag": from_bytes(origin.tag), "version": origin.version,
                               "digest": origin.digest}


def movement_rows(seq: int, body: Movement) -> Iterator[Row]:
    """The rows of a movement's lines."""
    for number, line in enumerate(body.lines, 1):
        yield tables.movement, {
            "seq": seq, "number": number, "act": int(body.act), "store": body.store, "model": line.model,
            "quantity": line.quantity, "bin": line.bin, "serial": line.serial,
            "tag": from_bytes(line.tag) if line.tag else None, "time_s": body.time_s, "to_store": body.to_store,
            "to_bin": line.to_bin, "condition": None if line.condition is None else int(line.condition),
            "made_day": line.made_day, "order_number": body.order, "delivery": body.delivery, "due_day": body.due_day,
            "supplier": body.supplier, "stream": None if body.stream is None else int(body.stream), "reason": body.reason,
        }


def _supply_terms(seq: int, body: SupplyTerms) -> Iterator[Row]:
    for number, line in enumerate(body.lines, 1):
        yield tables.supply_terms, {
            "seq": seq, "number": number, "model": line.model, "item": None if line.item is None else int(line.item),
            "supplier": line.supplier, "price_cents": line.price_cents, "currency": line.currency, "lead_days": line.lead_days,
            "order_multiple": line.order_multiple, "importance": None if line.importance is None else int(line.importance),
            "last_order_day": line.last_order_day, "replaced_by": line.replaced_by, "count_every_days": line.count_every_days,
            "shelf_life_months": line.shelf_life_months, "time_s": body.time_s,
        }


_EVENT: dict[type[Any], str] = {LabelPlaced: "placed", LabelWithdrawal: "withdrawn", LabelSighting: "sighted"}


def _label_events(seq: int, signer: bytes, body: LabelPlaced | LabelWithdrawal | LabelSighting) -> Iterator[Row]:
    why = body.reason if isinstance(body, LabelWithdrawal) else None
    lines: tuple[LabelCopy | SeenLabel, ...] = body.labels
    for number, line in enumerate(lines, 1):
        found = line if isinstance(line, SeenLabel) else None
        yield tables.label_event, {
            "seq": seq, "number": number, "tag": from_bytes(line.tag), "copy": line.copy, "event": _EVENT[type(body)],
            "why": why, "place": found.place if found else None,
            "record_prefix": found.record_digest if found else None, "time_s": body.time_s, "key_id": signer,
        }


def rows_of(seq: int, statement: Statement) -> Iterator[Row]:
    """(table, row) pairs that a statement at `seq` of its log stands for."""
    body: Any = statement.body
    if isinstance(body, Genesis):
        yield _signer(seq, body.authority_key, "AUTH", frozenset({Role.AUTHORITY}))
    elif isinstance(body, Grant):
        yield _signer(seq, body.public_key, body.code, body.roles, until_s=body.until_s)
    elif isinstance(body, Appointment):
        yield _signer(seq, body.public_key, body.code, frozenset({Role.AUTHORITY}), ends_others=bool(body.ends_others))
    elif isinstance(body, Withdrawal):
        yield tables.signer_withdrawal, {
            "seq": seq, "key_id": body.key_id, "reason": body.reason, "trusted_until": body.trusted_until,
            "trusted_digest": body.trusted_digest}
    elif isinstance(body, Record):
        yield from _record(seq, statement, body)
    elif isinstance(body, Approval):
        yield tables.approval, {"seq": seq, "record_digest": body.record_digest, "accepts": body.accepts,
                                "change_class": int(body.change_class), "key_id": statement.key_id}
    elif isinstance(body, LabelIssue):
        for number, line in enumerate(body.labels, 1):
            yield tables.label, {"seq": seq, "number": number, "tag": from_bytes(line.tag), "copy": line.copy,
                                 "record_prefix": line.record_digest, "carries_settings": line.carries_settings,
                                 "why": None if body.why is None else int(body.why), "time_s": body.time_s,
                                 "key_id": statement.key_id}
    elif isinstance(body, (LabelPlaced, LabelWithdrawal, LabelSighting)):
        yield from _label_events(seq, statement.key_id, body)
    elif isinstance(body, Recovery):
        for number, start in enumerate(range(0, len(body.digests), 32), 1):
            yield tables.recovered_record, {"seq": seq, "number": number, "digest": body.digests[start : start + 32]}
    elif isinstance(body, TakeOver):
        said = body.said
        yield tables.take_over, {"seq": seq, "log_id": body.log_id, "host": body.host, "site": body.site,
                                 "authority_key": body.authority_key, "size": said.size, "root": said.root,
                                 "time_s": body.time_s}
    elif isinstance(body, Movement):
        yield from movement_rows(seq, body)
    elif isinstance(body, SupplyTerms):
        yield from _supply_terms(seq, body)
    else:
        name = {Kind.RATING: "code", Kind.DRIVER_MODEL: "model"}.get(statement.kind, "name")
        yield tables.catalogue, {"seq": seq, "kind": int(statement.kind), "name": getattr(body, name),
                                 "revision": body.revision, "digest": statement.digest}
