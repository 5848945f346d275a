"""Movements of stock. A count that differs is a movement with a reason, never an edit."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import IntEnum
from typing import ClassVar, Protocol

from vault.domain.schema import Problem, choice, parts, raw, text, whole


class Act(IntEnum):
    """What happened to the stock.

    A returned spare needs a reset until it is CHECKED. A TRANSFER goes from `store` to `to_store` in one statement. A
    RESERVE keeps pieces for a planned swap until they are issued to that luminaire or RELEASEd. An ORDER is what will
    come; a RECEIPT that names the order takes it off again, and so does a CANCEL.
    """

    RECEIPT = 0
    ISSUE = 1
    RETURN = 2
    COUNT = 3
    SCRAP = 4
    TRANSFER = 5
    RESERVE = 6
    RELEASE = 7
    ORDER = 8
    CANCEL = 9
    CHECKED = 10


class Stream(IntEnum):
    """Where scrapped pieces went (separate streams: common practice, no source)."""

    ELECTRONICS = 0
    BATTERY = 1
    LAMP = 2
    METAL = 3


class Condition(IntEnum):
    """Whether a piece may be issued."""

    GOOD = 0
    NEEDS_RESET = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class MovementLine:
    """One line of a movement. quantity: pieces moved; for a count, the pieces found in that bin in that condition.

    condition: left out means good; a RETURN names it, as what comes back mostly needs a reset. made_day: days since
    1970-01-01 when it was made, of what ages on the shelf (batteries). to_bin: of a transfer, where it comes to lie.
    """

    FORM: ClassVar[str] = "map"
    model: str = text(1, 24, required=True)
    quantity: int = whole(2, 0, 1_000_000, required=True)
    bin: str | None = text(3, 16)
    serial: str | None = text(4, 24)
    tag: bytes | None = raw(5, 5, 5)
    condition: Condition | None = choice(6, Condition)
    made_day: int | None = whole(7, 0, 100_000, "d")
    to_bin: str | None = text(8, 16)


class LineLike(Protocol):
    """A line as a statement says it, or as the index gives it."""

    @property
    def model(self) -> str: ...
    @property
    def bin(self) -> str | None: ...
    @property
    def serial(self) -> str | None: ...
    @property
    def condition(self) -> int | None: ...
    @property
    def made_day(self) -> int | None: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Movement:
    """Up to 500 lines of one act in one store.

    main_size: size of the main journal that the signer saw; it never falls from one movement to the next, so that a
    withdrawn signer cannot sign as if before the withdrawal (FORMAT.md). order: the order's number (in older
    receipts also the delivery note). delivery: of a receipt, its delivery note. to_store: of a
    transfer alone. due_day: of an order, days since 1970-01-01. supplier: of an order or receipt. stream: of a scrap.
    """

    FORM: ClassVar[str] = "map"
    act: Act = choice(1, Act, required=True)
    store: str = text(2, 16, required=True)
    time_s: int = whole(3, 0, 2**40, "s", required=True)
    main_size: int = whole(4, 1, 2**40, required=True)
    lines: tuple[MovementLine, ...] = parts(5, MovementLine, 500, least=1)
    reason: str | None = text(6, 60)
    order: str | None = text(7, 24)
    to_store: str | None = text(8, 16)
    due_day: int | None = whole(9, 0, 100_000, "d")
    supplier: str | None = text(10, 24)
    stream: Stream | None = choice(11, Stream)
    delivery: str | None = text(12, 24)

    def further_problems(self, path: str) -> Iterator[Problem]:
        """Only a count may say nought; a scrap and a count say why; a transfer alone, and always, says where to."""
        start = f"{path}." if path else ""
        for number, line in enumerate(self.lines, 1):
            if line.quantity == 0 and self.act is not Act.COUNT:
                yield Problem(path=f"{start}lines.{number}.quantity", found="0", allowed="1 or more; only a count may say 0")
            if self.act in (Act.RESERVE, Act.RELEASE) and line.tag is None:
                yield Problem(path=f"{start}lines.{number}.tag", found="nothing", allowed="the luminaire that it is kept for")
        if self.act in (Act.SCRAP, Act.COUNT) and self.reason is None:
            yield Problem(path=f"{start}reason", found="nothing", allowed="why, in a few words")
        if (self.act is Act.TRANSFER) != (self.to_store is not None):
            yield Problem(path=f"{start}to_store", found=repr(self.to_store), allowed="a store, of a transfer alone")
        for number, line in enumerate(self.lines, 1):
            if line.to_bin is not None and self.act is not Act.TRANSFER:
                yield Problem(path=f"{start}lines.{number}.to_bin", found=repr(line.to_bin), allowed="a bin, of a transfer alone")
            if self.to_store == self.store and line.to_bin in (None, line.bin):
                yield Problem(path=f"{start}lines.{number}.to_bin", found=repr(line.to_bin),
                              allowed="another bin of the same store")
        if self.delivery is not None and self.act is not Act.RECEIPT:
            yield Problem(path=f"{start}delivery", found=repr(self.delivery), allowed="a delivery note, of a receipt alone")
        if self.stream is not None and self.act is not Act.SCRAP:
            yield Problem(path=f"{start}stream", found=self.stream.name.lower(), allowed="a waste stream, of a scrap alone")
        if self.act in (Act.ORDER, Act.CANCEL) and self.order is None:
            yield Problem(path=f"{start}order", found="nothing", allowed="the order's number")
        if (self.act is Act.ORDER) != (self.due_day is not None):
            yield Problem(path=f"{start}due_day", found=repr(self.due_day), allowed="a day, of an order alone")


def line_key(line: LineLike) -> tuple[object, ...]:
    """What tells the lines of one list or delivery apart: everything but how many."""
    return line.model, line.bin, line.serial, line.condition, line.made_day
