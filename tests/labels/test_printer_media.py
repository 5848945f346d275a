"""What a printer says of its media, and which one a label is printed on."""

from __future__ import annotations

import sys
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from ipp_peer import Peer, attribute_values, peer

from labels.errors import LabelError
from labels.media import MEDIA
from labels.media_names import size_of_name
from labels.print_run import PrintRun
from labels.printer import PrinterState, facts_of, printer_facts
from labels.pwg import PixelKind

__all__ = ["peer"]

LARGE, SMALL = "om_label-large_60x40mm", "om_label-small_50x25mm"
RANGE = {"media-size": {"x-dimension": [1000, 10800], "y-dimension": [1000, 30000]}, "media-size-name": "custom_roll"}


def entry(name: str, width: int, height: int) -> dict[str, Any]:
    """A medium of media-col-database, in 1/100 mm (PWG 5100.7)."""
    return {"media-size": {"x-dimension": width, "y-dimension": height}, "media-size-name": name, "media-source": "main"}


def told(**given_facts: Any) -> dict[str, Any]:
    """An answer to Get-Printer-Attributes as aioipp gives it."""
    base = {"printer-name": "labels", "printer-state": 3, "printer-state-reasons": "none",
            "document-format-supported": ["application/pdf", "image/pwg-raster"],
            "pwg-raster-document-type-supported": ["black_1", "sgray_8"],
            "pwg-raster-document-resolution-supported": (300, 300, 3)}
    return base | {name.replace("_", "-"): value for name, value in given_facts.items()}


@pytest.mark.parametrize(("name", "size"), [
    # Names of PWG 5101.1-2013 (from memory); an inch is 25.4 mm.
    ("iso_a4_210x297mm", (210_000, 297_000)),
    ("na_letter_8.5x11in", (215_900, 279_400)),
    ("na_index-4x6_4x6in", (101_600, 152_400)),
    ("om_small-photo_100x150mm", (100_000, 150_000)),
    ("oe_photo-l_3.5x5in", (88_900, 127_000)),
    ("custom_label_60.5x40.25mm", (60_500, 40_250)),
    ("OM_LABEL_60X40MM", (60_000, 40_000)),
    # what says no size
    ("na-letter-white", None),
    ("om_label_60x40", None),
    ("om_label_60x40cm", None),
    ("60x40mm", None),
    ("", None),
])
def test_size_of_name(name: str, size: tuple[int, int] | None) -> None:
    """A name that describes itself gives its size; another gives none."""
    assert size_of_name(name) == size


@given(width=st.integers(1, 999_999), height=st.integers(1, 999_999))
def test_any_size_comes_out_of_its_name(width: int, height: int) -> None:
    """Thousandths of a millimetre are kept."""
    assert size_of_name(f"custom_a_{width / 1000:.3f}x{height / 1000:.3f}mm") == (width, height)


@pytest.mark.parametrize(("attributes", "size", "chosen"), [
    # the only one
    ({"media_supported": LARGE}, (60_000, 40_000), (LARGE, False, False)),
    # loaded or not, a size that fits is better than none
    ({"media_supported": [SMALL, LARGE], "media_ready": SMALL}, (60_000, 40_000), (LARGE, False, False)),
    # of two that fit, the loaded one
    ({"media_supported": ["om_a_60x40mm", "om_b_60x40mm"], "media_ready": "om_b_60x40mm"}, (60_000, 40_000),
     ("om_b_60x40mm", False, True)),
    # a loaded one is known even where it is in no other list
    ({"media_ready": LARGE}, (60_000, 40_000), (LARGE, False, True)),
    # the nearest
    ({"media_supported": ["om_a_60.4x40mm", "om_b_60.2x40mm"]}, (60_000, 40_000), ("om_b_60.2x40mm", False, False)),
    # 0.5 mm off in both
    ({"media_supported": "om_a_60.5x39.5mm"}, (60_000, 40_000), ("om_a_60.5x39.5mm", False, False)),
    # named the other way round
    ({"media_supported": "om_a_40x60mm"}, (60_000, 40_000), ("om_a_40x60mm", True, False)),
    ({"media_supported": ["om_a_40x60mm", LARGE]}, (60_000, 40_000), (LARGE, False, False)),
    # what the printer measures outweighs the name, and a vendor's name gets its size so
    ({"media_supported": "om_a_60x40mm", "media_col_database": entry("om_a_60x40mm", 5_000, 2_500)}, (50_000, 25_000),
     ("om_a_60x40mm", False, False)),
    ({"media_supported": "roll-7", "media_col_database": [entry("roll-7", 6_000, 4_000), RANGE]}, (60_000, 40_000),
     ("roll-7", False, False)),
])
def test_choice(attributes: dict[str, Any], size: tuple[int, int], chosen: tuple[str, bool, bool]) -> None:
    """Name, turned, loaded of the medium for a label."""
    choice = facts_of("ipp://printer", told(**attributes)).choose_medium(*size)
    assert (choice.medium.name, choice.turned, choice.medium.ready) == chosen


@pytest.mark.parametrize(("attributes", "has"), [
    ({"media_supported": [LARGE, SMALL], "media_ready": SMALL},
     "60 × 40 mm (om_label-large_60x40mm); 50 × 25 mm (om_label-small_50x25mm, loaded)"),
    ({"media_supported": "om_a_76.501x50.8mm"}, "76.5 × 50.8 mm (om_a_76.501x50.8mm)"),
    # ends of a range, and ranges, are no media
    ({"media_supported": ["custom_min_10x10mm", "custom_max_76x51mm"], "media_col_database": RANGE},
     "no medium with a known size"),
    ({}, "no medium with a known size"),
])
def test_refused_media(attributes: dict[str, Any], has: str) -> None:
    """A label of 76 × 50.8 mm that the printer has no medium for is refused, with all that it has."""
    with pytest.raises(LabelError) as problem:
        facts_of("ipp://printer", told(**attributes)).choose_medium(76_000, 50_800)
    assert problem.value.kind == "no-medium"
    assert problem.value.what == "labels has no labels of 76 × 50.8 mm."
    assert problem.value.hint.startswith(f"It has: {has}.")


@pytest.mark.parametrize(("attributes", "dpi", "kind", "says"), [
    ({"document_format_supported": "application/pdf"}, 300, "no-format", "It takes: application/pdf."),
    ({"document_format_supported": []}, 300, "no-format", "It takes: nothing that it names."),
    ({"pwg_raster_document_type_supported": "srgb_8"}, 300, "no-format", "It takes: application/pdf, image/pwg-raster."),
    ({}, 203, "no-resolution", "It prints 300;"),
    ({"pwg_raster_document_resolution_supported": [(203, 203, 3), (600, 600, 3)]}, 300, "no-resolution", "It prints 203, 600;"),
    # 300 dots a centimetre, and 300 by 600, are not 300 dots an inch
    ({"pwg_raster_document_resolution_supported": [(300, 300, 4), (300, 600, 3)]}, 300, "no-resolution",
     "It prints none that it"),
])
def test_refused_form(attributes: dict[str, Any], dpi: int, kind: str, says: str) -> None:
    """A printer that does not take the raster, or not at that resolution, is refused with what it takes."""
    with pytest.raises(LabelError) as problem:
        facts_of("ipp://printer", told(**attributes)).pixel_kind(dpi)
    assert (problem.value.kind, problem.value.hint[: len(says)]) == (kind, says)


@pytest.mark.parametrize(("kinds", "chosen"), [
    (["sgray_8", "black_1"], PixelKind.BLACK_1), ("sgray_8", PixelKind.SGRAY_8), (["srgb_8", "sgray_8"], PixelKind.SGRAY_8)])
def test_form_of_dots(kinds: Any, chosen: PixelKind) -> None:
    """One bit a dot where the printer takes it, eight otherwise."""
    assert facts_of("ipp://printer", told(pwg_raster_document_type_supported=kinds)).pixel_kind(300) is chosen


def test_real_printer(peer: Peer) -> None:
    """A real printer tells its name, state, media (sizes as in its description), formats and resolution."""
    facts = printer_facts(peer.uri)
    assert (facts.name, facts.state, facts.reasons, facts.accepting) == ("Label printer", PrinterState.IDLE, (), True)
    assert [(one.width_um, one.height_um, one.ready) for one in facts.media] == [(60_000, 40_000, True), (50_000, 25_000, False)]
    assert (facts.resolutions_dpi, facts.pixel_kinds) == ((300,), (PixelKind.BLACK_1, PixelKind.SGRAY_8))
    assert {"image/pwg-raster", "application/pdf"} <= set(facts.formats)


def test_path_may_be_left_out(peer: Peer) -> None:
    """The path that printers mostly have is added."""
    assert printer_facts(f"ipp://localhost:{peer.port}").uri == peer.uri


def test_wrong_medium_is_refused_before_anything_is_kept(peer: Peer, tmp_path: Any) -> None:
    """A run for a size that the printer has not is refused; no folder, no job."""
    with pytest.raises(LabelError, match="no labels of") as problem:
        PrintRun.begin(tmp_path / "run", peer.uri, [], MEDIA["76x51"])
    assert (problem.value.kind, list(tmp_path.iterdir())) == ("no-medium", [])
    assert "60 × 40 mm" in problem.value.hint
    assert attribute_values(peer.log, "Print-Job", "job-name") == []


@pytest.mark.parametrize("uri", ["http://localhost/ipp/print", "localhost", "ipp:///ipp/print", "ipp://localhost:99999/", "", "ipp://[::1/"])
def test_bad_address(uri: str) -> None:
    """What is no address of a printer is refused by name."""
    with pytest.raises(LabelError, match="no address of a printer") as problem:
        printer_facts(uri)
    assert problem.value.kind == "bad-printer"


def test_nobody_there(peer: Peer) -> None:
    """A printer that is switched off, and a path that it does not have."""
    with pytest.raises(LabelError, match="does not say what it has") as problem:
        printer_facts(f"ipp://localhost:{peer.port}/ipp/other")
    assert problem.value.kind == "printer-refused"
    peer.stop()
    with pytest.raises(LabelError, match="cannot be reached: Connection refused") as problem:
        printer_facts(peer.uri)
    assert problem.value.kind == "no-printer"


def test_library_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the extra, printing says what to install."""
    monkeypatch.setitem(sys.modules, "pyipp", None)
    with pytest.raises(LabelError) as problem:
        printer_facts("ipp://localhost/ipp/print")
    assert (problem.value.kind, problem.value.hint) == ("no-printing", "pip install 'gearkeep[print]'")
