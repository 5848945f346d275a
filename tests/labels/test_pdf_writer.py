"""The file of pages: its structure by outside readers, what an archive asks of it, and the processes that feed it."""

from __future__ import annotations

import multiprocessing
import os
import re
import signal
import subprocess
import sys
import zlib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pymupdf
import pytest
from fontTools.ttLib import TTFont
from label_samples import LINK, content

from labels.content import LabelContent
from labels.drawing import write_pdf
from labels.errors import LabelError
from labels.faces import face
from labels.fonts import font_path
from labels.media import MEDIA
from labels.pdf_writer import KIDS, PdfWriter

MEDIUM = MEDIA["60x40"]
SMALL = content(None)  # quickly drawn
HOPELESS = replace(SMALL, link_text=LINK + "/A" * 2_000)  # more than any code holds


def written(path: Path, pages: int, text: bytes = b"") -> Path:
    with path.open("wb") as out:
        pdf = PdfWriter(out, (face(False), face(True)), "Labels & more")
        for _ in range(pages):
            pdf.add_page("170.16", "113.28", zlib.compress(text))
        pdf.close()
    return path


@pytest.mark.parametrize("pages", [1, KIDS - 1, KIDS, KIDS + 1, 2 * KIDS + 1])
def test_other_readers_count_the_same_pages(tmp_path: Path, pages: int) -> None:
    """poppler and MuPDF find every page on both sides of a tree node's end, and MuPDF has nothing to repair."""
    path = written(tmp_path / "pages.pdf", pages)
    told = subprocess.run(["pdfinfo", path], check=True, capture_output=True, text=True)
    with pymupdf.open(path) as document:
        assert (document.page_count, document.is_repaired) == (pages, False)
    assert (int(told.stdout.split("Pages:")[1].split()[0]), told.stderr) == (pages, "")


def test_every_reference_leads_to_its_object(tmp_path: Path) -> None:
    """ISO 32000-1 clause 7.5.4: an entry of 20 bytes for every object, with the place where it begins."""
    data = written(tmp_path / "pages.pdf", 3).read_bytes()
    start = int(re.search(rb"startxref\n(\d+)\n%%EOF\n$", data)[1])
    _, count, entries = re.match(rb"xref\n(\d+) (\d+)\n((?:\d{10} \d{5} [nf] \n)+)trailer", data[start:]).groups()
    offsets = [int(entry[:10]) for entry in entries.splitlines()][1:]
    assert len(offsets) == int(count) - 1
    assert [data[offset:].split(b" ", 1)[0] for offset in offsets] == [str(one).encode() for one in range(1, int(count))]


def test_every_stream_has_the_length_it_says(tmp_path: Path) -> None:
    """ISO 32000-1 clause 7.3.8.2: the bytes between the two words are as many as /Length says."""
    data = written(tmp_path / "pages.pdf", 2, b"0 0 9 9 re f").read_bytes()
    streams = re.findall(rb"/Length (\d+) >>\nstream\n(.*?)\nendstream\nendobj", data, re.DOTALL)
    assert len(streams) == 2 * 2 + 2  # two fonts with their letters, two pages
    assert [len(body) for _, body in streams] == [int(length) for length, _ in streams]


@pytest.mark.parametrize("bold", [False, True])
def test_widths_in_the_page_are_the_font_s(bold: bool) -> None:
    """ISO 32000-1 clause 9.7.4.3: they differ from the embedded program's by less than 1/1000."""
    opened = TTFont(font_path(bold))
    own = [opened["hmtx"][name][0] * 1000 / opened["head"].unitsPerEm for name in opened.getGlyphOrder()]
    assert face(bold).widths == pytest.approx(own, abs=0.5)


@pytest.mark.parametrize("bold", [False, True])
def test_every_letter_of_the_font_can_be_copied_from_the_page(tmp_path: Path, bold: bool) -> None:
    """MuPDF gives back each letter that has a glyph to itself (ISO 32000-1 clause 9.10.3)."""
    letters = "0Oo1Il8B ÄÖÜäöüß ÅÆØåæø ÀÇÉÑàçéñ ŁłŠšŽž – ≤ ‰ ² °"
    known = "".join(letter for letter in letters if letter in face(bold).letters)
    shown = known.translate(face(bold).codes)
    text = f"BT /F{1 + bold} 4 Tf 2 50 Td <{shown}> Tj ET".encode()
    with pymupdf.open(written(tmp_path / "page.pdf", 1, text)) as document:
        assert document[0].get_text().strip("\n") == known
    assert len(known) > 40


def test_the_file_has_its_title_and_an_id(tmp_path: Path) -> None:
    """ISO 32000-1 clauses 7.5.2, 14.3.3, 14.4: four high bytes behind the header, title and producer, an ID."""
    data = written(tmp_path / "page.pdf", 1).read_bytes()
    assert re.match(rb"%PDF-1\.7\n%[\x80-\xff]{4}\n", data)
    first, second = re.search(rb"/ID \[<([0-9A-F]{32})> <([0-9A-F]{32})>\]", data).groups()
    assert first == second
    with pymupdf.open(tmp_path / "page.pdf") as document:
        assert (document.metadata["title"], document.metadata["producer"]) == ("Labels & more", "gearkeep")


def test_other_pages_are_another_file(tmp_path: Path) -> None:
    """The same pages are the same bytes; a change of one page changes the file's ID."""
    one, again = (written(tmp_path / name, 1, b"q Q").read_bytes() for name in ("one", "again"))
    other = written(tmp_path / "other", 1, b"q q Q Q").read_bytes()
    ids = [re.search(rb"/ID \[<(.{32})>", data)[1] for data in (one, other)]
    assert (one == again, ids[0] == ids[1]) == (True, False)


def counted(labels: int, taken: list[int]) -> Iterator[LabelContent]:
    for number in range(labels):
        taken.append(number)
        yield SMALL


@pytest.mark.parametrize(("workers", "most"), [(1, 1), (2, 100), (None, 300)])
def test_labels_are_read_as_they_are_needed(tmp_path: Path, workers: int | None, most: int) -> None:
    """No more labels than a few lots for each process wait between their source and the file, however many there are."""
    taken: list[int] = []
    ahead: list[int] = []
    write_pdf(tmp_path / "labels.pdf", counted(400, taken), MEDIUM, lambda done, _: ahead.append(len(taken) - done), total=400,
              workers=workers)
    assert (len(ahead), max(ahead) <= most) == (400, True)


@pytest.mark.parametrize("labels", [3, 90])
def test_more_processes_write_the_same_file(tmp_path: Path, labels: int) -> None:
    """One process or two, few labels or many: the same bytes, in the labels' order."""
    contents = [content(None, lines=(f"Room {number}",)) for number in range(labels)]
    told = [write_pdf(tmp_path / str(workers), contents, MEDIUM, workers=workers) for workers in (1, 2)]
    assert (tmp_path / "1").read_bytes() == (tmp_path / "2").read_bytes()
    assert told[0] == told[1]
    with pymupdf.open(stream=(tmp_path / "2").read_bytes()) as document:
        assert [f"Room {number}" in page.get_text() for number, page in enumerate(document)] == [True] * labels


def test_a_failure_in_another_process_reaches_the_caller(tmp_path: Path) -> None:
    """Its kind, hint and label's tag come through; nothing is written and no process is left."""
    with pytest.raises(LabelError, match="Label 7K3D 9QXW 6") as caught:
        write_pdf(tmp_path / "labels.pdf", [SMALL] * 70 + [HOPELESS] + [SMALL] * 70, MEDIUM, workers=2)
    assert (caught.value.kind, bool(caught.value.hint), list(tmp_path.iterdir())) == ("too-big", True, [])
    assert multiprocessing.active_children() == []


def test_a_lost_process_is_said(tmp_path: Path) -> None:
    """When the system ends a process, as it does when memory runs out, the refusal says so; nothing is written."""
    def end_one(_done: int, _total: int) -> None:
        os.kill(multiprocessing.active_children()[0].pid, signal.SIGKILL)

    with pytest.raises(LabelError) as caught:
        write_pdf(tmp_path / "labels.pdf", [SMALL] * 400, MEDIUM, end_one, workers=2)
    assert (caught.value.kind, bool(caught.value.hint), list(tmp_path.iterdir())) == ("worker-lost", True, [])


def test_no_label_is_said(tmp_path: Path) -> None:
    """A file without pages is none: refused, and the old one stays."""
    (tmp_path / "labels.pdf").write_bytes(b"old")
    with pytest.raises(LabelError) as caught:
        write_pdf(tmp_path / "labels.pdf", [], MEDIUM)
    assert (caught.value.kind, (tmp_path / "labels.pdf").read_bytes()) == ("no-labels", b"old")


LONG = """
import multiprocessing, sys
from pathlib import Path
from label_samples import content
from labels.drawing import write_pdf
from labels.media import MEDIA
def tell(done, total):
    if done == 1:
        print(*(child.pid for child in multiprocessing.active_children()), flush=True)
if __name__ == "__main__":
    write_pdf(Path(sys.argv[1]), (content(None) for _ in range(10**6)), MEDIA["60x40"], tell, workers=2)
"""


def test_ctrl_c_ends_every_process(tmp_path: Path) -> None:
    """The interrupt goes to the whole group, as from a keyboard: one message, no worker and no file left."""
    (tmp_path / "long.py").write_text(LONG)
    (tmp_path / "out").mkdir()
    paths = os.pathsep.join([str(Path(__file__).parent), str(Path(__file__).parents[2])])
    # A test run in the background hands down an ignored SIGINT; a person at a terminal has none.
    command = ["/usr/bin/env", "--default-signal=INT", sys.executable, tmp_path / "long.py", tmp_path / "out" / "labels.pdf"]
    running = subprocess.Popen(command, text=True,
                               stdout=subprocess.PIPE, stderr=subprocess.PIPE, env={**os.environ, "PYTHONPATH": paths},
                               start_new_session=True)
    workers = running.stdout.readline().split()
    os.killpg(running.pid, signal.SIGINT)
    _, told = running.communicate(timeout=60)
    assert len(workers) == 2
    assert told.count("KeyboardInterrupt") == 1
    assert [pid for pid in workers if Path("/proc", pid).exists()] == []
    assert list((tmp_path / "out").iterdir()) == []
