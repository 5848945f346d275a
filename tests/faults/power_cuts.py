"""Acts run over the recording layer, and the power cut at random moments of them."""

from __future__ import annotations

import random
import tempfile
from dataclasses import dataclass, field
from pathlib import Path
from unittest.mock import patch

from crash_acts import ACTS, Life
from crash_checks import digests_of
from recorded_writes import Event, Recorder, image, told_in, write_image
from small_vault import SmallVault
from sqlalchemy import Engine, event, select

from vault.actions.keeping import upgrade_vault
from vault.db import tables
from vault.db.address import Address
from vault.db.audit import run_audit
from vault.db.engine import make_engine
from vault.db.session import Vault
from vault.errors import GearkeepError


@dataclass(slots=True, kw_only=True)
class Cuts:
    """What came of many cuts. lost: cuts behind which something acknowledged was gone."""

    cuts: int = 0
    acknowledged: int = 0
    syncs: int = 0
    lost: int = 0
    problems: list[str] = field(default_factory=list)


def recorded(act: str, small: SmallVault, *, steps: int, pragmas: tuple[str, ...]) -> list[Event]:
    """What goes to the disk while an act runs so many times. pragmas: set behind the program's own on every connection."""

    def with_pragmas(address: Address) -> Engine:
        engine = make_engine(address)
        event.listen(engine, "connect", lambda raw, _record: [raw.execute(f"PRAGMA {pragma}") for pragma in pragmas])
        return engine

    small.close()
    recorder = Recorder()
    with patch("vault.db.session.make_engine", with_pragmas), recorder.installed():
        life = Life(act=act, small=small, number=1)
        step = ACTS[act](life)
        for number in range(steps):
            recorder.told(*(step(number) or ()))
        life.close()
    return recorder.events


def _inspect(path: Path, due: set[bytes], migrating: bool) -> tuple[bool, list[str]]:
    """(whether something is missing, what else is wrong) of a vault that a cut left."""
    try:
        if migrating:
            upgrade_vault(str(path))
        vault = Vault(str(path))
        with vault.reading() as session:
            held = {row.digest for row in session.connection.execute(select(tables.journal.c.digest))}
            faults = run_audit(session).faults
        vault.close()
    except GearkeepError as problem:
        return True, [f"{problem.kind}: {problem.what}"]
    return bool(due - held), [f"{fault.what}: {fault.where}: {fault.why}" for fault in faults[:1]]


def cuts(act: str, small: SmallVault, *, steps: int, count: int, seed: int, pragmas: tuple[str, ...] = ()) -> Cuts:
    """Run an act, then cut the power at `count` random moments of what it wrote."""
    known = digests_of(small)
    small.close()
    start = {str(path): path.read_bytes() for path in (small.path,)}
    events = recorded(act, small, steps=steps, pragmas=pragmas)
    chance = random.Random(seed)
    done = Cuts(acknowledged=len(told_in(events)), syncs=sum(one.what == "sync" for one in events))
    for _ in range(count):
        until = events[: chance.randrange(len(events) + 1)]
        with tempfile.TemporaryDirectory() as folder:
            path = write_image(image(start, until, chance), Path(folder))
            lost, problems = _inspect(path, known | told_in(until), act == "migration")
        done.cuts += 1
        done.lost += lost
        done.problems += problems
    return done
