"""What a movement may not do in silence: old batteries, wrong waste, drivers that do not fit, pieces that nobody can name."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from small_vault import NOW_S, SmallVault, build, copy_of

from vault.actions.stock import Moved, Said, move_stock, one_movement, read_stock_state, shelf_with
from vault.actions.stock_load import load_stock
from vault.domain.record import Reason
from vault.domain.stock import Act, Condition, MovementLine, Stream
from vault.domain.tag import shown
from vault.domain.terms import ItemTerms, SupplyTerms
from vault.errors import GearkeepError
from vault.trust.statements import Kind

SPARE, BATTERY, NUMBERED = "GEN-50-1050", "BATT-4", "GEN-45-900"
# Of BATT-4, which keeps for 12 months: two of unknown day in E1, made in the days of the small vault, long before, between.
LISTED = (f"model,quantity,bin,item,made,shelf_life_months\n{BATTERY},2,E1,battery,,12\n{BATTERY},3,E2,battery,2030-02-01,12\n"
          f"{BATTERY},4,E3,battery,2020-01-15,12\n{BATTERY},5,E4,battery,2029-12-01,12\n")
NEW_DAY, OLD_DAY, OTHER_DAY = 21_946, 18_276, 21_884  # 2030-02-01, 2020-01-15, 2029-12-01 (date -d DAY +%s, by 86,400)


def _move(small: SmallVault, act: Act, quantity: int = 1, *, model: str = SPARE, bin_name: str | None = "A1", store: str = "MAIN",
          for_: str | None = None, **said: Any) -> Moved:
    return one_movement(small.desk("S01"), act=act, store=store, model=model, quantity=quantity, bin_name=bin_name,
                        tag_text=small.tags[for_] if for_ else None, **{"sure": act is Act.RESERVE, **said})


def _refused(small: SmallVault, act: Act, quantity: int = 1, **said: Any) -> GearkeepError:
    before = small.sizes()
    with pytest.raises(GearkeepError) as caught:
        _move(small, act, quantity, **said)
    assert small.sizes() == before
    return caught.value


@pytest.fixture(scope="module")
def stocked(tmp_path_factory: pytest.TempPathFactory) -> SmallVault:
    """The small vault with four lots of batteries, and three pieces in bin H, two of them with serial numbers; to be copied."""
    made = copy_of(build(tmp_path_factory.getbasetemp() / "small-vault"), tmp_path_factory.mktemp("stocked"))
    (made.folder / "batteries.csv").write_text(LISTED, encoding="utf-8")
    load_stock(made.desk("S01"), made.folder / "batteries.csv", store="MAIN")
    for serial in ("H1", "H2", None):
        _move(made, Act.RECEIPT, model=NUMBERED, bin_name="H", serial=serial)
    made.close()
    return made


@pytest.fixture
def small(stocked: SmallVault, tmp_path: Path) -> Iterator[SmallVault]:
    """A copy of it, to be changed at will."""
    made = copy_of(stocked, tmp_path)
    yield made
    made.close()


@pytest.mark.parametrize(("quantity", "bin_name", "day", "total", "words"), [
    (2, "E1", NEW_DAY, 14, ("2 of BATT-4 in bin E1, whose day was unknown, are on record as made on 2030-02-01 now.",)),
    (1, "E1", NEW_DAY, 14, ("1 of BATT-4 in bin E1, whose day was unknown, is on record", "1 of unknown day still stands in")),
    (3, "E1", NEW_DAY, 15, ("2 of BATT-4 in bin E1", "3 of BATT-4 made on 2030-02-01 were counted where 2 should lie in bin")),
    (1, "E2", NEW_DAY, 12, ("1 of BATT-4 made on 2030-02-01 was counted where 3 should lie in bin E2: -2, signed",)),
    (2, "E2", OTHER_DAY, 16, ("2 of BATT-4 made on 2029-12-01 were counted where 0 should lie in bin E2: +2, signed with its "
                              "reason. With those of other days 5 lie there.",)),
])
def test_a_count_with_a_day_adds_no_phantoms(small: SmallVault, quantity: int, bin_name: str, day: int, total: int,
                                             words: tuple[str, ...]) -> None:
    """Pieces whose day was unknown get one; what else differs is told as other counts tell it."""
    told = _move(small, Act.COUNT, quantity, model=BATTERY, bin_name=bin_name, made_day=day, reason="day read").notes
    assert read_stock_state(small.desk()).on_hand(BATTERY) == total
    assert len(told) == len(words) and [one for one, word in zip(told, words, strict=True) if word not in one] == []


def test_a_count_without_a_bin_adds_no_phantoms(small: SmallVault) -> None:
    """Where all lies in bins, a count has to say which; a bin that is new may be named."""
    problem = _refused(small, Act.COUNT, 6, bin_name=None, reason="yearly")
    assert problem.kind == "which-bin" and "Bin A1 of MAIN holds 6." in problem.what
    assert _move(small, Act.COUNT, 1, bin_name="FLOOR", reason="found").pieces == {SPARE: 7}


def test_a_count_where_some_need_a_reset_says_which_were_counted(small: SmallVault) -> None:
    """Six good and two that came back: eight counted would make usable pieces of those two."""
    assert _move(small, Act.RETURN, 2, bin_name="A1").needs_reset == {SPARE: 2}
    problem = _refused(small, Act.COUNT, 8, bin_name="A1", reason="yearly")
    assert problem.kind == "which-condition" and "holds 6 good of" in problem.what and "2 that need a reset" in problem.what
    counted = _move(small, Act.COUNT, 6, bin_name="A1", reason="yearly", condition=Condition.GOOD)
    assert (counted.pieces, counted.needs_reset) == ({SPARE: 6}, {SPARE: 2})


def test_a_battery_too_old_is_not_issued(small: SmallVault) -> None:
    """Age, limit, and what to do: the oldest good lot, or the waste; in a mixed bin a good lot can be named."""
    problem = _refused(small, Act.ISSUE, model=BATTERY, bin_name="E3")
    assert problem.kind == "too-old" and "days old, and their shelf life is 12 months" in problem.what
    assert "stock issue BATT-4 1 --bin E4 --store MAIN --made 2029-12-01" in problem.hint
    assert "stock scrap BATT-4 4 --bin E3" in problem.hint and "--stream battery" in problem.hint
    _move(small, Act.TRANSFER, 2, model=BATTERY, bin_name="E2", said=Said(to_store="MAIN"), to_bin="E3")
    assert _refused(small, Act.ISSUE, model=BATTERY, bin_name="E3").kind == "too-old"
    issued = _move(small, Act.ISSUE, model=BATTERY, bin_name="E3", made_day=NEW_DAY)
    assert issued.stands == ("BATT-4: 13 in MAIN, 4 too old to be issued",)


@pytest.mark.parametrize(("act", "bin_name", "said", "words"), [
    (Act.ISSUE, "E2", {}, "Older BATT-4 are still good and should go first: 5 in bin E4 of MAIN, made on 2029-12-01."),
    (Act.ISSUE, "E1", {}, "Nobody knows when 1 of these BATT-4 was made"),
    (Act.ISSUE, "E4", {"for_": "CH-007"}, "has general gear only"),
    (Act.RECEIPT, "E9", {}, "the day that they were made is not said"),
    (Act.RECEIPT, "E9", {"made_day": OLD_DAY}, "they may not be issued. Scrap them, or send them back."),
    (Act.TRANSFER, "E3", {"said": Said(to_store="VAN-1")}, "they may not be issued."),
])
def test_the_age_of_batteries_is_told(small: SmallVault, act: Act, bin_name: str, said: dict[str, Any], words: str) -> None:
    """Older ones that are still good, ages that nobody knows, and what came in too old."""
    assert words in " ".join(_move(small, act, model=BATTERY, bin_name=bin_name, **said).notes)


@pytest.mark.parametrize(("act", "bin_name", "made"), [(Act.ISSUE, "E4", None), (Act.RECEIPT, "E9", NEW_DAY),
                                                       (Act.SCRAP, "E3", None)])
def test_good_batteries_pass_in_silence(small: SmallVault, act: Act, bin_name: str, made: int | None) -> None:
    """The oldest good ones, a delivery with its day, the waste."""
    said = Said(reason="a reason", stream=Stream.BATTERY if act is Act.SCRAP else None)
    assert _move(small, act, model=BATTERY, bin_name=bin_name, made_day=made, said=said).notes == ()


@pytest.mark.parametrize(("model", "bin_name", "stream", "right"), [
    (BATTERY, "E3", Stream.LAMP, "battery"), (BATTERY, "E3", Stream.ELECTRONICS, "battery"),
    (SPARE, "A1", Stream.BATTERY, "electronics"), (SPARE, "A1", Stream.METAL, "electronics")])
def test_each_item_has_its_waste_stream(small: SmallVault, model: str, bin_name: str, stream: Stream, right: str) -> None:
    """Drivers are electrical equipment, batteries are collected by themselves (2012/19/EU, 2006/66/EC, from memory)."""
    problem = _refused(small, Act.SCRAP, model=model, bin_name=bin_name, said=Said(reason="dead", stream=stream))
    assert problem.kind == "wrong-stream" and f"--stream {right}" in problem.hint


@pytest.mark.parametrize(("act", "model", "bin_name", "reference", "rule"), [
    (Act.RESERVE, "EM-6-180", None, "CH-007", "rule current-match"),  # an emergency driver, a general luminaire
    (Act.ISSUE, "EM-6-180", "C1", "CH-007", "rule current-match"),
    (Act.RESERVE, "GEN-25-800", None, "CH-007", "rule window"),
    (Act.RESERVE, SPARE, None, "EX-001", "rule "),  # a general driver, an emergency luminaire
])
def test_what_does_not_fit_is_neither_kept_nor_issued(small: SmallVault, act: Act, model: str, bin_name: str | None,
                                                      reference: str, rule: str) -> None:
    """What `fit` refuses for every gear, with its rule; the way through is the swap that says so."""
    problem = _refused(small, act, model=model, bin_name=bin_name, for_=reference)
    assert problem.kind == "does-not-fit" and rule in problem.what and "--provisional" in problem.hint


def test_one_gear_of_several_is_enough(small: SmallVault) -> None:
    """The stairs have a general gear and a converter; spares for either are kept."""
    assert _move(small, Act.RESERVE, model="EM-6-180", bin_name=None, for_="ST-N1").notes == ()
    assert _move(small, Act.RESERVE, model="CC-40-700", bin_name=None, for_="ST-N1").notes == ()


def test_what_nobody_can_tell_is_told(small: SmallVault) -> None:
    """A model whose figures are missing is kept with a note that names the rule."""
    _move(small, Act.RECEIPT, model="RE-24-700", bin_name="R1")
    assert "Nobody can say whether RE-24-700 fits" in _move(small, Act.RESERVE, model="RE-24-700", bin_name=None,
                                                             for_="CB1-01").notes[0]


def test_a_luminaire_whose_records_differ_is_told(small: SmallVault) -> None:
    """Two versions side by side with other currents: what fits there nobody knows before it is settled."""
    seen = small.seen("CH-007")
    side = replace(seen.record, version=2, predecessors=seen.statement.digest[:16], reason=Reason.MOVED)
    gear = side.gears[0]
    channel = replace(gear.settings.channels[0], current_ma=600)
    small.fork(side, replace(side, gears=(replace(gear, settings=replace(gear.settings, channels=(channel,))),)))
    assert "its records contradict each other" in _move(small, Act.RESERVE, bin_name=None, for_="CH-007").notes[0]


@pytest.mark.parametrize(("model", "after", "words"), [
    ("TW-2X20", "CC-40-700", "CC-40-700 comes after it, but has 1 output channel, not 2."),
    ("CC-40-700", "CV-24-60", "CV-24-60 comes after it, but its output is constant-voltage, not constant-current."),
    ("CC-40-700", "GEN-50-1050", "GEN-50-1050 comes after it."), ("CC-40-700", None, "No model is named")])
def test_what_is_no_longer_made_is_not_ordered(small: SmallVault, model: str, after: str | None, words: str) -> None:
    """The day of the last order, and what comes after it with what is plainly unlike."""
    small.sign("S01", Kind.SUPPLY_TERMS, SupplyTerms(time_s=NOW_S, main_size=small.sizes()[0], lines=(
        ItemTerms(model=model, last_order_day=OLD_DAY, replaced_by=after),)))
    problem = _refused(small, Act.ORDER, model=model, bin_name=None, said=Said(order="PO-1", due_day=30_000))
    assert problem.kind == "last-order-passed" and words in problem.what and "2020-01-15" in problem.what


@pytest.mark.parametrize(("quantity", "bin_name", "serial", "kind"), [
    (2, "H", None, "which-piece"), (1, "A3", "H2", "serial-elsewhere"), (2, "H", "H1", "bad-value"),
    (4, "H", None, "stock-short")])
def test_a_piece_with_a_number_goes_by_its_number(small: SmallVault, quantity: int, bin_name: str, serial: str | None,
                                                  kind: str) -> None:
    """Nobody's piece leaves the books by chance."""
    problem = _refused(small, Act.ISSUE, quantity, model=NUMBERED, bin_name=bin_name, serial=serial)
    assert problem.kind == kind


@pytest.mark.parametrize(("act", "quantity", "serial", "words"), [
    (Act.ISSUE, 1, None, "Bin H of MAIN holds H1 and H2 too"), (Act.ISSUE, 3, None, "went the serial numbers H1 and H2"),
    (Act.COUNT, 1, None, "H1 and H2 are off the books"), (Act.ISSUE, 1, "H1", "")])
def test_which_piece_went_is_told(small: SmallVault, act: Act, quantity: int, serial: str | None, words: str) -> None:
    """Where nobody says the number, what the books make of it is said."""
    told = _move(small, act, quantity, model=NUMBERED, bin_name="H", serial=serial, reason="a reason").notes
    assert words in " ".join(told) and bool(told) == bool(words)


def test_a_number_that_the_store_does_not_know(small: SmallVault) -> None:
    """A swap takes it from a bin with pieces without numbers; where all have other numbers, that is told."""
    _move(small, Act.ISSUE, model=NUMBERED, bin_name="H")
    with small.open().reading() as session:
        assert shelf_with(session, NUMBERED, None, None, serial="Z9").bin == "A3"
    desk, line = small.desk("T01"), MovementLine(model=NUMBERED, quantity=1, bin="H", serial="Z9")
    with desk.vault.writing() as session:
        moved = move_stock(session, desk, act=Act.ISSUE, store="MAIN", lines=(line,), in_hand=True)
    assert "H1 and H2 alone, and Z9 is none of them" in moved.notes[0]


def test_at_the_desk_a_number_that_is_not_there_is_refused(small: SmallVault) -> None:
    """Whoever stands before the bin can read it again, or count."""
    _move(small, Act.ISSUE, model=NUMBERED, bin_name="H")
    assert _refused(small, Act.SCRAP, model=NUMBERED, bin_name="H", serial="Z9", reason="dead").kind == "not-there"


def test_a_swap_is_not_asked_which_piece(small: SmallVault) -> None:
    """The driver hangs there by then, and bears no number; that the books know none such in the bin is told."""
    _move(small, Act.ISSUE, model=NUMBERED, bin_name="H")
    desk, line = small.desk("T01"), MovementLine(model=NUMBERED, quantity=1, bin="H")
    with desk.vault.writing() as session:
        moved = move_stock(session, desk, act=Act.ISSUE, store="MAIN", lines=(line,), in_hand=True)
    assert "H1 and H2 alone, and a piece without a serial number is none of them" in moved.notes[0]


@pytest.mark.parametrize(("quantity", "ordered", "words"), [
    (10, 0, ""), (10, 5, ""),
    (12, 5, "2 of BATT-4 for {tag} can only be kept once the order comes. 4 that lie there are too old."),
])
def test_batteries_too_old_are_not_kept(small: SmallVault, quantity: int, ordered: int, words: str) -> None:
    """Ten of the fourteen may be issued; what is kept beyond them leans on an order, and that is said."""
    if ordered:
        _move(small, Act.ORDER, ordered, model=BATTERY, bin_name=None, said=Said(order="PO-1", due_day=22_000))
    kept = _move(small, Act.RESERVE, quantity, model=BATTERY, bin_name=None, for_="EX-001")
    assert " ".join(kept.notes) == words.format(tag=shown(small.tags["EX-001"]))
    short = f", {quantity - 10} more than may be issued" if quantity > 10 else ", 0 free"
    assert kept.stands[0].startswith("BATT-4: 14 in MAIN, 4 too old to be issued") and kept.stands[0].endswith(short)


def test_batteries_too_old_cannot_be_leant_on(small: SmallVault) -> None:
    """They are no reason to keep more, and go to the waste or elsewhere whatever is kept."""
    problem = _refused(small, Act.RESERVE, 11, model=BATTERY, bin_name=None, for_="EX-001")
    assert problem.kind == "stock-short"
    assert "has 10 of BATT-4 free and 0 on order, and 11 would be kept. 4 that lie there are too old." in problem.what
    _move(small, Act.RESERVE, 10, model=BATTERY, bin_name=None, for_="EX-001")
    assert _move(small, Act.SCRAP, 1, model=BATTERY, bin_name="E3", reason="old").notes == ()
    assert not any("kept" in note for note in _move(small, Act.TRANSFER, 3, model=BATTERY, bin_name="E3", said=Said(
        to_store="VAN-1")).notes)
    assert read_stock_state(small.desk(), [BATTERY]).free(BATTERY) == 0
    assert _refused(small, Act.TRANSFER, 1, model=BATTERY, bin_name="E4", said=Said(to_store="VAN-1")).kind == "stock-reserved"


def test_nought_names_the_bins_that_hold_it(small: SmallVault) -> None:
    """The store's own bins first; one piece is spoken of as one."""
    _move(small, Act.TRANSFER, 2, said=Said(to_store="VAN-1"))
    problem = _refused(small, Act.ISSUE, bin_name=None)
    assert problem.what == ("Outside of any bin, MAIN holds 0 of GEN-50-1050 that may be issued, and 1 was asked for. "
                            "Bin A1 of MAIN holds 4 and bin A1 of VAN-1 holds 2.")
    assert "VAN-1 has 2 free." in _refused(small, Act.RESERVE, 5, bin_name=None, for_="CH-007").what


def test_more_kept_than_there_is_told(small: SmallVault) -> None:
    """Taken even so, what is kept and what is left are both said."""
    _move(small, Act.RESERVE, 6, bin_name=None, for_="CH-007")
    moved = _move(small, Act.ISSUE, even_reserved=True)
    assert "MAIN keeps 6 and holds 5 now" in moved.notes[0]
    assert moved.stands == ("GEN-50-1050: 5 in MAIN, 6 kept for planned swaps, 1 more than lie there",)


@pytest.mark.parametrize(("store", "words"), [("VAN-1", ""), ("VAN1", "Where VAN-1 was meant"), ("DEPOT", "is a new store")])
def test_a_new_store_is_told(small: SmallVault, store: str, words: str) -> None:
    """A name that nobody used before, and the one that it is near to."""
    _move(small, Act.TRANSFER, said=Said(to_store="VAN-1"))
    told = _move(small, Act.TRANSFER, said=Said(to_store=store)).notes
    assert words in " ".join(told) and bool(told) == bool(words)
