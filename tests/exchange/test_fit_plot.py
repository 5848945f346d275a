"""The picture of a fit, as SVG and PNG."""

from __future__ import annotations

from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from vault.domain.driver import Window
from vault.domain.findings import Finding, Severity
from vault.errors import GearkeepError
from vault.exchange.canvas import Drawing, text_width, to_png, to_svg, wrapped
from vault.exchange.plot import clipped, draw_fit, plot_fit

WINDOW = Window(vertices=((200, 12000), (1050, 15000), (1050, 42000), (820, 54000), (200, 54000)), power_max_mw=40000)
FINDING = Finding(rule="window", severity=Severity.STOP, found="57.2", allowed="44.4", unit="V",
                  source="common practice, no source", where="channel 1",
                  says="The module may need <57.2 V> & more when cold.")
FIT: dict[str, Any] = {
    "title": "Hall <north> & south", "window": WINDOW, "spare_name": "X-40", "current_ma": 700,
    "tolerance_permille": 50, "voltage_low_mv": 32640, "voltage_high_mv": 41600, "module_max_ma": 800,
    "findings": [FINDING], "verdict_words": "does-not-fit",
}


def _texts(svg: bytes) -> str:
    return " ".join(ElementTree.fromstring(svg).itertext())


@pytest.mark.parametrize("change", [
    {}, {"window": None}, {"findings": []}, {"module_max_ma": None}, {"findings": [FINDING] * 40},
    {"tolerance_permille": 0}, {"voltage_low_mv": 41600}, {"window": Window(vertices=((0, 0), (1, 0), (1, 1)))},
    {"title": "bell \a and tab \t"}, {"current_ma": 1}, {"current_ma": 20000, "module_max_ma": None},
    {"window": Window(vertices=WINDOW.vertices, power_max_mw=40000, power_min_mw=2000)},
])
def test_every_picture_is_sound(tmp_path: Path, change: dict[str, Any]) -> None:
    """Whatever is known or missing, the SVG parses as XML and the PNG has the drawing's size, twice."""
    for name in ("fit.svg", "fit.PNG"):
        plot_fit(tmp_path / name, **{**FIT, **change})
    assert ElementTree.parse(tmp_path / "fit.svg").getroot().attrib["viewBox"] == "0 0 900 560"
    assert Image.open(tmp_path / "fit.PNG").size == (1800, 1120)


@pytest.mark.parametrize("said", [
    "Hall <north> & south", "window of X-40", "at most 40 W", "module maximum 800 mA",
    "needs 700 mA at 32.6 to 41.6 V", "does not fit", "STOP, channel 1", "<57.2 V>",
])
def test_what_must_be_read_stands_there(said: str) -> None:
    """The picture names title, driver, power limit, need, module maximum, verdict and finding."""
    assert said in _texts(to_svg(draw_fit(**FIT)))


def test_too_many_findings_are_counted() -> None:
    """What has no room is counted, never silently dropped."""
    assert "more; see the list of findings" in _texts(to_svg(draw_fit(**{**FIT, "findings": [FINDING] * 40})))


@pytest.mark.parametrize("name", ["fit.pdf", "fit"])
def test_another_ending_is_refused(tmp_path: Path, name: str) -> None:
    """Only .svg and .png are drawn, and nothing is left behind otherwise."""
    with pytest.raises(GearkeepError) as refused:
        plot_fit(tmp_path / name, **FIT)
    assert refused.value.kind == "unknown-format"
    assert list(tmp_path.iterdir()) == []


def test_a_missing_directory_is_refused(tmp_path: Path) -> None:
    """A file that cannot be written is an error that names it."""
    with pytest.raises(GearkeepError, match=r"fit\.svg") as refused:
        plot_fit(tmp_path / "none" / "fit.svg", **FIT)
    assert refused.value.kind == "unwritable-file"


@given(st.integers(1, 100))
def test_the_clipped_window_keeps_the_power(watts: int) -> None:
    """No corner of the clipped window gives more than its power limit (P = U·I)."""
    corners = [(float(ma), mv / 1000) for ma, mv in WINDOW.vertices]
    assert max(ma * volts for ma, volts in clipped(corners, watts)) <= watts * 1000 * (1 + 1e-9)


@given(st.text(st.sampled_from("abc iW  "), max_size=200), st.integers(20, 200))
def test_wrapped_lines_keep_the_width_and_the_letters(said: str, width: int) -> None:
    """Wrapping loses no letter and no line is too wide."""
    lines = wrapped(said, 12, width)
    assert "".join(lines).replace(" ", "") == said.replace(" ", "")
    assert max((text_width(line, 12) for line in lines), default=0.0) <= width


def test_the_shapes_reach_the_paper(tmp_path: Path) -> None:
    """Each primitive leaves black on the raster where it was put, and nowhere else."""
    drawing = Drawing(width=100, height=100)
    drawing.rectangle(10, 10, 20, 20, fill=0)
    drawing.circle((70, 20), 8)
    drawing.line((10, 60), (90, 60), width=2, dash=(10, 10))
    drawing.polygon((10, 70), (40, 70), (40, 95), hatch="rising", hatch_grey=0)
    drawing.text((50, 90), "M", size=20, bold=True)
    path = tmp_path / "shapes.png"
    path.write_bytes(to_png(drawing))
    image = Image.open(path)
    dark = {box: image.crop(box).getextrema()[0] for box in (
        (20, 20, 60, 60), (130, 30, 150, 50), (22, 118, 36, 122), (60, 140, 80, 160), (100, 150, 130, 180),
        (42, 118, 58, 122), (84, 0, 120, 100))}
    assert list(dark.values()) == [0, 0, 0, 0, 0, 255, 255]
