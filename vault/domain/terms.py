"""What the store agreed about an item: who supplies it, at what price, how fast, how much it matters, until when it is made."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import ClassVar

from vault.domain.schema import choice, parts, text, whole


def shelf_life_days(months: int) -> int:
    """A shelf life in whole days, a year of 365."""
    return months * 365 // 12


class Item(IntEnum):
    """What an item of the store is."""

    DRIVER = 0
    BATTERY = 1
    OTHER = 2


class Importance(IntEnum):
    """How much it matters to have one (vital/essential/desirable; common practice). Emergency duty is vital."""

    VITAL = 0
    ESSENTIAL = 1
    DESIRABLE = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemTerms:
    """One item. model: a driver model of the catalogue, or the item's own name. price_cents: hundredths of `currency`
    (ISO 4217). lead_days: from order to receipt. order_multiple: pieces in a pack. last_order_day: when its maker takes
    the last order (end of life), days since 1970-01-01. count_every_days: its cycle count. shelf_life_months: of what ages.
    """

    FORM: ClassVar[str] = "map"
    model: str = text(1, 24, required=True)
    item: Item | None = choice(2, Item)
    supplier: str | None = text(3, 24)
    price_cents: int | None = whole(4, 0, 100_000_000)
    currency: str | None = text(5, 3)
    lead_days: int | None = whole(6, 0, 3650, "d")
    order_multiple: int | None = whole(7, 1, 100_000)
    importance: Importance | None = choice(8, Importance)
    last_order_day: int | None = whole(9, 0, 100_000, "d")
    replaced_by: str | None = text(10, 24)
    count_every_days: int | None = whole(11, 1, 3650, "d")
    shelf_life_months: int | None = whole(12, 1, 600)


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyTerms:
    """Terms of up to 500 items; of one item the newest statement counts whole, and an empty line takes its terms back."""

    FORM: ClassVar[str] = "map"
    time_s: int = whole(1, 0, 2**40, "s", required=True)
    main_size: int = whole(2, 1, 2**40, required=True)
    lines: tuple[ItemTerms, ...] = parts(3, ItemTerms, 500, least=1)
