"""The pack's paper as pages, its table, how long it is kept, and how its files are written."""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from pathlib import Path

import pypdfium2
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vault.domain.settings import Channel, Control, Duty, Gear, Output, Presence, Protocol, Settings
from vault.domain.site import Line, LineKind
from vault.errors import GearkeepError, UsageProblem
from vault.exchange.canvas_pdf import FONTS, register_drawing_fonts
from vault.exchange.files import read_table
from vault.exchange.pack_paper import Paper, PaperCode, PaperSection, PaperTable
from vault.exchange.pack_paper_pdf import WIDTH, paper_pdf
from vault.exchange.pack_retention import USUAL, read_retention
from vault.exchange.pack_table import FURTHER, TableRow, as_built_table
from vault.exchange.pack_writing import write_folder_and_zip
from vault.exchange.schedule_written import kelvin_of

MANY = 150
TABLE = PaperTable(headings=("Reference", "Place"), widths=(1, 4), rows=[(f"L-{n:03}", f"Hall, bay {n}") for n in range(MANY)],
                   loud=frozenset({7}))
CODE = PaperCode(matrix=((True, False), (False, True)), lines=("what it is",))
PAPER = Paper(
    title="Handover", site="Baths & <Pools>", running_head="Baths  2030-01-01  checkpoint 07e2",
    facts=(("Made on", "2030-01-01"),), opening=("An opening.",),
    sections=(PaperSection(key="a", title="First part", tables=(TABLE,)),
              PaperSection(key="b", title="Second part", paragraphs=("Words at 室 of it.",), parts=(
                  PaperSection(key="c", title="A part of it", codes=(CODE, CODE, CODE)),))))


def _pages(data: bytes) -> list[str]:
    with pypdfium2.PdfDocument(data) as document:
        return [" ".join(page.get_textpage().get_text_range().split()) for page in document]


@pytest.fixture(scope="module")
def pages() -> Sequence[str]:
    """The text of each page."""
    return _pages(paper_pdf(PAPER))


def test_every_page_says_which_of_how_many_it_is(pages: Sequence[str]) -> None:
    """With the running head."""
    assert [page for n, page in enumerate(pages, 1) if f"page {n} of {len(pages)}" not in page.replace("  ", " ")
            or "Baths 2030-01-01 checkpoint 07e2" not in page] == []


def test_a_table_says_its_headings_on_every_page(pages: Sequence[str]) -> None:
    """And every row once."""
    assert [page for page in pages if "Hall, bay" in page and "Reference Place" not in page] == []
    assert re.findall("L-[0-9]{3}", " ".join(pages)) == [f"L-{n:03}" for n in range(MANY)]


@pytest.mark.parametrize("title", ["First part", "Second part", "A part of it"])
def test_the_contents_name_the_page_of_every_part(pages: Sequence[str], title: str) -> None:
    """Counted as the pages are."""
    at = next(n for n, page in enumerate(pages, 1) if n > 2 and title in page)
    with pypdfium2.PdfDocument(paper_pdf(PAPER)) as document:
        bookmarks = {one.get_title(): (one.get_dest().get_index() or 0) + 1 for one in document.get_toc()}
    assert bookmarks[title] == at
    assert re.search(rf"(^| ){at}( |$)", pages[1].replace(title, ""))


def test_a_letter_that_the_font_lacks_is_told_by_its_number(pages: Sequence[str]) -> None:
    """An empty frame would tell nothing; mark-up in names is no mark-up."""
    assert "Words at [U+5BA4] of it." in " ".join(pages) and "Baths & <Pools>" in pages[0]


def test_the_same_paper_is_the_same_file_and_its_way_is_told() -> None:
    """Progress counts rows up to the last."""
    told: list[tuple[int, int]] = []
    first = paper_pdf(PAPER, lambda done, total: told.append((done, total)))
    assert first == paper_pdf(PAPER)
    assert told[-1] == (MANY, MANY) and told == sorted(told)


def test_a_code_wider_than_the_page_is_refused() -> None:
    """It could not be read."""
    wide = PaperCode(matrix=((True,) * 400,) * 400, lines=())
    section = PaperSection(key="a", title="A", codes=(wide,))
    with pytest.raises(GearkeepError) as caught:
        paper_pdf(Paper(title="", site="", running_head="", facts=(), opening=(), sections=(section,)))
    assert caught.value.kind == "drawing-too-large"


@given(st.text(st.characters(min_codepoint=33, max_codepoint=0x24F), max_size=120), st.floats(12, WIDTH), st.booleans())
def test_a_cell_loses_no_letter_and_no_line_is_too_wide(said: str, width: float, bold: bool) -> None:
    """Whatever its width; blanks at the breaks aside."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    from vault.exchange.pack_paper_parts import CELL, cell_lines, in_font

    register_drawing_fonts()
    lines = cell_lines(said, width, bold)
    assert "".join("".join(lines).split()) == "".join(in_font(said).split())
    assert [line for line in lines if len(line) > 1 and stringWidth(line, FONTS[bold], CELL) > width] == []


LINE = Line(name="D1", revision=1, kind=LineKind.DALI, addresses_from=1)
GEAR = Gear(duty=Duty.GENERAL, model="CC-40", settings=Settings(
    output=Output.CONSTANT_CURRENT, channels=(Channel(current_ma=700, voltage_min_mv=30_500, power_max_mw=31_000),),
    control=Control(protocol=Protocol.DALI, short_address=5, groups=0b101, scenes=(254, *(255,) * 15), min_level=86),
    presence=Presence(hold_s=600), extras=(("bin", "B2"), ("count", 4))))


def _rows(tmp_path: Path, *rows: TableRow) -> list[dict[str, str]]:
    path = tmp_path / "as-built.csv"
    path.write_bytes(as_built_table(rows))
    heading, *cells = read_table(path)
    return [dict(zip(heading, row, strict=True)) for row in cells]


def test_a_row_speaks_as_a_schedule_does_and_tells_the_rest(tmp_path: Path) -> None:
    """Addresses in the site's numbering, V and W, groups and scenes as a schedule writes them; what it cannot say is told."""
    row, = _rows(tmp_path, TableRow(reference="=1+1", type_code="T1", place="Hall", line_name="D1", circuit=None, gear=GEAR,
                                    line=LINE, rating=None, told={"tag": "7K3D9QXW6"}))
    wanted = {"reference": "'=1+1", "address": "6", "voltage_min_v": "30.5", "power_w": "31", "groups": "0+2", "scenes": "0:254",
              "control": "dali", "extra:bin": "B2", "as_built_tag": "7K3D9QXW6"}
    assert {name: row[name] for name in wanted} == wanted
    assert "presence.hold_s=600" in row[FURTHER] and "extras.count=4" in row[FURTHER]


@given(st.integers(40, 1000))
def test_a_colour_temperature_in_kelvin_is_read_as_the_same_mirek(mirek: int) -> None:
    """1e6 / kelvin, rounded to the nearest (IEC 62386-209), over all that a driver can hold."""
    assert round(1_000_000 / kelvin_of(mirek)) == mirek


@pytest.mark.parametrize(("said", "terms"), [
    (None, USUAL.terms), ("ten years", (("This pack with its paper", "ten years"),)),
    ("kept.toml", (("test records", "four years"), ("this pack", "as long as it stands"))),
])
def test_how_long_to_keep_it_is_a_text_or_a_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, said: str | None,
                                                 terms: tuple[tuple[str, str], ...]) -> None:
    """Each with a sentence on what it rests."""
    monkeypatch.chdir(tmp_path)
    Path("kept.toml").write_text('"test records" = "four years"\n"this pack" = "as long as it stands"\n', encoding="utf-8")
    assert read_retention(said).terms == terms and read_retention(said).source.endswith("come first.")


@pytest.mark.parametrize("said", ["", "two\nlines", "no.toml", "number.toml", "empty.toml"])
def test_what_cannot_be_kept_to_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, said: str) -> None:
    """An empty text, several lines, a file that is not there, holds a number or nothing."""
    monkeypatch.chdir(tmp_path)
    Path("number.toml").write_text("years = 4\n", encoding="utf-8")
    Path("empty.toml").write_text("", encoding="utf-8")
    with pytest.raises(UsageProblem) as caught:
        read_retention(said)
    assert caught.value.kind == "bad-retention"


def test_a_folder_and_its_zip_file_are_written_both_or_neither(tmp_path: Path) -> None:
    """The folder of the ZIP file is not there: nothing is left of the other either."""
    with pytest.raises(GearkeepError) as caught:
        write_folder_and_zip(tmp_path / "pack", {"a.txt": b"a"}, tmp_path / "nowhere" / "pack.zip")
    assert caught.value.kind == "unwritable-file" and "nowhere" in caught.value.what
    (tmp_path / "taken").mkdir()
    (tmp_path / "taken" / "mine.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(GearkeepError):
        write_folder_and_zip(tmp_path / "taken", {"a.txt": b"a"}, tmp_path / "pack.zip")
    assert sorted(path.name for path in tmp_path.rglob("*")) == ["mine.txt", "taken"]


def test_what_is_written_is_what_was_given(tmp_path: Path) -> None:
    """Files for everybody to read, as plain new ones are."""
    import zipfile

    write_folder_and_zip(tmp_path / "pack", {"b.txt": b"b", "a.txt": b"a"}, tmp_path / "pack.zip")
    with zipfile.ZipFile(io.BytesIO((tmp_path / "pack.zip").read_bytes())) as packed:
        assert {name: packed.read(name) for name in packed.namelist()} == {"pack/a.txt": b"a", "pack/b.txt": b"b"}
    assert {path.name: path.read_bytes() for path in (tmp_path / "pack").iterdir()} == {"a.txt": b"a", "b.txt": b"b"}
    assert (tmp_path / "pack").stat().st_mode & 0o500 == 0o500
