"""Reading tables of somebody else's making: CSV and workbooks, told apart by their first bytes and never by their names."""

from __future__ import annotations

from pathlib import Path

from vault.exchange.files import ZIP_MAGIC, FileProblem
from vault.exchange.raw_table import RawTable
from vault.exchange.table_limits import MOST_BYTES, SAVE_AS, Progress, quiet

_COMPOUND = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"  # old binary workbooks, and new ones behind a password
_NO_TABLES = ((b"%PDF", "a PDF"), (b"\x89PNG", "a picture"), (b"\xff\xd8\xff", "a picture"), (b"SQLite format 3", "a database"),
              (b"\x1f\x8b", "a packed file"), (b"7z\xbc\xaf", "a packed file"), (b"{\\rtf", "a text document"))
_MARKUP = (b"<html", b"<!doctype", b"<table", b"<?xml", b"<meta")


def read_tables(path: Path, progress: Progress = quiet) -> list[RawTable]:
    """Every table of a file: one of a CSV file, one for each sheet of a workbook that holds anything.

    CSV: commas, semicolons, tabs or bars; UTF-8, UTF-16, cp1252 or Latin-1. Workbooks: XLSX and XLSM, whose macros are not
    looked at. Raises FileProblem (unreadable-file) for anything else, for more than 1,000 columns, 1,000,000 rows or
    32,767 letters in a cell, and for whatever is broken, with the row or line where that can be said.
    """
    data_start = _first_bytes(path)
    _refuse_other_kinds(path, data_start)
    if data_start.startswith((ZIP_MAGIC, b"PK\x05\x06")):
        from vault.exchange.tables_xlsx import read_workbook

        return read_workbook(path, progress)
    from vault.exchange.tables_csv import read_csv

    return [read_csv(path, progress)]


def _first_bytes(path: Path) -> bytes:
    try:
        with path.open("rb") as stream:
            return stream.peek(16)[:16] if stream.seekable() else b""
    except OSError as error:
        raise FileProblem(f"{path} cannot be read: {error.strerror}", "check the file's name and rights") from error


def _refuse_other_kinds(path: Path, start: bytes) -> None:
    if start.startswith(_COMPOUND):
        data = path.read_bytes()[:MOST_BYTES]
        if "EncryptedPackage".encode("utf-16-le") in data:
            raise FileProblem(f"{path.name} is a workbook behind a password", "take the password off and save it again")
        raise FileProblem(f"{path.name} is a workbook of the old kind (.xls) or another old document", SAVE_AS)
    for magic, called in _NO_TABLES:
        if start.startswith(magic):
            raise FileProblem(f"{path.name} is {called}, not a table", "give a CSV file or an XLSX workbook")
    if start.removeprefix(b"\xef\xbb\xbf").lstrip().lower().startswith(_MARKUP):
        raise FileProblem(f"{path.name} is a page or an XML document, not a CSV file or a workbook",
                          f"open it in a spreadsheet, {SAVE_AS}")
