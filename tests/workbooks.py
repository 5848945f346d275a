"""Workbooks for the tests, made with openpyxl alone or part by part."""

from __future__ import annotations

import zipfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import openpyxl

HEAD = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
MAIN = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE = "http://schemas.openxmlformats.org/package/2006/relationships"

PARTS: Mapping[str, str] = {
    "_rels/.rels": f'{HEAD}<Relationships xmlns="{PACKAGE}"><Relationship Id="rId1" Type="{OFFICE}/officeDocument" '
                   'Target="xl/workbook.xml"/></Relationships>',
    "xl/workbook.xml": f'{HEAD}<workbook {MAIN} xmlns:r="{OFFICE}"><sheets><sheet name="S" sheetId="1" r:id="rId1"/></sheets>'
                       "</workbook>",
    "xl/_rels/workbook.xml.rels": f'{HEAD}<Relationships xmlns="{PACKAGE}">'
                                  f'<Relationship Id="rId1" Type="{OFFICE}/worksheet" Target="worksheets/sheet1.xml"/>'
                                  f'<Relationship Id="rId2" Type="{OFFICE}/sharedStrings" Target="sharedStrings.xml"/>'
                                  "</Relationships>",
    "xl/sharedStrings.xml": f"{HEAD}<sst {MAIN}><si><t>plain</t></si><si><r><t>ri</t></r><r><t>ch</t></r>"
                            '<rPh sb="0" eb="1"><t>spoken</t></rPh></si></sst>',
    "xl/worksheets/sheet1.xml": f'{HEAD}<worksheet {MAIN}><sheetData><row r="1"><c r="A1" t="s"><v>0</v></c></row></sheetData>'
                                "</worksheet>",
}


def by_hand(path: Path, parts: Mapping[str, str] = PARTS, **changed: str | bytes) -> Path:
    """A workbook of the parts above. changed: sheet, strings, workbook -> another text for that part."""
    names = {"sheet": "xl/worksheets/sheet1.xml", "strings": "xl/sharedStrings.xml", "workbook": "xl/workbook.xml"}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, text in {**parts, **{names[short]: text for short, text in changed.items()}}.items():
            packed.writestr(name, text)
    return path


def sheet_of(cells: str, after: str = "") -> str:
    """The XML of a sheet whose rows are given."""
    return f"{HEAD}<worksheet {MAIN}><sheetData>{cells}</sheetData>{after}</worksheet>"


def workbook(path: Path, sheets: Mapping[str, Sequence[Sequence[Any]]]) -> Path:
    """A workbook of plain rows by sheet, as another program would write it."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(list(row))
    book.save(path)
    return path
