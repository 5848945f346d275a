"""A lost vault from photographs of its labels: what comes back, what is refused and named, what is missing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from lost_vault import LostVault, photograph
from small_vault import HOST, NOW_S, SmallVault
from stored import tamper

from vault.actions.changes import revise
from vault.actions.checkpoint_page import write_sheet_pages
from vault.actions.keeping import rebuild_index, sign_checkpoints
from vault.actions.labelling import Wanted, print_labels
from vault.actions.recovering import accept_recovered
from vault.actions.scanning import scan
from vault.actions.setup import add_signer, withdraw_signer
from vault.db.session import Vault
from vault.domain.tag import shown
from vault.errors import GearkeepError, UsageProblem, VerificationError
from vault.trust.capsule import link
from vault.trust.grant_code import GrantCode, grant_text
from vault.trust.keys import fingerprint, public_bytes
from vault.trust.statements import Kind, Role
from vault.trust.trustlist import load
from vault.trust.verify import sign


@pytest.fixture
def lost(small: SmallVault, tmp_path: Path) -> LostVault:
    """The small vault with an empty folder of photographs."""
    (tmp_path / "photos").mkdir()
    return LostVault(small=small, photos=tmp_path / "photos", out=tmp_path / "new.db")


def test_printed_labels_and_pages_bring_the_records_back(lost: LostVault) -> None:
    """Labels and the signers' page as they are printed: the very signed bytes return, and an audit is clean."""
    for reference in ("CH-007", "ST-N1"):
        print_labels(lost.small.desk("I01"), Wanted(texts=[lost.small.tags[reference]]), out=lost.photos / f"{reference}.png")
    lost.photograph_signers()
    done = lost.recover()
    assert (done.failures, done.findings, done.accepted, done.files) == ((), (), True, 3)
    assert {one.tag for one in done.tags} == {lost.small.tags["CH-007"], lost.small.tags["ST-N1"]}
    for reference in ("CH-007", "ST-N1"):
        assert lost.seen(reference).statement.signed_bytes == lost.small.seen(reference).statement.signed_bytes
    assert lost.whys() == []
    [read] = scan([str(lost.photos / "CH-007.png")], text=None, vault=Vault(str(lost.out)), trust_text=None)
    assert read.problem is None and read.newest is True


def test_pages_that_lie_beside_labels_bring_the_signers_back(lost: LostVault) -> None:
    """With a checkpoint key the signers' codes stand behind the checkpoint, without one they are a file of their own."""
    desk = lost.small.desk()
    whole = write_sheet_pages(desk, lost.small.folder / "labels-checkpoint.pdf")
    alone = write_sheet_pages(replace(desk, checkpoint_key_source=None), lost.small.folder / "labels-checkpoint.pdf")
    assert (whole.name, alone.name) == ("labels-checkpoint.pdf", "labels-signers.pdf")


@pytest.mark.parametrize("write", [str.upper, lambda text: " ".join(text[i : i + 4] for i in range(0, 64, 4)), None],
                         ids=["capitals", "groups", "fingerprint"])
def test_the_authority_is_named_by_key_or_fingerprint(lost: LostVault, write: Callable[[str], str] | None) -> None:
    """As printed on the page, in any of its forms."""
    lost.label("CH-007")
    lost.list_signers()
    named = write(lost.authority) if write else fingerprint(bytes.fromhex(lost.authority))
    assert len(lost.recover(authority=named).tags) == 1


def test_the_authority_itself_is_asked_for(lost: LostVault) -> None:
    """Another authority's pages make no vault, whatever the labels say; a word that is no key is wrong use."""
    lost.label("CH-007")
    lost.list_signers()
    with pytest.raises(VerificationError) as caught:
        lost.recover(authority=public_bytes(Ed25519PrivateKey.from_private_bytes(b"7" * 32)).hex())
    assert caught.value.kind == "other-authority"
    with pytest.raises(UsageProblem):
        lost.recover(authority="the boss")
    assert not lost.out.exists()


def test_without_the_beginning_there_is_no_vault(lost: LostVault) -> None:
    """Labels alone say nothing of who signed."""
    lost.label("CH-007")
    with pytest.raises(GearkeepError) as caught:
        lost.recover()
    assert caught.value.kind == "no-genesis" and not lost.out.exists()


def _stranger(lost: LostVault) -> bytes:
    lost.small.keys = {**lost.small.keys, "stranger": Ed25519PrivateKey.from_private_bytes(b"7" * 32)}
    return lost.signed(lost.next_record("CH-007"), "stranger")


def _damaged(lost: LostVault) -> bytes:
    signed = lost.signed(lost.next_record("CH-007"), "I01")
    return signed[:-1] + bytes([signed[-1] ^ 1])


FORGED: dict[str, tuple[Callable[[LostVault], bytes], str]] = {
    "unknown signer": (_stranger, "unknown-signer"), "damaged": (_damaged, "bad-signature"),
    "without the role": (lambda lost: lost.signed(lost.next_record("CH-007"), "S01"), "wrong-role"),
    "other vault": (lambda lost: lost.signed(lost.next_record("CH-007"), "I01", b"o" * 16), "bad-signature"),
    "another's record": (lambda lost: lost.small.seen("CH-008").statement.signed_bytes, "bad-tag"),
}


@pytest.mark.parametrize(("make", "kind"), FORGED.values(), ids=FORGED.keys())
def test_a_forged_record_is_named_and_the_good_one_comes_back(lost: LostVault, make: Callable[[LostVault], bytes],
                                                              kind: str) -> None:
    """A higher version that cannot be trusted does not push the true one aside."""
    good = lost.small.seen("CH-007").statement.signed_bytes
    lost.label("CH-007")
    lost.list_signers()
    picture = lost.capsule("CH-007", make(lost), "forged")
    done = lost.recover()
    assert [(str(picture) in f.source, f.kind) for f in done.failures] == [(True, kind)]
    assert lost.seen("CH-007").statement.signed_bytes == good and lost.whys() == []


def test_each_picture_that_gives_nothing_is_named(lost: LostVault) -> None:
    """No picture, no code, a foreign code, another vault's label, a tag without settings, a bin's label."""
    lost.label("CH-007")
    lost.list_signers()
    (lost.photos / "a-text.png").write_text("no picture", encoding="utf-8")
    photograph(lost.photos / "b-foreign.png", "HTTPS://SHOP.EXAMPLE.ORG/7")
    photograph(lost.photos / "c-other.png", lost.small.label_text("CH-008").replace(HOST.upper(), "OTHER.EXAMPLE"))
    photograph(lost.photos / "d-link.png", link(HOST, lost.small.tags["CH-009"]))
    photograph(lost.photos / "e-known.png", link(HOST, lost.small.tags["CH-007"]))
    photograph(lost.photos / "f-bin.png", f"HTTPS://{HOST.upper()}/B/MAIN/A1")
    done = lost.recover()
    assert {(Path(f.source.split(" (")[0]).name, f.kind) for f in done.failures} == {
        ("a-text.png", "not-a-picture"), ("b-foreign.png", "foreign-link"), ("c-other.png", "other-vault"),
        ("d-link.png", "link-only"), ("f-bin.png", "place-code")}
    assert all(f.why for f in done.failures) and len(done.tags) == 1


def test_the_newest_label_of_a_luminaire_wins(lost: LostVault) -> None:
    """Two photographs from before and after a change, whatever their names' order."""
    lost.label("CH-007", "z-old")
    revise(lost.small.desk("I01"), lost.small.tags["CH-007"], changes={"channels.1.current_ma": "650"})
    lost.label("CH-007", "a-new")
    lost.list_signers()
    [one] = lost.recover().tags
    assert (one.record.version, one.record.gears[0].settings.channels[0].current_ma) == (2, 650)
    assert lost.whys() == [] and lost.seen("CH-007").record == one.record


def test_two_records_of_one_version_are_both_kept(lost: LostVault) -> None:
    """Neither is preferred: the luminaire is in conflict until somebody reads the driver."""
    for code, place in (("I01", "Here"), ("T01", "There")):
        lost.capsule("CH-007", lost.signed(lost.next_record("CH-007", place=place), code), code)
    lost.list_signers()
    done = lost.recover()
    assert len(done.tags) == 2 and any("different records" in said for said in done.findings)
    assert len(lost.seen("CH-007").heads) == 2 and lost.whys() == []


def test_an_audit_names_each_record_until_the_authority_accepts_it(lost: LostVault) -> None:
    """Nobody else can accept it, and accepting twice adds nothing."""
    lost.label("CH-007")
    lost.label("CH-008")
    lost.list_signers()
    done = lost.recover(key=None)
    assert not done.accepted and lost.whys() == ["not-accepted", "not-accepted"]
    with pytest.raises(VerificationError) as caught:
        accept_recovered(lost.desk("I01"))
    assert caught.value.kind == "wrong-role" and len(lost.whys()) == 2
    assert rebuild_index(Vault(str(lost.out))) > 0
    assert [accept_recovered(lost.desk("authority")), accept_recovered(lost.desk("authority"))] == [2, 0]
    assert lost.whys() == []


def test_another_key_makes_no_vault(lost: LostVault) -> None:
    """A key that may not accept leaves nothing half-made."""
    lost.label("CH-007")
    lost.list_signers()
    with pytest.raises(VerificationError):
        lost.recover(key="I01")
    assert [path.name for path in lost.out.parent.iterdir() if "new.db" in path.name] == []


def test_a_damaged_acceptance_is_one_fault(lost: LostVault) -> None:
    """The records that it accepts are not named with it."""
    lost.label("CH-007")
    lost.list_signers()
    lost.recover()
    tamper(str(lost.out), "UPDATE journal SET signed = CAST(substr(signed, 1, 40) || x'00' || substr(signed, 42) AS BLOB) "
                          "WHERE kind = 16")
    assert len(lost.whys()) == 1


def test_nothing_else_is_accepted_with_the_records(lost: LostVault) -> None:
    """A journal with another fault is not signed for."""
    lost.label("CH-007")
    lost.list_signers()
    lost.recover(key=None)
    tamper(str(lost.out), "UPDATE journal SET nodes = zeroblob(length(nodes)) WHERE seq = 1")
    with pytest.raises(GearkeepError) as caught:
        accept_recovered(lost.desk("authority"))
    assert caught.value.kind == "bad-journal"


def test_a_withdrawn_signer_s_earlier_record_counts_and_is_pointed_out(lost: LostVault) -> None:
    """The signer held the role when the record says it was signed."""
    withdraw_signer(lost.small.desk("authority"), code="I01", reason="left")
    lost.label("CH-007")
    lost.photograph_signers()
    done = lost.recover()
    assert [one.withdrawn for one in done.tags] == [True] and "withdrawn later" in done.findings[0]
    assert lost.whys() == [] and lost.seen("CH-007").signer_code == "I01"


def test_a_withdrawn_signer_s_later_record_does_not_count(lost: LostVault) -> None:
    """By its own time it was signed after the withdrawal."""
    withdraw_signer(lost.small.desk("authority"), code="I01", reason="left")
    lost.label("CH-007")
    lost.capsule("CH-007", lost.signed(lost.next_record("CH-007", time_s=NOW_S + 1), "I01"), "later")
    lost.list_signers()
    done = lost.recover()
    assert [f.kind for f in done.failures] == ["withdrawn-signer"] and done.tags[0].record.version == 1


def _codes(lost: LostVault) -> list[GrantCode]:
    rows = load(lost.list_signers().read_text(encoding="utf-8")).statements
    (lost.photos / "signers.json").unlink()
    return [GrantCode(host=HOST, place=place, number=number, count=len(rows), signed_bytes=signed)
            for number, (place, signed) in enumerate(rows, 1)]


def test_a_code_of_a_signer_that_is_missing_is_said(lost: LostVault) -> None:
    """Without the installer's grant his record cannot be verified, and the missing code is named by its number."""
    lost.label("CH-007")
    for code in _codes(lost)[2:]:
        photograph(lost.photos / f"code-{code.number}.png", grant_text(code))
    photograph(lost.photos / "code-1.png", grant_text(_codes(lost)[0]))
    done = lost.recover()
    assert {f.kind for f in done.failures} == {"unknown-signer", "signers-incomplete"} and done.path is None
    assert any("numbers 2 " in f.why for f in done.failures) and not lost.out.exists()


@pytest.mark.parametrize("place", [0, 1, 2])
def test_a_statement_at_a_forged_place_is_named(lost: LostVault, place: int) -> None:
    """A withdrawal printed before its grant, or at another statement's entry, would let a signer in again."""
    withdraw_signer(lost.small.desk("authority"), code="T02", reason="left")
    lost.label("CH-007")
    *others, last = _codes(lost)
    for code in [*others, replace(last, place=place)]:
        photograph(lost.photos / f"code-{code.number}.png", grant_text(code))
    assert {f.kind for f in lost.recover().failures} == {"bad-trust", "signers-incomplete"}


def test_statements_out_of_their_dates_order_are_named(lost: LostVault) -> None:
    """The place on a page is not signed, the date is: two codes that changed places are found."""
    for number, code in enumerate(("N1", "N2"), 1):
        desk = replace(lost.small.desk("authority"), now_s=lambda number=number: NOW_S + number)  # type: ignore[misc]
        key = Ed25519PrivateKey.from_private_bytes(bytes([number]) * 32)
        add_signer(desk, code=code, roles=frozenset({Role.STORES}), public_key=public_bytes(key), name=None)
    lost.label("CH-007")
    *others, one, two = _codes(lost)
    for code in [*others, replace(one, place=two.place), replace(two, place=one.place)]:
        photograph(lost.photos / f"code-{code.number}.png", grant_text(code))
    assert {f.kind for f in lost.recover().failures} == {"bad-trust", "signers-incomplete"}


def test_pages_of_two_vaults_are_not_mixed(lost: LostVault) -> None:
    """Two beginnings under one authority: which vault is meant nobody can tell."""
    lost.label("CH-007")
    lost.list_signers()
    with lost.small.open().reading() as session:
        other = replace(session.genesis, log_id=b"o" * 16)
    signed = sign(Kind.GENESIS, other, lost.small.keys["authority"], log_id=other.log_id)
    photograph(lost.photos / "other.png", grant_text(GrantCode(host=HOST, place=0, number=1, count=1, signed_bytes=signed)))
    with pytest.raises(VerificationError) as caught:
        lost.recover()
    assert caught.value.kind == "other-vault" and not lost.out.exists()


def test_without_any_good_record_no_vault_is_made(lost: LostVault) -> None:
    """And nothing is claimed to be missing."""
    lost.list_signers()
    done = lost.recover()
    assert (done.path, done.tags, done.missing, lost.out.exists()) == (None, (), (), False)


def test_a_vault_that_is_there_is_not_touched(lost: LostVault) -> None:
    """A new vault needs a new file."""
    lost.out.write_bytes(b"precious")
    with pytest.raises(UsageProblem):
        lost.recover()
    assert lost.out.read_bytes() == b"precious"


def test_what_labels_cannot_carry_is_named(lost: LostVault) -> None:
    """Types, drivers, circuits, lines, history, open stops, stock and old checkpoints, by name where there is one."""
    tag = lost.small.tags["CH-007"]
    revise(lost.small.desk("I01"), tag, changes={"channels.1.current_ma": "1050"}, allow_open=True)
    lost.label("CH-007")
    lost.list_signers()
    said = "\n".join(lost.recover().missing)
    for word in ("T1 revision 1", "CC-40-700", "L1", "D1", f"{shown(tag)} before version 2", "current-permitted", "stock",
                 "heckpoints of the lost vault do not agree"):
        assert word in said


def test_old_checkpoints_do_not_agree(lost: LostVault) -> None:
    """The new vault is a new journal under the old log id, and an audit says so honestly."""
    kept = lost.small.folder / "kept.txt"
    kept.write_text(sign_checkpoints(lost.small.desk())[0].note, encoding="utf-8")
    lost.label("CH-007")
    lost.list_signers()
    lost.recover()
    assert lost.whys(kept) == ["rollback"]
