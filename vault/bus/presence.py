"""What stands on a line: who answers, and what they have stored, so that a change among neighbours is seen."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from dali.address import GearShort
from dali.gear import general

from vault.bus.port import Heard, Port
from vault.bus.search import Tell, ask

_LEVELS = (
    ("maximum level", general.QueryMaxLevel), ("minimum level", general.QueryMinLevel),
    ("power-on level", general.QueryPowerOnLevel), ("system-failure level", general.QuerySystemFailureLevel),
    ("fade time and rate", general.QueryFadeTimeFadeRate), ("extended fade time", general.QueryExtendedFadeTime))
_GROUPS = (general.QueryGroupsZeroToSeven, general.QueryGroupsEightToFifteen)
_GARBLED = -1
_MORE_TYPES, _NO_TYPE = 255, 254


@dataclass(frozen=True, slots=True, kw_only=True)
class Neighbour:
    """One short address. A figure is a byte, None where nobody answers, -1 where several answer differently.

    levels: as `levels_named` names them. scenes: first 16 hexadecimal digits of SHA-256 over the sixteen levels.
    """

    device_types: tuple[int, ...]
    groups: tuple[int | None, ...]
    scenes: str
    levels: tuple[int | None, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Snapshot:
    """Who answers at which of the addresses asked, and with what."""

    asked: tuple[int, ...]
    there: Mapping[int, Neighbour]


def levels_named(one: Neighbour) -> dict[str, int | None]:
    """The levels of a neighbour under their names."""
    return {name: level for (name, _), level in zip(_LEVELS, one.levels, strict=True)}


def _byte(port: Port, command: Any) -> int | None:
    answer = ask(port, command)
    return _GARBLED if answer.heard is Heard.GARBLED else answer.value


def answers(port: Port, address: int) -> bool:
    """Whether anybody at all answers at the address."""
    return ask(port, general.QueryControlGearPresent(GearShort(address))).yes


def device_types(port: Port, address: int) -> tuple[int, ...]:
    """Device types of one gear, in order (IEC 62386-102: 254 for none, 255 for several)."""
    to = GearShort(address)
    first = _byte(port, general.QueryDeviceType(to))
    if first is None or first == _NO_TYPE:
        return ()
    if first != _MORE_TYPES:
        return (first,)
    found: list[int] = []
    # Twice nothing would skip one; then the list is read shorter, never longer.
    while len(found) < _NO_TYPE and (kind := _next_type(port, to)) not in (None, _NO_TYPE, *found):
        found.append(kind if kind is not None else _GARBLED)
    return tuple(found)


def _next_type(port: Port, to: GearShort) -> int | None:
    answer = port.send(general.QueryNextDeviceType(to))
    return _GARBLED if answer.heard is Heard.GARBLED else answer.value


def neighbour(port: Port, address: int) -> Neighbour:
    """What one gear has stored."""
    to = GearShort(address)
    scenes = [_byte(port, general.QuerySceneLevel(to, scene)) for scene in range(16)]
    return Neighbour(
        device_types=device_types(port, address), groups=tuple(_byte(port, query(to)) for query in _GROUPS),
        scenes=hashlib.sha256(repr(scenes).encode()).hexdigest()[:16],
        levels=tuple(_byte(port, query(to)) for _, query in _LEVELS))


def neighbours(port: Port, addresses: Iterable[int], tell: Tell | None = None) -> Snapshot:
    """Ask every address; whoever answers is asked for what it has stored."""
    asked = tuple(addresses)
    there: dict[int, Neighbour] = {}
    for number, address in enumerate(asked, 1):
        if answers(port, address):
            there[address] = neighbour(port, address)
        if tell is not None and number % 8 == 0:
            tell(f"{number} of {len(asked)} addresses asked, {len(there)} gear answer")
    return Snapshot(asked=asked, there=there)


def asked_again(port: Port, before: Snapshot, after: Snapshot) -> Snapshot:
    """The second snapshot, with every address that differs read once more: a lost answer is no change."""
    there = dict(after.there)
    for address in set(before.there) | set(after.there):
        for _ in range(2):
            if before.there.get(address) == there.get(address):
                break
            there.pop(address, None)
            if answers(port, address):
                there[address] = neighbour(port, address)
    return replace(after, there=there)


def changed(before: Snapshot, after: Snapshot) -> dict[int, tuple[str, ...]]:
    """Address to what differs there, in words."""
    found: dict[int, tuple[str, ...]] = {}
    for address in sorted(set(before.there) | set(after.there)):
        old, new = before.there.get(address), after.there.get(address)
        if old is None or new is None:
            found[address] = ("answers, and did not before",) if old is None else ("does not answer any more",)
        elif old != new:
            found[address] = tuple(_differences(old, new))
    return found


def _differences(old: Neighbour, new: Neighbour) -> Iterable[str]:
    for what, was, now in (("device types", old.device_types, new.device_types), ("groups", old.groups, new.groups)):
        if was != now:
            yield f"{what} {_said(was)} before, now {_said(now)}"
    if old.scenes != new.scenes:
        yield "scene levels are others"
    held = levels_named(new)
    for what, level in levels_named(old).items():
        if level != held[what]:
            yield f"{what} {_said((level,))} before, now {_said((held[what],))}"


def _said(values: Iterable[int | None]) -> str:
    words = {None: "no answer", _GARBLED: "several answers"}
    return ", ".join(words[one] if one in words else str(one) for one in values) or "none"
