"""What one spare is to be told over the bus: for each address of a gear, what is stored there and asked afterwards."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

from dali.address import GearShort
from dali.gear import general

from vault.bus.search import UNADDRESSED, Where, Whom
from vault.domain.apply_means import ON_THE_BUS, controls_of, means_for, wanted_of
from vault.domain.driver import DriverModel, Holds, Way
from vault.domain.fields import address_words, label_of
from vault.domain.frames import Frame, asks_for, stores_for
from vault.domain.frames_find import frames_to_find
from vault.domain.frames_script import frame_of
from vault.domain.settings import Control, Gear, Protocol
from vault.domain.site import Line
from vault.errors import GearkeepError


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """One address of the gear. path: of its control data in the record ("control", "channels.2.control").

    given: the address is given over the bus; otherwise the spare has it by another means, a rotary switch for one.
    """

    path: str
    address: int
    given: bool
    stores: tuple[Frame, ...]
    asks: tuple[Frame, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """Everything that goes over the bus for one gear. line: gives the site's numbering of addresses, if it is known."""

    targets: tuple[Target, ...]
    line: Line | None

    @property
    def addresses(self) -> tuple[int, ...]:
        """Short addresses as on the bus."""
        return tuple(target.address for target in self.targets)

    @property
    def digest(self) -> str:
        """16 hexadecimal digits that tell this job from any other: SHA-256 over its addresses and frames."""
        rows = [(target.address, target.given, [(f.bytes_hex, f.field, f.answer) for f in (*target.stores, *target.asks)])
                for target in self.targets]
        return hashlib.sha256(repr(rows).encode()).hexdigest()[:16]

    def said(self, address: int) -> str:
        """An address in the site's numbering."""
        return address_words(address, self.line)


def field_words(path: str) -> str:
    """The field of a frame as people say it: "level of scene 3", "channel 2 minimum level"."""
    head, _, last = path.rpartition(".")
    name = head.rpartition(".")[2]
    if name == "scenes":
        return f"level of scene {last}"
    if name == "scene_mirek":
        return f"colour temperature of scene {last}"
    if name == "groups":
        return f"groups {last} to {int(last) + 7}"
    if path == "emergency.inhibited":
        return "emergency inhibit"
    return label_of(path)


def _holds(gear: Gear, spare: DriverModel, control: Control) -> frozenset[Holds]:
    own = gear.settings.control
    return frozenset(
        wanted.holds for wanted in wanted_of(gear.settings)
        if wanted.holds in ON_THE_BUS and (wanted.control if wanted.control is not None else own) is control
        and (means := means_for(spare, wanted, gear.settings)) is not None and means.way is Way.BUS)


def job_for(gear: Gear, spare: DriverModel, line: Line | None = None) -> Job:
    """The job for one gear and one spare; which settings go over the bus follows from the spare's means.

    Raises GearkeepError: nothing-for-the-bus, two-at-address (two channels of the record at one address).
    """
    targets: list[Target] = []
    for path, control in controls_of(gear.settings):
        holds = _holds(gear, spare, control)
        if not holds or control.protocol is not Protocol.DALI or not isinstance(control.short_address, int):
            continue
        emergency = gear.settings.emergency if control is gear.settings.control else None
        targets.append(Target(path=path, address=control.short_address, given=Holds.ADDRESS in holds,
                              stores=stores_for(control, emergency, holds=holds, path=path),
                              asks=asks_for(control, emergency, holds=holds, path=path)))
    if not targets:
        raise GearkeepError("Nothing of this gear goes over the bus: the record names no short address, or the spare has "
                            "no bus means for it.", hint="Set it by the other means of the steps.",
                            kind="nothing-for-the-bus")
    job = Job(targets=tuple(targets), line=line)
    twice = {address for address in job.addresses if job.addresses.count(address) > 1}
    if twice:
        raise GearkeepError(f"The record gives {job.said(min(twice))} to two channels of this gear.",
                            hint="Correct the record first: one address can be given to one channel.",
                            kind="two-at-address")
    return job


def dry_run(job: Job, found: Where = UNADDRESSED) -> tuple[Frame, ...]:
    """Every frame of the job in order, the search with one worked example. Nothing is sent."""
    whom = {Whom.UNADDRESSED: "the gear that has no address", Whom.ALONE: "all gear: the spare must be the only one",
            Whom.AT: f"the gear at {job.said(found.address or 0)}"}[found.whom]
    frames: list[Frame] = []
    for target in job.targets:
        present = general.QueryControlGearPresent(GearShort(target.address))
        if target.given:
            frames.append(frame_of(present, f"ask whether gear answers at {job.said(target.address)}: none may. A search "
                                            "of this address alone proves it", f"{target.path}.short_address"))
            frames.extend(frames_to_find(target.address, initialise=found.initialise, whom=whom))
        frames.extend((*target.stores, *target.asks))
    return tuple(frames)
