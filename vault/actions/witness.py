"""Witnesses: checkpoints kept outside the vault, read back, posted to folders, held against the journal and each other."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum
from itertools import combinations
from pathlib import Path

from vault.db import queries
from vault.db.audit import Kept, origin
from vault.db.proofs import root
from vault.db.session import Session
from vault.db.tables import MAIN, STOCK
from vault.errors import GearkeepError, UsageProblem
from vault.exchange.files import write_whole
from vault.trust.note import Checkpoint, open_note, parse_checkpoint

_HINT = "Give a file made by gearkeep checkpoint --out FILE, a photograph of its page, or a folder of such files."
# No checkpoint is longer; a film or an archive in the folder is not read for it.
_MAX_FILE_BYTES = 64 * 1024 * 1024
LOG_NAMES = {MAIN: "main", STOCK: "stock"}


class Verdict(Enum):
    """What the journal says to a checkpoint."""

    CONSISTENT = "consistent"
    ROLLBACK = "rollback"
    FORK = "fork"
    OTHER_VAULT = "other-vault"
    NOT_GOOD = "not-good"


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """A kept checkpoint held against the journal. said, log: None where it is not good or of another vault.

    now: entries that the journal holds. why: one sentence.
    """

    kept: Kept
    verdict: Verdict
    why: str
    said: Checkpoint | None = None
    log: int | None = None
    now: int = 0


def read_kept(paths: Sequence[Path]) -> list[Kept]:
    """The notes in files and folders: one in a text file, one for each code in a photograph or a PDF of a page.

    In a folder what holds no checkpoint is passed over. Raises UsageProblem (bad-note) for a file without one, a folder
    without any.
    """
    found: list[Kept] = []
    for path in paths:
        if not path.is_dir():
            found += [Kept(source=str(path), note=note) for note in _notes(path)]
            continue
        inside = kept_in(path)
        if not inside:
            raise UsageProblem(f"The folder {path} holds no checkpoint.", kind="bad-note", hint=_HINT)
        found += inside
    return found


def kept_in(folder: Path) -> list[Kept]:
    """The notes of every file of a folder that holds any."""
    found: list[Kept] = []
    for path in sorted(folder.iterdir()):
        if not path.is_file() or path.name.startswith(".") or path.stat().st_size > _MAX_FILE_BYTES:
            continue
        try:
            found += [Kept(source=str(path), note=note) for note in _notes(path)]
        except UsageProblem:
            continue
    return found


def _notes(path: Path) -> list[str]:
    try:
        # A PDF may well consist of plain letters alone.
        texts = _texts_in_picture(path) if path.suffix.lower() == ".pdf" else [path.read_text(encoding="utf-8")]
    except UnicodeDecodeError:
        texts = _texts_in_picture(path)
    except OSError as problem:
        raise UsageProblem(f"{path} cannot be read: {problem.strerror or problem}.", kind="bad-note", hint=_HINT) from problem
    notes = [text for text in texts if said_by(text) is not None]
    if not notes:
        raise UsageProblem(f"{path} holds no checkpoint.", kind="bad-note", hint=_HINT)
    return notes


def _texts_in_picture(path: Path) -> list[str]:
    from labels.errors import LabelError
    from labels.reading import read_picture

    try:
        return [code.text for code in read_picture(path)]
    except LabelError as problem:
        raise UsageProblem(problem.what, kind="bad-note", hint=problem.hint) from problem


def said_by(text: str) -> Checkpoint | None:
    """What a text that has the form of a signed checkpoint says; whether it is a good one is not asked."""
    body, blank, signatures = text.rpartition("\n\n")
    try:
        said = parse_checkpoint(body + "\n")
    except GearkeepError:
        return None
    return said if blank and signatures else None


def hold(session: Session, kept: Sequence[Kept]) -> list[Held]:
    """Each checkpoint against the journal's tree, in the order given.

    A checkpoint is consistent when the root of the journal's first entries is the one that it saw (for the whole journal
    at hand this says the same as a consistency proof of RFC 9162 2.1.4).
    """
    genesis = session.genesis
    logs = {origin(genesis, log): log for log in (MAIN, STOCK)}
    sizes = {log: session.size(log) for log in (MAIN, STOCK)}
    return [_hold_one(session, one, logs, sizes) for one in kept]


def _hold_one(session: Session, kept: Kept, logs: dict[str, int], sizes: dict[int, int]) -> Held:
    said = said_by(kept.note)
    if said is not None and said.origin not in logs:
        return Held(kept=kept, verdict=Verdict.OTHER_VAULT, why=f"it is of {said.origin}, this vault is {next(iter(logs))}")
    try:
        name = said.origin if said is not None else next(iter(logs))
        said = parse_checkpoint(open_note(kept.note, name, session.genesis.checkpoint_key))
    except GearkeepError as problem:
        return Held(kept=kept, verdict=Verdict.NOT_GOOD, why=f"{problem.kind}: {problem.what}")
    log = logs[said.origin]
    now = sizes[log]
    if said.size > now:
        verdict, why = Verdict.ROLLBACK, (f"it saw {said.size} entries of the {LOG_NAMES[log]} journal, here are {now}: entries "
                                          "were taken away or an old copy was restored")
    elif said.size and root(session, said.size, log) != said.root:
        verdict, why = Verdict.FORK, (f"the first {said.size} entries of the {LOG_NAMES[log]} journal are not those that it saw")
    else:
        verdict, why = Verdict.CONSISTENT, f"the {LOG_NAMES[log]} journal grew from {said.size} to {now} entries"
    return Held(kept=kept, verdict=verdict, why=why, said=said, log=log, now=now)


def without_strangers(held: Sequence[Held], paths: Sequence[Path]) -> list[Held]:
    """Leaves out what a folder holds of other vaults: sites may well post into one folder."""
    folders = {path for path in paths if path.is_dir()}
    return [one for one in held if one.verdict is not Verdict.OTHER_VAULT or Path(one.kept.source).parent not in folders]


def disagreeing(held: Sequence[Held]) -> Iterator[tuple[Held, Held]]:
    """Pairs of good checkpoints of one journal and size that saw different entries: somebody was shown another history."""
    # The same state from many places is one witness.
    first: dict[tuple[int, int, bytes], Held] = {}
    for one in held:
        if one.said is not None and one.log is not None:
            first.setdefault((one.log, one.said.size, one.said.root), one)
    by_size: dict[tuple[int, int], list[Held]] = {}
    for (log, size, _), one in first.items():
        by_size.setdefault((log, size), []).append(one)
    for some in by_size.values():
        yield from combinations(some, 2)


def post(folder: Path, log_id: bytes, log: str, note: str) -> Path:
    """Write a checkpoint into a folder as a file of its own, named by vault, journal and size: names sort as it grew.

    The same state there already: nothing is written. Another one under that name: the note is put beside it, under a name
    with its root. Raises VerificationError (bad-note), GearkeepError (unwritable-file).
    """
    mine = parse_checkpoint(note.rpartition("\n\n")[0] + "\n")
    path = folder / f"checkpoint-{log_id.hex()}-{log}-{mine.size:012d}.txt"
    if path.exists() and said_by(path.read_text(encoding="utf-8", errors="replace")) != mine:
        path = path.with_name(f"{path.stem}-{mine.root.hex()[:16]}.txt")
    if not path.exists():
        write_whole(path, note.encode())
    return path


def evidence_of(session: Session, held: Sequence[Held]) -> dict[str, str]:
    """File name -> text: every note that disagrees with the journal or another note, what the journal says at its size,
    the newest note of the vault's own, and a report. Empty when nothing disagrees. The same case has the same names.
    """
    bad = [one for one in held if one.verdict in (Verdict.ROLLBACK, Verdict.FORK)]
    pairs = list(disagreeing(held))
    if not bad and not pairs:
        return {}
    files: dict[str, str] = {}
    lines = ["Checkpoints that disagree. Keep this folder: the signed notes in it prove it to anybody who has the vault's",
             "checkpoint key (it stands in the genesis and on the signers' pages).", ""]

    def keep(note: str) -> str:
        said = said_by(note)
        assert said is not None
        name = f"{said.origin.rpartition('/')[2][:8]}-{said.size:012d}-{said.root.hex()[:16]}.txt"
        files[name] = note
        return name

    for one in bad:
        lines += [f"{one.verdict.value}: {one.kept.source} ({keep(one.kept.note)})", f"  {one.why}"]
        if one.verdict is Verdict.FORK and one.said is not None and one.log is not None:
            lines.append(f"  root at {one.said.size} entries: note {one.said.root.hex()}, "
                         f"vault {root(session, one.said.size, one.log).hex()}")
    for one, other in pairs:
        lines += [f"fork: {one.kept.source} ({keep(one.kept.note)}) and {other.kept.source} ({keep(other.kept.note)})",
                  "  both are signed, of one journal and one size, and saw different entries"]
    lines.append("")
    for log in (MAIN, STOCK):
        lines.append(f"vault, {LOG_NAMES[log]} journal: {session.size(log)} entries, root {session.root(log).hex()}")
        own = queries.checkpoints(session, log)
        if own:
            lines.append(f"  its newest checkpoint of its own: {keep(own[-1][2])}")
    report = "\n".join(lines) + "\n"
    return {**files, f"report-{hashlib.sha256(report.encode()).hexdigest()[:12]}.txt": report}


def write_evidence(folder: Path, files: dict[str, str]) -> list[Path]:
    """Keep the notes side by side; what is there already stays. Raises GearkeepError (unwritable-file)."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise GearkeepError(f"The evidence cannot be kept in {folder}: {problem.strerror or problem}.", kind="unwritable-file",
                            hint="Give --evidence with a folder that can be written to.") from problem
    for name, text in files.items():
        if not (folder / name).exists():
            write_whole(folder / name, text.encode())
    return [folder / name for name in files]
