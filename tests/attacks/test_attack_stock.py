"""Attacks on the store's journal and on what it writes. Rows of the table in DEVELOPERS.md."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import openpyxl
import pytest
from attackers import STRANGER, checkpoint_of, journal_of, packed, refused, resigned, words_of_audit, write_journal
from click.testing import CliRunner
from small_vault import DEMO, NOW_S, SmallVault
from stored import tamper

from vault.actions.reorder import reorder, write_reorder
from vault.actions.setup import load_catalogue
from vault.actions.stock import one_movement
from vault.actions.stock_load import load_stock
from vault.cli.main import main
from vault.db.tables import MAIN, STOCK
from vault.domain.stock import Act, Movement, MovementLine
from vault.domain.terms import ItemTerms, SupplyTerms
from vault.trust.statements import Kind

SPARE = "GEN-50-1050"
TERMS = SupplyTerms(time_s=NOW_S, main_size=10, lines=(ItemTerms(model=SPARE, price_cents=1, currency="EUR"),))
MOVEMENT = Movement(act=Act.ISSUE, store="MAIN", time_s=NOW_S, main_size=10,
                    lines=(MovementLine(model=SPARE, quantity=1, bin="A1"),))


def _terms(small: SmallVault, text: str) -> None:
    path = small.folder / "terms.csv"
    path.write_text(text, encoding="utf-8")
    load_stock(small.desk("S01"), path, store="MAIN", sure=True)


def test_an_edited_price_in_the_terms(small_on: SmallVault) -> None:
    """In the index the audit names the table; in what was signed, the signature."""
    _terms(small_on, f"model,price,currency\n{SPARE},41.50,EUR\n")
    small_on.close()
    tamper(small_on.address, "UPDATE supply_terms SET price_cents = 1")
    assert any(word.startswith("index table supply_terms") for word in words_of_audit(small_on))
    signed = journal_of(small_on, STOCK)
    edited = signed[-1].replace((4150).to_bytes(2, "big"), (1).to_bytes(2, "big"))
    assert edited != signed[-1]
    tamper(small_on.address, "UPDATE journal SET signed = :signed WHERE log = 1 AND kind = 20", signed=edited)
    assert "bad-signature" in words_of_audit(small_on)


@pytest.mark.parametrize(("body", "signer", "kind"), [
    (TERMS, "I01", "wrong-role"), (TERMS, "T01", "wrong-role"), (MOVEMENT, "P01", "wrong-role"), (TERMS, None, "unknown-signer")])
def test_a_statement_of_the_store_by_another(small: SmallVault, body: Any, signer: str | None, kind: str) -> None:
    """Who has not the role, or is nobody, signs no terms and moves nothing, by the door and in the tables; a technician moves
    pieces and agrees nothing about them.
    """
    key = small.keys[signer] if signer else STRANGER
    kind_of = Kind.SUPPLY_TERMS if isinstance(body, SupplyTerms) else Kind.STOCK_MOVEMENT
    forged = resigned(small, kind_of, replace(body, main_size=small.sizes()[0]), key, STOCK)
    assert refused(lambda: small.open().append_signed(forged, STOCK)) == kind
    write_journal(small, [*journal_of(small, STOCK), forged], STOCK)
    assert kind in words_of_audit(small)


def test_a_statement_in_the_wrong_journal(small: SmallVault) -> None:
    """Signed for the main journal it does not stand in the store's, and a record stands there under no signature."""
    of_main = resigned(small, Kind.SUPPLY_TERMS, TERMS, small.keys["S01"], MAIN)
    record = packed(small, b"\xa0", small.keys["I01"])
    assert refused(lambda: small.open().append_signed(of_main, STOCK)) == "bad-signature"
    assert refused(lambda: small.open().append_signed(record, STOCK)) == "unknown-kind"


def test_a_movement_replayed_or_signed_against_an_older_journal(small: SmallVault) -> None:
    """The same signed bytes once more move nothing; what names a smaller main journal than the one before does not follow it."""
    one_movement(small.desk("S01"), act=Act.ISSUE, store="MAIN", model=SPARE, quantity=1, bin_name="A1")
    before = small.sizes()
    small.open().append_signed(journal_of(small, STOCK)[-1], STOCK)
    assert small.sizes() == before
    older = resigned(small, Kind.STOCK_MOVEMENT, replace(MOVEMENT, main_size=5), small.keys["S01"], STOCK)
    assert refused(lambda: small.open().append_signed(older, STOCK)) == "bad-chain"


def test_reordered_or_lost_movements(small: SmallVault) -> None:
    """Two exchanged, or the last left out, hashes and index made to fit: the stock journal's checkpoint shows it."""
    for quantity in (1, 2):
        one_movement(small.desk("S01"), act=Act.ISSUE, store="MAIN", model=SPARE, quantity=quantity, bin_name="A1")
    kept, before = checkpoint_of(small, STOCK), journal_of(small, STOCK)
    write_journal(small, [before[0], before[2], before[1]], STOCK)
    assert "fork" in words_of_audit(small, kept)
    write_journal(small, before[:2], STOCK)
    assert "rollback" in words_of_audit(small, kept)


def test_a_formula_in_a_list_of_the_store(small: SmallVault) -> None:
    """A supplier, a replacement or a model that is a formula stands as text in the reorder list and in the table of coverage."""
    catalogue = small.folder / "d.toml"
    one = (DEMO / "drivers.toml").read_text(encoding="utf-8").split("[[driver]]")[1]
    catalogue.write_text(f'[[driver]]{one.replace("CC-40-700", "=1+1", 1)}', encoding="utf-8")
    load_catalogue(small.desk("authority"), Kind.DRIVER_MODEL, catalogue)
    _terms(small, f"model,supplier,replaced_by,price,currency,lead_days\n{SPARE},=2+2,@SUM(1),1,EUR,2800\n")
    one_movement(small.desk("S01"), act=Act.COUNT, store="MAIN", model=SPARE, quantity=0, bin_name="A1", reason="count")
    ordered = reorder(small.desk("S01"))
    write_reorder(small.folder / "reorder.csv", ordered)
    write_reorder(small.folder / "reorder.xlsx", ordered)
    small.close()
    CliRunner().invoke(main, ["--vault", str(small.path), "cover", "--out", str(small.folder / "cover.csv")])
    texts = "".join((small.folder / name).read_text(encoding="utf-8-sig") for name in ("reorder.csv", "cover.csv"))
    assert [said for said in ("=1+1", "=2+2", "@SUM(1)") if f"\"'{said}\"" not in texts or f"\"{said}\"" in texts] == []
    cells = [cell for row in openpyxl.load_workbook(small.folder / "reorder.xlsx").active.iter_rows() for cell in row]
    assert "'=2+2" in [cell.value for cell in cells] and "f" not in [cell.data_type for cell in cells]
