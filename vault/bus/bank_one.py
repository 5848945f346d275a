"""Memory bank 1: what the gear's memory says of the luminaire (IEC 62386-102 and DALI Part 251 v1.1; locations by python-dali).

It may be empty, or of the driver's former luminaire. It is compared and, where it is open, written; nothing depends on it.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from dali.memory import oem

from vault.bus.memory import Contents, decoded, read_bank, write_bank
from vault.bus.port import Port
from vault.domain.findings import Finding, Severity
from vault.domain.rating import Rating
from vault.domain.tag import from_bytes, shown, to_bytes
from vault.domain.units import mw
from vault.errors import GearkeepError

BANK, LAST = 1, 0x77
_ID_BYTES = 8
_SOURCE = "DALI Part 251 v1.1"
_COLOUR_FROM_209 = "Part 209 implemented"


@dataclass(frozen=True, slots=True, kw_only=True)
class BankOne:
    """What bank 1 holds; None for what is unknown there. Power in W, mains in V, light in lm and K.

    cct_k: None too for gear that changes it (cct_varies). year: two digits. identification: 60 ASCII characters at most.
    """

    gtin: int | None = None
    luminaire_id: int | None = None
    format_id: int | None = None
    year: int | None = None
    week: int | None = None
    power_w: int | None = None
    power_min_dim_w: int | None = None
    mains_min_v: int | None = None
    mains_max_v: int | None = None
    flux_lm: int | None = None
    colour_rendering: int | None = None
    cct_k: int | None = None
    cct_varies: bool = False
    distribution: str | None = None
    colour: str | None = None
    identification: str | None = None


_KINDS: dict[str, Any] = {
    "gtin": oem.ManufacturerGTIN, "luminaire_id": oem.LuminaireID, "format_id": oem.ContentFormatID,
    "year": oem.YearOfManufacture, "week": oem.WeekOfManufacture, "power_w": oem.InputPowerNominal,
    "power_min_dim_w": oem.InputPowerMinimumDim, "mains_min_v": oem.MainsVoltageMinimum,
    "mains_max_v": oem.MainsVoltageMaximum, "flux_lm": oem.LightOutputNominal, "colour_rendering": oem.CRI, "cct_k": oem.CCT,
    "distribution": oem.LightDistributionType, "colour": oem.LuminaireColor, "identification": oem.LuminaireIdentification,
}


def _known(kind: Any, value: Any) -> Any:
    """None for a number whose bytes are all FF, which stands for unknown, and for a text that was never written."""
    unwritten = isinstance(value, int) and value == 256 ** len(kind.locations) - 1
    return None if unwritten or value == "" else value


def decode_bank_one(contents: Contents) -> BankOne:
    """The bank's contents from location 0 on; a bank that ends early holds fewer values."""
    held = {name: _known(kind, decoded(kind, contents)) for name, kind in _KINDS.items()}
    varies = held["cct_k"] == _COLOUR_FROM_209
    return BankOne(**(held | {"cct_varies": varies, "cct_k": None if varies else held["cct_k"]}))


def read_bank_one(port: Port, address: int, progress: Callable[[int, int], None] | None = None) -> BankOne | None:
    """Bank 1 of the gear at a short address; None when it has none. Raises GearkeepError as read_bank does."""
    contents = read_bank(port, address, BANK, LAST, progress)
    return None if contents is None else decode_bank_one(contents)


def bank_one_fields(held: BankOne) -> dict[str, str | int]:
    """The bank as fields of a readback ("bank1.power_w"); numbers that may be longer than 32 bits as texts."""
    read = {name: getattr(held, name) for name in _KINDS}
    read["gtin"] = None if held.gtin is None else f"{held.gtin:013d}"
    read["luminaire_id"] = None if held.luminaire_id is None else f"{held.luminaire_id:016X}"
    return {f"bank1.{name}": value for name, value in read.items() if value is not None}


def wanted_bank_one(tag: str, rating: Rating) -> BankOne:
    """What bank 1 should say of a luminaire: its tag as the identification number, and "TAG TYPECODE TITLE".

    A rating states the highest power and not the nominal one that the bank asks for, so that is compared and never written.
    """
    plain = unicodedata.normalize("NFKD", f"{tag} {rating.code} {rating.title}").encode("ascii", "ignore").decode()
    return BankOne(luminaire_id=int.from_bytes(to_bytes(tag), "big"),
                   identification=plain[: len(oem.LuminaireIdentification.locations)].rstrip())


def compare_bank_one(held: BankOne | None, wanted: BankOne, power_max_mw: int | None = None) -> tuple[Finding, ...]:
    """Findings: nothing where the memory agrees, a note where it says nothing, care where it says something else.

    power_max_mw: of the rating; the power in the memory may not be above it.
    """
    return tuple(_compared(held, wanted, power_max_mw))


def _id_words(number: int) -> str:
    try:
        return shown(from_bytes(number.to_bytes(_ID_BYTES, "big")[3:])) if number < 1 << 40 else f"number {number}"
    except GearkeepError:
        return f"number {number}"


def _compared(held: BankOne | None, wanted: BankOne, power_max_mw: int | None) -> Iterator[Finding]:
    if held is None:
        yield _finding(Severity.NOTE, "no bank 1", "bank 1", "The driver has no memory for data of the luminaire.")
        return
    for name, label, show in (("luminaire_id", "the luminaire", _id_words), ("identification", "its type", str)):
        found, allowed = getattr(held, name), getattr(wanted, name)
        if found == allowed:
            continue
        if found is None:
            yield _finding(Severity.NOTE, "nothing", show(allowed), f"The driver's memory says nothing of {label}.")
        else:
            yield _finding(Severity.CARE, show(found), show(allowed),
                           f"The driver's memory names {label} as {show(found)}; the record says {show(allowed)}.")
    if held.power_w is not None and power_max_mw is not None and held.power_w * 1000 > power_max_mw:
        yield _finding(Severity.CARE, f"{held.power_w} W", f"at most {mw(power_max_mw)}",
                       f"The driver's memory gives its power as {held.power_w} W; the rating allows {mw(power_max_mw)}.")


def _finding(severity: Severity, found: str, allowed: str, says: str) -> Finding:
    return Finding(rule="memory-bank", severity=severity, found=found, allowed=allowed, source=_SOURCE, says=says)


def write_bank_one(port: Port, address: int, wanted: BankOne) -> BankOne:
    """Write what `wanted` states into bank 1, read it back and return it.

    Raises GearkeepError: no-bank, bank-locked, bank-not-written; two-at-address, bus-lost.
    """
    contents = read_bank(port, address, BANK, LAST)
    if contents is None:
        raise GearkeepError(f"The gear at address {address} (as on the bus, from 0) has no memory bank 1.", kind="no-bank",
                            hint="Leave it; nothing depends on what it would hold.")
    parts = {}
    for name in ("luminaire_id", "identification"):
        kind, value = _KINDS[name], getattr(wanted, name)
        start = kind.locations[0].address
        if kind.locations[-1].address >= len(contents):
            continue
        size = len(kind.locations)
        parts[start] = value.encode("ascii").ljust(size, b"\0") if isinstance(value, str) else value.to_bytes(size, "big")
    write_bank(port, address, BANK, {start: data for start, data in parts.items()
                                     if list(data) != contents[start : start + len(data)]})
    after = read_bank(port, address, BANK, LAST)
    for start, data in parts.items():
        if after is None or list(data) != after[start : start + len(data)]:
            raise GearkeepError(f"Memory bank 1 of the gear at address {address} (as on the bus, from 0) did not keep what "
                                "it was given.", kind="bank-not-written",
                                hint="Write it once more, or leave it; nothing depends on what it holds.")
    return decode_bank_one(after or [])
