"""The steps of a plan, in the order in which they are done on the ladder."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from vault.domain.apply_current import CurrentWay, off_words
from vault.domain.apply_means import ON_THE_BUS, Wanted, offered, position_of
from vault.domain.apply_words import position_words
from vault.domain.cautions import retests_for
from vault.domain.driver import DriverModel
from vault.domain.fields import LEAVE, address_words
from vault.domain.means import HAND_WAYS, Holds, Means, Way
from vault.domain.rating import Rating
from vault.domain.schema import words
from vault.domain.settings import Gear
from vault.domain.site import Line
from vault.domain.units import ma, mm

Draft: TypeAlias = tuple[str, str, str]

# IEC 62386-102 and its neighbours have no command for either, so the readback says how the figure is known.
_PROOF = "No standard bus command can set or read {what}. Prove it: {how}, or measure the output with a meter."
_PROVE_HAND = "photograph what was set or fitted"
_PROVE_SHEET = "keep the parameter sheet that was written"


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """One gear, one spare, and which means takes which setting.

    currents: one for each channel that states a current. missing: settings that no means takes. left: settings that
    stay as the driver has them.
    """

    gear: Gear
    spare: DriverModel
    line: Line | None
    alone: bool
    currents: Sequence[CurrentWay | None]
    taken: Sequence[tuple[Wanted, Means]]
    missing: Sequence[Wanted]
    rating: Rating | None = None
    left: Sequence[Wanted]

    def current_rows(self) -> list[tuple[str, int, CurrentWay | None]]:
        """(label, wanted mA, way) of each channel that states a current."""
        channels = self.gear.settings.channels
        stated = [(number, channel.current_ma) for number, channel in enumerate(channels, 1)
                  if channel.current_ma is not None]
        return [(f"Channel {number} current" if len(channels) > 1 else "Current", wanted, way)
                for (number, wanted), way in zip(stated, self.currents, strict=False)]

    def said(self, wanted: Wanted) -> str:
        """One line of a sheet; an address in the site's numbering."""
        value = wanted.field.value
        if wanted.field.name == "short_address" and isinstance(value, int):
            return f"{wanted.field.label}: {address_words(value, self.line)}"
        return wanted.said


def steps_of(chosen: Chosen, has_frames: bool) -> Iterator[Draft]:
    """(means, text, detail) of every step."""
    yield ("hands", "Photograph the old driver before you loosen anything: its label, its switches and every wire.", "")
    yield from _currents(chosen)
    yield from _by_nfc(chosen)
    yield from _by_hand(chosen)
    yield from _wiring(chosen)
    yield from _by_bus(chosen, has_frames)
    yield from _left(chosen)
    yield ("readback", "Read every setting back from the driver and hold it against the record. A write that was cut "
           "short looks finished and is not. Whatever differs needs a second signer.", "")
    yield ("test", "Test again before you leave. The local rules decide what has to be tested.",
           "\n".join(retests_for(chosen.gear, chosen.rating)))


def _currents(chosen: Chosen) -> Iterator[Draft]:
    rows = [(label, way) for label, _, way in chosen.current_rows() if way is not None and way.text]
    alike = len(rows) > 1 and len({(way.means, way.text) for _, way in rows}) == 1
    for label, way in rows[:1] if alike else rows:
        where = "Every channel" if alike else label.removesuffix(" current") if len(chosen.currents) > 1 else ""
        text = f"{where}: {way.text[:1].lower()}{way.text[1:]}" if where else way.text
        supply = "With the supply off." if way.means.mains_off else ""
        proof = _PROOF.format(what="the current", how=_PROVE_HAND)
        yield words(way.means.way), text, "\n".join(line for line in (supply, way.detail, proof) if line)


def _by_nfc(chosen: Chosen) -> Iterator[Draft]:
    means = next((one for one in chosen.spare.means if one.way is Way.NFC), None)
    rows = _number_rows(chosen, Way.NFC) + [chosen.said(one) for one, by in chosen.taken if by.way is Way.NFC]
    if means is None or not rows:
        return
    supply = "Look up whether the supply must be off. Hold"
    if means.mains_off is not None:
        supply = "With the supply off, hold" if means.mains_off else "Hold"
    near = f"within {mm(means.distance_mm)} of" if means.distance_mm is not None else "close to"
    still = f"for at least {means.write_ms / 1000:.1f} s" if means.write_ms is not None else "until it reports the end"
    yield ("nfc", f"{supply} the NFC tool {near} the mark on the driver and keep it still {still}. Write this sheet, "
           "then read it back at once: a write that was cut short is unfinished.",
           "\n".join((*rows, *_sheet_proof(chosen, Way.NFC))))


def _sheet_proof(chosen: Chosen, way: Way) -> list[str]:
    whats = [what for what, there in (
        ("the current", bool(_number_rows(chosen, way))),
        ("the voltage and power limits", any(one.holds is Holds.VOLTAGE for one, by in chosen.taken if by.way is way)))
        if there]
    return [_PROOF.format(what=" or ".join(whats), how=_PROVE_SHEET)] if whats else []


def _number_rows(chosen: Chosen, way: Way) -> list[str]:
    rows = [(label.lower(), wanted, found.gives_ma) for label, wanted, found in chosen.current_rows()
            if found is not None and not found.text and found.means.way is way]
    return [f"{label}: {ma(gives)}" if gives == wanted else
            f"{label}: {ma(gives)}, {off_words(gives, wanted)} the recorded {ma(wanted)}"
            for label, wanted, gives in rows]


def _by_hand(chosen: Chosen) -> Iterator[Draft]:
    for one, means in chosen.taken:
        if means.way not in HAND_WAYS:
            continue
        position, name = position_of(means, one), one.field.name
        if position is None:
            yield words(means.way), f"Set by the {words(means.way)}, as the driver's instructions say: {one.said}.", ""
            continue
        shown = one.said if name not in ("short_address", "central_address") else (
            address_words(one.field.value, chosen.line) if name == "short_address"
            else f"central battery address {one.field.value}")
        text, about = position_words(means, position)
        supply = ["With the supply off."] if means.mains_off else []
        proof = [_PROOF.format(what="it", how=_PROVE_HAND)] if one.holds is Holds.VOLTAGE else []
        yield words(means.way), f"For {shown}: {text[:1].lower()}{text[1:]}", "\n".join((*supply, *about, *proof))
    for one in chosen.missing:
        if offered(chosen.spare, one):
            yield ("hands", f"Set as the driver's instructions say: {one.said}. The spare offers it, but the driver "
                   "model does not say how it is set.", "")


def _wiring(chosen: Chosen) -> Iterator[Draft]:
    colours = [f"channel {number}: {words(channel.colour)}"
               for number, channel in enumerate(chosen.gear.settings.channels, 1) if channel.colour is not None]
    yield ("hands", "Fit the spare. Connect the light source and the battery, if there is one, before the supply; then "
           "close every cover.", "\n".join(colours))
    extras = [f"{name}: {value}" for name, value in chosen.gear.settings.extras]
    if extras:
        yield ("hands", "These stand on record word for word, and it is not known here what they mean. Set those that "
               "you understand.", "\n".join(extras))


def _by_bus(chosen: Chosen, has_frames: bool) -> Iterator[Draft]:
    rows = [(chosen.said(one), one) for one, means in chosen.taken if means.way is Way.BUS]
    framed = [said for said, one in rows if one.holds in ON_THE_BUS]
    if framed and has_frames:
        yield from _addressing(chosen)
        yield ("bus", "Store this in the spare, then ask for every value and compare the answers: gearkeep bus set, or the "
               "bus frames in their order.", "\n".join(framed))
    elif framed:
        yield ("bus", "The record names no short address, so no frame can name the gear. Set this with the "
               "commissioning tool, at the gear alone.", "\n".join(framed))
    others = _number_rows(chosen, Way.BUS) + [said for said, one in rows if one.holds not in ON_THE_BUS]
    if others:
        yield ("bus", "Set this with the maker's tool over the bus: no standard frame stores it.",
               "\n".join((*others, *_sheet_proof(chosen, Way.BUS))))


def _addressing(chosen: Chosen) -> Iterator[Draft]:
    addresses = [address_words(one.field.value, chosen.line) for one, means in chosen.taken
                 if means.way is Way.BUS and one.field.name == "short_address"]
    if not addresses:
        return
    said = " and ".join(addresses)
    if chosen.alone:
        yield ("bus", f"Make sure that the spare is the only gear on this bus: the frames give {said} to every gear "
               "that hears them.", "")
        return
    yield ("bus", f"Give the spare {said}: first the search for gear at {'that address' if len(addresses) == 1 else 'these'}; "
           "none may answer, the old driver is gone. Then the spare, the one gear on the line without an address, is found "
           "by search and selected alone.",
           "gearkeep bus set does all of it, stores the settings below and asks for each.\n"
           "By hand: select the spare alone with the commissioning tool. Never let it address the whole line anew.")


def _left(chosen: Chosen) -> Iterator[Draft]:
    if chosen.left:
        yield "hands", f"{LEAVE[:1].upper()}{LEAVE[1:]}:", "\n".join(one.field.label for one in chosen.left)
