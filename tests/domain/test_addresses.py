"""Addresses on lines and in central battery circuits."""

from __future__ import annotations

from dataclasses import replace

import pytest
from domain_examples import CIRCUIT, LINE, serious

from vault.domain.addresses import AddressUse, check_addresses, check_line
from vault.domain.findings import Severity

STOP, UNKNOWN, CARE = Severity.STOP, Severity.UNKNOWN, Severity.CARE
FROM_ONE = replace(LINE, addresses_from=1)


def _bus(tag: str, short: int, where: str = "L1") -> AddressUse:
    return AddressUse(tag_shown=tag, where=where, short_address=short)


def _central(tag: str, address: int, circuit: str | None = "C4") -> AddressUse:
    return AddressUse(tag_shown=tag, where="", central_circuit=circuit, central_address=address)


def test_a_full_line_is_good() -> None:
    """64 gear with the short addresses 0 to 63 (IEC 62386-101 and -102) give no finding."""
    assert check_line(LINE, [_bus(f"T{n}", n) for n in range(64)]) == ()


def test_a_full_circuit_is_good() -> None:
    """20 luminaires with the addresses 1 to 20 give no finding."""
    uses = [_central(f"T{n}", n) for n in range(1, 21)]
    assert check_addresses(uses, (), lines={}, circuits={"C4": CIRCUIT}) == ()


@pytest.mark.parametrize(("uses", "others", "expected"), [
    ([_bus("A", 5)], [_bus("B", 5)], {("address", STOP)}),
    ([_bus("A", 5), _bus("B", 5)], [], {("address", STOP)}),
    ([_bus("A", 5), _bus("A", 5)], [], {("address", CARE)}),
    ([_bus("A", 5)], [_bus("B", 5, "L2")], set()),
    ([_bus("A", 5)], [_bus("B", 6), _bus("C", 6)], set()),
    ([_bus("A", 64)], [], {("address", STOP)}),
    ([_bus("A", 5, "")], [_bus("B", 5, "")], {("address-line", CARE)}),
    ([_bus("A", 5, "L9")], [], {("address-line", CARE)}),
    ([_central("A", 7)], [_central("B", 7)], {("central-address", STOP)}),
    ([_central("A", 7)], [_central("B", 7, "C5")], set()),
    ([_central("A", 0)], [], {("central-address", STOP)}),
    ([_central("A", 256)], [], {("central-address", STOP)}),
    ([_central("A", 255)], [], set()),
    ([_central("A", 7, None)], [], {("address-line", CARE)}),
    ([_central("A", 30)], [_central(f"T{n}", n) for n in range(1, 21)], {("circuit-luminaires", STOP)}),
    ([_bus("A", 0)], [_bus(f"T{n}", n) for n in range(1, 64)], set()),
])
def test_addresses_are_held_against_each_other(uses: list[AddressUse], others: list[AddressUse],
                                               expected: set[tuple[str, Severity]]) -> None:
    """Clashes concern the given uses alone; what the others do among themselves was said before."""
    assert serious(check_addresses(uses, others, lines={"L1": LINE, "L2": LINE}, circuits={"C4": CIRCUIT})) == expected


def test_a_line_holds_no_more_gear_than_it_may() -> None:
    """A line with its own lower limit is held to that."""
    assert ("line-gear", STOP) in serious(check_line(replace(LINE, gear_max=2), [_bus(f"T{n}", n) for n in range(3)]))


def test_an_address_is_spoken_in_the_site_s_numbering() -> None:
    """Where the site counts from 1, bus address 5 is its address 6, and the sentence says which numbering."""
    (finding,) = check_line(FROM_ONE, [_bus("A", 5), _bus("B", 5)])
    assert finding.found == "6" and "6, counted from 1," in finding.says and "A" in finding.says
