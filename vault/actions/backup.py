"""Backups that are proven before they count, and bringing one back as the same history."""

from __future__ import annotations

import glob
import tempfile
from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from vault.actions.witness import LOG_NAMES, Held, Verdict, hold, read_kept, without_strangers
from vault.db import queries
from vault.db.address import parse_address
from vault.db.audit import Kept, Progress, quiet, rebuild, run_audit
from vault.db.backup import copy_backup, new_file, page_faults, reading_backup
from vault.db.copying import State, copy_to_file, copy_to_site, refuse_used_site, state_of
from vault.db.migrate import current_revision, head_revision
from vault.db.proofs import root
from vault.db.replay import Fault
from vault.db.session import Session, Vault, upgrade_schema
from vault.db.tables import MAIN, STOCK
from vault.errors import GearkeepError, UsageProblem, VerificationError

_SHOWN_FAULTS = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class BackedUp:
    """A backup that stands at `path`. statements: verified one by one; None when that was left off.

    checkpoint_size: of the newest checkpoint inside, proven; None without one. faults: kept in spite of them.
    contradictions: what earlier backups of the same folder say against it; then nothing was pruned.
    """

    path: Path
    size_bytes: int
    state: State
    statements: int | None
    checkpoint_size: int | None
    faults: tuple[Fault, ...]
    contradictions: tuple[Fault, ...]
    pruned: tuple[Path, ...]


def back_up(vault: Vault, *, out: Path | None = None, folder: Path | None = None, keep: int | None = None,
            audited: bool = True, even_faulty: bool = False, now_s: int = 0, copying: Progress = quiet,
            verifying: Progress = quiet) -> BackedUp:
    """Copy the vault while others write, prove the copy, move it into place; then prune older ones of the folder.

    out: the new file. folder: instead of it, a folder that gets a file with the vault's id and the time in its name.
    keep: how many of this vault's files stay in the folder. audited: verify every statement of the copy.
    Raises VerificationError (bad-backup), with nothing written, when the copy is not proven and even_faulty is not given.
    """
    if folder is not None:
        prefix = _prefix(vault)
        path = folder / f"{prefix}{datetime.fromtimestamp(now_s, UTC):%Y%m%dT%H%M%SZ}.db"
        leftovers = prefix + "*.db"
    elif out is not None:
        path, leftovers = out, glob.escape(out.name)
    else:
        raise UsageProblem("It was not said where the backup goes.", hint="Give --out FILE, or --folder FOLDER.")
    with new_file(path, leftovers) as part:
        state = copy_to_file(vault, part, copying)
        statements, checkpoint_size, faults = _prove(part, state, audited, verifying)
        if faults and not even_faulty:
            raise VerificationError(
                f"The copy is not good, as the vault itself may be: {_told(faults)}.", kind="bad-backup",
                hint="Nothing was written and no older backup was touched. Run gearkeep audit. To keep the copy all the same: "
                     "--even-faulty.")
    against: tuple[Fault, ...] = ()
    pruned: tuple[Path, ...] = ()
    if folder is not None:
        earlier = sorted(one for one in folder.glob(leftovers) if one != path)
        against = _contradictions(path, earlier)
        if keep is not None and not faults and not against:
            # The new one is among those that stay, whatever the clock says.
            pruned = tuple(earlier[: max(0, len(earlier) - (keep - 1))])
            _remove(pruned)
    return BackedUp(path=path, size_bytes=path.stat().st_size, state=state, statements=statements,
                    checkpoint_size=checkpoint_size, faults=faults, contradictions=against, pruned=pruned)


def _remove(old: Sequence[Path]) -> None:
    for path in old:
        try:
            path.unlink()
        except OSError as problem:
            raise GearkeepError(f"The new backup stands, but the old {path} cannot be taken away: {problem.strerror or problem}.",
                                kind="unwritable-file", hint="Check its rights, or remove it by hand.") from problem


def _prefix(vault: Vault) -> str:
    with vault.reading() as session:
        return f"gearkeep-{session.genesis.log_id.hex()[:8]}-"


def _told(faults: Sequence[Fault]) -> str:
    told = "; ".join(f"{fault.where}: {fault.why}" for fault in faults[:_SHOWN_FAULTS])
    more = len(faults) - _SHOWN_FAULTS
    return told + (f"; and {more} more" if more > 0 else "")


def _prove(part: Path, state: State, audited: bool, verifying: Progress) -> tuple[int | None, int | None, tuple[Fault, ...]]:
    """(statements verified, size of the newest checkpoint proven, faults)."""
    faults: list[Fault] = []
    with closing(Vault(str(part))) as copy, copy.reading() as session:
        statements = None
        if audited:
            result = run_audit(session, (), verifying)
            statements = result.statements
            faults += result.faults
        else:
            faults += [Fault(what="file", where="database pages", why=line) for line in page_faults(part)]
        try:
            if state_of(session) != state:
                faults.append(Fault(what="copy", where="the copy's root", why="it is not the one that the vault had"))
            newest = _newest_own(session)
            if newest is not None:
                held = hold(session, [newest])[0]
                if held.verdict is not Verdict.CONSISTENT:
                    faults.append(Fault(what="checkpoint", where=newest.source, why=held.why))
                return statements, held.said.size if held.said else None, tuple(faults)
        except GearkeepError as problem:
            faults.append(Fault(what="journal", where="the copy", why=problem.what))
    return statements, None, tuple(faults)


def _newest_own(session: Session) -> Kept | None:
    own = queries.checkpoints(session, MAIN)
    return Kept(source=f"the vault's own checkpoint of {own[-1][0]} entries", note=own[-1][2]) if own else None


def _contradictions(path: Path, earlier: Sequence[Path]) -> tuple[Fault, ...]:
    """Earlier backups as witnesses: whatever they hold the new one has to hold too."""
    found: list[Fault] = []
    with reading_backup(path) as new:
        sizes = {log: new.size(log) for log in (MAIN, STOCK)}
        for old in earlier:
            try:
                with reading_backup(old) as session:
                    before = state_of(session)
            except GearkeepError as problem:
                found.append(Fault(what="backup", where=str(old), why=f"it cannot be read: {problem.what}"))
                continue
            for log, size in before.sizes.items():
                if size > sizes[log]:
                    found.append(Fault(what="backup", where=str(old), why=f"rollback: it holds {size} entries of the "
                                       f"{LOG_NAMES[log]} journal, the vault now {sizes[log]}"))
                elif size and root(new, size, log) != before.roots[log]:
                    found.append(Fault(what="backup", where=str(old), why=f"fork: the vault's first {size} entries of the "
                                       f"{LOG_NAMES[log]} journal are not those of this backup"))
    return tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True)
class Restored:
    """A vault brought back. held: each checkpoint given against it; one that saw more says what is missing.

    newest: entries of the main journal that the newest checkpoint inside saw, None without one.
    """

    address: str
    state: State
    statements: int
    held: tuple[Held, ...]
    newest: int | None
    faults: tuple[Fault, ...]

    @property
    def missing(self) -> tuple[Held, ...]:
        """Checkpoints that saw entries which the backup does not hold."""
        return tuple(one for one in self.held if one.verdict is Verdict.ROLLBACK)


def restore(backup: Path, address: str, *, checkpoint_files: Sequence[Path] = (), accept_older: bool = False,
            even_faulty: bool = False, copying: Progress = quiet, verifying: Progress = quiet) -> Restored:
    """Bring a backup back into a new file or an empty site, once it is proven to be the history that checkpoints saw.

    Nothing is written when a checkpoint saw another history, another vault, or more entries (unless accept_older), or when
    the audit finds faults (unless even_faulty). Raises VerificationError: rollback, fork, other-vault, bad-note, bad-backup;
    UsageProblem: exists, not-a-vault, bad-note.
    """
    kept = read_kept(checkpoint_files)
    place = parse_address(address)

    def stage(part: Path) -> Restored:
        _copy_up_to_date(backup, part)
        with closing(Vault(str(part))) as copy, copy.reading() as session:
            held = without_strangers(hold(session, kept), checkpoint_files)
            for one in held:
                _refuse(one, accept_older)
            return _examine(session, str(place), held, even_faulty, verifying)

    if place.path is not None:
        with new_file(place.path, glob.escape(place.path.name)) as part:
            return stage(part)
    with closing(Vault(address, check=False)) as target:
        refuse_used_site(target)
    with tempfile.TemporaryDirectory(prefix="gearkeep-restore-") as scratch:
        part = Path(scratch) / "staged.db"
        done = stage(part)
        with closing(Vault(str(part))) as staged, staged.reading() as session:
            copy_to_site(session, address, copying)
    return done


def _copy_up_to_date(backup: Path, part: Path) -> None:
    copy_backup(backup, part)
    with closing(Vault(str(part), check=False)) as copy, copy.reading() as session:
        before = current_revision(session.connection)
    if before != head_revision():
        # Says so when it is no vault, or a newer one.
        upgrade_schema(str(part), rebuild)


def _examine(session: Session, address: str, held: Sequence[Held], even_faulty: bool, verifying: Progress) -> Restored:
    result = run_audit(session, (), verifying)
    if result.faults and not even_faulty:
        raise VerificationError(f"The backup is not good: {_told(result.faults)}.", kind="bad-backup",
                                hint="Nothing was written. Try an older backup; or take this one with --even-faulty and run "
                                     "gearkeep audit and gearkeep rebuild on it.")
    newest = _newest_own(session)
    said = hold(session, [newest])[0].said if newest is not None else None
    return Restored(address=address, state=state_of(session), statements=result.statements, held=tuple(held),
                    newest=said.size if said else None, faults=result.faults)


def _refuse(one: Held, accept_older: bool) -> None:
    source = one.kept.source
    if one.verdict is Verdict.ROLLBACK and one.said is not None and not accept_older:
        raise VerificationError(
            f"This backup holds {one.now} entries, the checkpoint {source} saw {one.said.size}: what was signed since the backup "
            "is missing from it.", kind="rollback",
            hint="Nothing was written. Look for a newer backup or a replica first. If there is none: --accept-older. Every later "
                 "audit against that checkpoint will tell of the gap.")
    if one.verdict is Verdict.FORK:
        raise VerificationError(f"The checkpoint {source} saw another history: {one.why}.", kind="fork",
                                hint="Nothing was written. One of the two is not this vault's true history: keep both, and ask "
                                     "whoever holds other checkpoints.")
    if one.verdict is Verdict.OTHER_VAULT:
        raise VerificationError(f"The checkpoint {source} is of another vault: {one.why}.", kind="other-vault",
                                hint="Nothing was written. Give a checkpoint of this vault.")
    if one.verdict is Verdict.NOT_GOOD:
        raise VerificationError(f"The checkpoint {source} is not good: {one.why}", kind="bad-note",
                                hint="Nothing was written. Give the checkpoint as it was signed.")
