"""Luminaire schedules: what is read, what is refused, and the way back in for what was rejected."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import pytest

from vault.domain.schema import NOT_SET, flatten
from vault.domain.settings import Colour, Duty
from vault.errors import GearkeepError
from vault.exchange.rejected_rows import write_rejected_rows
from vault.exchange.schedule import Rejected, Schedule
from vault.exchange.schedule_mapping import read_mapping_file
from vault.exchange.schedule_translation import as_ours
from vault.exchange.tables import read_tables

Read = Callable[..., Schedule]


def _write_rejected(path: Path, schedule: Schedule, rejected: list[Rejected]) -> None:
    """Rejected rows of the file that was read last, as a handover gives them back."""
    given = path.parent / "schedule.csv"
    write_rejected_rows(path, as_ours(given, read_tables(given)[0], {}), rejected, schedule.kin)

HEAD = "reference,type,place,line,address,min_level"
ROW = "A1,P1,Hall,D1,5,86"


def test_a_plain_row_takes_the_rest_from_the_rating(read: Read) -> None:
    """Blank cells are filled from the type's rating where it speaks, and left unrecorded where it does not."""
    schedule = read(f"{HEAD},current_ma\n{ROW},350\n")
    luminaire = schedule.luminaires[0]
    assert schedule.rejected == []
    assert (luminaire.reference, luminaire.type_code, luminaire.place, luminaire.line, luminaire.circuit,
            luminaire.rows) == ("A1", "P1", "Hall", "D1", None, (2,))
    assert flatten(luminaire.gears[0]) == {
        "duty": "general", "settings.output": "constant-current", "settings.channels.1.current_ma": 350,
        "settings.channels.1.voltage_min_mv": 36000, "settings.channels.1.voltage_max_mv": 40000,
        "settings.channels.1.power_max_mw": 14000, "settings.control.protocol": "dali",
        "settings.control.short_address": 5, "settings.control.min_level": 86}


@pytest.mark.parametrize(("heading", "cell", "path", "value"), [
    ("driver", "CC-1", "model", "CC-1"),
    ("Serial", " S 1 ", "serial", "S 1"),
    ("groups", "1+3", "settings.control.groups", 0b1010),
    ("groups", "none", "settings.control.groups", 0),
    ("scenes", "0:254 2:MASK", "settings.control.scenes", [254] + [255] * 15),
    ("POWER on-level", "255", "settings.control.power_on_level", 255),
    ("fade rate", "not set", "settings.control.fade_rate", "not set"),
    ("curve", "Linear", "settings.control.curve", "linear"),
    ("coolest_k", "6500", "settings.control.colour.coolest_mirek", 154),  # 1e6 / 6500 = 153.8
    ("warmest_k", "2700", "settings.control.colour.warmest_mirek", 370),  # 1e6 / 2700 = 370.4
    ("voltage_min_v", "27.125", "settings.channels.1.voltage_min_mv", 27125),
    ("Voltage Max V", "44", "settings.channels.1.voltage_max_mv", 44000),
    ("power_w", "12.5", "settings.channels.1.power_max_mw", 12500),
    ("extra:Key Box", "=A1+1", "settings.extras.Key Box", "=A1+1"),
    ("central_circuit", "L1", "settings.control.central_circuit", "L1"),
    ("central_address", "12", "settings.control.central_address", 12),
])
def test_a_cell_fills_its_field(read: Read, heading: str, cell: str, path: str, value: object) -> None:
    """Each column fills one field of the gear, in the unit that the heading names."""
    schedule = read(f"{HEAD},current_ma,{heading}\n{ROW},350,{cell}\n")
    assert schedule.rejected == []
    assert flatten(schedule.luminaires[0].gears[0])[path] == value


def test_addresses_stand_as_the_site_writes_them(read: Read) -> None:
    """On a line that counts from 1 the address 1 is 0 on the bus; "not set" leaves the driver's own."""
    schedule = read(f"{HEAD},current_ma\nA1,P1,Hall,D1,1,86,350\nA2,P1,Hall,D2,1,86,350\n"
                    "A3,P1,Hall,D2,not set,86,350\n")
    found = [luminaire.gears[0].settings.control for luminaire in schedule.luminaires]
    assert [control.short_address for control in found if control] == [1, 0, NOT_SET]


def test_two_rows_make_one_luminaire_with_two_gears(read: Read) -> None:
    """Rows of one reference are one luminaire; the second need not repeat what is said of the whole."""
    schedule = read(f"{HEAD},gear,current_ma,emergency_mode\nA1,P2,Stairs,D1,5,86,general,350,\n"
                    "B1,P1,Hall,D1,7,86,,350,\nA1,,,,6,not set,Emergency Converter,350,non-maintained\n")
    stairs = schedule.luminaires[0]
    assert [gear.duty for gear in stairs.gears] == [Duty.GENERAL, Duty.EMERGENCY_CONVERTER]
    assert stairs.rows == (2, 4)
    assert flatten(stairs.gears[1].settings)["emergency.rated_duration_min"] == 180


def test_channels_take_their_colours_from_the_type(read: Read) -> None:
    """Each module of the type is a channel, and further channels have numbered headings."""
    schedule = read(f"{HEAD},current_ma,current_2_ma,power_2_w\nA1,P4,Hall,D1,5,86,300,310,9.5\n")
    channels = schedule.luminaires[0].gears[0].settings.channels
    assert [(c.current_ma, c.colour, c.power_max_mw) for c in channels] == [
        (300, Colour.COOL_WHITE, 14000), (310, Colour.WARM_WHITE, 9500)]


def test_a_constant_voltage_type_needs_no_current(read: Read) -> None:
    """A constant-voltage gear takes the module's nominal voltage when the row gives none."""
    schedule = read("reference,type,place,voltage_v\nA1,P3,Cove,\nA2,P3,Cove,24.5\n")
    held = [luminaire.gears[0].settings.channels[0] for luminaire in schedule.luminaires]
    assert [(channel.voltage_mv, channel.current_ma) for channel in held] == [(24000, None), (24500, None)]


@pytest.mark.parametrize("text", [
    f"\ufeff{HEAD},current_ma\r\n{ROW},350\r\n",
    f"{HEAD},current_ma\n{ROW},350\n".replace(",", ";"),
    f"{HEAD},current_ma,\n{ROW},350,\n\n",
    f"Reference, TYPE ,place,line,address,Min-Level,current ma,problem,allowed\n{ROW},350,old words,old words\n",
])
def test_files_are_forgiven_their_form(read: Read, text: str) -> None:
    """A byte-order mark, semicolons, empty columns and rows, and the columns that we add ourselves do no harm."""
    schedule = read(text)
    assert (len(schedule.luminaires), schedule.rejected) == (1, [])


@pytest.mark.parametrize(("content", "kind", "word"), [
    (f"{HEAD}\n{ROW}\n".replace("Hall", "Café").encode("cp1252"), "unreadable-file", "UTF-8"),
    (f"{HEAD}\n".encode("utf-16"), "unreadable-file", "UTF-8"),
    (b"PK\x03\x04rest", "unreadable-file", "workbook"),
    (HEAD.replace(",", "\t").encode(), "unreadable-file", "tabs"),
    (f'{HEAD}\nA1,P1,"Ha"ll,D1,5,86\n'.encode(), "unreadable-file", "line 2"),
    (b"", "unreadable-file", "headings"),
    (b"\n\n", "unreadable-file", "headings"),
    (b"reference,type,place,curent_ma\n", "bad-schedule", "did you mean current_ma?"),
    (b"reference,type,place,Place\n", "bad-schedule", "twice"),
    (b"reference,place\n", "bad-schedule", "'type' is missing"),
    (b"reference,type,place,extra:\n", "bad-schedule", "extra:"),
    (b"reference,type,place,\nA1,P1,Hall,lost\n", "bad-schedule", "column 4 has no heading"),
])
def test_an_unreadable_file_is_refused(read: Read, content: bytes, kind: str, word: str) -> None:
    """A file whose form or headings are not ours is refused with what to do, before any row is looked at."""
    with pytest.raises(GearkeepError) as refused:
        read(content)
    assert refused.value.kind == kind
    assert word in refused.value.what and refused.value.hint


def test_no_such_file_is_refused(tmp_path: Path) -> None:
    """A missing mapping file is refused by its name."""
    with pytest.raises(GearkeepError, match=r"none\.toml"):
        read_mapping_file(tmp_path / "none.toml")


# column -> cell, on top of a row that is good; then the column blamed and a word of problem and of allowed.
BAD_CELLS = [
    ("reference", "R" * 25, "reference", "too long", "1 to 24"),
    ("type", "P9", "type", "not known", "P1, P2"),
    ("type", "p1", "type", "did you mean P1?", "P1"),
    ("type", "", "type", "nothing", "P1"),
    ("place", "", "place", "nothing", "1 to 40"),
    ("line", "D9", "line", "not known", "D1, D2"),
    ("line", "", "line", "address", "D1, D2"),
    ("circuit", "L9", "circuit", "not known", "L1"),
    ("address", "64", "address", "out of range", "0 to 63"),
    ("address", "five", "address", "whole number", "0 to 63"),
    ("gear", "spare", "gear", "no gear of type P1", "general"),
    ("gear", "emergency-converter", "gear", "no gear of type P1", "general"),
    ("current_ma", "0.7", "current_ma", "whole number", "1 to 20000 mA"),
    ("current_ma", "1.050", "current_ma", "whole number", "1 to 20000 mA"),
    ("current_ma", "700 mA", "current_ma", "whole number", "1 to 20000 mA"),
    ("current_ma", "20001", "current_ma", "not allowed", "1 to 20000 mA"),
    ("current_ma", "not set", "current_ma", "not allowed", "1 to 20000 mA"),
    ("current_ma", "", "current_ma", "nothing", "a figure"),
    ("current_2_ma", "300", "current_2_ma", "does not have", "1 channel"),
    ("voltage_min_v", "27,5", "voltage_min_v", "point", "0 to 1000 V"),
    ("voltage_min_v", "27.0005", "voltage_min_v", "finer than 0.001 V", "0 to 1000 V"),
    ("voltage_min_v", "1000.001", "voltage_min_v", "not allowed", "0 to 1000 V"),
    ("power_w", "-1", "power_w", "not a number", "0.001 to 10000 W"),
    ("control", "dmx", "control", "not allowed", "dali"),
    ("min_level", "0", "min_level", "not allowed", "1 to 254"),
    ("min_level", "", "min_level", "nothing", "not set"),
    ("groups", "1+16", "groups", "cannot be read", "0 to 15"),
    ("scenes", "16:1", "scenes", "cannot be read", "scene 0 to 15"),
    ("scenes", "1:256", "scenes", "not allowed", "0 to 255"),
    ("curve", "wavy", "curve", "not allowed", "logarithmic, linear"),
    ("coolest_k", "900", "coolest_k", "not allowed", "1000 to 25000 K"),
    ("coolest_k", "0", "coolest_k", "kelvin", "1000 to 25000 K"),
    ("central_circuit", "L9", "central_circuit", "not known", "L1"),
    ("prolong_s", "31", "prolong_s", "not allowed", "multiple of 30 s"),
    ("emergency_level_percent", "0.05", "emergency_level_percent", "finer", "0.1 to 100 %"),
    ("extra:note", "x" * 65, "extra:note", "too long", "64"),
]


@pytest.mark.parametrize(("column", "cell", "blamed", "problem", "allowed"), BAD_CELLS)
def test_a_bad_cell_is_told(read: Read, column: str, cell: str, blamed: str, problem: str, allowed: str) -> None:
    """A bad cell names its row, column, value, what is wrong and what is allowed; the luminaire is left out."""
    good = {"reference": "A1", "type": "P1", "place": "Hall", "line": "D1", "address": "5", "min_level": "86",
            "current_ma": "350", "emergency_mode": "maintained" if column.startswith(("prolong", "emerg")) else "",
            "emergency_supply": "central", "duration_min": "60"}
    row = {**good, column: cell}
    schedule = read(",".join(row) + "\n" + ",".join(f'"{held}"' for held in row.values()) + "\n")
    told = [item for item in schedule.rejected if item.column == blamed]
    assert schedule.luminaires == []
    assert [(item.row, item.value) for item in told] == [(2, cell)]
    assert problem in told[0].problem and allowed in told[0].allowed


def test_rows_are_numbered_as_a_spreadsheet_does(read: Read) -> None:
    """Empty rows and line breaks inside cells count as a spreadsheet counts them."""
    schedule = read(f'{HEAD},current_ma,extra:n\n{ROW},350,"a"\n,,,,,,,\nA2,P1,Hall,D1,7,86,x,b\n')
    assert [(item.row, item.column) for item in schedule.rejected] == [(4, "current_ma")]


@pytest.mark.parametrize(("rows", "told"), [
    ("A1,P1,Hall,D1,5,86,,350\nA1,P1,Hall,D1,6,86,,350\n", [(2, "reference"), (3, "reference")]),
    ("A1,P2,Hall,D1,5,86,general,350\n", [(2, "gear")]),
    ("A1,P2,Hall,D1,5,86,,350\n", [(2, "gear")]),
    ("A1,P2,Hall,D1,5,86,general,350\nA1,P2,Yard,D1,6,86,emergency-converter,350\n", [(3, "place")]),
    ("A1,P2,Hall,D1,5,86,general,350\nA1,P2,Hall,D1,6,x,emergency-converter,350\n", [(3, "min_level")]),
    (",P1,Hall,D1,5,86,,350\n,P1,Hall,D1,6,86,,350\n", [(2, "reference"), (3, "reference")]),
    ("A1,P1,Hall,D1,5,86,,350,too,many\n", [(2, "column 9")]),
])
def test_a_luminaire_stands_or_falls_whole(read: Read, rows: str, told: list[tuple[int, str]]) -> None:
    """One bad row rejects all rows of its luminaire, and no other luminaire."""
    schedule = read(f"{HEAD},gear,current_ma\n{rows}Z9,P1,Hall,D1,60,86,,350\n")
    assert [luminaire.reference for luminaire in schedule.luminaires] == ["Z9"]
    assert [(item.row, item.column) for item in schedule.rejected] == told


def test_twice_the_same_reference_names_both_rows(read: Read) -> None:
    """A reference that stands twice for one gear is told at both rows, with both numbers."""
    schedule = read(f"{HEAD},current_ma\n{ROW},350\nB1,P1,Hall,D1,7,86,350\n{ROW},350\n")
    assert [item.problem for item in schedule.rejected] == ["'A1' stands twice for general, in rows 2 and 4"] * 2


def test_headings_are_mapped(read: Read, tmp_path: Path) -> None:
    """A mapping file turns a site's own headings into ours, and drops what is to be ignored."""
    path = tmp_path / "map.toml"
    path.write_text('"Tag No." = "reference"\nFitting = "type"\n"Room No." = "place"\nIout = "current ma"\n'
                    'Qty = "ignore"\nKey = "extra:Key"\nCtrl = "control"\n')
    schedule = read("TAG NO.,fitting,Room no.,Iout,Qty,Key,min_level,ctrl\nL-7,P1,1.03,350,1,k,86,dali\n",
                    read_mapping_file(path).columns)
    assert schedule.luminaires[0].gears[0].settings.extras == (("Key", "k"),)


@pytest.mark.parametrize("text", ['Iout = "curent_ma"\n', "Iout = 5\n"])
def test_a_wrong_mapping_is_refused(tmp_path: Path, text: str) -> None:
    """A mapping to a heading that is not ours is refused by name."""
    path = tmp_path / "map.toml"
    path.write_text(text)
    with pytest.raises(GearkeepError, match="Iout") as refused:
        read_mapping_file(path)
    assert refused.value.kind == "bad-schedule"


def test_rejected_rows_can_be_corrected_and_fed_again(read: Read, read_again: Read, tmp_path: Path) -> None:
    """The file of rejected rows holds whole luminaires unchanged, says why, and reads cleanly once corrected."""
    first = read(f"{HEAD},gear,current_ma,extra:sum\nA1,P2,\"Hall, north\",D1,5,86,general,350,=1+1\n"
                 "B1,P1,Hall,D1,7,86,,350,\nA1,P2,\"Hall, north\",D1,6,one,emergency-converter,350,@x\n")
    path = tmp_path / "rejected.csv"
    _write_rejected(path, first, first.rejected)
    rows = list(csv.reader(path.read_text(encoding="utf-8-sig").splitlines()))
    assert rows[0] == [*first.headings, "problem", "allowed", "row in schedule.csv"]
    assert [tuple(row[:8]) for row in rows[1:]] == [first.raw_rows[2][:8], first.raw_rows[4][:8]]
    assert [row[8] for row in rows] == ["extra:sum", "'=1+1", "'@x"]
    assert rows[1][9:] == ["", "", "2"] and rows[2][11] == "4" and rows[2][9].startswith("min_level: 'one'")

    again = read_again(path)
    assert [(item.row, item.column) for item in again.rejected] == [(3, "min_level")]
    path.write_bytes(path.read_bytes().replace(b'"one"', b'"not set"'))
    corrected = read_again(path)
    assert corrected.rejected == []
    assert [gear.settings.extras for gear in corrected.luminaires[0].gears] == [(("sum", "=1+1"),), (("sum", "@x"),)]


@pytest.mark.parametrize("said", ["=1+1", "+1", "-1", "@x"])
def test_added_columns_are_no_formulas(read: Read, tmp_path: Path, said: str) -> None:
    """What we add to a rejected row never begins as a formula would, whoever found the problem."""
    schedule = read(f"{HEAD},current_ma\n{ROW},350\n")
    path = tmp_path / "rejected.csv"
    _write_rejected(path, schedule, [Rejected(row=2, column="fit", value="", problem=said, allowed=said)])
    row = list(csv.reader(path.read_text(encoding="utf-8-sig").splitlines()))[1]
    assert row[-3:] == [f"fit: {said}", f"fit: {said}", "2"]


def test_a_row_with_too_many_cells_stays_so(read: Read, read_again: Read, tmp_path: Path) -> None:
    """Cells beyond the headings are kept, so that the row is rejected again until somebody has looked at it."""
    schedule = read(f"{HEAD},current_ma\nA1,P1,Hall,north,D1,5,86,350\n")
    path = tmp_path / "rejected.csv"
    _write_rejected(path, schedule, schedule.rejected)
    assert read_again(path).luminaires == []
