"""The ladder: one picture made ready in ever costlier ways, until what stands in it has been read or the effort is spent.

The reader counts effort in pixels looked at, so that the same picture gives the same answer on every machine.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from math import cos, radians, sin

from PIL import Image, ImageChops, ImageFilter, ImageOps

from labels.finders import drawn_anew, find_patterns, from_two

# A phone's picture holds codes of 8 pixels a module and more: half of them are plenty, and a quarter of the work.
HALVED_PIXELS = 3_000_000
# Modules of a code with such a side are 5 pixels and more.
SIDE_PIXELS = 300
ENLARGED_PIXELS = 2_500_000
TURNS_DEGREES = (15, -15, 30, -30)

Change = Callable[[Image.Image], Image.Image]
Free = Callable[[tuple[float, float]], bool]


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """A picture made ready. back: where a point of it lies in the first picture, x' = ax + by + c and y' = dx + ey + f.

    thorough: whether the decoder should look for white on black and for giant codes too. guessed: whether something was
    drawn into it, so that a code which cannot be decoded there says nothing.
    """

    name: str
    image: Image.Image
    back: tuple[float, float, float, float, float, float] = (1, 0, 0, 0, 1, 0)
    thorough: bool = True
    guessed: bool = False

    def origin_of(self, x: float, y: float) -> tuple[float, float]:
        """Where a point of this view lies in the first picture."""
        a, b, c, d, e, f = self.back
        return a * x + b * y + c, d * x + e * y + f

    @property
    def pixels(self) -> int:
        """What it costs to look at."""
        return self.image.width * self.image.height


def whole(image: Image.Image) -> View:
    """A picture as it is, or at half size where it is large."""
    view = View(name="whole", image=image)
    return scaled(view, ", half size", 0.5) if view.pixels >= HALVED_PIXELS else view


def first(image: Image.Image) -> Iterator[View]:
    """The first looks: a large picture at half size, then the picture as it is."""
    view = View(name="whole", image=image)
    if view.pixels >= HALVED_PIXELS:
        yield replace(whole(image), thorough=False)
    yield view


def crop(image: Image.Image, centre: tuple[float, float], reach: float, side: float) -> View:
    """The square around a point as far as it lies in the picture, smaller where its codes are large.

    reach: half of the square's side; side: a code's side; both in pixels.
    """
    view = _part(View(name="close", image=image), "", centre, reach)
    times = int(side // SIDE_PIXELS)
    return scaled(view, f", 1/{times} size", 1 / times) if times > 1 else view


def _part(view: View, name: str, centre: tuple[float, float], reach: float) -> View:
    (x, y), (width, height) = centre, view.image.size
    left, top = max(0, round(x - reach)), max(0, round(y - reach))
    right, bottom = min(width, round(x + reach) + 1), min(height, round(y + reach) + 1)
    a, b, c, d, e, f = view.back
    return replace(view, name=view.name + name, image=view.image.crop((left, top, right, bottom)),
                   back=(a, b, a * left + b * top + c, d, e, d * left + e * top + f))


def mended(view: View, free: Free) -> Iterator[View]:
    """Codes of which two corner patterns are seen, with the third drawn anew where it has to be."""
    black = view.image.point(lambda value: 255 if value > 128 else 0)
    patterns = [one for one in find_patterns(black) if free(view.origin_of(one.x, one.y))]
    for guess in from_two(patterns):
        x, y = guess.centre
        if 0 <= x < view.image.width and 0 <= y < view.image.height:
            part = _part(view, ", corner drawn anew", guess.centre, guess.reach)
            left, top = max(0, round(x - guess.reach)), max(0, round(y - guess.reach))
            yield replace(part, image=drawn_anew(part.image, guess, left, top), thorough=False, guessed=True)


def _changed(view: View, name: str, change: Change) -> View:
    return replace(view, name=view.name + name, image=change(view.image))


def scaled(view: View, name: str, factor: float) -> View:
    """The same view with so many times the pixels along each side."""
    if factor < 1:
        # The last pixels may be left over from less; the scale stays that of the others.
        across = down = float(round(1 / factor))
        image = view.image.reduce(round(across))
    else:
        image = view.image.resize((round(view.image.width * factor), round(view.image.height * factor)),
                                  Image.Resampling.BICUBIC)
        across, down = view.image.width / image.width, view.image.height / image.height
    a, b, c, d, e, f = view.back
    # Points are counted from the middle of the first pixel.
    x, y = (across - 1) / 2, (down - 1) / 2
    return replace(view, name=view.name + name, image=image,
                   back=(a * across, b * down, a * x + b * y + c, d * across, e * down, d * x + e * y + f))


def _turned(view: View, degrees: float) -> View:
    image = view.image.rotate(degrees, Image.Resampling.BILINEAR, expand=True, fillcolor=255)
    turn = -radians(degrees)
    a, b, c, d, e, f = view.back
    # Pillow turns about the middle; from the new picture's point to the old one's, then on to the first picture's.
    right, down = (image.width - 1) / 2, (image.height - 1) / 2
    x = (view.image.width - 1) / 2 - cos(turn) * right - sin(turn) * down
    y = (view.image.height - 1) / 2 + sin(turn) * right - cos(turn) * down
    along, across = (cos(turn), sin(turn)), (-sin(turn), cos(turn))
    return replace(view, name=f"{view.name}, turned {degrees:g}°", image=image, back=(
        a * along[0] + b * across[0], a * along[1] + b * across[1], a * x + b * y + c,
        d * along[0] + e * across[0], d * along[1] + e * across[1], d * x + e * y + f))  # fmt: skip


def strong(image: Image.Image) -> Image.Image:
    """With its whole range of grey."""
    return ImageOps.autocontrast(image, cutoff=2)


def thresholded(image: Image.Image, radius: int) -> Image.Image:
    """Black where a pixel is darker than its neighbourhood: takes uneven light away."""
    mean = image.filter(ImageFilter.BoxBlur(radius))
    return ImageChops.subtract(image, mean, 1, 134).point(lambda value: 255 if value > 128 else 0)


def closer(view: View, free: Free = lambda _: True) -> Iterator[View]:
    """The ladder of changes to a view, the cheap and fruitful ones first.

    free: whether a point of the first picture belongs to no code that was read already.
    """
    plain = _changed(view, ", contrast", strong)
    yield plain
    small = view.pixels <= ENLARGED_PIXELS
    larger = scaled(plain, ", enlarged", 2) if small else plain
    if small:
        yield larger
    yield _changed(plain, ", softened", lambda image: image.filter(ImageFilter.GaussianBlur(1.2)))
    yield _changed(larger, ", sharpened", lambda image: image.filter(ImageFilter.UnsharpMask(4, 200, 0)))
    yield _changed(plain, ", smoothed", lambda image: image.filter(ImageFilter.MedianFilter(3)))
    radius = max(6, min(view.image.size) // 24)
    yield _changed(plain, ", threshold", lambda image: thresholded(image, radius))
    yield from mended(plain, free)
    for degrees in TURNS_DEGREES:
        yield _turned(plain, degrees)
