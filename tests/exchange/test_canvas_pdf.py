"""A drawing set on a page of PDF as vectors."""

from __future__ import annotations

import io

import pypdfium2
import pytest
from PIL import Image
from reportlab.pdfgen.canvas import Canvas

from vault.exchange.canvas import Drawing
from vault.exchange.canvas_pdf import draw_on_pdf


def shapes() -> Drawing:
    """One of each shape on 100 by 100 points."""
    drawing = Drawing(width=100, height=100)
    drawing.rectangle(10, 10, 20, 20, fill=0)
    drawing.circle((70, 20), 8)
    drawing.line((10, 60), (90, 60), width=2, dash=(10, 10))
    drawing.polygon((10, 70), (40, 70), (40, 95), hatch="rising", hatch_grey=0)
    drawing.polygon((60, 30), (90, 30), (90, 55), hatch="falling", hatch_grey=0)
    drawing.text((50, 90), "Ω 700", size=14, bold=True, halo=True)
    return drawing


def on_page(x: float, y: float, width: float) -> tuple[Image.Image, str, float]:
    """A page of 200 by 200 points at two pixels a point, its text, and the height the drawing took."""
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(200, 200))
    took = draw_on_pdf(canvas, shapes(), x, y, width)
    canvas.showPage()
    canvas.save()
    page = pypdfium2.PdfDocument(out.getvalue())[0]
    return page.render(scale=2).to_pil().convert("L"), page.get_textpage().get_text_bounded(), took


@pytest.mark.parametrize(("box", "darkest"), [
    ((24, 224, 56, 256), 0), ((130, 230, 150, 250), 0), ((22, 318, 36, 322), 0), ((42, 317, 58, 323), 255),
    ((60, 344, 80, 378), 0), ((150, 262, 178, 280), 0), ((0, 0, 400, 190), 255), ((210, 0, 400, 400), 255),
])
def test_the_shapes_reach_the_paper(box: tuple[int, int, int, int], darkest: int) -> None:
    """Each shape blackens its place, measured in pixels from the page's top left, and no other."""
    image, _, _ = on_page(0, 0, 100)
    low = image.crop(box).getextrema()[0]
    assert isinstance(low, int | float)
    assert abs(low - darkest) <= 60


@pytest.mark.parametrize(("x", "y", "width", "square"), [
    (0, 0, 200, (44, 44, 116, 116)), (100, 100, 50, (212, 112, 226, 126)), (100, 0, 100, (224, 224, 256, 256))])
def test_the_drawing_stands_where_it_is_put(x: float, y: float, width: float, square: tuple[int, int, int, int]) -> None:
    """The lower left corner and the width place and scale the drawing, and the height it takes is told."""
    image, _, took = on_page(x, y, width)
    assert image.crop(square).getextrema() == (0, 0)
    assert took == pytest.approx(width)


def test_text_stays_text() -> None:
    """Words can be selected and searched, the ohm sign too."""
    assert "Ω 700" in on_page(0, 0, 100)[1]
