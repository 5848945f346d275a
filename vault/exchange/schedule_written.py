"""Settings written as the columns of a schedule hold them: what the strict reader takes back to the same settings."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from vault.domain.site import Line

_FACTORS = {"_mv": 1000, "_mw": 1000, "_permille": 10}


def cell_of(path: str, value: Any, line: Line | None) -> str:
    """The cell of a setting that has a column. path, value: as `schema.flatten` gives them. An address is written as the line
    counts, as on the bus where no line is known.
    """
    if value == "not set":
        return "not set"
    if path.endswith("control.short_address"):
        return str(value + (line.addresses_from if line is not None else 0))
    if path.endswith("control.groups"):
        return "+".join(str(number) for number in range(16) if value >> number & 1) or "none"
    if path.endswith("control.scenes"):
        return " ".join(f"{number}:{level}" for number, level in enumerate(value) if level != 255) or "none"
    if path.endswith("_mirek"):
        return str(kelvin_of(value))
    factor = next((factor for ending, factor in _FACTORS.items() if path.endswith(ending)), None)
    return str(value) if factor is None else f"{Decimal(value) / factor:f}"


def kelvin_of(mirek: int) -> int:
    """The whole kelvin nearest to a colour temperature; 1e6 / kelvin, rounded, gives the mirek back (IEC 62386-209)."""
    return (2_000_000 + mirek) // (2 * mirek)
