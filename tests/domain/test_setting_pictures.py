"""What a plan draws: the same positions as its steps say."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from any_settings import LINES, gear_strategy, spare_strategy
from domain_examples import EMERGENCY_GEAR, EMERGENCY_SPARE, GEAR, LINE, SPARE, TWO_GEAR, with_control, with_emergency
from hypothesis import given, settings
from hypothesis import strategies as st

from vault.domain.apply import plan_for
from vault.domain.driver import DriverModel, Holds, Means, Way
from vault.domain.pictures import Dials, Figures, Picture, Places, Resistor, Switches
from vault.domain.settings import EmergencySupply, Gear
from vault.domain.site import Line

CURRENT = frozenset({Holds.CURRENT})
BANK = Means(way=Way.SWITCHES, holds=CURRENT, weights=(400, 200, 100), switches=(5, 3, 4), bank_size=6, on_is_down=True)
DC = Means(way=Way.SWITCHES, holds=frozenset({Holds.DC_LEVEL}), sets="dc_level_permille", weights=(1, 2), switches=(1, 2),
           positions=((0, 150), (2, 300)), bank_size=6, on_is_down=True)
RESISTOR = Means(way=Way.RESISTOR, holds=CURRENT, resistor_ma_ohm=5_000_000)
ADDRESS = frozenset({Holds.ADDRESS})
DURATION = Means(way=Way.JUMPER, holds=frozenset({Holds.EMERGENCY}), sets="rated_duration_min", bank="J2",
                 positions=((1, 60), (2, 180)), marks="1h 3h")
CENTRAL = with_emergency(EMERGENCY_GEAR, supply=EmergencySupply.CENTRAL, dc_level_permille=300)


def spare_with(*means: Means, **figures: Any) -> DriverModel:
    """The spare with other means."""
    return replace(SPARE, means=means, **figures)


@pytest.mark.parametrize(("means", "gear", "picture"), [
    (BANK, GEAR, Switches(caption="Switches: current", numbers=(3, 4, 5), on=(True, True, True), on_is_down=True,
                          off_limits=(1, 2, 6), gives="700 mA")),
    (replace(BANK, weights=(700, 8, 9), bank="S2", switches=None, on_is_down=None), GEAR,
     Switches(caption="Switches S2: current", numbers=(1, 2, 3), on=(True, False, False), on_is_down=None,
              off_limits=(4, 5, 6), gives="700 mA")),
    (Means(way=Way.ROTARY, holds=CURRENT, positions=((9, 350), (10, 700)), hexadecimal=True, bank="RS1"), GEAR,
     Dials(caption="Rotary switch RS1: current", digits=("A",), marks=tuple("0123456789ABCDEF"), gives="700 mA")),
    (Means(way=Way.ROTARY, holds=CURRENT, positions=((0, 350), (1, 700)), marks="P Q R"), GEAR,
     Dials(caption="Rotary switch: current", digits=("Q",), marks=("P", "Q", "R"), gives="700 mA")),
    (Means(way=Way.ROTARY, holds=ADDRESS), with_control(GEAR, short_address=37),
     Dials(caption="Rotary switch: short address", digits=("3", "7"), marks=tuple("0123456789"),
           gives="address 37 (numbered from 0)")),
    (Means(way=Way.JUMPER, holds=CURRENT, positions=((1, 350), (2, 700))), GEAR,
     Places(caption="Jumper: current", marks=("1", "2"), chosen="2", plug=False, gives="700 mA")),
    (Means(way=Way.PLUG, holds=CURRENT, positions=((1, 350), (2, 700)), marks="X Y"), GEAR,
     Places(caption="Coded plug: current", marks=("X", "Y"), chosen="Y", plug=True, gives="700 mA")),
    (RESISTOR, GEAR, Resistor(caption="Set resistor: current", ohms_words="7.15 kΩ",
                              bands=("violet", "brown", "green", "brown", "brown"), gives="699.3 mA")),
    (DURATION, EMERGENCY_GEAR, Places(caption="Jumper J2: rated duration", marks=("1h", "3h"), chosen="3h", plug=False,
                                      gives="180 min")),
    (Means(way=Way.NFC, holds=CURRENT), GEAR,
     Figures(caption="Parameter sheet for the NFC tool", rows=(("current", "700 mA"),))),
    (Means(way=Way.BUS, holds=CURRENT), GEAR,
     Figures(caption="With the maker's tool over the bus", rows=(("current", "700 mA"),))),
    (Means(way=Way.BUS, holds=ADDRESS), GEAR,
     Figures(caption="Over the bus", rows=(("short address", "address 5 (numbered from 0)"),))),
    (Means(way=Way.SWITCHES, holds=CURRENT, positions=((5, 700),)), GEAR,
     Figures(caption="Switches: current", rows=(("position", "5, as the driver's own table draws it"), ("current", "700 mA")))),
])
def test_one_picture_for_each_means(means: Means, gear: Gear, picture: Picture) -> None:
    """700 mA and the rest: 400 + 200 + 100, place A, 3 tens and 7, 5 V / 7.15 kilohm (arithmetic; IEC 60062 colours)."""
    assert plan_for(gear, spare_with(means), line=LINE).pictures == (picture,)


def test_one_bank_is_drawn_once() -> None:
    """Two means that share a bank stand in one picture, each switch as its own means wants it."""
    spare = replace(EMERGENCY_SPARE, means=(BANK, DC))
    assert plan_for(CENTRAL, spare, line=LINE).pictures == (Switches(
        caption="Switches: current and d.c. level", numbers=(1, 2, 3, 4, 5), on=(False, True, True, True, True),
        on_is_down=True, off_limits=(6,), gives="current 700 mA, d.c. level 30 %"),)


def test_switches_and_bus_together() -> None:
    """The current by switches, the rest over the bus: a picture, then a sheet."""
    bus = Means(way=Way.BUS, holds=frozenset({Holds.ADDRESS, Holds.LEVELS}))
    pictures = plan_for(GEAR, spare_with(bus, BANK), line=LINE).pictures
    assert [type(picture) for picture in pictures] == [Switches, Figures]


@pytest.mark.parametrize(("second_ma", "whats"), [
    (350, ["Switches A: current of every channel"]),
    (700, ["Switches A: channel 1 current", "Switches B: channel 2 current"]),
])
def test_a_bank_for_each_channel(second_ma: int, whats: list[str]) -> None:
    """One bank for all channels is drawn once, a bank for each channel by itself."""
    whole = replace(BANK, bank="A", weights=(350, 1, 2))
    own = (replace(whole, channel=1), replace(whole, bank="B", weights=(700, 1, 2), channel=2))
    first, second = TWO_GEAR.settings.channels
    gear = replace(TWO_GEAR, settings=replace(TWO_GEAR.settings, channels=(first, replace(second, current_ma=second_ma))))
    plan = plan_for(gear, spare_with(*((whole,) if second_ma == 350 else own), channels=2), line=LINE)
    assert [picture.caption for picture in plan.pictures] == whats


@pytest.mark.parametrize(("sets", "rows", "said"), [
    ("rated_duration_min", ((1, 60), (2, 120)), "Rated duration: 180 min. The jumper J2 gives 60 min or 120 min."),
    ("mode", ((0, 0),), "Emergency mode: maintained. The jumper J2 gives non-maintained."),
])
def test_what_a_jumper_does_not_give(sets: str, rows: tuple[tuple[int, int], ...], said: str) -> None:
    """A value that is not among the positions is said before the steps, with what there is, and not drawn."""
    spare = replace(EMERGENCY_SPARE, means=(replace(DURATION, sets=sets, positions=rows, marks=None),))
    plan = plan_for(EMERGENCY_GEAR, spare, line=LINE)
    assert said in plan.cannot_hold
    assert plan.pictures == ()


@settings(max_examples=30, deadline=None)
@given(gear_strategy(), spare_strategy(), LINES)
def test_pictures_are_whole(gear: Gear, spare: DriverModel, line: Line | None) -> None:
    """Whatever gear and spare: a state for each switch, each digit and place among the marks, no empty sheet."""
    pictures = plan_for(gear, spare, line=line).pictures
    assert all(len(one.numbers) == len(one.on) and not set(one.numbers) & set(one.off_limits)
               for one in pictures if isinstance(one, Switches))
    assert all(set(one.digits) <= set(one.marks) for one in pictures if isinstance(one, Dials))
    assert all(one.chosen in one.marks for one in pictures if isinstance(one, Places))
    assert all(one.rows for one in pictures if isinstance(one, Figures))


@given(st.lists(st.integers(1, 400), min_size=1, max_size=6), st.booleans(), st.integers(1, 2400), st.permutations(range(1, 7)))
def test_drawn_states_add_up(weights: list[int], off_counts: bool, wanted: int, numbers: list[int]) -> None:
    """For any weights and printed numbers, the states drawn add up to the current that the picture says."""
    means = replace(BANK, weights=tuple(weights), switches=tuple(numbers[:len(weights)]), off_counts=off_counts)
    channel = replace(GEAR.settings.channels[0], current_ma=wanted)
    gear = replace(GEAR, settings=replace(GEAR.settings, channels=(channel,)))
    (picture,) = plan_for(gear, spare_with(means), line=None).pictures
    assert isinstance(picture, Switches)
    weight = dict(zip(means.numbers, weights, strict=True))
    total = sum(weight[number] for number, is_on in zip(picture.numbers, picture.on, strict=True) if is_on is not off_counts)
    assert picture.gives == f"{total} mA"
