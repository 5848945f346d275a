"""What a process does over and over until it is killed. Each act says what it was told is kept."""

from __future__ import annotations

import itertools
import os
import traceback
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from pathlib import Path

from small_vault import NOW_S, SmallVault, readback, rows_of, write_rows
from sqlalchemy import select

from vault.actions.backup import back_up
from vault.actions.desk import Desk
from vault.actions.handover import hand_over
from vault.actions.keeping import upgrade_vault
from vault.actions.luminaire import find_tag, view
from vault.actions.stock import one_movement
from vault.actions.swap import swap
from vault.db import tables
from vault.db.session import Vault
from vault.db.tables import MAIN, STOCK
from vault.domain.record import Reason
from vault.domain.stock import Act, Movement, MovementLine
from vault.domain.tag import to_bytes
from vault.errors import GearkeepError
from vault.trust.statements import IssuedLabel, Kind, LabelCopy, LabelIssue, LabelPlaced
from vault.trust.verify import sign

SPARE = "CC-40-700"
ROWS_PER_SCHEDULE = 5
REFUSED, BROKEN = 3, 4

# One step of an act: its number -> the digests of what was acknowledged; None when there is nothing left to do.
Step = Callable[[int], list[bytes] | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Life:
    """One process's life: which act on which vault, its number, where it notes what it means to do and what was kept."""

    act: str
    small: SmallVault
    number: int
    opened: list[Vault] = field(default_factory=list)

    def open(self) -> Vault:
        """The vault, opened for this life."""
        self.opened.append(Vault(self.small.address))
        return self.opened[-1]

    def close(self) -> None:
        """Let go of the vault."""
        for vault in self.opened:
            vault.close()

    @property
    def acknowledged(self) -> Path:
        return self.small.folder / f"acknowledged-{self.number}"

    @property
    def refused(self) -> str:
        """What the process was told before it ended by itself; nothing when it did not."""
        path = self.acknowledged.with_suffix(".refused")
        return path.read_text(encoding="utf-8") if path.is_file() else ""

    @property
    def meant(self) -> Path:
        """The signed bytes that were about to be appended, log first."""
        return self.small.folder / f"meant-{self.number}"

    def desk(self, vault: Vault, code: str) -> Desk:
        return Desk(vault=vault, key_source=lambda: self.small.keys[code], now_s=lambda: NOW_S)


def fill(small: SmallVault) -> None:
    """So many spares that no run of swaps runs out, and a label for every luminaire, printed and placed."""
    one_movement(small.desk("S01"), act=Act.RECEIPT, store="MAIN", model=SPARE, quantity=100_000, bin_name="B2", sure=True)
    tags = [to_bytes(tag) for tag in small.tags.values()]
    seen = [small.seen(reference) for reference in small.tags]
    small.sign("I01", Kind.LABEL_ISSUE, LabelIssue(time_s=NOW_S, medium="60x40", labels=tuple(
        IssuedLabel(tag=tag, copy=1, record_digest=one.statement.digest[:8], carries_settings=True)
        for tag, one in zip(tags, seen, strict=True))))
    small.sign("I01", Kind.LABEL_PLACED, LabelPlaced(time_s=NOW_S, labels=tuple(LabelCopy(tag=tag, copy=1) for tag in tags)))


def _append(life: Life) -> Step:
    """Turn about a luminaire's next version and a movement of stock, each in a transaction of its own."""
    vault = life.open()
    with vault.reading() as session:
        # Two processes at once change two luminaires.
        seen = view(session, find_tag(session, life.small.tags[("CH-001", "CH-002")[life.number % 2]]))
        genesis = session.genesis
        # As the last movement says, so that two processes may come in any order.
        main_size = session.statement(session.size(STOCK) - 1, STOCK).body.main_size
    record, digest = seen.record, seen.statement.digest

    def keep(log: int, signed: bytes) -> bytes:
        life.meant.write_bytes(bytes([log]) + signed)
        return vault.append_signed(signed, log).digest

    def step(number: int) -> list[bytes]:
        nonlocal record, digest
        said = f"{life.number} {number}"
        if number % 2:
            line = MovementLine(model=SPARE, quantity=1, bin="B3")
            body = Movement(act=Act.RECEIPT, store="MAIN", time_s=NOW_S, main_size=main_size, order=said, lines=(line,))
            return [keep(STOCK, sign(Kind.STOCK_MOVEMENT, body, life.small.keys["S01"], log_id=genesis.stock_log_id))]
        record = replace(record, version=record.version + 1, predecessors=digest[:16], reason=Reason.SETTINGS_CHANGED, note=said)
        digest = keep(MAIN, sign(Kind.RECORD, record, life.small.keys["I01"], log_id=genesis.log_id))
        return [digest]

    return step


def schedule_of(life: Life, number: int) -> Path:
    """A schedule of a few luminaires that nobody handed over before."""
    row = rows_of("CV-001")[0].removeprefix("CV-001")
    rows = [f"S{life.number}.{number}.{at}{row}" for at in range(ROWS_PER_SCHEDULE)]
    return write_rows(life.small.folder / f"schedule-{life.number}-{number}.csv", rows)


def _newest(vault: Vault, tags: Iterable[str], serial: str | None = None) -> list[bytes]:
    """The digests of the newest versions of some luminaires, and of the movement of a serial number."""
    r, m, j = tables.record.c, tables.movement.c, tables.journal.c
    with vault.reading() as session:
        found = [session.connection.execute(select(r.digest).where(r.tag == tag).order_by(r.version.desc()).limit(1)).scalar_one()
                 for tag in tags]
        return found if serial is None else found + list(session.connection.execute(
            select(j.digest).join(tables.movement, m.seq == j.seq).where(j.log == STOCK, m.serial == serial)).scalars())


def _handover(life: Life) -> Step:
    """A schedule of its own each time."""
    vault = life.open()

    def step(number: int) -> list[bytes]:
        done = hand_over(life.desk(vault, "I01"), schedule_of(life, number))
        if len(done.accepted) != ROWS_PER_SCHEDULE:
            raise AssertionError(f"rows were rejected: {done.rejected}")
        return _newest(vault, (one.tag for one in done.accepted))

    return step


def _swap(life: Life) -> Step:
    """The same luminaire's driver, with a serial number of its own each time; the spare comes from stock."""
    vault = life.open()
    tag = life.small.tags["CH-007"]

    def step(number: int) -> list[bytes]:
        serial = f"S{life.number}.{number}"
        swap(life.desk(vault, "T01"), tag, spare=SPARE, serial=serial, readback=readback(), store="MAIN", bin_name="B2")
        return _newest(vault, [tag], serial)

    return step


def _migration(life: Life) -> Step:
    """The vault's schema is brought up to date; the number of the revision is all there is to acknowledge."""

    def step(_number: int) -> list[bytes] | None:
        upgrade_vault(life.small.address)
        return None

    return step


def backup_of(life: Life, number: int) -> Path:
    """Where a step's backup goes."""
    return life.small.folder / f"backup-{life.number}-{number}.db"


def _backup(life: Life) -> Step:
    """A statement, then a backup that holds it; both are acknowledged together."""
    append = _append(life)
    vault = life.opened[-1]

    def step(number: int) -> list[bytes] | None:
        digests = append(number)
        back_up(vault, out=backup_of(life, number))
        return digests

    return step


ACTS: dict[str, Callable[[Life], Step]] = {
    "append": _append, "handover": _handover, "swap": _swap, "migration": _migration, "backup": _backup}


def live(life: Life, ready: int) -> None:
    """The process's whole life; ends only by being killed, or when the vault refuses (REFUSED) or breaks (BROKEN)."""
    try:
        with life.acknowledged.open("ab", buffering=0) as told:
            step = ACTS[life.act](life)
            os.write(ready, b"r")
            for number in itertools.count():
                digests = step(number)
                if digests is None:
                    os._exit(0)
                told.write(b"".join(digest.hex().encode() + b"\n" for digest in digests))
                os.fsync(told.fileno())
    except GearkeepError as problem:
        life.acknowledged.with_suffix(".refused").write_text(f"{problem.kind}: {problem.what}", encoding="utf-8")
        os._exit(REFUSED)
    except BaseException:
        life.acknowledged.with_suffix(".broken").write_text(traceback.format_exc(), encoding="utf-8")
        os._exit(BROKEN)
