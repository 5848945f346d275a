"""Coverage: the quick way never says more than the whole fit; what makes a class leaves no finding out."""

from __future__ import annotations

from dataclasses import replace

import pytest
from any_settings import gear_strategy, spare_strategy
from domain_examples import (
    ABILITY,
    CIRCUIT,
    EMERGENCY_GEAR,
    EMERGENCY_RATING,
    GEAR,
    LINE,
    RATING,
    SPARE,
    TAPE_SPARE,
    TWO_GEAR,
    TWO_RATING,
    changed,
    with_control,
    with_module,
    with_position,
)
from hypothesis import given, settings
from hypothesis import strategies as st
from spoilt import spoilt_models, spoilt_needs

from vault.domain.driver import DriverModel
from vault.domain.findings import Severity, Verdict
from vault.domain.fit import fit_spare
from vault.domain.rating import Hazard, Isolation, Rating
from vault.domain.settings import Duty, EmergencySupply, Gear
from vault.domain.site import Circuit, Line, LineKind
from vault.spares.coverage import Need, alike_circuit, alike_line, judge, need_of, needed_gear
from vault.spares.coverage_answers import answers_for
from vault.spares.coverage_gaps import OnShelf, by_duty, shelf_gaps
from vault.spares.coverage_quick import quick_stops
from vault.spares.coverage_words import class_words
from vault.spares.needs import Answer, Coverage

FITS = Answer(verdict=Verdict.FITS, rule="", limit="")
CARE = Answer(verdict=Verdict.FITS_WITH_CARE, rule="window", limit="Close.")
UNKNOWN = Answer(verdict=Verdict.CANNOT_TELL, rule="window", limit="Not known.")
STOP = Answer(verdict=Verdict.DOES_NOT_FIT, rule="output", limit="Not that.")


def need(gear: Gear = GEAR, pieces: int = 1, named: str = "A12") -> Need:
    """The good example's class."""
    return need_of(gear, (RATING,), LINE, CIRCUIT, pieces=pieces, tags=(), named=(named, 1))


@settings(max_examples=40)
@given(st.lists(spoilt_needs(), min_size=1, max_size=2), st.lists(spoilt_models(), min_size=1, max_size=3))
def test_a_plain_stop_is_a_stop_of_the_whole_fit_by_the_same_rule(needs: list[Need], models: list[DriverModel]) -> None:
    """Where the quick way stops, the whole fit says that it does not fit and names that rule among its stops."""
    found = quick_stops(needs, models)
    told = [(found.answers[found.at[i, j]], one, model) for i, one in enumerate(needs) for j, model in enumerate(models)]
    for answer, one, model in told:
        stopped = {finding.rule for rating in one.of.ratings for finding in fit_spare(
            one.of.gear, rating, model, circuit=one.of.circuit, line=one.of.line).findings if finding.severity is Severity.STOP}
        assert answer is None or (answer.rule in stopped and answer.verdict is Verdict.DOES_NOT_FIT and answer.limit)


@settings(max_examples=12)
@given(st.lists(spoilt_needs(), min_size=1, max_size=2), st.lists(spoilt_models(), min_size=1, max_size=3))
def test_the_quick_way_changes_no_verdict(needs: list[Need], models: list[DriverModel]) -> None:
    """With the quick way every verdict is what the whole fit alone gives."""
    quick, whole = (answers_for(needs, models, quick=quick).answers for quick in (True, False))
    assert [[one.verdict for one in row] for row in quick] == [[one.verdict for one in row] for row in whole]


@settings(max_examples=12)
@given(gear_strategy(), spare_strategy(), st.sampled_from([None, CIRCUIT, changed(CIRCUIT, title="Stair")]))
def test_what_a_class_leaves_out_tells_on_no_spare(gear: Gear, spare: DriverModel, circuit: Circuit | None) -> None:
    """Any gear and what its class keeps of it have the same findings, at its circuit and at what the class keeps of that."""
    whole = fit_spare(gear, RATING, spare, circuit=circuit, line=LINE)
    kept = fit_spare(needed_gear(gear), RATING, spare, circuit=alike_circuit(circuit), line=alike_line(LINE))
    assert kept.findings == whole.findings


@pytest.mark.parametrize(("rule", "gear", "rating", "model"), [
    ("hazard", GEAR, replace(RATING, hazards=frozenset({Hazard.RAIL})), SPARE), ("output", GEAR, RATING, TAPE_SPARE),
    ("duty", EMERGENCY_GEAR, RATING, SPARE), ("channels", TWO_GEAR, TWO_RATING, SPARE),
    ("current-match", GEAR, RATING, changed(SPARE, current_max_ma=600)),
    ("window", GEAR, with_module(RATING, voltage_high_mv=58_000), SPARE),
    ("total-power", GEAR, RATING, changed(SPARE, power_total_max_mw=20_000)),
    ("isolation", GEAR, RATING, changed(SPARE, isolation=Isolation.BASIC)),
    ("touchable-voltage", GEAR, RATING, changed(SPARE, output_voltage_max_mv=61_000)),
    ("protection-class", GEAR, RATING, changed(SPARE, classes=frozenset())),
    ("ambient", GEAR, RATING, changed(SPARE, ta_max_c=29)), ("size", GEAR, RATING, changed(SPARE, height_mm=31)),
    ("supply-ac", GEAR, RATING, changed(SPARE, supply_max_v=230)),
    ("case-temperature", GEAR, RATING, changed(SPARE, tc_max_c=74)),
    ("protocol", GEAR, RATING, changed(SPARE, protocols=frozenset())),
    ("device-type", GEAR, with_position(RATING, dali_device_type=8), SPARE),
    ("emergency-supply", EMERGENCY_GEAR, EMERGENCY_RATING,
     changed(SPARE, emergency=replace(ABILITY, supply=EmergencySupply.CENTRAL))),
    ("emergency-duration", EMERGENCY_GEAR, EMERGENCY_RATING, changed(SPARE, emergency=replace(ABILITY, durations_min=(60,)))),
])
def test_the_quick_way_finds_plain_stops(rule: str, gear: Gear, rating: Rating, model: DriverModel) -> None:
    """One spoilt figure of a good example is a plain stop by its own rule."""
    found = quick_stops([need_of(gear, (rating,), LINE, None, pieces=1, tags=(), named=("A12", 1))], [model])
    answer = found.answers[found.at[0, 0]]
    assert answer is not None and answer.rule == rule


def test_the_good_example_goes_the_careful_way_and_fits_with_what_limits_it() -> None:
    """The quick way leaves the good pair open, and the whole fit answers with its gravest finding or none."""
    answered = answers_for([need()], [SPARE])
    assert (answered.quickly, answered.carefully) == (0, 1)
    assert answered.answers[0][0] == judge(need(), SPARE)


def test_both_ratings_count() -> None:
    """A model that fits by the rating that is named and not by the newest does not fit."""
    newest = with_module(replace(RATING, revision=2), current_max_ma=650, current_min_ma=600)
    both = need_of(GEAR, (RATING, newest), LINE, None, pieces=1, tags=(), named=("A12", 1))
    answer = answers_for([both], [SPARE]).answers[0][0]
    assert (answer.verdict, answer.rule) == (Verdict.DOES_NOT_FIT, "current-permitted")


@pytest.mark.parametrize(("changes", "same"), [
    ({"short_address": 9}, True), ({"groups": 3}, True), ({"fade_time": 4}, True), ({"min_level": 170}, False),
])
def test_what_makes_a_class(changes: dict[str, int], same: bool) -> None:
    """Addresses, groups and fades make no class of their own; what the fit looks at does."""
    assert (need(with_control(GEAR, **changes)).digest == need().digest) is same


def test_lines_alike_are_one() -> None:
    """Names, numbering and titles of lines make no class; their air does."""
    other = replace(LINE, name="L9", revision=4, addresses_from=1, title="East")
    assert alike_line(other) == alike_line(LINE)
    assert alike_line(replace(other, site_ta_c=45)) != alike_line(LINE)


def test_answers_are_remembered_by_content() -> None:
    """What was judged is not judged again until the class or the model changes."""
    held = answers_for([need()], [SPARE]).held
    again = answers_for([need(pieces=7)], [SPARE], known=held)
    assert (again.remembered, again.carefully) == (1, 0)
    newer = answers_for([need()], [changed(SPARE, revision=2)], known=held)
    assert (newer.remembered, newer.carefully) == (0, 1)


def gaps_of(*rows: tuple[Answer, ...], usable: dict[str, int], care: bool = False) -> tuple[list[int], list[int]]:
    """Numbers of the classes that are unsaved and uncovered, with models M0, M1, ..."""
    models = [changed(SPARE, model=f"M{number}") for number in range(len(rows[0]))]
    needs = [need(pieces=number + 1, named=f"T{number}").of for number in range(len(rows))]
    gaps = shelf_gaps(Coverage(needs=needs, models=models, answers=rows), OnShelf(free=usable), with_care=care)
    return [gap.need for gap in gaps.unsaved], [gap.need for gap in gaps.uncovered]


@pytest.mark.parametrize(("row", "usable", "care", "unsaved", "uncovered"), [
    ((FITS, STOP), {"M0": 1}, False, [], []), ((FITS, STOP), {"M1": 5}, False, [0], []),
    ((FITS, STOP), {"M0": 0}, False, [0], []),
    ((CARE, STOP), {"M0": 1}, False, [0], [0]), ((CARE, STOP), {"M0": 1}, True, [], []),
    ((UNKNOWN, STOP), {"M0": 1}, True, [0], [0]),
])
def test_what_lies_on_no_shelf_saves_nothing(row: tuple[Answer, ...], usable: dict[str, int], care: bool, unsaved: list[int],
                                             uncovered: list[int]) -> None:
    """A model saves a class where it covers it and lies on a shelf; unknown never covers, care only where it is let."""
    assert gaps_of(row, usable=usable, care=care) == (unsaved, uncovered)


@pytest.mark.parametrize(("row", "shelf", "expected"), [
    ((FITS, STOP), OnShelf(free={}, kept={"M0": 2}), [("M0", 2, 5)]),  # all kept for others
    ((FITS, STOP), OnShelf(free={}, kept={"M0": 2}, own={(0, "M0"): {"A": 1}}), [("M0", 2, 4)]),
    ((FITS, STOP), OnShelf(free={}, kept={"M0": 2}, own={(0, "M0"): {"A": 2, "B": 3}}), []),
    ((STOP, FITS), OnShelf(free={}, kept={"M0": 2}, own={(0, "M0"): {"A": 5}}), [("M0", 0, 5)]),  # kept, but it does not fit
    ((FITS, FITS), OnShelf(free={"M1": 1}, kept={"M0": 2}), []),
    ((FITS, FITS), OnShelf(free={}, kept={"M0": 1, "M1": 1}, own={(0, "M0"): {"A": 1}, (0, "M1"): {"A": 1}}), [("M0", 1, 4)]),
])
def test_a_spare_that_is_kept_saves_its_own_luminaire_alone(row: tuple[Answer, ...], shelf: OnShelf,
                                                            expected: list[tuple[str, int, int]]) -> None:
    """Of five drivers in the class: the nearest model, its pieces that are kept, and the drivers left without."""
    models = [changed(SPARE, model=f"M{number}") for number in range(len(row))]
    gaps = shelf_gaps(Coverage(needs=[need(pieces=5).of], models=models, answers=[row]), shelf)
    assert [(gap.model, gap.kept, gap.pieces) for gap in gaps.unsaved] == expected


def test_gaps_come_with_the_emergency_first_and_then_by_number() -> None:
    """Emergency duties stand before all; within a duty the class with most drivers."""
    vital = need_of(replace(GEAR, duty=Duty.EMERGENCY_CONVERTER), (RATING,), None, None, pieces=1, tags=(), named=("E", 1))
    needs = [need(pieces=3, named="T1").of, need(pieces=9, named="T2").of, vital.of]
    gaps = shelf_gaps(Coverage(needs=needs, models=[SPARE], answers=[(STOP,)] * 3), OnShelf(free={}))
    assert [gap.need for gap in gaps.unsaved] == [2, 1, 0]
    assert by_duty(gaps.unsaved) == {Duty.EMERGENCY_CONVERTER: 1, Duty.GENERAL: 12}


def test_a_class_is_named_in_trade_words() -> None:
    """Type, duty, current and control stand in the name."""
    bus = Line(name="B", revision=1, kind=LineKind.CENTRAL_BATTERY_BUS, addresses_from=0)
    of = need_of(GEAR, (RATING,), bus, CIRCUIT, pieces=1, tags=(), named=("A12", 1)).of
    assert class_words(of) == "A12 rev 1, general, 700 mA, DALI, central battery bus, central circuit"
