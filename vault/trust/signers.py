"""Who may sign what, at which place in the journal."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime

from vault.errors import VerificationError
from vault.trust.keys import key_id
from vault.trust.statements import MAY_SIGN, Appointment, Genesis, Grant, Kind, Role, Withdrawal

# Answers with the digest of the entry at a place of the main journal, or None where there is none.
DigestAt = Callable[[int], bytes | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Signer:
    """A key with its roles. granted_at: its grant's place in the main journal; withdrawn_at: where it ended.

    until_s: the last second at which it signs, None without expiry. granted_by: key id of whoever signed the grant.
    """

    key_id: bytes
    public_key: bytes
    code: str
    roles: frozenset[Role]
    granted_at: int
    withdrawn_at: int | None = None
    until_s: int | None = None
    granted_by: bytes | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """Why an entry is not trusted: a withdrawal says that its key, or the key that granted it, was in wrong hands.

    withdrawn_at: the withdrawal's place. trusted_until: the last trusted entry, None where this journal does not hold it.
    """

    code: str
    key_id: bytes
    withdrawn_at: int
    trusted_until: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Limit:
    at: int
    trusted_until: int
    trusted_digest: bytes


@dataclass(slots=True)
class Signers:
    """The signers of one vault, built by feeding it verified statements in the order of the main journal."""

    recovery_keys: tuple[bytes, ...] = ()
    recovery_needed: int = 1
    checkpoint_key: bytes = b""
    _by_key: dict[bytes, list[Signer]] = field(default_factory=dict)
    _limits: dict[bytes, list[_Limit]] = field(default_factory=dict)
    _appointed_at: list[int] = field(default_factory=list)
    # Places and times of statements about signers: an authority's word on how late it is.
    _clock_places: list[int] = field(default_factory=list)
    _clock_times: list[int] = field(default_factory=list)

    def found(self, genesis: Genesis) -> None:
        """The genesis key is the first authority."""
        first = Signer(key_id=key_id(genesis.authority_key), public_key=genesis.authority_key, code="AUTH",
                       roles=frozenset({Role.AUTHORITY}), granted_at=0)
        self._by_key[first.key_id] = [first]
        joined = genesis.recovery_keys
        self.recovery_keys = tuple(joined[start : start + 32] for start in range(0, len(joined), 32))
        self.recovery_needed, self.checkpoint_key = genesis.recovery_needed, genesis.checkpoint_key

    def grant(self, grant: Grant, at: int, by: bytes | None = None) -> None:
        """A later grant to the same key replaces its roles from there on."""
        self._begin(Signer(key_id=key_id(grant.public_key), public_key=grant.public_key, code=grant.code, roles=grant.roles,
                           granted_at=at, until_s=grant.until_s, granted_by=by))

    def appoint(self, appointment: Appointment, at: int) -> None:
        """The key is an authority from there on; where the appointment says so, no other key is one any more."""
        if appointment.ends_others:
            for terms in self._by_key.values():
                if terms[-1].withdrawn_at is None and Role.AUTHORITY in terms[-1].roles:
                    terms[-1] = replace(terms[-1], withdrawn_at=at)
        self._begin(Signer(key_id=key_id(appointment.public_key), public_key=appointment.public_key, code=appointment.code,
                           roles=frozenset({Role.AUTHORITY}), granted_at=at))
        self._appointed_at.append(at)

    def _begin(self, term: Signer) -> None:
        terms = self._by_key.setdefault(term.key_id, [])
        if terms and terms[-1].withdrawn_at is None:
            terms[-1] = replace(terms[-1], withdrawn_at=term.granted_at)
        terms.append(term)

    def withdraw(self, withdrawal: Withdrawal, at: int) -> None:
        """Nothing that the key signs after `at` counts, and what it signed behind `trusted_until` is in doubt."""
        terms = self._by_key.get(withdrawal.key_id)
        if terms and terms[-1].withdrawn_at is None:
            terms[-1] = replace(terms[-1], withdrawn_at=at)
        if withdrawal.trusted_until is not None and withdrawal.trusted_digest is not None:
            self._limits.setdefault(withdrawal.key_id, []).append(_Limit(
                at=at, trusted_until=withdrawal.trusted_until, trusted_digest=withdrawal.trusted_digest))

    def feed(self, body: object, at: int, by: bytes | None = None) -> None:
        """Take in a verified statement body; those that concern no signer change nothing. by: key id of its signer."""
        if isinstance(body, Genesis):
            self.found(body)
        elif isinstance(body, Grant):
            self.grant(body, at, by)
        elif isinstance(body, Withdrawal):
            self.withdraw(body, at)
        elif isinstance(body, Appointment):
            self.appoint(body, at)
        else:
            return
        self._clock_places.append(at)
        self._clock_times.append(body.time_s)

    def everyone(self) -> list[Signer]:
        """The last term of every signer, by the order in which they were granted."""
        return sorted((terms[-1] for terms in self._by_key.values()), key=lambda s: (s.granted_at, s.key_id))

    def latest(self, ident: bytes) -> Signer | None:
        """The last term of a key, or None if it was never granted."""
        terms = self._by_key.get(ident)
        return terms[-1] if terms else None

    def terms(self, ident: bytes) -> tuple[Signer, ...]:
        """Every term of a key, oldest first."""
        return tuple(self._by_key.get(ident, ()))

    def appointments_before(self, place: int) -> int:
        """How many appointments stand before a place."""
        return sum(at < place for at in self._appointed_at)

    def known_before(self, ident: bytes, place: int) -> bool:
        """Whether a key held a role anywhere before a place."""
        return any(term.granted_at < place for term in self._by_key.get(ident, []))

    def clock_between(self, after: int, before: int) -> int:
        """The latest time that statements about signers between two places name; 0 without any.

        Only those behind a grant count for it, so that a date far ahead, by mistake or malice, ends no later grant.
        """
        first, end = bisect_right(self._clock_places, after), bisect_left(self._clock_places, before)
        return max(self._clock_times[first:end], default=0)

    def at(self, ident: bytes, place: int) -> Signer:
        """The term of a key that covers a place in the main journal.

        Raises VerificationError: unknown-signer when it was not granted before that place, withdrawn-signer when it
        had ended.
        """
        terms = [term for term in self._by_key.get(ident, []) if term.granted_at <= place]
        if not terms:
            raise VerificationError(
                f"The signer {ident.hex()} is not on the vault's list at entry {place}.", kind="unknown-signer",
                hint="Ask whoever runs the vault for the signer's grant; show no figures from it until then.")
        last = terms[-1]
        if last.withdrawn_at is not None and last.withdrawn_at <= place:
            raise VerificationError(
                f"The signer {last.code} was withdrawn at entry {last.withdrawn_at}, before entry {place}.",
                kind="withdrawn-signer", hint="Have a valid signer check the luminaire and sign a new version.")
        return last

    @property
    def any_doubt(self) -> bool:
        """Whether a withdrawal names a last trusted entry; without one no entry is in doubt."""
        return bool(self._limits)

    def suspects(self) -> frozenset[bytes]:
        """The keys of whose entries some may be in doubt: those that a withdrawal limits, and all that they granted to."""
        found = set(self._limits)
        while True:
            more = {ident for ident, terms in self._by_key.items() if any(term.granted_by in found for term in terms)} - found
            if not more:
                return frozenset(found)
            found |= more

    def doubt(self, ident: bytes, place: int, digest_at: DigestAt, *, behind: bool = False) -> Doubt | None:
        """Why what the key signed at a place of the main journal is not trusted, or None. behind: what stands just behind that
        entry, as statements of the stock journal do, which that entry itself may have granted.

        Where the journal does not hold the entry that the withdrawal calls the last trusted one (a vault made anew from
        labels), nothing that the key signed before the withdrawal is trusted.
        """
        terms = [term for term in self._by_key.get(ident, []) if term.granted_at < place + behind or term.granted_at == 0]
        code = terms[-1].code if terms else ident.hex()
        for limit in self._limits.get(ident, []):
            held = digest_at(limit.trusted_until) if limit.trusted_until < limit.at else None
            same = held is not None and held[:8] == limit.trusted_digest
            if place < limit.at and (not same or place > limit.trusted_until):
                return Doubt(code=code, key_id=ident, withdrawn_at=limit.at,
                             trusted_until=limit.trusted_until if same else None)
        # A grant made by a key in wrong hands lends it no trust: the grants' places fall, so this ends.
        if terms and terms[-1].granted_by is not None:
            return self.doubt(terms[-1].granted_by, terms[-1].granted_at, digest_at)
        return None


def require_role(signer: Signer, kind: Kind) -> None:
    """Raises VerificationError (wrong-role) unless one of the signer's roles may sign that kind."""
    if not any(kind in MAY_SIGN[role] for role in signer.roles):
        held = " and ".join(sorted(role.name.lower() for role in signer.roles)) or "no role"
        able = " or ".join(sorted(role.name.lower() for role, kinds in MAY_SIGN.items() if kind in kinds))
        what = kind.name.lower().replace("_", " ")
        raise VerificationError(f"The signer {signer.code} holds {held} and may not sign this: {what}.",
                                kind="wrong-role", hint=f"It takes a signer with the role {able}.")


def require_unexpired(signer: Signer, time_s: int, why: str) -> None:
    """Raises VerificationError (expired-signer) when the signer's time was over at `time_s`. why: whose time that is."""
    if signer.until_s is not None and time_s > signer.until_s:
        raise VerificationError(f"The signer {signer.code} could sign until {day_of(signer.until_s)}; {why} {day_of(time_s)}.",
                                kind="expired-signer", hint="Let the authority grant the key anew: gearkeep signer add CODE "
                                "--role … --public-key … --until DATE.")


def expiring(signers: Signers, now_s: int, days: int = 90) -> list[Signer]:
    """Signers who may still sign and whose time ends within so many days or is over, soonest first."""
    found = [s for s in signers.everyone() if s.withdrawn_at is None and s.until_s is not None]
    return sorted((s for s in found if s.until_s is not None and s.until_s - now_s <= days * 86_400),
                  key=lambda s: (s.until_s or 0, s.granted_at))


def day_of(time_s: int) -> str:
    """A time as its day in UTC, in ISO 8601; a time beyond the calendar as its seconds."""
    try:
        return datetime.fromtimestamp(time_s, UTC).date().isoformat()
    except (ValueError, OverflowError, OSError):
        return f"{time_s} s"
