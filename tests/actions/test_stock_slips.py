"""Slips of the finger in the store: a delivery twice, an order's number, a nought too many, a name that is nearly another's."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from small_vault import SmallVault, build, copy_of

from vault.actions.stock import Moved, Said, one_movement
from vault.actions.stock_load import Loaded, load_stock
from vault.actions.stock_names import bare_number
from vault.actions.unsure import Unsure
from vault.domain.stock import Act, Condition
from vault.errors import GearkeepError

SPARE, OTHER, THIRD = "GEN-50-1050", "GEN-25-800", "CV-24-60"  # six of the first in A1 (demo/stock.csv)
DUE = 40_000
HEAD = "model,quantity,bin\n"
TWO = f"{HEAD}{SPARE},2,A1\n{OTHER},3,A2\n"


def _load(small: SmallVault, text: str, **given: str | bool | None) -> Loaded:
    path = small.folder / "list.csv"
    path.write_text(text, encoding="utf-8")
    return load_stock(small.desk("S01"), path, **{"store": "MAIN", **given})  # type: ignore[arg-type]


def _move(small: SmallVault, act: Act, quantity: int, *, sure: bool = False, bin_name: str | None = None,
          reason: str | None = None, **said: str | int | None) -> Moved:
    return one_movement(small.desk("S01"), act=act, store="MAIN", model=SPARE, quantity=quantity, bin_name=bin_name, sure=sure,
                        said=Said(reason=reason, **said))  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def numbered(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SmallVault]:
    """The small vault with one open order and one delivery note, for what leaves nothing behind."""
    made = copy_of(build(tmp_path_factory.getbasetemp() / "small-vault"), tmp_path_factory.mktemp("numbered"))
    _move(made, Act.ORDER, 10, order="PO-1", due_day=DUE)
    _move(made, Act.RECEIPT, 1, delivery="DN-70", bin_name="A1")
    yield made
    made.close()


@pytest.mark.parametrize(("note", "text", "asked", "hint"), [
    ("DN-71", f"{TWO}{THIRD},1,C1\n", "2 of these 3 lines came into MAIN on 2030-03-17 on delivery DN-71", "--delivery DN-71"),
    ("DN-50", f"{HEAD}{SPARE},2,A1\n{OTHER},3,A2\n{THIRD},9,C1\n", "2 of these 3 lines", "--delivery DN-50"),
    (None, f"{TWO}{THIRD},1,C1\n", "on 2030-03-17 without a delivery note", "stock count"),
])
def test_a_delivery_that_overlaps_an_earlier_one_is_asked(small: SmallVault, note: str | None, text: str, asked: str,
                                                          hint: str) -> None:
    """Most of its lines came on one note, or without any: nothing is signed until somebody says that it is another."""
    _load(small, f"{TWO}{THIRD},7,C1\n" if note == "DN-50" else TWO, delivery=note)
    before = small.sizes()
    with pytest.raises(Unsure) as unsure:
        _load(small, text)
    assert asked in unsure.value.what and hint in unsure.value.hint and small.sizes() == before


@pytest.mark.parametrize("text", [f"{HEAD}{SPARE},2,A1\n{OTHER},4,A2\n", f"{HEAD}{SPARE},2,A1\n"], ids=["half", "one line"])
def test_a_line_that_is_alike_by_chance_is_not_asked(small: SmallVault, text: str) -> None:
    """Half of the lines, or a single one of several, is what every week brings."""
    _load(small, TWO, delivery="DN-71")
    _load(small, text)


@pytest.mark.parametrize(("act", "said", "near"), [
    (Act.RECEIPT, {"delivery": "dn-70"}, "DN-70"), (Act.RECEIPT, {"delivery": "DN 70"}, "DN-70"),
    (Act.RECEIPT, {"order": "PO1"}, "PO-1"), (Act.ORDER, {"order": "po-1", "due_day": DUE}, "PO-1"),
    (Act.CANCEL, {"order": "PO 1"}, "PO-1")])
def test_a_number_that_is_anothers_but_for_its_dashes_is_refused(numbered: SmallVault, act: Act, said: dict[str, str | int],
                                                                 near: str) -> None:
    """Whatever is confirmed: the note or the order is named as it stands, with what is open of the model."""
    before = numbered.sizes()
    with pytest.raises(GearkeepError) as refused:
        _move(numbered, act, 2, sure=True, **said)
    assert (refused.value.kind, numbered.sizes()) == ("near-name", before) and f"but {near}." in refused.value.what
    assert "order" not in said or "PO-1 (10, due 2079-07-08)" in refused.value.hint


@pytest.mark.parametrize(("one", "other", "alike"), [
    ("DN-70", "dn 70", True), ("PO-1", "PO1", True), ("2026-007", "2026 007", True), ("DN-1-12", "DN-11-2", False),
    ("PO/1", "PO-1", False)])
def test_what_tells_numbers_apart(one: str, other: str, alike: bool) -> None:
    """Capitals, blanks and dashes do not, but where they part figures: DN 1-12 is another note than DN 11-2."""
    assert (bare_number(one) == bare_number(other)) is alike


def test_an_order_that_nobody_placed_is_asked_where_others_are_open(numbered: SmallVault, small: SmallVault) -> None:
    """With what is open and what may have been meant, typed or of a list; where nothing is open the receipt says it only."""
    with pytest.raises(Unsure, match="open for it is PO-1 ") as unsure:
        _move(numbered, Act.RECEIPT, 4, order="PO-2", bin_name="A1")
    assert unsure.value.what.endswith("PO-1 (10, due 2079-07-08): did you mean PO-1?")
    with pytest.raises(Unsure, match="open for it is PO-1 "):
        _load(numbered, f"{HEAD}{SPARE},4,A1\n", order="PO-33")
    assert "all the same" in _move(small, Act.RECEIPT, 1, order="PO-31", bin_name="A1").notes[0]


@pytest.mark.parametrize(("act", "quantity", "said", "words"), [
    (Act.RECEIPT, 100_000, {"bin_name": "A1"}, "no more than 6 were ever moved or ordered at once"),
    (Act.ORDER, 100_000, {"order": "PO-1", "due_day": DUE}, "100000 of GEN-50-1050"),
    (Act.COUNT, 61, {"bin_name": "A1", "reason": "count"}, "were counted in bin A1 of MAIN, where 6 should lie"),
])
def test_figures_that_can_hardly_be_are_asked(small: SmallVault, act: Act, quantity: int, said: dict[str, str | int],
                                              words: str) -> None:
    """Beyond them nothing is signed until it is confirmed; up to them it passes."""
    before = small.sizes()
    with pytest.raises(Unsure) as unsure:
        _move(small, act, quantity, **said)  # type: ignore[arg-type]
    assert words in unsure.value.what and "--yes" in unsure.value.hint and small.sizes() == before
    _move(small, act, 60 if act is Act.COUNT else 1_000, **said)  # type: ignore[arg-type]


def test_opening_stock_is_never_asked(small: SmallVault) -> None:
    """Of what was never moved any figure may come."""
    assert _load(small, "model,quantity,bin,item\nLAMP,50000,L1,other\n").received == 1


def test_an_order_that_differs_from_what_is_agreed_says_so(small: SmallVault) -> None:
    """Packs that are not full, another supplier; in silence where it agrees."""
    _load(small, f"model,supplier,pack\n{SPARE},NORTHYARD,4\n")
    told = _move(small, Act.ORDER, 10, order="PO-1", due_day=DUE, supplier="OLDMILL").notes
    assert told[0] == f"{SPARE} comes in packs of 4, and 10 were ordered: full packs are 8 or 12."
    assert told[1].startswith(f"{SPARE} was ordered from OLDMILL; agreed is NORTHYARD")
    assert _move(small, Act.ORDER, 8, order="PO-2", due_day=DUE, supplier="NORTHYARD").notes == ()


def test_what_the_terms_can_hardly_mean(small: SmallVault) -> None:
    """A replacement that is nearly the item itself gets no guess; nought days are told; a driver has no shelf life."""
    with pytest.raises(Unsure, match=r"the vault does not know GEN-45-90\.$"):
        _load(small, "model,replaced_by\nGEN-45-900,GEN-45-90\n")
    with pytest.raises(Unsure, match=r"did you mean GEN-25-800\?$"):
        _load(small, "model,replaced_by\nGEN-45-900,GEN-25-80\n")
    assert "on the day that it is ordered" in _load(small, f"model,lead_days\n{SPARE},0\n").notes[0]
    with pytest.raises(GearkeepError, match="row 2, shelf_life_months: GEN-50-1050 is a driver"):
        _load(small, f"model,shelf_life_months\n{SPARE},12\n")


def test_a_list_cannot_say_that_a_battery_was_made_tomorrow(small: SmallVault) -> None:
    """The desk's clock says 2030-03-17."""
    with pytest.raises(GearkeepError, match="row 2, made: found '2030-03-18', allowed a day up to today, 2030-03-17"):
        _load(small, "model,item,quantity,made\nCELL,battery,4,2030-03-18\n")


def test_a_returned_piece_is_told_with_its_number(small: SmallVault) -> None:
    """Its number and that it needs a reset, parted by one comma each."""
    done = one_movement(small.desk("S01"), act=Act.RETURN, store="MAIN", model=SPARE, quantity=1, bin_name="A1", serial="X9")
    gone = one_movement(small.desk("S01"), act=Act.TRANSFER, store="MAIN", model=SPARE, quantity=1, bin_name="A1", serial="X9",
                        condition=Condition.NEEDS_RESET, said=Said(to_store="VAN-1"))
    assert done.needs_reset == {SPARE: 1} and ", serial X9, which needs a reset, from bin A1" in gone.did[0]


def test_a_transfer_to_where_it_lies_is_told_in_words(small: SmallVault) -> None:
    """The same store needs another bin."""
    with pytest.raises(GearkeepError) as refused:
        _move(small, Act.TRANSFER, 1, bin_name="A1", to_store="MAIN")
    assert refused.value.kind == "same-bin" and "lies in bin A1 of MAIN already" in refused.value.what
