"""gearkeep cobie: a workbook that other readers of COBie accept, and the check of one."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from small_vault import DEMO, GOOD, Cli, SmallVault, build, copy_of

from vault.actions.cobie import check_cobie, write_cobie
from vault.actions.handover import hand_over
from vault.actions.handover_reading import look
from vault.exchange.cobie_read import CobieRead
from vault.exchange.raw_table import RawTable
from vault.exchange.schedule_mapping import ScheduleMapping
from vault.exchange.table_out import write_csv_table
from vault.exchange.tables import read_tables

# Columns of COBie 2.4 as both sample workbooks of the buildingSMART community have them (Duplex and Clinic handover, CC BY 4.0).
COLUMNS = {
    "Contact": "Email CreatedBy CreatedOn Category Company Phone ExternalSystem ExternalObject ExternalIdentifier Department "
               "OrganizationCode GivenName FamilyName Street PostalBox Town StateRegion PostalCode Country",
    "Facility": "Name CreatedBy CreatedOn Category ProjectName SiteName LinearUnits AreaUnits VolumeUnits CurrencyUnit "
                "AreaMeasurement ExternalSystem ExternalProjectObject ExternalProjectIdentifier ExternalSiteObject "
                "ExternalSiteIdentifier ExternalFacilityObject ExternalFacilityIdentifier Description ProjectDescription "
                "SiteDescription Phase",
    "Floor": "Name CreatedBy CreatedOn Category ExtSystem ExtObject ExtIdentifier Description Elevation Height",
    "Space": "Name CreatedBy CreatedOn Category FloorName Description ExtSystem ExtObject ExtIdentifier RoomTag UsableHeight "
             "GrossArea NetArea",
    "Zone": "Name CreatedBy CreatedOn Category SpaceNames ExtSystem ExtObject ExtIdentifier Description",
    "Type": "Name CreatedBy CreatedOn Category Description AssetType Manufacturer ModelNumber WarrantyGuarantorParts "
            "WarrantyDurationParts WarrantyGuarantorLabor WarrantyDurationLabor WarrantyDurationUnit ExtSystem ExtObject "
            "ExtIdentifier ReplacementCost ExpectedLife DurationUnit WarrantyDescription NominalLength NominalWidth "
            "NominalHeight ModelReference Shape Size Color Finish Grade Material Constituents Features "
            "AccessibilityPerformance CodePerformance SustainabilityPerformance",
    "Component": "Name CreatedBy CreatedOn TypeName Space Description ExtSystem ExtObject ExtIdentifier SerialNumber "
                 "InstallationDate WarrantyStartDate TagNumber BarCode AssetIdentifier",
    "System": "Name CreatedBy CreatedOn Category ComponentNames ExtSystem ExtObject ExtIdentifier Description",
    "Spare": "Name CreatedBy CreatedOn Category TypeName Suppliers ExtSystem ExtObject ExtIdentifier Description SetNumber "
             "PartNumber",
    "Attribute": "Name CreatedBy CreatedOn Category SheetName RowName Value Unit ExtSystem ExtObject ExtIdentifier Description "
                 "AllowedValues",
}


@pytest.fixture(scope="module")
def small_and_file(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[SmallVault, Path]]:
    """The small vault, and itself as a workbook."""
    made = copy_of(build(tmp_path_factory.getbasetemp() / "small-vault"), tmp_path_factory.mktemp("cobie"))
    write_cobie(made.desk(), made.folder / "as-built.xlsx")
    yield made, made.folder / "as-built.xlsx"
    made.close()


@pytest.fixture(scope="module")
def sheets(small_and_file: tuple[SmallVault, Path]) -> dict[str, RawTable]:
    """The workbook's sheets by name."""
    return {table.sheet or "": table for table in read_tables(small_and_file[1])}


@pytest.fixture(scope="module")
def read(small_and_file: tuple[SmallVault, Path]) -> CobieRead:
    """What our own reader takes from it."""
    return check_cobie(small_and_file[1])


def _column(table: RawTable, name: str) -> list[str]:
    at = table.rows[0].index(name)
    return [row[at] for row in table.rows[1:]]


def test_the_workbook_has_cobies_sheets_and_columns(sheets: dict[str, RawTable]) -> None:
    """Sheets and columns are those of the public samples, by name and in order, and no cell is left empty."""
    assert {name: " ".join(table.rows[0]) for name, table in sheets.items()} == COLUMNS
    assert all(len(row) == len(table.rows[0]) and all(row) for table in sheets.values() for row in table.rows)


@pytest.mark.parametrize(("sheet", "column", "target", "key"), [
    ("Space", "FloorName", "Floor", "Name"), ("Component", "Space", "Space", "Name"), ("Component", "TypeName", "Type", "Name"),
    ("Spare", "TypeName", "Type", "Name"), ("Component", "CreatedBy", "Contact", "Email"),
    ("Attribute", "CreatedBy", "Contact", "Email"), ("Floor", "CreatedBy", "Contact", "Email")])
def test_every_reference_of_the_workbook_resolves(sheets: dict[str, RawTable], sheet: str, column: str, target: str,
                                                  key: str) -> None:
    """Each name that a row gives stands in the sheet that it belongs to, and names stand once."""
    names = _column(sheets[target], key)
    assert set(_column(sheets[sheet], column)) <= set(names) and len(set(names)) == len(names)


def test_names_are_unique_in_every_sheet_that_is_referred_to(sheets: dict[str, RawTable]) -> None:
    """Attributes are of components and types that there are, each name once a row."""
    owners = list(zip(_column(sheets["Attribute"], "SheetName"), _column(sheets["Attribute"], "RowName"), strict=True))
    known = {("Component", name) for name in _column(sheets["Component"], "Name")} | {
        ("Type", name) for name in _column(sheets["Type"], "Name")}
    keys = list(zip(owners, _column(sheets["Attribute"], "Name"), strict=True))
    assert set(owners) == known and len(set(keys)) == len(keys)


def test_people_stand_in_it_as_codes(sheets: dict[str, RawTable]) -> None:
    """The e-mail that COBie wants is made of the signer's code and the vault's host."""
    assert _column(sheets["Contact"], "Email") == ["vault@lx.example.eu", "I01@lx.example.eu"]
    assert {*_column(sheets["Contact"], "GivenName"), *_column(sheets["Contact"], "FamilyName")} == {"n/a"}


def test_what_is_read_back_is_the_schedule_that_was_handed_over(read: CobieRead) -> None:
    """Reference, type, place, line, circuit, driver, current and address stand as in the demo's schedule."""
    wanted = ("reference", "type", "place", "line", "circuit", "driver", "current_ma", "address")
    with (DEMO / "schedule.csv").open(encoding="utf-8-sig", newline="") as stream:
        rows = [row for row in csv.DictReader(stream) if row["reference"] in GOOD]
    first = {row["reference"]: tuple(row[name] for name in wanted) for row in reversed(rows)}
    table = [dict(zip(read.table.rows[0], row, strict=True)) for row in read.table.rows[1:]]
    filled = {row["reference"]: tuple(row[name] if first[row["reference"]][at] else "" for at, name in enumerate(wanted))
              for row in reversed(table)}
    assert filled == first


def test_reading_it_back_asks_nothing_and_leaves_no_luminaire(read: CobieRead) -> None:
    """No question, and no remark but on whole columns; the rows left are ratings, facts of records, spares and contacts."""
    assert (read.questions, {one.row for one in read.noted}, read.counts["luminaires"], read.ours) == ((), {1}, len(GOOD), True)
    assert {one.sheet for one in read.left} == {"Attribute", "Spare", "Contact"}


def test_what_is_read_back_signs_nothing_new(read: CobieRead, small_and_file: tuple[SmallVault, Path]) -> None:
    """The luminaires of our own workbook, second gears among them, are the vault's own, unchanged to the last setting."""
    small, path = small_and_file
    write_csv_table(path.with_suffix(".csv"), [row for row in read.table.rows if any(row)])
    done = hand_over(small.desk("I01"), path.with_suffix(".csv"), mapping={}, preview=True)
    assert (done.rejected, {one.reference: one.changes for one in done.accepted if one.change != "unchanged"}) == ((), {})
    assert len(done.accepted) == len(GOOD)


def test_a_luminaire_bears_its_tag_its_link_and_its_records_digest(sheets: dict[str, RawTable],
                                                                   small_and_file: tuple[SmallVault, Path]) -> None:
    """BarCode is the tag, AssetIdentifier the label's link, ExtIdentifier the digest of the signed version."""
    row = dict(zip(sheets["Component"].rows[0], next(row for row in sheets["Component"].rows if row[0] == "CH-001"), strict=True))
    seen = small_and_file[0].seen("CH-001")
    assert (row["TagNumber"], row["BarCode"], row["AssetIdentifier"], row["ExtIdentifier"]) == (
        "CH-001", seen.tag, f"HTTPS://LX.EXAMPLE.EU/L/{seen.tag}", seen.row.digest.hex())


def test_the_command_writes_and_checks(cli: Cli, ready: SmallVault) -> None:
    """What is written is told; the check says the same in words, as JSON and as a table that handover reads."""
    written, said = cli("cobie", "as-built.xlsx"), cli("cobie", "as-built.xlsx", "--check", "--table", "taken.csv")
    told = json.loads(cli("cobie", "as-built.xlsx", "--check", "--types", "T1", "--json").output)
    table, = read_tables(ready.folder / "taken.csv")
    assert written.exit_code == 0 and "19 luminaires of 9 types in 19 places" in written.output
    assert said.exit_code == 0 and "19 luminaires of 9 types would be taken." in said.output
    assert ([one["name"] for one in told["types"] if one["luminaire"]], told["rows"]["Component"]) == (["T1"], 19)
    assert (len(table.rows), table.rows[0][:3]) == (21, ("reference", "type", "place"))


@pytest.mark.parametrize(("words", "code"), [
    (["there.xlsx"], 2), (["a.csv"], 2), (["b.xlsx", "--types", "T1"], 2), (["none.xlsx", "--check"], 1),
    (["garbage.txt", "--check"], 1)])
def test_wrong_use_is_refused(cli: Cli, ready: SmallVault, words: list[str], code: int) -> None:
    """No file is replaced, no other kind written, and what is no COBie workbook is not read."""
    (ready.folder / "there.xlsx").touch()
    assert cli("cobie", *words).exit_code == code


@pytest.mark.parametrize("answers", [{"references: from": "Name"}, {"T1: is it a luminair": "yes"}])
def test_an_answer_that_a_workbook_of_ours_cannot_ask_for_is_told(small_and_file: tuple[SmallVault, Path],
                                                                  answers: dict[str, str]) -> None:
    """It raises no question, so that a misspelt answer would pass unseen."""
    made, file = small_and_file
    assert look(made.desk(), file, mapping=ScheduleMapping(answers=answers)).strange == tuple(answers)
