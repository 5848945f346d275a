"""A4 pages for a binder: their codes read back, their words are there, and nothing leaves a page unseen."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest
import zxingcpp
from PIL import Image

from labels.errors import LabelError
from labels.pages import Block, Chapter, pages_pdf
from labels.reading import read_picture

LINK = "HTTPS://LX.EXAMPLE.EU/S/17/3-8#"


def chapter(*blocks: Block, title: str = "The title", paragraphs: tuple[str, ...] = ("One paragraph.",)) -> Chapter:
    """A chapter of blocks."""
    return Chapter(title=title, paragraphs=paragraphs, blocks=blocks)


def pages_of(pdf: Path) -> list[Path]:
    """Each page through poppler at 200 dpi."""
    subprocess.run(["pdftoppm", "-r", "200", "-png", pdf, pdf.with_suffix("")], check=True)
    return sorted(pdf.parent.glob("*.png"))


def texts_on(picture: Path) -> list[str]:
    """Texts of the codes in a picture."""
    with Image.open(picture) as page:
        found = zxingcpp.read_barcodes(page.convert("L"), formats=zxingcpp.BarcodeFormat.QRCodeModel2)
    return sorted(one.text for one in found)


@pytest.mark.parametrize(("texts", "link"), [
    ([LINK + "1" * 340], True), ([LINK + "9" * 1810, LINK + "1" * 340], True), (["HTTPS://LX.EXAMPLE.EU/L/28T5CY4G7"], True),
    (["lx.example.eu/records\n12\nroot\n\n— lx.example.eu/records AzQ=\n"], False), (["äöü ≤ – Ω"], False),
    (["first text " * 20, "second text " * 20], False),
])
def test_codes_read_back_from_the_page(tmp_path: Path, texts: list[str], link: bool) -> None:
    """Links with digits and any other text, line breaks and letters outside ASCII with it, come back exactly."""
    pages_pdf(tmp_path / "p.pdf", [chapter(*(Block(text=text, words=("a word",), link=link) for text in texts))])
    assert [texts_on(page) for page in pages_of(tmp_path / "p.pdf")] == [sorted(texts)]


def test_a_photograph_s_reader_finds_them(tmp_path: Path) -> None:
    """The reader of labels reads the page as well."""
    pages_pdf(tmp_path / "p.pdf", [chapter(*(Block(text=LINK + "1" * n, words=()) for n in (338, 339, 340)))])
    assert len(read_picture(pages_of(tmp_path / "p.pdf")[0])) == 3


def test_many_codes_take_several_pages(tmp_path: Path) -> None:
    """Every one of thirty codes is on one of the pages, and each chapter begins on a page of its own."""
    texts = [LINK + "123" * 112 + f"{number:03}" for number in range(30)]
    second = chapter(*(Block(text=text, words=("x",)) for text in texts), title="Second")
    pages_pdf(tmp_path / "p.pdf", [chapter(title="First"), second])
    found = [texts_on(page) for page in pages_of(tmp_path / "p.pdf")]
    assert found[0] == [] and len(found) > 3 and sorted(text for page in found for text in page) == texts
    words = subprocess.run(["pdftotext", tmp_path / "p.pdf", "-"], check=True, capture_output=True, text=True).stdout
    assert words.count("Second, continued") == len(found) - 2


def test_title_paragraphs_and_words_are_on_the_page(tmp_path: Path) -> None:
    """The words can be taken out of the page again, a long paragraph in several lines."""
    pages_pdf(tmp_path / "p.pdf", [chapter(Block(text=LINK + "1", words=("The caption", "below")),
                                           paragraphs=("alpha " * 40, "omega"))])
    words = subprocess.run(["pdftotext", tmp_path / "p.pdf", "-"], check=True, capture_output=True, text=True).stdout
    assert [words.count(word) for word in ("The title", "alpha", "omega", "The caption", "below")] == [1, 40, 1, 1, 1]


def test_a_page_is_a4_and_the_same_bytes_each_time(tmp_path: Path) -> None:
    """210 by 297 mm (ISO 216); nothing of the hour or of chance is in the file."""
    for name in ("one.pdf", "two.pdf"):
        pages_pdf(tmp_path / name, [chapter(Block(text=LINK + "1", words=("x",)))])
    told = subprocess.run(["pdfinfo", tmp_path / "one.pdf"], check=True, capture_output=True, text=True).stdout
    assert "A4" in told.split("Page size:")[1].splitlines()[0]
    assert (tmp_path / "one.pdf").read_bytes() == (tmp_path / "two.pdf").read_bytes()


@pytest.mark.parametrize("block", [
    Block(text="x" * 3000, words=(), link=False), Block(text="x" * 2300, words=(), link=False),
    Block(text=LINK + "1", words=("word " * 3000,)),
])
def test_what_finds_no_room_is_refused(tmp_path: Path, block: Block) -> None:
    """A text beyond any code (2331 bytes at level M), a code wider than its column, more words than a page; no file is left."""
    with pytest.raises(LabelError) as caught:
        pages_pdf(tmp_path / "p.pdf", [chapter(block)])
    assert caught.value.kind == "too-big"
    assert list(tmp_path.iterdir()) == []


def test_a_missing_folder_is_said(tmp_path: Path) -> None:
    """A page into a folder that does not exist is refused and nothing is left behind."""
    with pytest.raises(LabelError) as caught:
        pages_pdf(tmp_path / "missing" / "p.pdf", [chapter()])
    assert (caught.value.kind, bool(caught.value.hint)) == ("cannot-write", True)
    assert list(tmp_path.iterdir()) == []
