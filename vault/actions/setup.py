"""Setting up: a new vault, its signers, its catalogue."""

from __future__ import annotations

import secrets
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from vault.actions.desk import Desk
from vault.actions.luminaire import current
from vault.db import queries
from vault.db.doubts import doubt_of, doubtful_revision
from vault.db.session import Session, Vault, create
from vault.db.stock_doubts import stock_at
from vault.domain.schema import flatten, specs
from vault.errors import GearkeepError, UsageProblem
from vault.exchange.catalogue import read_circuits, read_drivers, read_lines, read_types
from vault.trust.capsule import check_host
from vault.trust.keys import check_public_key, fingerprint, new_private_key, public_bytes, seed_to_paper, write_key_file
from vault.trust.signers import Signer
from vault.trust.statements import Genesis, Grant, Kind, Role, Withdrawal
from vault.trust.verify import sign


@dataclass(frozen=True, slots=True, kw_only=True)
class Founded:
    """A new vault: its key files, the authority's fingerprint and the recovery keys to be printed once.

    recovery_fingerprints: of the recovery keys' public halves, which may be shown to anybody.
    """

    vault: Vault
    authority_file: Path
    checkpoint_file: Path
    fingerprint: str
    recovery_papers: tuple[str, ...]
    recovery_fingerprints: tuple[str, ...]
    genesis: Genesis


def found_vault(address: str, *, host: str, site: str, keys_folder: Path, passphrase: bytes, recovery_needed: int,
                recovery_count: int, now_s: int) -> Founded:
    """Make a vault with fresh keys. Nothing is left behind when a step fails."""
    check_host(host)
    if not 1 <= recovery_needed <= recovery_count <= 16:
        raise UsageProblem(f"{recovery_needed} of {recovery_count} recovery keys cannot be asked for.",
                           hint="Give 1 to 16 keys and no more needed than there are, for example 2of3.")
    authority, checkpoint = new_private_key(), new_private_key()
    seeds = [secrets.token_bytes(32) for _ in range(recovery_count)]
    recovery = b"".join(public_bytes(Ed25519PrivateKey.from_private_bytes(seed)) for seed in seeds)
    genesis = Genesis(
        log_id=secrets.token_bytes(16), stock_log_id=secrets.token_bytes(16), authority_key=public_bytes(authority),
        checkpoint_key=public_bytes(checkpoint), recovery_keys=recovery, recovery_needed=recovery_needed,
        host=host.upper(), site=site, time_s=now_s)
    signed = sign(Kind.GENESIS, genesis, authority, log_id=genesis.log_id)
    files = keys_folder / "authority.key", keys_folder / "checkpoint.key"
    keys_folder.mkdir(parents=True, exist_ok=True)
    written: list[Path] = []
    try:
        for path, key in zip(files, (authority, checkpoint), strict=True):
            write_key_file(path, key, passphrase)
            written.append(path)
        vault = create(address, signed)
    except BaseException:
        for path in written:
            path.unlink(missing_ok=True)
        raise
    return Founded(vault=vault, authority_file=files[0], checkpoint_file=files[1], genesis=genesis,
                   fingerprint=fingerprint(genesis.authority_key),
                   recovery_papers=tuple(seed_to_paper(seed) for seed in seeds),
                   recovery_fingerprints=tuple(fingerprint(recovery[at : at + 32]) for at in range(0, len(recovery), 32)))


def add_signer(desk: Desk, *, code: str, roles: frozenset[Role], public_key: bytes, name: str | None,
               until_s: int | None = None) -> Signer:
    """Grant roles to a key. The code is a short name that stands on labels; the person's name stays out of the journal.

    until_s: the last second at which it signs, None for no end. A grant to the same key renews it.
    """
    check_public_key(public_key)
    if until_s is not None and until_s < desk.now_s():
        raise UsageProblem("The grant would have ended before it begins.", kind="bad-date", hint="Give a day that is to come.")
    with desk.vault.writing() as session:
        refuse_used_code(session, code, public_key)
        grant = Grant(public_key=public_key, roles=roles, code=code, time_s=desk.now_s(), until_s=until_s)
        session.append(Kind.GRANT, grant, desk.key())
        if name:
            queries.set_signer_name(session, code, name)
        return signer_by_code(session, code)


def refuse_used_code(session: Session, code: str, public_key: bytes) -> None:
    """Raises UsageProblem (code-in-use) when another key stands on labels under that code."""
    for other in session.signers.everyone():
        if other.code == code and other.public_key != public_key:
            raise UsageProblem(f"The code {code} belongs to another key already.", kind="code-in-use",
                               hint="Give a code that no signer has had.")


def signer_by_code(session: Session, code: str) -> Signer:
    """The signer with that code. Raises GearkeepError naming the codes there are."""
    for signer in session.signers.everyone():
        if signer.code == code:
            return signer
    known = ", ".join(s.code for s in session.signers.everyone())
    raise GearkeepError(f"No signer has the code {code}.", hint=f"The vault knows {known}.", kind="not-found")


@dataclass(frozen=True, slots=True, kw_only=True)
class Withdrawn:
    """Who was withdrawn, and whose grants came from that key after it was in wrong hands: those are in doubt too.

    stock_trusted: what it signed about the store while the last trusted entry was the main journal's last; that still counts.
    """

    signer: Signer
    at: int
    in_doubt: tuple[Signer, ...]
    stock_trusted: int = 0


def withdraw_signer(desk: Desk, *, code: str, reason: str, trusted_until: int | None = None) -> Withdrawn:
    """From now on nothing that the signer signs counts; what was signed before stays good.

    trusted_until: the last trusted entry of the main journal, where the key was in wrong hands before now: what it signed
    behind that is in doubt. A signer who was withdrawn before may be given so later.
    """
    with desk.vault.writing() as session:
        signer = signer_by_code(session, code)
        if signer.withdrawn_at is not None and trusted_until is None:
            raise UsageProblem(f"{code} was withdrawn already, at entry {signer.withdrawn_at}.", kind="withdrawn-signer")
        if signer.key_id == desk.key_id():
            raise UsageProblem("An authority does not withdraw itself: nobody could grant roles any more.",
                               kind="wrong-role", hint="Let another authority do it, or run: gearkeep authority rotate.")
        if trusted_until is not None and not 0 <= trusted_until < session.size():
            raise UsageProblem(f"The journal has no entry {trusted_until}; the last is {session.size() - 1}.", kind="not-found",
                               hint="Give the last entry that is trusted; gearkeep history TAG names the entries of a luminaire.")
        digest = None if trusted_until is None else session.statement(trusted_until).digest[:8]
        body = Withdrawal(key_id=signer.key_id, time_s=desk.now_s(), reason=reason, trusted_until=trusted_until,
                          trusted_digest=digest)
        session.append(Kind.WITHDRAWAL, body, desk.key())
        at, signers = session.size() - 1, session.signers
        in_doubt = tuple(other for other in signers.everyone()
                         if other.withdrawn_at is None and doubt_of(session, other.key_id, session.size()) is not None)
        return Withdrawn(signer=signer_by_code(session, code), at=at, in_doubt=in_doubt,
                         stock_trusted=0 if trusted_until is None else stock_at(session, signer.key_id, trusted_until))


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldChanged:
    """One field of a revised entry: its dotted name, and its plain values before and after, None where it is left out."""

    name: str
    field: str
    before: Any
    after: Any


@dataclass(frozen=True, slots=True, kw_only=True)
class Loaded:
    """What a catalogue file brought: names signed as new, as a new revision, and those that were there already.

    changes: what the new revisions change.
    """

    new: tuple[str, ...]
    revised: tuple[str, ...]
    unchanged: tuple[str, ...]
    changes: tuple[FieldChanged, ...] = ()


_NAME = {Kind.RATING: "code", Kind.DRIVER_MODEL: "model", Kind.CIRCUIT: "name", Kind.LINE: "name"}
_READER = {Kind.RATING: read_types, Kind.DRIVER_MODEL: read_drivers, Kind.CIRCUIT: read_circuits,
           Kind.LINE: read_lines}


def _same(one: Any, other: Any) -> bool:
    return all(getattr(one, name) == getattr(other, name) for name, _ in specs(type(one)) if name != "revision")


def _changes(name: str, before: Any, after: Any) -> list[FieldChanged]:
    old, new = flatten(before), flatten(after)
    return [FieldChanged(name=name, field=field, before=old.get(field), after=new.get(field))
            for field in dict.fromkeys((*old, *new)) if field != "revision" and old.get(field) != new.get(field)]


def load_catalogue(desk: Desk, kind: Kind, path: Path) -> Loaded:
    """Sign every entry of a file. An entry equal to the newest revision adds nothing; a changed one is the next revision."""
    return sign_catalogue(desk, kind, _READER[kind](path))  # type: ignore[arg-type]


def sign_catalogue(desk: Desk, kind: Kind, entries: list[Any]) -> Loaded:
    """Sign entries of one kind in one transaction. What a key in wrong hands signed last is signed anew even where it is
    equal.
    """
    new: list[str] = []
    revised: list[str] = []
    unchanged: list[str] = []
    changes: list[FieldChanged] = []
    with desk.vault.writing() as session:
        for entry in entries:
            name = getattr(entry, _NAME[kind])
            last = current(session, kind, name)
            if last is not None and _same(last, entry) and doubtful_revision(session, kind, name) is None:
                unchanged.append(name)
                continue
            number = 1 if last is None else last.revision + 1
            changes += [] if last is None else _changes(name, last, entry)
            session.append(kind, replace(entry, revision=number), desk.key())
            (new if last is None else revised).append(name)
    return Loaded(new=tuple(new), revised=tuple(revised), unchanged=tuple(unchanged), changes=tuple(changes))
