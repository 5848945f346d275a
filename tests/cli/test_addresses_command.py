"""gearkeep addresses: what people type, what they read, and the exit code."""

from __future__ import annotations

import json

import pytest
from small_vault import HEADING, Cli, SmallVault, rows_of, write_rows

MEN = ("CH-010", "CH-011", "CH-012")


@pytest.fixture
def unaddressed(ready: SmallVault) -> SmallVault:
    """A schedule of three luminaires without addresses, site.csv, beside the small vault."""
    place = HEADING.split(",").index("address") + 1  # the place, "Changing room men, row 1", has a comma of its own
    rows = [row.split(",") for row in rows_of(*MEN)]
    write_rows(ready.folder / "site.csv", [",".join([*row[:place], "", *row[place + 1:]]) for row in rows])
    write_rows(ready.folder / "double.csv", [",".join([*row[:place], "3", *row[place + 1:]]) for row in rows])
    return ready


@pytest.mark.usefixtures("unaddressed")
def test_a_check_tells_every_line_with_its_numbering(cli: Cli) -> None:
    """Nothing is wrong in the small vault; each line says from where it counts."""
    said = cli("addresses", "check")
    assert said.exit_code == 0 and "line D1" in said.output and "from 1" in said.output and "Nothing is wrong." in said.output


@pytest.mark.usefixtures("unaddressed")
@pytest.mark.parametrize(("words", "code"), [
    (("addresses", "check", "site.csv"), 0),  # gear without an address asks for care
    (("addresses", "check", "double.csv"), 1),
    (("addresses", "plan", "site.csv"), 0),
    (("addresses", "plan", "double.csv"), 1),
    (("addresses", "check", "--line", "D9"), 2),
    (("addresses", "plan", "--share"), 2),
    (("addresses", "plan", "--out", "plan.txt"), 2),
    (("addresses", "plan", "site.csv", "--out", "schedule.csv"), 2),  # it is there already
    (("addresses", "plan", "site.csv", "--out", "filled.xlsx"), 2),  # of another kind
    (("addresses", "plan", "--sign"), 2),  # without a key
    (("addresses", "plan", "--drawing", "line.docx"), 2),
    (("addresses", "plan", "--labels", "labels.pdf", "--medium", "9x9"), 2),
    (("addresses", "plan", "garbage.txt"), 1),
])
def test_exit_codes(cli: Cli, words: tuple[str, ...], code: int) -> None:
    """0 good, 1 where something stops, 2 wrong use."""
    assert cli(*words).exit_code == code


def test_a_plan_says_each_address_with_its_numbering(cli: Cli, unaddressed: SmallVault) -> None:
    """And writes what was asked for."""
    said = cli("addresses", "plan", "site.csv", "--out", "filled.csv", "--table", "plan.csv", "--labels", "labels.pdf",
               "--drawing", "line.pdf")
    assert "4 (from 0)" in said.output and "3 new" in said.output
    assert {"filled.csv", "plan.csv", "labels.pdf", "line.pdf"} <= {path.name for path in unaddressed.folder.iterdir()}


@pytest.mark.usefixtures("unaddressed")
def test_a_plan_as_json_tells_both_numbers(cli: Cli) -> None:
    """PH-002 is 2 as line D2 counts, and 1 on the bus."""
    plan = json.loads(cli("addresses", "plan", "--line", "D2", "--json").output)
    found = {one["reference"]: (one["address"], one["counted_from"], one["on_bus"], one["plan"]) for one in plan["addresses"]}
    assert found["PH-002"] == (2, 1, 1, "kept") and plan["without"] == [] and plan["findings"] == []


@pytest.mark.usefixtures("unaddressed")
def test_a_signed_plan_says_that_no_driver_is_set(cli: Cli, unaddressed: SmallVault) -> None:
    """Its records say what is planned, and nobody may take them for what the drivers hold."""
    (unaddressed.folder / "walk.txt").write_text("PH-002\nPH-001\n", encoding="utf-8")
    said = cli("addresses", "plan", "--line", "D2", "--order", "walk.txt", "--renumber", "--move-set", "--sign", key="T01")
    assert said.exit_code == 0 and "No driver was touched by this" in said.output
    assert "3 luminaires have a new version" in said.output
    assert cli("audit").exit_code == 0
