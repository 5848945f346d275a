"""The committed bytes are a contract: a second implementation is held to the same files."""

from __future__ import annotations

import json
from pathlib import Path

import make
import pytest

from vault.db.past import MemoryPast
from vault.db.projections import rows_of
from vault.errors import GearkeepError
from vault.trust import cose
from vault.trust.capsule import parse_text
from vault.trust.chain import check_place
from vault.trust.note import open_note, parse_checkpoint
from vault.trust.signers import Signers
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
        signers.feed(statement.body, place)
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


@pytest.mark.parametrize("case", [c for c in BAD if "signed" in c], ids=lambda c: c["name"])
def test_every_broken_statement_names_its_failure(case: dict[str, str]) -> None:
    """A broken statement in the place behind the second version fails with the class in the table."""
    signers, past, _ = _walk(9)
    with pytest.raises(GearkeepError) as problem:
        check_place(verify(bytes.fromhex(case["signed"]), log_id=LOG_ID, signers=signers, place=9), past)
    assert problem.value.kind == case["failure"]


@pytest.mark.parametrize("case", [c for c in BAD if "text" in c], ids=lambda c: c["name"])
def test_every_broken_text_names_its_failure(case: dict[str, str]) -> None:
    """A label text that is wrong fails with the class in the table."""
    with pytest.raises(GearkeepError) as problem:
        parse_text(case["text"])
    assert problem.value.kind == case["failure"]
