"""Stock lists and catalogues that are loaded say what they change, and ask before they sign what is better looked at again."""

from __future__ import annotations

from typing import Any

import pytest
from small_vault import DEMO, SmallVault

from vault.actions.setup import load_catalogue
from vault.actions.stock import Said, one_movement
from vault.actions.stock_load import Loaded, Unsure, load_stock, read_terms
from vault.domain.stock import Act
from vault.trust.statements import Kind

SPARE, SINGLE, OTHER = "GEN-50-1050", "CC-40-700", "CV-24-60"  # the last gives constant voltage, the others constant current
TERMS = "model,supplier,price,currency,last_order,replaced_by\n"


def _load(small: SmallVault, text: str, **given: Any) -> Loaded:
    path = small.folder / "list.csv"
    path.write_text(text, encoding="utf-8")
    return load_stock(small.desk("S01"), path, **{"store": "MAIN", **given})


def _asked(small: SmallVault, text: str, **given: Any) -> Unsure:
    before = small.sizes()
    with pytest.raises(Unsure) as unsure:
        _load(small, text, **given)
    assert unsure.value.kind == "not-confirmed" and small.sizes() == before
    return unsure.value


def test_terms_are_told_old_and_new_and_are_taken_away(small: SmallVault) -> None:
    """Every field that changes, per model; a blank leaves the value and says so, the word none takes it away."""
    first = _load(small, TERMS + f"{SPARE},Trade,24.50,EUR,2099-05-31,\n")
    assert [(one.model, one.name, one.before, one.after) for one in first.changes] == [
        (SPARE, "supplier", None, "Trade"), (SPARE, "price", None, "24.50"), (SPARE, "currency", None, "EUR"),
        (SPARE, "last order", None, "2099-05-31")]
    left = _load(small, TERMS + f"{SPARE},Other,,,,\n")
    assert [(one.before, one.after) for one in left.changes] == [("Trade", "Other")]
    assert "price 24.50, currency EUR, last order 2099-05-31" in left.notes[0] and "Write none" in left.notes[0]
    taken = _load(small, TERMS + f"{SPARE},none,–,-,None,\n")
    assert [(one.name, one.after) for one in taken.changes] == [
        ("supplier", None), ("price", None), ("currency", None), ("last order", None)]
    assert read_terms(small.desk()) == {} and taken.notes == ()


def test_terms_that_are_better_looked_at_again(small: SmallVault) -> None:
    """An end that is past, a replacement that ended, is unknown or fits nothing: asked with its row, told when confirmed, and not
    asked again where it stands already.
    """
    text = TERMS + (f"{SPARE},,,,2020-01-01,\n{SINGLE},,,,,{SPARE}\nGEN-25-800,,,,,NEW-1\nGEN-45-900,,,,,CC-40-70O\n"
                    f"EM-6-180,,,,,{OTHER}\n")
    unsure = _asked(small, text)
    told = ["row 2, last_order: the last order of GEN-50-1050 was 2020-01-01, 3728 days ago",
            "row 3, replaced_by: GEN-50-1050 is no longer made itself", "row 4, replaced_by: the vault does not know NEW-1",
            "row 5, replaced_by: the vault does not know CC-40-70O, did you mean CC-40-700?",
            "row 6, replaced_by: CV-24-60 fits none of the"]
    assert [one for one, start in zip(unsure.asked, told, strict=True) if not one.startswith(start)] == []
    assert "--yes" in unsure.hint
    done = _load(small, text, sure=True)
    assert set(unsure.asked) <= set(done.notes) and len(done.terms) == 5
    assert _load(small, text).terms == ()


def test_a_replacement_for_some_is_told_and_not_asked(small: SmallVault) -> None:
    """It serves part of what the model serves: that is plainly good, and the part that it does not is told."""
    done = _load(small, TERMS + f"{SPARE},,,,,GEN-25-800\n")
    assert done.terms == (SPARE,) and "row 2, replaced_by: GEN-25-800 does not fit" in done.notes[0]


def test_the_opening_stock_twice_says_when_it_came(small: SmallVault) -> None:
    """The vault was made with that file: nothing is added, and the day and what to do are told."""
    before = small.sizes()
    done = load_stock(small.desk("S01"), DEMO / "stock.csv", store="MAIN")
    assert (done.received, done.again, small.sizes()) == (0, 7, before)
    (note,) = done.notes
    assert note.startswith("The same 7 lines came on 2030-03-17 without a delivery note and add nothing.")


def test_lines_that_came_before_are_told(small: SmallVault) -> None:
    """On another note they count and it is told; without a note it is asked whether they are the same delivery."""
    text = f"model,quantity,bin\n{SPARE},2,A1\nGEN-25-800,3,A2\n"
    assert _load(small, text, delivery="DN-2").notes == ()
    again = _load(small, text, delivery="DN-3")
    assert again.received == 2 and again.notes == (
        "The same 2 lines came on 2030-03-17 on delivery DN-2 too; they are received once more.",)
    unsure = _asked(small, text)
    assert unsure.asked == ("the same 2 lines came into MAIN on 2030-03-17 on delivery DN-2",)
    assert "--delivery DN-2; it then adds nothing" in unsure.hint and "--yes" in unsure.hint
    assert (_load(small, text, delivery="DN-2").received, _load(small, text, store="VAN-1").received) == (0, 2)
    assert _load(small, text, sure=True).received == 2
    assert _load(small, text).received == 0


def test_a_typed_receipt_and_a_list_that_says_the_same(small: SmallVault) -> None:
    """What was typed without a note may be what the list says: asked."""
    one_movement(small.desk("S01"), act=Act.RECEIPT, store="MAIN", model=SPARE, quantity=4, bin_name="A1", said=Said())
    assert "came into MAIN on 2030-03-17 without a delivery note" in _asked(small, f"model,quantity,bin\n{SPARE},4,A1\n").what


def test_a_revised_entry_says_what_changed(small: SmallVault) -> None:
    """Field, old and new, by the entry's name; equal entries say nothing."""
    text = (DEMO / "lines.toml").read_text(encoding="utf-8")
    path = small.folder / "lines.toml"
    path.write_text(text.replace("gear_max = 64", "gear_max = 60", 1).replace("site_ta_c = 35", "", 1), encoding="utf-8")
    done = load_catalogue(small.desk("authority"), Kind.LINE, path)
    assert len(done.revised) == 1
    assert {(one.name, one.field, one.before, one.after) for one in done.changes} == {
        (done.revised[0], "gear_max", 64, 60), (done.revised[0], "site_ta_c", 35, None)}
    assert load_catalogue(small.desk("authority"), Kind.LINE, path).changes == ()
