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
from vault.domain.settings import Control, Emergency, EmergencySupply, Protocol

EVERYTHING = frozenset(Holds)


def _address(script: Script, address: int, alone: bool) -> None:
    if not alone:
        script.send(general.QueryControlGearPresent(script.to),
                    f"ask whether gear answers at {address}: before the spare has this address, none may")
        return
    script.load(address << 1 | 1)
    script.send(general.SetShortAddress(GearBroadcast()),
                f"store short address {address} in every gear on the line: the spare must be the only one")


def frames_for(control: Control, emergency: Emergency | None = None, *, holds: frozenset[Holds] = EVERYTHING,
               alone: bool = False) -> tuple[Frame, ...]:
    """Frames that store, then ask for, every setting of `holds` that the record states. NOT_SET is left alone.

    alone: the gear is the only one on the line, so that it may be addressed by broadcast; without it the frames
    suppose that the spare has been given its address by itself. Empty for a protocol other than DALI, and where the
    record names no short address: then the frames have nobody to speak to.
    """
    address = control.short_address
    if control.protocol is not Protocol.DALI or not isinstance(address, int):
        return ()
    script = Script(GearShort(address))
    _address(script, address, alone and Holds.ADDRESS in holds)
    served = emergency if emergency is not None and emergency.supply is EmergencySupply.SELF_CONTAINED else None
    store_control(script, control, holds)
    if served is not None and Holds.EMERGENCY in holds:
        store_emergency(script, served)
    script.send(general.QueryControlGearPresent(script.to),
                f"ask whether gear answers at {address}: exactly one must, with FF and no framing error")
    ask_control(script, control, holds)
    if served is not None and Holds.EMERGENCY in holds:
        ask_emergency(script, served)
    return tuple(script.frames)


__all__ = ["EVERYTHING", "Frame", "frames_for"]
