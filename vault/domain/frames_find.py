"""Frames that find the spare on a line and give it its address (IEC 62386-102), as they are printed in a dry run.

What is sent depends on the random address that the spare draws; the printed search shows one.
"""

from __future__ import annotations

from dali.gear import general

from vault.domain.frames_script import Frame, frame_of

# Any random address would do: this one shows three different bytes.
_EXAMPLE = 0x4A9F03
_HALF = 0x7FFFFF
TOP = 0xFFFFFF


def search_bytes(value: int) -> tuple[general.SetSearchAddrH, general.SetSearchAddrM, general.SetSearchAddrL]:
    """The three commands that set the 24-bit search address."""
    return (general.SetSearchAddrH(value >> 16), general.SetSearchAddrM(value >> 8 & 0xFF),
            general.SetSearchAddrL(value & 0xFF))


def frames_to_find(address: int, *, initialise: general.Initialise, whom: str) -> tuple[Frame, ...]:
    """INITIALISE to TERMINATE for one spare. whom: "the gear that has no address"."""
    top, half, found = search_bytes(TOP), search_bytes(_HALF), search_bytes(_EXAMPLE)
    rows = [
        (general.Terminate(), "end any addressing that was left open"),
        (initialise, f"let {whom} take part for 15 minutes; no other gear listens to what follows"),
        (general.Randomise(), "each of them draws a random address of 24 bits; wait 100 ms"),
        *((one, f"search address {TOP:06X}, {which} byte") for one, which in zip(top, _BYTES, strict=True)),
        (general.Compare(), "is anybody at or below it? Any answer means yes: the spare is there"),
        *((one, f"search address {_HALF:06X}, {which} byte") for one, which in zip(half, _BYTES, strict=True)),
        (general.Compare(), "is anybody at or below it? Yes: look in the lower half. No, twice: in the upper half. "
                            "So on, until one number is left after 24 questions"),
        *((one, f"search address {_EXAMPLE:06X}, which here is the number left, {which} byte")
          for one, which in zip(found, _BYTES, strict=True)),
        (general.Compare(), f"yes here, and no at {_EXAMPLE - 1:06X}: {_EXAMPLE:06X} is the spare's random address"),
        (general.QueryShortAddress(), "ask the one found for its short address: FF, it has none, unless it is a used one"),
        (general.Withdraw(), "it answers no more questions of the search"),
        *((one, f"search address {TOP:06X}, {which} byte") for one, which in zip(top, _BYTES, strict=True)),
        (general.Compare(), "is there another? Nobody may answer; the search is done twice with new random addresses"),
        *((one, f"select the spare by its random address {_EXAMPLE:06X}, {which} byte")
          for one, which in zip(found, _BYTES, strict=True)),
        (general.ProgramShortAddress(address), f"store short address {address} in the one selected and in no other"),
        (general.VerifyShortAddress(address), f"the one selected must answer FF: it has short address {address}"),
        (general.Terminate(), "end the addressing"),
    ]
    return tuple(frame_of(command, words) for command, words in rows)


_BYTES = ("high", "middle", "low")
