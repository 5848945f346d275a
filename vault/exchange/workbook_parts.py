"""The parts of a workbook's package: which sheets it has, where their XML lies, what its number formats are (ECMA-376)."""

from __future__ import annotations

import posixpath
import unicodedata
from dataclasses import dataclass
from typing import Any

from vault.exchange.cell_form import Form, form_of
from vault.exchange.files import FileProblem
from vault.exchange.safe_zip import SafeZip
from vault.exchange.sheet_xml import UNKNOWN_ENCODING
from vault.exchange.table_limits import SAVE_AS


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedSheet:
    """A sheet as the workbook lists it. part: where its XML lies in the package."""

    name: str
    part: str
    hidden: bool


def main_part(packed: SafeZip, name: str) -> str:
    """Where the workbook itself lies. Raises FileProblem for what is no XLSX workbook, with what to do."""
    names = set(packed.names)
    if "mimetype" in names and b"opendocument" in packed.read("mimetype")[:100]:
        raise FileProblem(f"{name} is an OpenDocument file", SAVE_AS)
    if "xl/workbook.bin" in names:
        raise FileProblem(f"{name} is a binary workbook (.xlsb)", SAVE_AS)
    for relation in read_xml(packed, "_rels/.rels", name) if "_rels/.rels" in names else ():
        if relation.get("Type", "").endswith("/officeDocument"):
            part: str = relation.get("Target", "").lstrip("/")
            if part in names and _local(read_xml(packed, part, name).tag) == "workbook":
                return part
    if "xl/workbook.xml" in names:
        return "xl/workbook.xml"
    raise FileProblem(f"{name} is a ZIP file that holds no workbook", "give a CSV file or an XLSX workbook")


def read_xml(packed: SafeZip, part: str, name: str) -> Any:
    """A small part as a tree. One that declares a document type or entities is refused. Raises FileProblem."""
    from xml.etree.ElementTree import ParseError

    from defusedxml import DefusedXmlException
    from defusedxml.ElementTree import fromstring

    try:
        return fromstring(packed.read(part), forbid_dtd=True)
    except DefusedXmlException as error:
        raise FileProblem(f"{part} in {name} declares a document type, which no spreadsheet writes",
                          f"open it in a spreadsheet, {SAVE_AS}") from error
    except (ParseError, *UNKNOWN_ENCODING) as error:
        raise FileProblem(f"{part} in {name} is broken: {error}", f"open it in a spreadsheet, {SAVE_AS}") from error


def _local(tag: str) -> str:
    return tag.rpartition("}")[2]


def relations_of(packed: SafeZip, main: str, name: str) -> dict[str, tuple[str, str]]:
    """Id -> (last word of the type, part)."""
    folder, base = posixpath.split(main)
    part = posixpath.join(folder, "_rels", f"{base}.rels")
    if part not in packed.names:
        return {}
    return {one.get("Id", ""): (one.get("Type", "").rpartition("/")[2],
                                posixpath.normpath(posixpath.join("/" + folder, one.get("Target", ""))).lstrip("/"))
            for one in read_xml(packed, part, name) if one.get("TargetMode") != "External"}


def listed_sheets(packed: SafeZip, main: str, name: str) -> tuple[list[ListedSheet], bool]:
    """The workbook's sheets of cells, and whether its days count from 1904. Raises FileProblem."""
    relations = relations_of(packed, main, name)
    listed: list[ListedSheet] = []
    from_1904 = False
    for one in read_xml(packed, main, name).iter():
        if _local(one.tag) == "workbookPr":
            from_1904 = one.get("date1904") in ("1", "true")
        if _local(one.tag) != "sheet":
            continue
        number = next((value for key, value in one.attrib.items() if _local(key) == "id" and key != "id"), "")
        kind, part = relations.get(number, ("", ""))
        if kind == "worksheet" and part in packed.names:
            listed.append(ListedSheet(name=unicodedata.normalize("NFC", one.get("name", "")), part=part,
                                      hidden=one.get("state", "visible") != "visible"))
    if not listed:
        raise FileProblem(f"{name} is a workbook without sheets", f"open it in a spreadsheet, {SAVE_AS}")
    return listed, from_1904


def number_forms(packed: SafeZip, part: str, name: str) -> list[Form]:
    """The number format of each style that a cell can have, from the part of styles."""
    from openpyxl.styles.numbers import BUILTIN_FORMATS

    codes = dict(BUILTIN_FORMATS)
    used: list[int] = []
    for group in read_xml(packed, part, name):
        if _local(group.tag) == "numFmts":
            codes |= {int(one.get("numFmtId", "0")): one.get("formatCode", "General") for one in group}
        elif _local(group.tag) == "cellXfs":
            used = [int(one.get("numFmtId", "0")) for one in group]
    known = {number: form_of(codes.get(number, "General")) for number in set(used)}
    return [known[number] for number in used]
