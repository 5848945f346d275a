"""Plans: what a spare cannot hold, and exactly how the rest is set."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from any_settings import LINES, gear_strategy, spare_strategy
from domain_examples import EMERGENCY_GEAR, EMERGENCY_SPARE, GEAR, LINE, SPARE, TAPE_GEAR, TWO_GEAR, with_control
from hypothesis import given
from hypothesis import strategies as st

from vault.domain.apply import plan_for
from vault.domain.cautions import CAUTIONS
from vault.domain.driver import DriverModel, Holds, Means, Way
from vault.domain.plan import Plan
from vault.domain.positions import rotary_digits, switch_states, switches_drawn
from vault.domain.schema import NOT_SET
from vault.domain.settings import Curve, EmergencyMode, Gear, Output
from vault.domain.site import Line

CURRENT = frozenset({Holds.CURRENT})
SWITCHES = Means(way=Way.SWITCHES, holds=CURRENT, weights=(1, 2, 4), on_is_down=True, mains_off=True,
                 positions=((0, 200), (3, 500), (5, 700), (7, 800)))
ROTARY = Means(way=Way.ROTARY, holds=CURRENT, positions=((0, 340), (5, 680), (8, 884)))
HEXADECIMAL = Means(way=Way.ROTARY, holds=CURRENT, hexadecimal=True, positions=((0, 340), (10, 700), (15, 884)))
RESISTOR = Means(way=Way.RESISTOR, holds=CURRENT, resistor_ma_ohm=5_000_000)
JUMPER = Means(way=Way.JUMPER, holds=CURRENT, positions=((1, 350), (2, 700)))
NFC = Means(way=Way.NFC, holds=frozenset({Holds.CURRENT, Holds.VOLTAGE}), distance_mm=10, write_ms=900, mains_off=True)
PLUG = Means(way=Way.PLUG, holds=CURRENT, positions=((3, 700),), marks="C-700")
# 200 + 500: switches 3 and 5 of six.
SHARED = Means(way=Way.SWITCHES, holds=CURRENT, weights=(200, 100, 500), switches=(3, 4, 5), bank_size=6, bank="S1")
BUS = Means(way=Way.BUS, holds=frozenset({Holds.ADDRESS, Holds.LEVELS, Holds.FADES, Holds.GROUPS_AND_SCENES,
                                          Holds.CURVE, Holds.EMERGENCY}))


def spare_with(*means: Means, **figures: object) -> DriverModel:
    """The spare with other means."""
    return replace(SPARE, means=means, **figures)  # type: ignore[arg-type]


def said(plan: Plan) -> str:
    """Every step, read out."""
    return "\n".join(f"{step.means}: {step.text}\n{step.detail}" for step in plan.steps)


@pytest.mark.parametrize(("means", "words"), [
    (SWITCHES, "1 ON  2 OFF  3 ON"),
    (SWITCHES, "ON is down on this driver"),
    (replace(SWITCHES, on_is_down=False), "ON is up on this driver"),
    (replace(SWITCHES, on_is_down=None), "the model does not say"),
    (replace(SWITCHES, weights=None), "Set the switches to position 5"),
    (SWITCHES, "With the supply off"),
    (ROTARY, "Turn the rotary switch to 5 (decimal marks)"),
    (HEXADECIMAL, "Turn the rotary switch to A (hexadecimal marks)"),
    (replace(ROTARY, positions=((12, 700), (40, 800))), "Turn the rotary switches to 1 2"),
    (JUMPER, "Put the jumper at position 2"),
    (RESISTOR, "Fit a resistor of 7.15 kΩ (E96)"),
    (RESISTOR, "gives 699.3 mA"),
    (NFC, "within 10 mm"), (NFC, "0.9 s"), (NFC, "With the supply off"), (NFC, "current: 700 mA"),
    (replace(NFC, mains_off=None), "Look up whether the supply must be off"),
    (NFC, "power limit: 32.0 W"), (NFC, "cut short is unfinished"),
    (BUS, "address 5 (numbered from 0)"), (BUS, "none may"), (BUS, "Never let it address the whole line anew"),
])
def test_steps(means: Means, words: str) -> None:
    """700 mA and the rest, by each means; 5 is 1 + 4 by weight."""
    assert words in said(plan_for(GEAR, spare_with(means), line=LINE))


@pytest.mark.parametrize(("spare", "gear", "words"), [
    (spare_with(ROTARY), GEAR, "Current: 700 mA. The nearest that this spare gives is 680 mA, 20 mA (2.9 %) below."),
    (spare_with(replace(SWITCHES, positions=((1, 720),))), GEAR, "720 mA, 20 mA (2.9 %) above."),
    (spare_with(NFC, current_step_ma=160), GEAR, "The nearest that this spare gives is 740 mA"),
    (spare_with(NFC, current_step_ma=None), GEAR, "It cannot be told how this spare is set to it."),
    (spare_with(replace(RESISTOR, resistor_ma_ohm=None)), GEAR, "It cannot be told"),
    (spare_with(), GEAR, "It cannot be told"),
    (spare_with(NFC, protocols=frozenset()), GEAR, "Control by dali; the spare is not made for it."),
    (spare_with(NFC), GEAR, "Short address: address 5 (numbered from 0). No setting means of this spare takes it."),
    (spare_with(NFC), with_control(GEAR, curve=Curve.LINEAR), "Dimming curve: linear. No setting means"),
    (spare_with(NFC, output=Output.CONSTANT_VOLTAGE), GEAR, "the spare gives constant-voltage"),
    (spare_with(NFC), TWO_GEAR, "2 output channels; the spare has 1."),
    (spare_with(NFC), TAPE_GEAR, "Output: constant-voltage"),
    (spare_with(BUS, constant_voltage_mv=12_000, output=Output.CONSTANT_VOLTAGE), TAPE_GEAR, "the spare gives 12.0 V"),
    (spare_with(SWITCHES, BUS), GEAR, "its own limits apply"),
    (replace(EMERGENCY_SPARE, means=(NFC, BUS), emergency=replace(
        EMERGENCY_SPARE.emergency, modes=frozenset({EmergencyMode.NON_MAINTAINED}))),  # type: ignore[type-var]
     EMERGENCY_GEAR, "mode: maintained. The spare does not offer it."),
    (replace(EMERGENCY_SPARE, means=(NFC, BUS), emergency=replace(
        EMERGENCY_SPARE.emergency, durations_min=(60,))),  # type: ignore[type-var]
     EMERGENCY_GEAR, "duration: 180 min. The spare does not offer it."),
])
def test_what_it_cannot_hold_is_said(spare: DriverModel, gear: Gear, words: str) -> None:
    """What the spare cannot be set to stands before the steps, with the figures."""
    assert words in "\n".join(plan_for(gear, spare, line=LINE).cannot_hold)


@pytest.mark.parametrize(("spare", "gear"), [
    (spare_with(NFC, BUS), GEAR), (spare_with(NFC, BUS), with_control(GEAR, curve=Curve.LOGARITHMIC)),
    (spare_with(NFC, RESISTOR, BUS), GEAR), (replace(EMERGENCY_SPARE, means=(NFC, BUS)), EMERGENCY_GEAR),
])
def test_a_good_spare_holds_everything(spare: DriverModel, gear: Gear) -> None:
    """Nothing is complained of where the means take every setting."""
    assert plan_for(gear, spare, line=LINE).cannot_hold == ()


@pytest.mark.parametrize(("line", "words"), [
    (LINE, "address 5 (numbered from 0)"),
    (replace(LINE, addresses_from=1), "address 6 (numbered from 1; 5 on the bus)"),
    (None, "address 5 (numbered from 0, as on the bus)"),
])
def test_an_address_says_its_numbering(line: Line | None, words: str) -> None:
    """An address is shown as the site writes it."""
    assert words in said(plan_for(GEAR, spare_with(BUS), line=line))


@pytest.mark.parametrize(("means", "address", "words"), [
    (Means(way=Way.SWITCHES, holds=frozenset({Holds.ADDRESS}), weights=(1, 2, 4, 8, 16, 32), on_is_down=False), 37,
     "1 ON  2 OFF  3 ON  4 OFF  5 OFF  6 ON"),
    (Means(way=Way.ROTARY, holds=frozenset({Holds.ADDRESS})), 37, "turn the rotary switches to 3 7"),
    (Means(way=Way.ROTARY, holds=frozenset({Holds.ADDRESS}), hexadecimal=True), 37, "turn the rotary switches to 2 5"),
])
def test_an_address_by_hand(means: Means, address: int, words: str) -> None:
    """37 = 1 + 4 + 32 = 3 tens and 7 = 2 sixteens and 5 (arithmetic)."""
    assert words in said(plan_for(with_control(GEAR, short_address=address), spare_with(means, BUS), line=LINE))


def test_a_sheet_says_when_it_is_not_the_recorded_current() -> None:
    """A sheet with another current than the recorded one says so in its own line (arithmetic: 40 of 700 is 5.7 %)."""
    plan = plan_for(GEAR, spare_with(NFC, current_step_ma=160), line=LINE)
    assert "current: 740 mA, 40 mA (5.7 %) above the recorded 700 mA" in said(plan)


def test_left_as_it_is() -> None:
    """What is not set is left as the driver has it, and no frame touches it."""
    plan = plan_for(with_control(GEAR, power_on_level=NOT_SET), spare_with(BUS), line=LINE)
    assert "Leave as the driver has it:\npower-on level" in said(plan)
    assert "0B 2D" not in [frame.bytes_hex for frame in plan.frames]


def test_frames_hold_what_the_bus_holds() -> None:
    """Only what the bus takes is sent: with the levels alone no group is touched."""
    plan = plan_for(GEAR, spare_with(replace(BUS, holds=frozenset({Holds.LEVELS}))), line=LINE)
    codes = [frame.bytes_hex for frame in plan.frames]
    assert "0B 2D" in codes
    assert "0B 60" not in codes


def test_no_short_address_no_frames() -> None:
    """Without a short address the tool has to be used at the gear, and that is said."""
    plan = plan_for(with_control(GEAR, short_address=None), spare_with(BUS), line=LINE)
    assert plan.frames == ()
    assert "no short address" in said(plan)


def test_alone_on_the_bench() -> None:
    """Only when said to be alone is the address broadcast (SET SHORT ADDRESS, python-dali 0.16: FF 80)."""
    assert [frame.bytes_hex for frame in plan_for(GEAR, spare_with(BUS), line=LINE, alone=True).frames][:2] == [
        "A3 0B", "FF 80"]


def test_emergency_mode_without_means() -> None:
    """A mode and duration that the spare offers, but no means takes, are set as its instructions say."""
    plan = plan_for(EMERGENCY_GEAR, replace(EMERGENCY_SPARE, means=(NFC, BUS)), line=LINE)
    assert "Set as the driver's instructions say: emergency mode: maintained" in said(plan)


def test_different_currents_by_one_switch() -> None:
    """Two currents need two switches, which the model does not promise."""
    first, second = TWO_GEAR.settings.channels
    gear = replace(TWO_GEAR, settings=replace(TWO_GEAR.settings, channels=(
        replace(first, current_ma=500), replace(second, current_ma=700))))
    plan = plan_for(gear, spare_with(SWITCHES, channels=2), line=LINE)
    assert "Different currents on its channels" in "\n".join(plan.cannot_hold)


@given(gear_strategy(), spare_strategy(), LINES, st.booleans())
def test_every_plan_begins_with_cautions(gear: Gear, spare: DriverModel, line: Line | None, alone: bool) -> None:
    """Whatever gear and spare: cautions first, steps numbered from 1, readback and test last."""
    plan = plan_for(gear, spare, line=line, alone=alone)
    assert plan.cautions[0] == CAUTIONS[0].text
    assert [step.number for step in plan.steps] == list(range(1, len(plan.steps) + 1))
    assert [step.means for step in plan.steps[-2:]] == ["readback", "test"]


@pytest.mark.parametrize("gear", [GEAR, EMERGENCY_GEAR, TAPE_GEAR, TWO_GEAR])
@pytest.mark.parametrize("way", list(Way))
def test_each_means_begins_with_cautions(way: Way, gear: Gear) -> None:
    """By whatever means: persons, local rules and the dead circuit come first, before the first step."""
    means = Means(way=way, holds=frozenset(Holds), positions=((1, 350), (2, 700)), weights=None, resistor_ma_ohm=5_000_000)
    plan = plan_for(gear, spare_with(means), line=None)
    assert [caution.text for caution in CAUTIONS[:2]] == list(plan.cautions[:2])
    assert plan.steps[0].number == 1


@given(st.lists(st.integers(1, 64), min_size=1, max_size=8), st.data())
def test_drawn_switches_add_up(weights: list[int], data: st.DataObject) -> None:
    """The weights of the switches drawn ON add up to the position."""
    position = sum(data.draw(st.lists(st.sampled_from(weights), unique=True)))
    states = switch_states(position, weights)
    assert states is not None
    drawn = re.findall(r"(\d+) ON", switches_drawn(states))
    assert sum(weights[int(number) - 1] for number in drawn) == position


@pytest.mark.parametrize(("position", "weights"), [(8, (1, 2, 4)), (3, (2, 4)), (1, ())])
def test_positions_that_do_not_exist(position: int, weights: tuple[int, ...]) -> None:
    """A sum that no switches give is not drawn."""
    assert switch_states(position, weights) is None


@given(st.integers(0, 63))
def test_six_switches_count_to_63(position: int) -> None:
    """Weights 1 2 4 8 16 32 are the binary digits (arithmetic)."""
    assert switch_states(position, (1, 2, 4, 8, 16, 32)) == tuple(d == "1" for d in reversed(f"{position:06b}"))


@pytest.mark.parametrize(("position", "hexadecimal", "dials", "digits"), [
    (7, False, 1, ("7",)), (37, False, 2, ("3", "7")), (7, False, 2, ("0", "7")), (15, True, 1, ("F",)),
    (255, True, 2, ("F", "F")), (10, False, 1, None), (256, True, 2, None),
])
def test_rotary_digits(position: int, hexadecimal: bool, dials: int, digits: tuple[str, ...] | None) -> None:
    """Two decimal dials show 10 t + u (arithmetic)."""
    assert rotary_digits(position, hexadecimal=hexadecimal, dials=dials) == digits
