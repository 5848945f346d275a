"""The committed bytes are a contract: a second implementation is held to the same files."""

from __future__ import annotations

import json
from pathlib import Path

import make
import pytest

from vault.db.past import MemoryPast
from vault.db.projections import rows_of
from vault.db.replay import Tree
from vault.errors import GearkeepError
from vault.trust import cose
from vault.trust.appointment import body_of, parse_endorsement, parse_request
from vault.trust.capsule import parse_text
from vault.trust.chain import check_place
from vault.trust.estate import verify_estate
from vault.trust.note import open_note, parse_checkpoint
from vault.trust.signers import Signers
from vault.trust.statements import Kind
from vault.trust.verify import Statement, verify, verify_genesis, verify_movement

HERE = Path(__file__).parent
GOOD = json.loads((HERE / "good.json").read_text(encoding="utf-8"))
BAD = json.loads((HERE / "bad.json").read_text(encoding="utf-8"))
LOG_ID, STOCK_LOG_ID = bytes.fromhex(GOOD["log_id"]), bytes.fromhex(GOOD["stock_log_id"])
MAIN = [one for one in GOOD["statements"] if one["name"] != "stock-movement"]
BEFORE_STOCK = [one["name"] for one in GOOD["statements"]].index("stock-movement")


def _walk(upto: int) -> tuple[Signers, MemoryPast, list[Statement]]:
    signers, past, seen = Signers(), MemoryPast(), []
    for place, one in enumerate(MAIN[:upto]):
        signed = bytes.fromhex(one["signed"])
        statement = verify_genesis(signed) if place == 0 else verify(signed, log_id=LOG_ID, signers=signers, place=place)
        if place:
            check_place(statement, past)
        signers.feed(statement.body, place, by=statement.key_id)
        for row in rows_of(place, statement):
            past.feed(row)
        seen.append(statement)
    return signers, past, seen


@pytest.mark.parametrize("path", make.outputs(), ids=lambda path: path.name)
def test_the_files_are_made_again_byte_for_byte(path: Path) -> None:
    """The script regenerates every committed vector and the generated parts of FORMAT.md exactly."""
    assert path.read_text(encoding="utf-8") == make.outputs()[path]


def test_every_good_statement_verifies_in_its_place() -> None:
    """The chain of worked examples is accepted entry by entry."""
    assert len(_walk(len(MAIN))[2]) == len(MAIN)


def test_the_stock_movement_verifies_against_the_size_it_names() -> None:
    """A movement counts when its signer held the role at the main size inside it."""
    signers, _, seen = _walk(BEFORE_STOCK)
    signed = bytes.fromhex(next(one["signed"] for one in GOOD["statements"] if one["name"] == "stock-movement"))
    movement = verify_movement(signed, stock_log_id=STOCK_LOG_ID, signers=signers, main_size=1)
    assert movement.body.main_size == len(seen)


def test_the_stock_log_verifies_in_its_order() -> None:
    """Terms and movements of every act are accepted one behind the other, and each has rows in the index."""
    signers, _, seen = _walk(len(MAIN))
    for place, one in enumerate(GOOD["stock_log"], 1):
        statement = verify_movement(bytes.fromhex(one["signed"]), stock_log_id=STOCK_LOG_ID, signers=signers, main_size=len(seen))
        assert statement.digest.hex() == one["digest"] and list(rows_of(place, statement)) != []


@pytest.mark.parametrize("one", MAIN, ids=lambda one: one["name"])
def test_digests_are_the_leaf_hashes(one: dict[str, str]) -> None:
    """Each statement's digest is SHA-256 over 00 and its bytes."""
    assert cose.digest(bytes.fromhex(one["signed"])).hex() == one["digest"]


def test_the_capsule_holds_the_record() -> None:
    """The capsule's digits turn back into the record's exact bytes."""
    label = parse_text(GOOD["capsule"])
    assert (label.tag, label.signed_bytes) == (GOOD["tag"], bytes.fromhex(MAIN[7]["signed"]))


def test_the_checkpoint_is_signed_over_every_entry() -> None:
    """The checkpoint opens with the genesis's checkpoint key and names the size of the chain before the movement."""
    name = f"{parse_text(GOOD['link']).host}/{GOOD['log_id']}".replace("LX.EXAMPLE.EU", "lx.example.eu")
    text = open_note(GOOD["checkpoint"], name, bytes.fromhex(GOOD["public_keys"]["checkpoint"]))
    assert parse_checkpoint(text).size == BEFORE_STOCK


def test_the_request_and_its_endorsement_make_the_appointment() -> None:
    """The texts that holders send make the same body as the statement."""
    signers, _, seen = _walk(len(MAIN))
    body = next(one.body for one in seen if one.kind is Kind.APPOINTMENT)
    assert body_of(parse_request(GOOD["request"]), [parse_endorsement(GOOD["endorsement"])], signers) == body


def test_the_estate_is_verified_by_its_key_alone() -> None:
    """The estate's checkpoint opens with the estate's key and names both vaults."""
    found = verify_estate(bytes.fromhex(GOOD["estate"]), bytes.fromhex(GOOD["public_keys"]["estate"]))
    assert [site.main_size for site in found.sites] == [14, 14]


def test_the_take_over_is_of_the_other_log() -> None:
    """The other log is a good one by itself, and the note in the take-over is signed by its checkpoint key over just it."""
    entries = [bytes.fromhex(one["signed"]) for one in GOOD["other_log"]]
    body = next(one.body for one in _walk(len(MAIN))[2] if one.kind is Kind.TAKE_OVER)
    genesis, signers, past, tree = verify_genesis(entries[0]).body, Signers(), MemoryPast(), Tree()
    for place, signed in enumerate(entries):
        statement = verify_genesis(signed) if place == 0 else verify(signed, log_id=genesis.log_id, signers=signers, place=place)
        if place:
            check_place(statement, past)
        signers.feed(statement.body, place, by=statement.key_id)
        for row in rows_of(place, statement):
            past.feed(row)
        tree.add(statement.digest)
    origin = f"{genesis.host.lower()}/{genesis.log_id.hex()}"
    said = parse_checkpoint(open_note(body.note, origin, genesis.checkpoint_key))
    assert (said.origin, said.size, said.root) == (origin, len(entries), tree.root())
    assert (body.log_id, body.host, body.site) == (genesis.log_id, genesis.host, genesis.site)


@pytest.mark.parametrize("case", [c for c in BAD if "signed" in c], ids=lambda c: c["name"])
def test_every_broken_statement_names_its_failure(case: dict[str, str]) -> None:
    """A broken statement in the place behind the second version, or as said, fails with the class in the table."""
    behind = int(case.get("behind", 9))
    signers, past, _ = _walk(behind)
    with pytest.raises(GearkeepError) as problem:
        check_place(verify(bytes.fromhex(case["signed"]), log_id=LOG_ID, signers=signers, place=behind), past)
    assert problem.value.kind == case["failure"]


@pytest.mark.parametrize("case", [c for c in BAD if "text" in c], ids=lambda c: c["name"])
def test_every_broken_text_names_its_failure(case: dict[str, str]) -> None:
    """A label text that is wrong fails with the class in the table."""
    with pytest.raises(GearkeepError) as problem:
        parse_text(case["text"])
    assert problem.value.kind == case["failure"]
