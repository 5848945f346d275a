"""The picture of a fit: what the driver can give, and what the luminaire needs, in the current-voltage plane."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from vault.domain.driver import Window
from vault.domain.findings import Finding, Severity
from vault.errors import GearkeepError
from vault.exchange.canvas import Anchor, Drawing, Point, text_width, to_png, to_svg, wrapped
from vault.exchange.files import write_whole

WIDTH, HEIGHT = 900, 560
LEFT, TOP, RIGHT, BOTTOM = 70.0, 92.0, 575.0, 490.0
ASIDE = 600.0
FORMATS = {".svg": to_svg, ".png": to_png}


def _round_step(most: float) -> float:
    """A step of 1, 2 or 5 times a power of ten that cuts 0..most into four to ten pieces."""
    power = 1.0
    while True:
        for digit in (1, 2, 5):
            if most / (digit * power) <= 8:
                return digit * power
        power *= 10


@dataclass(frozen=True, slots=True, kw_only=True)
class _Plane:
    """mA and V to points of the drawing."""

    most_ma: float
    most_v: float

    def at(self, ma: float, volts: float) -> Point:
        return (LEFT + (RIGHT - LEFT) * ma / self.most_ma, BOTTOM - (BOTTOM - TOP) * volts / self.most_v)


def clipped(corners: Sequence[tuple[float, float]], power_max_w: float | None) -> list[tuple[float, float]]:
    """A polygon (mA, V) with what lies above the hyperbola P = U·I cut away, the curve as short pieces.

    Each edge is cut into 64 pieces; a point above the curve is moved down its own current line onto it, so the
    result is exact on the currents of the pieces.
    """
    if power_max_w is None:
        return list(corners)
    points: list[tuple[float, float]] = []
    for (i0, u0), (i1, u1) in zip(corners, [*corners[1:], corners[0]], strict=True):
        for piece in range(64):
            i, u = i0 + (i1 - i0) * piece / 64, u0 + (u1 - u0) * piece / 64
            points.append((i, min(u, power_max_w * 1000 / i)) if i > 0 else (i, u))
    return points


def _axes(drawing: Drawing, plane: _Plane) -> None:
    step_ma, step_v = _round_step(plane.most_ma), _round_step(plane.most_v)
    for number in range(int(plane.most_ma / step_ma) + 1):
        x, y = plane.at(number * step_ma, 0)
        drawing.line((x, TOP), (x, BOTTOM), width=0.5, grey=225)
        drawing.text((x, y + 18), f"{number * step_ma:g}", anchor="middle", grey=60)
    for number in range(int(plane.most_v / step_v) + 1):
        x, y = plane.at(0, number * step_v)
        drawing.line((LEFT, y), (RIGHT, y), width=0.5, grey=225)
        drawing.text((x - 8, y + 4), f"{number * step_v:g}", anchor="end", grey=60)


def _frame(drawing: Drawing) -> None:
    drawing.line((LEFT, TOP), (LEFT, BOTTOM), (RIGHT, BOTTOM), width=1.2)
    drawing.text(((LEFT + RIGHT) / 2, BOTTOM + 40), "output current, mA", anchor="middle", size=12)
    drawing.text((LEFT - 42, TOP - 12), "output voltage, V", size=12)


def _window(drawing: Drawing, plane: _Plane, window: Window) -> None:
    corners = [(float(ma), mv / 1000) for ma, mv in window.vertices]
    watts = None if window.power_max_mw is None else window.power_max_mw / 1000
    outline = clipped(corners, watts)
    inside = [plane.at(ma, volts) for ma, volts in outline]
    drawing.polygon(*inside, fill=244, hatch="rising", hatch_grey=190)
    drawing.line(*inside, inside[0], inside[1], width=1.8, grey=70)
    for power, called in ((watts, "at most"),
                          (None if window.power_min_mw is None else window.power_min_mw / 1000, "at least")):
        if power is None:
            continue
        curve = [(ma, power * 1000 / ma) for ma in _steps(power * 1000 / plane.most_v, plane.most_ma)]
        drawing.line(*(plane.at(ma, volts) for ma, volts in curve), width=1.0, grey=90, dash=(2, 3))
        # The name ends where the curve leaves the plane, and keeps above the curve's height at its first letter.
        said = f"{called} {power:g} W"
        first_ma = plane.most_ma * (1 - (text_width(said, 11) + 8) / (RIGHT - LEFT))
        _, y = plane.at(first_ma, min(power * 1000 / first_ma, plane.most_v))
        drawing.text((RIGHT - 4, y - 4), said, anchor="end", size=11, grey=40, halo=True)


def _steps(first: float, last: float) -> list[float]:
    return [first + (last - first) * n / 96 for n in range(97)] if last > first else []


def _need(drawing: Drawing, plane: _Plane, low_v: float, high_v: float, current_ma: int, permille: int) -> None:
    least, most = (current_ma * (1000 - permille) / 1000, current_ma * (1000 + permille) / 1000)
    (x0, y0), (x1, y1) = plane.at(least, high_v), plane.at(most, low_v)
    # A box of no width would vanish.
    x0, x1 = (x0, x1) if x1 - x0 >= 4 else ((x0 + x1) / 2 - 2, (x0 + x1) / 2 + 2)
    drawing.rectangle(x0, y0, x1 - x0, max(y1 - y0, 3.0), hatch="falling", hatch_grey=40)
    drawing.line((x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0), width=1.2)
    drawing.circle(plane.at(current_ma, (low_v + high_v) / 2), 4)
    place = plane.at(current_ma, high_v)
    said = f"needs {current_ma} mA at {low_v:.1f} to {high_v:.1f} V"
    anchor: Anchor = "end" if current_ma > plane.most_ma * 0.55 else "start"
    drawing.text((x1 if anchor == "end" else x0, place[1] - 8), said, anchor=anchor, bold=True, size=12, halo=True)


def _maximum(drawing: Drawing, plane: _Plane, module_max_ma: int) -> None:
    x, _ = plane.at(module_max_ma, 0)
    drawing.line((x, TOP), (x, BOTTOM), width=1.6, dash=(8, 5))
    late = module_max_ma > plane.most_ma * 0.6
    drawing.text((x - 6 if late else x + 6, TOP + 14), f"module maximum {module_max_ma} mA",
                 anchor="end" if late else "start", halo=True)


HEADINGS = {Severity.STOP: "STOP", Severity.UNKNOWN: "UNKNOWN", Severity.CARE: "CARE", Severity.NOTE: "NOTE"}


def _aside(drawing: Drawing, findings: Sequence[Finding], verdict_words: str) -> None:
    width = WIDTH - ASIDE - 24
    y = TOP - 12
    for line in wrapped(verdict_words.replace("-", " "), 20, width, bold=True):
        y += 22
        drawing.text((ASIDE, y), line, size=20, bold=True)
    y += 12
    order = list(HEADINGS)
    told = sorted(findings, key=lambda finding: order.index(finding.severity))
    for number, finding in enumerate(told):
        lines = wrapped(finding.says, 12.5, width)
        if y + 34 + 17 * len(lines) > HEIGHT - 30 and number:
            drawing.text((ASIDE, y + 24), f"and {len(told) - number} more; see the list of findings", size=12, grey=60)
            return
        drawing.line((ASIDE, y + 8), (WIDTH - 24, y + 8), width=0.6, grey=160)
        where = f", {finding.where}" if finding.where else ""
        y += 26
        drawing.text((ASIDE, y), f"{HEADINGS[finding.severity]}{where}", size=12, bold=True)
        for line in lines:
            y += 17
            drawing.text((ASIDE, y), line, size=12.5)
        y += 4
    if not told:
        drawing.text((ASIDE, y + 20), "Nothing was found against it.", size=12.5)


def draw_fit(
    *,
    title: str,
    window: Window | None,
    spare_name: str,
    current_ma: int,
    tolerance_permille: int,
    voltage_low_mv: int,
    voltage_high_mv: int,
    module_max_ma: int | None,
    findings: Sequence[Finding],
    verdict_words: str,
) -> Drawing:
    """The drawing of `plot_fit`."""
    low_v, high_v = voltage_low_mv / 1000, voltage_high_mv / 1000
    corners = window.vertices if window is not None else ()
    most_ma = max(current_ma * (1000 + tolerance_permille) / 1000, module_max_ma or 0, *(ma for ma, _ in corners), 1)
    most_v = max(high_v, *(mv / 1000 for _, mv in corners), 1.0)
    plane = _Plane(most_ma=most_ma * 1.12, most_v=most_v * 1.18)
    drawing = Drawing(width=WIDTH, height=HEIGHT)
    drawing.text((24, 32), title, size=18, bold=True)
    named = f"window of {spare_name}" if window is not None else f"{spare_name} declares no window"
    drawing.text((24, 54), named, size=13, grey=40)
    _axes(drawing, plane)
    if window is not None:
        _window(drawing, plane, window)
    if module_max_ma is not None:
        _maximum(drawing, plane, module_max_ma)
    _need(drawing, plane, low_v, high_v, current_ma, tolerance_permille)
    _frame(drawing)
    _aside(drawing, findings, verdict_words)
    return drawing


def plot_fit(
    path: Path,
    *,
    title: str,
    window: Window | None,
    spare_name: str,
    current_ma: int,
    tolerance_permille: int,
    voltage_low_mv: int,
    voltage_high_mv: int,
    module_max_ma: int | None,
    findings: Sequence[Finding],
    verdict_words: str,
) -> None:
    """Draw a driver's window, what the module needs (voltages by set current and tolerance), and the findings.

    The file's ending decides: .svg or .png. It is written whole or not at all. Raises GearkeepError
    (unknown-format, unwritable-file).
    """
    writer = FORMATS.get(path.suffix.casefold())
    if writer is None:
        raise GearkeepError(f"{path.name} cannot be drawn: its ending is {path.suffix or 'missing'}",
                            hint="end the name in .svg or .png", kind="unknown-format")
    drawing = draw_fit(
        title=title, window=window, spare_name=spare_name, current_ma=current_ma, tolerance_permille=tolerance_permille,
        voltage_low_mv=voltage_low_mv, voltage_high_mv=voltage_high_mv, module_max_ma=module_max_ma,
        findings=findings, verdict_words=verdict_words)
    write_whole(path, writer(drawing))
