"""Synthetic damage to the picture of a label: what dirt, wear, a worn print head and a poor camera do to it.

Pictures are grey, numpy uint8, 0 black and 255 white, at 300 dots an inch unless a camera kind made them smaller. The same
seed gives the same picture. The models are plain geometry and arithmetic (common practice, no source): they compare
layouts and readers with each other and foretell no year of any real label.

    kind        amount
    blobs       roundish blobs of dirt (dark) or paint (pale), 4 to 12 mm across; their areas add up to that share of the label's,
                whether they overlap, hang over the edge or not
    scratches   share of the label under straight scratches, 0.1 to 0.3 mm wide, half of them dark, half rubbed to the paper
    torn        share of the area torn off along one side, ragged and slanted; the housing shows
    dead        print-head elements that print nothing: white columns one dot wide
    fade        grey steps left between ink and paper, with sensor noise
    dim         share of the light left at the dark end of the label, with a third of the contrast gone and sensor noise
    blur        standard deviation of a Gaussian blur in millimetres
    tilt        degrees between the camera's axis and the label's normal, in any direction, with perspective
    pixels      camera pixels a millimetre
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from math import cos, pi, radians, sin

import cv2
import numpy as np
import numpy.typing as npt

Grey = npt.NDArray[np.uint8]
Rng = np.random.Generator

DOTS_PER_MM = 300 / 25.4
NOISE_STEPS = 8.0
HOUSING_TONES = (60, 230)
FADED_PAPER = 205
# A camera that is tilted sees the label from four widths away, with so many pixels a millimetre at its middle.
TILT_DISTANCE_WIDTHS = 4.0
TILT_PIXELS_PER_MM = 8.0
# It is computed so many times finer and averaged, as a sensor's pixel averages the light that falls on it.
TILT_FINER = 2


def damage(image: Grey, kind: str, amount: float, rng: Rng) -> Grey:
    """A damaged copy. kind, amount: see the module's table; KeyError for an unknown kind."""
    return KINDS[kind](image.copy(), amount, rng)


def _point(image: Grey, rng: Rng) -> tuple[float, float]:
    return rng.uniform(0, image.shape[1]), rng.uniform(0, image.shape[0])


def _tone(rng: Rng, pale: int) -> int:
    return int(rng.integers(20, 90)) if rng.random() < 0.5 else int(rng.integers(pale, 256))


def _blobs(image: Grey, amount: float, rng: Rng) -> Grey:
    turns = np.linspace(0, 2 * pi, 24, endpoint=False)
    spoilt = 0.0
    while spoilt < amount * image.size:
        radius = rng.uniform(2, 6) * DOTS_PER_MM
        lobes = 1 + 0.15 * np.sin(3 * turns + rng.uniform(0, 2 * pi)) + 0.1 * np.sin(5 * turns + rng.uniform(0, 2 * pi))
        outline = np.stack([np.cos(turns), np.sin(turns)], axis=1) * (radius * lobes)[:, None] + _point(image, rng)
        shape = np.rint(outline).astype(np.int32)
        cv2.fillPoly(image, [shape], _tone(rng, 190))
        spoilt += cv2.contourArea(shape)
    return image


def _scratches(image: Grey, amount: float, rng: Rng) -> Grey:
    spoilt = np.zeros_like(image)
    while np.count_nonzero(spoilt) < amount * image.size:
        (x, y), lean, reach = _point(image, rng), rng.uniform(0, pi), rng.uniform(5, 25) * DOTS_PER_MM
        start = (round(x - reach * cos(lean)), round(y - reach * sin(lean)))
        end = (round(x + reach * cos(lean)), round(y + reach * sin(lean)))
        width = max(1, round(rng.uniform(0.1, 0.3) * DOTS_PER_MM))
        cv2.line(image, start, end, _tone(rng, 255), width)
        cv2.line(spoilt, start, end, 1, width)
    return image


def _torn(image: Grey, amount: float, rng: Rng) -> Grey:
    side = int(rng.integers(4))
    turned = np.ascontiguousarray(np.rot90(image, side))
    height, width = turned.shape
    along = np.arange(width)
    depth = np.interp(along, np.linspace(0, width, 25), rng.uniform(0.6, 1.4, 25))
    depth = depth * np.linspace(1, rng.uniform(0.3, 3.0), width)[:: 1 if rng.random() < 0.5 else -1]
    depth = depth / depth.mean() * amount * height
    turned[np.arange(height)[:, None] < depth[None, :]] = int(rng.integers(*HOUSING_TONES))
    return np.ascontiguousarray(np.rot90(turned, -side))


def _dead(image: Grey, amount: float, rng: Rng) -> Grey:
    image[:, rng.choice(image.shape[1], round(amount), replace=False)] = 255
    return image


def _noisy(image: npt.NDArray[np.float32], rng: Rng) -> Grey:
    image += rng.standard_normal(image.shape, dtype=np.float32) * np.float32(NOISE_STEPS)
    return np.clip(image, 0, 255).astype(np.uint8)


def _fade(image: Grey, amount: float, rng: Rng) -> Grey:
    return _noisy(FADED_PAPER - amount + image.astype(np.float32) * np.float32(amount / 255), rng)


def _dim(image: Grey, amount: float, rng: Rng) -> Grey:
    light = np.linspace(1, amount, image.shape[1], dtype=np.float32)[:: 1 if rng.random() < 0.5 else -1]
    return _noisy((image.astype(np.float32) * np.float32(0.6) + np.float32(0.4 * 128)) * light, rng)


def _blur(image: Grey, amount: float, rng: Rng) -> Grey:  # noqa: ARG001  (a blur has nothing random)
    return cv2.GaussianBlur(image, (0, 0), amount * DOTS_PER_MM).astype(np.uint8)


def _tilt(image: Grey, amount: float, rng: Rng) -> Grey:
    height, width = image.shape
    way, lean = rng.uniform(0, 2 * pi), radians(amount)
    far = TILT_DISTANCE_WIDTHS * width
    middle = np.array([width / 2, height / 2])
    corners = np.array([(0, 0), (width, 0), (width, height), (0, height)]) - middle
    # Along `way` the label is foreshortened and falls back; across it nothing changes but the distance.
    down = corners @ np.array([cos(way), sin(way)])
    across = corners @ np.array([-sin(way), cos(way)])
    scale = TILT_FINER * TILT_PIXELS_PER_MM / DOTS_PER_MM * far / (far + down * sin(lean))
    seen = np.stack([scale * down * cos(lean), scale * across], axis=1) @ np.array([[cos(way), sin(way)], [-sin(way), cos(way)]])
    seen += rng.uniform(4, 5, 2) * TILT_FINER - seen.min(axis=0)
    columns, rows = (int(pixels) for pixels in np.ceil(seen.max(axis=0) / TILT_FINER + 4))
    grid = cv2.getPerspectiveTransform((corners + middle).astype(np.float32), seen.astype(np.float32))
    fine = cv2.warpPerspective(image, grid, (columns * TILT_FINER, rows * TILT_FINER),
                               borderValue=int(rng.integers(*HOUSING_TONES)))
    return cv2.resize(fine, (columns, rows), interpolation=cv2.INTER_AREA).astype(np.uint8)


def _pixels(image: Grey, amount: float, rng: Rng) -> Grey:
    # The label's corner lies anywhere within a camera pixel.
    before, after = (rng.integers(0, int(DOTS_PER_MM / amount) + 2, 2) for _ in range(2))
    whole = cv2.copyMakeBorder(image, int(before[0]), int(after[0]), int(before[1]), int(after[1]), cv2.BORDER_REPLICATE)
    size = (round(whole.shape[1] * amount / DOTS_PER_MM), round(whole.shape[0] * amount / DOTS_PER_MM))
    return cv2.resize(whole, size, interpolation=cv2.INTER_AREA).astype(np.uint8)


KINDS: Mapping[str, Callable[[Grey, float, Rng], Grey]] = {
    "blobs": _blobs, "scratches": _scratches, "torn": _torn, "dead": _dead, "fade": _fade, "dim": _dim,
    "blur": _blur, "tilt": _tilt, "pixels": _pixels,
}  # fmt: skip
