"""The two-dimensional codes: explicit segments, level raised where it costs nothing."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from qrcode import constants, util

from labels.codewords import codewords, least_version
from labels.errors import LabelError
from labels.masks import draw

QUIET_MODULES = 4  # ISO/IEC 18004: four modules on every side
LEVELS: dict[str, int] = {"L": constants.ERROR_CORRECT_L, "M": constants.ERROR_CORRECT_M,
                          "Q": constants.ERROR_CORRECT_Q, "H": constants.ERROR_CORRECT_H}
LINK_CHARACTERS = frozenset("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ-./:")  # of the 45 alphanumeric ones, those of a link
_ORDER = "LMQH"


@dataclass(frozen=True, slots=True, kw_only=True)
class Symbol:
    """A code without its quiet zone. matrix: square of booleans, True is black."""

    text: str
    matrix: npt.NDArray[np.bool_]
    version: int
    level: str

    @property
    def modules(self) -> int:
        """Modules on a side: 17 + 4 × version (ISO/IEC 18004)."""
        return int(self.matrix.shape[0])


def segments(text: str) -> list[util.QRData]:
    """A label text as explicit segments: link alphanumeric, "#" a byte, digits numeric.

    Raises LabelError (bad-text) for characters that have no place in a link.
    """
    prefix, sign, digits = text.partition("#")
    if not prefix or set(prefix) - LINK_CHARACTERS or (sign and not (digits.isascii() and digits.isdecimal())):
        raise LabelError(f"{text[:40]!r} cannot stand in a label's code.", kind="bad-text",
                         hint="A link holds capitals, digits and - . / : alone; digits alone follow the #.")
    found = [util.QRData(prefix, mode=util.MODE_ALPHA_NUM)]
    if sign:
        found += [util.QRData("#", mode=util.MODE_8BIT_BYTE), util.QRData(digits, mode=util.MODE_NUMBER)]
    return found


def version_for(text: str, level: str, parts: list[util.QRData] | None = None) -> int:
    """The smallest version, 1 to 40, that holds the text at that level. Counts bits and draws nothing.

    parts: other segments than those of a link. Raises LabelError: bad-text; too-big when no version holds it.
    """
    version = least_version(parts if parts is not None else segments(text), LEVELS[level])
    if version is None:
        raise LabelError("The text is too long for any code.", kind="too-big")
    return version


@lru_cache(maxsize=16)  # a layout asks for one code several times
def _drawn(text: str, parts: tuple[tuple[int, bytes], ...], version: int, level: str) -> Symbol:
    data = [util.QRData(content, mode=mode, check_data=False) for mode, content in parts]
    found = codewords(data, version=version, correction=LEVELS[level])
    matrix = draw(found, version=version, correction=LEVELS[level])
    matrix.setflags(write=False)
    return Symbol(text=text, matrix=matrix, version=version, level=level)


def make_symbol(text: str, *, level: str, max_version: int, parts: list[util.QRData] | None = None) -> Symbol:
    """The smallest code for a text at `level` or better; a better level that needs no larger version is taken.

    Module by module what qrcode draws of the same segments. parts: other segments than those of a link.
    Raises LabelError: bad-text; too-big when it takes a version above max_version.
    """
    data = parts if parts is not None else segments(text)
    version = version_for(text, level, data)
    if version > max_version:
        raise LabelError(f"The code needs version {version} ({17 + 4 * version} modules a side), and at most version "
                         f"{max_version} finds room.", kind="too-big", hint="Use a larger label.")
    for better in _ORDER[_ORDER.index(level) + 1 :]:
        if least_version(data, LEVELS[better]) != version:
            break
        level = better
    return _drawn(text, tuple((part.mode, part.data) for part in data), version, level)
