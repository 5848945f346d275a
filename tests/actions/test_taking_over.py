"""Another vault's pack imported, its luminaires shown as that vault's, then adopted: on both engines where tables are touched."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from postgres_server import Server
from small_pack import OUR_HOST, adopt_in, authority_of, build_ours, copy_of_ours, import_into, write_pack
from small_vault import DEMO, HOST, SmallVault, copy_into, on_server, rows_of, write_rows
from stored import ask, tamper

from vault.actions.authority import rotate
from vault.actions.backup import back_up
from vault.actions.changes import move, retire, revise
from vault.actions.finding_luminaires import Asked, find
from vault.actions.fitting import fit
from vault.actions.handover import hand_over
from vault.actions.history import told
from vault.actions.labels_life import sight_label
from vault.actions.looking import adoption_of, look
from vault.actions.scanning import scan
from vault.actions.setup import load_catalogue, withdraw_signer
from vault.actions.taking_over import list_taken
from vault.actions.work_order import print_sheets
from vault.db.audit import rebuild, run_audit
from vault.db.session import Vault
from vault.domain.record import Reason, Record
from vault.domain.tag import to_bytes
from vault.errors import GearkeepError
from vault.trust.capsule import capsule_text, link
from vault.trust.statements import Kind

NEW_KEY = Ed25519PrivateKey.from_private_bytes(b"8" * 32)


@dataclass(frozen=True, slots=True)
class Two:
    """Our vault, theirs, and a pack of theirs."""

    ours: SmallVault
    theirs: SmallVault
    pack: Path


@pytest.fixture
def two(small: SmallVault, tmp_path: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Two]:
    """Nothing is imported yet; both in files."""
    ours = copy_of_ours(build_ours(tmp_path_factory.getbasetemp() / "our-vault"), tmp_path / "ours")
    yield Two(ours, small, write_pack(small, tmp_path / "pack"))
    ours.close()


@pytest.fixture
def two_on(two: Two, engine_name: str, request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Two]:
    """The same with ours on each engine in turn, and the pack imported."""
    ours = two.ours
    if engine_name == "postgresql":
        server: Server = request.getfixturevalue("server")
        site = f"ours{abs(hash(str(tmp_path)))}"[:20]
        copy_into(ours, server.url("sites", site=site))
        ours = on_server(ours, server.url("sites", site=site))
    import_into(ours, two.pack, two.theirs)
    yield replace(two, ours=ours)
    ours.close()


def _faults(vault: SmallVault) -> list[str]:
    with vault.open().reading() as session:
        return [f"{fault.what} {fault.where}: {fault.why}" for fault in run_audit(session).faults]


def _name(two: Two, reference: str) -> str:
    return f"{two.theirs.tags[reference]}@{HOST}"


def test_every_entry_comes_in_and_an_audit_is_good(two_on: Two) -> None:
    """Bytes, tree and index of the whole log; the take-over names size and root."""
    size = two_on.theirs.sizes()[0]
    assert ask(two_on.ours.address, "SELECT count(*) FROM taken") == [(size,)]
    with two_on.ours.open().reading() as session:
        (one,) = list_taken(session)
    assert (one.log.size, one.luminaires, one.adopted, one.authority) == (size, 19, 0, authority_of(two_on.theirs))
    assert _faults(two_on.ours) == []


def test_a_backup_and_a_rebuild_keep_what_was_taken_over(two_on: Two, tmp_path: Path) -> None:
    """The rows are not derived from our journal: they go along, and their index is made anew from them."""
    before = ask(two_on.ours.address, "SELECT log_id, seq, tag, version, place FROM taken_record ORDER BY log_id, seq")
    tamper(two_on.ours.address, "DELETE FROM taken_record")
    with two_on.ours.open().writing() as session:
        rebuild(session)
    assert ask(two_on.ours.address, "SELECT log_id, seq, tag, version, place FROM taken_record ORDER BY log_id, seq") == before
    saved = back_up(two_on.ours.open(), out=tmp_path / "saved.db")
    copy = Vault(str(saved.path))
    with copy.reading() as session:
        assert look(session, _name(two_on, "CH-007"))[0].record.place == two_on.theirs.seen("CH-007").record.place
    copy.close()


def test_rows_taken_over_are_append_only(two_on: Two) -> None:
    """The database itself refuses a change, a removal and a gap."""
    for statement in ("UPDATE taken SET kind = 9 WHERE seq = 3", "DELETE FROM taken WHERE seq = 3",
                      "INSERT INTO taken SELECT log_id, seq + 1000, kind, nodes, signed, nodes FROM taken WHERE seq = 1"):
        with pytest.raises(GearkeepError), two_on.ours.open().writing() as session:
            session.connection.exec_driver_sql(statement)


def test_a_taken_luminaire_is_shown_as_its_own_vaults(two: Two) -> None:
    """The same figures, signer and findings as there; history with proofs against the take-over's root."""
    import_into(two.ours, two.pack, two.theirs)
    there = two.theirs.seen("CH-007")
    with two.ours.open().reading() as session:
        seen, taken = look(session, _name(two, "CH-007"))
    assert taken is not None and taken.log.site == "Test Baths" and "taken over on 2030-03-17" in taken.words
    assert (seen.record, seen.signer_code, seen.findings) == (there.record, there.signer_code, there.findings)
    found = told(two.ours.open(), two.theirs.tags["CH-007"])
    assert found.taken is not None and found.entries[0].journal_size == two.theirs.sizes()[0]


def test_it_is_found_judged_and_printed_for_with_its_origin(two: Two, tmp_path: Path) -> None:
    """find, fit with our spares, sheet; a search that finds nothing of theirs is as before."""
    import_into(two.ours, two.pack, two.theirs)
    vault = two.ours.open()
    (one,) = find(vault, Asked(text="CH-007")).found
    assert one.taken is not None and one.taken.log.host == HOST.upper() and one.addresses == (6,)
    assert find(vault, Asked(line="D1", address=6)).found[0].tag == two.theirs.tags["CH-007"]
    judged = fit(two.ours.desk(), _name(two, "CH-007"))
    assert judged.taken is not None and {spare.fit.model for spare in judged.spares} >= {"GEN-50-1050"}
    assert print_sheets(two.ours.desk(), [_name(two, "CH-007")], tmp_path / "sheet.pdf")[0].pages >= 1


def test_an_adopted_luminaire_says_where_it_comes_from(two_on: Two) -> None:
    """A new tag, the same place, line and settings, our rating; its signer and digest are verified; a second time is skipped."""
    done = adopt_in(two_on.ours, _name(two_on, "CH-007"))
    (one,) = done.adopted
    there = two_on.theirs.seen("CH-007")
    with two_on.ours.open().reading() as session:
        seen, taken = look(session, one.tag)
        origin = adoption_of(session, seen.record)
    kept = ("place", "line", "circuit", "reference", "gears", "essentials", "basis", "baseline")
    assert [getattr(seen.record, name) for name in kept] == [getattr(there.record, name) for name in kept]
    assert taken is None and one.tag != there.tag and seen.record.version == 1 and not seen.provisional
    assert origin is not None and (origin.verified, origin.signer, origin.tag) == (True, "I01", there.tag)
    assert seen.record.taken_from is not None and seen.record.taken_from.digest == there.statement.digest[:16]
    assert [left.kind for left in adopt_in(two_on.ours, _name(two_on, "CH-007")).skipped] == ["adopted-before"]
    move(two_on.ours.desk("I01"), one.tag, place="Attic", line=None, circuit=None, address=None)
    with two_on.ours.open().reading() as session:
        assert look(session, one.tag)[0].record.taken_from == seen.record.taken_from
    assert _faults(two_on.ours) == []


def test_all_are_adopted_but_those_that_may_not_be(two: Two, tmp_path: Path) -> None:
    """Retired, in conflict, frozen: refused; the others get tags that neither vault ever used; again they are skipped."""
    retire(two.theirs.desk("I01"), two.theirs.tags["CH-001"], because="gone")
    two.theirs.fork(_side(two, "CH-002", 650), _side(two, "CH-002", 600))
    sight_label(two.theirs.desk("T01"), two.theirs.tags["CH-003"], "Attic", None, "T2", on_housing=True)
    import_into(two.ours, write_pack(two.theirs, tmp_path / "pack-2"), two.theirs)
    done = adopt_in(two.ours)
    kinds = {left.taken.tag: left.kind for left in done.refused}
    assert kinds == {two.theirs.tags[reference]: kind for reference, kind in (
        ("CH-001", "retired"), ("CH-002", "conflict"), ("CH-003", "frozen"))}
    assert len(done.adopted) == 16
    assert not {one.tag for one in done.adopted} & set(two.theirs.tags.values())
    again = adopt_in(two.ours)
    assert (len(again.skipped), again.adopted) == (16, ())
    found = find(two.ours.open(), Asked(text="CH-00")).found
    assert {one.taken.tag for one in found if one.taken} == set(kinds)


def _side(two: Two, reference: str, current_ma: int) -> Record:
    """A version 2 that follows the one handed over."""
    seen = two.theirs.seen(reference)
    gear = seen.record.gears[0]
    channel = replace(gear.settings.channels[0], current_ma=current_ma)
    return replace(seen.record, version=2, predecessors=seen.statement.digest[:16], reason=Reason.SETTINGS_CHANGED,
                   gears=(replace(gear, settings=replace(gear.settings, channels=(channel,))),))


def test_a_take_over_by_a_key_in_wrong_hands_is_named(two: Two) -> None:
    """The audit names it until a good authority takes the log over again."""
    import_into(two.ours, two.pack, two.theirs)
    stolen_from = two.ours.sizes()[0] - 2
    rotate(two.ours.desk("authority"), code="AUTH2", new_key=NEW_KEY, because="stolen")
    ours = replace(two.ours, keys={**two.ours.keys, "authority": NEW_KEY}, opened=[])
    withdraw_signer(ours.desk("authority"), code="AUTH", reason="stolen", trusted_until=stolen_from)
    assert any("take-over of the log" in fault and "doubtful-signer" in fault for fault in _faults(ours))
    ours.close()


def test_what_our_rating_stops_is_refused_and_what_differs_is_told(two: Two, tmp_path: Path) -> None:
    """The type's greatest current lowered in our rating: a stop; its title changed and the current back: a finding."""
    import_into(two.ours, two.pack, two.theirs)
    _load_type(two, tmp_path, 2, "current_max_ma = 700", "current_max_ma = 600")
    (left,) = adopt_in(two.ours, _name(two, "CH-007")).refused
    assert left.kind == "stops" and "600 mA" in left.why
    _load_type(two, tmp_path, 3, 'title = "Linear surface', 'title = "Linear hung')
    (one,) = adopt_in(two.ours, _name(two, "CH-007")).adopted
    assert [finding.rule for finding in one.findings] == ["rating-differs"]


def _load_type(two: Two, folder: Path, revision: int, before: str, after: str) -> None:
    text = (DEMO / "types.toml").read_text(encoding="utf-8").split("\n[[type]]")[1]
    changed = text.replace(before, after, 1).replace("revision = 1", f"revision = {revision}", 1)
    (folder / "types.toml").write_text(f"[[type]]{changed}", encoding="utf-8")
    load_catalogue(two.ours.desk("authority"), Kind.RATING, folder / "types.toml")


def test_an_address_that_is_taken_here_is_refused(two: Two) -> None:
    """Both vaults have a line D1: address 6 is one of ours already."""
    hand_over(two.ours.desk("I01"), two.theirs.folder / "schedule.csv")
    import_into(two.ours, two.pack, two.theirs)
    (left,) = adopt_in(two.ours, _name(two, "CH-007")).refused
    assert left.kind == "stops" and "address" in left.why


def test_provisional_stays_provisional(two: Two, tmp_path: Path) -> None:
    """A stop that nobody approved there is open here."""
    revise(two.theirs.desk("I01"), two.theirs.tags["CH-007"], changes={"channels.1.current_ma": "1050"}, allow_open=True)
    stops = two.theirs.seen("CH-007").open_stops
    import_into(two.ours, write_pack(two.theirs, tmp_path / "pack-2"), two.theirs)
    (one,) = adopt_in(two.ours, _name(two, "CH-007")).adopted
    with two.ours.open().reading() as session:
        assert one.provisional and look(session, one.tag)[0].open_stops == stops != frozenset()


def test_a_label_of_theirs_is_known_and_leads_to_the_new_tag(two: Two) -> None:
    """Its capsule verifies under their signers; after adoption it says the tag that it has here; the new label is ours."""
    import_into(two.ours, two.pack, two.theirs)
    text = two.theirs.label_text("CH-007")
    one = scan([], text=text, vault=two.ours.open(), trust_text=None)[0]
    assert one.problem is None and one.taken is not None and one.taken.adopted_as == () and one.newest is True
    (adopted,) = adopt_in(two.ours, _name(two, "CH-007")).adopted
    old = scan([], text=text, vault=two.ours.open(), trust_text=None)[0]
    assert old.taken is not None and "adopted here as" in old.taken.adoption_words and old.taken.adopted_as == (adopted.tag,)
    with two.ours.open().reading() as session:
        signed = look(session, adopted.tag)[0].statement.signed_bytes
    new = scan([], text=capsule_text(link(OUR_HOST, adopted.tag), signed), vault=two.ours.open(), trust_text=None)[0]
    assert new.problem is None and new.taken is None and new.record is not None and new.record.taken_from is not None


def test_a_newer_pack_continues_the_older_one(two: Two, tmp_path: Path) -> None:
    """Only what is new comes in, under a second take-over; the same pack again is nothing new."""
    import_into(two.ours, two.pack, two.theirs)
    move(two.theirs.desk("I01"), two.theirs.tags["CH-007"], place="Attic", line=None, circuit=None, address=None)
    done = import_into(two.ours, write_pack(two.theirs, tmp_path / "pack-2"), two.theirs)
    assert (done.added, done.size_before, done.log.size) == (1, done.log.size - 1, two.theirs.sizes()[0])
    assert import_into(two.ours, tmp_path / "pack-2", two.theirs).nothing_new
    with two.ours.open().reading() as session:
        assert look(session, _name(two, "CH-007"))[0].record.place == "Attic"
    assert _faults(two.ours) == []


def test_rows_that_were_lost_come_back_with_the_pack(two: Two) -> None:
    """An audit says that they are missing; the same pack fills them in and nothing is signed."""
    import_into(two.ours, two.pack, two.theirs)
    tamper(two.ours.address, "DELETE FROM taken", "DELETE FROM taken_record")
    assert any("its entries are missing" in fault for fault in _faults(two.ours))
    size = two.ours.sizes()
    assert import_into(two.ours, two.pack, two.theirs).added == two.theirs.sizes()[0]
    assert two.ours.sizes() == size and _faults(two.ours) == []


def _equal_tags(two: Two, monkeypatch: pytest.MonkeyPatch) -> str:
    """Both vaults have a luminaire of one tag, which chance alone would never bring about."""
    wanted = two.theirs.tags["CH-007"]
    monkeypatch.setattr("vault.actions.handover_site.Known.new_tag", lambda _self: (wanted, to_bytes(wanted)))
    hand_over(two.ours.desk("I01"), write_rows(two.theirs.folder / "one.csv", rows_of("CV-001")))
    return wanted


def test_equal_tags_of_two_vaults_are_told_apart(two: Two, monkeypatch: pytest.MonkeyPatch) -> None:
    """Plain, the tag is refused with both spelled out; with @ and log id or host each is meant; labels differ by their host."""
    tag = _equal_tags(two, monkeypatch)
    import_into(two.ours, two.pack, two.theirs)
    vault = two.ours.open()
    with vault.reading() as session:
        with pytest.raises(GearkeepError) as problem:
            look(session, tag)
        here, none = look(session, f"{tag}@{OUR_HOST}")
        there, taken = look(session, f"{tag}@{HOST}")
        assert none is None and taken is not None
        by_digits, _ = look(session, taken.name)
    assert problem.value.kind == "two-luminaires"
    assert all(word in problem.value.what for word in ("Town Hall", "Test Baths", here.record.place, there.record.place))
    assert here.record.place != there.record.place and by_digits.record == there.record
    for host, of in ((OUR_HOST, here), (HOST, there)):
        one = scan([], text=capsule_text(link(host, tag), of.statement.signed_bytes), vault=vault, trust_text=None)[0]
        assert one.record == of.record
        assert scan([], text=link(host, tag), vault=vault, trust_text=None)[0].record == of.record
    problem_of = scan([], text=tag, vault=vault, trust_text=None)[0].problem
    assert problem_of is not None and problem_of[0] == "two-luminaires"
    assert scan([], text=f"{tag}@{HOST}", vault=vault, trust_text=None)[0].record == there.record


@pytest.mark.parametrize("act", ["move", "retire", "revise"])
def test_what_is_not_ours_is_not_signed_for(two: Two, act: str) -> None:
    """Nothing is signed, and the way is said: adopt it first."""
    import_into(two.ours, two.pack, two.theirs)
    desk, name, size = two.ours.desk("I01"), two.theirs.tags["CH-007"], two.ours.sizes()
    acts = {"move": lambda: move(desk, name, place="Attic", line=None, circuit=None, address=None),
            "retire": lambda: retire(desk, name, because="gone"),
            "revise": lambda: revise(desk, name, changes={"channels.1.current_ma": "500"})}
    with pytest.raises(GearkeepError) as problem:
        acts[act]()
    assert problem.value.kind == "taken-over" and "gearkeep adopt" in problem.value.hint and two.ours.sizes() == size


def test_a_signer_of_theirs_signs_nothing_here(two: Two) -> None:
    """Their installer's key is none of ours."""
    import_into(two.ours, two.pack, two.theirs)
    desk = two.ours.desk("I01")
    desk.key_source = lambda: two.theirs.keys["T01"]
    with pytest.raises(GearkeepError) as problem:
        hand_over(desk, two.theirs.folder / "schedule.csv")
    assert problem.value.kind == "unknown-signer"


@pytest.mark.parametrize(("name", "kind"), [("{tag}@ffffffff", "no-such-log"), ("{tag}@elsewhere.example", "no-such-log"),
                                            ("7K3D9QXW@", "bad-tag")])
def test_a_name_that_means_nothing_is_refused(two: Two, name: str, kind: str) -> None:
    """What is known is listed."""
    import_into(two.ours, two.pack, two.theirs)
    with two.ours.open().reading() as session, pytest.raises(GearkeepError) as problem:
        look(session, name.format(tag=two.theirs.tags["CH-007"]))
    assert problem.value.kind == kind


def test_a_pack_of_this_very_vault_is_refused(two: Two) -> None:
    """It is no other vault's."""
    with pytest.raises(GearkeepError) as problem:
        import_into(two.theirs, two.pack, two.theirs)
    assert problem.value.kind == "own-pack"


def test_a_pack_in_a_zip_file_is_the_same_pack(two: Two, tmp_path: Path) -> None:
    """The folder packed under its own name."""
    packed = shutil.make_archive(str(tmp_path / "handover"), "zip", two.pack.parent, two.pack.name)
    assert import_into(two.ours, Path(packed), two.theirs).added == two.theirs.sizes()[0]


