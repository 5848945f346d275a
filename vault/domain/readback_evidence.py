"""How a drive current or an output voltage is known: no part of IEC 62386 can set or ask it, so somebody says how."""

from __future__ import annotations

import re
from collections.abc import Mapping

from vault.domain.fields import label_of

EVIDENCE_RULE = "current-evidence"
METER, PHOTOGRAPH, PARAMETER_SHEET = "meter", "photograph", "parameter-sheet"

# Word -> what it means.
EVIDENCE: Mapping[str, str] = {
    METER: "measured at the driver's output",
    PHOTOGRAPH: "a photograph of the switches, jumper, plug, resistor or rating plate as fitted",
    PARAMETER_SHEET: "the parameter sheet that was written into the driver",
}

# What a meter reads beside what is set.
MEASURED = re.compile(r"(channels\.[1-9][0-9]?)\.measured_(current_ma|voltage_mv)")
_KNOWN_BY = re.compile(r"(channels\.[1-9][0-9]?)\.(current|voltage)_evidence")
# SHA-256 of the photograph's file, in hexadecimal.
_PHOTOGRAPH = re.compile(r"channels\.[1-9][0-9]?\.photograph")
_OUTPUT = re.compile(r"(channels\.[1-9][0-9]?)\.(current_ma|voltage_mv)")
_DIGEST = re.compile(r"[0-9a-f]{64}")


def is_evidence(field: str) -> bool:
    """Whether a field of a readback says how another one is known."""
    return bool(_KNOWN_BY.fullmatch(field) or _PHOTOGRAPH.fullmatch(field))


def evidence_wrong(field: str, value: object) -> str:
    """What is wrong with a field of evidence, or the empty text."""
    if _KNOWN_BY.fullmatch(field) and value not in EVIDENCE:
        return f"found {value!r}, allowed {', '.join(EVIDENCE)}"
    if _PHOTOGRAPH.fullmatch(field) and not (isinstance(value, str) and _DIGEST.fullmatch(value)):
        return f"found {value!r}, allowed the SHA-256 of the photograph's file, 64 digits 0 to 9 and a to f"
    return ""


def evidence_field(field: str) -> str | None:
    """The field that says how this one is known; None for a field that needs none."""
    output = _OUTPUT.fullmatch(field)
    return f"{output[1]}.{output[2].partition('_')[0]}_evidence" if output else None


def photograph_field(field: str) -> str:
    """Where the digest of a photograph stands: `channels.1.photograph` for `channels.1.current_evidence`."""
    return f"{field.rpartition('.')[0]}.photograph"


def measured_field(field: str) -> str:
    """`channels.1.measured_current_ma` for `channels.1.current_ma`."""
    where, _, name = field.rpartition(".")
    return f"{where}.measured_{name}"


def evidence_fields(values: Mapping[str, object]) -> list[tuple[str, str]]:
    """(field, the thing as people say it) for each current and voltage that was read and does not say how it is known."""
    asked = ((field, evidence_field(field)) for field, value in values.items() if value is not None)
    return [(known_by, _capital(label_of(field))) for field, known_by in asked
            if known_by is not None and values.get(known_by) is None]


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
