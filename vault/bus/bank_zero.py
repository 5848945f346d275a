"""Memory bank 0: which driver this is (IEC 62386-102, 9.10.6; locations by python-dali)."""

from __future__ import annotations

from dataclasses import dataclass

from dali.memory import info

from vault.bus.memory import Contents, decoded, read_bank
from vault.bus.port import Port

LAST = 0x1A
_LAST_OF_SERIAL = 0x12
_LAST_OF_2009 = 0x0E


@dataclass(frozen=True, slots=True, kw_only=True)
class BankZero:
    """gtin and serial: numbers of the trade item and of the piece. versions: "1.4", "2.0". unit_index: from 0, of unit_count
    gear in one housing. None for what the gear does not tell."""

    gtin: int | None
    serial: int | None
    firmware: str | None
    hardware: str | None
    part_102: str | None
    unit_count: int | None
    unit_index: int | None


def decode_bank_zero(contents: Contents) -> BankZero:
    """The bank's contents from location 0 on. A bank of the 2009 edition ends its serial number at location 0x0E."""
    old = len(contents) <= _LAST_OF_2009 + 1
    serial = info.IdentifictionNumber_legacy if old else info.IdentificationNumber
    held = {name: decoded(kind, contents) for name, kind in (
        ("gtin", info.GTIN), ("serial", serial), ("firmware", info.FirmwareVersion), ("hardware", info.HardwareVersion),
        ("part_102", info.Part102Version), ("unit_count", info.GearUnitCount), ("unit_index", info.UnitIndex))}
    return BankZero(**held)


def read_serial(port: Port, address: int) -> int | None:
    """The serial number of the piece at a short address; None where it has none. Raises GearkeepError as read_bank does."""
    contents = read_bank(port, address, 0, _LAST_OF_SERIAL)
    return None if contents is None else decode_bank_zero(contents).serial


def read_bank_zero(port: Port, address: int) -> BankZero | None:
    """Bank 0 of the gear at a short address; None when it has none. Raises GearkeepError as read_bank does."""
    contents = read_bank(port, address, 0, LAST)
    return None if contents is None else decode_bank_zero(contents)


def bank_zero_fields(held: BankZero, group: str = "bank0") -> dict[str, str | int]:
    """The bank as fields of a readback: numbers longer than 32 bits as texts."""
    read = {"gtin": None if held.gtin is None else f"{held.gtin:013d}",
            "serial": None if held.serial is None else str(held.serial), "firmware": held.firmware,
            "hardware": held.hardware, "part_102": held.part_102, "unit_count": held.unit_count, "unit_index": held.unit_index}
    return {f"{group}.{name}": value for name, value in read.items() if value is not None}
