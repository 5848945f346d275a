"""A new authority by n of the m recovery keys of the genesis (FORMAT.md, section Authority).

The holders may sit in different places: a request goes to them as text, each endorsement comes back as text.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import TYPE_CHECKING

from vault.domain.tag import ALPHABET
from vault.errors import VerificationError
from vault.trust import cbor
from vault.trust.keys import check_public_key, key_id, public_bytes, verify_signature
from vault.trust.signers import Signers
from vault.trust.statements import FORMAT_VERSION, Appointment, Endorsement

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

_DOMAIN = "gearkeep appointment"
_REQUEST, _ENDORSEMENT = "GKREQUEST", "GKENDORSE"
_CHECK_BYTES = 4
_LOOKALIKES = str.maketrans({"O": "0", "I": "1", "L": "1"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """What the holders are asked to endorse: this key, under this code, as the vault's number-th appointment."""

    log_id: bytes
    public_key: bytes
    code: str
    number: int
    time_s: int
    ends_others: bool

    @property
    def message(self) -> bytes:
        """The bytes that a recovery key signs: never those of a statement, whose first element is "Signature1"."""
        return cbor.encode([_DOMAIN, FORMAT_VERSION, *self._parts()])

    def _parts(self) -> list[object]:
        return [self.log_id, self.public_key, self.code, self.number, self.time_s, int(self.ends_others)]

    @property
    def short(self) -> bytes:
        """8 bytes that tell this request from others."""
        return sha256(self.message).digest()[:8]


@dataclass(frozen=True, slots=True, kw_only=True)
class Signed:
    """One holder's endorsement. recovery_key_id: which key signed; request: the first 8 bytes of the request's hash."""

    recovery_key_id: bytes
    request: bytes
    signature: bytes


def request_of(body: Appointment, log_id: bytes) -> Request:
    """What an appointment says that its recovery keys signed."""
    return Request(log_id=log_id, public_key=body.public_key, code=body.code, number=body.number, time_s=body.time_s,
                   ends_others=bool(body.ends_others))


def endorse(request: Request, recovery_key: Ed25519PrivateKey) -> Signed:
    """Sign a request with a recovery key."""
    return Signed(recovery_key_id=key_id(public_bytes(recovery_key)), request=request.short,
                  signature=recovery_key.sign(request.message))


def body_of(request: Request, signed: Sequence[Signed], signers: Signers) -> Appointment:
    """The appointment with as many endorsements as the genesis asks for; further ones are left off.

    Raises VerificationError: bad-endorsement (of another request, by no recovery key of this vault, or not good),
    too-few-endorsements.
    """
    by_number: dict[int, bytes] = {}
    idents = [key_id(key) for key in signers.recovery_keys]
    for one in signed:
        if one.request != request.short:
            raise VerificationError("An endorsement is of another request.", kind="bad-endorsement",
                                    hint="Give the endorsements of this request alone; send the holder this request.")
        if one.recovery_key_id not in idents:
            raise VerificationError(f"The key {one.recovery_key_id.hex()} that endorsed is no recovery key of this vault.",
                                    kind="bad-endorsement", hint="Compare the paper with: gearkeep authority show.")
        number = idents.index(one.recovery_key_id) + 1
        _verify(request, number, one.signature, signers)
        by_number[number] = one.signature
    chosen = sorted(by_number.items())[: signers.recovery_needed]
    body = Appointment(public_key=request.public_key, code=request.code, number=request.number, time_s=request.time_s,
                       ends_others=request.ends_others,
                       endorsements=tuple(Endorsement(recovery_key=n, signature=s) for n, s in chosen))
    check_endorsements(body, request.log_id, signers)
    return body


def check_endorsements(body: Appointment, log_id: bytes, signers: Signers) -> None:
    """As many different recovery keys as the genesis asks for, no more, each with a good signature.

    Raises VerificationError: too-few-endorsements, bad-endorsement.
    """
    request = request_of(body, log_id)
    needed = signers.recovery_needed
    keys: set[bytes] = set()
    for one in body.endorsements:
        _verify(request, one.recovery_key, one.signature, signers)
        keys.add(signers.recovery_keys[one.recovery_key - 1])
    if len(keys) < needed:
        raise VerificationError(f"{len(keys)} recovery {'key' if len(keys) == 1 else 'keys'} endorsed the appointment; it "
                                f"takes {needed}.", kind="too-few-endorsements",
                                hint="Let further holders endorse it: gearkeep authority endorse REQUEST.")
    if len(body.endorsements) != needed:
        raise VerificationError(f"The appointment carries {len(body.endorsements)} endorsements; it carries {needed}, no more.",
                                kind="bad-endorsement")


def _verify(request: Request, number: int, signature: bytes, signers: Signers) -> None:
    if number > len(signers.recovery_keys):
        raise VerificationError(f"The appointment names recovery key {number}; the vault has {len(signers.recovery_keys)}.",
                                kind="bad-endorsement")
    key = signers.recovery_keys[number - 1]
    try:
        check_public_key(key)
        verify_signature(key, request.message, signature)
    except VerificationError as problem:
        raise VerificationError(f"The endorsement by recovery key {number} is not good: {problem.what}", kind="bad-endorsement",
                                hint="Let its holder endorse the request again.") from problem


def check_appointment(body: Appointment, place: int, signers: Signers) -> None:
    """An appointment counts once, in its turn, for a key that held nothing before.

    Raises VerificationError: bad-chain, bad-key.
    """
    due = signers.appointments_before(place) + 1
    if body.number != due:
        raise VerificationError(f"It calls itself appointment {body.number} of the vault; at entry {place} it would be "
                                f"appointment {due}.", kind="bad-chain",
                                hint="It was made for an earlier state of the vault. Make a new request.")
    if signers.known_before(key_id(body.public_key), place):
        raise VerificationError("The key that it appoints held a role before.", kind="bad-chain",
                                hint="Make a new key: gearkeep authority request --new-key FILE.")
    if body.public_key in (*signers.recovery_keys, signers.checkpoint_key):
        raise VerificationError("The key that it appoints is a recovery key or the checkpoint key.", kind="bad-key",
                                hint="Make a new key: gearkeep authority request --new-key FILE.")


# --- as text: a word, a colon, and groups of four characters of Crockford base32 -----------------------------------


def _text(word: str, data: bytes) -> str:
    whole = data + sha256(word.encode() + data).digest()[:_CHECK_BYTES]
    count = -(-len(whole) * 8 // 5)
    bits = int.from_bytes(whole, "big") << (count * 5 - len(whole) * 8)
    characters = "".join(ALPHABET[bits >> 5 * shift & 31] for shift in range(count - 1, -1, -1))
    groups = [characters[at : at + 4] for at in range(0, count, 4)]
    return f"{word}:\n" + "\n".join(" ".join(groups[at : at + 8]) for at in range(0, len(groups), 8)) + "\n"


def _data(word: str, text: str) -> bytes:
    what = "request" if word == _REQUEST else "endorsement"
    head, colon, rest = "".join(text.split()).upper().replace("-", "").partition(":")
    if head != word or not colon:
        raise VerificationError(f"This is no {what}: it does not begin with {word}:.", kind="not-a-request",
                                hint="Give the whole text as it was made.")
    rest = rest.translate(_LOOKALIKES)
    odd = next((character for character in rest if character not in ALPHABET), None)
    if odd is not None or len(rest) > 400:
        raise VerificationError(f"The {what} holds {odd!r}, which is never written there." if odd else f"The {what} is too long.",
                                kind="not-a-request", hint="Compare it with what was sent, character by character.")
    spare = len(rest) * 5 % 8
    bits = 0
    for character in rest:
        bits = bits << 5 | ALPHABET.index(character)
    whole = (bits >> spare).to_bytes(len(rest) * 5 // 8, "big")
    data, check = whole[:-_CHECK_BYTES], whole[-_CHECK_BYTES:]
    if bits & ((1 << spare) - 1) or sha256(word.encode() + data).digest()[:_CHECK_BYTES] != check:
        raise VerificationError(f"The {what} has a mistake or is not whole.", kind="not-a-request",
                                hint="Compare it with what was sent, character by character.")
    return data


def request_text(request: Request) -> str:
    """A request to be sent, read out or typed: about 130 characters, with a check over all of them."""
    return _text(_REQUEST, cbor.encode(request._parts()))


def parse_request(text: str) -> Request:
    """What a request says. Forgives case, white space, hyphens, O for 0, I and L for 1.

    Raises VerificationError: not-a-request, bad-key.
    """
    found = cbor.decode(_data(_REQUEST, text))
    if not (isinstance(found, list) and [type(part) for part in found] == [bytes, bytes, str, int, int, int]
            and len(found[0]) == 16 and found[5] in (0, 1)):
        raise VerificationError("The request is not as gearkeep writes one.", kind="not-a-request")
    log_id, public_key, code, number, time_s, ends_others = found
    check_public_key(public_key)
    return Request(log_id=log_id, public_key=public_key, code=code, number=number, time_s=time_s, ends_others=bool(ends_others))


def endorsement_text(signed: Signed) -> str:
    """An endorsement to be sent back: about 150 characters."""
    return _text(_ENDORSEMENT, signed.recovery_key_id + signed.request + signed.signature)


def parse_endorsement(text: str) -> Signed:
    """What an endorsement says; whether it is good only the vault's recovery keys tell. Raises VerificationError."""
    data = _data(_ENDORSEMENT, text)
    if len(data) != 80:
        raise VerificationError("The endorsement is not as gearkeep writes one.", kind="not-a-request")
    return Signed(recovery_key_id=data[:8], request=data[8:16], signature=data[16:])
