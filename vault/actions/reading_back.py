"""Readbacks beside the records that they belong to: what to ask, what differs, and which version bears their digest."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from vault.actions.changes import gear_position, said_of
from vault.actions.desk import Desk
from vault.actions.fitting import candidates
from vault.actions.luminaire import View, driver_models, find_tag, full_gears, view
from vault.db import queries
from vault.db.session import Session
from vault.domain.driver import DriverModel
from vault.domain.findings import Finding
from vault.domain.readback import Comparison, compare, full_match, readback_digest, readback_findings
from vault.domain.readback_form import Ask, asked_of
from vault.domain.record import Record
from vault.domain.schema import words
from vault.domain.settings import Gear
from vault.domain.tag import shown
from vault.errors import GearkeepError, UsageProblem
from vault.exchange.readback_file import ONLY_GEAR, Readback


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is to be read of a luminaire. asks: by gear, its duty in words."""

    tag: str
    version: int
    asks: Mapping[str, list[Ask]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """A readback held against the newest record. gears: duty -> comparisons. read_at: the version that it names itself."""

    seen: View
    read_at: int | None
    gears: Mapping[str, tuple[Comparison, ...]]
    findings: tuple[Finding, ...]

    @property
    def matched(self) -> bool:
        """Every setting of every gear that the file speaks of was read and agrees."""
        return all(map(full_match, self.gears.values()))


@dataclass(frozen=True, slots=True, kw_only=True)
class Proven:
    """Whether one gear's readback is the one that a version bears. signed: the digest there, None when it bears none."""

    duty: str
    digest: bytes
    signed: bytes | None

    @property
    def same(self) -> bool:
        """It is."""
        return self.digest == self.signed


def _model(session: Session, gear: Gear, spare: str | None) -> DriverModel | None:
    """The model of the driver that is read: the named spare, else the one on record, None where nobody knows it."""
    return candidates(session, spare, False)[0] if spare is not None else driver_models(session).get(gear.model or "")


def asked(desk: Desk, tag_text: str, *, gear: str | None, spare: str | None) -> Asked:
    """What to read of one gear, or of all. spare: the model that hangs there, when the record names another."""
    with desk.vault.reading() as session:
        seen = view(session, find_tag(session, tag_text))
        gears = full_gears(seen.record)
        chosen = gears if gear is None else (gears[gear_position(seen.record, gear)],)
        models = [_model(session, one, spare) for one in chosen]
    return Asked(tag=seen.tag, version=seen.record.version, asks={
        words(one.duty): asked_of(one, fixed_window=model is not None and model.fixed_window)
        for one, model in zip(chosen, models, strict=True)})


def _of_this(readback: Readback, seen: View) -> None:
    if readback.tag is not None and readback.tag != seen.tag:
        raise GearkeepError(f"The readback was read from {shown(readback.tag)}, not from {shown(seen.tag)}.",
                            kind="other-luminaire", hint="Give the readback of this luminaire.")


def _spoken_of(readback: Readback, gears: tuple[Gear, ...]) -> list[Gear]:
    """The gears that a readback speaks of. Raises UsageProblem (no-readback, no-gear) when it speaks of others."""
    there = {words(gear.duty): gear for gear in gears}
    if ONLY_GEAR in readback.gears:
        said_of(readback.gears, gears[0], len(gears))
        return [gears[0]]
    strangers = [name for name in readback.gears if name not in there]
    if strangers:
        raise UsageProblem(f"The luminaire has no {' and no '.join(strangers)} gear.", kind="no-gear",
                           hint=f"It has: {', '.join(there)}.")
    return [there[name] for name in readback.gears]


def check_readback(desk: Desk, tag_text: str, readback: Readback, *, spare: str | None) -> Checked:
    """A readback against the newest record, with the tolerance of the driver model. Raises GearkeepError: other-luminaire."""
    with desk.vault.reading() as session:
        seen = view(session, find_tag(session, tag_text))
        _of_this(readback, seen)
        compared = {}
        for gear in _spoken_of(readback, full_gears(seen.record)):
            model = _model(session, gear, spare)
            compared[words(gear.duty)] = compare(
                gear, said_of(readback.gears, gear, len(seen.record.gears)),
                spare_tolerance_permille=model.tolerance_permille if model is not None else None,
                fixed_window=model is not None and model.fixed_window)
    return Checked(seen=seen, read_at=readback.version, gears=compared,
                   findings=tuple(found for rows in compared.values() for found in readback_findings(rows)))


def prove_readback(desk: Desk, tag_text: str, readback: Readback, *, version: int | None) -> tuple[int, list[Proven]]:
    """Whether a version (None: the newest) bears the digest of this readback, gear by gear; and that version.

    Raises GearkeepError: other-luminaire; UsageProblem: no-version.
    """
    with desk.vault.reading() as session:
        seen = view(session, find_tag(session, tag_text))
        _of_this(readback, seen)
        record = seen.record if version is None else _version(session, seen, version)
        return record.version, [
            Proven(duty=words(gear.duty), signed=gear.readback_digest,
                   digest=readback_digest(said_of(readback.gears, gear, len(record.gears))))
            for gear in _spoken_of(readback, record.gears)]


def _version(session: Session, seen: View, version: int) -> Record:
    rows = [row for row in queries.versions_of(session, seen.tag) if row.version == version]
    if not rows:
        raise UsageProblem(f"{shown(seen.tag)} has no version {version}.", kind="no-version",
                           hint=f"The newest is version {seen.record.version}.")
    record: Record = queries.record_at(session, rows[-1]).body
    return record
