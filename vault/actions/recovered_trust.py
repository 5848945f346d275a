"""Who might sign in a lost vault, from codes and lists, verified against the authority that the user names."""

from __future__ import annotations

import re
from dataclasses import dataclass

from vault.actions.label_folder import Failure, Gathered, SignerStatement, failure
from vault.errors import GearkeepError, UsageProblem, VerificationError
from vault.trust.cose import open_envelope
from vault.trust.keys import check_public_key, fingerprint
from vault.trust.signers import Signer, Signers
from vault.trust.statements import MAY_SIGN, Appointment, Genesis, Grant, Kind, Withdrawal
from vault.trust.verify import Statement, verify, verify_genesis

_FORGED = "One of the pages is not as it was printed; give the list of signers as a file, or find out which page it is."


@dataclass(frozen=True, slots=True, kw_only=True)
class Trust:
    """The genesis and what followed about signers, in order. signers count places in `statements`: 0 is the genesis."""

    genesis: Genesis
    statements: tuple[Statement, ...]
    signers: Signers
    failures: tuple[Failure, ...]


def _wanted(authority: str) -> str:
    digits = re.sub(r"[\s:-]", "", authority).lower()
    if len(digits) not in (32, 64) or not re.fullmatch("[0-9a-f]*", digits):
        raise UsageProblem(f"{authority[:80]!r} is neither the authority's public key nor its fingerprint.", kind="bad-key",
                           hint="Give the 64 hexadecimal digits of the key, or the 32 of the fingerprint as printed.")
    return digits


def _is_authority(genesis: Genesis, digits: str) -> bool:
    whole, short = genesis.authority_key.hex(), fingerprint(genesis.authority_key).replace(" ", "")
    return digits in (whole, short)


def _genesis(found: list[SignerStatement], digits: str) -> tuple[Statement, list[Failure]]:
    mine: dict[bytes, Statement] = {}
    others: dict[bytes, str] = {}
    failures = []
    for one in found:
        if open_envelope(one.signed_bytes).kind != Kind.GENESIS:
            continue
        try:
            statement = verify_genesis(one.signed_bytes)
        except GearkeepError as problem:
            failures.append(failure(one.source, problem))
            continue
        if _is_authority(statement.body, digits):
            mine[statement.digest] = statement
        elif statement.digest not in others:
            others[statement.digest] = fingerprint(statement.body.authority_key)
            failures.append(Failure(
                source=one.source, kind="other-authority",
                why=f"The page is of the authority {others[statement.digest]}, not of the one that was named."))
    if len(mine) == 1:
        return next(iter(mine.values())), failures
    if mine:
        raise VerificationError("The pictures show the beginnings of two vaults of that authority.", kind="other-vault",
                                hint="Put the pictures of one vault alone into the folder.")
    if others:
        raise VerificationError(f"The signers' codes are of the authority {' and '.join(others.values())}, not of the one "
                                "that was named.", kind="other-authority",
                                hint="Name the first authority, whose fingerprint stands on every page; one that came later does "
                                     "not tell this vault from another. Make no vault from pages of another.")
    raise GearkeepError("The beginning of the vault was not found.", kind="no-genesis",
                        hint="Photograph code 1 of the signers' pages that lie with the labels, or give the list of signers "
                             "(gearkeep signer export) with --signers.")


def establish(found: Gathered, authority: str) -> Trust:
    """Verify every statement about signers. Those that fail are failures; only the genesis is needed.

    authority: its public key (64 hexadecimal digits) or fingerprint (32). Raises GearkeepError: no-genesis,
    other-authority, other-vault; UsageProblem: bad-key.
    """
    genesis, failures = _genesis(found.statements, _wanted(authority))
    body: Genesis = genesis.body
    statements, known, taken, by_place = [genesis], {genesis.signed_bytes}, {0}, Signers()
    by_place.feed(body, 0)
    for one in sorted(found.statements, key=lambda one: one.place):
        if one.signed_bytes in known or open_envelope(one.signed_bytes).kind == Kind.GENESIS:
            continue
        try:
            statement = verify(one.signed_bytes, log_id=body.log_id, signers=by_place, place=one.place)
            _check_order(statement, one.place, statements[-1], taken, by_place)
        except GearkeepError as problem:
            failures.append(failure(one.source, problem))
            continue
        by_place.feed(statement.body, one.place, by=statement.key_id)
        known.add(one.signed_bytes)
        taken.add(one.place)
        statements.append(statement)
    signers = Signers()
    for number, statement in enumerate(statements):
        signers.feed(statement.body, number, by=statement.key_id)
    failures += _unread(found, len(statements))
    return Trust(genesis=body, statements=tuple(statements), signers=signers, failures=tuple(failures))


def _check_order(statement: Statement, place: int, last: Statement, taken: set[int], signers: Signers) -> None:
    """The place on a page is not signed, so it is held against what is."""
    said = statement.body
    if isinstance(said, Grant):
        check_public_key(said.public_key)
    elif not isinstance(said, (Withdrawal, Appointment)):
        raise VerificationError(f"A {statement.kind.name.lower()} is no statement about signers.", kind="bad-trust")
    elif isinstance(said, Withdrawal) and signers.latest(said.key_id) is None:
        raise VerificationError(f"The key {said.key_id.hex()} is withdrawn at entry {place}, but no grant to it stands before.",
                                kind="bad-trust", hint="Photograph the signers' pages that are missing.")
    if place in taken:
        raise VerificationError(f"Two different statements about signers claim entry {place}.", kind="bad-trust", hint=_FORGED)
    if said.time_s < last.body.time_s:
        raise VerificationError(f"Entry {place} of the signers' pages is dated before the entry that stands before it.",
                                kind="bad-trust", hint=_FORGED)


def _unread(found: Gathered, verified: int) -> list[Failure]:
    """A withdrawal that is missing would let its signer's records in, so a page that is not whole is said."""
    most = max(found.printed, default=0)
    if verified >= most:
        return []
    numbers = ", ".join(str(n) for n in range(1, most + 1) if n not in found.printed[most])
    named = f"; those with the numbers {numbers} were not read" if numbers else ""
    return [Failure(source="the signers' pages", kind="signers-incomplete",
                    why=f"{most} codes were printed and {verified} are good{named}.",
                    hint="Photograph the missing ones: a signer's grant or withdrawal may be among them.")]


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A record, verified. before: number of the statement that ended its signer's role, None when nothing did.

    doubtful: its signer's key was in wrong hands at some time, and nobody can tell any more when the record was signed.
    """

    statement: Statement
    before: int | None
    doubtful: bool


def verify_record(trust: Trust, signed_bytes: bytes) -> Placed:
    """Verify a record whose place in the lost journal nobody knows: its signer held the role somewhere.

    Raises VerificationError: what `verify` raises; withdrawn-signer when the record's own time is after the end of the
    signer's role.
    """
    last = len(trust.statements)
    ident = open_envelope(signed_bytes).key_id
    term = _last_term(trust.signers, ident)
    end = term.withdrawn_at if term else None
    statement = verify(signed_bytes, log_id=trust.genesis.log_id, signers=trust.signers,
                       place=last if end is None else end - 1, place_known=False)
    if statement.kind is not Kind.RECORD:
        raise VerificationError("The code carries no luminaire record.", kind="bad-payload")
    if end is not None and statement.body.time_s > trust.statements[end].body.time_s:
        code = statement.signer.code if statement.signer else ""
        raise VerificationError(f"The record says itself that {code} signed it after the role was withdrawn.",
                                kind="withdrawn-signer",
                                hint="Have a valid signer check the luminaire and sign its settings anew.")
    before = min((n for n in (end, _expired_at(trust, term)) if n is not None), default=None)
    # The entry that the withdrawal calls the last trusted one does not stand there any more.
    doubt = trust.signers.doubt(ident, (last if before is None else before) - 1, lambda _place: None)
    return Placed(statement=statement, before=before, doubtful=doubt is not None)


def _expired_at(trust: Trust, term: Signer | None) -> int | None:
    """Number of the first statement behind a term's grant that is dated after the term's end."""
    if term is None or term.until_s is None:
        return None
    return next((number for number in range(term.granted_at + 1, len(trust.statements))
                 if trust.statements[number].body.time_s > term.until_s), None)


def _last_term(signers: Signers, ident: bytes) -> Signer | None:
    able = [term for term in signers.terms(ident) if any(Kind.RECORD in MAY_SIGN[role] for role in term.roles)]
    return able[-1] if able else None
