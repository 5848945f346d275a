"""Circuits: number, load, inrush and leakage."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest
from domain_examples import CIRCUIT, serious

from vault.domain.circuit_rules import CircuitMember, check_circuit, share_limit_ma
from vault.domain.findings import Severity
from vault.domain.site import Breaker, Circuit
from vault.domain.supply import battery_floor_v

STOP, UNKNOWN, CARE = Severity.STOP, Severity.UNKNOWN, Severity.CARE


def _members(count: int, **figures: int | None) -> list[CircuitMember]:
    good: dict[str, int | None] = {"load_ma": 180, "inrush_b16": 24, "leakage_ua": 400}
    return [CircuitMember(tag_shown=f"L{number}", **{**good, **figures}) for number in range(count)]


@pytest.mark.parametrize(("rated_ma", "limit_ma"), [(16_000, 9_600), (10_000, 6_000)])
def test_the_share_of_the_protective_device(rated_ma: int, limit_ma: int) -> None:
    """60 % of 16 A is 9.6 A and of 10 A is 6 A (DIN V VDE V 0108-100:2010 4.4.6, as quoted)."""
    assert share_limit_ma(replace(CIRCUIT, rated_current_ma=rated_ma)) == limit_ma


def test_the_lower_end_of_the_battery_range() -> None:
    """194 V (one 230 V system) less 4 % (common practice, no source) is 186.24 V, worked by hand."""
    assert battery_floor_v(194) * 100 == 18_624


@pytest.mark.parametrize(("circuit", "members"), [
    (CIRCUIT, _members(20)),
    (CIRCUIT, []),
    (CIRCUIT, _members(20, load_ma=480)),
    (replace(CIRCUIT, luminaires_max=None, share_max_percent=None), _members(24, leakage_ua=0)),
    (replace(CIRCUIT, breaker=Breaker.C, luminaires_max=None, leakage_max_ua=None, rated_current_ma=20_000),
     _members(48)),
])
def test_a_plainly_good_circuit_gives_no_finding(circuit: Circuit, members: Sequence[CircuitMember]) -> None:
    """What keeps every limit, to the last luminaire, is not cried at."""
    assert serious(check_circuit(circuit, members)) == set()


@pytest.mark.parametrize(("circuit", "members", "rule", "severity"), [
    (CIRCUIT, _members(21), "circuit-luminaires", STOP),  # 20 at most: DIN V VDE V 0108-100:2010 4.4.6, as quoted
    (CIRCUIT, _members(20, load_ma=481), "circuit-share", STOP),
    (CIRCUIT, _members(20, load_ma=None), "circuit-share", UNKNOWN),
    (CIRCUIT, [*_members(19), *_members(1, load_ma=9_600)], "circuit-share", STOP),
    (CIRCUIT, [*_members(1, load_ma=None), *_members(1, load_ma=9_601)], "circuit-share", STOP),
    (replace(CIRCUIT, rated_current_ma=None), _members(1), "circuit-share", UNKNOWN),
    (replace(CIRCUIT, share_max_percent=None), _members(20, load_ma=801), "circuit-load", CARE),
    (CIRCUIT, _members(20, inrush_b16=19), "circuit-inrush", CARE),
    (CIRCUIT, _members(20, inrush_b16=None), "circuit-inrush", CARE),
    (replace(CIRCUIT, breaker=None), _members(20), "circuit-inrush", CARE),
    (replace(CIRCUIT, rated_current_ma=10_000), _members(16), "circuit-inrush", CARE),
    (CIRCUIT, _members(20, leakage_ua=451), "circuit-leakage", CARE),
    (CIRCUIT, _members(20, leakage_ua=None), "circuit-leakage", CARE),
])
def test_too_much_on_a_circuit_is_found(circuit: Circuit, members: Sequence[CircuitMember], rule: str,
                                        severity: Severity) -> None:
    """One limit broken, or one figure missing, gives the finding of its rule."""
    assert (rule, severity) in serious(check_circuit(circuit, members))


def test_two_gear_of_one_luminaire_count_once() -> None:
    """The local rule counts luminaires, not drivers."""
    assert serious(check_circuit(CIRCUIT, [*_members(20), *_members(1, load_ma=10)])) == set()
