"""The A4 page: its codes read back, and nothing leaves the page unseen."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest
import zxingcpp
from PIL import Image

from labels.errors import LabelError
from labels.sheet import sheet_pdf


def texts_on(pdf: Path) -> list[str]:
    """Texts of the codes on the first page, rasterised by poppler at 200 dpi, from left to right."""
    subprocess.run(["pdftoppm", "-r", "200", "-gray", "-singlefile", pdf, pdf.with_suffix("")], check=True)
    with Image.open(pdf.with_suffix(".pgm")) as page:
        found = zxingcpp.read_barcodes(page, formats=zxingcpp.BarcodeFormat.QRCodeModel2)
    return [one.text for one in sorted(found, key=lambda one: one.position.top_left.x)]


@pytest.mark.parametrize(
    "texts",
    [
        ["a"],
        ["lx.example.eu/records\n12\nroot\n\n— lx.example.eu/records AzQ=\n"],
        ["first text " * 20, "second text " * 20],
        ["0123456789abcdef" * 60],
        ["äöü ≤ – Ω"],
    ],
)
def test_codes_read_back_from_the_page(tmp_path: Path, texts: list[str]) -> None:
    """Every text, line breaks and letters outside ASCII with it, comes back exactly."""
    sheet_pdf(tmp_path / "sheet.pdf", "Checkpoint", ["One paragraph."], [(f"Code of {len(text)}", text) for text in texts])
    assert texts_on(tmp_path / "sheet.pdf") == texts


def test_title_paragraphs_and_captions_are_on_the_page(tmp_path: Path) -> None:
    """The words can be taken out of the page again, a long paragraph in several lines."""
    sheet_pdf(tmp_path / "sheet.pdf", "The title", ["alpha " * 40, "omega"], [("The caption", "x")])
    words = subprocess.run(["pdftotext", tmp_path / "sheet.pdf", "-"], check=True, capture_output=True, text=True).stdout
    assert (words.count("alpha"), words.count("omega"), "The title" in words, "The caption" in words) == (40, 1, True, True)


def test_the_same_page_is_the_same_bytes(tmp_path: Path) -> None:
    """Nothing of the hour or of chance is in the file."""
    sheet_pdf(tmp_path / "one.pdf", "Title", ["words"], [("code", "x")])
    sheet_pdf(tmp_path / "two.pdf", "Title", ["words"], [("code", "x")])
    assert (tmp_path / "one.pdf").read_bytes() == (tmp_path / "two.pdf").read_bytes()


@pytest.mark.parametrize(
    ("paragraphs", "texts"),
    [
        (["word " * 40] * 60, []),
        (["word " * 40] * 14, ["x" * 1500]),
        ([], ["x" * 800, "y" * 800, "z" * 800]),
        ([], ["x" * 3000]),
    ],
)
def test_what_leaves_the_page_is_refused(tmp_path: Path, paragraphs: list[str], texts: list[str]) -> None:
    """Too much text, too many codes, or a text beyond any code (2331 bytes at level M) is refused; no file is left."""
    with pytest.raises(LabelError) as caught:
        sheet_pdf(tmp_path / "sheet.pdf", "Title", paragraphs, [("code", text) for text in texts])
    assert caught.value.kind == "too-big"
    assert list(tmp_path.iterdir()) == []


def test_a_missing_folder_is_said(tmp_path: Path) -> None:
    """A page into a folder that does not exist is refused and nothing is left behind."""
    with pytest.raises(LabelError) as caught:
        sheet_pdf(tmp_path / "missing" / "sheet.pdf", "Title", [], [])
    assert (caught.value.kind, bool(caught.value.hint)) == ("cannot-write", True)
    assert list(tmp_path.iterdir()) == []
