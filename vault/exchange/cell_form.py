"""How a workbook's number looks on screen, as far as that can be told simply: dates, leading zeros, per cent, units.

Number formats: ECMA-376 Part 1, 18.8.30 and 18.8.31.
"""

from __future__ import annotations

import datetime
import re
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from enum import Enum

from vault.exchange.raw_table import Oddity, Remark

_LITERAL = re.compile(r'"([^"]*)"|\\(.)|_.|\*.|\[[^\]]*\]')
_PLAIN = re.compile(r"(?P<before>[^0#?.,%]*)(?P<whole>General|[0#?,]*[0#?])(?P<comma>,*)(?:\.(?P<places>[0#?]*))?"
                    r"(?P<after>[^0#?.,]*)", re.IGNORECASE)


class Shown(Enum):
    """What a number format makes of a number."""

    NUMBER = "number"
    DATE = "date"
    TIME = "time"
    PERCENT = "per cent"
    TEXT = "text"
    OTHER = "other"


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """A number format that was understood. zeros: least digits before the point. places: fixed digits behind it, None
    where the format fixes none. before, after: texts that stand beside the number ("L-", " mA")."""

    shown: Shown
    zeros: int = 0
    places: int | None = None
    before: str = ""
    after: str = ""


def form_of(code: str) -> Form:
    """What a number format says. Only its part for positive numbers is looked at."""
    from openpyxl.styles.numbers import is_date_format

    if code == "@":
        return Form(shown=Shown.TEXT)
    if is_date_format(code):
        kind = Shown.DATE if re.search("[dy]", _LITERAL.sub("", code), re.I) else Shown.TIME
        return Form(shown=kind)
    literals: list[str] = []

    def put_by(found: re.Match[str]) -> str:
        literals.append(found[1] or found[2] or ("" if found[0][0] != "_" else " "))
        return chr(0xE000 + len(literals) - 1) if len(literals) < 6000 else ""

    first = _LITERAL.sub(put_by, code).split(";", 1)[0]
    read = _PLAIN.fullmatch(first)
    if read is None or read["comma"]:
        return Form(shown=Shown.OTHER)

    def put_back(text: str) -> str:
        return "".join(literals[ord(letter) - 0xE000] if 0xE000 <= ord(letter) < 0xE000 + len(literals) else letter
                       for letter in text)

    before, after = put_back(read["before"]), put_back(read["after"])
    if "%" in read["after"]:
        return Form(shown=Shown.PERCENT)
    if re.search("[A-Za-z/@]", re.sub("[\ue000-\uf8ff]", "", read["before"] + read["after"])):
        return Form(shown=Shown.OTHER)  # powers of ten, fractions
    places = read["places"]
    return Form(shown=Shown.NUMBER, zeros=0 if read["whole"].lower() == "general" else read["whole"].count("0"),
                places=len(places) if places and set(places) == {"0"} else None, before=before.lstrip(), after=after.rstrip())


def decimal_text(value: str) -> str | None:
    """A stored number in its shortest decimal form: "1.0500000000000003" is 1.05. None for what is no number."""
    if value.isdecimal():
        return value.lstrip("0") or "0"
    try:
        number = Decimal(value)
        if not number.is_finite() or abs(number.adjusted()) > 30:
            return None
        # A spreadsheet's numbers have 15 digits; the rest is how binary fractions end.
        said = format(Decimal(f"{number:.15g}"), "f")
    except (InvalidOperation, ValueError):
        return None
    said = said.rstrip("0").rstrip(".") if "." in said else said
    return "0" if said in ("-0", "") else said


def shown_number(value: str, form: Form, *, from_1904: bool) -> tuple[str, Remark | None]:
    """A stored number as text, with what there is to say about it."""
    text = decimal_text(value)
    if text is None:
        return value, Remark(oddity=Oddity.NUMBER, says="a number that cannot be read")
    if form.shown is Shown.PERCENT:
        return f"{decimal_text(str(Decimal(text) * 100))} %", None
    if form.shown in (Shown.DATE, Shown.TIME):
        return _moment(text, form.shown, from_1904)
    if form.shown is Shown.OTHER:
        return text, Remark(oddity=Oddity.NUMBER, says="a number that looks otherwise on screen")
    return _with_form(text, form)


def _with_form(text: str, form: Form) -> tuple[str, Remark | None]:
    whole, _, behind = text.partition(".")
    if not behind and form.zeros > len(whole) and not whole.startswith("-") and not form.places:
        text = whole.zfill(form.zeros)
    remark = None
    if form.places and len(behind) < form.places and not form.after:
        on_screen = f"{whole}.{behind.ljust(form.places, '0')}"
        remark = Remark(oddity=Oddity.NUMBER, says=f"shown as {on_screen}")
    # The program's own minus comes before what stands before the number.
    return (f"-{form.before}{text[1:]}" if text.startswith("-") else form.before + text) + form.after, remark


_MORNING = datetime.time(0)


def _moment(text: str, shown: Shown, from_1904: bool) -> tuple[str, Remark | None]:
    from openpyxl.utils.datetime import MAC_EPOCH, WINDOWS_EPOCH, from_excel

    number = float(text)
    if shown is Shown.TIME and number >= 0:
        minutes, seconds = divmod(round(number * 86_400), 60)
        said = f"{minutes // 60:02}:{minutes % 60:02}" + (f":{seconds:02}" if seconds else "")
        return said, Remark(oddity=Oddity.NUMBER, says="a time in the file")
    try:
        moment = from_excel(number, MAC_EPOCH if from_1904 else WINDOWS_EPOCH)
    except (ValueError, OverflowError):
        return text, Remark(oddity=Oddity.NUMBER, says="a date that there is not")
    if not isinstance(moment, datetime.datetime):
        return text, Remark(oddity=Oddity.NUMBER, says="a number that is shown as a date")
    said = moment.date().isoformat()
    if moment.time() != _MORNING:
        said = f"{said} {moment.time().isoformat('minutes' if not moment.second else 'seconds')}"
    return said, Remark(oddity=Oddity.DATE, says="a date in the file", date=moment.date())


def iso_moment(value: str) -> tuple[str, Remark | None]:
    """A cell that holds its date as ISO text (t="d")."""
    try:
        moment = datetime.datetime.fromisoformat(value)
    except ValueError:
        return value, None
    said = moment.date().isoformat() if moment.time() == _MORNING else moment.isoformat(" ")
    return said, Remark(oddity=Oddity.DATE, says="a date in the file", date=moment.date())
