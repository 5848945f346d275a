"""A vault's signers as a file, so that a label can be verified with no vault at hand.

JSON text: {"gearkeep-signers": 1, "statements": [[place, hex of the signed bytes], …], "size": journal size,
"checkpoint": signed note or null, "said": […]}. The first statement is the genesis, the rest grants, withdrawals and
appointments. What stands under "said" is the same in words, for people: a reader takes nothing from it.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass

from vault.errors import VerificationError
from vault.trust.keys import fingerprint
from vault.trust.note import open_note, parse_checkpoint
from vault.trust.signer_words import in_words
from vault.trust.signers import Signers
from vault.trust.statements import Genesis
from vault.trust.verify import verify, verify_genesis

MAX_BYTES = 4_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class TrustList:
    """Signers as of a journal size. time_s: of the newest statement in it. statements: (place, signed bytes), verified."""

    genesis: Genesis
    signers: Signers
    size: int
    time_s: int
    authority: str
    statements: tuple[tuple[int, bytes], ...]


def dump(statements: Iterable[tuple[int, bytes]], size: int, checkpoint: str | None) -> str:
    """The file's text."""
    held = list(statements)
    rows = [[place, signed.hex()] for place, signed in held]
    return json.dumps({"gearkeep-signers": 1, "statements": rows, "size": size, "checkpoint": checkpoint, "said": _said(held)},
                      indent=1, ensure_ascii=False) + "\n"


def _said(statements: list[tuple[int, bytes]]) -> list[str]:
    """Every statement in words."""
    lines: list[str] = []
    codes: dict[bytes, str] = {}
    genesis: Genesis | None = None
    signers = Signers()
    for place, signed in statements:
        if genesis is None:
            body = genesis = verify_genesis(signed).body
        else:
            body = verify(signed, log_id=genesis.log_id, signers=signers, place=place).body
        signers.feed(body, place)
        lines += [f"entry {place}: {line}" for line in in_words(body, codes)]
    return lines


def _bad(what: str, kind: str = "bad-trust") -> VerificationError:
    return VerificationError(f"The list of signers cannot be used: {what}.", kind=kind,
                             hint="Ask whoever runs the vault for a fresh one (gearkeep signer export).")


def load(text: str) -> TrustList:
    """Verify a list of signers, every statement of it, and its checkpoint where it bears one.

    Raises VerificationError. Whether the genesis is the right one only its fingerprint can tell: compare it.
    """
    if len(text) > MAX_BYTES:
        raise _bad("it is larger than 4 MB", "too-large")
    try:
        held = json.loads(text)
        rows = [(int(place), bytes.fromhex(signed)) for place, signed in held["statements"]]
        size, version, note = int(held["size"]), held["gearkeep-signers"], held["checkpoint"]
    except (ValueError, KeyError, TypeError, RecursionError) as problem:
        raise _bad("it is not a list that gearkeep wrote") from problem
    if version != 1:
        raise _bad(f"it is of version {version}", "future-version")
    if not rows or rows[0][0] != 0 or [p for p, _ in rows] != sorted({p for p, _ in rows}) or rows[-1][0] >= size:
        raise _bad("its entries are out of order")
    genesis: Genesis = verify_genesis(rows[0][1]).body
    signers = Signers()
    signers.feed(genesis, 0)
    time_s = genesis.time_s
    for place, signed in rows[1:]:
        statement = verify(signed, log_id=genesis.log_id, signers=signers, place=place)
        signers.feed(statement.body, place, by=statement.key_id)
        time_s = max(time_s, statement.body.time_s)
    if note is not None:
        name = f"{genesis.host.lower()}/{genesis.log_id.hex()}"
        said = parse_checkpoint(open_note(str(note), name, genesis.checkpoint_key))
        if said.origin != name or said.size < size:
            raise _bad("its checkpoint is of another journal or an earlier time", "rollback")
    return TrustList(genesis=genesis, signers=signers, size=size, time_s=time_s,
                     authority=fingerprint(genesis.authority_key), statements=tuple(rows))
