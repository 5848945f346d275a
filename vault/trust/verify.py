"""The one door: signed bytes in, a verified statement out (FORMAT.md, section Verification; same numbers)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from vault.domain.schema import check, specs
from vault.errors import UsageProblem, VerificationError
from vault.trust import cbor, cose
from vault.trust.appointment import check_appointment, check_endorsements
from vault.trust.keys import check_public_key, key_id
from vault.trust.mapping import from_plain_cbor, to_plain_cbor
from vault.trust.signers import Signer, Signers, require_role, require_unexpired
from vault.trust.statements import BODY, FORMAT_VERSION, STOCK_KINDS, Genesis, Kind

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """A statement whose signature has been verified. digest: SHA-256(0x00 ‖ signed_bytes)."""

    kind: Kind
    key_id: bytes
    signer: Signer | None
    body: Any
    signed_bytes: bytes
    digest: bytes


def kind_of(envelope: cose.Envelope) -> Kind:
    """Step 3: the kind that the protected header names. Raises VerificationError (unknown-kind)."""
    if envelope.kind not in Kind._value2member_map_:
        raise VerificationError(f"The statement is of kind {envelope.kind}, which this version does not know.",
                                kind="unknown-kind", hint="A newer gearkeep may be able to read it.")
    return Kind(envelope.kind)


def _body(envelope: cose.Envelope, kind: Kind) -> Any:
    # Step 7. Only now, behind a good signature, is the payload parsed.
    try:
        return from_plain_cbor(BODY[kind], cbor.decode(envelope.payload))
    except VerificationError as problem:
        if problem.kind == "bad-payload":
            raise
        raise VerificationError(f"The payload of the {kind.name.lower()} is not as the format says: {problem.what}",
                                kind="bad-payload", hint=problem.hint) from problem


def verify(signed_bytes: bytes, *, log_id: bytes, signers: Signers, place: int, place_known: bool = True,
           now_s: int | None = None) -> Statement:
    """A statement at `place` of the main journal.

    place_known: False for a label read with a list of signers alone, where a signer's expiry is held against the
    statement's own time and no other. now_s: the vault's clock, when the statement is to be appended now.
    Raises VerificationError whose kind is the failure class of the step that failed.
    """
    envelope = cose.open_envelope(signed_bytes)  # steps 1 to 3: size, deterministic envelope, headers
    kind = kind_of(envelope)
    if kind is Kind.APPOINTMENT:
        return _appointment(envelope, log_id, signers, place)
    signer = signers.at(envelope.key_id, place)  # step 4
    if place_known:
        _in_time(signer, signers, place, now_s)
    require_role(signer, kind)  # step 5
    cose.verify_envelope(envelope, signer.public_key, cose.external_aad(FORMAT_VERSION, log_id))  # step 6
    body = _body(envelope, kind)  # step 7
    require_unexpired(signer, getattr(body, "time_s", 0), "the statement is of")
    if kind is Kind.TAKE_OVER and body.log_id == log_id:
        raise VerificationError("A vault cannot take over its own log.", kind="bad-chain")
    return _statement(envelope, kind, signer, body)


def _in_time(signer: Signer, signers: Signers, place: int, now_s: int | None) -> None:
    if signer.until_s is None:
        return
    require_unexpired(signer, signers.clock_between(signer.granted_at, place), "an entry of the authority before it is of")
    if now_s is not None:
        require_unexpired(signer, now_s, "today is")


def _appointment(envelope: cose.Envelope, log_id: bytes, signers: Signers, place: int) -> Statement:
    """Step 7 first, as for a genesis: the key that signs is the one that is appointed."""
    body = _body(envelope, Kind.APPOINTMENT)
    check_public_key(body.public_key)
    if envelope.key_id != key_id(body.public_key):
        raise VerificationError("The appointment is signed by another key than the one it appoints.", kind="unknown-signer")
    cose.verify_envelope(envelope, body.public_key, cose.external_aad(FORMAT_VERSION, log_id))
    check_endorsements(body, log_id, signers)
    check_appointment(body, place, signers)
    return _statement(envelope, Kind.APPOINTMENT, None, body)


def verify_movement(signed_bytes: bytes, *, stock_log_id: bytes, signers: Signers, main_size: int, most: int | None = None,
                    now_s: int | None = None) -> Statement:
    """A statement of the stock journal, whose signer must hold the role at the main size that the body names.

    main_size: the least that the body may name (what the statement before it named). most: entries in the main journal; None
    where that is not at hand. now_s: as for `verify`.
    Raises VerificationError as `verify` does; bad-chain when the size named runs backwards or ahead.
    """
    envelope, kind = _stock_envelope(signed_bytes, stock_log_id, signers, main_size)
    body = _body(envelope, kind)
    _refuse_ahead(body.main_size, most)
    if body.main_size < main_size:
        raise VerificationError(f"The statement names main size {body.main_size}, less than {main_size} before it.",
                                kind="bad-chain", hint="Statements about the stock are signed against the journal as it stands.")
    return _statement(envelope, kind, _stock_signer(envelope, kind, signers, body.main_size, body.time_s, now_s), body)


def _refuse_ahead(main_size: int, most: int | None) -> None:
    if most is not None and main_size > most:
        raise VerificationError(f"The statement names main size {main_size}, and the main journal holds {most} entries.",
                                kind="bad-chain", hint="Nobody can have seen more than there is, and behind such a statement no "
                                "honest one could stand.")


def open_stock_statement(signed_bytes: bytes, *, stock_log_id: bytes, signers: Signers, most: int) -> tuple[Kind, dict[int, Any]]:
    """Kind and plain payload of a statement that stands in the stock journal: signed by whom it should be, its fields unread.

    For comparing many with what is already known of them. most: entries in the main journal. Raises VerificationError as
    `verify_movement` does, and what an unusual payload raises (KeyError, TypeError, AttributeError).
    """
    envelope, kind = _stock_envelope(signed_bytes, stock_log_id, signers, 0)
    body = cbor.decode(envelope.payload)
    size_key, time_key = _STOCK_KEYS[kind]
    _refuse_ahead(body[size_key], most)
    _stock_signer(envelope, kind, signers, body[size_key], body[time_key], None)
    return kind, body


_STOCK_KEYS = {kind: (found["main_size"].key, found["time_s"].key) for kind in STOCK_KINDS for found in [dict(specs(BODY[kind]))]}


def _stock_envelope(signed_bytes: bytes, stock_log_id: bytes, signers: Signers, place: int) -> tuple[cose.Envelope, Kind]:
    envelope = cose.open_envelope(signed_bytes)
    kind = kind_of(envelope)
    if kind not in STOCK_KINDS:
        raise VerificationError(f"The stock journal holds movements and terms of supply alone, not a {kind.name.lower()}.",
                                kind="unknown-kind")
    known = signers.latest(envelope.key_id)
    # The key alone is taken from the list here: the place is inside the payload, which is read only once signed.
    public_key = known.public_key if known else signers.at(envelope.key_id, place).public_key
    cose.verify_envelope(envelope, public_key, cose.external_aad(FORMAT_VERSION, stock_log_id))
    return envelope, kind


def _stock_signer(envelope: cose.Envelope, kind: Kind, signers: Signers, main_size: int, time_s: int,
                  now_s: int | None) -> Signer:
    signer = signers.at(envelope.key_id, main_size - 1)
    _in_time(signer, signers, main_size, now_s)
    require_unexpired(signer, time_s, "the movement is of" if kind is Kind.STOCK_MOVEMENT else "the terms are of")
    require_role(signer, kind)
    return signer


def _statement(envelope: cose.Envelope, kind: Kind, signer: Signer | None, body: Any) -> Statement:
    return Statement(kind=kind, key_id=envelope.key_id, signer=signer, body=body,
                     signed_bytes=envelope.signed_bytes, digest=cose.digest(envelope.signed_bytes))


def verify_genesis(signed_bytes: bytes) -> Statement:
    """The genesis names its own log id and its own key, so its payload is read before the signature is checked."""
    envelope = cose.open_envelope(signed_bytes)
    if kind_of(envelope) is not Kind.GENESIS:
        raise VerificationError("The first statement is not a genesis.", kind="bad-chain",
                                hint="This is not the beginning of a vault.")
    body: Genesis = _body(envelope, Kind.GENESIS)
    check_public_key(body.authority_key)
    check_public_key(body.checkpoint_key)
    if len(body.recovery_keys) % 32 or body.recovery_needed > len(body.recovery_keys) // 32:
        raise VerificationError("The genesis asks for more recovery keys than it names.", kind="bad-payload")
    cose.verify_envelope(envelope, body.authority_key, cose.external_aad(FORMAT_VERSION, body.log_id))
    return _statement(envelope, Kind.GENESIS, None, body)


def sign(kind: Kind, body: Any, key: Ed25519PrivateKey, *, log_id: bytes) -> bytes:
    """Sign a body. Raises UsageProblem listing every field that is out of range: nothing wrong is ever signed."""
    problems = [str(problem) for problem in check(body)]
    if problems:
        raise UsageProblem(f"The {kind.name.lower().replace('_', ' ')} cannot be signed: " + "; ".join(problems) + ".",
                           hint="Correct the named fields and try again.", kind="bad-payload")
    payload = cbor.encode(to_plain_cbor(body))
    return cose.sign_statement(int(kind), payload, key, cose.external_aad(FORMAT_VERSION, log_id))
