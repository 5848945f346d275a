"""Labels on a printer: what was drawn is kept in a folder, what the printer confirms is signed for, and a run is resumed."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from PIL import Image

from labels.errors import LabelError
from labels.ipp import printer_uri
from labels.media import MEDIA, Medium
from labels.print_run import Outcome, PrintRun, Progress, silent
from labels.proof import proven
from labels.run_log import write_synced
from vault.actions.desk import Desk
from vault.actions.labelling import Due, Wanted, contents_of, due, tags_to_print
from vault.actions.luminaire import view
from vault.db.session import Session
from vault.domain.tag import to_bytes
from vault.errors import GearkeepError
from vault.trust.statements import IssuedLabel, IssueReason, Kind, LabelIssue

_LABELS_A_STATEMENT = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class OnPrinter:
    """A print run as it stands, labels by tag. trouble: why it stopped early, None where it went to its end."""

    folder: Path
    printer: str
    confirmed: tuple[str, ...]
    doubtful: tuple[str, ...]
    waiting: tuple[str, ...]
    reason: str
    trouble: LabelError | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Name:
    """What a label is called in its run: whose, of which record, whether it carries the settings, why it is printed."""

    tag: str
    digest: str
    carries: bool
    why: IssueReason | None

    def text(self) -> str:
        why = self.why.name.lower() if self.why else "as-found"
        return ".".join((self.tag, self.digest, "full" if self.carries else "link", why))

    @classmethod
    def parse(cls, text: str) -> _Name:
        """Raises LabelError (bad-run)."""
        try:
            tag, digest, carries, why = text.split(".")
            to_bytes(tag)
            bytes.fromhex(digest)
            return cls(tag=tag, digest=digest, carries=carries == "full",
                       why=None if why == "as-found" else IssueReason[why.upper()])
        except (GearkeepError, ValueError, KeyError) as problem:
            raise LabelError(f"The print run names the label {text[:80]!r}, which is no name that this program gives.",
                             kind="bad-run", hint="The folder was changed. Begin a new run for what is missing.") from problem


def print_on(desk: Desk, wanted: Wanted, *, printer: str, folder: Path, medium: Medium, copies: int = 1,
             progress: Progress = silent) -> OnPrinter:
    """Draw and prove labels, keep them in a new folder, send them, and sign for those that the printer confirms."""
    desk.key()
    with desk.vault.reading() as session:
        tags = tags_to_print(session, wanted)
        run = PrintRun.begin(folder, printer, _pictures(session, tags, wanted, medium), medium, copies)
    return _send(desk, run, reprint_doubtful=False, progress=progress)


def resume(desk: Desk, folder: Path, *, reprint_doubtful: bool = False, printer: str | None = None,
           progress: Progress = silent) -> OnPrinter:
    """Go on behind the last label confirmed. Labels in doubt are printed again only where that is asked for.

    printer: the address that the run has to be for. Raises LabelError (other-printer) before anybody is asked.
    """
    desk.key()
    run = PrintRun.open(folder)
    if printer is not None and printer_uri(printer) != run.head.printer:
        raise LabelError(f"The print run in {folder} is for the printer {run.head.printer}, not for {printer}.",
                         kind="other-printer", hint="Nothing was sent. If the folder is right, give its printer.")
    for name in run.names:
        _Name.parse(name)
    return _send(desk, run, reprint_doubtful=reprint_doubtful, progress=progress)


def _pictures(session: Session, tags: Sequence[str], wanted: Wanted, medium: Medium) -> Iterator[tuple[str, Image.Image]]:
    dues: list[Due] = []
    for content in contents_of(session, tags, wanted, dues):
        layout, picture = proven(content, medium)
        name = _Name(tag=dues[-1].tag, digest=dues[-1].record_digest.hex(), carries=layout.carries_settings, why=wanted.why)
        yield name.text(), picture


def _send(desk: Desk, run: PrintRun, *, reprint_doubtful: bool, progress: Progress) -> OnPrinter:
    trouble: LabelError | None = None
    try:
        run.send(progress, reprint_doubtful=reprint_doubtful)
    except LabelError as problem:
        trouble = problem
    outcome = run.outcome()
    _sign_confirmed(desk, run, outcome)
    return OnPrinter(folder=run.folder, printer=run.head.printer, reason=outcome.reason, trouble=trouble,
                     confirmed=_tags(outcome.confirmed), doubtful=_tags(outcome.doubtful), waiting=_tags(outcome.waiting))


def _tags(names: Sequence[str]) -> tuple[str, ...]:
    return tuple(_Name.parse(name).tag for name in names)


def _sign_confirmed(desk: Desk, run: PrintRun, outcome: Outcome) -> None:
    """Sign for what is confirmed, each label once.

    What will be signed is on the disk before it is: signed again after a crash, it is the same statement, and the journal
    holds it once.
    """
    noted = [json.loads(path.read_text(encoding="utf-8")) for path in sorted(run.folder.glob("issue-*.json"))]
    signed = {name for note in noted for name in note["names"]}
    fresh = [name for name in outcome.confirmed if name not in signed]
    with desk.vault.writing() as session:
        for start in range(0, len(fresh), _LABELS_A_STATEMENT // run.head.copies):
            part = fresh[start : start + _LABELS_A_STATEMENT // run.head.copies]
            note = {"names": part, "time_s": desk.now_s(),
                    "copies": [[*_copy(session, _Name.parse(name))] for name in part]}
            write_synced(run.folder / f"issue-{len(noted) + 1:05d}.json", json.dumps(note).encode())
            noted.append(note)
        for note in noted:
            for body in _bodies(run, note):
                session.append(Kind.LABEL_ISSUE, body, desk.key())


def _copy(session: Session, name: _Name) -> tuple[int, int]:
    found = due(view(session, name.tag), name.why)
    return found.copy, int(found.why)


def _bodies(run: PrintRun, note: dict[str, object]) -> Iterator[LabelIssue]:
    names, copies, time_s = note["names"], note["copies"], note["time_s"]
    if not (isinstance(names, list) and isinstance(copies, list) and isinstance(time_s, int)):
        raise GearkeepError(f"What was to be signed for the print run in {run.folder} cannot be read.", kind="bad-run",
                            hint="The folder was changed. Print what is missing in a new run.")
    for why in IssueReason:
        labels = tuple(
            IssuedLabel(tag=to_bytes(name.tag), record_digest=bytes.fromhex(name.digest), copy=first + more,
                        carries_settings=name.carries)
            for name, (first, reason) in zip(map(_Name.parse, names), copies, strict=True) if reason == why
            for more in range(run.head.copies))
        if labels:
            yield LabelIssue(time_s=time_s, medium=_medium_name(run), labels=labels, why=why)


def _medium_name(run: PrintRun) -> str:
    size = run.head.width_um, run.head.height_um
    known = next((medium.name for medium in MEDIA.values() if (medium.width_um, medium.height_um) == size), None)
    return known or f"{size[0] / 1000:g}x{size[1] / 1000:g}"
