"""The tables of fields in FORMAT.md, from the dataclasses themselves."""

from __future__ import annotations

from enum import IntEnum
from typing import Any

from vault.domain import driver, rating, record, settings, site, stock, terms
from vault.domain.schema import specs, words
from vault.trust import estate, statements
from vault.trust.takeover import TakeOver

_BODIES = [statements.Genesis, statements.Grant, statements.Withdrawal, rating.Rating, rating.GearRating, rating.Module,
           rating.EmergencyLimits, rating.OriginalGear, driver.DriverModel, driver.Window, driver.Means,
           driver.EmergencyAbility, site.Circuit, site.Line, record.Record, record.TypeRef, rating.Essentials,
           settings.Gear, settings.Settings, settings.Channel, settings.Control, settings.ColourControl,
           settings.Emergency, settings.Presence, statements.Approval, statements.LabelIssue, statements.IssuedLabel,
           stock.Movement, stock.MovementLine, terms.SupplyTerms, terms.ItemTerms, statements.LabelPlaced,
           statements.LabelWithdrawal, statements.LabelCopy,
           statements.LabelSighting, statements.SeenLabel, statements.Recovery, statements.Appointment,
           statements.Endorsement, TakeOver, record.TakenFrom, estate.EstateCheckpoint, estate.SiteState]


def _holds(spec: Any) -> str:
    shape = spec.shape
    said = {
        "whole": f"integer {spec.least} to {spec.most}" + (f" {spec.unit}" if spec.unit else ""),
        "text": f"text, 1 to {spec.most} characters", "flag": "0 or 1",
        "raw": f"bytes, {spec.least}" + (f" to {spec.most}" if spec.most != spec.least else ""),
        "names": f"array name, value, name, value …, at most {spec.most} names in order",
    }.get(shape)
    if shape in ("choice", "choices"):
        members: type[IntEnum] = spec.kind
        listed = ", ".join(f"{int(m)} {words(m)}" for m in members)
        said = ("one of " if shape == "choice" else "bit mask of ") + listed
    elif shape == "part":
        said = spec.kind.__name__
    elif shape == "parts":
        said = f"array of {max(spec.least, 1)} to {spec.most} {spec.kind.__name__}"
    elif shape == "table":
        columns = " + ".join(str(w) for w in spec.widths)
        said = f"packed table, {columns} byte{'s' if sum(spec.widths) > 1 else ''} a row, at most {spec.most} rows"
        if spec.fill is not None:
            said += f"; rows left out at its end are {spec.fill}, and none of those stands there"
    return f"{said}{'; null = not set' if spec.may_be_not_set else ''}"


def tables() -> str:
    """The field tables of FORMAT.md."""
    out = []
    for kind in _BODIES:
        what = "map" if kind.FORM == "map" else "array, by ascending key"
        out += [f"### {kind.__name__} ({what})", "", "| key | field | holds |", "|---|---|---|"]
        out += [f"| {spec.key} | {name}{'' if spec.required else ' (may be left out)'} | {_holds(spec)} |"
                for name, spec in specs(kind)]
        out.append("")
    return "\n".join(out)
