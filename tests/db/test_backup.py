"""Files of backups: whole or not at all, never over another, copied while others write."""

from __future__ import annotations

import itertools
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from postgres_server import Server
from small_vault import SmallVault
from stored import rows

from vault.actions.stock import one_movement
from vault.db.backup import copy_backup, new_file, page_faults, reading_backup
from vault.db.copying import copy_to_file, copy_to_site, state_of
from vault.db.session import create_empty
from vault.domain.stock import Act
from vault.errors import GearkeepError, UsageProblem

_numbers = itertools.count()


def _quiet(_done: int, _total: int) -> None:
    pass


def _database(path: Path, word: str = "new") -> None:
    with closing(sqlite3.connect(path)) as raw:
        raw.execute("CREATE TABLE said (word)")
        raw.execute("INSERT INTO said VALUES (?)", (word,))
        raw.commit()


def _names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_a_finished_file_stands_alone(tmp_path: Path) -> None:
    """Nothing beside it, and it is no write-ahead file: a medium that cannot be written to will do."""
    with new_file(tmp_path / "b.db", "b.db") as part:
        _database(part)
        with closing(sqlite3.connect(part)) as raw:
            raw.execute("PRAGMA journal_mode=WAL")
    with closing(sqlite3.connect(tmp_path / "b.db")) as raw:
        assert raw.execute("PRAGMA journal_mode").fetchone() == ("delete",)
    assert _names(tmp_path) == ["b.db"]


@pytest.mark.parametrize("problem", [ValueError, KeyboardInterrupt, GearkeepError])
def test_what_goes_wrong_leaves_nothing(tmp_path: Path, problem: type[BaseException]) -> None:
    """An error or an interruption behind the first bytes."""
    with pytest.raises(problem), new_file(tmp_path / "b.db", "b.db") as part:
        _database(part)
        raise problem("enough")
    assert _names(tmp_path) == []


def test_parts_of_a_killed_run_are_taken_away(tmp_path: Path) -> None:
    """Those of this name, with SQLite's own files beside them; nobody else's."""
    for name in ("b.db.part", "b.db.part-wal", "b.db.part-shm", "b.db.part-journal", "other.db.part"):
        (tmp_path / name).write_bytes(b"half")
    with new_file(tmp_path / "b.db", "b.db") as part:
        _database(part)
    assert _names(tmp_path) == ["b.db", "other.db.part"]


def test_a_file_that_is_there_stays(tmp_path: Path) -> None:
    """Found before anything is written, and when it appears while the copy is made."""
    path = tmp_path / "b.db"
    with pytest.raises(UsageProblem) as caught, new_file(path, "b.db") as part:
        _database(part)
        path.write_bytes(b"somebody's")
    assert caught.value.kind == "exists" and path.read_bytes() == b"somebody's"
    with pytest.raises(UsageProblem) as caught, new_file(path, "b.db"):
        pass
    assert caught.value.kind == "exists" and _names(tmp_path) == ["b.db"]


@pytest.mark.parametrize("beside", ["-wal", "-shm", "-journal"])
def test_a_log_left_over_from_another_vault_is_in_the_way(tmp_path: Path, beside: str) -> None:
    """SQLite would play it into the new file; so the name counts as taken, and what lies there stays."""
    left = tmp_path / f"b.db{beside}"
    left.write_bytes(b"left over")
    with pytest.raises(UsageProblem) as caught, new_file(tmp_path / "b.db", "b.db") as part:
        _database(part)
    assert caught.value.kind == "exists" and _names(tmp_path) == [left.name]


def test_a_folder_that_is_not_there_is_wrong_use(tmp_path: Path) -> None:
    """A disk that is not mounted must not be taken for an empty one."""
    with pytest.raises(UsageProblem) as caught, new_file(tmp_path / "mnt" / "b.db", "b.db"):
        pass
    assert caught.value.kind == "cannot-open" and "mount" in caught.value.hint


def test_two_backups_into_one_folder_do_not_meet(tmp_path: Path) -> None:
    """The second is told that the first is at work."""
    with new_file(tmp_path / "a.db", "a.db") as part:
        _database(part)
        with pytest.raises(GearkeepError) as caught, new_file(tmp_path / "b.db", "b.db"):
            pass
    assert caught.value.kind == "locked" and _names(tmp_path) == ["a.db"]


def test_a_full_disk_is_told(tmp_path: Path, small: SmallVault) -> None:
    """A limit on the file's size stands in for the disk's end (setrlimit, POSIX): a plain message, nothing kept."""
    said = subprocess.run(
        [sys.executable, "-c", _FULL, str(small.path), str(tmp_path / "b.db")], capture_output=True, text=True, check=False)
    assert said.stdout.strip() in ("disk-full", "disk-error"), said.stderr
    assert [name for name in _names(tmp_path) if name.startswith("b.db")] == []


_FULL = """
import resource, signal, sys
from pathlib import Path
from vault.actions.backup import back_up
from vault.db.session import Vault
from vault.errors import GearkeepError
vault = Vault(sys.argv[1])
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (40_000, 40_000))
try:
    back_up(vault, out=Path(sys.argv[2]))
except GearkeepError as problem:
    print(problem.kind)
"""


def test_a_copy_holds_what_its_snapshot_held(small_on: SmallVault, tmp_path: Path) -> None:
    """Every row of every table, on either engine, and readable by its owner alone."""
    vault, part = small_on.open(), tmp_path / "copy.db"
    state = copy_to_file(vault, part, _quiet)
    with vault.reading() as session:
        assert state_of(session) == state
    assert rows(str(part)) == rows(small_on.address) and page_faults(part) == []
    assert part.stat().st_mode & 0o077 == 0


def test_a_copy_is_made_while_others_write(small_on: SmallVault, tmp_path: Path) -> None:
    """A writer appends throughout; each copy is one state of the journal, and no append is lost."""
    vault = small_on.open()
    states, stop, wrote = [], threading.Event(), threading.Event()
    desk = small_on.desk("S01")

    def write() -> None:
        while not stop.is_set():
            one_movement(desk, act=Act.RECEIPT, store="MAIN", model="GEN-50-1050", quantity=1, bin_name="A1", serial=None,
                         reason=None)
            wrote.set()

    writer = threading.Thread(target=write)
    writer.start()
    for turn in range(4):
        wrote.clear()
        states.append(copy_to_file(vault, tmp_path / f"{turn}.db", _quiet))
        assert wrote.wait(60)
    stop.set()
    writer.join()
    sizes = [state.sizes[1] for state in states]
    assert sizes == sorted(sizes) and sizes[-1] > sizes[0]
    for turn, state in enumerate(states):
        with reading_backup(tmp_path / f"{turn}.db") as copy, vault.reading() as session:
            assert state_of(copy) == state and session.root(1, state.sizes[1]) == state.roots[1]


def test_a_site_is_filled_whole_or_not_at_all(small: SmallVault, new_site: Callable[[], str]) -> None:
    """A failure behind the journal leaves no table; then the same site takes the copy, and no second one."""
    address = new_site()

    def fail(done: int, total: int) -> None:
        if done == total:
            raise KeyboardInterrupt

    with small.open().reading() as session:
        with pytest.raises(KeyboardInterrupt):
            copy_to_site(session, address, fail)
        copy_to_site(session, address, _quiet)
        with pytest.raises(UsageProblem) as caught:
            copy_to_site(session, address, _quiet)
    assert caught.value.kind == "exists" and rows(address) == rows(str(small.path))


@pytest.fixture
def new_site(server: Server) -> Callable[[], str]:
    """Gives the address of a site where no vault is."""
    return lambda: server.url("sites", site=f"copied{next(_numbers)}")


def test_reading_a_backup_changes_no_byte(small: SmallVault, tmp_path: Path) -> None:
    """Its file and folder may not be written to."""
    with new_file(tmp_path / "b.db", "b.db") as part:
        copy_to_file(small.open(), part, _quiet)
    path = tmp_path / "b.db"
    before = path.read_bytes()
    with reading_backup(path) as session:
        assert session.size() == small.sizes()[0]
    copy_backup(path, tmp_path / "copy.db")
    assert path.read_bytes() == before and page_faults(tmp_path / "copy.db") == []


def test_an_empty_vault_has_a_state(tmp_path: Path) -> None:
    """Sizes 0, roots of nothing: SHA-256 of no byte (RFC 9162 2.1.1)."""
    with closing(create_empty(str(tmp_path / "empty.db"))) as vault, vault.reading() as session:
        state = state_of(session)
    assert state.sizes == {0: 0, 1: 0}
    assert state.roots[0].hex() == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
