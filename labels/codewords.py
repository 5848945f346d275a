"""A code's codewords: segments to bits, data to blocks, Reed-Solomon check codewords, interleaved (ISO/IEC 18004 7.4 to 7.6).

Segments, block sizes, generator polynomials and the field's logarithms are qrcode's; the sums are numpy's.
`correction` is one of qrcode.constants.ERROR_CORRECT_*.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from qrcode import LUT, base, util
from qrcode.exceptions import DataOverflowError

_COUNT_FIELDS = ((1, 9), (10, 26), (27, 40))  # versions that share the widths of Table 3's character counts
_PADDING = bytes([util.PAD0, util.PAD1])


class _Bits:
    """What QRData.write fills, as qrcode's own BitBuffer but a number at a time instead of a bit."""

    __slots__ = ("length", "value")

    def __init__(self) -> None:
        self.value = self.length = 0

    def put(self, num: int, length: int) -> None:
        self.value = self.value << length | num
        self.length += length


def _content_bits(part: util.QRData) -> int:
    """Bits of a segment behind its count: three digits in 10, two letters in 11, a byte in 8 (ISO/IEC 18004 7.4)."""
    size = len(part)
    if part.mode == util.MODE_NUMBER:
        return size // 3 * 10 + (0, 4, 7)[size % 3]
    if part.mode == util.MODE_ALPHA_NUM:
        return size // 2 * 11 + size % 2 * 6
    return size * 8


def least_version(parts: Sequence[util.QRData], correction: int) -> int | None:
    """The smallest version (1 to 40) that holds the segments; None when none does. Nothing is encoded for it."""
    content = sum(map(_content_bits, parts))
    for first, last in _COUNT_FIELDS:
        needed = content + sum(4 + util.length_in_bits(part.mode, first) for part in parts)
        version = bisect_left(util.BIT_LIMIT_TABLE[correction], needed, first, last + 1)
        if version <= last:
            return version
    return None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Blocks:
    """How one version and level cut the data into blocks.

    data_bytes: data codewords of all blocks. rows: (blocks, longest block) places of each block's data, shorter blocks with
    the zero behind the data in front. parity: (longest block, check codewords), what a 1 at that place of a block adds.
    order: places of the codewords as sent, in the data with all check codewords behind it.
    """

    data_bytes: int
    rows: npt.NDArray[np.intp]
    parity: npt.NDArray[np.uint8]
    order: npt.NDArray[np.intp]


@lru_cache(maxsize=1)
def _products() -> npt.NDArray[np.uint8]:
    """(256, 256): products in the field of 256 elements."""
    powers, logs = np.array(base.EXP_TABLE, dtype=np.uint8), np.array(base.LOG_TABLE)
    table: npt.NDArray[np.uint8] = powers[(logs[:, None] + logs) % 255]
    table[0] = table[:, 0] = 0
    return table


def _parity(longest: int, checks: int) -> npt.NDArray[np.uint8]:
    """Remainders by the generator polynomial of x^checks (last row), x^(checks+1) … (first row)."""
    lower = np.array(LUT.rsPoly_LUT[checks][1:], dtype=np.uint8)  # below the leading 1, which is its own remainder
    found = np.empty((longest, checks), dtype=np.uint8)
    found[-1] = lower
    for place in range(longest - 2, -1, -1):
        found[place] = np.append(found[place + 1, 1:], 0) ^ _products()[found[place + 1, 0], lower]
    return found


@lru_cache(maxsize=32)
def _blocks(version: int, correction: int) -> _Blocks:
    sizes = base.rs_blocks(version, correction)
    checks, longest = sizes[0].total_count - sizes[0].data_count, sizes[-1].data_count
    data_bytes = sum(size.data_count for size in sizes)
    rows = np.full((len(sizes), longest), data_bytes)
    sent = np.full((longest, len(sizes)), -1)
    begin = 0
    for number, size in enumerate(sizes):
        places = np.arange(begin, begin + size.data_count)
        # A polynomial keeps its remainder with zeros in front, so that all blocks go through one table.
        rows[number, longest - size.data_count :] = places
        sent[: size.data_count, number] = places
        begin += size.data_count
    behind = data_bytes + np.arange(len(sizes) * checks).reshape(len(sizes), checks)
    return _Blocks(data_bytes=data_bytes, rows=rows, parity=_parity(longest, checks),
                   order=np.concatenate([sent[sent >= 0], behind.T.ravel()]))


def codewords(parts: Sequence[util.QRData], *, version: int, correction: int) -> npt.NDArray[np.uint8]:
    """All codewords of the symbol in the order they are placed in.

    Raises qrcode.exceptions.DataOverflowError when the version does not hold the segments at that level.
    """
    bits, blocks = _Bits(), _blocks(version, correction)
    for part in parts:
        bits.put(part.mode, 4)
        bits.put(len(part), util.length_in_bits(part.mode, version))
        part.write(bits)
    if bits.length > blocks.data_bytes * 8:
        raise DataOverflowError(f"{bits.length} bits, and version {version} holds {blocks.data_bytes * 8}")
    # Up to four zeros end the segments, more fill the last byte, two bytes by turns fill the rest.
    used = min(-(-(bits.length + 4) // 8), blocks.data_bytes)
    data = (bits.value << used * 8 - bits.length).to_bytes(used, "big")
    data += (_PADDING * (blocks.data_bytes // 2 + 1))[: blocks.data_bytes - used]
    numbers = np.frombuffer(data + b"\0", dtype=np.uint8)
    checks = np.bitwise_xor.reduce(_products()[numbers[blocks.rows][..., None], blocks.parity], axis=1)
    return np.concatenate([numbers[:-1], checks.ravel()])[blocks.order]
