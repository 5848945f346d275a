"""The columns of a stock list and how each of their cells is read."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable
from dataclasses import dataclass
from enum import IntEnum
from typing import Any

from vault.domain.counting import counted
from vault.domain.schema import Spec, from_words, words
from vault.exchange.assign import plain_of_text
from vault.exchange.plain import allowed_of

TAKE_AWAY = ("none", "-", "–", "—")  # what takes a value away: the word, or a dash as people and programs type it
EPOCH = datetime.date(1970, 1, 1)

_PRICE = re.compile(r"([0-9]{1,7})(?:[.,]([0-9]{1,2}))?")
_DAY_ALLOWED = "a day such as 2027-05-31"


def day_of(said: str) -> int | None:
    """Days since 1970-01-01 of a day written 2027-05-31; None where it is no such day."""
    try:
        return (datetime.date.fromisoformat(said) - EPOCH).days if len(said) == len("2027-05-31") else None
    except ValueError:
        return None


def counted_days(count: int) -> str:
    """ "1 day", "30 days"."""
    return counted(count, "day")


def counted_months(count: int) -> str:
    """ "1 month", "12 months"."""
    return counted(count, "month")


def day_words(day: int) -> str:
    """2027-05-31 for days since 1970-01-01."""
    return (EPOCH + datetime.timedelta(days=day)).isoformat()


def cents_of(said: str) -> int | None:
    """2450 for 24.50 or 24,50; None where it is no price."""
    found = _PRICE.fullmatch(said)
    return int(found[1]) * 100 + int((found[2] or "").ljust(2, "0")) if found else None


@dataclass(frozen=True, slots=True)
class Column:
    """A heading's field, and what reads its cell where that is not the field's own text form; `allowed` is for that."""

    field: str
    read: Callable[[str], Any] | None = None
    allowed: str = ""


LINE_COLUMNS = {
    "model": Column("model"), "quantity": Column("quantity"), "bin": Column("bin"), "serial": Column("serial"),
    "condition": Column("condition"), "made": Column("made_day", day_of, _DAY_ALLOWED),
}
TERMS_COLUMNS = {
    "item": Column("item"), "supplier": Column("supplier"), "price": Column("price_cents", cents_of, "a price such as 24.50"),
    "currency": Column("currency", lambda said: said.upper() if re.fullmatch("[A-Za-z]{3}", said) else None,
                       "three letters of ISO 4217, such as EUR"),
    "lead_days": Column("lead_days"), "pack": Column("order_multiple"), "importance": Column("importance"),
    "last_order": Column("last_order_day", day_of, _DAY_ALLOWED), "replaced_by": Column("replaced_by"),
    "count_days": Column("count_every_days"), "shelf_life_months": Column("shelf_life_months"),
}
COLUMNS = (*LINE_COLUMNS, *TERMS_COLUMNS)
_HEADING_OF = {column.field: heading for heading, column in TERMS_COLUMNS.items()}


def term_name(field: str) -> str:
    """What people call a field of the terms: its column's heading, read aloud."""
    return _HEADING_OF[field].replace("_", " ")


def term_words(field: str, value: Any) -> str:
    """A value of the terms as its cell is written; "none" for no value."""
    if value is None:
        return TAKE_AWAY[0]
    if field == "price_cents":
        return f"{value // 100}.{value % 100:02d}"
    return day_words(value) if field == "last_order_day" else words(value) if isinstance(value, IntEnum) else str(value)


def read_cell(column: Column, spec: Spec, said: str) -> tuple[Any, str]:
    """(value, "") of a cell, or (None, what is allowed)."""
    if column.read is not None:
        value = column.read(said)
        return value, column.allowed if value is None else ""
    if spec.shape == "choice":
        member = from_words(spec.kind, said.casefold().replace("_", "-").replace(" ", "-"))
        return member, "" if member is not None else allowed_of(spec)
    value = plain_of_text(column.field, spec, said)
    return (None, allowed_of(spec)) if spec.shape == "whole" and not isinstance(value, int) else (value, "")
