"""A disk that fills up or fails, a file that may not be written, a log beside the file that was cut off."""

from __future__ import annotations

import os
import random
import shutil
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from crash_acts import ACTS, Life
from crash_checks import digests_of
from crash_places import Places
from recorded_writes import Event, Recorder
from small_vault import SmallVault
from sqlalchemy import select

from vault.actions.keeping import sign_checkpoints
from vault.db import tables
from vault.db.audit import Kept, run_audit
from vault.db.session import Vault
from vault.errors import GearkeepError

# SQLite's result codes (https://sqlite.org/rescode.html).
FULL, IOERR_WRITE, IOERR_FSYNC = 13, 778, 1034


@pytest.fixture(scope="module")
def places(tmp_path_factory: pytest.TempPathFactory) -> Places:
    """Small vaults, one for each test that asks."""
    return Places(tmp_path_factory.mktemp("disk"))


def _faults(path: Path, *kept: Kept) -> list[str]:
    vault = Vault(str(path))
    try:
        with vault.reading() as session:
            return [fault.why.split(":")[0] for fault in run_audit(session, kept).faults]
    finally:
        vault.close()


def _fails_from(number: int, what: str, code: int) -> Callable[[Event], int]:
    """Every event of a sort fails, from the one with that number on."""
    counted = iter(range(10**9))
    return lambda event: code if event.what == what and next(counted) >= number else 0


@pytest.mark.parametrize("number", [0, 1, 4, 9])
@pytest.mark.parametrize(("what", "code", "kind"), [
    ("write", FULL, "disk-full"), ("write", IOERR_WRITE, "disk-error"), ("sync", IOERR_FSYNC, "disk-error")])
@pytest.mark.parametrize("act", ["handover", "swap"])
def test_a_disk_that_fails_is_told_and_nothing_is_half_written(
        places: Places, act: str, what: str, code: int, kind: str, number: int) -> None:
    """The disk fails at some write or sync and stays so: a plain message; what was acknowledged before is there."""
    small = places.today()
    known = digests_of(small)
    recorder = Recorder(_fails_from(number, what, code))
    with recorder.installed():
        life = Life(act=act, small=small, number=1)
        with pytest.raises(GearkeepError) as problem:
            step = ACTS[act](life)
            for turn in range(12):
                known.update(step(turn) or ())
        life.close()
    assert problem.value.kind == kind and problem.value.hint
    assert known <= digests_of(small) and _faults(small.path) == []
    ACTS[act](Life(act=act, small=small, number=2))(0)


@pytest.fixture
def open_to_all() -> Iterator[Path]:
    """A folder that every user may enter; the tests' own is root's alone where root runs them."""
    with tempfile.TemporaryDirectory() as name:
        Path(name).chmod(0o755)
        yield Path(name)
        Path(name).chmod(0o755)


def _as_plain_user(run: Callable[[], None]) -> str:
    """What a process without root's rights is told: the kind of the error, or "done"."""
    ear, mouth = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            if os.geteuid() == 0:
                os.setgroups([])
                os.setuid(65534)
            run()
            os.write(mouth, b"done")
        except GearkeepError as problem:
            os.write(mouth, problem.kind.encode())
        except BaseException as problem:
            os.write(mouth, repr(problem).encode())
        finally:
            os._exit(0)
    os.close(mouth)
    os.waitpid(child, 0)
    with os.fdopen(ear, "rb") as said:
        return said.read().decode()


@pytest.mark.parametrize(("file_mode", "folder_mode", "kinds"), [
    (0o444, 0o777, {"read-only"}), (0o666, 0o555, {"read-only", "cannot-open"}), (0o444, 0o555, {"read-only", "cannot-open"}),
    (0o000, 0o777, {"cannot-open"}),
])
def test_what_may_not_be_written_is_told(places: Places, open_to_all: Path, file_mode: int, folder_mode: int,
                                         kinds: set[str]) -> None:
    """A user without the right to the file or its folder gets a plain message, and the file stays as it is."""
    small = places.today()
    path = Path(shutil.copy(small.path, open_to_all / "vault.db"))
    before = path.read_bytes()
    path.chmod(file_mode)
    open_to_all.chmod(folder_mode)

    def write() -> None:
        vault = Vault(str(path))
        with vault.writing() as session:
            session.connection.execute(tables.signer_name.insert(), {"code": "I01", "name": "Ada Invented"})

    assert _as_plain_user(write) in kinds
    open_to_all.chmod(0o755)
    path.chmod(0o644)
    assert path.read_bytes() == before


def _with_wal(small: SmallVault, steps: int) -> tuple[set[bytes], list[bytes], list[Kept], dict[str, bytes]]:
    """Files of a vault in use: what is in the main file, what was acknowledged since, checkpoints from outside, the files."""
    known = digests_of(small)
    life = Life(act="append", small=small, number=1)
    step = ACTS["append"](life)
    told = [digest for number in range(steps) for digest in step(number) or ()]
    kept = [Kept(source="paper", note=one.note) for one in sign_checkpoints(small.desk())]
    files = {end: Path(f"{small.path}{end}").read_bytes() for end in ("", "-wal")}
    life.close()
    small.close()
    return known, told, kept, files


@pytest.mark.parametrize("damage", ["cut", "turned"])
def test_a_damaged_wal_rolls_back_to_a_whole_statement_and_a_checkpoint_tells(
        places: Places, tmp_path: Path, damage: str) -> None:
    """What SQLite takes from a WAL cut off or changed anywhere is a beginning of what was acknowledged, never a hole.

    SQLite rolls back in silence, which a vault alone cannot tell; every checkpoint kept outside tells.
    """
    small, chance = places.today(), random.Random(7)
    known, told, kept, files = _with_wal(small, 12)
    wal = files["-wal"]
    assert len(wal) > 12 * 4096
    for at in [0, 32, *(chance.randrange(len(wal)) for _ in range(10))]:
        path = tmp_path / "damaged.db"
        for end in ("-wal", "-shm"):
            Path(f"{path}{end}").unlink(missing_ok=True)
        path.write_bytes(files[""])
        Path(f"{path}-wal").write_bytes(wal[:at] if damage == "cut" else wal[:at] + bytes([wal[at] ^ 0x10]) + wal[at + 1 :])
        vault = Vault(str(path))
        with vault.reading() as session:
            held = set(session.connection.execute(select(tables.journal.c.digest)).scalars())
        vault.close()
        assert known <= held and held - known == set(told[: len(held - known)])
        assert _faults(path) == []
        assert bool(_faults(path, *kept)) == (len(held - known) < len(told))


def test_a_lost_wal_is_a_rollback_that_a_checkpoint_tells(places: Places, tmp_path: Path) -> None:
    """Whoever copies the vault's file alone while it is in use copies an older state."""
    _, _, kept, files = _with_wal(places.today(), 6)
    path = tmp_path / "alone.db"
    path.write_bytes(files[""])
    assert (_faults(path), set(_faults(path, *kept))) == ([], {"rollback"})
