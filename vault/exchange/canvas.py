"""A tiny drawing surface: shapes in points from the top left corner, written as SVG or PNG.

Black and greys with hatching only, so that a drawing says the same on a laser print as on a screen.
"""

from __future__ import annotations

import io
import itertools
import math
from dataclasses import dataclass, field, replace
from functools import cache
from typing import Literal, TypeAlias
from xml.sax.saxutils import escape

import fontpkg
from PIL import Image, ImageDraw, ImageFont

Point: TypeAlias = tuple[float, float]
Anchor = Literal["start", "middle", "end"]
Hatch = Literal["none", "rising", "falling"]

FAMILY = "Atkinson Hyperlegible"
SCALE = 2  # pixels a point in PNG: readable on a dense screen, and it stands in for antialiasing
HATCH_STEP = 7.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """A line through points. grey: 0 black to 255 white. dash: lengths drawn and left out in turn."""

    points: tuple[Point, ...]
    width: float = 1.0
    grey: int = 0
    dash: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Area:
    """A closed polygon, hatched, filled in a grey, or both."""

    points: tuple[Point, ...]
    hatch: Hatch = "none"
    hatch_grey: int = 150
    fill: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Disc:
    """A circle: filled black, with a white ring round it that keeps it apart from lines below."""

    centre: Point
    radius: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """Text on its base line. halo: on a white ground of its own shape."""

    at: Point
    said: str
    size: float = 11.0
    anchor: Anchor = "start"
    bold: bool = False
    grey: int = 0
    halo: bool = False


Shape: TypeAlias = Stroke | Area | Disc | Words


@dataclass(slots=True, kw_only=True)
class Drawing:
    """Shapes in the order in which they are laid over each other."""

    width: int
    height: int
    shapes: list[Shape] = field(default_factory=list)

    def line(self, *points: Point, width: float = 1.0, grey: int = 0, dash: tuple[float, float] | None = None) -> None:
        """A line through points."""
        self.shapes.append(Stroke(points=points, width=width, grey=grey, dash=dash))

    def polygon(self, *points: Point, hatch: Hatch = "none", hatch_grey: int = 150, fill: int | None = None) -> None:
        """A closed polygon without an edge."""
        self.shapes.append(Area(points=points, hatch=hatch, hatch_grey=hatch_grey, fill=fill))

    def rectangle(self, x: float, y: float, width: float, height: float, *, hatch: Hatch = "none",
                  hatch_grey: int = 150, fill: int | None = None) -> None:
        """A rectangle from its top left corner."""
        self.polygon((x, y), (x + width, y), (x + width, y + height), (x, y + height), hatch=hatch,
                     hatch_grey=hatch_grey, fill=fill)

    def frame(self, x: float, y: float, width: float, height: float, *, stroke: float = 1.0, grey: int = 0) -> None:
        """The edge of a rectangle from its top left corner."""
        corners = ((x, y), (x + width, y), (x + width, y + height), (x, y + height))
        self.line(*corners, *corners[:2], width=stroke, grey=grey)

    def circle(self, centre: Point, radius: float) -> None:
        """A black disc."""
        self.shapes.append(Disc(centre=centre, radius=radius))

    def text(self, at: Point, said: str, *, size: float = 11.0, anchor: Anchor = "start", bold: bool = False,
             grey: int = 0, halo: bool = False) -> None:
        """One line of text. Characters that cannot be printed are left out (XML holds none)."""
        printable = "".join(c for c in said if c.isprintable())
        self.shapes.append(Words(at=at, said=printable, size=size, anchor=anchor, bold=bold, grey=grey, halo=halo))

    def lay(self, other: Drawing, x: float, y: float) -> None:
        """Another drawing's shapes, its top left corner at (x, y)."""
        self.shapes += [_moved(shape, x, y) for shape in other.shapes]


def _moved(shape: Shape, dx: float, dy: float) -> Shape:
    if isinstance(shape, Stroke | Area):
        return replace(shape, points=tuple((x + dx, y + dy) for x, y in shape.points))
    if isinstance(shape, Disc):
        return replace(shape, centre=(shape.centre[0] + dx, shape.centre[1] + dy))
    return replace(shape, at=(shape.at[0] + dx, shape.at[1] + dy))


@cache
def _font(size: float, bold: bool) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    try:
        return ImageFont.truetype(str(fontpkg.path(FAMILY, weight=700 if bold else 400)), size)
    except (fontpkg.FontpkgError, OSError):
        return ImageFont.load_default(size)


def text_width(said: str, size: float, bold: bool = False) -> float:
    """Width of a line of text in points."""
    return float(_font(size * SCALE, bold).getlength(said)) / SCALE


def wrapped(said: str, size: float, width: float, bold: bool = False) -> list[str]:
    """Lines no wider than `width` points, broken at spaces, or inside a word that alone is wider."""
    lines: list[str] = []
    line = ""
    for word in said.split():
        trial = f"{line} {word}" if line else word
        if text_width(trial, size, bold) <= width:
            line = trial
            continue
        if line:
            lines.append(line)
        line = word
        while text_width(line, size, bold) > width and len(line) > 1:
            fits = next(n for n in range(len(line) - 1, 0, -1) if n == 1 or text_width(line[:n], size, bold) <= width)
            lines.append(line[:fits])
            line = line[fits:]
    return [*lines, line] if line else lines


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _grey(level: int) -> str:
    return f"#{level:02x}{level:02x}{level:02x}"


def _svg_shape(shape: Shape, hold_widths: bool) -> str:
    if isinstance(shape, Stroke):
        points = " ".join(f"{_number(x)},{_number(y)}" for x, y in shape.points)
        dash = f' stroke-dasharray="{" ".join(map(_number, shape.dash))}"' if shape.dash else ""
        return (f'<polyline points="{points}" fill="none" stroke="{_grey(shape.grey)}" '
                f'stroke-width="{_number(shape.width)}" stroke-linejoin="round"{dash}/>')
    if isinstance(shape, Area):
        points = " ".join(f"{_number(x)},{_number(y)}" for x, y in shape.points)
        fills = [_grey(shape.fill)] if shape.fill is not None else []
        fills += [f"url(#{shape.hatch}{shape.hatch_grey})"] if shape.hatch != "none" else []
        return "".join(f'<polygon points="{points}" fill="{fill}"/>' for fill in fills)
    if isinstance(shape, Disc):
        x, y = shape.centre
        return (f'<circle cx="{_number(x)}" cy="{_number(y)}" r="{_number(shape.radius)}" fill="#000000" '
                f'stroke="#ffffff" stroke-width="1.5"/>')
    x, y = shape.at
    halo = ' stroke="#ffffff" stroke-width="4" stroke-linejoin="round" paint-order="stroke"' if shape.halo else ""
    weight = ' font-weight="700"' if shape.bold else ""
    if hold_widths and shape.said.strip():
        weight += f' textLength="{_number(text_width(shape.said, shape.size, shape.bold))}" lengthAdjust="spacingAndGlyphs"'
    return (f'<text x="{_number(x)}" y="{_number(y)}" font-size="{_number(shape.size)}" '
            f'text-anchor="{shape.anchor}" fill="{_grey(shape.grey)}"{weight}{halo}>{escape(shape.said)}</text>')


def _aloud(element: str, said: str) -> str:
    printable = "".join(c for c in said if c.isprintable())
    return f"<{element}>{escape(printable)}</{element}>\n" if printable else ""


def to_svg(drawing: Drawing, *, hold_widths: bool = False, title: str = "", described: str = "") -> bytes:
    """The drawing as an SVG file. hold_widths: every text as wide as planned, even where a viewer lacks the font.
    title, described: what is read aloud in place of the picture."""
    hatches = sorted({(s.hatch, s.hatch_grey) for s in drawing.shapes if isinstance(s, Area) and s.hatch != "none"})
    step = _number(HATCH_STEP)
    patterns = "".join(
        f'<pattern id="{hatch}{grey}" width="{step}" height="{step}" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate({45 if hatch == "rising" else -45})">'
        f'<line x1="0" y1="0" x2="0" y2="{step}" stroke="{_grey(grey)}" stroke-width="1.2"/></pattern>'
        for hatch, grey in hatches
    )
    size = f'width="{drawing.width}" height="{drawing.height}" viewBox="0 0 {drawing.width} {drawing.height}"'
    body = "\n".join(_svg_shape(shape, hold_widths) for shape in drawing.shapes)
    aloud = _aloud("title", title) + _aloud("desc", described)
    role = ' role="img"' if aloud else ""
    return (f'<?xml version="1.0" encoding="UTF-8"?>\n<svg xmlns="http://www.w3.org/2000/svg" {size} '
            f'font-family="{FAMILY}, Verdana, sans-serif"{role}>\n{aloud}<defs>{patterns}</defs>\n'
            f'<rect width="100%" height="100%" fill="#ffffff"/>\n{body}\n</svg>\n').encode()


def _dashes(points: tuple[Point, ...], dash: tuple[float, float]) -> list[tuple[Point, Point]]:
    """The drawn pieces of a dashed line, the pattern running on round its corners."""
    pieces: list[tuple[Point, Point]] = []
    place = 0.0
    for (x0, y0), (x1, y1) in itertools.pairwise(points):
        length = math.hypot(x1 - x0, y1 - y0)
        done = 0.0
        while done < length:
            within = place % sum(dash)
            drawn = within < dash[0]
            step = max(min((dash[0] if drawn else sum(dash)) - within, length - done), 1e-6)
            if drawn:
                a, b = done / length, (done + step) / length
                pieces.append(((x0 + a * (x1 - x0), y0 + a * (y1 - y0)), (x0 + b * (x1 - x0), y0 + b * (y1 - y0))))
            done += step
            place += step
    return pieces


def _scaled(points: tuple[Point, ...]) -> list[Point]:
    return [(x * SCALE, y * SCALE) for x, y in points]


def _png_area(image: Image.Image, shape: Area) -> None:
    mask = Image.new("L", image.size, 0)
    ImageDraw.Draw(mask).polygon(_scaled(shape.points), fill=255)
    if shape.fill is not None:
        image.paste(shape.fill, mask=mask)
    if shape.hatch == "none":
        return
    lines = Image.new("L", image.size, 0)
    draw = ImageDraw.Draw(lines)
    width, height = image.size
    step = HATCH_STEP * SCALE * math.sqrt(2)
    for number in range(int((width + height) / step) + 1):
        x = number * step
        ends = [(x, 0), (x - height, height)] if shape.hatch == "rising" else [(x - height, 0), (x, height)]
        draw.line(ends, fill=255, width=2)
    image.paste(shape.hatch_grey, mask=Image.composite(lines, Image.new("L", image.size, 0), mask))


def _png_shape(image: Image.Image, draw: ImageDraw.ImageDraw, shape: Shape) -> None:
    if isinstance(shape, Area):
        _png_area(image, shape)
    elif isinstance(shape, Stroke):
        width = max(1, round(shape.width * SCALE))
        if shape.dash is None:
            draw.line(_scaled(shape.points), fill=shape.grey, width=width, joint="curve")
        else:
            for piece in _dashes(shape.points, shape.dash):
                draw.line(_scaled(piece), fill=shape.grey, width=width)
    elif isinstance(shape, Disc):
        (x, y), radius = shape.centre, shape.radius
        for r, grey in ((radius + 1.5, 255), (radius, 0)):
            draw.ellipse([(x - r) * SCALE, (y - r) * SCALE, (x + r) * SCALE, (y + r) * SCALE], fill=grey)
    else:
        extent = text_width(shape.said, shape.size, shape.bold)
        left = shape.at[0] - {"start": 0.0, "middle": extent / 2, "end": extent}[shape.anchor]
        font = _font(shape.size * SCALE, shape.bold)
        # The built-in bitmap font knows no base line; the outline fonts do.
        anchor = "ls" if isinstance(font, ImageFont.FreeTypeFont) else None
        draw.text((left * SCALE, shape.at[1] * SCALE), shape.said, fill=shape.grey, font=font, anchor=anchor,
                  stroke_width=2 * SCALE if shape.halo else 0, stroke_fill=255)


def to_png(drawing: Drawing) -> bytes:
    """The drawing as a PNG file of 8-bit greys, `SCALE` pixels a point."""
    image = Image.new("L", (drawing.width * SCALE, drawing.height * SCALE), 255)
    draw = ImageDraw.Draw(image)
    for shape in drawing.shapes:
        _png_shape(image, draw, shape)
    out = io.BytesIO()
    image.save(out, format="PNG", optimize=True, dpi=(72 * SCALE, 72 * SCALE))
    return out.getvalue()
