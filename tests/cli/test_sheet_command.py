"""gearkeep sheet as it is typed: what the paper of real luminaires says, and what is refused."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pypdfium2
import pytest
import zxingcpp
from click.testing import CliRunner
from small_vault import Cli, SmallVault

from vault.cli.sheet import sheet
from vault.domain.cautions import CAUTIONS, retests_for
from vault.domain.record import Reason
from vault.domain.tag import shown
from vault.trust.capsule import link


def _pages(path: str | Path) -> list[str]:
    with pypdfium2.PdfDocument(path) as document:
        return [" ".join(page.get_textpage().get_text_range().split()) for page in document]


@pytest.mark.parametrize(("reference", "spare", "said"), [
    ("CH-007", "GEN-50-1050", ["Changing room women, row 7", "line D1, circuit L1, drawing CH-007", "CURRENT", "700 mA",
                               "30.0 to 44.0 V", "SHORT ADDRESS, numbered from 0", "scenes: 0: level 254 (100 %), 1: level 170",
                               "CC-40-700, serial MB24050", "another model than CC-40-700"]),
    ("CA-001", "TW-2X20", ["CHANNEL 1 CURRENT, cool white", "CHANNEL 2 CURRENT, warm white", "CHANNEL 2 VOLTAGE WINDOW",
                           "Channel 2 current is known by:", "coolest colour temperature: 154 mirek"]),
    ("EX-001", "EM-6-180", ["EMERGENCY MODE", "maintained", "RATED DURATION", "180 min", "Disconnect the battery",
                            "Charge the battery for 24 h", "log book"]),
    ("CB1-01", "CB-30-500", ["CENTRAL BATTERY ADDRESS, numbered from 1 on circuit CB1", "D.C. LEVEL", "central system reports"]),
    ("CV-001", "CV-24-60", ["OUTPUT VOLTAGE", "24.0 V", "CONTROL", "The output voltage is known by:"]),
])
def test_the_paper_of_each_kind(cli: Cli, ready: SmallVault, reference: str, spare: str, said: list[str]) -> None:
    """Figures as the demo's schedule has them, on two pages at most, cautions before steps, every test at the end."""
    result = cli("sheet", f"@{reference}", "--spare", spare, "--out", "one.pdf")
    assert result.exit_code == 0, result.output
    pages = _pages(ready.folder / "one.pdf")
    text = " ".join(pages)
    assert (len(pages) <= 2, [one for one in said if one not in text]) == (True, [])
    assert text.index(CAUTIONS[0].text) < text.index("Photograph the old driver before")
    seen = ready.seen(reference)
    assert [test for test in retests_for(seen.record.gears[0], seen.rating) if test not in text] == []


def test_the_code_leads_back_to_the_luminaire(cli: Cli, ready: SmallVault) -> None:
    """It is the link of the label, read from the page as printed."""
    assert cli("sheet", "@CH-007", "--out", "one.pdf").exit_code == 0
    with pypdfium2.PdfDocument(ready.folder / "one.pdf") as document:
        read = zxingcpp.read_barcodes(document[0].render(scale=200 / 72).to_pil())
    assert [one.text for one in read] == [link("lx.example.eu", ready.tags["CH-007"])]


def test_without_a_spare_every_gear_gets_its_pages(cli: Cli, ready: SmallVault) -> None:
    """Ranked spares with their place, lines for the steps; the converter beside the general gear."""
    result = cli("sheet", "@ST-N1", "@CH-007", "--out", "many.pdf", "--json")
    told = json.loads(result.stdout)
    assert [(one["tag"], one["gear"], one["verdict"]) for one in told["sheets"]] == [
        (ready.tags["ST-N1"], "general", None), (ready.tags["ST-N1"], "emergency-converter", None),
        (ready.tags["CH-007"], "general", None)]
    pages = _pages(ready.folder / "many.pdf")
    assert told["pages"] == len(pages) == sum(one["pages"] for one in told["sheets"])
    assert "GEN-50-1050 fits 6 in MAIN" in pages[-2] and "Steps done" in pages[-2]
    assert f"Work order {shown(ready.tags['CH-007'])}" in pages[-2]


def test_one_gear_may_be_named(cli: Cli, ready: SmallVault) -> None:
    """As in fit and swap."""
    result = cli("sheet", "@ST-N1", "--gear", "emergency-converter", "--spare", "EM-6-180", "--out", "one.pdf")
    assert result.exit_code == 0, result.output
    assert all("emergency converter gear" in page for page in _pages(ready.folder / "one.pdf"))


def test_a_spare_that_does_not_fit_gets_reasons_and_no_steps(cli: Cli, ready: SmallVault) -> None:
    """Exit code 1, and the paper says so: whoever finds it later must not take it for a plan."""
    result = cli("sheet", "@CH-007", "--spare", "GEN-25-800", "--out", "one.pdf")
    assert (result.exit_code, "does not fit" in result.output) == (1, True)
    text = " ".join(_pages(ready.folder / "one.pdf"))
    assert "Do not fit it." in text and "STOP" in text
    assert "Photograph the old driver before" not in text and "Read back" not in text


def test_a_provisional_record_says_so_in_a_bar(cli: Cli, ready: SmallVault) -> None:
    """With the findings that a second signer has not accepted."""
    done = cli("swap", "@CH-007", "--spare", "GEN-50-1050", "--serial", "S1", "--as", "approved-equivalent", "--readback",
               "wrong.json", key="T01")
    assert done.exit_code == 1, done.output
    assert cli("sheet", "@CH-007", "--out", "one.pdf").exit_code == 0
    assert "PROVISIONAL – NOT APPROVED: readback-differs" in _pages(ready.folder / "one.pdf")[0]


def test_two_versions_that_differ_get_no_paper(cli: Cli, ready: SmallVault) -> None:
    """Nobody knows what it is to be set to."""
    seen = ready.seen("CH-007")
    gear = seen.record.gears[0]
    sides = [replace(gear.settings.channels[0], current_ma=current_ma) for current_ma in (600, 650)]
    ready.fork(*(replace(seen.record, version=2, predecessors=seen.statement.digest[:16], reason=Reason.SETTINGS_CHANGED,
                         gears=(replace(gear, settings=replace(gear.settings, channels=(side,))),)) for side in sides))
    ready.close()
    result = cli("sheet", "@CH-007", "--out", "one.pdf")
    assert (result.exit_code, "two newest versions that differ" in result.stderr) == (1, True), result.output
    assert not (ready.folder / "one.pdf").exists()


def test_a_frozen_luminaire_gets_no_paper(cli: Cli, ready: SmallVault) -> None:
    """Its label was seen where another luminaire hangs: neither may be worked on, and of several named none is printed."""
    assert cli("label", "@CH-007", "--out", "label.png", key="I01").exit_code == 0
    assert cli("placed", "@CH-007", key="I01").exit_code == 0
    found = cli("found", "@CH-007", "--at", "Changing room women, row 8", key="T01")
    assert found.exit_code in (0, 1), found.output
    for tags in (("@CH-007",), ("@CO-001", "@CH-007")):
        result = cli("sheet", *tags, "--out", "one.pdf")
        assert (result.exit_code, "is frozen" in result.stderr) == (1, True), result.output
        assert not (ready.folder / "one.pdf").exists()


@pytest.mark.parametrize(("words", "code", "said"), [
    (("@CH-007",), 2, "--out"),
    (("--out", "one.pdf"), 2, "TAG"),
    (("@CH-007", "--out", "one.png"), 2, "A sheet is a PDF"),
    (("@CH-007", "--out", "taken.pdf"), 2, "is there already"),
    (("@CH-007", "@CH-007", "--out", "one.pdf"), 2, "named twice"),
    (("@CH-007", "--spare", "NONE-1", "--out", "one.pdf"), 2, "does not know the driver model"),
    (("@CH-007", "--gear", "emergency-converter", "--out", "one.pdf"), 2, "has no emergency-converter gear"),
    (("7K3D9QXW7", "--out", "one.pdf"), 1, "check character"),
    (("@CH-007", "--out", "nowhere/one.pdf"), 1, "cannot be written"),
])
def test_what_cannot_be_done_is_said(cli: Cli, ready: SmallVault, words: tuple[str, ...], code: int, said: str) -> None:
    """With exit code 2 for wrong use; no file is left."""
    (ready.folder / "taken.pdf").write_text("mine", encoding="utf-8")
    result = cli("sheet", *words)
    assert (result.exit_code, said in result.output) == (code, True), result.output
    assert not (ready.folder / "one.pdf").exists()
    assert (ready.folder / "taken.pdf").read_text(encoding="utf-8") == "mine"


def test_a_retired_luminaire_gets_no_paper(cli: Cli) -> None:
    """There is nothing left to set."""
    assert cli("retire", "@CH-007", "--because", "wall taken down", key="I01").exit_code == 0
    result = cli("sheet", "@CH-007", "--out", "one.pdf")
    assert (result.exit_code, "is retired" in result.stderr) == (1, True)


def test_help_shows_an_example() -> None:
    """As every command does."""
    assert "Example: gearkeep sheet" in CliRunner().invoke(sheet, ["--help"]).output
