"""gearkeep rates: the table, files, exit codes."""

from __future__ import annotations

import csv
import itertools
import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from small_vault import Cli, SmallVault, build, copy_of

from vault.cli.main import main
from vault.domain.record import Reason
from vault.trust.statements import Kind

DAY_S = 86_400
Rates = Callable[..., Result]  # runs gearkeep rates in a folder of its own


def _runner(small: SmallVault) -> Rates:
    small.close()
    return lambda *words: CliRunner().invoke(main, ["--vault", small.address, "rates", *words])


@pytest.fixture(scope="module")
def copy_in(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], SmallVault]:
    """Makes a copy of the small vault in a folder of that name."""
    return lambda name: copy_of(build(tmp_path_factory.getbasetemp() / "small-vault"), tmp_path_factory.mktemp(name))


@pytest.fixture(scope="module")
def calm(copy_in: Callable[[str], SmallVault]) -> Rates:
    """Over a vault without a swap."""
    return _runner(copy_in("calm"))


@pytest.fixture(scope="module")
def worn(copy_in: Callable[[str], SmallVault]) -> Rates:
    """Over a vault with one luminaire whose driver was replaced seven times within seven days."""
    small = copy_in("worn")
    for number in range(7):
        seen = small.seen("CH-007")
        small.sign("I01", Kind.RECORD, replace(
            seen.record, version=seen.record.version + 1, predecessors=seen.statement.digest[:16], reason=Reason.DRIVER_SWAP,
            time_s=seen.record.time_s + DAY_S, gears=(replace(seen.record.gears[0], serial=f"MB{number}"),)))
    return _runner(small)


@pytest.fixture(autouse=True)
def in_2031(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """The clock ticks a year after the small vault's handover; files are written where nothing is."""
    monkeypatch.setattr("vault.actions.desk.time.time", itertools.count(1_931_536_000.0).__next__)
    monkeypatch.chdir(tmp_path)


def test_the_table_names_what_it_rests_on(calm: Rates) -> None:
    """Models and types with the prior, its weight and the assumptions; good without an alarm."""
    done = calm()
    assert done.exit_code == 0, done.output
    for told in ("CC-40-700", "T1",
                 "Prior: 0.2 % per 1000 h (2000 FIT) (common practice, no source), worth 1 failure in 500000 h.",
                 "If every rate were as the prior says, there would be", "4000 burning hours a year are assumed",
                 "what signers said"):
        assert told in done.output


def test_an_alarm_is_exit_code_1(worn: Rates) -> None:
    """It says how certain it is and what is expected of chance."""
    done = worn("--model", "CC-40-700")
    assert done.exit_code == 1, done.output
    for told in ("ALARM: CC-40-700 fails faster than was believed: 7 seen", "certain that its rate is above 2 times the prior's",
                 "An alarm comes with", "by chance alone", "A year to come",
                 "Each swap counts as a failure, unless the old driver", "times the prior: 7 failures in"):
        assert told in done.output


def test_the_rule_of_the_alarm_can_be_set(worn: Rates) -> None:
    """A hundred times the prior is not reached."""
    assert worn("--factor", "100").exit_code == 0


def test_json_holds_the_same_figures(worn: Rates) -> None:
    """For other programs."""
    said = json.loads(worn("--type", "T1", "--json").output)
    found = said["rates"][0]
    assert (said["prior"]["mean_fit"], said["prior"]["worth_failures"], said["prior"]["in_hours"]) == (2000, 1, 500_000)
    assert (found["by"], found["name"], found["seen"], found["alarm"], found["prior_alone"]) == ("type", "T1", 7, True, False)
    assert found["low_fit"] < found["median_fit"] < found["rate_fit"] < found["high_fit"]


def test_a_chart_and_a_table_are_written_once(worn: Rates, tmp_path: Path) -> None:
    """Expected and seen by year as a drawing and as figures; a second time nothing is replaced."""
    done = worn("--plot", "years.svg", "--out", "all.csv")
    assert done.exit_code == 1, done.output
    assert "<svg" in (tmp_path / "years.svg").read_text(encoding="utf-8")
    assert "2030" in (tmp_path / "years.csv").read_text(encoding="utf-8-sig")
    with (tmp_path / "all.csv").open(encoding="utf-8-sig", newline="") as stream:
        rows = {row["name"]: row for row in csv.DictReader(stream)}
    assert (rows["CC-40-700"]["seen"], rows["CC-40-700"]["alarm"], rows["EM-6-180"]["seen"]) == ("7", "yes", "0")
    again = worn("--plot", "years.svg")
    assert again.exit_code == 2 and "is there already" in again.output


@pytest.mark.parametrize("words", [
    ("--model", "NO-SUCH"), ("--since", "31.5.2027"), ("--prior", "0"), ("--worth", "-1"), ("--factor", "0"),
    ("--certain", "100"), ("--prior-mtbf", "250", "600"), ("--prior-mtbf", "600", "250", "--worth", "1"),
    ("--activation", "0.7"), ("--ta", "ten-kelvin", "--activation", "0.7"), ("--out", "all.txt"),
    ("--out", "all.csv", "--plot", "years.png"), ("--plot", "years.svg", "--out", "years.csv")], ids=" ".join)
def test_wrong_use(calm: Rates, tmp_path: Path, words: tuple[str, ...]) -> None:
    """Exit code 2, and nothing is written."""
    done = calm(*words)
    assert done.exit_code == 2, done.output
    assert "error:" in done.output and "hint:" in done.output
    assert not (tmp_path / "all.csv").exists()


@pytest.mark.parametrize("words", [("--ta",), ("--ta", "arrhenius", "--activation", "0.4", "--since", "2030-06-01"),
                                   ("--ta", "ten-kelvin", "--prior-mtbf", "600000", "250000")], ids=" ".join)
def test_options_that_change_what_is_learned_with(calm: Rates, words: tuple[str, ...]) -> None:
    """Each is taken."""
    assert calm(*words).exit_code == 0


@pytest.mark.parametrize(("fate", "counts"), [
    ((), (1, 0, 0)), (("--old-driver", "scrapped"), (1, 0, 0)), (("--old-driver", "not-faulty"), (0, 1, 0)),
    (("--old-driver", "damaged"), (0, 0, 1)),
])
def test_a_swap_says_whether_the_old_driver_had_failed(cli: Cli, fate: tuple[str, ...], counts: tuple[int, ...]) -> None:
    """A planned swap, that of a wrong spare or of what was broken from outside is no failure; who says nothing is
    taken to have replaced what failed."""
    done = cli("swap", "@CH-007", "--spare", "GEN-50-1050", "--serial", "N1", "--readback", "good.json", "--as",
               "approved-equivalent", *fate, key="T01")
    assert done.exit_code == 0, done.output
    (found,) = json.loads(cli("rates", "--model", "CC-40-700", "--json").output)["rates"]
    assert (found["seen"], found["not_faulty"], found["damaged"]) == counts
