"""What a luminaire's label says, from its newest version."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime

from labels.content import BigFigure, LabelContent
from vault.actions.luminaire import View
from vault.db.session import Session
from vault.domain.schema import NOT_SET, words
from vault.domain.settings import Control, Duty, EmergencySupply, Gear, Protocol
from vault.domain.tag import shown
from vault.domain.units import ma, mv, mw
from vault.errors import GearkeepError
from vault.trust.capsule import capsule_text, link

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def _address(seen: View, control: Control | None) -> BigFigure | None:
    if control is None:
        return None
    if isinstance(control.short_address, int):
        if seen.line is None and seen.record.line is not None:
            # A figure from 0 on a label that replaces one from 1 would set the wrong driver.
            raise GearkeepError(
                f"The line {seen.record.line} is not in this vault, so it cannot be told how the site numbers the address of "
                f"{shown(seen.tag)}.", kind="no-line", hint="Load it first with: gearkeep line load FILE.")
        base = seen.line.addresses_from if seen.line else 0
        return BigFigure(caption=f"ADDRESS from{NO_BREAK}{base}", value=str(control.short_address + base))
    if control.protocol is Protocol.DALI and control.short_address is NOT_SET:
        return BigFigure(caption="ADDRESS", value="not set")
    if isinstance(control.central_address, int):
        return BigFigure(caption=f"CENTRAL ADDRESS from{NO_BREAK}1",
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
            mode = words(emergency.mode).replace("switched-", "switched ")
            return f"{mode} {long.replace(' ', NO_BREAK)}"
    control = gears[0].settings.control
    return _PROTOCOL[control.protocol if control else Protocol.NONE]


def _window(gear: Gear) -> str:
    channel = gear.settings.channels[0]
    parts = []
    if channel.voltage_min_mv is not None and channel.voltage_max_mv is not None:
        parts.append(f"{_short(mv(channel.voltage_min_mv)).removesuffix(' V')}–{_short(mv(channel.voltage_max_mv))}")
    if channel.power_max_mw is not None:
        parts.append(f"≤ {_short(mw(channel.power_max_mw))}")
    return " ".join(part.replace(" ", NO_BREAK) for part in parts)


def _short(figure: str) -> str:
    """A figure with its unit, without a nought behind the point: every letter counts here."""
    return figure.replace(".0 ", " ")


def _emergency_lines(seen: View) -> list[str]:
    lines = []
    for gear in seen.record.gears:
        emergency = gear.settings.emergency
        if emergency is None:
            continue
        lines.append("central supply" if emergency.supply is EmergencySupply.CENTRAL else "own battery")
        if gear.duty is Duty.EMERGENCY_CONVERTER:
            address = _address(seen, gear.settings.control)
            lines.append(f"converter {_output(gear)}" + (f", address {address.value}" if address else ""))
    return lines


def _banner(seen: View) -> str | None:
    """What nobody may miss: not approved yet, or approved although something is not as the rating or the record says."""
    if seen.provisional:
        return "PROVISIONAL – NOT APPROVED"
    if seen.approvals:
        return f"DEVIATES: ASK {seen.approvals[-1].signer}"
    return None


def content_of(session: Session, seen: View, *, capsule_optional: bool = False) -> LabelContent:
    """What a label says of a luminaire's newest version, the most important lines first.

    capsule_optional: whether it may bear the link alone where the record finds no room.
    """
    record, gears = seen.record, seen.record.gears
    host = session.genesis.host
    address = _address(seen, gears[0].settings.control)
    big = [address, BigFigure(caption="", value=_output(gears[0])), BigFigure(caption="", value=_mode(gears))]
    signed = datetime.fromtimestamp(record.time_s, UTC)
    # With the month as a word: a date broken over two lines must not end in a figure that looks like an address.
    day = f"{signed.day}{NO_BREAK}{MONTHS[signed.month - 1]} {signed.year}"
    digest = seen.statement.digest[:8].hex()
    emergency = _emergency_lines(seen)
    lines = [record.place, *emergency, _window(gears[0])]
    return LabelContent(
        tag_shown=shown(seen.tag), link_text=link(host, seen.tag),
        capsule_text=capsule_text(link(host, seen.tag), seen.statement.signed_bytes),
        big=tuple(figure for figure in big if figure is not None), lines=tuple(line for line in lines if line),
        digest=" ".join(digest[i : i + 4] for i in range(0, 16, 4)), marks=(f"v{record.version}", day),
        banner=_banner(seen), must=1 + len(emergency), capsule_optional=capsule_optional,
        extras=(*((f"line {record.line}",) if record.line else ()), f"type {record.fixture_type.code}"))
