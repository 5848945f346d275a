"""The authority's key for decades: put another in its place, or appoint one by the recovery keys."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from vault.actions.desk import Desk
from vault.actions.setup import refuse_used_code, signer_by_code
from vault.db.session import Session, Vault
from vault.errors import UsageProblem
from vault.trust.appointment import Request, Signed, body_of, endorse
from vault.trust.keys import check_public_key, fingerprint, key_id, paper_to_seed, public_bytes
from vault.trust.signers import Signer
from vault.trust.statements import Genesis, Grant, Kind, Role, Withdrawal
from vault.trust.trustlist import TrustList


@dataclass(frozen=True, slots=True, kw_only=True)
class Rotated:
    """The authority that ended and the one in its place."""

    old: Signer
    new: Signer


def rotate(desk: Desk, *, code: str, new_key: Ed25519PrivateKey, because: str, until_s: int | None = None) -> Rotated:
    """Grant the acting authority's roles to a new key, then withdraw the old one by the new one: both or neither.

    Everybody else stays granted. Raises UsageProblem: wrong-role, code-in-use, exists.
    """
    public_key = public_bytes(new_key)
    with desk.vault.writing() as session:
        old = session.signers.at(desk.key_id(), session.size())
        if Role.AUTHORITY not in old.roles:
            raise UsageProblem(f"{old.code} is no authority, so there is nothing to hand on.", kind="wrong-role",
                               hint="Give the authority's key file with --key.")
        refuse_used_code(session, code, public_key)
        if session.signers.latest(key_id(public_key)) is not None:
            raise UsageProblem("The new key has held a role before.", kind="exists", hint="Let a new key be made.")
        session.append(Kind.GRANT, Grant(public_key=public_key, roles=old.roles, code=code, time_s=desk.now_s(), until_s=until_s),
                       desk.key())
        session.append(Kind.WITHDRAWAL, Withdrawal(key_id=old.key_id, time_s=desk.now_s(), reason=because), new_key)
        gone = session.signers.latest(old.key_id)
        assert gone is not None
        return Rotated(old=gone, new=signer_by_code(session, code))


def make_request(vault: Vault, *, public_key: bytes, code: str, ends_others: bool, now_s: int) -> Request:
    """What the holders of the recovery keys are asked to endorse. Nothing is written to the vault."""
    check_public_key(public_key)
    with vault.reading() as session:
        refuse_used_code(session, code, public_key)
        if session.signers.latest(key_id(public_key)) is not None:
            raise UsageProblem("The new key has held a role before.", kind="exists", hint="Let a new key be made.")
        return Request(log_id=session.genesis.log_id, public_key=public_key, code=code,
                       number=session.signers.appointments_before(session.size()) + 1, time_s=now_s, ends_others=ends_others)


def endorse_on_paper(request: Request, paper: str, genesis: Genesis | None) -> Signed:
    """Sign a request with a recovery key typed from paper.

    genesis: of the vault or the list of signers at hand, so that a wrong paper is noticed here; None where there is none.
    Raises GearkeepError (bad-key) naming the line that is wrong, UsageProblem: other-vault, bad-key.
    """
    if genesis is not None and genesis.log_id != request.log_id:
        raise UsageProblem(f"The request is for the log {request.log_id.hex()}, this is {genesis.log_id.hex()}.",
                           kind="other-vault", hint="Give the vault or the list of signers that the request is for.")
    key = Ed25519PrivateKey.from_private_bytes(paper_to_seed(paper))
    if genesis is not None and public_bytes(key) not in recovery_keys(genesis):
        raise UsageProblem("The paper is of no recovery key of this vault.", kind="bad-key",
                           hint="Compare its fingerprint with: gearkeep authority show.")
    return endorse(request, key)


def appoint(desk: Desk, request: Request, endorsements: Sequence[Signed]) -> Signer:
    """Append the appointment, signed by the new key, which the desk holds. Doing it twice changes nothing.

    Raises UsageProblem: other-vault, bad-key; VerificationError: bad-endorsement, too-few-endorsements, bad-chain.
    """
    if public_bytes(desk.key()) != request.public_key:
        raise UsageProblem("The key given is not the one that the request is about.", kind="bad-key",
                           hint="Give the file that gearkeep authority request --new-key made, with --key.")
    with desk.vault.writing() as session:
        if session.genesis.log_id != request.log_id:
            raise UsageProblem(f"The request is for the log {request.log_id.hex()}, this is {session.genesis.log_id.hex()}.",
                               kind="other-vault", hint="Open the vault that the request was made in.")
        session.append(Kind.APPOINTMENT, body_of(request, endorsements, session.signers), desk.key())
        return signer_by_code(session, request.code)


def recovery_keys(genesis: Genesis) -> tuple[bytes, ...]:
    """The recovery keys of a genesis, 32 bytes each."""
    joined = genesis.recovery_keys
    return tuple(joined[start : start + 32] for start in range(0, len(joined), 32))


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """Whom a vault is founded on: its first authority and recovery keys by fingerprint, and who is authority now."""

    site: str
    log_id: bytes
    first_fingerprint: str
    recovery_needed: int
    recovery_fingerprints: tuple[str, ...]
    authorities: tuple[Signer, ...]
    appointments: int


def standing(vault: Vault) -> Standing:
    """Read what people compare with paper."""
    with vault.reading() as session:
        genesis = session.genesis
        now = tuple(s for s in session.signers.everyone() if s.withdrawn_at is None and Role.AUTHORITY in s.roles)
        return Standing(
            site=genesis.site, log_id=genesis.log_id, first_fingerprint=fingerprint(genesis.authority_key),
            recovery_needed=genesis.recovery_needed,
            recovery_fingerprints=tuple(fingerprint(key) for key in recovery_keys(genesis)), authorities=now,
            appointments=session.signers.appointments_before(session.size()))


def genesis_of(vault: Vault | None, trust: TrustList | None) -> Genesis | None:
    """The genesis of a list of signers or a vault, whichever is at hand."""
    if trust is not None:
        return trust.genesis
    if vault is None:
        return None
    session: Session
    with vault.reading() as session:
        return session.genesis
