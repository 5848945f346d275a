"""Bus frames (IEC 62386) that store the settings of one gear and ask for each of them again.

Every frame speaks to one short address. The only broadcast is the one that gives the address, and it is there only
where the caller says that the gear is alone on the line: other gear is never addressed anew.
"""

from __future__ import annotations

from dali.address import GearBroadcast, GearShort
from dali.gear import general

from vault.domain.driver import Holds
from vault.domain.frames_ask import ask_control
from vault.domain.frames_emergency import ask_emergency, store_emergency
from vault.domain.frames_script import Frame, Script
from vault.domain.frames_store import store_control
from vault.domain.levels import MASK
from vault.domain.settings import Control, Emergency, EmergencySupply, Protocol

EVERYTHING = frozenset(Holds)


def _address(script: Script, address: int, alone: bool) -> None:
    script.about("short_address")
    if not alone:
        script.send(general.QueryControlGearPresent(script.to),
                    f"ask whether gear answers at {address}: before the spare has this address, none may")
        return
    script.load(address << 1 | 1)
    script.send(general.SetShortAddress(GearBroadcast()),
                f"store short address {address} in every gear on the line: the spare must be the only one")


def frames_for(control: Control, emergency: Emergency | None = None, *, holds: frozenset[Holds] = EVERYTHING,
               alone: bool = False, path: str = "control") -> tuple[Frame, ...]:
    """Frames that store, then ask for, every setting of `holds` that the record states. NOT_SET is left alone.

    alone: the gear is the only one on the line, so that it may be addressed by broadcast; without it the frames
    suppose that the spare has been given its address by itself. path: where `control` stands in the record. Empty
    for a protocol other than DALI, and where the record names no short address: then there is nobody to speak to.
    """
    address = control.short_address
    if control.protocol is not Protocol.DALI or not isinstance(address, int):
        return ()
    script = Script(GearShort(address), path)
    _address(script, address, alone and Holds.ADDRESS in holds)
    return (*script.frames, *stores_for(control, emergency, holds=holds, path=path),
            *asks_for(control, emergency, holds=holds, path=path))


def stores_for(control: Control, emergency: Emergency | None, *, holds: frozenset[Holds],
               path: str = "control") -> tuple[Frame, ...]:
    """Those of the frames that store. The control data must name a short address."""
    script = Script(GearShort(control.short_address), path)
    store_control(script, control, holds)
    if emergency is not None and _served(emergency, holds):
        store_emergency(script, emergency)
    return tuple(script.frames)


def asks_for(control: Control, emergency: Emergency | None, *, holds: frozenset[Holds],
             path: str = "control") -> tuple[Frame, ...]:
    """Those of the frames that ask, each with the answer that the record asks for."""
    script = Script(GearShort(control.short_address), path)
    script.about("short_address")
    script.send(general.QueryControlGearPresent(script.to), f"ask whether gear answers at {control.short_address}: "
                "exactly one must, with FF and no framing error", MASK)
    ask_control(script, control, holds)
    if emergency is not None and _served(emergency, holds):
        ask_emergency(script, emergency)
    return tuple(script.frames)


def _served(emergency: Emergency, holds: frozenset[Holds]) -> bool:
    return emergency.supply is EmergencySupply.SELF_CONTAINED and Holds.EMERGENCY in holds


__all__ = ["EVERYTHING", "Frame", "asks_for", "frames_for", "stores_for"]
