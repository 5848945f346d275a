"""What there is to draw of a setting: switches, dials, jumpers, plugs, a resistor, a sheet of figures."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias


@dataclass(frozen=True, slots=True, kw_only=True)
class Switches:
    """One bank of switches. numbers: those that are set, as printed on the driver, rising. on: which stand at ON.

    on_is_down: where ON is; None when the model does not say. off_limits: the other numbers of the same bank, none of
    them among `numbers`, that stay as they are. gives: "700 mA".
    """

    caption: str
    numbers: tuple[int, ...]
    on: tuple[bool, ...]
    on_is_down: bool | None
    off_limits: tuple[int, ...] = ()
    gives: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Dials:
    """Rotary switches, the highest digit first. marks: every mark round one dial in order ("0".."9" or "0".."F").

    Each of `digits` is one of `marks`.
    """

    caption: str
    digits: tuple[str, ...]
    marks: tuple[str, ...]
    gives: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """Places of a jumper, or coded plugs to choose from. chosen is one of marks. plug: it is a plug, not a jumper."""

    caption: str
    marks: tuple[str, ...]
    chosen: str
    plug: bool
    gives: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Resistor:
    """A set resistor. ohms_words: "14.3 kΩ". bands: colour code of IEC 60062 in words, ("brown", "yellow", …), or none."""

    caption: str
    ohms_words: str
    bands: tuple[str, ...]
    gives: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """A sheet of figures for a tool (NFC, bus, maker's tool): rows (setting, value)."""

    caption: str
    rows: tuple[tuple[str, str], ...]


Picture: TypeAlias = Switches | Dials | Places | Resistor | Figures
