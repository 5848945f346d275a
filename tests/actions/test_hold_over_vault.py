"""Holding plans, budgets and last-time buys over a small vault."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from small_vault import NOW_S, SmallVault, build, copy_of

from vault.actions.end_of_life import EndOfLife, end_of_life
from vault.actions.hold_asked import HoldAsked
from vault.actions.holding import hold_plan, what_money_buys
from vault.actions.last_time import LastTimeAsked, last_time
from vault.actions.stock import one_movement
from vault.actions.stock_load import load_stock
from vault.cli.end_of_life_text import lines
from vault.cli.hold_text import beside
from vault.cli.last_time_text import last_json, last_lines
from vault.domain.settings import Duty
from vault.domain.stock import Act
from vault.errors import UsageProblem
from vault.spares.burning_hours import HoursTable

TERMS = ("model,price,currency,lead_days,importance,pack\nGEN-50-1050,24.50,EUR,56,essential,\n"
         "GEN-25-800,18.00,EUR,56,desirable,2\n")


def _with_terms(small: SmallVault) -> SmallVault:
    file = small.folder / "terms.csv"
    file.write_text(TERMS, encoding="utf-8")
    load_stock(small.desk("S01"), file, store="MAIN")
    return small


@pytest.fixture(scope="module", autouse=True)
def cache(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """No cache of the user's is touched."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.mktemp("cache")))
        yield


@pytest.fixture(scope="module")
def priced(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SmallVault]:
    """The small vault with terms of two of its stocked models; nobody changes it."""
    made = _with_terms(copy_of(build(tmp_path_factory.getbasetemp() / "small-vault"), tmp_path_factory.mktemp("priced")))
    yield made
    made.close()


def test_every_gear_in_service_is_planned_for_once(priced: SmallVault) -> None:
    """The twenty gear of the vault: held for or named as uncovered; and what has no lead time is told."""
    found = hold_plan(priced.desk(), HoldAsked())
    assert sum(line.pieces for line in found.plan.lines) + sum(need.pieces for need in found.plan.uncovered) == 20
    assert {line.model for line in found.plan.lines if line.levels} == {"GEN-50-1050", "GEN-25-800"}
    assert "CC-40-700" in " ".join(found.notes) and "unknown" in " ".join(found.notes)


def test_hours_of_a_circuit_count_in_the_plan(priced: SmallVault) -> None:
    """What hangs on L1 burns 8760 h and no other general gear does: pieces by hours by the prior's 2 in 10^6 h, for no swap is on
    record."""
    found = hold_plan(priced.desk(), HoldAsked(hours=HoursTable(by_circuit={"L1": 8760}, default=1000)))
    shares = [share for line in found.plan.lines for share in line.shares if share.need.gear.duty is Duty.GENERAL]
    assert {(share.origin.circuit == "L1", share.hours) for share in shares} == {(True, 8760), (False, 1000)}
    assert [share.yearly for share in shares] == pytest.approx([share.origin.pieces * share.hours * 2e-6 for share in shares],
                                                               rel=1e-3)


def test_money_buys_only_what_has_a_price(priced: SmallVault) -> None:
    """The others are named; what lies there is not bought again (demo/stock.csv), unless one asks for an empty shelf."""
    found, empty = (what_money_buys(priced.desk(), HoldAsked(), from_empty=one) for one in (False, True))
    assert {item.model: (item.held, item.pack) for item in found.curve.items} == {"GEN-50-1050": (6, 1), "GEN-25-800": (4, 2)}
    assert {item.held for item in empty.curve.items} == {0} and found.currency == "EUR"
    assert "CC-40-700" in found.unpriced and "CC-40-700" in found.no_lead


def test_prices_of_two_currencies_are_never_added(small: SmallVault, tmp_path: Path) -> None:
    """Each is named with its models; nothing is reckoned."""
    priced = _with_terms(small)
    (tmp_path / "chf.csv").write_text("model,price,currency,lead_days\nCC-40-700,30.00,CHF,56\n", encoding="utf-8")
    load_stock(priced.desk("S01"), tmp_path / "chf.csv", store="MAIN")
    with pytest.raises(UsageProblem, match="CHF: CC-40-700; EUR: GEN-") as caught:
        what_money_buys(priced.desk(), HoldAsked())
    assert caught.value.kind == "two-currencies"


def test_a_last_time_buy_is_of_whole_packs(priced: SmallVault) -> None:
    """Packs of two (the terms above): never an odd number, never fewer than are lacking, at most one more."""
    found = last_time(priced.desk(), "GEN-25-800", LastTimeAsked(years=60, service_permille=999), HoldAsked())
    assert found.to_buy % 2 == 0 and found.to_buy - found.buy.to_buy in (0, 1)


def test_a_last_time_buy_after_the_last_order_buys_nothing(small: SmallVault) -> None:
    """It says since when, how long what is there lasts, what the replacement fits, and what the rate rests on."""
    priced = _with_terms(small)
    end_of_life(priced.desk("S01"), "GEN-50-1050", last_order_day=NOW_S // 86_400 - 1, replaced_by="EM-6-180",
                sure=True)
    planned = "\n".join(beside(hold_plan(priced.desk(), HoldAsked())))
    assert "GEN-50-1050 can no longer be ordered: its last order was 2030-03-16; EM-6-180 is named in its place, but" in planned
    found = last_time(priced.desk(), "GEN-50-1050", LastTimeAsked(years=60), HoldAsked())
    said = "\n".join(last_lines(found))
    assert found.ended and found.after is not None and found.after.fits == 0 and found.lasts_years
    assert "It can no longer be ordered: its last order was 2030-03-16; EM-6-180 is named in its place, but fits none" in said
    assert "counts as 1 failure in 500000 h" in said and "To buy" not in said and last_json(found)["to_buy"] == 0


def test_what_is_reserved_beyond_the_shelf_is_bought_too(small: SmallVault) -> None:
    """Three are reserved, then none is found: three short, so three more than the years ask for, the rate known or not."""
    priced = _with_terms(small)
    one_movement(priced.desk("S01"), act=Act.RESERVE, model="GEN-50-1050", quantity=3, store="MAIN",
                 tag_text=small.tags["CH-007"], sure=True)
    one_movement(priced.desk("S01"), act=Act.COUNT, model="GEN-50-1050", quantity=0, store="MAIN", bin_name="A1", reason="lost")
    buys = [last_time(priced.desk(), "GEN-50-1050", LastTimeAsked(years=60, rate_per_h=rate), HoldAsked())
            for rate in (None, 2e-6)]
    assert [one.to_buy - one.buy.pieces for one in buys] == [3, 3]
    assert all("There or coming, less what is reserved: 3 short. To buy: " in "\n".join(last_lines(one)) for one in buys)


def test_one_of_a_thing_is_told_as_one(priced: SmallVault) -> None:
    """A year, a luminaire, a day."""
    buy = last_time(priced.desk(), "GEN-50-1050", LastTimeAsked(years=1, retiring=1, wear_shape=1.5, wear_life_h=5000,
                                                                ages=((None, 1000),)), HoldAsked())
    said = "\n".join(lines(EndOfLife(model="GEN-50-1050", last_order_day=1, replaced_by=None, days_left=1, changed=False,
                                     served=(), buy=buy, no_buy=""), 1))
    for told in ("(1 day left)", "Last-time buy for 1 year:", "wear out within 1 year too",
                 "1 luminaire due to be retired before is left out"):
        assert told in said


@pytest.mark.parametrize(("model", "wish", "kind"), [
    ("NO-SUCH", LastTimeAsked(years=8), "not-found"),
    ("GEN-50-1050", LastTimeAsked(years=8, wear_shape=3.0, wear_life_h=60_000), "bad-value"),
    ("GEN-50-1050", LastTimeAsked(years=8, ages=((None, 20_000),)), "bad-value"),
])
def test_a_last_time_buy_that_cannot_be_reckoned(priced: SmallVault, model: str, wish: LastTimeAsked, kind: str) -> None:
    """An unknown model; wear-out without ages, which are never taken as nought; ages without wear-out."""
    with pytest.raises(UsageProblem) as caught:
        last_time(priced.desk(), model, wish, HoldAsked())
    assert caught.value.kind == kind


@pytest.mark.parametrize(("terms", "chosen"), [("model,price,currency\nHX-40-950,1.00,EUR\n", False),
                                               ("model,lead_days\nHX-40-950,28\n", True)])
def test_an_offer_moves_no_demand(small: SmallVault, terms: str, chosen: bool) -> None:
    """A price alone for a model that was never held is a quotation; a lead time means that it is to be held."""
    (small.folder / "offer.csv").write_text(terms, encoding="utf-8")
    load_stock(small.desk("S01"), small.folder / "offer.csv", store="MAIN")
    assert ("HX-40-950" in hold_plan(small.desk(), HoldAsked()).chosen) == chosen
