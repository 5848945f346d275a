"""Setting means of a driver model: rules of its description, and which way is chosen to a current."""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction
from itertools import product
from typing import Any

import pytest
from domain_examples import GEAR, POSITION, RATING, SPARE, TAPE_GEAR, TAPE_RATING, TWO_GEAR, with_channel, with_module
from hypothesis import given
from hypothesis import strategies as st

from vault.domain.apply import plan_for
from vault.domain.apply_current import nearest_way, settable_mv
from vault.domain.driver import DriverModel, Holds, Means, ResistorSeries, Way
from vault.domain.findings import Severity
from vault.domain.fit import fit_spare
from vault.domain.schema import check, plain
from vault.domain.settings import Gear, Output
from vault.domain.units import ma
from vault.exchange.plain import read_plain

CURRENT, EMERGENCY = frozenset({Holds.CURRENT}), frozenset({Holds.EMERGENCY})
BANK = Means(way=Way.SWITCHES, holds=CURRENT, weights=(400, 200, 100, 50), switches=(3, 4, 5, 6), bank_size=8, bank="S1")
DC = Means(way=Way.SWITCHES, holds=frozenset({Holds.DC_LEVEL}), sets="dc_level_permille", weights=(1, 2), switches=(1, 2),
           positions=((0, 150), (1, 300), (3, 1000)), bank_size=8, bank="S1")
DIAL = Means(way=Way.ROTARY, holds=CURRENT, positions=((0, 200), (12, 700)), hexadecimal=True)
PLUGS = Means(way=Way.PLUG, holds=CURRENT, positions=((1, 350), (2, 500)), marks="A B")
DURATION = Means(way=Way.JUMPER, holds=EMERGENCY, sets="rated_duration_min", positions=((1, 60), (2, 180)), bank="J2")


def spare_with(*means: Means, **figures: Any) -> DriverModel:
    """The spare with other means."""
    return replace(SPARE, means=means, **figures)


@pytest.mark.parametrize("means", [BANK, DC, DIAL, PLUGS, DURATION, replace(DURATION, sets="mode", positions=((0, 0), (1, 1))),
                                   replace(PLUGS, marks="0 A B"), replace(DIAL, weights=(16, 1), positions=((31, 350),))])
def test_a_sound_description_has_no_problem(means: Means) -> None:
    """What a maker may print is taken, by files too."""
    model = spare_with(means)
    assert list(check(model)) == []
    assert read_plain(DriverModel, json.loads(json.dumps(plain(model)))) == (model, [])


@pytest.mark.parametrize(("means", "field", "found"), [
    (replace(BANK, switches=(3, 4)), "switches", "2 numbers"),
    (replace(BANK, switches=(3, 4, 5, 5)), "switches", "5 twice"),
    (replace(BANK, switches=(3, 4, 5, 9)), "switches", "9"),
    (replace(BANK, switches=(0, 1, 2, 3), bank_size=None), "switches", "0"),
    (replace(BANK, switches=None, bank_size=3), "switches", "4"),
    (replace(BANK, weights=(0, 1, 2, 4)), "weights", "0"),
    (replace(BANK, positions=((25, 350),)), "positions", "position 25"),
    (replace(BANK, positions=((50, 350), (50, 700))), "positions", "position 50 twice"),
    (replace(DIAL, weights=(10, 1), positions=((5, 350),)), "weights", "10 1"),
    (replace(DIAL, hexadecimal=False, weights=(1,)), "positions", "position 12"),
    (replace(PLUGS, marks="A"), "marks", "1 marks"),
    (replace(PLUGS, marks="A A"), "marks", "a mark twice"),
    (replace(DURATION, sets="duration"), "sets", "'duration'"),
    (replace(DURATION, sets="scenes"), "sets", "'scenes'"),
    (replace(DURATION, sets="voltage_mv"), "sets", "'voltage_mv'"),
    (replace(DURATION, positions=None), "sets", "'rated_duration_min'"),
    (Means(way=Way.RESISTOR, holds=CURRENT, resistor_min_ohm=2, resistor_max_ohm=1), "resistor_min_ohm", "2 Ω"),
])
def test_a_wrong_description_is_named(means: Means, field: str, found: str) -> None:
    """Each rule of vault/FORMAT.md on setting means names its field and what was found."""
    assert (f"means.1.{field}", found) in [(problem.path, problem.found) for problem in check(spare_with(means))]


@pytest.mark.parametrize(("first", "second", "path"), [
    (BANK, replace(DC, switches=(2, 3)), "means.2.switches"),
    (replace(BANK, switches=None, bank=None), replace(DC, bank=None), "means.2.switches"),
    (DURATION, replace(DURATION, sets="mode", positions=((0, 0),)), "means.2.bank"),
    (DIAL, DIAL, "means.2.bank"),
    (DIAL, replace(DIAL, bank="RS2", channel=2), "means.2.channel"),
])
def test_two_means_that_cannot_be_told_apart(first: Means, second: Means, path: str) -> None:
    """No switch serves two means, no name stands at two dials, and no channel is set that is not there."""
    assert path in [problem.path for problem in check(spare_with(first, second))]


@pytest.mark.parametrize("pair", [(BANK, DC), (BANK, replace(BANK, bank="S2", channel=1)), (DIAL, replace(DIAL, bank="RS2"))])
def test_means_beside_each_other(pair: tuple[Means, Means]) -> None:
    """One bank shared out, two banks, and two dials with names are told apart."""
    assert list(check(spare_with(*pair))) == []


@pytest.mark.parametrize(("means", "position", "states"), [
    (BANK, 350, (False, True, True, True)),  # 200 + 100 + 50
    (BANK, 0, (False,) * 4), (BANK, 750, (True,) * 4), (BANK, 25, None),
    (replace(BANK, off_counts=True), 350, (True, False, False, False)),
    (replace(BANK, weights=(1, 1, 1, 3), switches=None), 3, (False, False, False, True)),
])
def test_states(means: Means, position: int, states: tuple[bool, ...] | None) -> None:
    """The switches that count add up to the position, as few as can be (arithmetic)."""
    assert means.states(position) == states


WEIGHTS = st.lists(st.integers(1, 500), min_size=1, max_size=6).map(tuple)


@given(WEIGHTS, st.booleans(), st.data())
def test_states_add_up(weights: tuple[int, ...], off_counts: bool, data: st.DataObject) -> None:
    """For any weights, the switches that count add up to every position that some switches form."""
    wanted = sum(data.draw(st.sets(st.integers(0, len(weights) - 1)).map(lambda held: [weights[n] for n in held])))
    states = replace(BANK, weights=weights, switches=None, off_counts=off_counts).states(wanted)
    assert states is not None
    assert sum(w for w, is_on in zip(weights, states, strict=True) if is_on is not off_counts) == wanted


@given(WEIGHTS, st.integers(1, 3500))
def test_switches_without_a_table_are_milliamperes(weights: tuple[int, ...], wanted: int) -> None:
    """The nearest of all sums is chosen, the lower of two as near (brute force over every switch as oracle)."""
    way = nearest_way(spare_with(replace(BANK, weights=weights, switches=None, bank_size=None)), wanted)
    sums = {sum(w for w, is_on in zip(weights, on, strict=True) if is_on) for on in product((0, 1), repeat=len(weights))}
    assert way is not None
    assert way.gives_ma == min(sums - {0}, key=lambda total: (abs(total - wanted), total))


ROWS = st.lists(st.tuples(st.integers(0, 15), st.integers(1, 2000)), min_size=1, max_size=8, unique_by=lambda r: r[0]).map(tuple)


@given(st.lists(st.sampled_from([Way.JUMPER, Way.PLUG, Way.SWITCHES, Way.ROTARY]), min_size=1, max_size=4), st.data())
def test_the_nearest_of_all_ways(ways: list[Way], data: st.DataObject) -> None:
    """Over all means, no row is nearer than the one chosen (every row as oracle)."""
    means = [Means(way=way, holds=CURRENT, positions=data.draw(ROWS), hexadecimal=True) for way in ways]
    wanted = data.draw(st.integers(1, 2000))
    way = nearest_way(spare_with(*means), wanted)
    assert way is not None
    rows = [given for one in means for _, given in one.positions or ()]
    assert (abs(way.gives_ma - wanted), way.gives_ma) == min((abs(given - wanted), given) for given in rows)


@pytest.mark.parametrize(("channel", "gives"), [(1, 350), (2, 700), (None, 350)])
def test_each_channel_by_its_own_dial(channel: int | None, gives: int) -> None:
    """A means of another channel is not looked at."""
    first, second = replace(DIAL, positions=((1, 350),), channel=1), replace(DIAL, positions=((1, 700),), channel=2)
    way = nearest_way(spare_with(first, second, channels=2), 400, channel)
    assert way is not None
    assert way.gives_ma == gives


def two_currents(first_ma: int, second_ma: int) -> Gear:
    """Two channels with these currents."""
    first, second = TWO_GEAR.settings.channels
    channels = (replace(first, current_ma=first_ma), replace(second, current_ma=second_ma))
    return replace(TWO_GEAR, settings=replace(TWO_GEAR.settings, channels=channels))


@pytest.mark.parametrize(("means", "refused"), [
    ((BANK,), True),
    ((replace(BANK, channel=1), replace(BANK, channel=2, bank="S2")), False),
])
def test_different_currents_need_their_own_banks(means: tuple[Means, ...], refused: bool) -> None:
    """Two currents by one bank are refused; by a bank for each channel they are not."""
    plan = plan_for(two_currents(350, 700), spare_with(*means, channels=2), line=None)
    assert ("Different currents on its channels" in "\n".join(plan.cannot_hold)) is refused


RESISTOR = Means(way=Way.RESISTOR, holds=CURRENT, resistor_ma_ohm=5_000_000)


@pytest.mark.parametrize(("means", "wanted", "refused"), [
    (RESISTOR, 700, ""), (RESISTOR, 900, ""), (RESISTOR, 901, "901 mA needs 5.55 kΩ"), (RESISTOR, 99, "99 mA needs 50.5 kΩ"),
    (replace(RESISTOR, resistor_min_ohm=10_000), 700, "700 mA needs 7.14 kΩ"),
    (replace(RESISTOR, resistor_max_ohm=6_200), 700, "this driver takes 5.56 kΩ to 6.2 kΩ"),
])
def test_a_resistor_outside_is_refused(means: Means, wanted: int, refused: str) -> None:
    """100 to 900 mA by 5 V / R: 50 to 5.556 kilohm (arithmetic); beyond that no resistor is named."""
    way = nearest_way(spare_with(means), wanted)
    assert way is not None
    assert way.refused.startswith(refused) or refused in way.refused
    assert (way.text == "") is bool(refused)
    assert ("No resistor" in "\n".join(plan_for(with_channel(GEAR, current_ma=wanted), spare_with(means),
                                                line=None).cannot_hold)) is bool(refused)


@given(st.sampled_from(list(ResistorSeries)), st.integers(100, 900))
def test_a_resistor_within_stays_within(series: ResistorSeries, wanted: int) -> None:
    """Whatever is fitted gives a current of the driver, and never one that its range does not hold."""
    way = nearest_way(spare_with(replace(RESISTOR, resistor_series=series)), wanted)
    assert way is not None
    assert 100 <= way.gives_ma <= 900
    assert way.resistor is not None
    assert way.resistor.series == series.name


@pytest.mark.parametrize(("means", "severity"), [
    (replace(BANK, weights=(700, 1, 2, 4)), None), (replace(BANK, weights=(720, 1, 2, 4)), Severity.CARE),
    (replace(BANK, weights=(740, 1, 2, 4)), Severity.STOP),
    (replace(RESISTOR, resistor_series=ResistorSeries.E24), Severity.CARE),
])
def test_the_fit_judges_what_the_plan_sets(means: Means, severity: Severity | None) -> None:
    """700 mA: 720 is 2.9 %, 740 is 5.7 %, 7.5 kilohm gives 666.7 mA, 4.8 % below (arithmetic; 2 and 5 % common practice)."""
    spare = spare_with(means)
    found = [one for one in fit_spare(GEAR, RATING, spare).findings if one.rule == "current-match"]
    assert [one.severity for one in found] == ([severity] if severity is not None else [])
    way = nearest_way(spare, 700)
    assert way is not None
    assert ma(way.gives_ma) in "".join(one.detail for one in plan_for(GEAR, spare, line=None).steps)


@pytest.mark.parametrize(("permille", "stops"), [(10, False), (100, True)])
def test_a_resistor_adds_its_own_tolerance(permille: int, stops: bool) -> None:
    """500 mA, 5 % driver: with a 1 % resistor 530.3 mA at most, with 10 % 583.3 mA; the module bears 550 (arithmetic)."""
    rating = with_module(replace(RATING, gears=(replace(POSITION, original=None),)), module_max_ma=550, current_max_ma=500)
    spare = spare_with(replace(RESISTOR, resistor_tolerance_permille=permille))
    found = fit_spare(with_channel(GEAR, current_ma=500), rating, spare).findings
    assert (("current-tolerance", Severity.STOP) in {(one.rule, one.severity) for one in found}) is stops


VOLTS = Means(way=Way.SWITCHES, holds=frozenset({Holds.VOLTAGE}), sets="voltage_mv", weights=(1,),
              positions=((0, 12_000), (1, 24_000)))


@pytest.mark.parametrize(("wanted", "given"), [(24_000, 24_000), (12_000, 12_000), (15_000, 12_000), (None, None)])
def test_a_voltage_by_switches(wanted: int | None, given: int | None) -> None:
    """The nearest voltage of the table counts, the lower of two as near."""
    assert settable_mv(spare_with(VOLTS, output=Output.CONSTANT_VOLTAGE), wanted) == given


def test_a_voltage_by_switches_is_planned() -> None:
    """24 V by the switch; the fit takes the same."""
    spare = spare_with(VOLTS, output=Output.CONSTANT_VOLTAGE, constant_voltage_mv=12_000)
    plan = plan_for(TAPE_GEAR, spare, line=None)
    assert "set the switches: 1 ON" in "\n".join(step.text for step in plan.steps)
    assert "constant-voltage" not in {one.rule for one in fit_spare(TAPE_GEAR, TAPE_RATING, spare).findings}


def test_a_gear_by_its_own_figures() -> None:
    """A way of a resistor is exact: 5 000 000 / 7150 mA."""
    way = nearest_way(spare_with(RESISTOR), 700)
    assert way is not None
    assert way.gives_ma == Fraction(5_000_000, 7150)
