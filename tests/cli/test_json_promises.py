"""The JSON that other programs rely on, and what the texts must say."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest
from small_vault import Cli, SmallVault

from vault.domain.schema import flatten

FINDING = {"rule", "severity", "found", "allowed", "unit", "source", "says"}


def _json(cli: Cli, *words: str, key: str | None = None) -> Any:
    return json.loads(cli(*words, "--json", key=key).stdout)


@pytest.mark.parametrize(
    ("key", "typed", "promised"),
    [
        (None, "show @CH-007", {"tag", "version", "verified", "signer", "settings", "rating", "findings"}),
        (None, "fit @CH-007", {"tag", "spares"}),
        (None, "audit", {"statements", "problems", "checkpoint"}),
        (None, "scan --text @CH-007", {"tag", "version", "verified", "signer", "settings", "newest"}),
        ("I01", "handover faulty.csv", {"accepted", "rejected", "findings"}),
        (None, "history @CH-007", {"tag", "versions"}),
        (None, "signer list", {"signers"}),
        (None, "stock list", {"shelves"}),
        (None, "checkpoint", {"checkpoints", "file"}),
        (None, "swap @CH-007 --spare GEN-50-1050", {"tag", "gear", "signed", "spare", "readback_form"}),
        ("T01", "swap @CH-007 --spare GEN-50-1050 --serial X1 --as approved-equivalent --readback wrong.json",
         {"tag", "version", "matched", "open_stops", "readback"}),
        ("I01", "move @CH-007 --place Attic", {"tag", "version", "open_stops", "findings"}),
        ("I01", "label @CH-007 --out l.png", {"file", "tags", "pages", "without_settings", "left_off"}),
    ],
)
def test_the_promised_keys_are_there(cli: Cli, key: str | None, typed: str, promised: set[str]) -> None:
    """Nothing but one JSON object on standard output, with these keys at least."""
    assert set(_json(cli, *typed.split(" "), key=key)) >= promised


def test_a_spare_in_json(cli: Cli) -> None:
    """Model, verdict, findings, steps and stock; a finding's seven keys; the four verdicts' own words."""
    small_one = _json(cli, "fit", "@CH-007", "--spare", "GEN-25-800")["spares"][0]
    assert set(small_one) >= {"model", "verdict", "findings", "steps", "in_stock"}
    assert (small_one["verdict"], small_one["in_stock"]) == ("does-not-fit", 4)  # demo/stock.csv
    assert set(small_one["findings"][0]) >= FINDING
    verdicts = [one["verdict"] for one in _json(cli, "fit", "@CH-007")["spares"]]
    assert set(verdicts) == {"fits", "fits-with-care", "does-not-fit"}


def test_a_rejected_row_in_json(cli: Cli) -> None:
    """Row, column, value and problem."""
    rejected = _json(cli, "handover", "faulty.csv", "--preview")["rejected"][0]
    assert set(rejected) >= {"row", "column", "value", "problem"}
    assert (rejected["row"], rejected["column"], rejected["value"]) == (2, "current_ma", "1050")


def test_an_audits_problem_in_json(cli: Cli, small: SmallVault) -> None:
    """What, where and why of a checkpoint that has seen more than the vault holds."""
    before = small.copy_file("before.db")
    assert cli("move", "@CH-007", "--place", "Attic", key="I01").exit_code == 0
    assert cli("checkpoint", "--out", "kept.txt").exit_code == 0
    result = cli("audit", "--checkpoint", "kept.txt", "--json", vault=str(before))
    [problem] = json.loads(result.stdout)["problems"]
    assert result.exit_code == 1 and set(problem) == {"what", "where", "why"}
    assert (problem["what"], problem["where"], problem["why"].split(":")[0]) == ("checkpoint", "kept.txt", "rollback")


def test_settings_in_json_are_those_of_the_schedule(cli: Cli) -> None:
    """700 mA, 30 to 44 V, 31 W, address 6 (row CH-007 of demo/schedule.csv)."""
    gear = _json(cli, "show", "@CH-007")["settings"][0]
    channel = gear["settings"]["channels"][0]
    assert (channel["current_ma"], channel["voltage_min_mv"], channel["voltage_max_mv"], channel["power_max_mw"]) == (
        700, 30_000, 44_000, 31_000)
    assert gear["settings"]["control"]["short_address"] == 6


@pytest.mark.parametrize(
    ("change", "code", "said", "settings_current"),
    [
        ("revise @CH-007 --set channels.1.current_ma=650", 1, "STOP: ITS SETTINGS HAVE CHANGED", False),
        ("swap @CH-007 --spare GEN-50-1050 --serial X1 --as approved-equivalent "
            "--readback good.json", 0, "Its settings are still the same", True),
    ],
)
def test_an_old_label(cli: Cli, small: SmallVault, change: str, code: int, said: str, settings_current: bool) -> None:
    """Changed settings cry stop and fail; a driver that was only replaced leaves the label good."""
    text = small.label_text("CH-007")
    assert cli(*change.split(" "), key="T01").exit_code == 0
    result = cli("scan", "--text", text)
    assert result.exit_code == code and said in result.stdout
    told = _json(cli, "scan", "--text", text)
    assert (told["newest"], told["newest_version"], told["settings_current"]) == (False, 2, settings_current)


def test_a_scan_without_a_vault(cli: Cli, small: SmallVault) -> None:
    """Newest is null when no vault was asked, and the list's age is told."""
    text = small.label_text("CH-007")
    assert cli("signer", "export", "signers.json").exit_code == 0
    told = _json(cli, "scan", "--text", text, "--trust", "signers.json")
    assert (told["verified"], told["newest"], told["version"], told["signer"]) == (True, None, 1, "I01")
    assert told["as_of"].startswith("signer valid as of list 63")


@pytest.mark.parametrize("as_json", [[], ["--json"]])
def test_a_label_that_cannot_be_trusted_shows_no_figure(cli: Cli, small: SmallVault, as_json: list[str]) -> None:
    """The text of a label with its last digit spoilt: no current, no address, no place."""
    result = cli("scan", "--text", small.label_text("CH-007")[:-1], *as_json)
    assert result.exit_code == 1
    assert [word for word in ("700", "mA", "Changing room", "MB24050") if word in result.stdout] == []


@pytest.mark.parametrize("command", ["show @CH-007", "scan --text @CH-007", "history @CH-007"])
def test_provisional_is_said_everywhere(cli: Cli, command: str) -> None:
    """Until somebody approves; afterwards nowhere."""
    assert cli("swap", "@CH-007", "--spare", "GEN-50-1050", "--serial", "X1",
        "--as", "approved-equivalent", "--readback", "wrong.json", key="T01").exit_code == 1
    assert "PROVISIONAL" in cli(*command.split(" ")).stdout
    assert cli("approve", "@CH-007", "--as", "approved-equivalent", "--because", "measured", key="P01").exit_code == 0
    assert "PROVISIONAL" not in cli(*command.split(" ")).stdout


def test_handover_tells_of_provisional_luminaires(cli: Cli) -> None:
    """With --provisional the faulty row is signed, and so shown."""
    told = _json(cli, "handover", "faulty.csv", "--provisional", key="I01")["accepted"]
    assert [(one["reference"], one["provisional"]) for one in told] == [("CH-005", True), ("CO-003", False)]
    shown = cli("show", told[0]["tag"])
    assert shown.exit_code == 1 and "PROVISIONAL until a second signer approves" in shown.stdout


def test_the_site_numbers_its_addresses(cli: Cli) -> None:
    """Address 1 of line D2, which counts from 1, is shown as the site writes it and said to be so."""
    told = _json(cli, "show", "@PH-001")
    assert (told["settings"][0]["settings"]["control"]["short_address"], told["address_numbered_from"]) == (0, 1)
    assert re.search(r"SHORT ADDRESS +1 \(numbered from 1", cli("show", "@PH-001").stdout)


def test_cautions_stand_before_the_steps(cli: Cli) -> None:
    """On the sheet for the ladder the cautions come first, and the end says that nothing is signed."""
    text = cli("swap", "@CH-007", "--spare", "GEN-50-1050").stdout
    assert 0 < text.index("CAUTIONS") < text.index("STEPS") < text.index("READ BACK")
    assert "Nothing is signed yet" in text


def test_the_form_that_swap_writes_is_the_form_that_swap_reads(cli: Cli, small: SmallVault) -> None:
    """Filled in with what the record says, it is a full match."""
    assert cli("swap", "@ST-N1", "--spare", "GEN-50-1050", "--form", "form.json").exit_code == 0
    form = json.loads((small.folder / "form.json").read_text(encoding="utf-8"))
    gear = small.seen("ST-N1").record.gears[0]
    figures = {**dict(flatten(gear.settings)), "channels.1.current_evidence": "meter"}
    form["gears"]["general"] = {name: figures[name] for name in form["gears"]["general"]}
    (small.folder / "form.json").write_text(json.dumps(form), encoding="utf-8")
    told = _json(cli, "swap", "@ST-N1", "--spare", "GEN-50-1050", "--serial", "X1",
        "--as", "approved-equivalent", "--readback", "form.json", key="T01")
    assert (told["signed"], told["matched"], told["open_stops"]) == (True, True, [])


def test_a_new_vault_by_the_command_line_alone(cli: Cli, small: SmallVault) -> None:
    """init makes the vault and both keys, prints the recovery key once, and the vault passes its audit."""
    made = _json(cli, "--vault", "new.db", "init", "--host", "lx.example.eu", "--site", "Other", "--keys", "own")
    assert (small.folder / "new.db").is_file() and len(made["recovery_keys"]) == 1
    assert {path.name for path in (small.folder / "own").iterdir()} == {"authority.key", "checkpoint.key"}
    assert _json(cli, "--vault", "new.db", "audit")["problems"] == []
