"""Pieces with serial numbers keep their condition, a number that left does not leave again, and what a swap leaves behind."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from guided_bench import Told, line_with_spare, swap_with
from small_vault import NOW_S, SmallVault, readback

from vault.actions.old_drivers import on_no_books
from vault.actions.place_labels import bin_label, print_place
from vault.actions.stock import Moved, Said, one_movement, read_stock_state
from vault.actions.stock_scan import StockBin, find_target
from vault.actions.swap import swap
from vault.actions.swap_course import Tools
from vault.actions.today import today
from vault.actions.today_tasks import repair_tasks
from vault.actions.unsure import Unsure
from vault.db import waiting
from vault.domain.record import ChangeClass
from vault.domain.stock import Act, Condition, Stream
from vault.errors import GearkeepError

SINGLE, SERIAL, SPARE = "CC-40-700", "MB31007", "GEN-50-1050"  # one in B1 with its number, six in A1 (demo/stock.csv)


def _move(small: SmallVault, act: Act, *, serial: str | None = None, **given: Any) -> Moved:
    asked = {"store": "MAIN", "model": SINGLE, "quantity": 1, "bin_name": "B1", "reason": "a reason", **given}
    return one_movement(small.desk("S01"), act=act, serial=serial, **asked)


def _lies(small: SmallVault) -> dict[tuple[str, str], tuple[int, int, tuple[str, ...], tuple[str, ...]]]:
    return {(one.store, one.bin): (one.good, one.needs_reset, one.serials, one.reset_serials)
            for one in read_stock_state(small.desk(), [SINGLE]).shelves}


def _swapped(small: SmallVault, serial: str, *, reference: str = "CH-007", **given: Any) -> Any:
    asked = {"change_class": ChangeClass.LIKE_FOR_LIKE, "spare": SINGLE, "readback": readback(), **given}
    return swap(small.desk("T01"), small.tags[reference], serial=serial, **asked)


@pytest.mark.parametrize("serial", ["X9", "x9"])
def test_a_returned_piece_does_not_go_out_as_good(small: SmallVault, serial: str) -> None:
    """Its issue and a swap that names it are refused until it is checked, in whatever letters; the good piece stays."""
    _move(small, Act.RETURN, serial="X9")
    for act in (lambda: _move(small, Act.ISSUE, serial=serial), lambda: _swapped(small, serial)):
        with pytest.raises(GearkeepError) as caught:
            act()
        assert caught.value.kind == "needs-reset"
        assert "gearkeep stock check CC-40-700 1 --bin B1 --store MAIN --serial X9" in caught.value.hint
    assert _lies(small)["MAIN", "B1"] == (1, 1, (SERIAL, "X9"), ("X9",))
    _move(small, Act.CHECKED, serial=serial)
    _move(small, Act.ISSUE, serial=serial)
    assert _lies(small)["MAIN", "B1"] == (1, 0, (SERIAL,), ())


def test_a_piece_moves_and_is_scrapped_in_its_own_condition(small: SmallVault) -> None:
    """It arrives needing its reset, and what says otherwise is refused; without a number it is asked which."""
    _move(small, Act.RETURN, serial="X9")
    for given, kind in (({"serial": "X9", "condition": Condition.GOOD}, "which-condition"),
                        ({"serial": SERIAL, "condition": Condition.NEEDS_RESET}, "which-condition"),
                        ({"condition": Condition.NEEDS_RESET}, "which-piece")):
        with pytest.raises(GearkeepError) as caught:
            _move(small, Act.SCRAP, **given)
        assert caught.value.kind == kind
    assert "which needs a reset" in _move(small, Act.TRANSFER, serial="X9", said=Said(to_store="VAN-1"), to_bin="V").did[0]
    assert _lies(small) == {("MAIN", "B1"): (1, 0, (SERIAL,), ()), ("VAN-1", "V"): (0, 1, ("X9",), ("X9",))}
    _move(small, Act.SCRAP, serial="X9", store="VAN-1", bin_name="V")
    assert _lies(small)["VAN-1", "V"] == (0, 0, (), ())


@pytest.mark.parametrize("act", [Act.ISSUE, Act.SCRAP, Act.TRANSFER])
def test_a_piece_that_left_does_not_leave_again(small: SmallVault, act: Act) -> None:
    """Nor does one that is none of those there; the way out is a count, which brings it back."""
    _move(small, Act.RECEIPT, serial="X9")
    _move(small, Act.RECEIPT)  # one without a number, which it might be
    _move(small, Act.ISSUE, serial="X9")
    said = Said(reason="gone", to_store="VAN-1" if act is Act.TRANSFER else None)
    with pytest.raises(GearkeepError) as caught:
        _move(small, act, serial="X9", said=said)
    assert caught.value.kind == "not-there" and "was issued from bin B1 of MAIN" in caught.value.what
    assert "stock count CC-40-700 FOUND --bin B1 --store MAIN --serial X9" in caught.value.hint
    _move(small, Act.COUNT, serial="X9", quantity=2)
    assert _move(small, act, serial="X9", said=said).pieces == {SINGLE: 1}


def test_a_good_piece_needs_no_check(small: SmallVault) -> None:
    """A check that names it would make another one good."""
    _move(small, Act.RETURN, serial="X9")
    with pytest.raises(GearkeepError) as caught:
        _move(small, Act.CHECKED, serial=SERIAL)
    assert caught.value.kind == "good-already" and _lies(small)["MAIN", "B1"][3] == ("X9",)


@pytest.mark.parametrize("stream", [None, Stream.ELECTRONICS])
def test_the_waste_stream_of_a_driver_is_known(small: SmallVault, stream: Stream | None) -> None:
    """It is signed and told, whether somebody names it or not."""
    told = _move(small, Act.SCRAP, serial=SERIAL, said=Said(reason="dead", stream=stream)).did
    assert told == (f"Scrapped 1 of {SINGLE}, serial {SERIAL}, from bin B1 of MAIN, waste stream electronics.",)


@pytest.mark.parametrize("given", [{"store": "van.png"}, {"bin_name": "binA1.PNG"}, {"bin_name": "list.csv"}])
def test_no_store_and_no_bin_is_called_like_a_file(small: SmallVault, given: dict[str, str]) -> None:
    """A picture that was to be read makes no place of its name."""
    with pytest.raises(GearkeepError) as caught:
        _move(small, Act.RECEIPT, **given)
    assert caught.value.kind == "file-name"


def test_a_transfer_goes_where_a_label_says(small: SmallVault) -> None:
    """A picture of a bin's label does for the bin and for the store."""
    picture = small.folder / "bin.png"
    print_place(small.open(), bin_label("MAIN", "A1"), picture)
    there = StockBin(store="MAIN", bin="A1")
    assert find_target(small.desk(), "MAIN", str(picture)) == find_target(small.desk(), str(picture), None) == there
    assert find_target(small.desk(), "VAN-1", None) == StockBin(store="VAN-1", bin="")
    with pytest.raises(GearkeepError) as caught:
        find_target(small.desk(), "VAN-1", str(picture))
    assert caught.value.kind == "label-differs"


def test_more_than_a_luminaire_can_use_is_asked(small: SmallVault) -> None:
    """One driver needs one spare; a second reservation is kept only by somebody who means it."""
    keep: dict[str, Any] = {"model": SPARE, "bin_name": None, "tag_text": small.tags["CH-007"]}
    _move(small, Act.RESERVE, **keep)
    with pytest.raises(Unsure, match="one gear that can use it, with 1 kept for it already"):
        _move(small, Act.RESERVE, **keep)
    assert _move(small, Act.RESERVE, sure=True, **keep).pieces == {SPARE: 6}


def test_what_a_swap_leaves_is_told(small: SmallVault) -> None:
    """Where the piece came from and what remains, the old driver's way back, and what stays kept, which today releases."""
    tag = small.tags["CH-007"]
    _move(small, Act.RESERVE, quantity=2, model=SPARE, bin_name=None, tag_text=tag, sure=True)
    old = small.seen("CH-007").record.gears[0]
    done = _swapped(small, "G5-1", spare=SPARE, change_class=ChangeClass.APPROVED_EQUIVALENT, old_driver="returned to store")
    assert done.left_words == f"One piece left bin A1 of MAIN; 5 of {SPARE} remain in MAIN."
    kept, back = done.stock_notes
    assert f"stock release {SPARE} 1 --for {tag} --store MAIN" in kept
    assert f"stock return {old.model} 1 --bin BIN" in back and "never issued" in back
    with small.open().reading() as session:
        swaps = waiting.swapped_whole(session, [tag])
    state = read_stock_state(small.desk())
    (task,) = repair_tasks(state, (), waiting_ones(small, tag), set(), swapped=swaps)
    assert task.command == f"stock release {SPARE} 1 --for {tag}" and "was swapped" in task.what
    (before,) = repair_tasks(state, (), waiting_ones(small, tag), set(), swapped={key: at - 1 for key, at in swaps.items()})
    assert before.command.startswith("swap ")


@pytest.mark.parametrize(("fate", "asked"), [("returned to store", True), ("scrapped", False)])
def test_an_old_driver_for_the_store_is_asked_for_until_it_is_there(small: SmallVault, fate: str, asked: bool) -> None:
    """Named until it is on the books; what is scrapped is not."""
    later = replace(small.desk("T01"), now_s=lambda: NOW_S + 1000)
    old = small.seen("CH-007").record.gears[0].serial
    swap(later, small.tags["CH-007"], spare=SPARE, serial="G5-1", readback=readback(), old_driver=fate,
         change_class=ChangeClass.APPROVED_EQUIVALENT)
    with small.open().reading() as session:
        assert [one.serial for one in on_no_books(session)] == [old] * asked
    one_movement(replace(small.desk("S01"), now_s=later.now_s), act=Act.RETURN, store="MAIN", model=SINGLE, quantity=1,
                 bin_name="B1", serial=old)
    with small.open().reading() as session:
        assert on_no_books(session) == []


def test_today_says_how_an_old_driver_comes_onto_the_books(small: SmallVault) -> None:
    """The command, with its serial number."""
    old = small.seen("CH-007").record.gears[0].serial
    _swapped(small, "G5-1", spare=SPARE, change_class=ChangeClass.APPROVED_EQUIVALENT, old_driver="not faulty")
    assert f"stock return {SINGLE} 1 --bin BIN --serial {old}" in [task.command for task in today(small.desk()).tasks]


def waiting_ones(small: SmallVault, tag: str) -> dict[str, bool]:
    """Of a luminaire that is in service, whether it has an emergency duty."""
    with small.open().reading() as session:
        return waiting.in_service(session, [tag])


def test_a_guided_swap_says_where_the_spare_lies(small: SmallVault) -> None:
    """Before the work and after it."""
    told = Told()
    swap_with(small, line=line_with_spare(), told=told, old_driver="not-faulty")
    assert "Take it from bin A1 of MAIN, which holds 6." in told.lines
    assert f"One piece left bin A1 of MAIN; 5 of {SPARE} remain in MAIN." in told.lines
    assert any("stock return CC-40-700 1 --bin BIN" in line for line in told.lines)


@pytest.mark.parametrize(("tools", "kind", "seen"), [
    (Tools(store="VAN-9"), "stock-short", False), (None, "serial-in-use", True)])
def test_what_is_wrong_is_said_before_the_signature(small: SmallVault, tools: Tools | None, kind: str, seen: bool) -> None:
    """A store without the spare at the spare; a number that hangs elsewhere, here the one that the bus reads, at the number."""
    _swapped(small, "880412", reference="CH-008", spare=SPARE, change_class=ChangeClass.APPROVED_EQUIVALENT)
    told = Told()
    with pytest.raises(GearkeepError) as caught:
        swap_with(small, line=line_with_spare(), tools=tools, told=told)
    assert caught.value.kind == kind and ("# Set the spare" in told.lines) == seen and "# Test again" not in told.lines
