"""Attacks by texts that are signed, read or named, and then shown or written. Rows of the table in DEVELOPERS.md."""

from __future__ import annotations

import csv
import io
import json
import sys
from dataclasses import replace

import pytest
from attackers import refusal, resigned
from click.testing import CliRunner, Result
from small_vault import HEADING, NOW_S, PASSPHRASE, SmallVault, rows_of, write_rows

from vault.cli.main import main
from vault.cli.shell import json_text, table
from vault.db import finding
from vault.db.address import parse_address
from vault.db.finding import Wanted
from vault.domain.record import Reason
from vault.trust.statements import Kind

# Marks that turn the writing, that are not seen, and one beyond the first 65,536 characters (Unicode, category Cf).
HIDDEN = "700\u202emA\u200b\U000e0001"
SPELLED = "700\\u202emA\\u200b\\udb40\\udc01"


def _gearkeep(small: SmallVault, *words: str) -> Result:
    small.close()
    key = str(small.keys_folder / "I01.key")
    return CliRunner(env={"GEARKEEP_PASSPHRASE": PASSPHRASE}).invoke(main, ["--vault", str(small.path), "--key", key, *words])


def _sign_an_extra(small: SmallVault, extra: str) -> None:
    """CH-007's next version with a text that is kept beside the settings and never understood."""
    seen = small.seen("CH-007")
    gear = seen.record.gears[0]
    gears = (replace(gear, settings=replace(gear.settings, extras=(("rem", extra),))),)
    changed = replace(seen.record, version=2, predecessors=seen.statement.digest[:16], reason=Reason.SETTINGS_CHANGED,
                      time_s=NOW_S, gears=gears)
    small.open().append_signed(resigned(small, Kind.RECORD, changed, small.keys["I01"]))


def test_a_signed_text_that_hides(small: SmallVault) -> None:
    """Whoever may sign may sign such a text; every screen spells it out, and JSON still gives it exactly."""
    _sign_an_extra(small, HIDDEN)
    told = _gearkeep(small, "show", small.tags["CH-007"], "--json").stdout
    screens = [told, *(_gearkeep(small, word, small.tags["CH-007"]).stdout for word in ("show", "history", "fit"))]
    assert json.loads(told)["settings"][0]["settings"]["extras"] == {"rem": HIDDEN}
    assert SPELLED in screens[0] and SPELLED in screens[2]
    assert not any(mark in screen for screen in screens for mark in HIDDEN if not mark.isprintable())


@pytest.mark.parametrize("text", ["\x1b[31m", "\x00", "\n", "\x9b31m", "\x7f"])
def test_a_signed_text_with_a_control_character(small: SmallVault, text: str) -> None:
    """Control characters are signed nowhere, not even in what is only kept."""
    problem = refusal(lambda: _sign_an_extra(small, text))
    assert problem.kind == "bad-payload" and "control character" in problem.what


@pytest.mark.parametrize("text", ["[/]", "[bold]x", "[link=http://evil.example]T1[/link]", "[/red]", "\\[x]"])
def test_a_name_written_as_markup(monkeypatch: pytest.MonkeyPatch, text: str) -> None:
    """A table on a terminal shows brackets as they are: no colour, no link, no failure."""
    screen = io.StringIO()
    monkeypatch.setattr(screen, "isatty", lambda: True)
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setattr(sys, "stdout", screen)
    table(["place"], [(text,)])
    assert text in screen.getvalue() and "\x1b]8" not in screen.getvalue()


@pytest.mark.parametrize("value", ["\U000e0001", "\x9b31m", "\u2066x", "\ud800", "a\u2028b", "Größe\t\n"])
def test_what_json_holds_stays_what_it_was(value: str) -> None:
    """Spelled out as JSON spells it: another program reads the very text, and a terminal sees none of it."""
    written = json_text({"x": value})
    assert json.loads(written) == {"x": value} and written.replace("\n", "").isprintable()


@pytest.mark.parametrize("cell", ["=HYPERLINK(1)", "+1;=1", "@SUM(1)", "-2+3", '=cmd|" /C calc"!A0'])
def test_a_formula_in_a_schedule(small: SmallVault, cell: str) -> None:
    """Nothing in a list of rejected rows begins as a formula does: what the program adds begins with a letter or a figure, and
    the cells go back behind an apostrophe, which is taken away when they are read again.
    """
    columns = rows_of("CH-010")[0].replace("dali", '"' + cell.replace('"', '""') + '"')
    schedule = write_rows(small.folder / "evil.csv", [columns])
    done = _gearkeep(small, "handover", str(schedule), "--rejected", str(small.folder / "rejected.csv"))
    heading, row = csv.reader(io.StringIO((small.folder / "rejected.csv").read_text(encoding="utf-8-sig")))
    added = row[len(HEADING.split(",")):]
    assert done.exit_code == 1 and row[HEADING.split(",").index("control")] == f"'{cell}"
    assert len(heading) == len(row) and added and all(text[:1].isalnum() for text in added)


def test_a_search_that_is_a_query(small: SmallVault) -> None:
    """Quotes and semicolons are letters of a search: nothing is found, and nothing is gone."""
    before = small.sizes()
    with small.open().reading() as session:
        for text in ("' OR 1=1 --", "x'; DROP TABLE journal; --", "%", "_"):
            assert finding.search(session, Wanted(text=text)) == finding.search(session, Wanted(place=text)) == []
    assert small.sizes() == before


@pytest.mark.parametrize("site", ['x"; DROP SCHEMA public; --', "pg_catalog", "public", "X", "", "a" * 41, "x,public"])
def test_a_site_that_is_a_query(site: str) -> None:
    """A site's name becomes a schema's name in SQL: only plain ones are taken."""
    assert refusal(lambda: parse_address(f"postgresql+psycopg://u@127.0.0.1/db?site={site or '%20'}")).kind == "bad-vault"
