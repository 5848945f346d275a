"""The store's index is held against what is signed wherever it is read, and the quick way makes the rows of the careful one."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from small_vault import NOW_S, SmallVault
from stored import ask, tamper

from vault.actions.stock import one_movement, read_stock_state
from vault.actions.stock_load import load_stock, read_terms
from vault.db import tables
from vault.db.projections import rows_of
from vault.db.stock_held import _OF_KIND
from vault.db.stock_rows import MovementRow, delivered, each_movement, supply_terms
from vault.db.tables import STOCK
from vault.domain.stock import Act, Condition, Movement, MovementLine, Stream
from vault.domain.terms import Importance, Item, ItemTerms, SupplyTerms
from vault.errors import GearkeepError
from vault.trust.mapping import to_plain_cbor
from vault.trust.statements import Kind
from vault.trust.verify import Statement

SPARE, OTHER = "GEN-50-1050", "GEN-25-800"


def kept(small: SmallVault) -> SmallVault:
    """The vault with terms and an issue."""
    path = small.folder / "terms.csv"
    path.write_text(f"model,price,currency,lead_days\n{SPARE},41.50,EUR,28\n{OTHER},33.00,EUR,28\n", encoding="utf-8")
    load_stock(small.desk("S01"), path, store="MAIN", sure=True)
    one_movement(small.desk("S01"), act=Act.ISSUE, store="MAIN", model=SPARE, quantity=1, bin_name="A1")
    small.close()
    return small


def said(act: Any) -> str:
    """The failure class with which something is refused, "" where it is not."""
    try:
        act()
    except GearkeepError as problem:
        return problem.kind
    return ""


ROW = "INSERT INTO movement (seq, number, act, store, model, quantity, time_s)"
LAST = "(SELECT max(seq) FROM movement)"
WRONG = {
    "a figure": f"UPDATE movement SET quantity = 500 WHERE model = '{SPARE}'",
    "a bin": f"UPDATE movement SET bin = 'Z9' WHERE model = '{SPARE}'",
    "an act": f"UPDATE movement SET act = 0 WHERE seq = {LAST}",
    "a row gone": f"DELETE FROM movement WHERE model = '{SPARE}' AND seq < {LAST}",
    "an entry's rows gone": f"DELETE FROM movement WHERE seq = {LAST}",
    "a row more": f"{ROW} VALUES (0, 400, 0, 'MAIN', '{SPARE}', 9, 1)",
    "a row of no entry": f"{ROW} VALUES (99, 1, 0, 'MAIN', '{SPARE}', 9, 1)",
    "a lead time": f"UPDATE supply_terms SET lead_days = 1 WHERE model = '{SPARE}'",
    "terms gone": "DELETE FROM supply_terms",
}
READS = {"all": lambda small: read_stock_state(small.desk()), "one model": lambda small: read_stock_state(small.desk(), [SPARE]),
         "an act": lambda small: one_movement(small.desk("S01"), act=Act.ISSUE, store="MAIN", model=SPARE, quantity=1,
                                              bin_name="A1")}


def answers(small: SmallVault) -> dict[str, str]:
    """How each way of reading the store is refused."""
    return {name: said(lambda read=read: read(small)) for name, read in READS.items()}


@pytest.mark.parametrize("statement", WRONG.values(), ids=WRONG)
def test_a_wrong_row_is_followed_by_nobody(small: SmallVault, statement: str) -> None:
    """A listing, a look at one model and a movement of it refuse: bad-index, and what to run."""
    tamper(kept(small).address, statement)
    assert answers(small) == dict.fromkeys(READS, "bad-index")


def test_rows_are_held_on_both_engines(small_on: SmallVault) -> None:
    """What is good is read, what was edited is refused."""
    good = answers(kept(small_on))
    tamper(small_on.address, WRONG["a figure"])
    assert (good, answers(small_on)) == (dict.fromkeys(READS, ""), dict.fromkeys(READS, "bad-index"))


def test_terms_and_deliveries_are_held_too(small: SmallVault) -> None:
    """Whoever asks for them alone."""
    kept(small)
    note = ask(small.address, "SELECT DISTINCT delivery FROM movement WHERE delivery IS NOT NULL")[0][0]
    tamper(small.address, "UPDATE movement SET quantity = 500 WHERE delivery IS NOT NULL",
           "UPDATE supply_terms SET price_cents = 1")
    with small.open().reading() as session:
        assert said(lambda: delivered(session, "MAIN", note)) == "bad-index"
    assert said(lambda: read_terms(small.desk())) == said(lambda: read_terms(small.desk(), OTHER)) == "bad-index"


def test_signed_bytes_that_were_edited_are_refused(small: SmallVault) -> None:
    """An edit of journal and index alike has no good signature."""
    kept(small)
    last, = ask(small.address, "SELECT signed FROM journal WHERE log = 1 ORDER BY seq DESC LIMIT 1")[0]
    edited = bytes(last).replace(SPARE.encode(), OTHER.encode().ljust(len(SPARE), b"0"))
    tamper(small.address, f"UPDATE journal SET signed = :signed WHERE log = 1 AND seq = {LAST}",
           f"UPDATE movement SET model = '{OTHER}0' WHERE seq = {LAST}", signed=edited)
    assert said(lambda: read_stock_state(small.desk())) == "bad-signature"


def test_a_lost_entry_is_told(small: SmallVault) -> None:
    """With its rows or without them."""
    kept(small)
    tamper(small.address, "DELETE FROM journal WHERE log = 1 AND seq = 0", "DELETE FROM movement WHERE seq = 0")
    assert said(lambda: read_stock_state(small.desk())) == "damaged"


def test_nothing_is_held_twice_in_a_session(small: SmallVault) -> None:
    """What was verified once is read as it stands, all of it or of one model."""
    kept(small)
    with small.open().reading() as session:
        first = list(each_movement(session))
        assert session.stock_held == session.size(STOCK) and list(each_movement(session)) == first
        assert list(each_movement(session, SPARE)) == [row for row in first if row.model == SPARE]
        assert set(supply_terms(session)) == {SPARE, OTHER}


_TEXT = st.text("ABC-19", min_size=1, max_size=8)
_LINES = st.builds(
    MovementLine, model=_TEXT, quantity=st.integers(1, 9), bin=st.none() | _TEXT, serial=st.none() | _TEXT,
    tag=st.none() | st.just(bytes.fromhex("1234567890")), condition=st.none() | st.sampled_from(Condition),
    made_day=st.none() | st.integers(0, 100_000), to_bin=st.none() | _TEXT)
_MOVEMENTS = st.builds(
    Movement, act=st.sampled_from(Act), store=_TEXT, time_s=st.just(NOW_S), main_size=st.integers(1, 99),
    lines=st.lists(_LINES, min_size=1, max_size=3).map(tuple), reason=st.none() | _TEXT, order=st.none() | _TEXT,
    to_store=st.none() | _TEXT, due_day=st.none() | st.integers(0, 9), supplier=st.none() | _TEXT,
    stream=st.none() | st.sampled_from(Stream), delivery=st.none() | _TEXT)
_FEW = st.none() | st.integers(1, 9)
_ITEMS = st.builds(
    ItemTerms, model=_TEXT, item=st.none() | st.sampled_from(Item), supplier=st.none() | _TEXT, price_cents=_FEW,
    currency=st.none() | _TEXT, lead_days=_FEW, order_multiple=_FEW, importance=st.none() | st.sampled_from(Importance),
    last_order_day=_FEW, replaced_by=st.none() | _TEXT, count_every_days=_FEW, shelf_life_months=_FEW)
_TERMS = st.builds(SupplyTerms, time_s=st.just(NOW_S), main_size=st.integers(1, 99),
                   lines=st.lists(_ITEMS, min_size=1, max_size=3).map(tuple))


@given(body=_MOVEMENTS | _TERMS, seq=st.integers(0, 9))
def test_the_quick_rows_are_the_careful_ones(body: Movement | SupplyTerms, seq: int) -> None:
    """Out of a plain payload come the very rows that the index is made of."""
    kind = Kind.STOCK_MOVEMENT if isinstance(body, Movement) else Kind.SUPPLY_TERMS
    statement = Statement(kind=kind, key_id=b"", signer=None, body=body, signed_bytes=b"", digest=b"")
    assert _OF_KIND[kind].rows(seq, to_plain_cbor(body)) == [tuple(row.values()) for _, row in rows_of(seq, statement)]


def test_rows_are_read_in_the_tables_own_order() -> None:
    """A movement is its row without the line's number; terms have a column for each field."""
    assert [column.name for column in tables.movement.columns if column.name != "number"] == list(MovementRow._fields)
    assert {one.name for one in fields(ItemTerms)} <= {column.name for column in tables.supply_terms.columns}


@pytest.mark.parametrize(("size", "refused"), [(0, ""), (1, "bad-chain"), (2**40 - 99, "bad-chain")])
def test_no_statement_names_more_than_the_main_journal_holds(small: SmallVault, size: int, refused: str) -> None:
    """The size itself is good, one more is not; the next honest statement stands as ever."""
    body = Movement(act=Act.RECEIPT, store="MAIN", time_s=NOW_S, main_size=1, lines=(MovementLine(model=SPARE, quantity=1),))
    ahead = replace(body, main_size=small.sizes()[0] + size)
    assert said(lambda: small.sign("S01", Kind.STOCK_MOVEMENT, ahead)) == refused
    small.sign("S01", Kind.STOCK_MOVEMENT, replace(body, main_size=small.sizes()[0], store="VAN-1"))
