"""Frames typed as hexadecimal bytes, sent to a simulated line one after another."""

from __future__ import annotations

from simulated_line import FRAME_MS, Reply, SimulatedLine

FULL_SEARCH = 0xFFFFFF


class Talk:
    """A line and its clock. say("A3 C8", "0B 2A x2") sends DTR0 once and SET MAX LEVEL twice, 30 ms apart."""

    def __init__(self, line: SimulatedLine) -> None:
        self.line, self.at_ms = line, 0.0

    def say(self, *frames: str) -> Reply:
        """Send them all; what came back after the last."""
        reply: Reply = None
        for text in frames:
            data, _, twice = text.partition(" x")
            for _ in range(int(twice or 1)):
                reply = self.line.forward(bytes.fromhex(data), self.at_ms)
                self.at_ms += FRAME_MS
        return reply

    def search(self, value: int) -> Reply:
        """Set the search address and COMPARE (IEC 62386-102: B1h, B3h, B5h, A9h)."""
        return self.say(f"B1 {value >> 16:02X}", f"B3 {value >> 8 & 0xFF:02X}", f"B5 {value & 0xFF:02X}", "A9 00")

    def lowest(self) -> int | None:
        """The lowest random address that still takes part, by halving; it stays selected. None where nobody answers."""
        if self.search(FULL_SEARCH) is None:
            return None
        low, high = 0, FULL_SEARCH
        while low < high:
            middle = (low + high) // 2
            low, high = (low, middle) if self.search(middle) is not None else (middle + 1, high)
        self.search(low)
        return low

    def find_all(self) -> list[int]:
        """Every random address, each withdrawn when it is found (ABh)."""
        found = []
        while (address := self.lowest()) is not None:
            self.say("AB 00")
            found.append(address)
        return found


def byte(value: int) -> bytes:
    """An answer of one byte."""
    return bytes((value,))
