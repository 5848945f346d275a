"""The three corner patterns of a code (ISO/IEC 18004 6.3.3): found one by one, and drawn anew where dirt hides one.

A decoder needs all three to see that there is a code at all, and error correction does not cover them. What is drawn anew
holds no data: the code's text still has to pass its own error correction.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations
from math import ceil, hypot

import numpy as np
import numpy.typing as npt
from PIL import Image

Vector = tuple[float, float]
Bools = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]

PATTERN_MODULES = 7
MIN_MODULES, MAX_MODULES = 21, 81
MAX_PATTERNS = 8
# A picture full of stripes gives no end of candidates; the clearest are enough.
MAX_CANDIDATES = 1_500
ALIKE = 1.35
BLACK, WHITE = 0, 255


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """One corner pattern: its middle, and how wide a module is along the picture's rows; pixels."""

    x: float
    y: float
    module: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Guess:
    """Where a code may stand: middles of three patterns (at the corner of the right angle first), and its module's sides."""

    patterns: tuple[Vector, Vector, Vector]
    across: Vector
    down: Vector

    @property
    def centre(self) -> Vector:
        """The code's middle."""
        _, (x, y), (u, v) = self.patterns
        return (x + u) / 2, (y + v) / 2

    @property
    def reach(self) -> float:
        """From the middle to beyond the quiet zone."""
        _, (x, y), (u, v) = self.patterns
        return hypot(x - u, y - v) / 2 + 9 * max(hypot(*self.across), hypot(*self.down))


def _across(dark: Bools) -> Floats:
    """Rows (x, y, module) of every dark-light-dark-light-dark of widths 1, 1, 3, 1, 1 along the rows of a picture."""
    framed = np.zeros((dark.shape[0], dark.shape[1] + 2), bool)
    framed[:, 1:-1] = dark
    # Every row begins and ends light, so that dark begins at every other edge.
    rows, edges = np.nonzero(framed[:, 1:] != framed[:, :-1])
    starts = np.arange(0, max(0, len(edges) - 5), 2)
    starts = starts[rows[starts] == rows[starts + 5]]
    widths = np.stack([edges[starts + i + 1] - edges[starts + i] for i in range(5)])
    module = widths.sum(axis=0) / PATTERN_MODULES
    off = np.abs(widths / np.maximum(module, 1e-9) - np.array([1, 1, 3, 1, 1])[:, None])
    good = (module >= 1.2) & (off <= np.array([0.6, 0.6, 1.0, 0.6, 0.6])[:, None]).all(axis=0)
    found = np.stack([(edges[starts + 2] + edges[starts + 3] - 1) / 2, rows[starts], module])[:, good].T
    return found[np.argsort(-found[:, 2], kind="stable")][:MAX_CANDIDATES]


def find_patterns(image: Image.Image) -> list[Pattern]:
    """Corner patterns in a black and white picture, the clearest first, eight at most."""
    dark = np.asarray(image) < 128
    level, upright = _across(dark), _across(np.ascontiguousarray(dark.T))
    if not len(level) or not len(upright):
        return []
    x, y, module = (level[:, [i]] for i in range(3))
    near = ((np.abs(upright[None, :, 1] - x) < 1.6 * module) & (np.abs(upright[None, :, 0] - y) < 1.6 * module)
            & (np.maximum(upright[None, :, 2] / module, module / upright[None, :, 2]) < 1.5))
    crossed = near.any(axis=1)
    heights = near @ upright[:, 0] / np.maximum(near.sum(axis=1), 1)
    points = np.column_stack([level[:, 0], heights, level[:, 2]])[crossed]
    groups: list[list[Floats]] = []
    for point in points:
        home = next((group for group in groups if np.abs(group[0][:2] - point[:2]).max() < 2.5 * group[0][2]), None)
        if home is None:
            groups.append([point])
        else:
            home.append(point)
    clear = sorted((group for group in groups if len(group) > 1), key=lambda group: -len(group) / group[0][2])
    return [Pattern(x=float(m[0]), y=float(m[1]), module=float(m[2]))
            for m in (np.median(np.array(group), axis=0) for group in clear[:MAX_PATTERNS])]


def _guess(corner: Vector, right: Vector, below: Vector, module: float) -> Guess | None:
    length = hypot(right[0] - corner[0], right[1] - corner[1])
    modules = 17 + 4 * round((length / module + PATTERN_MODULES - 17) / 4)
    if not MIN_MODULES <= modules <= MAX_MODULES:
        return None
    steps = modules - PATTERN_MODULES
    return Guess(patterns=(corner, right, below),
                 across=((right[0] - corner[0]) / steps, (right[1] - corner[1]) / steps),
                 down=((below[0] - corner[0]) / steps, (below[1] - corner[1]) / steps))


def _upright(module: float, direction: Vector) -> float:
    """A module's true side, from its width along the rows of a picture in which the code lies turned."""
    length = hypot(*direction)
    return module * max(abs(direction[0]), abs(direction[1])) / length


def from_two(patterns: list[Pattern]) -> Iterator[Guess]:
    """Every code of which two patterns may be these: where the third one has to be."""
    for one, other in combinations(patterns, 2):
        if max(one.module, other.module) > ALIKE * min(one.module, other.module):
            continue
        (x, y), (u, v) = a, b = (one.x, one.y), (other.x, other.y)
        along, width = (u - x, v - y), (one.module + other.module) / 2
        across = (-along[1], along[0])
        module = _upright(width, along)
        guesses = [_guess(a, b, (x + across[0], y + across[1]), module), _guess(b, a, (u - across[0], v - across[1]), module),
                   _guess(a, (x - across[0], y - across[1]), b, module),
                   _guess(b, (u + across[0], v + across[1]), a, module)]
        middle, half = ((x + u) / 2, (y + v) / 2), (across[0] / 2, across[1] / 2)
        slanting = _upright(width, (along[0] - along[1], along[0] + along[1]))
        guesses += [_guess((middle[0] + half[0], middle[1] + half[1]), a, b, slanting),
                    _guess((middle[0] - half[0], middle[1] - half[1]), b, a, slanting)]
        yield from (guess for guess in guesses if guess is not None)


def drawn_anew(image: Image.Image, guess: Guess, left: float, top: float) -> Image.Image:
    """A copy in which the three patterns of a guess stand whole; the guess counts from (left, top) of this picture."""
    dots = np.array(image)
    (a, b), (c, d) = guess.across, guess.down
    area = a * d - b * c
    reach = ceil(4.5 * (max(abs(a), abs(b)) + max(abs(c), abs(d))))
    for x, y in ((x - left, y - top) for x, y in guess.patterns):
        rows = slice(max(0, round(y) - reach), max(0, round(y) + reach + 1))
        columns = slice(max(0, round(x) - reach), max(0, round(x) + reach + 1))
        place = dots[rows, columns]
        down, right = np.mgrid[rows.start : rows.start + place.shape[0], columns.start : columns.start + place.shape[1]]
        down, right = down - y, right - x
        # How far from the pattern's middle a point is along the code's own sides, in modules.
        off = np.maximum(np.abs(d * right - c * down), np.abs(a * down - b * right)) / abs(area)
        place[off < 4.5] = WHITE
        place[(off < 1.5) | ((off > 2.5) & (off < 3.5))] = BLACK
    return Image.fromarray(dots)
