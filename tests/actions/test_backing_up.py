"""Backups are proven before they count; one that is brought back is proven to be the same history."""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from postgres_server import Server
from small_vault import NOW_S, SmallVault
from stored import rows, tamper

from vault.actions.backup import BackedUp, back_up, restore
from vault.actions.changes import revise
from vault.actions.keeping import audit, sign_checkpoints
from vault.db.copying import Progress, State, copy_to_file
from vault.db.session import Vault
from vault.errors import GearkeepError, UsageProblem, VerificationError


def _change(small: SmallVault, current_ma: int = 650) -> None:
    revise(small.desk("I01"), small.tags["CH-001"], changes={"channels.1.current_ma": str(current_ma)})


def _kept(small: SmallVault, name: str = "kept.txt") -> Path:
    path = small.folder / name
    path.write_text(sign_checkpoints(small.desk())[0].note, encoding="utf-8")
    return path


def _backup(small: SmallVault, name: str = "backup.db") -> Path:
    return back_up(small.open(), out=small.folder / name).path


def _whys(address: str, *files: Path) -> list[str]:
    with closing(Vault(address)) as vault:
        return [fault.why.split(":")[0] for fault in audit(vault, files).faults]


@pytest.mark.parametrize("audited", [True, False])
def test_a_backup_is_proven(small_on: SmallVault, audited: bool) -> None:
    """Every statement is counted, or none is when that is left off; the newest checkpoint inside is held either way."""
    _kept(small_on)
    _change(small_on)
    done = back_up(small_on.open(), out=small_on.folder / "b.db", audited=audited)
    main, stock = small_on.sizes()
    assert done.statements == (main + stock if audited else None)
    assert (done.state.sizes, done.checkpoint_size, done.faults) == ({0: main, 1: stock}, main - 1, ())
    assert rows(str(done.path)) == rows(small_on.address) and _whys(str(done.path), small_on.folder / "kept.txt") == []


@pytest.mark.parametrize("audited", [True, False])
def test_what_stands_is_never_replaced(small: SmallVault, audited: bool) -> None:
    """Not even by a good copy."""
    path = _backup(small)
    before = path.read_bytes()
    with pytest.raises(UsageProblem) as caught:
        back_up(small.open(), out=path, audited=audited)
    assert caught.value.kind == "exists" and path.read_bytes() == before


def test_a_faulty_copy_does_not_count(small_on: SmallVault) -> None:
    """A changed row of the index is found by the audit; the copy is kept only when asked for, and its faults are told."""
    tamper(small_on.address, "UPDATE record SET place = 'Elsewhere' WHERE seq = (SELECT max(seq) FROM record)")
    with pytest.raises(VerificationError) as caught:
        _backup(small_on)
    assert caught.value.kind == "bad-backup" and not (small_on.folder / "backup.db").exists()
    done = back_up(small_on.open(), out=small_on.folder / "backup.db", even_faulty=True)
    assert [fault.what for fault in done.faults] == ["index"] and done.path.exists()


@pytest.mark.parametrize("audited", [True, False])
def test_a_copy_that_is_not_what_the_vault_held_does_not_count(
        small: SmallVault, monkeypatch: pytest.MonkeyPatch, audited: bool) -> None:
    """A sound copy of another state: the root tells, with and without the audit."""
    def copy_something_else(vault: Vault, part: Path, progress: Progress) -> State:
        state = copy_to_file(vault, part, progress)
        return State(sizes=state.sizes, roots={**state.roots, 0: bytes(32)})

    monkeypatch.setattr("vault.actions.backup.copy_to_file", copy_something_else)
    with pytest.raises(VerificationError) as caught:
        back_up(small.open(), out=small.folder / "backup.db", audited=audited)
    assert caught.value.kind == "bad-backup" and not list(small.folder.glob("backup.db*"))


def _in_folder(small: SmallVault, turn: int, keep: int | None = None, even_faulty: bool = False) -> BackedUp:
    folder = small.folder / "backups"
    folder.mkdir(exist_ok=True)
    return back_up(small.open(), folder=folder, keep=keep, now_s=NOW_S + turn, even_faulty=even_faulty)


def test_older_backups_go_once_the_new_one_is_proven(small: SmallVault) -> None:
    """Two stay, the new one among them; other files in the folder are nobody's business."""
    first, second = _in_folder(small, 0), _in_folder(small, 1)
    (small.folder / "backups" / "notes.db").write_bytes(b"mine")
    third = _in_folder(small, 2, keep=2)
    assert third.pruned == (first.path,) and second.path.exists() and third.path.exists()
    assert (small.folder / "backups" / "notes.db").exists()


def test_the_new_backup_stays_even_when_the_clock_went_back(small: SmallVault) -> None:
    """Its name sorts before the older one's."""
    first = _in_folder(small, 0)
    second = _in_folder(small, -86_400, keep=1)
    assert second.pruned == (first.path,) and second.path.exists()


def test_a_faulty_backup_prunes_nothing(small: SmallVault) -> None:
    """The good older one may be the last good one."""
    first = _in_folder(small, 0)
    tamper(str(small.path), "UPDATE record SET place = 'Elsewhere' WHERE seq = (SELECT max(seq) FROM record)")
    assert _in_folder(small, 1, keep=1, even_faulty=True).pruned == () and first.path.exists()


@pytest.mark.parametrize(("then", "says"), [(None, ["rollback"]), (640, ["fork"])])
def test_earlier_backups_are_witnesses(small: SmallVault, then: int | None, says: list[str]) -> None:
    """An old copy put back, alone or written on: the backup of yesterday tells, and nothing is pruned."""
    before = small.copy_file("before.db")
    _change(small)
    first = _in_folder(small, 0)
    small.close()
    shutil.copy(before, small.path)
    if then is not None:
        _change(small, then)
    done = _in_folder(small, 1, keep=1)
    assert [fault.why.split(":")[0] for fault in done.contradictions] == says
    assert done.pruned == () and first.path.exists() and done.path.exists()


def test_a_kill_in_the_middle_leaves_no_backup(small: SmallVault) -> None:
    """The process ends without a word while the copy is verified; the next run takes its leavings away."""
    target = small.folder / "b.db"
    done = subprocess.run([sys.executable, "-c", _DIES, str(small.path), str(target)], check=False)
    assert done.returncode == 9 and not target.exists() and list(small.folder.glob("b.db.part*"))
    back_up(small.open(), out=target)
    assert target.exists() and not list(small.folder.glob("b.db.part*"))


_DIES = """
import os, sys
from pathlib import Path
from vault.actions.backup import back_up
from vault.db.copying import Progress, State, copy_to_file
from vault.db.session import Vault
back_up(Vault(sys.argv[1]), out=Path(sys.argv[2]), verifying=lambda done, total: os._exit(9))
"""


def test_a_backup_comes_back_on_either_engine(small_on: SmallVault, new_address: Callable[[], str]) -> None:
    """The same rows, the same roots, and it goes on growing as the same history."""
    kept = _kept(small_on)
    address = new_address()
    done = restore(_backup(small_on), address, checkpoint_files=[kept])
    assert rows(address) == rows(small_on.address) and not done.missing and not done.faults
    assert [one.said.size for one in done.held if one.said] == [done.newest]
    back = SmallVault(folder=small_on.folder, keys_folder=small_on.keys_folder, keys=small_on.keys, tags=small_on.tags,
                      server_address=address)
    _change(back)
    later = _kept(back, "later.txt")
    back.close()
    assert _whys(address, kept, later) == []


def test_a_file_moves_to_a_server_and_back(small: SmallVault, server: Server) -> None:
    """A backup is the way from one engine to the other."""
    there = server.url("sites", site=f"moved_{small.folder.name[-20:].lower().replace('-', '_')}")
    restore(_backup(small), there)
    with closing(Vault(there)) as vault:
        back = back_up(vault, out=small.folder / "back.db").path
    assert rows(str(back)) == rows(str(small.path))


def test_an_old_backup_is_a_rollback(small: SmallVault, new_address: Callable[[], str]) -> None:
    """A checkpoint signed since tells how far it is behind; nothing is written unless that is accepted, and every later audit
    against that checkpoint says it again.
    """
    backup = _backup(small)
    _change(small)
    _change(small, 640)
    kept = _kept(small)
    address = new_address()
    with pytest.raises(VerificationError) as caught:
        restore(backup, address, checkpoint_files=[kept])
    size = small.sizes()[0]
    assert caught.value.kind == "rollback"
    assert f"holds {size - 2} entries" in caught.value.what and f"saw {size}" in caught.value.what
    done = restore(backup, address, checkpoint_files=[kept], accept_older=True)
    assert [one.said.size - one.now for one in done.missing if one.said] == [2]
    assert _whys(address, kept) == ["rollback"]
    back = SmallVault(folder=small.folder, keys_folder=small.keys_folder, keys=small.keys, tags=small.tags,
                      server_address=address)
    for current_ma in (630, 620, 610):
        _change(back, current_ma)
    back.close()
    assert _whys(address, kept) == ["fork"]


def test_another_history_is_never_restored(small: SmallVault) -> None:
    """A fork is refused, whatever is accepted."""
    before = small.copy_file("before.db")
    _change(small)
    kept = _kept(small)
    small.close()
    shutil.copy(before, small.path)
    _change(small, 640)
    backup = _backup(small)
    with pytest.raises(VerificationError) as caught:
        restore(backup, str(small.folder / "new.db"), checkpoint_files=[kept], accept_older=True, even_faulty=True)
    assert caught.value.kind == "fork" and not (small.folder / "new.db").exists()


@pytest.mark.parametrize(("change", "kind"), [
    (lambda note: note.replace("lx.example.eu", "other.example.eu"), "other-vault"),
    (lambda note: note.replace("\n63\n", "\n62\n"), "bad-note"),
])
def test_a_checkpoint_that_proves_nothing_is_refused(small: SmallVault, change: Callable[[str], str], kind: str) -> None:
    """One of another vault, and one that somebody changed."""
    kept = _kept(small)
    kept.write_text(change(kept.read_text(encoding="utf-8")), encoding="utf-8")
    backup = _backup(small)
    with pytest.raises(VerificationError) as caught:
        restore(backup, str(small.folder / "new.db"), checkpoint_files=[kept])
    assert caught.value.kind == kind and not (small.folder / "new.db").exists()


def test_a_damaged_backup_is_refused(small: SmallVault) -> None:
    """A signed byte changed in the backup: named, nothing written; written all the same only when asked for."""
    backup = _backup(small)
    with pytest.raises(VerificationError) as caught:
        restore(_broken(backup), str(small.folder / "new.db"))
    assert caught.value.kind == "bad-backup" and not (small.folder / "new.db").exists()
    assert restore(backup, str(small.folder / "new.db"), even_faulty=True).faults


def _broken(backup: Path) -> Path:
    tamper(str(backup), "UPDATE journal SET signed = substr(signed, 1, length(signed) - 1) || x'ff' WHERE log = 0 AND seq = 20")
    return backup


@pytest.mark.parametrize(("content", "kind"), [(None, "not-a-vault"), (b"hello", "not-a-vault"), (b"", "not-a-vault")])
def test_what_is_no_backup_is_told(small: SmallVault, content: bytes | None, kind: str) -> None:
    """A file that is missing, of another kind, empty."""
    path = small.folder / "no.db"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(GearkeepError) as caught:
        restore(path, str(small.folder / "new.db"))
    assert caught.value.kind == kind and not list(small.folder.glob("new.db*"))


def test_nothing_is_restored_over_a_vault(small_on: SmallVault) -> None:
    """The place has to be new."""
    backup = _backup(small_on)
    with pytest.raises(UsageProblem) as caught:
        restore(backup, small_on.address)
    assert caught.value.kind == "exists"


def test_a_backup_of_an_older_schema_is_brought_up_to_date(tmp_path: Path, small: SmallVault) -> None:
    """It lay in the drawer for years: its copy is upgraded, the backup stays as it was."""
    from alembic import command

    from vault.db.address import parse_address
    from vault.db.engine import make_engine
    from vault.db.migrate import _config

    backup = _backup(small)
    engine = make_engine(parse_address(str(backup)))
    with engine.connect().execution_options(writing=True) as connection, connection.begin():
        command.downgrade(_config(connection), "0003")
    engine.dispose()
    before = backup.read_bytes()
    restore(backup, str(tmp_path / "new.db"))
    assert rows(str(tmp_path / "new.db")) == rows(str(small.path)) and backup.read_bytes() == before
