"""Statements about signers in words, as pages and lists print them."""

from __future__ import annotations

from collections.abc import Iterator

from vault.domain.schema import words
from vault.trust.keys import fingerprint, key_id
from vault.trust.signers import day_of
from vault.trust.statements import Appointment, Genesis, Grant, Withdrawal


def in_words(body: object, codes: dict[bytes, str]) -> Iterator[str]:
    """The lines of one statement. codes: key id -> code of the signers so far; it takes in those of this statement."""
    if isinstance(body, Genesis):
        codes[key_id(body.authority_key)] = "AUTH"
        yield f"Beginning of the vault. Authority AUTH, key {key_id(body.authority_key).hex()}"
        yield f"Authority fingerprint {fingerprint(body.authority_key)}"
        keys = [body.recovery_keys[start : start + 32] for start in range(0, len(body.recovery_keys), 32)]
        yield f"{body.recovery_needed} of {len(keys)} recovery {'key' if len(keys) == 1 else 'keys'} can appoint an authority"
        for number, key in enumerate(keys, 1):
            yield f"Recovery key {number}, fingerprint {fingerprint(key)}"
    elif isinstance(body, Grant):
        codes[key_id(body.public_key)] = body.code
        roles = " and ".join(words(role) for role in sorted(body.roles))
        until = "" if body.until_s is None else f" until {day_of(body.until_s)}"
        yield f"{body.code} may sign as {roles}{until}. Key {key_id(body.public_key).hex()}"
        yield f"Fingerprint {fingerprint(body.public_key)}"
    elif isinstance(body, Withdrawal):
        yield f"{codes.get(body.key_id, body.key_id.hex())} may sign no more: {body.reason}. Key {body.key_id.hex()}"
        if body.trusted_until is not None:
            yield f"Of what it signed before, entries behind {body.trusted_until} are in doubt"
    elif isinstance(body, Appointment):
        codes[key_id(body.public_key)] = body.code
        by = "key " if len(body.endorsements) == 1 else "keys "
        by += " and ".join(str(one.recovery_key) for one in body.endorsements)
        yield f"Appointment {body.number}: {body.code} is an authority, by recovery {by}"
        yield f"Key {key_id(body.public_key).hex()}, fingerprint {fingerprint(body.public_key)}"
        if body.ends_others:
            yield "Every authority before it may sign no more"
