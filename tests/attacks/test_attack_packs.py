"""Attacks on another vault's handover pack and on what was taken over from one. Rows of the table in DEVELOPERS.md."""

from __future__ import annotations

import stat
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from attackers import STRANGER, refusal, refused, words_of_audit
from small_pack import adopt_in, build_ours, copy_of_ours, import_into, journal_of, write_pack
from small_vault import NOW_S, SITE, SmallVault, copy_into, copy_of, on_server
from stored import tamper

from vault.actions.changes import move
from vault.actions.looking import adoption_of, look
from vault.actions.taking_over import Disagrees
from vault.db.taken import taken_logs
from vault.exchange.pack_layout import MAIN_CHECKPOINT, MAIN_JOURNAL, PAGE
from vault.trust.keys import public_bytes
from vault.trust.note import open_note
from vault.trust.statements import Grant, Kind, Role
from vault.trust.takeover import TakeOver
from vault.trust.verify import sign, verify_genesis


@pytest.fixture
def ours(tmp_path: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[SmallVault]:
    """The vault that a pack is imported into."""
    made = copy_of_ours(build_ours(tmp_path_factory.getbasetemp() / "our-vault"), tmp_path / "ours")
    yield made
    made.close()


def _nothing_came_in(ours: SmallVault) -> bool:
    with ours.open().reading() as session:
        return taken_logs(session) == []


def _moved(small: SmallVault, place: str, folder: Path) -> SmallVault:
    """The same vault with one entry more, in a file of its own."""
    folder.mkdir()
    other = copy_of(small, folder)
    move(other.desk("I01"), other.tags["CH-007"], place=place, line=None, circuit=None, address=None)
    other.close()
    return other


@pytest.mark.parametrize("name", ["/etc/evil.txt", "pack/../../evil.txt", "..\\evil.txt"])
def test_a_pack_whose_zip_leads_out_of_it(ours: SmallVault, small: SmallVault, tmp_path: Path, name: str) -> None:
    """A member with a path that climbs, is absolute, or is of another system: refused before anything is unpacked."""
    pack, path = write_pack(small, tmp_path / "pack"), tmp_path / "pack.zip"
    with zipfile.ZipFile(path, "w") as packed:
        for file in pack.iterdir():
            packed.write(file, f"pack/{file.name}")
        packed.writestr(name, "evil")
    assert refused(lambda: import_into(ours, path, small)) == "unreadable-file" and _nothing_came_in(ours)
    assert list(tmp_path.rglob("evil*")) == []


def test_a_link_in_a_pack(ours: SmallVault, small: SmallVault, tmp_path: Path) -> None:
    """In a folder and in a ZIP file: the file that it leads to is not read."""
    pack, path = write_pack(small, tmp_path / "pack"), tmp_path / "pack.zip"
    with zipfile.ZipFile(path, "w") as packed:
        for file in pack.iterdir():
            packed.write(file, f"pack/{file.name}")
        entry = zipfile.ZipInfo("pack/link.txt")
        entry.create_system, entry.external_attr = 3, (stat.S_IFLNK | 0o777) << 16
        packed.writestr(entry, "/etc/passwd")
    (pack / "link.txt").symlink_to("/etc/passwd")
    assert (refused(lambda: import_into(ours, path, small)), refused(lambda: import_into(ours, pack, small))) == (
        "unreadable-file", "bad-pack")


def test_a_file_of_a_pack_changed(ours: SmallVault, small: SmallVault, tmp_path: Path) -> None:
    """One that people read, one left out, one put beside: each is named."""
    pack = write_pack(small, tmp_path / "pack", changed={PAGE: b"<p>other settings</p>", "more.txt": b"read me"})
    (pack / "FORMAT.md").unlink()
    problem = refusal(lambda: import_into(ours, pack, small))
    assert problem.kind == "bad-pack" and _nothing_came_in(ours)
    assert all(words in problem.what for words in (f"{PAGE} is not the file", "more.txt lies in it", "FORMAT.md is missing"))


def test_two_files_of_a_pack_exchanged(ours: SmallVault, small: SmallVault, tmp_path: Path) -> None:
    """Inside one pack both are named; a journal from another pack of the same vault is not the one that was listed."""
    pack = write_pack(small, tmp_path / "pack")
    page, form = (pack / PAGE).read_bytes(), (pack / "FORMAT.md").read_bytes()
    (pack / PAGE).write_bytes(form)
    (pack / "FORMAT.md").write_bytes(page)
    assert f"{PAGE} holds what the list calls FORMAT.md" in refusal(lambda: import_into(ours, pack, small)).what
    older = write_pack(small, tmp_path / "older", upto=40)
    for name in (MAIN_JOURNAL, MAIN_CHECKPOINT):
        (older / name).write_bytes((write_pack(small, tmp_path / f"new-{name}") / name).read_bytes())
    assert f"{MAIN_JOURNAL} is not the file" in refusal(lambda: import_into(ours, older, small)).what


def test_a_list_signed_by_another_key(ours: SmallVault, small: SmallVault, tmp_path: Path) -> None:
    """Whoever changes a file and signs a list of their own is not the vault's checkpoint key."""
    pack = write_pack(small, tmp_path / "pack", key=STRANGER)
    assert refused(lambda: import_into(ours, pack, small)) == "unknown-signer" and _nothing_came_in(ours)


def test_a_whole_pack_of_a_strangers_making(ours: SmallVault, small: SmallVault, tmp_path: Path) -> None:
    """Everything in it is well signed, by another authority than the one on the paper."""
    pack = write_pack(ours, tmp_path / "pack")
    assert refused(lambda: import_into(small, pack, small)) == "other-authority"


def test_a_forged_entry_in_a_pack(ours: SmallVault, small: SmallVault, tmp_path: Path) -> None:
    """The vault's own checkpoint key signs a journal with a grant by a technician: the history is walked, not believed."""
    entries = journal_of(small)
    log_id = verify_genesis(entries[0]).body.log_id
    body = Grant(public_key=public_bytes(STRANGER), roles=frozenset({Role.INSTALLER}), code="X01", time_s=NOW_S)
    forged = [*entries, sign(Kind.GRANT, body, small.keys["T01"], log_id=log_id)]
    pack = write_pack(small, tmp_path / "pack", entries=forged)
    assert refused(lambda: import_into(ours, pack, small)) == "wrong-role"
    twice = write_pack(small, tmp_path / "twice", entries=[*entries, entries[-1]])
    assert refused(lambda: import_into(ours, twice, small)) == "replayed" and _nothing_came_in(ours)


def test_a_pack_whose_journal_is_forked(ours: SmallVault, small: SmallVault, tmp_path: Path) -> None:
    """Two histories of one vault, both signed by its checkpoint key: the second is refused and both notes are evidence."""
    one, other = _moved(small, "Attic", tmp_path / "a"), _moved(small, "Cellar", tmp_path / "b")
    import_into(ours, write_pack(one, tmp_path / "pack-a"), small)
    problem = refusal(lambda: import_into(ours, write_pack(other, tmp_path / "pack-b"), small))
    assert isinstance(problem, Disagrees) and problem.kind == "fork"
    notes = [text for name, text in problem.evidence.items() if not name.startswith("report")]
    genesis = verify_genesis(journal_of(one)[0]).body
    origin = f"{genesis.host.lower()}/{genesis.log_id.hex()}"
    assert len({open_note(note, origin, genesis.checkpoint_key) for note in notes}) == 2
    shorter = write_pack(other, tmp_path / "pack-c", entries=[*journal_of(other)[:-2], journal_of(other)[-1]])
    assert refused(lambda: import_into(ours, shorter, small)) == "fork"
    with ours.open().reading() as session:
        assert look(session, small.tags["CH-007"])[0].record.place == "Attic"


def test_a_pack_rolled_back(ours: SmallVault, small: SmallVault, tmp_path: Path) -> None:
    """An older pack of the same vault after a newer one."""
    import_into(ours, write_pack(small, tmp_path / "pack"), small)
    problem = refusal(lambda: import_into(ours, write_pack(small, tmp_path / "older", upto=60), small))
    assert isinstance(problem, Disagrees) and problem.kind == "rollback" and len(problem.evidence) == 3


@pytest.mark.parametrize(("change", "said"), [
    ("UPDATE taken SET signed = :other WHERE seq = 50", "fork"),
    ("UPDATE taken_record SET place = 'Attic' WHERE tag = :tag", "place is 'Attic', the entry says 'Changing room women, row 7'"),
    ("DELETE FROM taken WHERE seq = 62", "its entries are missing; import the pack again or restore a backup"),
    ("DELETE FROM taken_record WHERE tag = :tag", "the row is missing; run"),
    ("UPDATE taken SET log_id = :log_id", "no take-over in the journal vouches for its rows"),
])
def test_an_edited_row_of_what_was_taken_over(ours: SmallVault, small: SmallVault, tmp_path: Path, change: str,
                                              said: str) -> None:
    """Changed, taken away, or put under another log behind the program's back: an audit names the log and the entry."""
    import_into(ours, write_pack(small, tmp_path / "pack"), small)
    ours.close()
    tamper(ours.address, change, other=journal_of(small)[51], tag=small.tags["CH-007"], log_id=bytes(16))
    found = words_of_audit(ours)
    assert said in found and any(word.startswith(("taken ", "index table taken_record")) for word in found)


def test_an_edited_entry_of_what_was_taken_over(new_address: Callable[[], str], ours: SmallVault, small: SmallVault,
                                                tmp_path: Path) -> None:
    """On each engine: the root over the entries is no longer the one that the take-over vouches for; show refuses as well."""
    there = on_server(ours, new_address())
    copy_into(ours, there.address)
    import_into(there, write_pack(small, tmp_path / "pack"), small)
    tamper(there.address, "UPDATE taken SET signed = :other WHERE seq = (SELECT seq FROM taken_record WHERE tag = :tag)",
           other=small.seen("CH-006").statement.signed_bytes, tag=small.tags["CH-007"])
    assert {"fork", "its columns do not match its bytes"} <= words_of_audit(there)
    with there.open().reading() as session:
        assert refused(lambda: look(session, small.tags["CH-007"])) == "bad-index"
    there.close()


def test_a_take_over_signed_by_an_installer(ours: SmallVault, small: SmallVault, tmp_path: Path) -> None:
    """By the command and past it: only the authority vouches for another vault."""
    pack = write_pack(small, tmp_path / "pack")
    assert refused(lambda: import_into(ours, pack, small, code="I01")) == "wrong-role" and _nothing_came_in(ours)
    genesis = verify_genesis(journal_of(small)[0]).body
    body = TakeOver(log_id=genesis.log_id, host=genesis.host, site=SITE, authority_key=genesis.authority_key, time_s=NOW_S,
                    checkpoint=(pack / MAIN_CHECKPOINT).read_bytes())
    assert refused(lambda: ours.sign("I01", Kind.TAKE_OVER, body)) == "wrong-role"


def test_a_taken_luminaire_claimed_as_ones_own(ours: SmallVault, small: SmallVault, tmp_path: Path) -> None:
    """A record that says it was adopted from a version that does not stand in the log taken over: show says so, unverified."""
    import_into(ours, write_pack(small, tmp_path / "pack"), small)
    (one,) = adopt_in(ours, small.tags["CH-007"]).adopted
    with ours.open().reading() as session:
        record = look(session, one.tag)[0].record
        assert record.taken_from is not None
        false = replace(record, taken_from=replace(record.taken_from, digest=bytes(16)))
        found = adoption_of(session, false)
    assert found is not None and not found.verified and "NOT VERIFIED" in found.words
    stray = replace(record, tag=b"\x12\x34\x56\x78\x90", taken_from=replace(record.taken_from, log_id=bytes(16)))
    assert refused(lambda: ours.sign("I01", Kind.RECORD, stray)) == "bad-chain"
