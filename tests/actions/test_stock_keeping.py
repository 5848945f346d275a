"""Reservations, orders, deliveries, transfers, serial numbers and terms, signed in a vault."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from small_vault import DEMO, SmallVault

from vault.actions.stock import Moved, Said, move_stock, one_movement, read_stock_state
from vault.actions.stock_load import Loaded, load_stock, read_terms
from vault.db.audit import run_audit
from vault.domain.stock import Act, Condition, MovementLine, Stream
from vault.domain.tag import to_bytes
from vault.domain.terms import Importance, Item, ItemTerms
from vault.errors import GearkeepError
from vault.spares.stock_state import StockState

SPARE, SINGLE, SERIAL = "GEN-50-1050", "CC-40-700", "MB31007"  # six in A1; one in B1 with its number (demo/stock.csv)


def _move(small: SmallVault, act: Act, quantity: int = 1, *, model: str = SPARE, store: str = "MAIN", bin_name: str | None = "A1",
          for_: str | None = None, **given: Any) -> Moved:
    tag = small.tags[for_] if for_ else None
    return one_movement(small.desk("S01"), act=act, store=store, model=model, quantity=quantity, bin_name=bin_name, tag_text=tag,
                        **{"sure": act is Act.RESERVE, **given})


def _outcome(small: SmallVault, act: Act, lines: tuple[MovementLine, ...], said: Said | None = None) -> tuple[str, str]:
    """How some lines in one act are refused, "" where they are not; and what is said."""
    desk = small.desk("S01")
    try:
        with desk.vault.writing() as session:
            return "", " ".join(move_stock(session, desk, act=act, store="MAIN", lines=lines, said=said).notes)
    except GearkeepError as refused:
        return refused.kind, refused.what


def _state(small: SmallVault) -> StockState:
    return read_stock_state(small.desk())


def _list(small: SmallVault, text: str, **given: Any) -> Loaded:
    path = Path(small.folder / "list.csv")
    path.write_text(text, encoding="utf-8")
    return load_stock(small.desk("S01"), path, **{"store": "MAIN", **given})


def test_a_returned_piece_is_issued_only_once_it_was_checked(small: SmallVault) -> None:
    """It lies there, needs a reset, and is refused until then."""
    _move(small, Act.ISSUE, 6)
    back = _move(small, Act.RETURN)
    assert (back.pieces, back.needs_reset) == ({SPARE: 0}, {SPARE: 1})
    with pytest.raises(GearkeepError) as refused:
        _move(small, Act.ISSUE)
    assert refused.value.kind == "stock-short" and "stock check" in refused.value.hint
    assert _move(small, Act.CHECKED).pieces == {SPARE: 1}
    assert _move(small, Act.ISSUE).pieces == {SPARE: 0}


@pytest.mark.parametrize(("quantity", "options", "kind"), [(7, {}, "stock-short"), (1, {"bin_name": "A9"}, "stock-short")])
def test_a_check_of_what_does_not_wait_is_refused(small: SmallVault, quantity: int, options: dict[str, str], kind: str) -> None:
    """Good pieces need no check."""
    with pytest.raises(GearkeepError) as refused:
        _move(small, Act.CHECKED, quantity, **options)  # type: ignore[arg-type]
    assert refused.value.kind == kind and "need a reset" in refused.value.what


def test_reserved_pieces_go_to_their_luminaire_alone(small: SmallVault) -> None:
    """Another one's issue is refused, or told when forced; the luminaire's own issue uses the reservation up."""
    _move(small, Act.RESERVE, 5, for_="CH-007", bin_name=None)
    with pytest.raises(GearkeepError) as refused:
        _move(small, Act.ISSUE, 2)
    assert refused.value.kind == "stock-reserved" and "5 for" in refused.value.what
    forced = _move(small, Act.ISSUE, 2, even_reserved=True)
    assert forced.pieces == {SPARE: 4} and "1 of GEN-50-1050" in forced.notes[0]
    assert _move(small, Act.ISSUE, 4, for_="CH-007").notes == ()
    state = _state(small)
    assert (state.usable(SPARE), state.reserved(SPARE), state.free(SPARE)) == (0, 1, -1)


@pytest.mark.parametrize(("act", "quantity", "kind"), [
    (Act.RESERVE, 7, "stock-short"), (Act.RELEASE, 1, "not-reserved"), (Act.ISSUE, 7, "stock-short")])
def test_what_cannot_be_kept_or_released(small: SmallVault, act: Act, quantity: int, kind: str) -> None:
    """No more than is free, no more than is kept."""
    with pytest.raises(GearkeepError) as refused:
        _move(small, act, quantity, for_="CH-007")
    assert refused.value.kind == kind


def test_a_reservation_may_lean_on_an_order(small: SmallVault) -> None:
    """What is on order can be kept, and that is told; a release gives it back."""
    _move(small, Act.ORDER, 4, bin_name=None, said=Said(order="PO-7", due_day=22_000))
    assert "2 of GEN-50-1050" in _move(small, Act.RESERVE, 8, for_="CH-007").notes[0]
    with pytest.raises(GearkeepError):
        _move(small, Act.RESERVE, 3, for_="CH-007")
    _move(small, Act.RELEASE, 8, for_="CH-007")
    assert _state(small).free(SPARE) == 6


@pytest.mark.parametrize(("first", "second", "kind"), [(6, 2, ""), (7, 1, ""), (7, 2, "stock-short"), (8, 1, "stock-short"),
                                                       (2, 7, "stock-short")])
def test_lines_of_one_reservation_share_an_order(small: SmallVault, first: int, second: int, kind: str) -> None:
    """Six are free and two are on order: what the first line leans on, the second one cannot."""
    _move(small, Act.ORDER, 2, bin_name=None, said=Said(order="PO-7", due_day=22_000))
    lines = tuple(MovementLine(model=SPARE, quantity=pieces, tag=to_bytes(small.tags[name]))
                  for name, pieces in (("CH-007", first), ("CH-008", second)))
    assert _outcome(small, Act.RESERVE, lines)[0] == kind


def test_part_deliveries_take_off_an_order(small: SmallVault) -> None:
    """Four of ten come, then seven; the due day stays until all have come."""
    _move(small, Act.ORDER, 10, bin_name=None, said=Said(order="PO-7", due_day=21_000, supplier="Trade"))
    part = _move(small, Act.RECEIPT, 4, said=Said(order="PO-7", delivery="DN-1"))
    (due,) = _state(small).on_order(SPARE)
    assert (due.pieces, due.due_day, due.supplier) == (6, 21_000, "Trade")
    assert "6 of GEN-50-1050 are still to come" in part.notes[0]
    rest = _move(small, Act.RECEIPT, 7, said=Said(order="PO-7", delivery="DN-2"))
    assert "7 of GEN-50-1050 came, 6 were open" in rest.notes[0]
    assert _state(small).on_order(SPARE) == () and _state(small).usable(SPARE) == 17


@pytest.mark.parametrize(("act", "said", "kind"), [
    (Act.ORDER, Said(order="PO-7", due_day=21_000), "already-ordered"), (Act.CANCEL, Said(order="PO-8"), "not-ordered"),
    (Act.ORDER, Said(order="PO-9"), "bad-payload"), (Act.ORDER, Said(due_day=21_000), "bad-payload"),
    (Act.TRANSFER, Said(), "bad-payload"), (Act.TRANSFER, Said(to_store="MAIN"), "same-bin"),
    (Act.SCRAP, Said(stream=Stream.ELECTRONICS), "bad-payload"), (Act.ISSUE, Said(delivery="DN-1"), "bad-payload")])
def test_orders_and_transfers_that_say_too_little(small: SmallVault, act: Act, said: Said, kind: str) -> None:
    """An order has a number and a day, a transfer another place, a scrap a reason."""
    _move(small, Act.ORDER, 4, bin_name=None, said=Said(order="PO-7", due_day=21_000))
    before = small.sizes()
    with pytest.raises(GearkeepError) as refused:
        _move(small, act, 1, said=said)
    assert refused.value.kind == kind and small.sizes() == before


def test_a_transfer_is_one_statement(small_on: SmallVault) -> None:
    """Two go into the van, one of those into its other bin; nothing is lost."""
    before = small_on.sizes()
    _move(small_on, Act.TRANSFER, 2, to_bin="LEFT", said=Said(to_store="VAN-1"))
    assert small_on.sizes() == (before[0], before[1] + 1)
    _move(small_on, Act.TRANSFER, store="VAN-1", bin_name="LEFT", to_bin="RIGHT", said=Said(to_store="VAN-1"))
    state = _state(small_on)
    assert [(one.store, one.bin, one.good) for one in state.shelves if one.model == SPARE] == [
        ("MAIN", "A1", 4), ("VAN-1", "LEFT", 1), ("VAN-1", "RIGHT", 1)]
    with small_on.open().reading() as session:
        assert run_audit(session).faults == ()


def test_a_count_that_differs_is_told(small: SmallVault) -> None:
    """The difference is a movement with its reason."""
    counted = _move(small, Act.COUNT, 4, reason="yearly")
    assert "4 of GEN-50-1050 were counted where 6 should lie in bin A1: -2" in counted.notes[0]
    assert _move(small, Act.COUNT, 4, reason="again").notes == ()


def test_the_same_list_is_received_once(small: SmallVault) -> None:
    """Loaded again, in another order or with a price beside it, it adds nothing; another store receives its own."""
    first = _list(small, "model,quantity,bin\nGEN-50-1050,2,A1\nGEN-25-800,1,A2\n")
    again = _list(small, "model,quantity,bin,price,currency\nGEN-25-800,1,A2,7,EUR\nGEN-50-1050,2,A1,8,EUR\n")
    assert (first.received, again.received, again.again, again.terms) == (2, 0, 2, ("GEN-25-800", "GEN-50-1050"))
    assert _list(small, "model,quantity,bin\nGEN-50-1050,2,A1\nGEN-25-800,1,A2\n", store="VAN-1").received == 2
    assert _state(small).usable(SPARE, "MAIN") == 8


def test_a_delivery_note_is_received_once(small: SmallVault) -> None:
    """Lines that it did not have before come to it; another quantity of the same line is refused."""
    assert _list(small, "model,quantity\nGEN-50-1050,2\n", delivery="DN-1").received == 1
    more = _list(small, "model,quantity\nGEN-50-1050,2\nGEN-25-800,1\n", delivery="DN-1")
    assert (more.received, more.again) == (1, 1)
    with pytest.raises(GearkeepError) as refused:
        _list(small, "model,quantity\nGEN-50-1050,3\n", delivery="DN-1")
    assert refused.value.kind == "delivery-differs" and "with 2 of GEN-50-1050" in refused.value.what
    assert _list(small, "model,quantity\nGEN-50-1050,2\n", delivery="DN-2").received == 1


def test_a_typed_delivery_is_received_once(small: SmallVault) -> None:
    """The same line on the same note adds nothing and says so; without a note every receipt counts."""
    _move(small, Act.RECEIPT, 2, said=Said(delivery="DN-1"))
    again = _move(small, Act.RECEIPT, 2, said=Said(delivery="DN-1"))
    assert (again.pieces, again.again) == ({SPARE: 8}, 1) and "received before on delivery DN-1" in again.notes[0]
    assert _move(small, Act.RECEIPT, 2).pieces == {SPARE: 10}


@pytest.mark.parametrize(("again", "kind", "words"), [
    ((3, 3), "", "2 lines were received before on delivery DN-1 and add nothing."), ((6,), "", "1 line was received before"),
    ((3,), "delivery-differs", "received with 6 of GEN-50-1050 in bin A1, and now it says 3."),
    ((3, 4), "delivery-differs", "received with 6 of GEN-50-1050 in bin A1, and now it says 7.")])
def test_a_line_that_stands_twice_on_a_delivery_is_received_once(small: SmallVault, again: tuple[int, ...], kind: str,
                                                                 words: str) -> None:
    """Both count together, then and when the note comes again."""
    for quantities, told in (((3, 3), ("", "")), (again, (kind, words))):
        lines = tuple(MovementLine(model=SPARE, quantity=pieces, bin="A1") for pieces in quantities)
        found = _outcome(small, Act.RECEIPT, lines, Said(delivery="DN-1"))
        assert found[0] == told[0] and told[1] in found[1]
    assert small.usable(SPARE) == 12


def test_the_opening_stock_of_the_demo_is_received_once(small: SmallVault) -> None:
    """The vault was made with that file."""
    assert load_stock(small.desk("S01"), DEMO / "stock.csv", store="MAIN").received == 0


@pytest.mark.parametrize(("act", "serial", "words"), [
    (Act.RECEIPT, SERIAL, "bin B1 of MAIN"), (Act.RETURN, SERIAL, "bin B1 of MAIN"), (Act.RECEIPT, "MB24050", "in service")])
def test_a_serial_number_is_in_one_place(small: SmallVault, act: Act, serial: str, words: str) -> None:
    """What lies on a shelf or hangs in a luminaire cannot come in."""
    with pytest.raises(GearkeepError) as refused:
        _move(small, act, serial=serial, model=SINGLE)
    assert refused.value.kind == "serial-in-use" and words in refused.value.what


def test_a_serial_number_comes_back_once_it_was_issued(small: SmallVault) -> None:
    """Out and in again."""
    _move(small, Act.ISSUE, model=SINGLE, bin_name="B1", serial=SERIAL)
    assert _move(small, Act.RETURN, model=SINGLE, bin_name="B1", serial=SERIAL).needs_reset == {SINGLE: 1}


def test_terms_are_signed_when_they_change(small_on: SmallVault) -> None:
    """Equal terms add nothing, a blank leaves what stands, "-" takes it away, and the index is as the journal says."""
    text = "model,supplier,price,currency,lead_days,importance\nGEN-50-1050,Trade,24.50,EUR,21,vital\n"
    assert _list(small_on, text).terms == (SPARE,)
    before = small_on.sizes()
    assert _list(small_on, text).terms == () and small_on.sizes() == before
    assert _list(small_on, "model,supplier,lead_days\nGEN-50-1050,-,\n").terms == (SPARE,)
    assert read_terms(small_on.desk()) == {SPARE: ItemTerms(model=SPARE, price_cents=2450, currency="EUR", lead_days=21,
                                                            importance=Importance.VITAL)}
    with small_on.open().reading() as session:
        assert run_audit(session).faults == ()


def test_an_item_that_is_no_driver_comes_with_its_terms(small: SmallVault) -> None:
    """A battery is received, aged and counted like a driver."""
    _list(small, "model,quantity,bin,item,made,shelf_life_months\nBATT-4,8,C1,battery,2020-01-01,12\n")
    (lot,) = _state(small).batteries()
    assert (lot.pieces, lot.too_old, _state(small).terms["BATT-4"].item) == (8, True, Item.BATTERY)
    assert _move(small, Act.SCRAP, 8, model="BATT-4", bin_name="C1",
                 said=Said(reason="too old", stream=Stream.BATTERY)).pieces == {"BATT-4": 0}


@pytest.mark.parametrize(("text", "kind"), [
    ("model,quantity\nNO-SUCH,1\n", "not-found"), ("model,supplier\nNO-SUCH,Trade\n", "not-found"),
    ("model,item\nGEN-50-1050,battery\n", "bad-value"), ("model,price\nGEN-50-1050,7\n", "bad-value")])
def test_terms_that_cannot_be(small: SmallVault, text: str, kind: str) -> None:
    """An unknown model, a driver called a battery, a price without a currency; nothing is kept of the list."""
    before = small.sizes()
    with pytest.raises(GearkeepError) as refused:
        _list(small, text)
    assert refused.value.kind == kind and small.sizes() == before


def test_a_technician_signs_no_terms(small: SmallVault) -> None:
    """Terms are the store's to sign."""
    path = small.folder / "terms.csv"
    path.write_text("model,supplier\nGEN-50-1050,Trade\n", encoding="utf-8")
    with pytest.raises(GearkeepError) as refused:
        load_stock(small.desk("T01"), path, store="MAIN")
    assert refused.value.kind == "wrong-role"


def test_many_lines_are_few_statements(small: SmallVault) -> None:
    """1,001 lines are three statements of at most 500."""
    lines = tuple(MovementLine(model=SPARE, quantity=1, bin=f"R{number}", condition=Condition.GOOD) for number in range(1001))
    before, desk = small.sizes()[1], small.desk("S01")
    with desk.vault.writing() as session:
        move_stock(session, desk, act=Act.RECEIPT, store="MAIN", lines=lines, said=Said(delivery="DN-9"))
    assert small.sizes()[1] == before + 3 and _state(small).usable(SPARE) == 1007
