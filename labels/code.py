"""The two-dimensional codes: explicit segments, level raised where it costs nothing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import qrcode
from qrcode import constants, util
from qrcode.exceptions import DataOverflowError

from labels.errors import LabelError

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


_KEPT = 16
_DRAWN: dict[tuple[str, int, str, bool], Symbol] = {}


def _prepared(parts: list[util.QRData], level: str) -> tuple[qrcode.QRCode, int]:
    """A code that is not drawn yet, and the smallest version that holds the segments at that level."""
    code = qrcode.QRCode(error_correction=LEVELS[level], border=0)
    for one in parts:
        code.add_data(one, optimize=0)
    return code, code.best_fit(start=1)


def make_symbol(text: str, *, level: str, max_version: int, parts: list[util.QRData] | None = None) -> Symbol:
    """The smallest code for a text at `level` or better; a better level that needs no larger version is taken.

    Raises LabelError (too-big) when it takes a version above max_version.
    """
    data = parts if parts is not None else segments(text)
    try:
        code, version = _prepared(data, level)
    except (DataOverflowError, ValueError) as problem:
        raise LabelError("The text is too long for any code.", kind="too-big") from problem
    if version > max_version:
        raise LabelError(f"The code needs version {version} ({17 + 4 * version} modules a side), and at most version "
                         f"{max_version} finds room.", kind="too-big", hint="Use a larger label.")
    for better in _ORDER[_ORDER.index(level) + 1 :]:
        try:
            stronger, needed = _prepared(data, better)
        except (DataOverflowError, ValueError):
            break
        if needed != version:
            break
        code, level = stronger, better
    key = (text, version, level, parts is None)
    if key not in _DRAWN:
        if len(_DRAWN) >= _KEPT:
            _DRAWN.clear()
        # Only now are the masks searched: that is most of the work, and a layout may ask for one code several times.
        code.make(fit=False)
        matrix = np.array(code.get_matrix(), dtype=bool)
        matrix.setflags(write=False)
        _DRAWN[key] = Symbol(text=text, matrix=matrix, version=version, level=level)
    return _DRAWN[key]
