"""Failure rates learned from a vault's own records."""

from __future__ import annotations

import random
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from small_vault import NOW_S, SmallVault, readback

from vault.actions.failure_rates import Asked, Rates, failure_rates
from vault.actions.service_hours import Ageing
from vault.actions.stock import one_movement
from vault.actions.swap import swap
from vault.db.tables import MAIN
from vault.domain.record import ChangeClass, Reason
from vault.domain.settings import Duty
from vault.domain.stock import Act
from vault.errors import GearkeepError, UsageProblem
from vault.exchange.hours_file import read_hours_file
from vault.spares.arrhenius import acceleration
from vault.spares.burning_hours import HoursTable
from vault.spares.failure_rate import FIT, prior
from vault.trust.statements import Kind
from vault.trust.verify import sign

YEAR_S = 365 * 86_400
HALF_S = YEAR_S // 2
# Of the small vault: eleven gear of ORIGINAL (ten in type T1, one in T8), three of CONVERTER, one each in T2, T3, T8.
ORIGINAL, CONVERTER, SPARE = "CC-40-700", "EM-6-180", "GEN-50-1050"
OF_ORIGINAL = ("CH-001", "CH-002", "CH-003", "CH-004", "CH-006", "CH-007", "CH-008", "CH-009", "CO-001", "CO-002", "ST-N1")


def _learned(small: SmallVault, after_s: int = YEAR_S, **asked: Any) -> Rates:
    desk = small.desk()
    desk.now_s = lambda: NOW_S + after_s
    return failure_rates(desk, Asked(**asked))


def _counts(small: SmallVault, **asked: Any) -> dict[str, int]:
    """Failures of every model and type that had any."""
    return {one.name: one.failures for one in _learned(small, **asked).rates if one.failures}


def _next(small: SmallVault, reference: str, at_s: int, *, number: int = 0, reason: Reason = Reason.DRIVER_SWAP,
          **changes: Any) -> None:
    """The next version of a luminaire, in which one gear's fields are others."""
    seen = small.seen(reference)
    gears = list(seen.record.gears)
    gears[number] = replace(gears[number], **changes)
    small.sign("I01", Kind.RECORD, replace(
        seen.record, version=seen.record.version + 1, predecessors=seen.statement.digest[:16], time_s=NOW_S + at_s,
        reason=reason, gears=tuple(gears)))


def _swap(small: SmallVault, **said: Any) -> None:
    """The driver of CH-007 (serial MB24050) is replaced after half a year."""
    desk = small.desk("T01")
    desk.now_s = lambda: NOW_S + HALF_S
    swap(desk, small.tags["CH-007"], spare=SPARE, serial="MB1", readback=readback(),
         change_class=ChangeClass.APPROVED_EQUIVALENT, **said)


def test_a_year_without_failures(small: SmallVault) -> None:
    """Eleven gear for a year of 4000 h are 44,000 h; 0.2 % a 1000 h makes 0.088 failures of them."""
    found = _learned(small).of("model", ORIGINAL)
    assert found is not None
    assert (found.pieces, found.gear_days, found.failures, found.alarm.raised) == (11, 11 * 365, 0, False)
    assert (found.hours, found.expected, found.next_year_h) == pytest.approx((44_000, 0.088, 44_000))
    assert (found.after.shape, found.after.hours) == pytest.approx((1, 544_000))


def test_two_gear_of_one_luminaire_are_apart(small: SmallVault) -> None:
    """The emergency converter of the stairs is replaced: that model and the type have a failure, the driver beside it none."""
    _next(small, "ST-N1", HALF_S, number=1, serial="MB1")
    assert _counts(small) == {CONVERTER: 1, "T8": 1}


def test_hours_are_assumed_of_all_light_that_is_switched(small: SmallVault) -> None:
    """Of gear for both duties as of that for general light alone: the sentence counts it as before."""
    said = [note for note in _learned(small).notes if "burning hours a year are assumed for" in note]
    _next(small, "CH-007", 0, duty=Duty.GENERAL_AND_EMERGENCY)
    assert said and said[0] in _learned(small).notes


def test_a_swap_ends_one_exposure_and_begins_another(small_on: SmallVault) -> None:
    """Half a year of the old model, half a year of the new one."""
    _swap(small_on)
    found = _learned(small_on, models=(ORIGINAL, SPARE))
    assert [(one.name, one.pieces, one.failures) for one in found.rates] == [(ORIGINAL, 10, 1), (SPARE, 3, 0)]
    assert [one.gear_days for one in found.rates] == pytest.approx([10.5 * 365, 2.5 * 365])


@pytest.mark.parametrize("number", [0, 1])
def test_gear_without_serial_numbers_is_told_by_its_readback(small: SmallVault, number: int) -> None:
    """Same model, no serial numbers: what was read of it differs."""
    _next(small, "ST-N1", HALF_S, number=number, readback_digest=bytes(8))
    assert _counts(small) == {(ORIGINAL, CONVERTER)[number]: 1, "T8": 1}


def test_a_swap_that_tells_no_gear_counts_for_the_type_alone(small: SmallVault) -> None:
    """Which of the two models failed is not known, and is said."""
    _next(small, "ST-N1", HALF_S)
    assert _counts(small) == {"T8": 1}
    assert "1 swap does not say which gear" in " ".join(_learned(small).notes)


def test_other_versions_are_no_failures(small: SmallVault) -> None:
    """A move does not end a gear's time in service, a retirement does."""
    _next(small, "CH-001", HALF_S, reason=Reason.MOVED)
    _next(small, "CH-002", HALF_S, reason=Reason.RETIRED)
    found = _learned(small).of("model", ORIGINAL)
    assert found is not None
    assert (found.pieces, found.gear_days, found.failures) == (10, 10.5 * 365, 0)


def test_a_version_dated_back_adds_no_time(small: SmallVault) -> None:
    """Its own interval runs on, and none is counted twice or below nought."""
    _next(small, "CH-001", -YEAR_S, reason=Reason.CORRECTION)
    found = _learned(small, since_s=NOW_S).of("model", ORIGINAL)
    assert found is not None and found.gear_days == 11 * 365


def test_two_versions_of_one_swap_are_one_failure(small: SmallVault) -> None:
    """Two people signed the same swap side by side."""
    seen = small.seen("CH-007")
    sides = [replace(seen.record, version=2, predecessors=seen.statement.digest[:16], time_s=NOW_S + HALF_S + minute * 60,
                     reason=Reason.DRIVER_SWAP, gears=(replace(seen.record.gears[0], serial=f"MB{minute}"),))
             for minute in (1, 2)]
    small.fork(*sides)
    assert _counts(small) == {ORIGINAL: 1, "T1": 1}


def test_a_swap_without_what_was_before_counts_for_nothing(small: SmallVault) -> None:
    """Such as one from a label: nobody knows how long the old driver served."""
    alone = replace(small.seen("CH-007").record, tag=bytes(5), version=2, predecessors=bytes(16), reason=Reason.DRIVER_SWAP)
    with small.open().writing() as session:
        session.append_recovered(sign(Kind.RECORD, alone, small.keys["T01"], log_id=session.log_id(MAIN)))
    found = _learned(small)
    assert not any(one.failures for one in found.rates)
    assert "1 swap has no version before it" in " ".join(found.notes)


def test_what_came_before_a_day_does_not_count(small: SmallVault) -> None:
    """Neither hours nor failures."""
    _swap(small)
    found = _learned(small, since_s=NOW_S + HALF_S + 1, models=(ORIGINAL,)).rates[0]
    assert found.failures == 0
    assert found.gear_days == pytest.approx(10 * 365 / 2, abs=0.01)


@pytest.mark.parametrize(("old_driver", "from_stock", "failures", "undecided", "not_faulty", "damaged"), [
    (None, True, 1, 0, 0, 0), ("returned to store", True, 1, 0, 0, 0), ("kept for inspection", True, 1, 1, 0, 0),
    ("sent to maker", False, 1, 1, 0, 0), ("not faulty", True, 0, 0, 1, 0), ("not faulty", False, 0, 0, 1, 0),
    ("damaged", True, 0, 0, 0, 1), ("damaged", False, 0, 0, 0, 1)])
def test_the_old_drivers_fate(small: SmallVault, old_driver: str | None, from_stock: bool, failures: int, undecided: int,
                              not_faulty: int, damaged: int) -> None:
    """What the spare's issue tells of it, or else the version's note; the swap of a driver that worked, or that was broken from
    outside, is no failure."""
    _swap(small, old_driver=old_driver, from_stock=from_stock)
    found = _learned(small).of("model", ORIGINAL)
    assert found is not None
    assert (found.failures, found.undecided, found.not_faulty, found.damaged) == (failures, undecided, not_faulty, damaged)


def test_an_old_driver_that_was_checked_good_had_not_failed(small: SmallVault) -> None:
    """It came back to the store with its serial number and passed there."""
    _swap(small)
    desk = small.desk("S01")
    desk.now_s = lambda: NOW_S + YEAR_S - 60
    one_movement(desk, act=Act.RETURN, store="MAIN", model=ORIGINAL, quantity=1, serial="MB24050")
    assert _counts(small) == {ORIGINAL: 1, "T1": 1}
    one_movement(desk, act=Act.CHECKED, store="MAIN", model=ORIGINAL, quantity=1, serial="MB24050")
    assert _counts(small) == {}


def test_an_old_driver_that_serves_again_had_not_failed(small: SmallVault) -> None:
    """It hangs in another luminaire now; the one that it replaced there did fail."""
    _swap(small)
    _next(small, "CO-001", HALF_S + 60, serial="MB24050")
    assert _counts(small) == {ORIGINAL: 1, "T1": 1}


def test_hours_of_emergency_gear(small: SmallVault) -> None:
    """Maintained burns 8760 h; two non-maintained burn 3 h and twelve half minutes in tests and stand by for the rest."""
    found = _learned(small).of("model", CONVERTER)
    assert found is not None
    assert (found.burning_h, found.standby_h, found.hours) == pytest.approx((8760 + 2 * 3.1, 2 * 8756.9, 3 * 8760))


@pytest.mark.parametrize(("table", "hours"), [
    (HoursTable(), 11 * 4000), (HoursTable(default=2000), 11 * 2000),
    (HoursTable(by_type={"T1": 1000}), 10 * 1000 + 4000),
    (HoursTable(by_type={"T1": 1000}, by_circuit={"L2": 6000}), 8 * 1000 + 2 * 6000 + 4000)],
    ids=["assumed", "another default", "by type", "a circuit before a type"])
def test_hours_by_circuit_and_type(small: SmallVault, table: HoursTable, hours: int) -> None:
    """Eight of the eleven are on circuit L1, two on L2 (demo/schedule.csv)."""
    assert _learned(small, models=(ORIGINAL,), hours=table).rates[0].hours == pytest.approx(hours)


CSV = "circuit,type,hours\nL2,,6000\n,T1,1000\n,,2000\n"
TOML = "default = 2000\n[circuit]\nL2 = 6000\n[type]\nT1 = 1000\n"


@pytest.mark.parametrize(("name", "text"), [("h.csv", CSV), ("h.toml", TOML)])
def test_a_file_of_hours(tmp_path: Path, name: str, text: str) -> None:
    """A table and TOML say the same."""
    (tmp_path / name).write_text(text, encoding="utf-8")
    assert read_hours_file(tmp_path / name) == HoursTable(by_circuit={"L2": 6000}, by_type={"T1": 1000}, default=2000)


@pytest.mark.parametrize(("name", "text", "told"), [
    ("h.csv", "circuit,hours\nL2,9000\n", "row 2, hours: found '9000', allowed whole hours a year from 0 to 8760"),
    ("h.csv", "circuit,hours\nL2,many\n", "found 'many'"),
    ("h.csv", "circuit,hours\nL2,10\nL2,11\n", "row 3, hours: circuit L2 stands twice"),
    ("h.csv", "circuit,type,hours\nL2,T1,10\n", "row 2: found a circuit and a type"),
    ("h.csv", "circuit,burning\nL2,10\n", "row 1: found circuit, burning"),
    ("h.toml", "[circuit]\nL2 = true\n", "circuit.L2: found True"),
    ("h.toml", "[circuits]\nL2 = 1\n", "found 'circuits'"),
    ("h.toml", "L2 = \n", "is not TOML"),
])
def test_a_wrong_file_of_hours(tmp_path: Path, name: str, text: str, told: str) -> None:
    """Names the place, what was found and what is allowed."""
    (tmp_path / name).write_text(text, encoding="utf-8")
    with pytest.raises(GearkeepError, match=r"cannot be taken|is not TOML") as caught:
        read_hours_file(tmp_path / name)
    assert told in caught.value.what and caught.value.hint


@pytest.mark.parametrize(("ageing", "at_35", "at_38"), [
    (Ageing(activation_ev=0.7), acceleration(40, 35, 0.7), acceleration(40, 38, 0.7)),
    (Ageing(activation_ev=None), 2 ** -0.5, 2 ** -0.2)], ids=["Arrhenius", "ten kelvin"])
def test_hours_weighed_by_temperature(small: SmallVault, ageing: Ageing, at_35: float, at_38: float) -> None:
    """Ten in air of 35 °C, one of 38 °C at most (demo/lines.toml, circuits.toml), all of types for 40 °C (types.toml)."""
    found = _learned(small, models=(ORIGINAL,), ageing=ageing).rates[0]
    assert found.hours == pytest.approx(4000 * (10 * at_35 + at_38))
    assert found.burning_h == pytest.approx(44_000)


def test_years_add_up(small: SmallVault) -> None:
    """Calendar years from 2030 to 2033 (1,900,000,000 s is 2030-03-17), together what one look at all of them says."""
    _swap(small)
    years = _learned(small, 3 * YEAR_S, models=(ORIGINAL,), by_year=True).rates[0].years
    whole = _learned(small, 3 * YEAR_S, models=(ORIGINAL,)).rates[0]
    assert [(one.year, one.failures) for one in years] == [(2030, 1), (2031, 0), (2032, 0), (2033, 0)]
    assert sum(one.hours for one in years) == pytest.approx(whole.hours)
    assert sum(one.expected for one in years) == pytest.approx(whole.expected)


def test_a_model_that_never_served_has_the_prior_alone(small: SmallVault) -> None:
    """No exposure is no knowledge."""
    found = _learned(small, models=("GEN-25-800",))
    assert (found.rates[0].prior_alone, found.rates[0].after, found.belief("model", "GEN-25-800")) == (True, prior(), prior())


@pytest.mark.parametrize("named", [{"models": ("NO-SUCH",)}, {"types": ("T99",)}])
def test_what_the_vault_does_not_know_is_refused(small: SmallVault, named: dict[str, tuple[str, ...]]) -> None:
    """A model or a type."""
    with pytest.raises(UsageProblem, match="does not know"):
        _learned(small, **named)


def test_a_known_rate_is_recovered_from_five_years_of_records(small: SmallVault) -> None:
    """Lives of 10,000 h on average are drawn for eleven gear; every death is signed as a swap with a new serial number.

    The prior is worth a fiftieth of a failure, so that the records speak; the default one alarms at them.
    """
    chance, rate, year_h = random.Random(4711), 100_000 * FIT, 4000
    for reference in OF_ORIGINAL:
        at_s = 0.0
        while (at_s := at_s + chance.expovariate(rate) / year_h * YEAR_S) < 5 * YEAR_S:
            _next(small, reference, int(at_s), serial=f"N{chance.getrandbits(60):X}"[:12])
    found = _learned(small, 5 * YEAR_S, models=(ORIGINAL,), before=prior(shape=0.02)).rates[0]
    low, high = found.after.interval()
    assert low < rate < high
    assert found.hours == pytest.approx(11 * 5 * year_h, rel=1e-6)
    assert {ORIGINAL, "T1"} <= {one.name for one in _learned(small, 5 * YEAR_S).alarms} <= {ORIGINAL, "T1", "T8"}
