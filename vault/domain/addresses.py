"""Addresses: on a control line each gear has its own, and so it has in a central battery circuit."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from vault.domain.findings import Finding
from vault.domain.rules import Sheet, without_repeats
from vault.domain.site import Circuit, Line

SHORT_MAX = 63
CENTRAL_MAX = 255
GEAR_ON_A_LINE = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class AddressUse:
    """One address that a gear occupies.

    tag_shown: the luminaire as people know it. where: name of its line, "" where none is named. short_address: as
    on the bus, from 0.
    """

    tag_shown: str
    where: str
    short_address: int | None = None
    central_circuit: str | None = None
    central_address: int | None = None


def check_addresses(uses: Sequence[AddressUse], others: Iterable[AddressUse], *, lines: Mapping[str, Line],
                    circuits: Mapping[str, Circuit]) -> tuple[Finding, ...]:
    """Findings about `uses` alone, held against each other and against the `others` that are there already."""
    sheet, known = Sheet(), list(dict.fromkeys(others))
    for at, use in enumerate(uses):
        before = known + list(uses[:at])
        if use.short_address is not None:
            _check_short(sheet, use, before, lines)
        if use.central_address is not None:
            _check_central(sheet, use, before)
    everyone = [*known, *uses]
    for name in dict.fromkeys(use.where for use in uses if use.short_address is not None and use.where):
        _count_line(sheet, name, lines.get(name), everyone)
    for name in dict.fromkeys(use.central_circuit for use in uses if use.central_circuit):
        most = circuits[name].luminaires_max if name in circuits else None
        if most is not None:
            _count_circuit(sheet, name, most, everyone)
    return without_repeats(sheet.findings)


def check_line(line: Line, members: Sequence[AddressUse], *,
               circuits: Mapping[str, Circuit] | None = None) -> tuple[Finding, ...]:
    """Findings about every address on one line."""
    return check_addresses(members, (), lines={line.name: line}, circuits=circuits or {})


def _check_short(sheet: Sheet, use: AddressUse, before: Sequence[AddressUse], lines: Mapping[str, Line]) -> None:
    ask, address = sheet.ask("address", use.tag_shown), use.short_address or 0
    line = lines.get(use.where)
    first = line.addresses_from if line else 0
    said = f"short address {address + first}, counted from {first},"
    if not 0 <= address <= SHORT_MAX:
        ask.broken(f"{said} does not exist; they run from {first} to {SHORT_MAX + first}.", found=str(address + first),
                   allowed=f"{first} to {SHORT_MAX + first}")
        return
    if line is None:
        what = f"The line {use.where}" if use.where else f"The line of {said}"
        sheet.ask("address-line", use.tag_shown).missing(what.rstrip(","))
    if not use.where:
        return
    for other in before:
        if (other.where, other.short_address) != (use.where, use.short_address):
            continue
        if other.tag_shown == use.tag_shown:
            # Two drivers of one luminaire are sometimes meant to answer as one.
            ask.care(f"{said} stands twice in {use.tag_shown} on line {use.where}.", found=str(address + first),
                     allowed="each address once")
        else:
            ask.broken(f"{said} on line {use.where} belongs to {other.tag_shown} as well.", found=str(address + first),
                       allowed="each address once")


def _check_central(sheet: Sheet, use: AddressUse, before: Sequence[AddressUse]) -> None:
    ask, address = sheet.ask("central-address", use.tag_shown), use.central_address or 0
    if not 1 <= address <= CENTRAL_MAX:
        ask.broken(f"central battery address {address} does not exist; they run from 1 to {CENTRAL_MAX}.",
                   found=str(address), allowed=f"1 to {CENTRAL_MAX}")
        return
    if use.central_circuit is None:
        sheet.ask("address-line", use.tag_shown).missing(f"The circuit of central battery address {address}")
        return
    for other in before:
        if (other.central_circuit, other.central_address) == (use.central_circuit, use.central_address):
            ask.broken(f"central battery address {address} on circuit {use.central_circuit} belongs to "
                       f"{other.tag_shown} as well.", found=str(address), allowed="each address once")


def _count_line(sheet: Sheet, name: str, line: Line | None, everyone: Sequence[AddressUse]) -> None:
    most = (line.gear_max if line else None) or GEAR_ON_A_LINE
    count = len({(u.tag_shown, u.short_address) for u in everyone if u.where == name and u.short_address is not None})
    if count > most:
        sheet.ask("line-gear", f"line {name}").broken(
            f"line {name} holds {count} gear; it may hold {most}.", found=str(count), allowed=f"at most {most}")


def _count_circuit(sheet: Sheet, name: str, most: int, everyone: Sequence[AddressUse]) -> None:
    count = len({use.tag_shown for use in everyone if use.central_circuit == name})
    if count > most:
        sheet.ask("circuit-luminaires", f"circuit {name}").broken(
            f"circuit {name} holds {count} luminaires; the local rule allows {most}.", found=str(count),
            allowed=f"at most {most}")
