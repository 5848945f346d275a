"""One bus frame, and the script that strings frames together (IEC 62386-102). The bytes are python-dali's."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dali.gear import colour, general

from vault.domain.settings import Control

UNUSED_MIREK = 0xFFFF


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """One forward frame. bytes_hex: "0B 2D". send_twice: both within 100 ms. words: what it does, or must answer."""

    bytes_hex: str
    words: str
    send_twice: bool
    expects_answer: bool


class Script:
    """Frames in the order in which they are sent."""

    def __init__(self, destination: Any) -> None:
        self.to = destination
        self.frames: list[Frame] = []

    def send(self, command: Any, words: str) -> None:
        """One command of python-dali, after the frame that names its device type."""
        if command.devicetype:
            kind = command.devicetype
            self._add(general.EnableDeviceType(kind), f"the next command is for device type {kind}")
        self._add(command, words)

    def _add(self, command: Any, words: str) -> None:
        self.frames.append(Frame(
            bytes_hex=" ".join(f"{byte:02X}" for byte in command.frame.as_byte_sequence), words=words,
            send_twice=bool(command.sendtwice), expects_answer=command.response is not None))

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
        self.send(command, f"ask for the {what}: the answer must be {answer:02X} ({meaning})")

    def ask_mirek(self, which: int, what: str, mirek: int) -> None:
        """QUERY COLOUR VALUE: the answer is the high byte, and the low byte waits in DTR0 (IEC 62386-209)."""
        self.load(which)
        self.send(colour.QueryColourValue(self.to), f"ask for the {what}: the answer must be {mirek >> 8:02X}")
        self.send(general.QueryContentDTR0(self.to), f"and its low byte {mirek & 0xFF:02X}, {mirek} mirek in all")


def scene_mirek(control: Control, scene: int) -> int | None:
    """Colour temperature stored with a scene; None where there is none (0 and 65535 in the table)."""
    listed = control.colour.scene_mirek if control.colour is not None else None
    if not isinstance(listed, tuple) or scene >= len(listed) or listed[scene] in (0, UNUSED_MIREK):
        return None
    return listed[scene]
