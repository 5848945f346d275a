"""The kinds of signed statement and their bodies (FORMAT.md, section Kinds)."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import IntEnum
from typing import Any, ClassVar

from vault.domain.driver import DriverModel
from vault.domain.rating import Rating
from vault.domain.record import ChangeClass, Record
from vault.domain.schema import Problem, choice, choices, flag, parts, raw, text, whole
from vault.domain.site import Circuit, Line
from vault.domain.stock import Movement
from vault.domain.terms import SupplyTerms
from vault.trust.takeover import TakeOver

FORMAT_VERSION = 1


class Kind(IntEnum):
    """What a statement says. 14 is the checkpoint of an estate, which stands in no journal (vault/trust/estate.py); 18 is kept
    (FORMAT.md, section Algorithm agility).
    """

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
    APPOINTMENT = 17
    TAKE_OVER = 19
    SUPPLY_TERMS = 20


# What stands in the stock log, and nowhere else.
STOCK_KINDS = frozenset({Kind.STOCK_MOVEMENT, Kind.SUPPLY_TERMS})


class Role(IntEnum):
    """What a signer may sign for."""

    AUTHORITY = 0
    INSTALLER = 1
    TECHNICIAN = 2
    STORES = 3
    APPROVER = 4


# Who may sign what. A signer holds one role or more; the genesis key is the first authority. An appointment is signed by
# the key that it appoints, which holds no role before it.
MAY_SIGN: Mapping[Role, frozenset[Kind]] = {
    Role.AUTHORITY: frozenset({Kind.GENESIS, Kind.GRANT, Kind.WITHDRAWAL, Kind.RATING, Kind.DRIVER_MODEL,
                               Kind.CIRCUIT, Kind.LINE, Kind.APPROVAL, Kind.LABEL_WITHDRAWAL, Kind.RECOVERY, Kind.TAKE_OVER}),
    Role.INSTALLER: frozenset({Kind.CIRCUIT, Kind.LINE, Kind.RECORD, Kind.LABEL_ISSUE, Kind.LABEL_PLACED,
                               Kind.LABEL_WITHDRAWAL, Kind.LABEL_SIGHTING}),
    Role.TECHNICIAN: frozenset({Kind.RECORD, Kind.LABEL_ISSUE, Kind.LABEL_PLACED, Kind.LABEL_WITHDRAWAL,
                                Kind.LABEL_SIGHTING, Kind.STOCK_MOVEMENT}),
    Role.STORES: frozenset({Kind.DRIVER_MODEL, Kind.STOCK_MOVEMENT, Kind.SUPPLY_TERMS, Kind.LABEL_ISSUE}),
    Role.APPROVER: frozenset({Kind.APPROVAL, Kind.RATING, Kind.DRIVER_MODEL}),
}


def _at(path: str, name: str) -> str:
    return f"{path}.{name}" if path else name


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
    """A public key gets roles. code: short name of the signer that stands on labels; no person's name.

    until_s: the last second at which the key signs; left out where it signs until it is withdrawn.
    """

    FORM: ClassVar[str] = "map"
    public_key: bytes = raw(1, 32, 32, required=True)
    roles: frozenset[Role] = choices(2, Role, required=True)
    code: str = text(3, 8, required=True)
    time_s: int = whole(4, 0, 2**40, "s", required=True)
    until_s: int | None = whole(5, 0, 2**40, "s")

    def further_problems(self, path: str) -> Iterator[Problem]:
        """A grant that ends before it begins grants nothing."""
        if self.until_s is not None and self.until_s < self.time_s:
            yield Problem(path=_at(path, "until_s"), found=str(self.until_s), allowed=f"{self.time_s} (time_s) or later")


@dataclass(frozen=True, slots=True, kw_only=True)
class Withdrawal:
    """From this place in the journal on, the key signs nothing that counts.

    trusted_until: the last entry of the main journal that is trusted, where the key was in wrong hands before;
    trusted_digest: the first 8 bytes of that entry's digest, so that the place means the same history.
    """

    FORM: ClassVar[str] = "map"
    key_id: bytes = raw(1, 8, 8, required=True)
    time_s: int = whole(2, 0, 2**40, "s", required=True)
    reason: str = text(3, 60, required=True)
    trusted_until: int | None = whole(4, 0, 2**40)
    trusted_digest: bytes | None = raw(5, 8, 8)

    def further_problems(self, path: str) -> Iterator[Problem]:
        """A place and what stands there go together."""
        if (self.trusted_until is None) != (self.trusted_digest is None):
            yield Problem(path=_at(path, "trusted_digest"), found="one without the other", allowed="with trusted_until alone")


@dataclass(frozen=True, slots=True, kw_only=True)
class Endorsement:
    """One recovery key agrees. recovery_key: its number in the genesis, from 1; signature: Ed25519, 64 bytes."""

    FORM: ClassVar[str] = "array"
    recovery_key: int = whole(1, 1, 16, required=True)
    signature: bytes = raw(2, 64, 64, required=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Appointment:
    """Recovery keys make a new key an authority, without the old one. Signed by the new key itself.

    number: 1 for the vault's first appointment, then one more each. ends_others: every other authority ends here.
    """

    FORM: ClassVar[str] = "map"
    public_key: bytes = raw(1, 32, 32, required=True)
    code: str = text(2, 8, required=True)
    number: int = whole(3, 1, 1000, required=True)
    time_s: int = whole(4, 0, 2**40, "s", required=True)
    ends_others: bool | None = flag(5)
    endorsements: tuple[Endorsement, ...] = parts(6, Endorsement, 16, least=1)

    def further_problems(self, path: str) -> Iterator[Problem]:
        """Endorsements stand in the order of their keys, each key once."""
        numbers = [one.recovery_key for one in self.endorsements if isinstance(one, Endorsement)]
        if numbers != sorted(set(numbers)):
            yield Problem(path=_at(path, "endorsements"), found=f"recovery keys {numbers}",
                          allowed="different keys in ascending order")


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
    """One label where somebody found it. copy, record_digest (8 bytes): as far as the label told them.

    type_code: of what type the housing is that bears it. on_housing: whether it hangs on a housing or lies loose.
    """

    FORM: ClassVar[str] = "array"
    tag: bytes = raw(1, 5, 5, required=True)
    place: str = text(2, 40, required=True)
    copy: int | None = whole(3, 1, 9999)
    record_digest: bytes | None = raw(4, 8, 8)
    type_code: str | None = text(5, 12)
    on_housing: bool | None = flag(6)

    def further_problems(self, path: str) -> Iterator[Problem]:
        """What lies loose is on no housing of any type."""
        if self.type_code is not None and self.on_housing is False:
            yield Problem(path=_at(path, "type_code"), found=self.type_code, allowed="no type of a label that lies loose")


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelSighting:
    """Labels that were found elsewhere than their records say, or on a housing of another type."""

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
    Kind.LABEL_SIGHTING: LabelSighting, Kind.RECOVERY: Recovery, Kind.APPOINTMENT: Appointment,
    Kind.TAKE_OVER: TakeOver, Kind.SUPPLY_TERMS: SupplyTerms,
}
