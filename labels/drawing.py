"""Labels to PDF, PNG and SVG at exact size; whole files or none."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sized
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from labels.content import LabelContent
from labels.errors import LabelError
from labels.faces import face
from labels.fonts import font_path
from labels.media import Medium, Sheet
from labels.media_names import name_of_size
from labels.page_stream import plan
from labels.pdf_writer import PdfWriter
from labels.proof import Drawn, drawn, proven
from labels.pwg import PixelKind, document
from labels.svg import svg_of
from labels.workers import made_pages

if TYPE_CHECKING:
    from PIL import Image
    from reportlab.pdfgen.canvas import Canvas

__all__ = ["FONTS", "Drawn", "Progress", "new_canvas", "proven", "quiet", "register_fonts", "whole_file", "write_pdf",
           "write_png", "write_pwg", "write_svg"]

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
    """Make the label fonts known to the library that sets whole pages of text, for embedding."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    for bold, name in FONTS.items():
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(name, str(font_path(bold))))


def new_canvas(path: Path, width_points: float, height_points: float, title: str) -> Canvas:
    """A page of text that is the same bytes for the same content and asks the viewer not to scale."""
    from reportlab.pdfgen.canvas import Canvas

    register_fonts()
    canvas = Canvas(str(path), pagesize=(width_points, height_points), invariant=1, pageCompression=1,
                    initialFontName=FONTS[False])
    canvas.setTitle(title)
    canvas.setCreator("gearkeep")
    canvas.setViewerPreference("PrintScaling", "None")
    return canvas


def write_pdf(path: Path, contents: Iterable[LabelContent], medium: Medium, progress: Progress = quiet, *,
              total: int | None = None, sheet: Sheet | None = None, workers: int | None = None) -> list[Drawn]:
    """Labels at exact size, one a page or as many as a sheet's grid holds; returns what was drawn, in order.

    contents is read as it is needed; `total` says how many will come where it cannot be counted. workers: processes that
    draw (1: this one; None: one a core, but this one for few labels). Nothing is written when one label fails its proof.
    Raises LabelError: cannot-write, bad-medium, worker-lost, and what a label's proof raises.
    """
    planned = plan(medium, sheet)
    known = len(contents) if total is None and isinstance(contents, Sized) else total
    done: list[Drawn] = []
    with whole_file(path) as partial, partial.open("wb") as out, closing(made_pages(contents, planned, workers)) as pages:
        pdf = PdfWriter(out, (face(False), face(True)), "Labels")
        for page in pages:
            pdf.add_page(*planned.points, page.stream)
            done += page.drawn
            progress(len(done), len(done) if known is None else known)
        if not done:
            raise LabelError("There is no label to draw.", kind="no-labels", hint="Name one luminaire or more.")
        pdf.close()
    return done


def write_png(path: Path, content: LabelContent, medium: Medium) -> Drawn:
    """One label as a 1-bit picture, one pixel a printer dot. Raises LabelError as write_pdf does."""
    layout, image = proven(content, medium)
    with whole_file(path) as partial:
        image.save(partial, format="PNG", dpi=(medium.dpi, medium.dpi))
    return drawn(content, layout)


def write_pwg(path: Path, contents: Iterable[LabelContent], medium: Medium, progress: Progress = quiet, *,
              total: int | None = None) -> list[Drawn]:
    """Labels as PWG raster, one a page, for a printer that takes files of it. Raises LabelError as write_pdf does."""
    done: list[Drawn] = []
    known = len(contents) if total is None and isinstance(contents, Sized) else total

    def pictures() -> Iterator[Image.Image]:
        for content in contents:
            layout, image = proven(content, medium)
            done.append(drawn(content, layout))
            progress(len(done), len(done) if known is None else known)
            yield image

    with whole_file(path) as partial, partial.open("wb") as out:
        for piece in document(pictures(), dpi=medium.dpi, kind=PixelKind.BLACK_1,
                              medium=name_of_size(medium.width_um, medium.height_um)):
            out.write(piece)
        if not done:
            raise LabelError("There is no label to draw.", kind="no-labels", hint="Name one luminaire or more.")
    return done


def write_svg(path: Path, content: LabelContent, medium: Medium) -> Drawn:
    """One label as outlines, its size in millimetres. Raises LabelError as write_pdf does."""
    layout, _ = proven(content, medium)
    with whole_file(path) as partial:
        partial.write_text(svg_of(content, layout), encoding="utf-8")
    return drawn(content, layout)
