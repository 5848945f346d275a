"""Labels: what stands on them, printing them, and signing that they were printed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from labels.content import BigFigure, LabelContent
from labels.drawing import write_pdf, write_png
from labels.media import MEDIA, Medium

from vault.actions.desk import Desk
from vault.actions.luminaire import View, find_tag, require_settled, view
from vault.db import queries
from vault.db.session import Session
from vault.domain.record import Reason
from vault.domain.schema import words
from vault.domain.settings import Control, Duty, Gear
from vault.domain.tag import shown, to_bytes
from vault.domain.units import ma, mv, mw
from vault.errors import UsageProblem
from vault.trust.capsule import capsule_text, link
from vault.trust.statements import IssuedLabel, Kind, LabelIssue

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Printed:
    """Labels that were drawn and signed for. without_settings: tags whose settings did not fit into the code."""

    path: Path
    tags: tuple[str, ...]
    without_settings: tuple[str, ...]


def _address(seen: View, control: Control | None) -> BigFigure | None:
    if control is None:
        return None
    if isinstance(control.short_address, int):
        base = seen.line.addresses_from if seen.line else 0
        return BigFigure(caption=f"ADDRESS (from {base})", value=str(control.short_address + base))
    if isinstance(control.central_address, int):
        return BigFigure(caption="CENTRAL ADDRESS (from 1)",
                         value=f"{control.central_circuit or ''}/{control.central_address}".lstrip("/"))
    return None


def _output(gear: Gear) -> BigFigure:
    channels = gear.settings.channels
    if channels[0].voltage_mv is not None:
        return BigFigure(caption="VOLTAGE", value=mv(channels[0].voltage_mv))
    currents = [c.current_ma for c in channels if c.current_ma is not None]
    value = ma(currents[0]) if len(set(currents)) == 1 else " / ".join(str(c) for c in currents) + " mA"
    return BigFigure(caption="CURRENT" if len(channels) == 1 else f"CURRENT, {len(channels)} channels", value=value)


def _mode(gears: Sequence[Gear]) -> BigFigure:
    for gear in gears:
        emergency = gear.settings.emergency
        if emergency is not None:
            mode = words(emergency.mode) if emergency.mode else "not set"
            return BigFigure(caption="MODE", value=mode.replace("-", " ") if "non" not in mode else mode)
    control = gears[0].settings.control
    return BigFigure(caption="MODE", value={"none": "switched", "dali": "DALI", "analogue-1-10v": "1–10 V",
                                            "phase-cut": "phase-cut", "switch": "switch"}
                     [words(control.protocol) if control else "none"])


def _gear_line(gear: Gear) -> str:
    channel = gear.settings.channels[0]
    parts = []
    if channel.voltage_min_mv is not None and channel.voltage_max_mv is not None:
        parts.append(f"window {mv(channel.voltage_min_mv).removesuffix(' V')}–{mv(channel.voltage_max_mv)}")
    if channel.power_max_mw is not None:
        parts.append(f"max {mw(channel.power_max_mw)}")
    return ", ".join(parts)


def _emergency_lines(gears: Sequence[Gear]) -> list[str]:
    lines = []
    for gear in gears:
        emergency = gear.settings.emergency
        if emergency is None:
            continue
        hours = f"{emergency.rated_duration_min} min"
        lines.append(f"EMERGENCY {words(emergency.mode) if emergency.mode else ''} {hours}, "
                     f"{words(emergency.supply)} supply".replace("  ", " "))
        if gear.duty is Duty.EMERGENCY_CONVERTER:
            lines.append(f"converter {_output(gear).value}, {_gear_line(gear)}")
    return lines


def content_of(session: Session, seen: View) -> LabelContent:
    """What a label says of a luminaire's newest version."""
    record, gears = seen.record, seen.record.gears
    host = session.genesis.host
    digits = seen.statement.digest[:8].hex()
    big = [_address(seen, gears[0].settings.control), _output(gears[0]), _mode(gears)]
    day = datetime.fromtimestamp(record.time_s, UTC).date().isoformat()
    where = [part for part in (f"line {record.line}" if record.line else "",
                               f"circuit {record.circuit}" if record.circuit else "") if part]
    lines = [_gear_line(gears[0]), *_emergency_lines(gears), record.place, *([", ".join(where)] if where else []),
             f"type {record.fixture_type.code} rev {record.fixture_type.revision}",
             f"version {record.version}, {day}, {seen.signer_code}",
             " ".join(digits[i : i + 4] for i in range(0, 16, 4))]
    return LabelContent(
        tag_shown=shown(seen.tag), link_text=link(host, seen.tag),
        capsule_text=capsule_text(link(host, seen.tag), seen.statement.signed_bytes),
        big=tuple(figure for figure in big if figure is not None), lines=tuple(line for line in lines if line),
        banner="PROVISIONAL – NOT APPROVED" if seen.provisional else None)


def medium_named(name: str) -> Medium:
    """A label size. Raises UsageProblem naming the sizes there are."""
    if name not in MEDIA:
        raise UsageProblem(f"There is no label size {name}.", hint=f"There is: {', '.join(MEDIA)}.", kind="bad-medium")
    return MEDIA[name]


def tags_to_print(session: Session, texts: Sequence[str], line: str | None, everything: bool) -> list[str]:
    """The tags that a command line asks for, in the order of the drawing references where all are asked for."""
    if everything or line is not None:
        rows = [row for row in queries.head_rows(session, line=line) if row.reason != Reason.RETIRED]
        rows.sort(key=lambda row: (row.reference or "", row.tag))
        return list(dict.fromkeys(row.tag for row in rows))
    return [find_tag(session, text) for text in texts]


def print_labels(desk: Desk, *, texts: Sequence[str], line: str | None, everything: bool, out: Path,
                 medium_name: str = "60x40", progress: Progress = lambda done, total: None) -> Printed:
    """Draw labels to a PDF or PNG file and sign that they were issued, together or not at all."""
    medium = medium_named(medium_name)
    desk.key()
    with desk.vault.writing() as session:
        tags = tags_to_print(session, texts, line, everything)
        if not tags:
            raise UsageProblem("No luminaire was named.", kind="not-found", hint="Give tags, --line NAME or --all.")
        seen = [view(session, tag) for tag in tags]
        for one in seen:
            require_settled(one)
        contents = [content_of(session, one) for one in seen]
        carries = _draw(out, contents, medium, progress)
        issued = tuple(
            IssuedLabel(tag=to_bytes(one.tag), record_digest=one.statement.digest[:8],
                        copy=1 + max((label.copy for label in one.labels), default=0), carries_settings=has)
            for one, has in zip(seen, carries, strict=True))
        for start in range(0, len(issued), 500):
            body = LabelIssue(time_s=desk.now_s(), medium=medium.name, labels=issued[start : start + 500])
            session.append(Kind.LABEL_ISSUE, body, desk.key())
    without = tuple(tag for tag, has in zip(tags, carries, strict=True) if not has)
    return Printed(path=out, tags=tuple(tags), without_settings=without)


def _draw(out: Path, contents: Sequence[LabelContent], medium: Medium, progress: Progress) -> list[bool]:
    if out.suffix.lower() == ".png":
        if len(contents) != 1:
            raise UsageProblem(f"A PNG holds one label, and {len(contents)} were asked for.", kind="bad-format",
                               hint="Give a file name that ends in .pdf.")
        return [write_png(out, contents[0], medium)]
    if out.suffix.lower() != ".pdf":
        raise UsageProblem(f"{out.name} is neither a PDF nor a PNG.", kind="bad-format",
                           hint="Give a file name that ends in .pdf or .png.")
    return write_pdf(out, contents, medium, progress)
