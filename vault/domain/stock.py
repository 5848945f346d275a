"""Movements of stock. A count that differs is a movement with a reason, never an edit."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import IntEnum
from typing import ClassVar

from vault.domain.schema import Problem, choice, parts, raw, text, whole


class Act(IntEnum):
    """What happened to the stock."""

    RECEIPT = 0
    ISSUE = 1
    RETURN = 2
    COUNT = 3
    SCRAP = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class MovementLine:
    """One line of a movement. quantity: pieces moved; for a count, the pieces found in that bin."""

    FORM: ClassVar[str] = "map"
    model: str = text(1, 24, required=True)
    quantity: int = whole(2, 0, 1_000_000, required=True)
    bin: str | None = text(3, 16)
    serial: str | None = text(4, 24)
    tag: bytes | None = raw(5, 5, 5)


@dataclass(frozen=True, slots=True, kw_only=True)
class Movement:
    """Up to 500 lines of one act in one store.

    main_size: size of the main journal that the signer saw; it never falls from one movement to the next, so that a
    withdrawn signer cannot sign as if before the withdrawal (FORMAT.md).
    """

    FORM: ClassVar[str] = "map"
    act: Act = choice(1, Act, required=True)
    store: str = text(2, 16, required=True)
    time_s: int = whole(3, 0, 2**40, "s", required=True)
    main_size: int = whole(4, 1, 2**40, required=True)
    lines: tuple[MovementLine, ...] = parts(5, MovementLine, 500, least=1)
    reason: str | None = text(6, 60)
    order: str | None = text(7, 24)

    def further_problems(self, path: str) -> Iterator[Problem]:
        """Only a count may say nought; a scrap and a count say why."""
        start = f"{path}." if path else ""
        for number, line in enumerate(self.lines, 1):
            if line.quantity == 0 and self.act is not Act.COUNT:
                yield Problem(path=f"{start}lines.{number}.quantity", found="0", allowed="1 or more; only a count may say 0")
        if self.act in (Act.SCRAP, Act.COUNT) and self.reason is None:
            yield Problem(path=f"{start}reason", found="nothing", allowed="why, in a few words")


SIGN: dict[Act, int] = {Act.RECEIPT: 1, Act.RETURN: 1, Act.ISSUE: -1, Act.SCRAP: -1}
