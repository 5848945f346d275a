"""gearkeep rates: the table, files, exit codes."""

from __future__ import annotations

import csv
import json
from dataclasses import replace

import pytest
from small_vault import Cli, SmallVault

from vault.domain.record import Reason
from vault.trust.statements import Kind

DAY_S = 86_400


@pytest.fixture
def worn(ready: SmallVault) -> SmallVault:
    """One luminaire whose driver was replaced seven times within seven days."""
    for number in range(7):
        seen = ready.seen("CH-007")
        ready.sign("I01", Kind.RECORD, replace(
            seen.record, version=seen.record.version + 1, predecessors=seen.statement.digest[:16], reason=Reason.DRIVER_SWAP,
            time_s=seen.record.time_s + DAY_S, gears=(replace(seen.record.gears[0], serial=f"MB{number}"),)))
    ready.close()
    return ready


@pytest.fixture(autouse=True)
def in_2031(monkeypatch: pytest.MonkeyPatch) -> None:
    """The clock stands a year behind the small vault's handover."""
    monkeypatch.setattr("vault.actions.desk.time.time", lambda: 1_931_536_000.0)


def test_the_table_names_what_it_rests_on(cli: Cli) -> None:
    """Models and types with the prior, its weight and the assumptions; good without an alarm."""
    done = cli("rates")
    assert done.exit_code == 0, done.output
    for told in ("CC-40-700", "T1",
                 "Prior: 0.2 % per 1000 h (2000 FIT) (common practice, no source), worth 1 failure in 500000 h.",
                 "false alarms on average", "4000 burning hours a year are assumed", "what signers said"):
        assert told in done.output


@pytest.mark.usefixtures("worn")
def test_an_alarm_is_exit_code_1(cli: Cli) -> None:
    """It says how certain it is and what is expected of chance."""
    done = cli("rates", "--model", "CC-40-700")
    assert done.exit_code == 1, done.output
    for told in ("ALARM: CC-40-700 fails faster than was believed: 7 seen", "certain that its rate is above 2 times the prior's",
                 "An alarm comes with", "by chance alone", "A year to come"):
        assert told in done.output


@pytest.mark.usefixtures("worn")
def test_the_rule_of_the_alarm_can_be_set(cli: Cli) -> None:
    """A hundred times the prior is not reached."""
    assert cli("rates", "--factor", "100").exit_code == 0


@pytest.mark.usefixtures("worn")
def test_json_holds_the_same_figures(cli: Cli) -> None:
    """For other programs."""
    said = json.loads(cli("rates", "--type", "T1", "--json").output)
    found = said["rates"][0]
    assert (said["prior"]["mean_fit"], said["prior"]["worth_failures"], said["prior"]["in_hours"]) == (2000, 1, 500_000)
    assert (found["by"], found["name"], found["seen"], found["alarm"], found["prior_alone"]) == ("type", "T1", 7, True, False)
    assert found["low_fit"] < found["median_fit"] < found["rate_fit"] < found["high_fit"]


def test_a_chart_and_a_table_are_written_once(worn: SmallVault, cli: Cli) -> None:
    """Expected and seen by year as a drawing and as figures; a second time nothing is replaced."""
    done = cli("rates", "--plot", "years.svg", "--out", "all.csv")
    assert done.exit_code == 1, done.output
    assert "<svg" in (worn.folder / "years.svg").read_text(encoding="utf-8")
    assert "2030" in (worn.folder / "years.csv").read_text(encoding="utf-8-sig")
    with (worn.folder / "all.csv").open(encoding="utf-8-sig", newline="") as stream:
        rows = {row["name"]: row for row in csv.DictReader(stream)}
    assert (rows["CC-40-700"]["seen"], rows["CC-40-700"]["alarm"], rows["EM-6-180"]["seen"]) == ("7", "yes", "0")
    again = cli("rates", "--plot", "years.svg")
    assert again.exit_code == 2 and "is there already" in again.output


@pytest.mark.parametrize("words", [
    ("--model", "NO-SUCH"), ("--since", "31.5.2027"), ("--prior", "0"), ("--worth", "-1"), ("--factor", "0"),
    ("--certain", "100"), ("--prior-mtbf", "250", "600"), ("--prior-mtbf", "600", "250", "--worth", "1"),
    ("--activation", "0.7"), ("--ta", "ten-kelvin", "--activation", "0.7"), ("--out", "all.txt"),
    ("--out", "all.csv", "--plot", "years.png"), ("--plot", "years.svg", "--out", "years.csv")], ids=" ".join)
def test_wrong_use(ready: SmallVault, cli: Cli, words: tuple[str, ...]) -> None:
    """Exit code 2, and nothing is written."""
    done = cli("rates", *words)
    assert done.exit_code == 2, done.output
    assert "error:" in done.output and "hint:" in done.output
    assert not (ready.folder / "all.csv").exists()


@pytest.mark.parametrize("words", [("--ta",), ("--ta", "arrhenius", "--activation", "0.4", "--since", "2030-06-01"),
                                   ("--ta", "ten-kelvin", "--prior-mtbf", "600000", "250000")], ids=" ".join)
def test_options_that_change_what_is_learned_with(cli: Cli, words: tuple[str, ...]) -> None:
    """Each is taken."""
    assert cli("rates", *words).exit_code == 0
