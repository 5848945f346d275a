"""Schedules as other people make them, and a small catalogue to read them against."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from pathlib import Path

from vault.domain.rating import EmergencyLimits, GearRating, Module, ProtectionClass, Rating
from vault.domain.settings import Duty, EmergencyMode, EmergencySupply, Output
from vault.domain.site import Circuit, Line, LineKind
from vault.exchange.schedule import Schedule
from vault.exchange.schedule_mapping import ScheduleMapping
from vault.exchange.schedule_translation import Translation, translate

MODULE = Module(current_min_ma=100, current_max_ma=1050, module_max_ma=1100, voltage_low_mv=27000, voltage_high_mv=54000,
                power_max_mw=40000)
EMERGENCY = EmergencyLimits(modes=frozenset(EmergencyMode), supply=EmergencySupply.CENTRAL, duration_min=180)
GEAR = GearRating(duty=Duty.GENERAL, output=Output.CONSTANT_CURRENT, modules=(MODULE,), emergency=EMERGENCY)
RATINGS = {code: Rating(code=code, revision=1, title=f"Type {code}", gears=(GEAR,), ip="IP20", supply_min_v=220, supply_max_v=240,
                        protection_class=ProtectionClass.CLASS_I, power_max_mw=30000) for code in ("A12", "B2")}
LINES = {"D1": Line(name="D1", revision=1, kind=LineKind.DALI, addresses_from=0),
         "D2": Line(name="D2", revision=1, kind=LineKind.DALI, addresses_from=1)}
CIRCUITS = {name: Circuit(name=name, revision=1) for name in ("3L2", "4L3", "2L2", "F12", "UV1.1/F3", "4", "L1")}
DRIVERS = frozenset({"CC-40-700"})

# Rows of a German and an English schedule, composed from practice; retyped.
GERMAN = """\
Leuchten-Nr.;Leuchtentyp;Geschoss;Raum-Nr.;UV;SK;Leistung [W];Ausgangsstrom;Flussspg.;SK;Schutzart;DALI-Linie;DALI-Adr.;\
Gruppe(n);DS/BS;Betriebsdauer;ZB-Kreis/Nr.
1;A12;EG;0.12;UV 1.1;3L2;28,5;700\u00a0mA;27…54 V;I;IP 20;1;00;1+3;;;
2;dto.;EG;0.12;UV 1.1;3L2;28,5;0,7A;27-54;I;20;1;01;1,3;BS;1;04.Dez
3;A12;1.OG;1.03;UV1.2;4L3;~30;1.050 mA;30 bis 42;II;20/44;1;02;G01;Dauer;3 h;4/13
4;B2;UG1;U.07;UV 0.1;SiBe;8;350;s. DB;III;65;-;-;-;DS;8h;4/14
"""
ENGLISH = """\
Luminaire Schedule - Rev C,,,,,,,,,,,,
,,,,,,,,,,,,
Tag No.,Fitting,Level,Room No.,DB,Cct,Iout,Vf range,Ctrl,DALI Line,DALI Addr.,EM,Dur.
,,,,,,mA,V,,,,,h
L-007,A12,01,1.03,DB-L1,L1/23,700mA,27-54V,DALI,1,0,,
L-008,A12,01,1.03,DB-L1,L1/23,"0,7 A",27 to 54,dali2,1,1,NM,3h
L-009,a12*,01,"\""",DB-L1,L1/23,700,27– 54 V,DALI,1,64,maint.,180'
L-010,A-12,-1,B.01,DB-B,2L2,0.7,max 54,1-10V,n/a,-,M3,3hr
L-010,A12,-1,B.01,DB-B,2L2,TBC,?,SW,,A5,NM?,3
,B2,02,03-Jan,DB-L2,F12,1050 mA,30V,DALI,2,12,,
TOTAL,,,,,,,,,,,,6
"""
FRENCH = """\
Repère\tType lum.\tNiveau\tLocal\tCourant\tTension directe\tGradation\tLigne\tAdresse\tP/NP\tAutonomie
R1\tA12\tRDC\tHall\t0,7 A\t27…54 V\tDALI\tD1\t0\t\t
R2\tidem\tRDC\tHall\t700 mA\t27-54\tDALI\tD1\t1\tNP\t3 h
R3\tA12\tÉtage 1\tBureau 1.03\t0,35\t27-54\tDALI2\tD1\t2\tP\t180'
Total\t\t\t\t\t\t\t\t\t\t
"""
# Italian, Spanish and Dutch headings side by side, as a contractor's own form has them.
MIXED = """\
Sigla|Tipo|Planta|Ruimte|Corrente|Línea DALI|Dirección|Stuks
V1|A12|PB|Aula 3|700|D1|1|1
V2|A12|PB|Aula 3|1,05 A|D1|64|1
V3|B2|P1|Pasillo|350|D1|3|2
"""


def german(folder: Path) -> Path:
    """cp1252 with carriage returns, as spreadsheets in Germany save CSV."""
    path = folder / "leuchten.csv"
    path.write_bytes(GERMAN.replace("\n", "\r\n").encode("cp1252"))
    return path


def english(folder: Path) -> Path:
    """UTF-8 with a byte-order mark."""
    path = folder / "fittings.csv"
    path.write_bytes(ENGLISH.encode("utf-8-sig"))
    return path


def french(folder: Path) -> Path:
    """UTF-16 with tabs, what a spreadsheet calls Unicode text."""
    path = folder / "luminaires.txt"
    path.write_bytes(FRENCH.encode("utf-16"))
    return path


def mixed(folder: Path) -> Path:
    """UTF-8 with bars."""
    path = folder / "mixed.csv"
    path.write_text(MIXED, encoding="utf-8")
    return path


def workbook(folder: Path) -> Path:
    """A title over merged cells, headings over two rows, a merged floor, an address that became a date, a total."""
    import openpyxl

    book = openpyxl.Workbook()
    cover = book.active
    cover.title = "Cover"
    cover.append(["Drawing list"])
    sheet = book.create_sheet("Fittings")
    for row in (
        ["Luminaire schedule", None, None, None, None, None, None, None],
        ["Ref", "Type", "Floor", "Room", "DALI", None, "Iout", "CBS addr."],
        [None, None, None, None, "Line", "Address", "mA", None],
        ["F-1", "A12", "Level 1", "Hall", "D1", 0, 700, datetime.datetime(2026, 12, 4)],
        ["F-2", "A12", None, "Hall", "D1", 1, 700, "4/13"],
        ["F-3", "B2", None, "Store", "D1", 2, 350, None],
        ["Total", None, None, None, None, None, 1750, None],
    ):
        sheet.append(row)
    sheet["H4"].number_format = "dd-mmm"
    for merged in ("A1:H1", "E2:F2", "A2:A3", "B2:B3", "C2:C3", "D2:D3", "C4:C6"):
        sheet.merge_cells(merged)
    path = folder / "fittings.xlsx"
    book.save(path)
    return path


def seen(path: Path, answers: Mapping[str, str] | None = None, columns: Mapping[str, str] | None = None) -> Translation:
    """The file in our columns, under some answers."""
    mapping = ScheduleMapping(answers=answers or {}, columns=columns or {})
    return translate(path, ratings=RATINGS, lines=LINES, circuits=CIRCUITS, drivers=DRIVERS, mapping=mapping)


def taken(translation: Translation) -> Schedule:
    """What the strict reader makes of a translation; its rejected cells as the file has them are `retold`."""
    opened = translation.opened(ratings=RATINGS, lines=LINES, circuits=CIRCUITS)
    return opened.closed([one for one in opened.luminaires() if one is not None])


def accounted(translation: Translation) -> dict[str, set[int]]:
    """What became of the file's rows: taken, rejected, asked about, skipped."""
    schedule = taken(translation)
    kin = translation.kin_of(schedule)
    bad = {row for one in translation.retold(schedule.rejected) for row in kin.get(one.row, (one.row,))}
    return {"taken": {row for one in schedule.luminaires for row in one.rows}, "rejected": bad,
            "asked": {row for one in translation.asked_rows for row in kin.get(one, (one,))},
            "skipped": set(translation.skipped)}


def rows_of_file(translation: Translation) -> set[int]:
    """Every row of the file that holds anything, from its first."""
    return {number for number, row in enumerate(translation.raw.rows, 1) if any(map(str.strip, row))}
