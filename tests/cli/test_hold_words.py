"""Sentences of gearkeep hold where there is one of a thing, none, or less than none."""

from __future__ import annotations

from dataclasses import replace

import pytest

from vault.actions.holding import Holding, Money
from vault.cli.budget_text import bought_lines, missing_lines
from vault.cli.hold_text import beside, lasts_words, opening_row, opening_words
from vault.domain.settings import Duty, Gear, Output, Settings
from vault.domain.terms import Importance
from vault.spares.hold_plan import HoldLine, HoldPlan
from vault.spares.holding import Policy
from vault.spares.marginal import Wanted, bought_for, curve_of
from vault.spares.needs import NeedClass
from vault.spares.reorder_levels import levels_for

LINE = HoldLine(model="A", shares=(), pieces=10, yearly=1.0, importance=Importance.VITAL, lead_days=28, lead_told=True,
                levels=levels_for(1.0, lead_days=28, review_days=28, service_permille=990), on_hand=0, on_order=0, reserved=0,
                to_order=1, opening=2, trade_low=1, trade_high=1, price_cents=None, currency=None)


def _need(key: int, pieces: int) -> NeedClass:
    gear = Gear(duty=Duty.GENERAL, settings=Settings(output=Output.CONSTANT_CURRENT, channels=()))
    return NeedClass(key=bytes([key] * 8), gear=gear, ratings=(), line=None, circuit=None, pieces=pieces, tags=())


def _holding(*bare: NeedClass, unsettled: int = 0) -> Holding:
    return Holding(plan=HoldPlan(lines=(), uncovered=bare, policy=Policy()), chosen=(), unsettled=unsettled, service="",
                   rests_on=(), hours=(), doubts=(), after={}, today_day=0)


@pytest.mark.parametrize(("holding", "said"), [
    (_holding(_need(1, 1)), "1 gear (0 of them with an emergency duty) in 1 need class: none of the chosen models fits, so "
                            "nothing is held for it."),
    (_holding(_need(1, 1), _need(2, 4)), "5 gear (0 of them with an emergency duty) in 2 need classes: none of the chosen models "
                                         "fits, so nothing is held for them."),
    (_holding(unsettled=1), "1 luminaire is unsettled and counted nowhere."),
    (_holding(unsettled=2), "2 luminaires are unsettled and counted nowhere."),
])
def test_what_is_left_out_is_counted_aloud(holding: Holding, said: str) -> None:
    """One class, one luminaire; several."""
    assert next(beside(holding)).startswith(said)


@pytest.mark.parametrize(("position", "years", "said"), [
    (1, 0.02, "1 piece of it is there or coming, and not reserved: enough for 1 week with"), (2, 0.5, "enough for 26 weeks with"),
    (1, 0.001, "enough for less than a week with"), (3, 2.0, "enough for 2.0 years with"),
    (0, 0.0, "None of it is there or coming that is not reserved."),
    (-1, 0.0, "1 piece more of it is reserved than is there or coming."),
    (-3, 0.0, "3 pieces more of it are reserved than are there or coming."),
])
def test_how_long_it_lasts(position: int, years: float, said: str) -> None:
    """In weeks below a year; what is reserved beyond what is there is told as that."""
    assert said in lasts_words(position, years, 950)


def _bought(held: int, packs: int, *, from_empty: bool = False) -> str:
    curve = curve_of([Wanted(model="A", mean=0.1, price_cents=1000, held=held)])
    found = Money(curve=curve, unpriced=("B",), no_lead=(), ended=(), currency="EUR", from_empty=from_empty, notes=())
    return next(bought_lines(bought_for(curve, packs * 1000), found))


@pytest.mark.parametrize(("held", "packs", "said"), [
    (2, 1, "Buy 1 of A for 10.00 EUR; with the 2 there or coming 3 spares cover 3 demands: the chance"),
    (-3, 4, "Buy 4 of A for 40.00 EUR; it was 3 short of what is reserved, then 1 spare covers 1 demand: the chance"),
    (-3, 3, "Buy 3 of A for 30.00 EUR; it was 3 short of what is reserved, then 0 spares cover 0 demands: the chance"),
    (-3, 2, "Buy 2 of A for 20.00 EUR; it was 3 short of what is reserved, and is still 1 short."),
    (-3, 0, "the chance that none goes wanting: A 3 short (0.00 %)."),
    (2, 0, "the chance that none goes wanting: A 2 (99.98 %)."),
])
def test_what_is_short_is_told_as_short(held: int, packs: int, said: str) -> None:
    """No spares below nought cover anything. P(D <= 2) is 99.98 % at a mean of 0.1 (Poisson table)."""
    assert said in _bought(held, packs)


def test_an_empty_shelf_has_nothing_there() -> None:
    """Only what is bought covers."""
    assert _bought(0, 1, from_empty=True).startswith("Buy 1 of A for 10.00 EUR: 1 spare covers 1 demand")


def test_a_price_of_nought_is_not_taken_as_free() -> None:
    """Nor told as unknown."""
    found = Money(curve=curve_of([]), unpriced=("B",), no_lead=(), ended=(), currency="EUR", from_empty=False, notes=())
    assert next(missing_lines(found)) == "Without a price above nought, so left out and not taken as free: B."


@pytest.mark.parametrize(("ended", "sentences", "cells"), [
    (False, ["A: 2 spares cover 2 demands"], ("2", True)), (True, [], ("no longer made", False)),
])
def test_no_opening_stock_of_what_is_no_longer_made(ended: bool, sentences: list[str], cells: tuple[str, bool]) -> None:
    """Neither a number of spares nor what they would cover."""
    line = replace(LINE, ended=ended)
    row = opening_row(line)
    assert [said.split(":  ")[0].rsplit(":", 1)[0] for said in opening_words([line])] == sentences
    assert (row[4], row[5].endswith(" %")) == cells
