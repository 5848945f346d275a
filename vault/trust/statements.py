"""The kinds of signed statement and their bodies (FORMAT.md, section Kinds)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum
from typing import Any, ClassVar

from vault.domain.driver import DriverModel
from vault.domain.rating import Rating
from vault.domain.record import ChangeClass, Record
from vault.domain.schema import choice, choices, flag, parts, raw, text, whole
from vault.domain.site import Circuit, Line
from vault.domain.stock import Movement

FORMAT_VERSION = 1


class Kind(IntEnum):
    """What a statement says. 14 is kept for the checkpoint of an estate of many vaults and refused by this version."""

    GENESIS = 1
    GRANT = 2
    WITHDRAWAL = 3
    RATING = 4
    DRIVER_MODEL = 5
    CIRCUIT = 6
    LINE = 7
    RECORD = 8
    APPROVAL = 9
    LABEL_ISSUE = 10
    STOCK_MOVEMENT = 11
    LABEL_PLACED = 12
    LABEL_WITHDRAWAL = 13
    LABEL_SIGHTING = 15
    RECOVERY = 16


class Role(IntEnum):
    """What a signer may sign for."""

    AUTHORITY = 0
    INSTALLER = 1
    TECHNICIAN = 2
    STORES = 3
    APPROVER = 4


# Who may sign what. A signer holds one role or more; the genesis key is the first authority.
MAY_SIGN: Mapping[Role, frozenset[Kind]] = {
    Role.AUTHORITY: frozenset({Kind.GENESIS, Kind.GRANT, Kind.WITHDRAWAL, Kind.RATING, Kind.DRIVER_MODEL,
                               Kind.CIRCUIT, Kind.LINE, Kind.APPROVAL, Kind.LABEL_WITHDRAWAL, Kind.RECOVERY}),
    Role.INSTALLER: frozenset({Kind.CIRCUIT, Kind.LINE, Kind.RECORD, Kind.LABEL_ISSUE, Kind.LABEL_PLACED,
                               Kind.LABEL_WITHDRAWAL, Kind.LABEL_SIGHTING}),
    Role.TECHNICIAN: frozenset({Kind.RECORD, Kind.LABEL_ISSUE, Kind.LABEL_PLACED, Kind.LABEL_WITHDRAWAL,
                                Kind.LABEL_SIGHTING, Kind.STOCK_MOVEMENT}),
    Role.STORES: frozenset({Kind.DRIVER_MODEL, Kind.STOCK_MOVEMENT, Kind.LABEL_ISSUE}),
    Role.APPROVER: frozenset({Kind.APPROVAL, Kind.RATING, Kind.DRIVER_MODEL}),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Genesis:
    """The first statement of a vault. recovery_keys: m public keys joined, of which recovery_needed must agree."""

    FORM: ClassVar[str] = "map"
    log_id: bytes = raw(1, 16, 16, required=True)
    stock_log_id: bytes = raw(2, 16, 16, required=True)
    authority_key: bytes = raw(3, 32, 32, required=True)
    checkpoint_key: bytes = raw(4, 32, 32, required=True)
    recovery_keys: bytes = raw(5, 32, 512, required=True)
    recovery_needed: int = whole(6, 1, 16, required=True)
    host: str = text(7, 30, required=True)
    site: str = text(8, 60, required=True)
    time_s: int = whole(9, 0, 2**40, "s", required=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Grant:
    """A public key gets roles. code: short name of the signer that stands on labels; no person's name."""

    FORM: ClassVar[str] = "map"
    public_key: bytes = raw(1, 32, 32, required=True)
    roles: frozenset[Role] = choices(2, Role, required=True)
    code: str = text(3, 8, required=True)
    time_s: int = whole(4, 0, 2**40, "s", required=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Withdrawal:
    """From this place in the journal on, the key signs nothing that counts."""

    FORM: ClassVar[str] = "map"
    key_id: bytes = raw(1, 8, 8, required=True)
    time_s: int = whole(2, 0, 2**40, "s", required=True)
    reason: str = text(3, 60, required=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Approval:
    """A second signer accepts the named findings of one record. accepts: rule names separated by spaces."""

    FORM: ClassVar[str] = "map"
    record_digest: bytes = raw(1, 32, 32, required=True)
    accepts: str = text(2, 200, required=True)
    change_class: ChangeClass = choice(3, ChangeClass, required=True)
    because: str = text(4, 120, required=True)
    time_s: int = whole(5, 0, 2**40, "s", required=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class IssuedLabel:
    """One printed label: whose, of which record (8 digest bytes), which copy, and whether it carries the settings."""

    FORM: ClassVar[str] = "array"
    tag: bytes = raw(1, 5, 5, required=True)
    record_digest: bytes = raw(2, 8, 8, required=True)
    copy: int = whole(3, 1, 9999, required=True)
    carries_settings: bool = flag(4)


class IssueReason(IntEnum):
    """Why a label was printed: the first of its version, another copy beside those that stand, or one in their place."""

    FIRST = 0
    REPRINT = 1
    REPLACEMENT = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelIssue:
    """Up to 500 labels printed in one go. why: left out where nobody said."""

    FORM: ClassVar[str] = "map"
    time_s: int = whole(1, 0, 2**40, "s", required=True)
    medium: str = text(2, 24, required=True)
    labels: tuple[IssuedLabel, ...] = parts(3, IssuedLabel, 500, least=1)
    why: IssueReason | None = choice(4, IssueReason)


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelCopy:
    """One copy of one luminaire's label."""

    FORM: ClassVar[str] = "array"
    tag: bytes = raw(1, 5, 5, required=True)
    copy: int = whole(2, 1, 9999, required=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelPlaced:
    """Somebody saw these labels on their housings."""

    FORM: ClassVar[str] = "map"
    time_s: int = whole(1, 0, 2**40, "s", required=True)
    labels: tuple[LabelCopy, ...] = parts(2, LabelCopy, 500, least=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelWithdrawal:
    """These labels no longer count."""

    FORM: ClassVar[str] = "map"
    time_s: int = whole(1, 0, 2**40, "s", required=True)
    reason: str = text(2, 60, required=True)
    labels: tuple[LabelCopy, ...] = parts(3, LabelCopy, 500, least=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenLabel:
    """One label where somebody found it. copy, record_digest (8 bytes): as far as the label told them."""

    FORM: ClassVar[str] = "array"
    tag: bytes = raw(1, 5, 5, required=True)
    place: str = text(2, 40, required=True)
    copy: int | None = whole(3, 1, 9999)
    record_digest: bytes | None = raw(4, 8, 8)


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelSighting:
    """Labels that were found elsewhere than their records say."""

    FORM: ClassVar[str] = "map"
    time_s: int = whole(1, 0, 2**40, "s", required=True)
    labels: tuple[SeenLabel, ...] = parts(2, SeenLabel, 500, least=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Recovery:
    """The authority accepts records that came back from labels, without what stood before them in a lost journal.

    digests: 32 bytes for each record, joined.
    """

    FORM: ClassVar[str] = "map"
    time_s: int = whole(1, 0, 2**40, "s", required=True)
    digests: bytes = raw(2, 32, 16_000, required=True)


BODY: Mapping[Kind, type[Any]] = {
    Kind.GENESIS: Genesis, Kind.GRANT: Grant, Kind.WITHDRAWAL: Withdrawal, Kind.RATING: Rating,
    Kind.DRIVER_MODEL: DriverModel, Kind.CIRCUIT: Circuit, Kind.LINE: Line, Kind.RECORD: Record,
    Kind.APPROVAL: Approval, Kind.LABEL_ISSUE: LabelIssue, Kind.STOCK_MOVEMENT: Movement,
    Kind.LABEL_PLACED: LabelPlaced, Kind.LABEL_WITHDRAWAL: LabelWithdrawal,
    Kind.LABEL_SIGHTING: LabelSighting, Kind.RECOVERY: Recovery,
}
