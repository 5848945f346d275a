"""Checkpoints kept elsewhere: posted to folders, held against the journal and each other, both sides kept as evidence."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
import qrcode
from small_vault import SmallVault

from vault.actions.changes import revise
from vault.actions.keeping import examine, post_checkpoints, sign_checkpoints
from vault.actions.witness import post, read_kept, write_evidence
from vault.errors import GearkeepError, UsageProblem
from vault.trust.note import Checkpoint, checkpoint_text, sign_note


def _change(small: SmallVault, current_ma: int = 650) -> None:
    revise(small.desk("I01"), small.tags["CH-001"], changes={"channels.1.current_ma": str(current_ma)})


def _folder(small: SmallVault, name: str = "posted") -> Path:
    folder = small.folder / name
    folder.mkdir()
    return folder


def _put_back(small: SmallVault, before: Path) -> None:
    small.close()
    shutil.copy(before, small.path)


def test_each_checkpoint_posted_is_a_file_of_its_own(small_on: SmallVault) -> None:
    """Two journals in two folders; posted again nothing changes; behind a change one more, and the folder agrees."""
    folders = [_folder(small_on, "one"), _folder(small_on, "two")]
    first = post_checkpoints(small_on.desk(), folders)
    again = post_checkpoints(small_on.desk(), folders)
    assert first.files == again.files and len(set(first.files)) == 4
    _change(small_on)
    post_checkpoints(small_on.desk(), folders)
    assert [len(list(folder.iterdir())) for folder in folders] == [3, 3]
    done = examine(small_on.open(), folders)
    assert not done.result.faults and not done.evidence and len(done.held) == 6


def test_a_name_says_vault_journal_and_size(small: SmallVault) -> None:
    """So names sort as the journal grew."""
    folder = _folder(small)
    names = [path.name for path in post_checkpoints(small.desk(), [folder]).files]
    with small.open().reading() as session:
        ident = session.genesis.log_id.hex()
    main, stock = small.sizes()
    assert names == [f"checkpoint-{ident}-main-{main:012d}.txt", f"checkpoint-{ident}-stock-{stock:012d}.txt"]


def test_a_posted_file_is_never_written_over(small: SmallVault) -> None:
    """The same name with another root: both stay, side by side."""
    folder = _folder(small)
    key, name = small.keys["checkpoint"], "lx.example.eu/" + "00" * 16
    notes = [sign_note(checkpoint_text(Checkpoint(origin=name, size=5, root=bytes([n]) * 32)), name, key) for n in (1, 2)]
    paths = [post(folder, bytes(16), "main", note) for note in (*notes, *notes)]
    assert [path.read_text(encoding="utf-8") for path in paths] == [*notes, *notes]
    assert len(list(folder.iterdir())) == 2


@pytest.mark.parametrize(("then", "verdict"), [(None, "rollback"), (640, "fork")])
def test_nothing_is_signed_that_the_folder_contradicts(small: SmallVault, then: int | None, verdict: str) -> None:
    """An old copy put back, alone or written on."""
    folder = _folder(small)
    before = small.copy_file("before.db")
    _change(small)
    post_checkpoints(small.desk(), [folder])
    held = sorted(path.name for path in folder.iterdir())
    _put_back(small, before)
    if then is not None:
        _change(small, then)
    done = post_checkpoints(small.desk(), [folder])
    assert [one.verdict.value for one in done.disagreeing] == [verdict]
    assert (done.signed, done.files) == ([], []) and sorted(path.name for path in folder.iterdir()) == held
    assert any(name.startswith("report-") for name in done.evidence)


def _two_histories(small: SmallVault) -> tuple[Path, Path]:
    """Two checkpoints of one size, each of its own history; the vault goes on with the second."""
    before = small.copy_file("before.db")
    notes = []
    for current_ma in (650, 640):
        _put_back(small, before)
        _change(small, current_ma)
        notes.append(sign_checkpoints(small.desk())[0].note)
    paths = small.folder / "anna.txt", small.folder / "ben.txt"
    for path, note in zip(paths, notes, strict=True):
        path.write_text(note, encoding="utf-8")
    return paths


def test_two_checkpoints_that_disagree_are_both_named_and_kept(small: SmallVault) -> None:
    """Anna and Ben were shown two histories: against the journal, and against each other."""
    anna, ben = _two_histories(small)
    done = examine(small.open(), [anna, ben])
    said = [(fault.where, fault.why.split(":")[0]) for fault in done.result.faults]
    assert said == [(str(anna), "fork"), (f"{anna} and {ben}", "fork")]
    kept = write_evidence(small.folder / "evidence", done.evidence)
    texts = [path.read_text(encoding="utf-8") for path in kept]
    assert anna.read_text(encoding="utf-8") in texts and ben.read_text(encoding="utf-8") in texts
    assert str(anna) in texts[-1] and str(ben) in texts[-1]


def test_two_checkpoints_disagree_even_where_the_vault_holds_neither(small: SmallVault) -> None:
    """An older copy was put back since: a rollback twice, and a fork between the two."""
    before = small.copy_file("older.db")
    anna, ben = _two_histories(small)
    _put_back(small, before)
    whys = [fault.why.split(":")[0] for fault in examine(small.open(), [anna, ben]).result.faults]
    assert whys == ["rollback", "rollback", "fork"]


def test_evidence_is_kept_once(small: SmallVault) -> None:
    """The same case every night makes the same files, and what is there is left alone."""
    files = examine(small.open(), _two_histories(small)).evidence
    folder = small.folder / "evidence"
    first = write_evidence(folder, files)
    first[0].write_text("touched", encoding="utf-8")
    assert write_evidence(folder, examine(small.open(), [small.folder / "anna.txt", small.folder / "ben.txt"]).evidence) == first
    assert first[0].read_text(encoding="utf-8") == "touched" and len(list(folder.iterdir())) == len(first)


def test_evidence_that_cannot_be_kept_is_told(small: SmallVault) -> None:
    """A file stands where the folder should be."""
    (small.folder / "evidence").write_text("in the way", encoding="utf-8")
    with pytest.raises(GearkeepError) as caught:
        write_evidence(small.folder / "evidence", {"report.txt": "?"})
    assert caught.value.kind == "unwritable-file" and "--evidence" in caught.value.hint


def test_a_good_checkpoint_of_another_vault_is_told_as_such(small: SmallVault) -> None:
    """Named as a file it is a fault; in a folder that several sites post to it is passed over and counted."""
    folder, key = _folder(small), small.keys["I01"]
    post_checkpoints(small.desk(), [folder])
    name = "lx.example.eu/" + "ab" * 16
    other = folder / "checkpoint-of-the-school.txt"
    other.write_text(sign_note(checkpoint_text(Checkpoint(origin=name, size=5, root=bytes(32))), name, key), encoding="utf-8")
    done = examine(small.open(), [other])
    assert [(fault.where, fault.why.split(":")[0]) for fault in done.result.faults] == [(str(other), "other-vault")]
    done = examine(small.open(), [folder])
    assert not done.result.faults and done.strangers == 1


def test_a_folder_may_hold_other_things(small: SmallVault) -> None:
    """Photographs of pages count; letters, pictures of nothing, folders and hidden files are passed over."""
    folder = _folder(small)
    note = sign_checkpoints(small.desk())[0].note
    qrcode.make(note).save(folder / "photo.png")
    qrcode.make("hello").save(folder / "hello.png")
    (folder / "letter.txt").write_text("Dear all\n", encoding="utf-8")
    (folder / ".hidden.txt").write_text(note, encoding="utf-8")
    (folder / "deeper").mkdir()
    assert [Path(one.source).name for one in read_kept([folder])] == ["photo.png"]
    assert not examine(small.open(), [folder]).result.faults


def test_a_folder_without_a_checkpoint_is_wrong_use(small: SmallVault) -> None:
    """A disk that is not mounted looks like an empty folder."""
    with pytest.raises(UsageProblem) as caught:
        examine(small.open(), [_folder(small)])
    assert caught.value.kind == "bad-note"


def test_a_folder_to_post_to_has_to_be_there(small: SmallVault) -> None:
    """It is not made: the disk may not be mounted."""
    with pytest.raises(UsageProblem) as caught:
        post_checkpoints(small.desk(), [small.folder / "mnt"])
    assert caught.value.kind == "cannot-open" and not (small.folder / "mnt").exists()


def test_a_changed_note_is_no_evidence_of_a_fork(small: SmallVault) -> None:
    """Whoever edits a text file cannot accuse the vault: the signature is not good, and that is all that is said."""
    path = small.folder / "kept.txt"
    note = sign_checkpoints(small.desk())[0].note
    path.write_text(note.replace("\n63\n", "\n64\n"), encoding="utf-8")
    done = examine(small.open(), [path])
    assert [fault.why.split(":")[0] for fault in done.result.faults] == ["bad-signature"] and not done.evidence
