"""Who may sign what, at which place in the journal."""

from __future__ import annotations

from dataclasses import dataclass, field

from vault.errors import VerificationError
from vault.trust.keys import key_id
from vault.trust.statements import MAY_SIGN, Genesis, Grant, Kind, Role, Withdrawal


@dataclass(frozen=True, slots=True, kw_only=True)
class Signer:
    """A key with its roles. granted_at: its grant's place in the main journal; withdrawn_at: where it ended."""

    key_id: bytes
    public_key: bytes
    code: str
    roles: frozenset[Role]
    granted_at: int
    withdrawn_at: int | None = None


@dataclass(slots=True)
class Signers:
    """The signers of one vault, built by feeding it verified statements in the order of the main journal."""

    _by_key: dict[bytes, list[Signer]] = field(default_factory=dict)

    def found(self, genesis: Genesis) -> None:
        """The genesis key is the first authority."""
        first = Signer(key_id=key_id(genesis.authority_key), public_key=genesis.authority_key, code="AUTH",
                       roles=frozenset({Role.AUTHORITY}), granted_at=0)
        self._by_key[first.key_id] = [first]

    def grant(self, grant: Grant, at: int) -> None:
        """A later grant to the same key replaces its roles from there on."""
        ident = key_id(grant.public_key)
        terms = self._by_key.setdefault(ident, [])
        if terms and terms[-1].withdrawn_at is None:
            terms[-1] = _ended(terms[-1], at)
        terms.append(Signer(key_id=ident, public_key=grant.public_key, code=grant.code, roles=grant.roles,
                            granted_at=at))

    def withdraw(self, withdrawal: Withdrawal, at: int) -> None:
        """Nothing that the key signs after `at` counts."""
        terms = self._by_key.get(withdrawal.key_id)
        if terms and terms[-1].withdrawn_at is None:
            terms[-1] = _ended(terms[-1], at)

    def feed(self, body: object, at: int) -> None:
        """Take in a verified statement body; those that concern no signer change nothing."""
        if isinstance(body, Genesis):
            self.found(body)
        elif isinstance(body, Grant):
            self.grant(body, at)
        elif isinstance(body, Withdrawal):
            self.withdraw(body, at)

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


def _ended(signer: Signer, at: int) -> Signer:
    return Signer(key_id=signer.key_id, public_key=signer.public_key, code=signer.code, roles=signer.roles,
                  granted_at=signer.granted_at, withdrawn_at=at)


def require_role(signer: Signer, kind: Kind) -> None:
    """Raises VerificationError (wrong-role) unless one of the signer's roles may sign that kind."""
    if not any(kind in MAY_SIGN[role] for role in signer.roles):
        held = " and ".join(sorted(role.name.lower() for role in signer.roles)) or "no role"
        able = " or ".join(sorted(role.name.lower() for role, kinds in MAY_SIGN.items() if kind in kinds))
        what = kind.name.lower().replace("_", " ")
        raise VerificationError(f"The signer {signer.code} holds {held} and may not sign this: {what}.",
                                kind="wrong-role", hint=f"It takes a signer with the role {able}.")
