"""Print runs on a real printer: what is asked of it, and what it prints."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import zxingcpp
from ipp_peer import Peer, attribute_values, peer
from label_samples import LINK, capsule, content
from print_samples import FIRST, MEDIUM, NAMES, QUICK, REST, SMALL, begun, failing, label, links, once, other_document
from pwg_reader import pages_of

from labels.drawing import proven, write_pdf
from labels.errors import LabelError
from labels.media import Medium
from labels.print_run import Outcome, PrintRun
from labels.printing import Patience, Ticket
from labels.pwg import PixelKind

__all__ = ["peer"]


def corners(code: zxingcpp.Barcode) -> tuple[int, int, int, int]:
    """Left, top, right, bottom of a code on an upright page."""
    place = code.position
    return place.top_left.x, place.top_left.y, place.bottom_right.x, place.bottom_right.y


def code_dots(dots: np.ndarray, text: str) -> np.ndarray:
    """The black rectangle of the code with that text, cut at its outermost black dots."""
    (code,) = [one for one in zxingcpp.read_barcodes(dots, formats=zxingcpp.BarcodeFormat.QRCodeModel2) if one.text == text]
    left, top, right, bottom = corners(code)
    black = dots[max(0, top - 8) : bottom + 8, max(0, left - 8) : right + 8] == 0
    rows, columns = np.flatnonzero(black.any(axis=1)), np.flatnonzero(black.any(axis=0))
    return black[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]


# Version 12 has 65 modules, version 3 has 29: ISO/IEC 18004 Table 1.
@pytest.mark.parametrize(("text", "modules"), [(capsule(251), 65), (LINK, 29)])
def test_printed_code_is_measured(peer: Peer, tmp_path: Path, text: str, modules: int) -> None:
    """Both codes come out of the printer with as many whole dots a module as were laid out, every edge between modules."""
    layout, image = proven(content(251), MEDIUM)
    (dots,) = [code.dots for code in layout.codes if code.symbol.text == text]
    PrintRun.begin(tmp_path / "run", peer.uri, [("one", image)], MEDIUM).send(patience=QUICK)
    (page,) = peer.printed()
    black = code_dots(page.dots, text)
    assert (page.dpi, page.dots.shape, black.shape) == ((300, 300), (472, 709), (modules * dots, modules * dots))
    assert np.array_equal(black, black[::dots, ::dots].repeat(dots, axis=0).repeat(dots, axis=1))


def test_all_labels_in_order(peer: Peer, tmp_path: Path) -> None:
    """Twelve labels are two jobs, each label one page, dot for dot as drawn, in order, and confirmed; a second send prints
    nothing.
    """
    run = begun(peer, tmp_path / "run")
    told: list[tuple[int, int, str]] = []
    assert run.outcome() == Outcome(confirmed=(), doubtful=(), waiting=NAMES)
    assert run.send(lambda *step: told.append(step), patience=QUICK) == Outcome(confirmed=NAMES, doubtful=(), waiting=())
    assert PrintRun.open(tmp_path / "run").send(patience=QUICK).confirmed == NAMES
    assert peer.printed_codes() == links(NAMES)
    assert [page.dots.tolist() for page in peer.printed()] == [np.asarray(label(name).convert("L")).tolist() for name in NAMES]
    assert [page.pages for page in peer.printed()] == [10] * 10 + [2] * 2
    assert (10, 12, "job 1 is completed") in told
    assert told[-1] == (12, 12, "job 2 is completed")


def test_what_is_asked_of_the_printer(peer: Peer, tmp_path: Path) -> None:
    """The printer is sent the name of its own medium and scaling none, and the page format."""
    begun(peer, tmp_path / "run", NAMES[:1]).send(patience=QUICK)
    sent = {name: attribute_values(peer.log, "Print-Job", name)
            for name in ("print-scaling", "media", "document-format", "copies")}
    assert sent == {"print-scaling": ["none"], "media": ["custom_60x40mm_60x40mm"], "document-format": ["image/pwg-raster"],
                    "copies": ["1"]}


def test_copies_are_pages(peer: Peer, tmp_path: Path) -> None:
    """Two copies of each label lie behind one another."""
    run = begun(peer, tmp_path / "run", NAMES[:3], copies=2)
    assert run.send(patience=QUICK).confirmed == NAMES[:3]
    assert peer.printed_codes() == links([NAMES[0], NAMES[0], NAMES[1], NAMES[1], NAMES[2], NAMES[2]])


def test_other_medium(peer: Peer, tmp_path: Path) -> None:
    """A small label goes to the printer's small medium: 50 × 25 mm are 591 × 295 dots at 300 dpi."""
    PrintRun.begin(tmp_path / "run", peer.uri, [("s", label("S-1", SMALL))], SMALL).send(patience=QUICK)
    assert attribute_values(peer.log, "Print-Job", "media") == ["custom_50x25mm_50x25mm"]
    assert [page.dots.shape for page in peer.printed()] == [(295, 591)]
    assert peer.printed_codes() == links(["S-1"])


def test_turned_page() -> None:
    """A label for a medium named the other way round is turned by a quarter, and its dots are the same."""
    ticket = Ticket(medium="om_label_40x60mm", turned=True, dpi=300, kind=PixelKind.BLACK_1)
    (page,) = pages_of(ticket.data([label("T-1")]))
    assert np.array_equal(np.rot90(page.dots, -1), np.asarray(label("T-1").convert("L")))


def test_busy_then_accepted(peer: Peer, tmp_path: Path) -> None:
    """While the printer is at somebody else's job it takes none; the run waits, is taken later, and prints once."""
    run = begun(peer, tmp_path / "run")
    peer.hold()
    peer.other_job(other_document(tmp_path))
    assert run.send(once("busy", peer.release), patience=QUICK).confirmed == NAMES
    assert "server-error-busy" in peer.log
    assert peer.printed_codes() == links(["OTHER", *NAMES])


def test_busy_for_too_long(peer: Peer, tmp_path: Path) -> None:
    """A printer that stays busy is given up with a plain message, and nothing is in doubt; later the run is printed."""
    run = begun(peer, tmp_path / "run")
    peer.hold()
    peer.other_job(other_document(tmp_path))
    problem = failing(run, "printer-busy", patience=Patience(poll_s=0.05, busy_s=0.3))
    assert problem.what == "The printer has been busy for 0.3 s."
    assert run.outcome() == Outcome(confirmed=(), doubtful=(), waiting=NAMES)
    peer.release()
    assert PrintRun.open(tmp_path / "run").send(patience=QUICK).confirmed == NAMES
    assert peer.printed_codes() == links(["OTHER", *NAMES])


def test_printer_stands_still(peer: Peer, tmp_path: Path) -> None:
    """A job that does not go on is left to the printer with a message; the run follows it later and sends it no second time."""
    run = begun(peer, tmp_path / "run")
    peer.hold()
    problem = failing(run, "printer-stalled", patience=Patience(poll_s=0.05, stall_s=0.3))
    assert "job 1 is processing" in problem.what
    assert run.outcome().doubtful == FIRST
    peer.release()
    assert run.settle(patience=QUICK) == Outcome(confirmed=FIRST, doubtful=(), waiting=REST)
    assert run.send(patience=QUICK).confirmed == NAMES
    assert peer.printed_codes() == links(NAMES)


@pytest.mark.parametrize(("names", "size", "copies", "kind", "says"), [
    ((), MEDIUM, 1, "no-labels", "There is no label to print."),
    (("A", "B", "A"), MEDIUM, 1, "bad-run", "The label A is in the print run twice."),
    (("A",), SMALL, 1, "bad-run", "The picture of the label A is 591 × 295 dots (1); this label size has 709 × 472"),
    (("A",), MEDIUM, 0, "bad-run", "0 copies of each label cannot be printed."),
    (("A",), MEDIUM, 100, "bad-run", "100 copies of each label cannot be printed."),
])
def test_bad_run_leaves_nothing(peer: Peer, tmp_path: Path, names: tuple[str, ...], size: Medium, copies: int, kind: str,
                                says: str) -> None:
    """What cannot be a run is refused, and nothing is left on the disk."""
    with pytest.raises(LabelError) as problem:
        PrintRun.begin(tmp_path / "run", peer.uri, [(name, label(name, size)) for name in names], MEDIUM, copies)
    assert (problem.value.kind, problem.value.what[: len(says)], list(tmp_path.iterdir())) == (kind, says, [])


def test_folder_in_use(peer: Peer, tmp_path: Path) -> None:
    """A run is not written over another, or into a folder with anything in it; an empty folder will do."""
    (tmp_path / "run").mkdir()
    begun(peer, tmp_path / "run", NAMES[:1])
    with pytest.raises(LabelError, match="not an empty folder") as problem:
        begun(peer, tmp_path / "run")
    assert (problem.value.kind, PrintRun.open(tmp_path / "run").names) == ("run-exists", NAMES[:1])


def test_ipptool_prints_our_pdf(peer: Peer, tmp_path: Path) -> None:
    """CUPS' own print-job.test passes with a PDF of labels."""
    path = tmp_path / "labels.pdf"
    write_pdf(path, [content(200)], MEDIUM, workers=1)
    told = peer.ipptool("-f", path, peer.uri, "print-job.test")
    assert "[PASS]" in told
    assert attribute_values(peer.log, "Print-Job", "document-format") == ["application/pdf"]
