"""What has to hold of a vault that a killed process left."""

from __future__ import annotations

import itertools
import sqlite3
from dataclasses import dataclass, field

from crash_acts import ACTS, ROWS_PER_SCHEDULE, Life, backup_of, schedule_of
from small_vault import SmallVault
from sqlalchemy import func, select

from vault.actions.backup import back_up
from vault.actions.handover import hand_over
from vault.actions.keeping import upgrade_vault
from vault.db import tables
from vault.db.audit import run_audit
from vault.db.session import Session, Vault
from vault.db.tables import MAIN, STOCK
from vault.domain.stock import Act
from vault.errors import GearkeepError


@dataclass(slots=True, kw_only=True)
class Tally:
    """What many kills did. lost: acknowledged and gone. unacknowledged: kept although nobody was told."""

    kills: int = 0
    acknowledged: int = 0
    lost: int = 0
    unacknowledged: int = 0
    problems: list[str] = field(default_factory=list)


def _places(session: Session) -> dict[bytes, tuple[int, int]]:
    j = tables.journal.c
    return {bytes(row.digest): (row.log, row.seq) for row in session.connection.execute(select(j.digest, j.log, j.seq))}


def _whole(session: Session, life: Life) -> list[str]:
    """What one transaction wrote stands there whole or not at all."""
    r, g, m = tables.record.c, tables.gear.c, tables.movement.c
    if life.act == "handover":
        found: dict[str, int] = {}
        for reference in session.connection.execute(select(r.reference).where(r.reference.like("S%.%.%"))).scalars():
            found[reference.rpartition(".")[0]] = found.get(reference.rpartition(".")[0], 0) + 1
        return [f"{many} rows of schedule {name}" for name, many in found.items() if many != ROWS_PER_SCHEDULE]
    fitted = set(session.connection.execute(select(g.serial).where(g.serial.like("S%.%"))).scalars())
    issued = set(session.connection.execute(select(m.serial).where(m.act == int(Act.ISSUE))).scalars())
    return [f"serial {serial} is in one journal alone" for serial in fitted ^ issued]


def _same_bytes_again(vault: Vault, life: Life) -> list[str]:
    """What was being appended when the process died is appended again: it is there once."""
    if not life.meant.is_file() or len(meant := life.meant.read_bytes()) < 2:
        return []
    with vault.reading() as session:
        before = session.size(MAIN) + session.size(STOCK)
    digest = vault.append_signed(meant[1:], meant[0]).digest
    vault.append_signed(meant[1:], meant[0])
    j = tables.journal.c
    with vault.reading() as session:
        grown = session.size(MAIN) + session.size(STOCK) - before
        many = session.connection.execute(select(func.count()).where(j.digest == digest)).scalar_one()
    return [] if grown <= 1 and many == 1 else [f"sent again, it is there {many} times and the journal grew by {grown}"]


def _backups(life: Life, told: list[bytes]) -> list[str]:
    """Whatever bears a backup's name is whole and holds what was acknowledged with it; none acknowledged is missing."""
    problems = [f"backup {number} is gone" for number in range(len(told)) if not backup_of(life, number).is_file()]
    for number in (number for number in range(len(told) + 1) if backup_of(life, number).is_file()):
        copy = Vault(str(backup_of(life, number)))
        with copy.reading() as session:
            missing = set(told[: number + 1]) - _places(session).keys()
            faults = run_audit(session).faults
        copy.close()
        problems += [f"backup {number} lacks {len(missing)} statements and has {len(faults)} faults"] if missing or faults else []
    return problems


def _backup_again(vault: Vault, life: Life) -> list[str]:
    """The backup that was being made is made again under its name."""
    number = next(number for number in itertools.count() if not backup_of(life, number).is_file())
    back_up(vault, out=backup_of(life, number))
    left = [path.name for path in life.small.folder.glob(f"{backup_of(life, number).name}.part*")]
    return [f"left behind: {left}"] if left else []


def _resume(vault: Vault, life: Life, told: list[bytes]) -> list[str]:
    if life.act == "append":
        return _same_bytes_again(vault, life)
    if life.act == "backup":
        return _backups(life, told) + _backup_again(vault, life)
    if life.act == "handover":
        done = hand_over(life.desk(vault, "I01"), schedule_of(life, 0))
        return [] if len(done.accepted) == ROWS_PER_SCHEDULE else [f"the schedule is not taken again: {done.rejected}"]
    ACTS[life.act](life)(1_000_000)
    return []


def _integrity(small: SmallVault) -> list[str]:
    if small.server_address is not None:
        return []
    with sqlite3.connect(small.path) as raw:
        said = raw.execute("PRAGMA integrity_check").fetchall()
    raw.close()
    return [] if said == [("ok",)] else [f"integrity_check: {said}"]


def inspect(life: Life, known: set[bytes], tally: Tally) -> None:
    """Open the vault that a killed process left, hold it against what was acknowledged, and go on with the act.

    known: the digests that were there before; those that are there now are added.
    """
    said = life.acknowledged.read_text(encoding="ascii").split("\n")[:-1] if life.acknowledged.is_file() else []
    told = [bytes.fromhex(line) for line in said]
    broken = life.acknowledged.with_suffix(".broken")
    problems = [broken.read_text(encoding="utf-8")] if broken.is_file() else []
    try:
        if life.act == "migration":
            upgrade_vault(life.small.address)
        vault = Vault(life.small.address)
        with vault.reading() as session:
            places = _places(session)
            faults = run_audit(session).faults
            problems += [f"audit: {len(faults)} faults, first {fault.what}: {fault.where}: {fault.why}" for fault in faults[:1]]
            problems += _whole(session, life)
        order = [places[digest] for digest in told if digest in places]
        if any(b <= a for log in (MAIN, STOCK) for a, b in zip(
                [p for p in order if p[0] == log], [p for p in order if p[0] == log][1:], strict=False)):
            problems.append("statements stand in another order than they were acknowledged in")
        tally.lost += len((known | set(told)) - places.keys())
        tally.unacknowledged += len(places.keys() - known - set(told))
        if life.act != "migration":
            problems += _resume(vault, life, told)
            with vault.reading() as session:
                known.update(_places(session))
        vault.close()
        life.close()
    except GearkeepError as problem:
        problems.append(f"{problem.kind}: {problem.what}")
        life.close()
    tally.kills += 1
    tally.acknowledged += len(told)
    tally.problems += [*problems, *_integrity(life.small)]


def digests_of(small: SmallVault) -> set[bytes]:
    """Every statement of a vault, whatever its schema's age."""
    vault = Vault(small.address, check=False)
    with vault.reading() as session:
        found = set(_places(session))
    vault.close()
    return found

