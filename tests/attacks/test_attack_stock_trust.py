"""Attacks on who answers for the store: stolen keys, edited rows, sizes out of reach. Rows of the table in DEVELOPERS.md."""

from __future__ import annotations

from dataclasses import replace

from attackers import journal_of, refusal, refused, resigned, words_of_audit, write_journal
from small_vault import NOW_S, SmallVault
from stored import tamper

from vault.actions.reorder import reorder
from vault.actions.setup import withdraw_signer
from vault.actions.stock import Said, one_movement
from vault.actions.stock_doubts import read_stock_doubts
from vault.actions.stock_load import load_stock
from vault.db.tables import STOCK
from vault.domain.stock import Act, Movement, MovementLine
from vault.trust.statements import Kind

SPARE = "GEN-50-1050"


def _counted(small: SmallVault, pieces: int) -> None:
    one_movement(small.desk("S01"), act=Act.COUNT, store="MAIN", model=SPARE, quantity=pieces, bin_name="A1",
                 said=Said(reason="count"))


def test_a_movement_of_a_stolen_key(small: SmallVault) -> None:
    """What it counted is told beside every figure of the store, and named by the audit, until another hand counts the bin."""
    last = small.sizes()[0] - 2
    _counted(small, 50)
    withdraw_signer(small.desk("authority"), code="S01", reason="stolen", trusted_until=last)
    assert "by S01, whose key was in wrong hands" in read_stock_doubts(small.desk(), [SPARE])[0]
    assert "doubtful-signer" in words_of_audit(small)
    one_movement(small.desk("T01"), act=Act.COUNT, store="MAIN", model=SPARE, quantity=6, bin_name="A1", said=Said(reason="seen"))
    assert not any(f"{SPARE} in bin A1" in one for one in read_stock_doubts(small.desk(), [SPARE]))


def test_an_edited_movement_row(small_on: SmallVault) -> None:
    """Fifty pieces that nobody received are listed by nobody."""
    tamper(small_on.address, "UPDATE movement SET quantity = 50 WHERE model = :model", model=SPARE)
    assert refused(small_on.shelves) == refused(lambda: small_on.usable(SPARE)) == "bad-index"
    assert any(word.startswith("index table movement") for word in words_of_audit(small_on))


def test_an_edited_terms_row(small_on: SmallVault) -> None:
    """A lead time that nobody agreed orders nothing."""
    path = small_on.folder / "terms.csv"
    path.write_text(f"model,lead_days\n{SPARE},28\n", encoding="utf-8")
    load_stock(small_on.desk("S01"), path, store="MAIN", sure=True)
    tamper(small_on.address, "UPDATE supply_terms SET lead_days = 2800")
    assert refused(lambda: reorder(small_on.desk())) == "bad-index"


def test_a_main_size_out_of_reach(small: SmallVault) -> None:
    """Refused at the door; put into the tables it is named by the audit, and whoever moves stock next is told what it is."""
    body = Movement(act=Act.RECEIPT, store="MAIN", time_s=NOW_S, main_size=2**40, lines=(MovementLine(model=SPARE, quantity=1),))
    ahead = resigned(small, Kind.STOCK_MOVEMENT, body, small.keys["S01"], STOCK)
    assert refused(lambda: small.open().append_signed(ahead, STOCK)) == "bad-chain"
    _counted(small, 6)
    write_journal(small, [*journal_of(small, STOCK), ahead], STOCK)
    assert "bad-chain" in words_of_audit(small)
    assert refused(small.shelves) == "bad-chain"
    told = refusal(lambda: small.sign("S01", Kind.STOCK_MOVEMENT, replace(body, main_size=small.sizes()[0])))
    assert told.kind == "bad-chain" and "audit" in told.hint and "backup" in told.hint
