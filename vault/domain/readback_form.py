"""What a readback asks for, field by field, in words that a person on a ladder can answer."""

from __future__ import annotations

from dataclasses import dataclass

from vault.domain.fields import Field, fields_of, label_of
from vault.domain.readback_evidence import EVIDENCE, evidence_field
from vault.domain.schema import NOT_SET, Spec, words
from vault.domain.settings import Gear

# What a driver without a settable window has by design; the fit has judged it.
WINDOW = ("voltage_min_mv", "voltage_max_mv", "power_max_mw")

_UNITS = {"‰": "per cent of full output, such as 10 %", "d": "days"}
_IN_OTHER_UNITS = {"mV": ", or with its unit such as 27.0 V", "mW": ", or with its unit such as 28.5 W",
                   "mA": ", or with its unit such as 0.7 A"}
_SAID = {
    "short_address": "as on the bus, 0 to 63",
    "groups": "as 0+3, or none",
    "scenes": "scene and level as 0:254 1:170, or none",
    "scene_mirek": "scene and mirek as 0:250 1:333, or none",
    "lumen_maintenance": "hours and per mille as 0:900 50000:1000",
    "thermal_derating": "degrees Celsius and per mille as 70:1000 90:500",
    "min_level": "1 to 254", "max_level": "1 to 254",
    "power_on_level": "0 to 254, 255 for MASK", "system_failure_level": "0 to 254, 255 for MASK",
    "fade_time": "0 to 15", "fade_rate": "1 to 15", "extended_fade": "the raw value, 0 to 79",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """One thing to read. says: what is asked, with its unit. allowed: everything that may be answered."""

    field: str
    says: str
    allowed: str


def allowed_words(name: str, spec: Spec) -> str:
    """Everything that may be written for a field: "a whole number 1 to 20000 mA, such as 700 or 0.7 A"."""
    if name == "groups":
        return "numbers of groups from 0 to 15 with + between, or none"
    if spec.shape == "whole":
        if spec.unit == "‰":
            return f"a whole number {spec.least} to {spec.most} ‰, or per cent, such as 10 %"
        return f"a whole number {spec.least} to {spec.most} {spec.unit}".rstrip() + _IN_OTHER_UNITS.get(spec.unit, "")
    if spec.shape == "choice":
        return ", ".join(words(member) for member in spec.kind)
    if spec.shape == "table":
        if spec.fill is not None or spec.most == 16:
            return f"number:value pairs such as 0:{254 if spec.widths == (1,) else 250}, all {spec.most} values, or none"
        return f"at most {spec.most} rows of numbers with : between"
    if spec.shape == "names":
        return "a text of up to 64 characters, or a whole number"
    return f"a text of {spec.least} to {spec.most} characters"


def _says(field: Field) -> str:
    label = field.label[:1].upper() + field.label[1:]
    if field.name in _SAID and field.spec.shape != "names":
        return f"{label}, {_SAID[field.name]}"
    if field.spec.shape == "choice":
        return f"{label}: {', '.join(words(member) for member in field.spec.kind)}"
    if field.spec.unit:
        return f"{label}, in {_UNITS.get(field.spec.unit, field.spec.unit)}{_IN_OTHER_UNITS.get(field.spec.unit, '')}"
    return label


def asked_fields(gear: Gear, *, fixed_window: bool = False) -> list[Field]:
    """Every stated setting but those that are left as the driver has them, or that it has by design."""
    return [field for field in fields_of(gear.settings)
            if field.value is not NOT_SET and field.path != "output"
            and not (fixed_window and field.name in WINDOW and field.spec.shape != "names")]


def asked_of(gear: Gear, *, fixed_window: bool = False) -> list[Ask]:
    """What is to be read of a gear, in the order of its settings; how it is known comes from `evidence_fields`."""
    return [Ask(field=field.path, says=_says(field), allowed=allowed_words(field.name, field.spec))
            for field in asked_fields(gear, fixed_window=fixed_window)]


def evidence_ask(field: str) -> Ask | None:
    """How a current or a voltage is known; None for a field that needs no evidence."""
    known_by = evidence_field(field)
    if known_by is None:
        return None
    label = label_of(field)
    return Ask(field=known_by, says=f"{label[:1].upper()}{label[1:]} is known by: {', '.join(EVIDENCE)}",
               allowed="; ".join(f"{word}: {meaning}" for word, meaning in EVIDENCE.items()))


def with_evidence(asks: list[Ask]) -> list[Ask]:
    """The same, each current and voltage followed by how it is known."""
    return [one for ask in asks for one in (ask, evidence_ask(ask.field)) if one is not None]
