"""gearkeep stock, as typed."""

from __future__ import annotations

import json
from typing import Any

import pytest
from small_vault import Cli, SmallVault

SPARE = "GEN-50-1050"  # six in bin A1 of MAIN (demo/stock.csv)


def _does(cli: Cli, line: str, code: int = 0) -> str:
    found = cli(*line.split(), key="S01")
    assert found.exit_code == code, found.output
    return str(found.output)


def _listed(cli: Cli, line: str = "") -> dict[str, Any]:
    found: dict[str, Any] = json.loads(_does(cli, f"stock list --json {line}"))
    return found


def test_a_day_in_the_store(cli: Cli) -> None:
    """An order, a part delivery, a reservation, a return that is checked, a transfer and a scrap, and what the list says."""
    _does(cli, f"stock order {SPARE} 10 --order PO-7 --due 2099-05-31 --supplier Trade")
    assert "6 of GEN-50-1050 are still to come" in _does(cli, f"stock receive {SPARE} 4 --bin A1 --order PO-7 --delivery DN-1")
    _does(cli, f"stock reserve {SPARE} 2 --for @CH-007 --yes")
    _does(cli, f"stock issue {SPARE} 1 --bin A1 --for @CH-007")
    assert "9 in MAIN, 1 needs a reset, 6 on order, 1 kept" in _does(cli, f"stock return {SPARE} 1 --bin A1")
    _does(cli, f"stock check {SPARE} 1 --bin A1")
    _does(cli, f"stock transfer {SPARE} 3 --bin A1 --to VAN-1 --to-bin LEFT")
    _does(cli, f"stock scrap {SPARE} 1 --bin A1 --because wet --stream electronics")
    sums = {(one["store"], one["model"]): one for one in _listed(cli)["sums"]}
    assert sums["MAIN", SPARE] == {"store": "MAIN", "model": SPARE, "good": 6, "too_old": 0, "needs_reset": 0,
                                   "reserved": 1, "on_order": 6, "free": 5}
    assert _listed(cli, "--store VAN-1")["shelves"] == [
        {"store": "VAN-1", "model": SPARE, "bin": "LEFT", "pieces": 3, "needs_reset": 0, "serials": []}]
    said = _does(cli, "stock list")
    assert "On order: 6 of GEN-50-1050 for MAIN, order PO-7, due 2099-05-31." in said and "Reserved: 1 of GEN-50-1050" in said
    _does(cli, f"stock cancel {SPARE} 6 --order PO-7")
    _does(cli, f"stock release {SPARE} 1 --for @CH-007")
    after = _listed(cli)
    assert after["on_order"] == after["reserved"] == []


@pytest.mark.parametrize(("line", "code", "kind"), [
    (f"stock issue {SPARE} 9 --bin A1", 1, "stock-short"), (f"stock check {SPARE} 1 --bin A1", 1, "stock-short"),
    (f"stock reserve {SPARE} 9 --for @CH-007 --yes", 1, "stock-short"),
    (f"stock reserve {SPARE} 2 --for @CH-007", 2, "not-confirmed"), (f"stock release {SPARE} 1 --for @CH-007", 1, "not-reserved"),
    (f"stock cancel {SPARE} 1 --order PO-7", 1, "not-ordered"), ("stock list --model NO-SUCH", 1, "not-found"),
    ("stock terms --model NO-SUCH", 1, "not-found"),
    (f"stock order {SPARE} 1 --order PO-7 --due 31.5.2099", 2, "bad-value"),
    (f"stock receive {SPARE} 2 --serial S1", 2, "bad-value"),
    (f"stock receive {SPARE} 1 --made soon", 2, "bad-value"), ("stock receive NO-SUCH 1", 2, "not-found")])
def test_what_is_refused(cli: Cli, line: str, code: int, kind: str) -> None:
    """The failure class and the exit code; wrong use is 2."""
    assert json.loads(_does(cli, f"{line} --json", code))["error"]["kind"] == kind


def test_a_reserved_piece_is_told_when_forced(cli: Cli) -> None:
    """Refused at first, then issued with a note."""
    _does(cli, f"stock reserve {SPARE} 6 --for @CH-007 --yes")
    assert "--even-reserved" in _does(cli, f"stock issue {SPARE} 1 --bin A1", 1)
    assert "note: 1 of GEN-50-1050" in _does(cli, f"stock issue {SPARE} 1 --bin A1 --even-reserved")


def test_a_list_is_loaded_once_and_its_terms_shown(cli: Cli, ready: SmallVault) -> None:
    """The second time says that nothing was added; terms stand with price and day."""
    (ready.folder / "list.csv").write_text(
        "model,quantity,bin,supplier,price,currency,lead_days,last_order,importance\n"
        f"{SPARE},2,A1,Trade,24.50,EUR,21,2099-05-31,vital\n", encoding="utf-8")
    first = _does(cli, "stock load list.csv --delivery DN-1")
    assert f"{SPARE}: 8 in MAIN" in first and "Terms of 1 item changed" in first
    assert "1 line was received before on delivery DN-1 and adds nothing." in _does(cli, "stock load list.csv --delivery DN-1")
    assert "24.50 EUR" in _does(cli, "stock terms") and "2099-05-31" in _does(cli, f"stock terms --model {SPARE}")
    assert json.loads(_does(cli, "stock terms --json"))["terms"] == [
        {"model": SPARE, "supplier": "Trade", "price_cents": 2450, "currency": "EUR", "lead_days": 21, "importance": "vital",
         "last_order": "2099-05-31"}]


def test_no_terms_yet_is_nothing_found(cli: Cli) -> None:
    """Exit 1, and what to do."""
    assert "gearkeep stock load FILE" in _does(cli, "stock terms", 1)


def test_a_scanned_label_stands_for_a_model(cli: Cli) -> None:
    """The picture that `mark spare` makes is taken where a model is typed, and so is its name in small letters."""
    assert cli("mark", "spare", "GEN-50-1050", "--out", "spare.png").exit_code == 0
    for said in ("spare.png", "gen-50-1050"):
        done = cli("stock", "receive", said, "1", "--bin", "Z9", "--delivery", said, "--json", key="S01")
        assert done.exit_code == 0 and list(json.loads(done.stdout)["pieces"]) == ["GEN-50-1050"], done.output


@pytest.mark.parametrize("words", [
    ("order", "GEN-50-1050", "2", "--order", "PO-1", "--due", "2020-01-01"),  # due in the past
    ("receive", "GEN-50-1050", "1", "--made", "2090-01-01"),  # made in the future
    ("receive", "GEN-50-1050", "1", "--store", "main"),  # MAIN but for its capitals
    ("transfer", "GEN-50-1050", "1", "--bin", "A1", "--to", "main"),
    ("receive", "GEN-50-1050", "1", "--bin", "a1"),  # A1 but for its capitals
    ("order", "GEN-50-1050", "100000", "--order", "PO-1", "--due", "2099-05-31"),  # far more than was ever moved
    ("count", "GEN-50-1050", "1700", "--bin", "A1", "--because", "count"),  # six should lie there
])
def test_what_cannot_be_is_refused(cli: Cli, words: tuple[str, ...]) -> None:
    """Days and stores that a slip of the finger made are named, and nothing is signed."""
    done = cli("stock", *words, key="S01")
    assert done.exit_code == 2 and "hint:" in done.stderr


@pytest.mark.parametrize(("line", "said"), [
    (f"order {SPARE} 10 --order PO-7 --due 2099-05-31",
     f"Ordered 10 of {SPARE} for MAIN, order PO-7, due 2099-05-31.\n{SPARE}: 6 in MAIN, 10 on order"),
    (f"transfer {SPARE} 2 --bin A1 --to VAN-1 --to-bin LEFT",
     f"Moved 2 of {SPARE} from bin A1 of MAIN to bin LEFT of VAN-1.\n{SPARE}: 4 in MAIN; 2 in VAN-1"),
    (f"return {SPARE} 2 --bin A1", f"Took back 2 of {SPARE} into bin A1 of MAIN.\n{SPARE}: 6 in MAIN, 2 need a reset"),
    (f"scrap {SPARE} 1 --bin A1 --because wet --stream electronics",
     f"Scrapped 1 of {SPARE} from bin A1 of MAIN, waste stream electronics.\n{SPARE}: 5 in MAIN"),
    ("issue CC-40-700 1 --serial mb31007", "Issued 1 of CC-40-700, serial MB31007, from bin B1 of MAIN.\nCC-40-700: 0 in MAIN"),
])
def test_what_was_done_is_said(cli: Cli, line: str, said: str) -> None:
    """What was done, from where to where, and what stands now."""
    assert said in _does(cli, f"stock {line}")


def test_what_is_kept_and_given_back_is_said(cli: Cli) -> None:
    """For whom, and what is still kept, on order or free."""
    assert "6 in MAIN, 2 kept for planned swaps, 4 free" in _does(cli, f"stock reserve {SPARE} 2 --for @CH-007 --yes")
    assert "1 is still kept for it." in _does(cli, f"stock release {SPARE} 1 --for @CH-007")
    assert "which keeps none now." in _does(cli, f"stock release {SPARE} 1 --for @CH-007")
    _does(cli, f"stock order {SPARE} 3 --order PO-7 --due 2099-05-31")
    assert f"Cancelled 2 of {SPARE} for MAIN, order PO-7.\n{SPARE}: 6 in MAIN, 1 on order" in _does(
        cli, f"stock cancel {SPARE} 2 --order PO-7")


@pytest.mark.parametrize(("quantity", "least", "act"), [("-4", 1, "receive"), ("0", 1, "issue"), ("-14", 0, "count"),
                                                        ("1.5", 1, "transfer")])
def test_a_number_that_cannot_be_is_told_as_one(cli: Cli, quantity: str, least: int, act: str) -> None:
    """What was found and what is allowed, also of a number that looks like an option."""
    rest = {"count": "--because x", "transfer": "--to VAN-1"}.get(act, "")
    said = _does(cli, f"stock {act} {SPARE} {quantity} {rest}", 2)
    assert f"{quantity} was found; a number of pieces is a whole number, {least} or more." in said


@pytest.mark.parametrize(("line", "code", "said"), [
    ("stock list --model gen-50-1050", 0, "GEN-50-1050"),
    ("stock list --model GEN-50-1060", 1, "The vault does not know the model GEN-50-1060. Did you mean GEN-50-1050?"),
    ("stock terms --model gen-25-800", 1, "Nothing is agreed about GEN-25-800."),
    ("stock terms --model gen-50-1050", 0, "Trade"),
    ("stock terms --model GEN-25-80", 1, "The vault does not know the model GEN-25-80. Did you mean GEN-25-800?"),
])
def test_a_model_is_named_as_everywhere(cli: Cli, ready: SmallVault, line: str, code: int, said: str) -> None:
    """In any case; an unknown one is refused with a near name, and one without terms is not called an empty vault."""
    (ready.folder / "list.csv").write_text(f"model,supplier\n{SPARE},Trade\n", encoding="utf-8")
    _does(cli, "stock load list.csv")
    assert said in _does(cli, line, code)


def test_a_long_list_is_told_in_short(cli: Cli, ready: SmallVault) -> None:
    """Thirty bins of batteries without a day are twelve notes, and how many more; all of them in JSON."""
    rows = "".join(f"BATT-4,1,L{number},battery\n" for number in range(30))
    (ready.folder / "list.csv").write_text(f"model,quantity,bin,item\n{rows}", encoding="utf-8")
    loaded = _does(cli, "stock load list.csv")
    assert loaded.count("note: Nobody can say when") == 12 and "and 18 more notes: all of them with --json" in loaded


def test_a_list_without_rows_says_which_stores_have_some(cli: Cli) -> None:
    """A store that holds nothing, named in small letters perhaps."""
    assert "Stores that do: MAIN." in _does(cli, "stock list --store main", 1)
