"""A record: one signed, versioned statement of one luminaire's settings, and what may follow what."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import IntEnum
from typing import ClassVar

from vault.domain.rating import Essentials
from vault.domain.schema import Problem, choice, part, parts, raw, text, whole
from vault.domain.settings import Gear


class Reason(IntEnum):
    """Why this version was signed."""

    HANDOVER = 0
    CORRECTION = 1
    DRIVER_SWAP = 2
    MOVED = 3
    SETTINGS_CHANGED = 4
    CONFLICT_RESOLVED = 5
    RETIRED = 6


class Basis(IntEnum):
    """How the signer knows: a paper states it, a driver was read, an instrument measured it."""

    STATED = 0
    READ = 1
    MEASURED = 2


class Baseline(IntEnum):
    """What a left-out setting means."""

    NOT_RECORDED = 0
    RESET_VALUES = 1


class ChangeClass(IntEnum):
    """How far a replacement departs from the original."""

    LIKE_FOR_LIKE = 0
    APPROVED_EQUIVALENT = 1
    MODIFICATION = 2


# Left side may be followed by right side. A retired luminaire has no later version; its tag is never used again.
MAY_FOLLOW: Mapping[Reason | None, frozenset[Reason]] = {
    None: frozenset({Reason.HANDOVER}),
    **{r: frozenset(set(Reason) - {Reason.HANDOVER}) for r in Reason if r is not Reason.RETIRED},
    Reason.RETIRED: frozenset({Reason.CONFLICT_RESOLVED}),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class TypeRef:
    """The rating a record was made against: type code, revision, 8 bytes of the rating statement's digest."""

    FORM: ClassVar[str] = "array"
    code: str = text(1, 12, required=True)
    revision: int = whole(2, 1, 999, required=True)
    digest: bytes = raw(3, 8, 8, required=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenFrom:
    """The version of another vault's luminaire that this one was adopted from: log id, tag, version, 16 digest bytes."""

    FORM: ClassVar[str] = "array"
    log_id: bytes = raw(1, 16, 16, required=True)
    tag: bytes = raw(2, 5, 5, required=True)
    version: int = whole(3, 1, 100_000, required=True)
    digest: bytes = raw(4, 16, 16, required=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """One version of one luminaire.

    tag: 5 bytes (40 bits). predecessors: 16-byte digest prefixes joined, none for version 1. time_s: POSIX seconds,
    the signer's claim. open_stops: names of stop findings that still need a second signer (separated by
    spaces); a record with any is provisional until they are approved. taken_from: where an adopted luminaire comes from.
    """

    FORM: ClassVar[str] = "map"
    tag: bytes = raw(1, 5, 5, required=True)
    version: int = whole(2, 1, 100_000, required=True)
    predecessors: bytes | None = raw(3, 16, 128)
    fixture_type: TypeRef = part(4, TypeRef, required=True)
    essentials: Essentials = part(5, Essentials, required=True)
    time_s: int = whole(6, 0, 2**40, "s", required=True)
    reason: Reason = choice(7, Reason, required=True)
    basis: Basis = choice(8, Basis, required=True)
    baseline: Baseline = choice(9, Baseline, required=True)
    place: str = text(10, 40, required=True)
    line: str | None = text(11, 8)
    circuit: str | None = text(12, 8)
    reference: str | None = text(13, 24)
    gears: tuple[Gear, ...] = parts(14, Gear, 4, least=1)
    open_stops: str | None = text(15, 200)
    change_class: ChangeClass | None = choice(16, ChangeClass)
    note: str | None = text(17, 60)
    taken_from: TakenFrom | None = part(18, TakenFrom)

    @property
    def predecessor_prefixes(self) -> tuple[bytes, ...]:
        """The 16-byte digest prefixes one by one."""
        joined = self.predecessors or b""
        return tuple(joined[i : i + 16] for i in range(0, len(joined), 16))

    @property
    def open_stop_names(self) -> frozenset[str]:
        """Names of the stops that the signer left open."""
        return frozenset((self.open_stops or "").split())

    def further_problems(self, path: str) -> Iterator[Problem]:
        """Version 1 has no predecessor and every later one has some; prefixes are whole, different, in order."""
        prefixes, start = self.predecessor_prefixes, f"{path}." if path else ""
        if (self.version == 1) != (not prefixes):
            yield Problem(path=f"{start}predecessors", found=f"{len(prefixes)} for version {self.version}",
                          allowed="none for version 1, one or more for a later one")
        if any(len(p) != 16 for p in prefixes) or list(prefixes) != sorted(set(prefixes)):
            yield Problem(path=f"{start}predecessors", found="broken list", allowed="different 16-byte prefixes in order")
        if (self.version == 1) != (self.reason is Reason.HANDOVER):
            yield Problem(path=f"{start}reason", found=self.reason.name.lower(),
                          allowed="handover for version 1 and only there")


def heads(records: Iterable[tuple[bytes, Record]]) -> list[tuple[bytes, Record]]:
    """The (digest, record) pairs that no other record names as a predecessor. Two or more are a conflict."""
    known = list(records)
    named = {prefix for _, record in known for prefix in record.predecessor_prefixes}
    return [(digest, record) for digest, record in known if digest[:16] not in named]


def settings_differ(records: Iterable[Record]) -> bool:
    """Whether heads disagree in anything a driver is set to, or in where the luminaire is."""
    seen = {
        (record.line, tuple((gear.duty, gear.settings) for gear in record.gears), record.reason is Reason.RETIRED)
        for record in records
    }
    return len(seen) > 1
