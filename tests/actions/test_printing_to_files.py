"""Labels into files: what stands on them, why a copy is made, and that nothing is signed for what was not drawn."""

from __future__ import annotations

import itertools
from dataclasses import replace
from pathlib import Path

import pytest
from small_vault import SmallVault

from labels.errors import LabelError
from labels.media import MEDIA, grid
from labels.reading import read_picture
from vault.actions.changes import revise
from vault.actions.label_content import content_of
from vault.actions.labelling import Wanted, medium_named, own_media, print_labels, sheet_named
from vault.errors import UsageProblem
from vault.trust.statements import IssueReason, Kind

CURRENT = "channels.1.current_ma"


def _print(small: SmallVault, name: str = "label.png", **wanted: object) -> None:
    small.path.with_name(name).unlink(missing_ok=True)
    print_labels(small.desk("I01"), Wanted(texts=[small.tags["CH-007"]], **wanted), out=small.folder / name)  # type: ignore[arg-type]


def _reasons(small: SmallVault) -> list[IssueReason]:
    with small.open().reading() as session:
        bodies = [session.statement(seq).body for seq in range(session.size()) if session.statement(seq).kind is Kind.LABEL_ISSUE]
    return [body.why for body in bodies]


def test_a_first_label_a_reprint_and_one_of_a_newer_version(small: SmallVault) -> None:
    """The reason is found from what stands: none yet, the same version already, an older version."""
    _print(small)
    _print(small)
    revise(small.desk("I01"), small.tags["CH-007"], changes={CURRENT: "650"})
    _print(small)
    assert _reasons(small) == [IssueReason.FIRST, IssueReason.REPRINT, IssueReason.REPLACEMENT]


def test_the_user_may_say_that_a_copy_replaces_the_others(small: SmallVault) -> None:
    """A label that was lost is replaced, not joined by another."""
    _print(small)
    _print(small, why=IssueReason.REPLACEMENT)
    assert _reasons(small) == [IssueReason.FIRST, IssueReason.REPLACEMENT]


# Trade practice of what must be readable from a ladder, no source; figures from the demo's schedule.
@pytest.mark.parametrize(
    ("reference", "caption", "value", "output", "mode"),
    [
        ("CH-007", "ADDRESS from\u00a00", "6", "700 mA", "DALI"),
        ("ST-N1", "", "", "", "maintained 3\u00a0h"),
    ],
)
def test_the_large_figures_say_address_with_numbering_current_and_mode(small: SmallVault, reference: str, caption: str,
                                                                       value: str, output: str, mode: str) -> None:
    """The address names its numbering; an emergency luminaire names its mode and duration in words."""
    seen = small.seen(reference)
    with small.open().reading() as session:
        figures = content_of(session, seen).big
    said = {figure.caption: figure.value for figure in figures if figure.caption}
    assert said.get(caption, "") == value
    assert output in [figure.value for figure in figures] + [""]
    assert mode in figures[-1].value


def test_an_address_that_is_left_as_it_is_says_so(small: SmallVault) -> None:
    """A DALI luminaire whose address is not set has no figure that somebody could set."""
    revise(small.desk("I01"), small.tags["CH-007"], changes={"control.short_address": "not set"}, allow_open=True)
    seen = small.seen("CH-007")
    with small.open().reading() as session:
        assert ("ADDRESS", "not set") in [(figure.caption, figure.value) for figure in content_of(session, seen).big]


@pytest.mark.parametrize("suffix", ["png", "svg", "pdf"])
def test_each_kind_of_file_is_written(small: SmallVault, suffix: str) -> None:
    """One label as a picture, as a drawing and as a page."""
    _print(small, f"label.{suffix}")
    assert (small.folder / f"label.{suffix}").stat().st_size > 500


@pytest.mark.parametrize(("medium", "dpi"), [(name, dpi) for name, dpi in itertools.product(MEDIA, (203, 300, 600))
                                             if name != "50x25"])
def test_a_label_of_every_size_and_printer_reads_back(small: SmallVault, medium: str, dpi: int) -> None:
    """Both codes of the PNG are read, and one of them carries the settings."""
    out = small.folder / "label.png"
    print_labels(small.desk("I01"), Wanted(texts=[small.tags["CH-007"]]), out=out, medium=medium_named(medium, dpi))
    assert sorted("#" in code.text for code in read_picture(out)) == [False, True]


def test_a_sheet_holds_many_labels(small: SmallVault) -> None:
    """Nineteen labels of 60 by 40 mm take one page of A4: three across, six down are eighteen, so two pages."""
    medium = MEDIA["60x40"]
    done = print_labels(small.desk("I01"), Wanted(everything=True, link_only=True), out=small.folder / "sheet.pdf",
                        medium=medium, sheet=grid("a4", medium))
    assert len(done.tags) == 19 > grid("a4", medium).count == 18


@pytest.mark.parametrize(
    ("out", "texts", "kind"),
    [("labels.png", ["CH-007", "CH-008"], "bad-format"), ("labels.txt", ["CH-007"], "bad-format"),
     ("labels.pdf", [], "not-found")],
)
def test_a_wrong_wish_signs_nothing(small: SmallVault, out: str, texts: list[str], kind: str) -> None:
    """Two labels in one picture, a file of no known kind, nobody named: refused, and the journal stays as it was."""
    before = small.sizes()
    with pytest.raises(UsageProblem) as caught:
        print_labels(small.desk("I01"), Wanted(texts=[small.tags[text] for text in texts]), out=small.folder / out)
    assert (caught.value.kind, small.sizes()) == (kind, before)
    assert not (small.folder / out).exists()


def test_a_label_too_small_for_its_record_is_refused_and_nothing_is_signed(small: SmallVault) -> None:
    """The refusal names the luminaire's sizes; with link_only the label bears the tag alone."""
    before = small.sizes()
    small_medium = replace(MEDIA["50x25"], dpi=203)
    with pytest.raises(LabelError) as caught:
        print_labels(small.desk("I01"), Wanted(texts=[small.tags["CH-007"]]), out=small.folder / "l.png", medium=small_medium)
    assert (caught.value.kind, "60x40" in caught.value.hint, small.sizes()) == ("too-big", True, before)
    done = print_labels(small.desk("I01"), Wanted(texts=[small.tags["CH-007"]], link_only=True), out=small.folder / "l.png",
                        medium=small_medium)
    assert done.without_settings == (small.tags["CH-007"],)


def test_own_sizes_and_sheets_are_taken_by_name(tmp_path: Path) -> None:
    """A file adds names to those there are; an unknown name lists all of them."""
    path = tmp_path / "media.toml"
    path.write_text("[[medium]]\nname='70x37'\nwidth_mm=70\nheight_mm=37\n")
    own = own_media(path)
    assert medium_named("70x37", 600, own).dpi == 600
    with pytest.raises(UsageProblem, match="no label size 70x38") as caught:
        medium_named("70x38", 300, own)
    assert "70x37" in caught.value.hint and "60x40" in caught.value.hint
    with pytest.raises(UsageProblem, match="no sheet a5"):
        sheet_named("a5", MEDIA["60x40"], own)
