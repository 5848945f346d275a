"""Labels: what stands on them, printing them, and signing that they were printed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from labels.boxes import Layout
from labels.content import BigFigure, LabelContent
from labels.drawing import quiet, write_pdf, write_png
from labels.media import MEDIA, Medium
from vault.actions.desk import Desk
from vault.actions.luminaire import View, find_tag, require_settled, view
from vault.db import queries
from vault.db.session import Session
from vault.domain.record import Reason
from vault.domain.schema import NOT_SET, words
from vault.domain.settings import Control, Duty, EmergencySupply, Gear, Protocol
from vault.domain.tag import shown, to_bytes
from vault.domain.units import ma, mv, mw
from vault.errors import UsageProblem
from vault.trust.capsule import capsule_text, link
from vault.trust.statements import IssuedLabel, Kind, LabelIssue

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Printed:
    """Labels that were drawn and signed for.

    without_settings: tags whose settings did not fit into the code. left_off: (tag, small lines that found no room).
    """

    path: Path
    tags: tuple[str, ...]
    without_settings: tuple[str, ...]
    left_off: tuple[tuple[str, tuple[str, ...]], ...]


def _address(seen: View, control: Control | None) -> BigFigure | None:
    if control is None:
        return None
    if isinstance(control.short_address, int):
        base = seen.line.addresses_from if seen.line else 0
        return BigFigure(caption=f"ADDRESS (from {base})", value=str(control.short_address + base))
    if isinstance(control.central_address, int):
        return BigFigure(caption="CENTRAL ADDR (from 1)",
                         value=f"{control.central_circuit or ''}/{control.central_address}".lstrip("/"))
    return None


def _output(gear: Gear) -> str:
    channels = gear.settings.channels
    if channels[0].voltage_mv is not None:
        return f"{mv(channels[0].voltage_mv)} constant"
    currents = [c.current_ma for c in channels if c.current_ma is not None]
    return ma(currents[0]) if len(currents) == 1 else " / ".join(str(c) for c in currents) + " mA"


NO_BREAK = "\u00a0"
_PROTOCOL = {Protocol.NONE: "switched", Protocol.DALI: "DALI", Protocol.ANALOGUE_1_10V: "1–10 V",
             Protocol.PHASE_CUT: "phase-cut", Protocol.SWITCH: "switched"}


def _mode(gears: Sequence[Gear]) -> str:
    for gear in gears:
        emergency = gear.settings.emergency
        if emergency is not None and emergency.mode is not NOT_SET:
            whole_hours = emergency.rated_duration_min % 60 == 0
            long = f"{emergency.rated_duration_min // 60} h" if whole_hours else f"{emergency.rated_duration_min} min"
            return f"{words(emergency.mode)} {long.replace(' ', NO_BREAK)}"
    control = gears[0].settings.control
    return _PROTOCOL[control.protocol if control else Protocol.NONE]


def _window(gear: Gear) -> str:
    channel = gear.settings.channels[0]
    parts = []
    if channel.voltage_min_mv is not None and channel.voltage_max_mv is not None:
        parts.append(f"{mv(channel.voltage_min_mv).removesuffix(' V')}–{mv(channel.voltage_max_mv).replace(' ', NO_BREAK)}")
    if channel.power_max_mw is not None:
        parts.append(f"≤{NO_BREAK}{mw(channel.power_max_mw).replace(' ', NO_BREAK)}")
    return " ".join(parts)


def _emergency_lines(gears: Sequence[Gear]) -> list[str]:
    lines = []
    for gear in gears:
        emergency = gear.settings.emergency
        if emergency is None:
            continue
        lines.append("central supply" if emergency.supply is EmergencySupply.CENTRAL else "own battery")
        if gear.duty is Duty.EMERGENCY_CONVERTER:
            lines.append(f"converter {_output(gear)}")
    return lines


def _banner(seen: View) -> str | None:
    """What nobody may miss: not approved yet, or approved although something is not as the rating or the record says."""
    if seen.provisional:
        return "PROVISIONAL – NOT APPROVED"
    if seen.approvals:
        return f"DEVIATES: ASK {seen.approvals[-1].signer}"
    return None


def content_of(session: Session, seen: View) -> LabelContent:
    """What a label says of a luminaire's newest version, the most important lines first."""
    record, gears = seen.record, seen.record.gears
    host = session.genesis.host
    big = [_address(seen, gears[0].settings.control), BigFigure(caption="", value=_output(gears[0])),
           BigFigure(caption="", value=_mode(gears))]
    day = datetime.fromtimestamp(record.time_s, UTC).date().isoformat()
    digest = seen.statement.digest[:8].hex()
    groups = " ".join(digest[i : i + 4] for i in range(0, 16, 4))
    lines = [f"v{record.version} {groups}", record.place, *_emergency_lines(gears),
             _window(gears[0]), f"line {record.line}" if record.line else "",
             f"cct {record.circuit}" if record.circuit else "",
             f"{day} {seen.signer_code} {record.fixture_type.code}/{record.fixture_type.revision}"]
    return LabelContent(
        tag_shown=shown(seen.tag), link_text=link(host, seen.tag),
        capsule_text=capsule_text(link(host, seen.tag), seen.statement.signed_bytes),
        big=tuple(figure for figure in big if figure is not None), lines=tuple(line for line in lines if line),
        banner=_banner(seen), must=2)


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
                 medium_name: str = "60x40", progress: Progress = quiet) -> Printed:
    """Draw labels to a PDF or PNG file and sign that they were issued, together or not at all."""
    medium = medium_named(medium_name)
    desk.key()
    with desk.vault.writing() as session:
        tags = tags_to_print(session, texts, line, everything)
        if not tags and line is not None:
            raise UsageProblem(f"No luminaire in service is on the line {line}.", kind="not-found",
                               hint="See the lines with: gearkeep line list.")
        if not tags:
            raise UsageProblem("No luminaire was named.", kind="not-found", hint="Give tags, --line NAME or --all.")
        seen = [view(session, tag) for tag in tags]
        for one in seen:
            require_settled(one)
        contents = [content_of(session, one) for one in seen]
        layouts = _draw(out, contents, medium, progress)
        carries = [layout.carries_settings for layout in layouts]
        issued = tuple(
            IssuedLabel(tag=to_bytes(one.tag), record_digest=one.statement.digest[:8],
                        copy=1 + max((label.copy for label in one.labels), default=0), carries_settings=has)
            for one, has in zip(seen, carries, strict=True))
        for start in range(0, len(issued), 500):
            body = LabelIssue(time_s=desk.now_s(), medium=medium.name, labels=issued[start : start + 500])
            session.append(Kind.LABEL_ISSUE, body, desk.key())
    without = tuple(tag for tag, has in zip(tags, carries, strict=True) if not has)
    left_off = tuple((tag, layout.left_off) for tag, layout in zip(tags, layouts, strict=True) if layout.left_off)
    return Printed(path=out, tags=tuple(tags), without_settings=without, left_off=left_off)


def _draw(out: Path, contents: Sequence[LabelContent], medium: Medium, progress: Progress) -> list[Layout]:
    if out.suffix.lower() == ".png":
        if len(contents) != 1:
            raise UsageProblem(f"A PNG holds one label, and {len(contents)} were asked for.", kind="bad-format",
                               hint="Give a file name that ends in .pdf.")
        return [write_png(out, contents[0], medium)]
    if out.suffix.lower() != ".pdf":
        raise UsageProblem(f"{out.name} is neither a PDF nor a PNG.", kind="bad-format",
                           hint="Give a file name that ends in .pdf or .png.")
    return write_pdf(out, contents, medium, progress)
