"""Addresses planned and checked over the small vault and over schedules beside it."""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import pytest
from openpyxl import load_workbook
from small_vault import HEADING, NOW_S, SmallVault, rows_of, write_rows

from vault.actions.address_paper import plan_rows, write_labels, write_lines, write_schedule, write_table
from vault.actions.address_signing import PROVISIONAL, sign_plan
from vault.actions.addressing import Asked, CheckedSite, Planned, check_site, plan_site, read_order
from vault.actions.handover import hand_over
from vault.actions.labelling import medium_named, sheet_named
from vault.actions.labels_life import sight_label
from vault.actions.luminaire import view
from vault.domain.address_items import PLANNED
from vault.domain.record import Basis, Reason
from vault.domain.tag import to_bytes
from vault.errors import GearkeepError, UsageProblem
from vault.exchange.line_drawing import WIDTH, DrawnGear, DrawnLine, Mark, draw_line
from vault.exchange.schedule_mapping import ScheduleMapping
from vault.trust.statements import IssuedLabel, Kind, LabelIssue

COLUMNS = HEADING.split(",")
MEN = tuple(f"CH-{number:03}" for number in range(10, 19))  # nine of the demo's luminaires on D1 that the vault lacks


def _schedule(small: SmallVault, *references: str, name: str = "site.csv", **cells: str) -> Path:
    """Rows of the demo's schedule with some cells the same in each."""
    rows = list(csv.reader(rows_of(*references)))
    for row in rows:
        for column, cell in cells.items():
            row[COLUMNS.index(column)] = cell
    path = small.folder / name
    with path.open("w", encoding="utf-8", newline="") as out:
        csv.writer(out).writerows([COLUMNS, *rows])
    return path


def _told(planned: Planned) -> dict[str, tuple[str, int | None, str]]:
    return {row.reference: (row.line, row.address, row.plan) for row in plan_rows(planned) if row.gear != "emergency converter"}


def _rules(found: Planned | CheckedSite) -> set[str]:
    findings = found.findings if isinstance(found, Planned) else found.everything
    return {finding.rule for finding in findings}


def test_a_vault_that_is_addressed_is_kept_as_it_is(small: SmallVault) -> None:
    """Every address of the demo is kept, as the line counts it: CH-007 is 6 from 0, PH-001 is 1 from 1."""
    planned = plan_site(small.open(), Asked())
    told = _told(planned)
    assert {plan for _, _, plan in told.values()} == {"kept"}
    assert (told["CH-007"], told["PH-001"], told["CB1-01"]) == (("D1", 6, "kept"), ("D2", 1, "kept"), ("CB1", 1, "kept"))
    assert planned.findings == () and planned.unplaced == ()


def test_a_check_of_the_vault_shows_each_line(small: SmallVault) -> None:
    """CH-005 failed its check, so address 4 is free on D1; CB1 bears 125 mA (demo/drivers.toml) of the 6 A
    that 60 % of 10 A are."""
    states = {state.track.name: state for state in check_site(small.open(), Asked()).states}
    assert (states["D1"].count, states["D1"].first_free, states["D1"].gaps) == (10, 4, ((4, 4), (9, 23)))
    assert (states["CB1"].count, states["CB1"].load_ma, states["CB1"].load_max_ma) == (1, 125, 6000)
    assert set(states) == {"D1", "D2", "D3", "E1", "CB1"}


def test_a_schedule_is_planned_around_what_the_vault_holds(small: SmallVault) -> None:
    """New luminaires get the lowest free addresses of D1 in walking order; nobody of the vault is moved."""
    planned = plan_site(small.open(), Asked(file=_schedule(small, *MEN, address="")))
    assert [_told(planned)[name][1] for name in MEN] == [4, 9, 10, 11, 12, 13, 14, 15, 16]
    assert _told(planned)["CH-001"] == ("D1", 0, "kept")


def test_a_filled_schedule_is_the_same_file_and_can_be_handed_over(small: SmallVault) -> None:
    """Only the empty addresses differ, and every row is signed."""
    file, out = _schedule(small, *MEN, "ST-N2", address=""), small.folder / "filled.csv"
    planned = plan_site(small.open(), Asked(file=file))
    assert write_schedule(small.open(), planned, out) == ()
    before, after = (list(csv.reader(path.open(encoding="utf-8-sig"))) for path in (file, out))
    place = COLUMNS.index("address")
    assert [[*row[:place], "", *row[place + 1:]] for row in after[1:]] == before[1:]
    # D2 counts from 1; the converter is beside its luminaire's own gear.
    assert [row[place] for row in after[1:]] == ["4", "9", "10", "11", "12", "13", "14", "15", "16", "3", "4"]
    done = hand_over(small.desk("I01"), out)
    assert len(done.accepted) == len(MEN) + 1 and done.rejected == ()


def test_luminaires_that_may_go_on_two_lines_are_shared_out(small: SmallVault) -> None:
    """D1 holds ten gear and D2 four: nine more are three and nine in all thirteen; neighbours stay together."""
    file = _schedule(small, *MEN, "CH-019", "CH-020", "CH-021", line="D1+D2", address="")
    planned = plan_site(small.open(), Asked(file=file))
    assert {fill.track.name: fill.count for fill in planned.lines.filled} == {"D1": 13, "D2": 13}
    walk = [_told(planned)[name][0] for name in ("CH-019", "CH-020", "CH-021", *MEN)]
    assert walk == ["D1"] * 3 + ["D2"] * 9 or walk == ["D2"] * 9 + ["D1"] * 3


def test_luminaires_without_a_line_go_where_they_may(small: SmallVault) -> None:
    """With --share over the lines that are named; without, they are told."""
    file = _schedule(small, *MEN, line="", address="")
    shared = plan_site(small.open(), Asked(file=file, lines=("D1", "D3"), share=True))
    assert {fill.track.name: fill.count for fill in shared.lines.filled} == {"D1": 10, "D3": 10}
    assert len(plan_site(small.open(), Asked(file=file)).unplaced) == len(MEN)


@pytest.mark.parametrize(("references", "cells", "rules"), [
    (MEN, {"address": "3"}, {"address"}),  # CH-004 has it, and all the others too
    (("CH-010",), {"address": "64"}, {"address", "row-unreadable"}),
    (("CH-010",), {"groups": "16", "address": "20"}, {"row-unreadable"}),
    (("CH-010",), {"line": "D9", "address": "3"}, {"row-unreadable", "address-line"}),
    (("CH-010",), {"address": ""}, {"address-missing"}),
    (("CH-007",), {"line": "D2", "address": "20"}, {"address-other-line"}),
    (("CH-010",), {"line": "", "address": ""}, {"address-line"}),
])
def test_what_a_check_of_a_schedule_finds(small: SmallVault, references: tuple[str, ...], cells: dict[str, str],
                                          rules: set[str]) -> None:
    """Doubles with the vault or within the file, addresses and groups that do not exist, lines that nobody knows."""
    assert _rules(check_site(small.open(), Asked(file=_schedule(small, *references, **cells)))) == rules


def test_a_central_circuit_of_the_file_and_the_vault_is_counted_whole(small: SmallVault) -> None:
    """21 luminaires are one too many (DIN V VDE V 0108-100:2010 4.4.6, as quoted): 20 in the file and one in the vault."""
    row = next(csv.reader(rows_of("CB1-02")))
    places = {name: COLUMNS.index(name) for name in ("reference", "place", "central_address", "serial")}
    rows = []
    for number in range(2, 22):
        own = list(row)
        own[places["reference"]], own[places["place"]] = f"CB1-{number:02}", f"Plant room, position {number}"
        own[places["serial"]], own[places["central_address"]] = "", ""
        rows.append(",".join(f'"{cell}"' for cell in own))
    full = plan_site(small.open(), Asked(file=write_rows(small.folder / "central.csv", rows)))
    assert _rules(full) == {"circuit-luminaires", "address-none-given"}
    assert [left.item.reference for left in full.unplaced] == ["CB1-21"]
    good = plan_site(small.open(), Asked(file=write_rows(small.folder / "fewer.csv", rows[:-1])))
    assert _rules(good) == set() and [_told(good)[f"CB1-{number:02}"][1] for number in (2, 20)] == [2, 20]


def test_a_plan_is_signed_whole_and_says_what_it_is(small: SmallVault) -> None:
    """By a given order and renumbered: the new versions are stated, and the drivers' readbacks count no more."""
    asked = Asked(lines=("D2",), order=("PH-002", "PH-001"), renumber=True)
    signed = sign_plan(small.desk("T01"), asked, move_set=True)
    seen = small.seen("PH-001")
    assert seen.record.gears[0].settings.control is not None and seen.record.gears[0].settings.control.short_address == 1
    assert (seen.record.reason, seen.record.basis, seen.record.note) == (Reason.SETTINGS_CHANGED, Basis.STATED, PLANNED)
    assert len(signed.versions) == 3 and signed.left == ()
    assert sign_plan(small.desk("T01"), asked, move_set=True).versions == ()


def test_addresses_on_record_are_not_signed_over_by_accident(small: SmallVault) -> None:
    """Their drivers, labels and the control system's list would be wrong: that has to be meant."""
    before = small.sizes()
    with pytest.raises(GearkeepError) as problem:
        sign_plan(small.desk("T01"), Asked(lines=("D2",), order=("PH-002", "PH-001"), renumber=True))
    assert (problem.value.kind, small.sizes()) == ("would-move", before) and "--move-set" in problem.value.hint


def test_luminaires_in_conflict_or_provisional_keep_what_they_have(small: SmallVault) -> None:
    """The others are planned around them, and each is told with the reason."""
    base = small.seen("PH-001")
    follow = replace(base.record, version=2, predecessors=base.statement.digest[:16], reason=Reason.SETTINGS_CHANGED)
    small.fork(replace(follow, note="one"), replace(follow, note="other", place="Pool hall east, truss 9"))
    other = small.seen("PH-002")
    small.sign("I01", Kind.RECORD, replace(
        other.record, version=2, predecessors=other.statement.digest[:16], reason=Reason.SETTINGS_CHANGED, open_stops="window"))
    signed = sign_plan(small.desk("T01"), Asked(lines=("D2",), renumber=True, order=("ST-N1", "PH-002", "PH-001")), move_set=True)
    assert {why for _, why in signed.left} == {PROVISIONAL}
    assert [_told(signed.planned)[name][1:] for name in ("PH-001", "PH-002", "ST-N1")] == [(1, "kept"), (2, "kept"), (3, "moved")]
    assert len(signed.versions) == 1


def test_a_frozen_luminaire_keeps_its_address(small: SmallVault) -> None:
    """Its label was seen on another housing: nobody signs for it until that is settled."""
    seen = small.seen("PH-001")
    small.sign("I01", Kind.LABEL_ISSUE, LabelIssue(time_s=NOW_S, medium="60x40", why=None, labels=(
        IssuedLabel(tag=to_bytes(seen.tag), record_digest=seen.statement.digest[:8], copy=1, carries_settings=True),)))
    sight_label(small.desk("T01"), seen.tag, "Foyer", 1, None, on_housing=True)
    signed = sign_plan(small.desk("T01"), Asked(lines=("D2",), renumber=True, order=("PH-002", "PH-001")), move_set=True)
    assert [(key.replace(" ", ""), "is frozen" in why) for key, why in signed.left] == [(seen.tag, True)]
    assert _told(signed.planned)["PH-001"] == ("D2", 1, "kept")


def test_a_file_is_not_signed_and_a_signer_is_needed(small: SmallVault) -> None:
    """Nothing is written where the plan cannot be signed."""
    before = small.sizes()
    with pytest.raises(UsageProblem, match="not signed by its plan"):
        sign_plan(small.desk("T01"), Asked(file=small.folder / "schedule.csv"))
    with pytest.raises(GearkeepError):
        sign_plan(small.desk(), Asked(renumber=True))
    assert small.sizes() == before


@pytest.mark.parametrize(("asked", "kind"), [
    (Asked(lines=("D9",)), "not-found"),
    (Asked(share=True), "no-line"),
])
def test_what_is_wrongly_asked_is_told(small: SmallVault, asked: Asked, kind: str) -> None:
    """A line that nobody knows, and sharing out over none."""
    with pytest.raises(UsageProblem) as told:
        plan_site(small.open(), asked)
    assert told.value.kind == kind


def test_a_schedule_with_open_questions_is_not_planned(small: SmallVault) -> None:
    """Whether its addresses count from 0 or from 1 is asked, never guessed."""
    path = small.folder / "theirs.csv"
    path.write_text("Pos.;Leuchtentyp;Raum;DALI-Linie;DALI Adr.\nCH-101;T1;EG 1;D1;11\nCH-102;T1;EG 2;D1;12\n", encoding="utf-8")
    with pytest.raises(GearkeepError) as told:
        plan_site(small.open(), Asked(file=path))
    assert told.value.kind == "open-questions" and "from 0 or from 1" in told.value.what


def test_an_order_is_read_from_a_list(tmp_path: Path) -> None:
    """One reference a line; one that stands twice is refused."""
    (tmp_path / "walk.csv").write_text("reference\nB\nA\n", encoding="utf-8")
    (tmp_path / "twice.csv").write_text("B\nA\nB\n", encoding="utf-8")
    assert read_order(tmp_path / "walk.csv") == ("B", "A")
    with pytest.raises(UsageProblem, match="names B twice"):
        read_order(tmp_path / "twice.csv")


def test_the_plan_is_written_as_table_labels_and_drawing(small: SmallVault) -> None:
    """Whole numbers stay numbers in a workbook; one label for each address; a page for each line and circuit."""
    planned, medium = plan_site(small.open(), Asked(lines=("D2",))), medium_named("60x40", 300)
    write_table(planned, small.folder / "plan.xlsx")
    cells = list(load_workbook(small.folder / "plan.xlsx").active.iter_rows(values_only=True))  # type: ignore[union-attr]
    assert cells[1][4:7] == ("D2", 1, "from 1") and len(cells) == 5
    drawn = write_labels(small.open(), planned, small.folder / "labels.pdf", medium, sheet_named("a4", medium))
    assert [one.tag_shown for one in drawn] == ["PH-001", "PH-002", "ST-N1", "ST-N1"]
    assert [path.name for path in write_lines(small.open(), plan_site(small.open(), Asked()), small.folder / "lines.svg")] == [
        f"lines-{number}.svg" for number in range(1, 6)]
    svg = (small.folder / "lines-2.svg").read_text(encoding="utf-8")
    assert "Line D2: Pool hall and stairs" in svg and "Addresses are counted from 1" in svg


def test_sixty_four_gear_stand_on_one_page_each_with_its_mark() -> None:
    """What is told by the frame is told in words too, and nothing runs over the page's edge."""
    marks = list(Mark)
    gears = [DrawnGear(address=str(number), reference=f"L{number}", place=f"Room {number // 3}", mark=marks[number % 4])
             for number in range(64)]
    pages = draw_line(DrawnLine(title="Line D1", subtitle="", gears=gears))
    words = [shape.said for shape in pages[0].shapes if hasattr(shape, "said")]
    across = [x for shape in pages[0].shapes if hasattr(shape, "points") for x, _ in shape.points]
    assert len(pages) == 1 and [words.count(mark.value) for mark in marks] == [16] * 4
    assert {str(number) for number in range(64)} <= set(words) and min(across) >= 0 and max(across) <= WIDTH


def test_a_row_that_cannot_be_read_whole_is_planned_where_it_says_enough(small: SmallVault) -> None:
    """A type that nobody knows is no reason to lose the address; a line that nobody knows is. Both are told."""
    file = _schedule(small, "CH-010", "CH-011", address="", serial="")
    lines = file.read_text(encoding="utf-8").splitlines()
    file.write_text("\n".join([lines[0], lines[1].replace(",T1,", ",T99,", 1), lines[2].replace(",D1,", ",D9,", 1)]) + "\n",
                    encoding="utf-8")
    planned, out = plan_site(small.open(), Asked(file=file)), small.folder / "filled.csv"
    write_schedule(small.open(), planned, out)
    place = COLUMNS.index("address")
    assert [row[place] for row in csv.reader(out.open(encoding="utf-8-sig"))][1:] == ["4", ""]
    assert [(finding.where, finding.severity.value) for finding in planned.findings if finding.rule == "row-unreadable"] == [
        ("CH-010", "care"), ("CH-011", "unknown")]
    assert [left.item.reference for left in planned.unplaced] == ["CH-011"]


def test_somebody_elses_file_is_filled_in_as_it_counts(small: SmallVault) -> None:
    """Theirs counts from 1, line D1 from 0: its 11 is bus address 10, and bus address 4 is written as 5."""
    path = small.folder / "theirs.csv"
    path.write_text("Pos.;Leuchtentyp;Raum;DALI-Linie;DALI Adr.;Strom\nCH-101;T1;EG 1;D1;;700 mA\nCH-102;T1;EG 2;D1;11;700 mA\n",
                    encoding="utf-8")
    mapping = ScheduleMapping(answers={"DALI Adr.: numbering": "from-1", "Pos.: column": "reference", "min_level": "not set"})
    planned, out = plan_site(small.open(), Asked(file=path, mapping=mapping)), small.folder / "filled.csv"
    assert [_told(planned)[name] for name in ("CH-101", "CH-102")] == [("D1", 4, "new"), ("D1", 10, "kept")]
    assert write_schedule(small.open(), planned, out) == ()
    assert [row[4] for row in csv.reader(out.open(encoding="utf-8-sig"), delimiter=";")] == ["DALI Adr.", "5", "11"]


def test_columns_that_a_schedule_lacks_come_behind_the_others(small: SmallVault) -> None:
    """And the file with them is read as a schedule again."""
    file = _schedule(small, "CH-010", "CH-011", address="")
    rows = [[cell for at, cell in enumerate(row) if COLUMNS[at] != "address"] for row in csv.reader(file.open(encoding="utf-8"))]
    with file.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream).writerows(rows)
    planned, out = plan_site(small.open(), Asked(file=file)), small.folder / "filled.csv"
    assert write_schedule(small.open(), planned, out) == ("address",)
    assert [row[-1] for row in csv.reader(out.open(encoding="utf-8-sig"))] == ["address", "4", "9"]
    assert len(hand_over(small.desk("I01"), out).accepted) == 2


def test_luminaires_without_a_line_get_one_with_their_address(small: SmallVault) -> None:
    """Handed over before anybody knew their line; the signed version bears both."""
    done = hand_over(small.desk("I01"), _schedule(small, "CH-010", "CH-011", line="", address=""))
    signed = sign_plan(small.desk("T01"), Asked(lines=("D3",), share=True))
    with small.open().reading() as session:
        records = [view(session, one.tag).record for one in done.accepted]
    assert [(record.line, record.gears[0].settings.control.short_address) for record in records  # type: ignore[union-attr]
            ] == [("D3", 1), ("D3", 2)]
    assert len(signed.versions) == 2 and check_site(small.open(), Asked()).everything == ()
