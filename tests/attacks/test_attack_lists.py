"""Attacks on what is read without the vault: labels, lists of signers, checkpoints, and texts without end. Rows of the table in
DEVELOPERS.md.
"""

from __future__ import annotations

import io
import json
import zlib
from dataclasses import replace
from typing import Any

import pytest
from attackers import STRANGER, checkpoint_of, journal_of, refused, resigned, words_of_audit, write_journal
from PIL import Image
from small_vault import HOST, NOW_S, SmallVault
from stored import tamper

from labels.reading import FoundCode, Reading
from vault.actions.changes import move
from vault.actions.keeping import sign_checkpoints, signer_list
from vault.actions.scan_codes import said_by
from vault.actions.scanning import scan
from vault.actions.setup import withdraw_signer
from vault.errors import UsageProblem
from vault.trust import cose
from vault.trust.capsule import capsule_text, link
from vault.trust.keys import key_id, public_bytes
from vault.trust.note import open_note, parse_checkpoint, sign_note
from vault.trust.statements import Grant, Kind, Role
from vault.trust.trustlist import load
from vault.trust.verify import verify_genesis

ENDLESS = "HTTPS://LX.EXAMPLE.EU/L/000000000#" + "1" * 2_000_000


def _problem(small: SmallVault, text: str, trust: str | None) -> str | None:
    found = scan([], text=text, vault=None if trust else small.open(), trust_text=trust)[0]
    return found.problem[0] if found.problem else None


def _square(text: str, left: float, side: float) -> FoundCode:
    corners = ((left, 0.0), (left + side, 0.0), (left + side, side), (left, side))
    return FoundCode(text=text, corners=corners)


def test_one_label_with_two_luminaires_codes(small: SmallVault) -> None:
    """A good capsule beside the link of another luminaire, on one label: neither counts, and both tags are named."""
    capsule = _square(small.label_text("CH-007"), 0, 100)
    other = _square(link(HOST, small.tags["CV-001"]), 120, 60)
    said = said_by([Reading(codes=(capsule, other), unread=(), tried=())], "photo.jpg", "photo.jpg")
    assert said.labels == () and [problem.kind for problem in said.problems] == ["codes-disagree"]


@pytest.mark.parametrize("offline", [False, True])
@pytest.mark.parametrize(("host", "kind"), [("other.example", "other-vault"), (HOST, "bad-signature")])
def test_a_label_of_another_vault(small: SmallVault, offline: bool, host: str, kind: str) -> None:
    """Signed by the same installer for another vault: under its own host, and under ours."""
    payload = cose.open_envelope(small.seen("CH-007").statement.signed_bytes).payload
    foreign = cose.sign_statement(int(Kind.RECORD), payload, small.keys["I01"], cose.external_aad(1, b"another log id !"))
    trust = signer_list(small.open()) if offline else None
    assert _problem(small, capsule_text(link(host, small.tags["CH-007"]), foreign), trust) == kind


def _edited(small: SmallVault, **changes: Any) -> str:
    return json.dumps(json.loads(signer_list(small.open())) | changes)


def _rows(small: SmallVault) -> list[list[Any]]:
    rows: list[list[Any]] = json.loads(signer_list(small.open()))["statements"]
    return rows


def test_a_list_of_signers_with_one_more(small: SmallVault) -> None:
    """A grant of one's own making, by one's own key or by a technician's, makes the whole list worthless."""
    body = Grant(public_key=public_bytes(STRANGER), roles=frozenset({Role.INSTALLER}), code="X01", time_s=NOW_S)
    for key, kind in ((STRANGER, "unknown-signer"), (small.keys["T01"], "wrong-role")):
        more = [*_rows(small), [40, resigned(small, Kind.GRANT, body, key).hex()]]
        assert refused(lambda more=more: load(_edited(small, statements=more, size=60))) == kind


@pytest.mark.parametrize(("changes", "kind"), [
    ({"size": 3}, "bad-trust"), ({"size": None}, "bad-trust"), ({"statements": []}, "bad-trust"),
    ({"statements": "x"}, "bad-trust"),
    ({"gearkeep-signers": 2}, "future-version"), ({"checkpoint": "x"}, "bad-note"), ({"pad": "x" * 4_000_000}, "too-large"),
    ({"statements": [[0, "00"]]}, "not-a-statement"), ({"statements": [[1, "00"]]}, "bad-trust"),
])
def test_a_list_of_signers_that_is_none(small: SmallVault, changes: dict[str, Any], kind: str) -> None:
    """Cut, endless, of another form, with a checkpoint that is none."""
    assert refused(lambda: load(_edited(small, **changes))) == kind


def test_a_list_of_signers_of_a_strangers_vault(small: SmallVault) -> None:
    """A whole list under another authority: sound in itself, and no label of this vault holds against it; people tell it by the
    authority's fingerprint.
    """
    own = public_bytes(STRANGER)
    genesis = replace(verify_genesis(journal_of(small)[0]).body, authority_key=own, checkpoint_key=own)
    forged = _edited(small, statements=[[0, resigned(small, Kind.GENESIS, genesis, STRANGER).hex()]], checkpoint=None)
    assert load(forged).authority != load(signer_list(small.open())).authority
    assert _problem(small, small.label_text("CH-007"), forged) == "unknown-signer"


def test_a_list_of_signers_with_a_withdrawal_left_out(small: SmallVault) -> None:
    """Nobody catches this without the vault: the label passes and names list and date; the vault refuses the key."""
    withdraw_signer(small.desk("authority"), code="I01", reason="lost")
    label = small.label_text("CH-007")
    cut = _edited(small, statements=_rows(small)[:-1])
    found = scan([], text=label, vault=None, trust_text=cut)[0]
    assert found.problem is None and found.as_of is not None and "as of list" in found.as_of
    assert _problem(small, label, signer_list(small.open())) == "withdrawn-signer"


def test_a_checkpoint_of_a_strangers_making(small: SmallVault) -> None:
    """A note under the vault's name by another key, and one whose text was changed behind its signature."""
    kept = checkpoint_of(small)
    with small.open().reading() as session:
        name, key = kept.splitlines()[0], session.genesis.checkpoint_key
    text = kept.split("\n\n", maxsplit=1)[0] + "\n"
    forged, changed = sign_note(text, name, STRANGER), kept.replace(text.splitlines()[1], "9", 1)
    assert {refused(lambda note=note: parse_checkpoint(open_note(note, name, key))) for note in (forged, changed)} <= {
        "bad-signature", "unknown-signer"}
    assert words_of_audit(small, forged) & {"bad-signature", "unknown-signer"}


def test_a_checkpoint_of_the_journals_other_log(small: SmallVault) -> None:
    """Mix and match: the stock journal's checkpoint says nothing of the main one, and is held against its own."""
    main, stock = (one.note for one in sign_checkpoints(small.desk("I01")))
    assert words_of_audit(small, main, stock) == set()
    mixed = stock.splitlines()[0] + "\n" + "\n".join(main.splitlines()[1:]) + "\n"
    assert words_of_audit(small, mixed) & {"bad-signature", "unknown-signer", "bad-note"}


def test_a_rolled_back_vault_that_is_signed_for_again(small: SmallVault) -> None:
    """The vault's own last checkpoint stands against it: nothing newer is signed over a shorter journal or another one."""
    before = journal_of(small)
    move(small.desk("I01"), small.tags["CH-007"], place="Here", line=None, circuit=None, address=None)
    note = checkpoint_of(small)
    said = note.splitlines()
    write_journal(small, before)
    assert "rollback" in words_of_audit(small, note)
    tamper(small.address, "INSERT INTO checkpoint (log, size, root, note) VALUES (0, :size, :root, :note)",
           size=int(said[1]), root=b"r" * 32, note=note)
    assert refused(lambda: sign_checkpoints(small.desk("I01"))) == "rollback"


def test_a_label_without_end(small: SmallVault) -> None:
    """Two million digits behind a link are refused before anything is built from them."""
    assert _problem(small, ENDLESS, None) in ("bad-capsule", "too-large", "bad-tag")


def test_a_picture_that_unfolds(small: SmallVault) -> None:
    """A small file that claims 400 million dots is not unfolded."""
    path, held = small.folder / "bomb.png", io.BytesIO()
    Image.new("1", (8, 8)).save(held, format="PNG")
    head = b"IHDR" + (20_000).to_bytes(4, "big") * 2 + held.getvalue()[24:29]  # clause 11.2.2 of the PNG specification
    path.write_bytes(held.getvalue()[:12] + head + zlib.crc32(head).to_bytes(4, "big") + held.getvalue()[33:])
    found = scan([str(path)], text=None, vault=small.open(), trust_text=None)[0]
    assert found.problem is not None and found.problem[0] == "too-large"


def test_a_name_that_is_taken_for_a_tag(small: SmallVault) -> None:
    """Nothing to scan is wrong use, and a key's identity is not a label."""
    with pytest.raises(UsageProblem):
        scan([], text=None, vault=small.open(), trust_text=None)
    assert _problem(small, key_id(public_bytes(STRANGER)).hex(), None) in ("bad-tag", "foreign-code", "not-found")
