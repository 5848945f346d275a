"""Labels to PDF and PNG at exact size."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from PIL import Image
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from labels.boxes import CodeBox, Layout
from labels.code import QUIET_MODULES
from labels.content import LabelContent
from labels.errors import LabelError
from labels.fonts import font_path
from labels.layout import lay_out
from labels.media import Medium
from labels.raster import prove, raster

# A filled edge on a dot's border would paint the next dot as well; this share of a module keeps it off.
INSET = 0.01
FONTS = {False: "LabelRegular", True: "LabelBold"}
Progress = Callable[[int, int], None]


def quiet(_done: int, _total: int) -> None:
    """No progress is shown."""


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """A temporary name beside `path` that becomes `path` when all went well; LabelError when it cannot be written."""
    partial = path.with_name(f".{path.name}.partial")
    try:
        yield partial
        partial.replace(path)
    except OSError as problem:
        raise LabelError(f"{path} cannot be written: {problem.strerror or problem}.", kind="cannot-write",
                         hint="Check the folder, its rights and the room on the disk.") from problem
    finally:
        with suppress(OSError):
            partial.unlink()


def register_fonts() -> None:
    """Make the label fonts known to the PDF writer, for embedding."""
    for bold, name in FONTS.items():
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(name, str(font_path(bold))))


def new_canvas(path: Path, width_points: float, height_points: float, title: str) -> Canvas:
    """A PDF that is the same bytes for the same content and asks the viewer not to scale."""
    register_fonts()
    canvas = Canvas(str(path), pagesize=(width_points, height_points), invariant=1, pageCompression=1,
                    initialFontName=FONTS[False])
    canvas.setTitle(title)
    canvas.setCreator("gearkeep")
    canvas.setViewerPreference("PrintScaling", "None")
    return canvas


def proven(content: LabelContent, medium: Medium) -> tuple[Layout, Image.Image]:
    """Layout and picture of a label whose codes were read back from that picture."""
    try:
        _refuse_unknown_letters(content)
        layout = lay_out(content, medium)
        image = raster(layout)
        prove(layout, image)
    except LabelError as problem:
        raise LabelError(f"Label {content.tag_shown}: {problem.what}", hint=problem.hint, kind=problem.kind) from problem
    return layout, image


def _refuse_unknown_letters(content: LabelContent) -> None:
    """A letter that the font lacks would print as an empty box and be read as nothing."""
    register_fonts()
    known = pdfmetrics.getFont(FONTS[False]).face.charToGlyph
    texts = [content.tag_shown, content.banner or "", *content.lines,
             *(text for figure in content.big for text in (figure.caption, figure.value))]
    missing = sorted({letter for text in texts for letter in text if ord(letter) not in known})
    if missing:
        raise LabelError(f"The label's font has no {' '.join(missing)}.", kind="no-glyph",
                         hint="Write the place or the name in Latin letters.")


def _draw_code(canvas: Canvas, code: CodeBox, medium: Medium) -> None:
    """One filled path for the whole code, runs of modules merged along rows."""
    path: Any = canvas.beginPath()
    size, page = code.dots, medium.height_dots
    left, top = code.box.left + QUIET_MODULES * size, code.box.top + QUIET_MODULES * size
    edge = INSET * size
    for y, row in enumerate(code.symbol.matrix):
        x = 0
        while x < len(row):
            if not row[x]:
                x += 1
                continue
            start = x
            while x < len(row) and row[x]:
                x += 1
            path.rect(medium.points(left + start * size + edge), medium.points(page - top - (y + 1) * size + edge),
                      medium.points((x - start) * size - 2 * edge), medium.points(size - 2 * edge))
    canvas.drawPath(path, stroke=0, fill=1)


def draw_page(canvas: Canvas, layout: Layout) -> None:
    """One label as one page."""
    medium = layout.medium
    page = medium.height_dots
    canvas.setFillGray(0)
    for bar in layout.bars:
        canvas.rect(medium.points(bar.left), medium.points(page - bar.bottom), medium.points(bar.width),
                    medium.points(bar.height), stroke=0, fill=1)
    for line in layout.texts:
        canvas.setFillGray(1 if line.white else 0)
        canvas.setFont(FONTS[line.bold], medium.points(line.size))
        canvas.drawString(medium.points(line.left), medium.points(page - line.top - line.cap), line.text)
    canvas.setFillGray(0)
    for code in layout.codes:
        _draw_code(canvas, code, medium)
    canvas.showPage()


def write_pdf(path: Path, contents: Sequence[LabelContent], medium: Medium,
              progress: Progress = quiet) -> list[Layout]:
    """One label a page, at exact size; returns what was laid out. Nothing is written when a label fails its proof."""
    layouts = []
    with whole_file(path) as partial:
        canvas = new_canvas(partial, medium.points(medium.width_dots), medium.points(medium.height_dots), "Labels")
        for number, content in enumerate(contents, 1):
            layout, _ = proven(content, medium)
            draw_page(canvas, layout)
            layouts.append(layout)
            progress(number, len(contents))
        canvas.save()
    return layouts


def write_png(path: Path, content: LabelContent, medium: Medium) -> Layout:
    """One label as a 1-bit picture, one pixel a printer dot."""
    layout, image = proven(content, medium)
    with whole_file(path) as partial:
        image.save(partial, format="PNG", dpi=(medium.dpi, medium.dpi))
    return layout
