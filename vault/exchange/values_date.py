"""Dates where a room, a circuit or a figure was typed: a spreadsheet made 03-Jan of 3.01, 1.03 or 3/1."""

from __future__ import annotations

import calendar
import datetime
import re
from collections.abc import Mapping
from dataclasses import dataclass

from vault.exchange.cell_reading import ColumnFacts
from vault.exchange.raw_table import Oddity, Remark
from vault.exchange.values_parts import Option, decide

DATES = "dates"
# Short and long names of the months, in the order en, de, fr, it, es, nl; casefolded.
_MONTHS: tuple[str, ...] = (
    "jan january januar jänner janv janvier gen gennaio ene enero januari",
    "feb february februar févr fevr février febbraio febrero februari",
    "mar march mrz mär märz mars marzo mrt maart",
    "apr april avr avril aprile abr abril",
    "may mai mag maggio mayo mei",
    "jun june juni juin giu giugno junio",
    "jul july juli juil juillet lug luglio julio",
    "aug august août aout ago agosto augustus",
    "sep sept september septembre set sett settembre septiembre",
    "oct october okt oktober octobre ott ottobre octubre",
    "nov november novembre noviembre",
    "dec december dez dezember déc décembre dic dicembre diciembre")
_MONTH_OF: Mapping[str, int] = {name: number for number, names in enumerate(_MONTHS, 1) for name in names.split()}
_NAME = r"(?P<month>[^\W\d_]{3,10})\.?"
_DAY_FIRST = re.compile(rf"(?P<number>[0-9]{{1,2}})(?:\. ?|[-/] ?){_NAME}(?:[-/. ]+(?:[0-9]{{2}}|[0-9]{{4}}))?")
_MONTH_FIRST = re.compile(rf"{_NAME}[-/ ] ?(?P<number>[0-9]{{1,2}})")
_ISO = re.compile(r"([0-9]{4})-([0-9]{2})-([0-9]{2})(?:[ T]00:00(?::00)?)?")

# D and M: number and month as they are, MM and DD: with a zero in front where one is missing.
_FORMS: Mapping[str, str] = {
    "D.MM": "{d}.{m:02}", "M.DD": "{m}.{d:02}", "D.M": "{d}.{m}", "M.D": "{m}.{d}",
    "D/M": "{d}/{m}", "M/D": "{m}/{d}", "D-M": "{d}-{m}", "M-D": "{m}-{d}"}
_POINTS = ("D.MM", "M.DD", "D.M", "M.D")
_RANGES = ("D-M", "M-D")
# Which forms are offered first, by what a field holds; the survey narrows them by the column's other cells.
_OFFERED: Mapping[str, tuple[str, ...]] = {
    **dict.fromkeys(("reference", "type", "place", "building", "floor", "room", "grid", "board", "line", "circuit",
                     "central_circuit"), tuple(_FORMS)),
    **dict.fromkeys(("central", "groups", "line_address"), ("D/M", "M/D", "D.M", "M.D", "D-M", "M-D")),
    **dict.fromkeys(("limits", "voltage_window"), _RANGES)}
_FIGURES = re.compile(r"(?:current|power|voltage)(?:_(?:min|max))?(?:_[234])?_(?:ma|v|w)|"
                      r"emergency_(?:level_percent|current_ma|power_w)|dc_level_percent|(?:min|max|power_on|system_failure)_level|scene_[0-9]+|address")


@dataclass(frozen=True, slots=True, kw_only=True)
class Dated:
    """The two numbers in a date. number: its day, or the year's last two digits where a spreadsheet took it for one."""

    number: int
    month: int

    def as_typed(self, form: str) -> str:
        return _FORMS[form].format(d=self.number, m=self.month)


def date_in(plain: str, remark: Remark | None) -> Dated | None:
    """The date that a cell is, None where it is none."""
    if remark is not None and remark.oddity is Oddity.DATE and remark.date is not None:
        return _of_date(remark.date)
    iso = _ISO.fullmatch(plain)
    if iso:
        try:
            return _of_date(datetime.date(int(iso[1]), int(iso[2]), int(iso[3])))
        except ValueError:
            return None
    found = _DAY_FIRST.fullmatch(plain) or _MONTH_FIRST.fullmatch(plain)
    month = _MONTH_OF.get(found["month"].casefold()) if found else None
    return Dated(number=int(found["number"]), month=month) if found and month else None


def _of_date(date: datetime.date) -> Dated:
    # 4/45 has no day 45, so that a spreadsheet makes it April 1945.
    year = date.year % 100
    days = calendar.monthrange(date.year, date.month)[1]
    return Dated(number=year if date.day == 1 and year > days else date.day, month=date.month)


def offered(field: str) -> tuple[str, ...]:
    """The forms in which a field may have been typed, () for a field in which no date is expected."""
    return _OFFERED.get(field) or (_POINTS if _FIGURES.fullmatch(field) else ())


def as_typed(plain: str, dated: Dated, facts: ColumnFacts) -> str:
    """What was typed before the spreadsheet made a date of it, as answered for the column. Raises Ask (Unclear)."""
    options = [Option(word=form, says=f"{plain} is {dated.as_typed(form)}, {_ORDER[form[0]]}") for form in offered(facts.field)]
    picked = decide(facts, DATES, f"A spreadsheet has made a date of what was typed, {plain}. What was it?", options)
    return dated.as_typed(picked.word)


_ORDER = {"D": "the day first", "M": "the month first"}
