"""A small catalogue of two types, two lines and a circuit, and a way to write a schedule."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

import pytest

from vault.domain.rating import EmergencyLimits, GearRating, Module, Rating
from vault.domain.settings import Duty, EmergencyMode, EmergencySupply, Output, Protocol
from vault.domain.site import Circuit, Line, LineKind
from vault.exchange.schedule import Schedule, read_schedule
from vault.exchange.schedule_translation import as_ours
from vault.exchange.tables import read_tables

MODULE = Module(current_min_ma=300, current_max_ma=350, module_max_ma=400, voltage_low_mv=36000, voltage_high_mv=40000,
                power_max_mw=14000)
PLAIN_GEAR = GearRating(duty=Duty.GENERAL, output=Output.CONSTANT_CURRENT, modules=(MODULE,),
                        protocols=frozenset({Protocol.DALI}))
CONVERTER = GearRating(
    duty=Duty.EMERGENCY_CONVERTER, output=Output.CONSTANT_CURRENT, modules=(MODULE,),
    protocols=frozenset({Protocol.DALI}),
    emergency=EmergencyLimits(modes=frozenset({EmergencyMode.NON_MAINTAINED}), supply=EmergencySupply.SELF_CONTAINED,
                              duration_min=180))
COVE = GearRating(
    duty=Duty.GENERAL, output=Output.CONSTANT_VOLTAGE, protocols=frozenset({Protocol.SWITCH}),
    modules=(Module(nominal_voltage_mv=24000, power_max_mw=44000),))
TUNABLE = GearRating(duty=Duty.GENERAL, output=Output.CONSTANT_CURRENT, modules=(MODULE, MODULE), colours=(1, 2),
                     protocols=frozenset({Protocol.DALI}))

RATINGS = {
    rating.code: rating
    for rating in (
        Rating(code="P1", revision=1, title="Plain", gears=(PLAIN_GEAR,)),
        Rating(code="P2", revision=1, title="With converter", gears=(PLAIN_GEAR, CONVERTER)),
        Rating(code="P3", revision=1, title="Cove", gears=(COVE,)),
        Rating(code="P4", revision=1, title="Tunable", gears=(TUNABLE,)),
    )
}
LINES = {
    "D1": Line(name="D1", revision=1, kind=LineKind.DALI, addresses_from=0),
    "D2": Line(name="D2", revision=1, kind=LineKind.DALI, addresses_from=1),
}
CIRCUITS = {"L1": Circuit(name="L1", revision=1)}

Read = Callable[..., Schedule]


@pytest.fixture
def read(tmp_path: Path) -> Read:
    """Write a text or bytes as a schedule and read it under the small catalogue."""

    def read_text(text: str | bytes, mapping: Mapping[str, str] | None = None) -> Schedule:
        path = tmp_path / "schedule.csv"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return read_schedule(path, ratings=RATINGS, lines=LINES, circuits=CIRCUITS, mapping=mapping)

    return read_text


@pytest.fixture
def read_again() -> Read:
    """Read a file that we have written, as a handover does."""

    def read_file(path: Path) -> Schedule:
        opened = as_ours(path, read_tables(path)[0], {}).opened(ratings=RATINGS, lines=LINES, circuits=CIRCUITS)
        return opened.closed([one for one in opened.luminaires() if one is not None])

    return read_file
