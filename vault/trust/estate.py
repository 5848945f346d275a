"""The checkpoint of an estate: the state of many vaults in one statement, signed by a key of the estate.

It is of kind 14 and stands in no journal but in a file (FORMAT.md, section Estate). The estate is known by its key: its
id is the first 16 bytes of SHA-256 over the public key, and only a key that the reader knows from elsewhere is trusted.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from hashlib import sha256
from typing import ClassVar

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from vault.domain.schema import Problem, check, parts, raw, text, whole
from vault.errors import UsageProblem, VerificationError
from vault.trust import cbor, cose
from vault.trust.keys import check_public_key, key_id, public_bytes
from vault.trust.mapping import from_plain_cbor, to_plain_cbor
from vault.trust.statements import FORMAT_VERSION

ESTATE_KIND = 14
MAX_SITES = 500
MAX_FILE_CHARACTERS = 140_000
_ID_BYTES = 16


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteState:
    """One vault as it was: its logs' ids (16 bytes), sizes and roots (32 bytes; of an empty log SHA-256 over nothing)."""

    FORM: ClassVar[str] = "array"
    log_id: bytes = raw(1, 16, 16, required=True)
    main_size: int = whole(2, 1, 2**40, required=True)
    main_root: bytes = raw(3, 32, 32, required=True)
    stock_log_id: bytes = raw(4, 16, 16, required=True)
    stock_size: int = whole(5, 0, 2**40, required=True)
    stock_root: bytes = raw(6, 32, 32, required=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class EstateCheckpoint:
    """An estate's sites at one time, in ascending order of their log ids."""

    FORM: ClassVar[str] = "map"
    name: str = text(1, 60, required=True)
    public_key: bytes = raw(2, 32, 32, required=True)
    time_s: int = whole(3, 0, 2**40, "s", required=True)
    sites: tuple[SiteState, ...] = parts(4, SiteState, MAX_SITES, least=1)

    def further_problems(self, path: str) -> Iterator[Problem]:
        """Each site once, and one order only."""
        idents = [site.log_id for site in self.sites if isinstance(site, SiteState)]
        if idents != sorted(set(idents)):
            yield Problem(path=f"{path}.sites" if path else "sites", found="log ids out of order or twice",
                          allowed="different log ids in ascending order")


def estate_id(public_key: bytes) -> bytes:
    """The 16 bytes that an estate's statements are bound to."""
    return sha256(public_key).digest()[:_ID_BYTES]


def sign_estate(name: str, sites: list[SiteState], key: Ed25519PrivateKey, *, time_s: int) -> bytes:
    """The signed bytes of an estate's checkpoint; the sites are put in order. Raises UsageProblem (bad-payload)."""
    body = EstateCheckpoint(name=name, public_key=public_bytes(key), time_s=time_s,
                            sites=tuple(sorted(sites, key=lambda site: site.log_id)))
    problems = [str(problem) for problem in check(body)]
    if problems:
        raise UsageProblem("The estate's checkpoint cannot be signed: " + "; ".join(problems) + ".", kind="bad-payload",
                           hint=f"Name 1 to {MAX_SITES} different vaults.")
    return cose.sign_statement(ESTATE_KIND, cbor.encode(to_plain_cbor(body)), key,
                               cose.external_aad(FORMAT_VERSION, estate_id(body.public_key)))


def verify_estate(signed_bytes: bytes, public_key: bytes) -> EstateCheckpoint:
    """An estate's checkpoint by a key that the caller knows from elsewhere (32 bytes).

    Raises VerificationError: what `cose.open_envelope` raises, unknown-kind, bad-key, unknown-signer, bad-signature,
    bad-payload.
    """
    envelope = cose.open_envelope(signed_bytes)
    if envelope.kind != ESTATE_KIND:
        raise VerificationError("This is no checkpoint of an estate.", kind="unknown-kind")
    check_public_key(public_key)
    if envelope.key_id != key_id(public_key):
        raise VerificationError(f"The estate's checkpoint is signed by the key {envelope.key_id.hex()}, not by the one that was "
                                "named.", kind="unknown-signer", hint="Compare the estate's public key with paper.")
    cose.verify_envelope(envelope, public_key, cose.external_aad(FORMAT_VERSION, estate_id(public_key)))
    body = from_plain_cbor(EstateCheckpoint, cbor.decode(envelope.payload))
    if body.public_key != public_key:
        raise VerificationError("The estate's checkpoint names another key than the one that signed it.", kind="bad-payload")
    return body


@dataclass(frozen=True, slots=True, kw_only=True)
class Disagreement:
    """What a later checkpoint of an estate says against an earlier one. kind: rollback, fork or site-gone."""

    kind: str
    log_id: bytes
    log: str
    before: int
    now: int


def disagreements(earlier: EstateCheckpoint, later: EstateCheckpoint) -> Iterator[Disagreement]:
    """Sites that are gone, logs that became smaller, logs of one size with two roots.

    Whether a log that grew still holds the earlier one only its vault can show (a consistency proof, or an audit).
    """
    now = {site.log_id: site for site in later.sites}
    for old in earlier.sites:
        new = now.get(old.log_id)
        logs = ("main", old.main_size, old.main_root), ("stock", old.stock_size, old.stock_root)
        if new is None:
            yield Disagreement(kind="site-gone", log_id=old.log_id, log="main", before=old.main_size, now=0)
            continue
        for (log, size, root), (new_size, new_root) in zip(
                logs, ((new.main_size, new.main_root), (new.stock_size, new.stock_root)), strict=True):
            if new_size < size:
                yield Disagreement(kind="rollback", log_id=old.log_id, log=log, before=size, now=new_size)
            elif new_size == size and new_root != root:
                yield Disagreement(kind="fork", log_id=old.log_id, log=log, before=size, now=new_size)


def estate_text(signed_bytes: bytes, public_key: bytes) -> str:
    """The text of an estate's file: JSON {"gearkeep-estate": 1, "estate_key": hex, "statement": hex}."""
    return json.dumps({"gearkeep-estate": 1, "estate_key": public_key.hex(), "statement": signed_bytes.hex()}, indent=1) + "\n"


def parse_estate_text(content: str) -> tuple[bytes, bytes]:
    """(signed bytes, public key as the file claims it; nothing is trusted yet).

    Raises VerificationError: too-large, bad-estate, future-version.
    """
    hint = "Give a file that gearkeep wrote for an estate."
    if len(content) > MAX_FILE_CHARACTERS:
        raise VerificationError("The estate's file is too large to be one.", kind="too-large", hint=hint)
    try:
        held = json.loads(content)
        version, signed, key = held["gearkeep-estate"], bytes.fromhex(held["statement"]), bytes.fromhex(held["estate_key"])
    except (ValueError, KeyError, TypeError, RecursionError) as problem:
        raise VerificationError("This is no estate's file.", kind="bad-estate", hint=hint) from problem
    if version != 1:
        raise VerificationError(f"The estate's file is of version {version}.", kind="future-version",
                                hint="A newer gearkeep may be able to read it.")
    return signed, key
