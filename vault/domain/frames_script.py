"""One bus frame, and the script that strings frames together (IEC 62386-102). The bytes are python-dali's."""

from __future__ import annotations

from dataclasses import dataclass
from dataclasses import field as dataclass_field
from typing import Any

from dali.gear import colour, general

from vault.domain.settings import Control

UNUSED_MIREK = 0xFFFF


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """One forward frame. bytes_hex: "0B 2D". send_twice: both within 100 ms. words: what it does, or must answer.

    command: the same as python-dali's object, which a gateway sends. field: dotted path of the setting that it serves,
    as in the record ("control.min_level", "emergency.prolong_s"; one scene or half of the groups as
    "control.scenes.3", "control.groups.8"); "" for a frame that serves none. answer: the byte that the record asks
    for, in the bits of answer_mask; None where nothing is compared.
    """

    bytes_hex: str
    words: str
    send_twice: bool
    expects_answer: bool
    field: str = ""
    answer: int | None = None
    answer_mask: int = 0xFF
    command: Any = dataclass_field(compare=False, repr=False)


class Script:
    """Frames in the order in which they are sent. path: where the control data stand in the record."""

    def __init__(self, destination: Any, path: str = "control") -> None:
        self.to = destination
        self.path = path
        self.frames: list[Frame] = []
        self._field = ""

    def about(self, name: str) -> None:
        """What the frames that follow serve: a field of the control data, a whole path, or "" for none."""
        self._field = name if not name or name.startswith("emergency.") else f"{self.path}.{name}"

    def send(self, command: Any, words: str, answer: int | None = None, mask: int = 0xFF) -> None:
        """One command of python-dali, after the frame that names its device type."""
        if command.devicetype:
            kind = command.devicetype
            self._add(general.EnableDeviceType(kind), f"the next command is for device type {kind}")
        self._add(command, words, answer, mask)

    def _add(self, command: Any, words: str, answer: int | None = None, mask: int = 0xFF) -> None:
        self.frames.append(frame_of(command, words, self._field, answer, mask))

    def load(self, value: int) -> None:
        """A value into DTR0, for the command that follows."""
        self._add(general.DTR0(value), f"load {value} into DTR0")

    def store(self, command: Any, value: int, words: str) -> None:
        """Load a value and have the command store it."""
        self.load(value)
        self.send(command, words)

    def load_mirek(self, mirek: int) -> None:
        """A colour temperature into DTR0 (low byte) and DTR1 (high byte)."""
        self.load(mirek & 0xFF)
        self._add(general.DTR1(mirek >> 8), f"load {mirek >> 8} into DTR1: {mirek} mirek")

    def ask(self, command: Any, what: str, answer: int, shown: str = "") -> None:
        """A query with the answer that the record asks for."""
        meaning = f"{answer}{f', {shown}' if shown else ''}"
        self.send(command, f"ask for the {what}: the answer must be {answer:02X} ({meaning})", answer)

    def ask_mirek(self, which: int, what: str, mirek: int) -> None:
        """QUERY COLOUR VALUE: the answer is the high byte, and the low byte waits in DTR0 (IEC 62386-209)."""
        self.load(which)
        self.send(colour.QueryColourValue(self.to), f"ask for the {what}: the answer must be {mirek >> 8:02X}", mirek >> 8)
        self.send(general.QueryContentDTR0(self.to), f"and its low byte {mirek & 0xFF:02X}, {mirek} mirek in all",
                  mirek & 0xFF)


def frame_of(command: Any, words: str, field: str = "", answer: int | None = None, mask: int = 0xFF) -> Frame:
    """One command of python-dali as a frame."""
    return Frame(bytes_hex=" ".join(f"{byte:02X}" for byte in command.frame.as_byte_sequence), words=words,
                 send_twice=bool(command.sendtwice), expects_answer=command.response is not None, field=field,
                 answer=answer, answer_mask=mask, command=command)


def scene_mirek(control: Control, scene: int) -> int | None:
    """Colour temperature stored with a scene; None where there is none (0 and 65535 in the table)."""
    listed = control.colour.scene_mirek if control.colour is not None else None
    if not isinstance(listed, tuple) or scene >= len(listed) or listed[scene] in (0, UNUSED_MIREK):
        return None
    return listed[scene]
