"""Operating windows as catalogues write them: a rectangle, a polygon, or points with the power at each.

All become the corners and the power limit of `vault.domain.driver.Window`. A rectangle is written
"200-700 mA × 20-54 V", a polygon as corners (mA, mV), points as (mA, mV, mW).
"""

from __future__ import annotations

import functools
import re
from collections.abc import Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any

from vault.domain.schema import Problem

WINDOWS = ("window", "dimming_window", "dc_window")
Point = tuple[int, int]
TOLERANCE = Fraction(2, 100)  # a data sheet rounds its powers; common practice, no source

_FIGURE = r"(\d{1,7}(?:\.\d{1,3})?)"
_RECTANGLE = re.compile(
    rf"(?:rectangle)?\s*{_FIGURE}\s*(?:mA|A)?\s*(?:-|–|\.\.\.?|…|to)\s*{_FIGURE}\s*(mA|A)\s*(?:x|×|\*|,|;)\s*"
    rf"{_FIGURE}\s*(?:mV|V)?\s*(?:-|–|\.\.\.?|…|to)\s*{_FIGURE}\s*(mV|V)", re.IGNORECASE)
_POWER = re.compile(rf"\s*[,;]\s*(?:max\.?|at most)\s*{_FIGURE}\s*(mW|W)\s*$", re.IGNORECASE)
_FORMS = ('"rectangle 200-700 mA × 20-54 V", "polygon (200, 12000) (700, 12000) …" in mA and mV, or '
          '"points (200, 12000, 2400) …" in mA, mV and mW; ", max 32 W" may follow')


def rows_of_text(said: str) -> list[list[int]] | None:
    """Rows of whole numbers from "(1, 2) (3, 4)", "1/2; 3/4" or "1:2 3:4"; None for anything else."""
    said = said.strip()
    bracketed = re.findall(r"[(\[]([^()\[\]]*)[)\]]", said)
    if bracketed:
        # Nothing but separators may stand between the brackets.
        if re.sub(r"[(\[][^()\[\]]*[)\]]|[\s;,+]", "", said):
            return None
        pieces = bracketed
    else:
        between = r"[;+\n]" if re.search(r"[;+\n]", said) else r"\s+"
        pieces = [piece for piece in re.split(between, said) if piece.strip()]
    rows = [re.split(r"\s*[,/:]\s*|\s+", piece.strip()) for piece in pieces]
    if not rows or not all(re.fullmatch(r"\d{1,10}", number) for row in rows for number in row):
        return None
    return [[int(number) for number in row] for row in rows]


def _whole(said: str, unit: str) -> int | None:
    exact = Decimal(said) * (1 if unit.casefold().startswith("m") else 1000)
    return int(exact) if exact == exact.to_integral_value() else None


def _rectangle(said: str) -> list[list[int]] | None:
    found = _RECTANGLE.fullmatch(said.strip())
    if found is None:
        return None
    i1, i2, current, v1, v2, tension = found.groups()
    sides = [_whole(i1, current), _whole(i2, current), _whole(v1, tension), _whole(v2, tension)]
    low, high, least, most = sides
    if low is None or high is None or least is None or most is None or low >= high or least >= most:
        return None
    return [[low, least], [high, least], [high, most], [low, most]]


def _cross(a: Point, b: Point, c: Point) -> int:
    """Above zero where the way a, b, c turns left."""
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _hull(points: Sequence[Point]) -> list[Point]:
    """Corners of the convex hull, counter-clockwise (Andrew's monotone chain)."""
    chains: list[list[Point]] = []
    for ordered in (sorted(points), sorted(points, reverse=True)):
        chain: list[Point] = []
        for point in ordered:
            while len(chain) > 1 and _cross(chain[-2], chain[-1], point) <= 0:
                chain.pop()
            chain.append(point)
        chains.append(chain[:-1])
    return chains[0] + chains[1]


def _on_edge(hull: Sequence[Point], point: Point) -> bool:
    return any(_cross(a, b, point) == 0 and min(a[0], b[0]) <= point[0] <= max(a[0], b[0]) and min(a[1], b[1]) <= point[1]
               <= max(a[1], b[1]) for a, b in zip(hull, [*hull[1:], hull[0]], strict=True))


def _round_the_edge(hull: Sequence[Point], points: Sequence[Point]) -> list[Point]:
    """Points on the edge of a hull in the order in which one walks along it."""
    walk: list[Point] = []
    for start, end in zip(hull, [*hull[1:], hull[0]], strict=True):
        between = [point for point in points if point not in hull and _on_edge([start, end], point)]
        walk += [start, *sorted(between, key=functools.partial(_distance, start))]
    return walk


def _distance(start: Point, point: Point) -> int:
    return (point[0] - start[0]) ** 2 + (point[1] - start[1]) ** 2


def _is_simple(points: Sequence[Point]) -> bool:
    """Whether no two edges of the polygon meet but in the corner that they share."""
    edges = list(zip(points, [*points[1:], points[0]], strict=True))
    for first in range(len(edges)):
        for second in range(first + 1, len(edges)):
            (a, b), (c, d) = edges[first], edges[second]
            neighbours = second == first + 1 or (first == 0 and second == len(edges) - 1)
            if neighbours:
                shared, one, other = (b, a, d) if second == first + 1 else (a, b, c)
                if _cross(one, shared, other) == 0 and _on_edge([shared, one], other):
                    return False
            elif _meet(a, b, c, d):
                return False
    return True


def _meet(a: Point, b: Point, c: Point, d: Point) -> bool:
    sides = [_cross(a, b, c), _cross(a, b, d), _cross(c, d, a), _cross(c, d, b)]
    if (sides[0] > 0) != (sides[1] > 0) and (sides[2] > 0) != (sides[3] > 0) and 0 not in sides:
        return True
    on_border = zip(sides, (c, d, a, b), ([a, b], [a, b], [c, d], [c, d]), strict=True)
    return any(side == 0 and _on_edge(edge, point) for side, point, edge in on_border)


def edge_of_points(points: Sequence[tuple[int, int, int]]) -> list[Point] | None:
    """The corners round the edge of a list of (mA, mV, mW), None where more than one edge could be meant.

    Points that all lie on their convex hull have one edge, in whatever order they stand. Others are taken in their order
    where that is an edge that does not cross itself. Points at the highest power need not be corners: the limit of power
    stands for them.
    """
    corners = [(current, tension) for current, tension, _ in points]
    hull = _hull(corners)
    if len(hull) < 3:
        return None
    inner = [point for point in corners if not _on_edge(hull, point)]
    if not inner:
        return _round_the_edge(hull, corners)
    if _is_simple(corners):
        return corners
    highest = max(power for _, _, power in points)
    at_limit = {(current, tension) for current, tension, power in points if power >= highest * (1 - TOLERANCE)}
    return _round_the_edge(hull, [point for point in corners if point not in inner]) if set(inner) <= at_limit else None


def _of_points(rows: Sequence[Sequence[int]], path: str) -> tuple[dict[str, Any], list[Problem]]:
    problems = []
    points: list[tuple[int, int, int]] = []
    for number, row in enumerate(rows, 1):
        here = f"{path}.{number}"
        if len(row) != 3:
            problems.append(Problem(path=here, found=str(list(row)), allowed="three whole numbers: mA, mV, mW"))
            continue
        current, tension, power = row
        product = Fraction(current * tension, 1000)
        if abs(product - power) > TOLERANCE * power:
            problems.append(Problem(path=here, found=f"{power} mW at {current} mA and {tension} mV",
                                    allowed=f"{float(product):.10g} mW there, within 2 %"))
        points.append((current, tension, power))
    if len({point[:2] for point in points}) != len(points):
        problems.append(Problem(path=path, found="a point twice", allowed="each point once"))
    if problems or len(points) < 3:
        return {}, problems or [Problem(path=path, found=f"{len(points)} points", allowed="3 points or more, mA, mV, mW")]
    edge = edge_of_points(points)
    if edge is None:
        return {}, [Problem(path=path, found="points without one clear edge",
                            allowed="the points of the edge alone, in the order in which one walks along it")]
    return {"vertices": [list(corner) for corner in edge], "power_max_mw": max(power for _, _, power in points)}, []


def _of_text(said: str, path: str) -> tuple[dict[str, Any], list[Problem]]:
    refused: tuple[dict[str, Any], list[Problem]] = {}, [Problem(path=path, found=repr(said), allowed=_FORMS)]
    power = _POWER.search(said)
    rest = said[: power.start()] if power else said
    word = re.match(r"\s*(rectangle|polygon|points)\b\s*:?", rest, re.IGNORECASE)
    form = word[1].casefold() if word else ""
    body = rest[word.end():] if word else rest
    limit = _whole(*power.groups()) if power else None
    if power and limit is None:
        return refused
    corners = _rectangle(body) if form in ("", "rectangle") else None
    rows = corners or (rows_of_text(body) if form != "rectangle" else None)
    if not rows:
        return refused
    width = 3 if form == "points" or (not form and not corners and len(rows[0]) == 3) else 2
    if width == 3:
        made, problems = _of_points(rows, path)
    elif all(len(row) == 2 for row in rows):
        made, problems = {"vertices": rows}, []
    else:
        return refused
    return (made | {"power_max_mw": limit} if limit is not None and not problems else made), problems


def spelt_out(value: object, path: str) -> tuple[object, list[Problem]]:
    """A window with its vertices and its power limit, from any of the forms; what is none of them stays as it is."""
    if isinstance(value, str):
        return _of_text(value, path)
    if not isinstance(value, Mapping):
        return value, []
    made, problems = dict(value), []
    for form in ("rectangle", "points"):
        if form not in made:
            continue
        said, here = made.pop(form), f"{path}.{form}"
        if "vertices" in made:
            problems.append(Problem(path=here, found="a second form of the window", allowed="one of rectangle, points, vertices"))
            continue
        if isinstance(said, str):
            corners, wrong = _of_text(said if said.strip().casefold().startswith(form) else f"{form} {said}", here)
        elif form == "points" and _are_rows(said):
            corners, wrong = _of_points(said, here)
        else:
            corners, wrong = {}, [Problem(path=here, found=repr(said), allowed=_FORMS)]
        problems += wrong
        # A limit that stands beside the points counts before the highest of theirs.
        made = corners | made
    return made, problems


def _are_rows(said: object) -> bool:
    return isinstance(said, list) and all(
        isinstance(row, list) and all(isinstance(number, int) and not isinstance(number, bool) for number in row) for row in said)


__all__ = ["TOLERANCE", "WINDOWS", "edge_of_points", "rows_of_text", "spelt_out"]
