"""Codewords to modules: function patterns, the order of placement, and the mask with the least penalty (ISO/IEC 18004 7.7, 7.8).

For the penalty a symbol is one whole number, a bit a module, with a module of neither colour behind each row: a pattern is
then looked for in all places at once by shifting, and none is found across the end of a row. Its columns follow as further
rows. What is scored is scored as qrcode does it, format and version information still light.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from qrcode import QRCode

Matrix = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Grid:
    """What all symbols of a version share; n is their modules a side.

    blank: (n, n) function patterns, all else light. places: flat place of each data bit, in order. flips: (8, n, n) the
    modules that each mask turns over. flipped: the same as whole numbers. both: all modules as a whole number.
    """

    blank: Matrix
    places: npt.NDArray[np.intp]
    flips: Matrix
    flipped: tuple[int, ...]
    both: int


def as_number(matrix: Matrix) -> int:
    """The rows, then the columns, of a square of modules, as one whole number; the lowest bit is the module top left."""
    side = len(matrix)
    room = np.zeros((2, side + 1, side + 1), dtype=bool)
    room[0, :side, :side] = matrix
    room[1, :side, :side] = matrix.T
    return int.from_bytes(np.packbits(room, bitorder="little").tobytes(), "little")


def lost_points(dark: int, both: int, side: int) -> int:
    """The penalty of ISO/IEC 18004 7.8.3. dark: the symbol as_number; both: all its modules, dark or light; side: modules."""
    points = 0
    light = dark ^ both
    fours = []
    for colour in (dark, light):
        two = colour & colour >> 1
        four = two & two >> 2
        five = four & colour >> 4
        # Runs of five and more: 3, and 1 for each above five, which is one for each five in a row and two for each run.
        points += five.bit_count() + 2 * (five & ~(five << 1)).bit_count()
        # Squares of four: 3. Rows and columns tell of each one once.
        points += (two & two >> side + 1).bit_count() * 3 // 2
        fours.append(four)
    # The finder's dark 1:1:3:1:1 with four light modules at one side: 40.
    finder = dark & light >> 1 & dark >> 2 & dark >> 3 & dark >> 4 & light >> 5 & dark >> 6
    points += 40 * ((finder & fours[1] >> 7).bit_count() + (fours[1] & finder >> 4).bit_count())
    # Each whole 5 % away from half dark: 10.
    return points + 10 * int(abs(dark.bit_count() / 2 / side**2 * 100 - 50) / 5)


@lru_cache(maxsize=64)
def information(version: int, correction: int, mask: int) -> Matrix:
    """(n, n): the dark modules of format and version information and the one that is always dark; all else light."""
    side = 17 + 4 * version
    code = QRCode(version=version, error_correction=correction)
    code.modules_count, code.modules = side, [[False] * side for _ in range(side)]
    code.setup_type_info(False, mask)
    if version >= 7:
        code.setup_type_number(False)
    return np.array(code.modules, dtype=bool)


def _order(side: int) -> npt.NDArray[np.intp]:
    """Flat places in the order of 7.7.3: two columns at a time from the right, up and down by turns, column 6 left out."""
    rights = [*range(side - 1, 6, -2), 5, 3, 1]
    rows = np.arange(side)
    pairs = [np.stack([run * side + right, run * side + right - 1], axis=1).ravel()
             for right, run in zip(rights, [rows[::-1], rows] * len(rights), strict=False)]
    return np.concatenate(pairs)


def _masks(side: int) -> Matrix:
    """(8, n, n): where each mask turns a module over (ISO/IEC 18004 Table 10); i the row, j the column."""
    i, j = np.indices((side, side))
    found: Matrix = np.stack([
        (i + j) % 2, i % 2, j % 3, (i + j) % 3, (i // 2 + j // 3) % 2, i * j % 2 + i * j % 3,
        (i * j % 2 + i * j % 3) % 2, ((i + j) % 2 + i * j % 3) % 2,
    ]) == 0  # fmt: skip
    return found


@lru_cache(maxsize=16)
def _grid(version: int) -> _Grid:
    side = 17 + 4 * version
    code = QRCode(version=version)
    code.modules_count, code.modules = side, [[None] * side for _ in range(side)]
    for row, column in ((0, 0), (side - 7, 0), (0, side - 7)):
        code.setup_position_probe_pattern(row, column)
    code.setup_position_adjust_pattern()
    code.setup_timing_pattern()
    code.setup_type_info(True, 0)
    if version >= 7:
        code.setup_type_number(True)
    free = np.array([[module is None for module in row] for row in code.modules])
    order, flips = _order(side), _masks(side) & free
    return _Grid(blank=np.array(code.modules, dtype=bool), places=order[free.ravel()[order]], flips=flips,
                 flipped=tuple(as_number(flip) for flip in flips), both=as_number(np.ones((side, side), dtype=bool)))


def draw(codewords: npt.NDArray[np.uint8], *, version: int, correction: int) -> Matrix:
    """(n, n), True is dark: the codewords placed and masked. The first of equally good masks is taken."""
    grid = _grid(version)
    matrix: Matrix = grid.blank.copy()
    bits = np.unpackbits(codewords)
    matrix.reshape(-1)[grid.places[: bits.size]] = bits  # up to seven places remain, light before the mask
    plain, side = as_number(matrix), len(matrix)
    lost = [lost_points(plain ^ flipped, grid.both, side) for flipped in grid.flipped]
    mask = lost.index(min(lost))
    matrix ^= grid.flips[mask]
    matrix |= information(version, correction, mask)
    return matrix
