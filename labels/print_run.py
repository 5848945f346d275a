"""A print run: which labels, which jobs, what the printer has confirmed; kept in a folder, so that it can be resumed.

Each job's intent is on the disk before the job is sent, and a label counts as printed only when the printer says that its
job is completed. What is neither confirmed nor surely unprinted is in doubt, and printed again only when asked for.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from uuid import uuid4

from PIL import Image

from labels.errors import LabelError
from labels.ipp import Door, door, run
from labels.media import Medium
from labels.printer import ask_facts, printer_facts
from labels.printing import JobReport, JobState, NotTaken, Patience, Ticket, check_ticket, find_job, follow, place, ticket_for
from labels.run_folder import NOT_TAKEN, RunHead, RunJob, keep, picture, told
from labels.run_log import RunLog, held_log, read_log, sync_folder

BATCH = 10  # labels in a job: so many are in doubt at most when something breaks
MOST_COPIES = 99
# confirmed labels, labels of the run, what the printer does
Progress = Callable[[int, int, str], None]


def silent(_confirmed: int, _total: int, _says: str) -> None:
    """No progress is shown."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """Labels by name, in order: printed for sure; sent, and nobody knows; not sent. reason: why some are in doubt."""

    confirmed: tuple[str, ...]
    doubtful: tuple[str, ...]
    waiting: tuple[str, ...]
    reason: str = ""


@dataclass(slots=True, kw_only=True)
class PrintRun:
    """A run as its file tells it. Made by begin() or open()."""

    folder: Path
    head: RunHead
    names: tuple[str, ...]
    files: tuple[str, ...]
    jobs: dict[int, RunJob] = field(default_factory=dict)

    @classmethod
    def begin(cls, folder: Path, printer_uri: str, labels: Iterable[tuple[str, Image.Image]], medium: Medium,
              copies: int = 1) -> PrintRun:
        """Keep a new run in the folder, whole or not at all; nothing is printed yet. labels: name and 1-bit picture, one
        pixel a dot, read as they are needed.

        Raises LabelError: run-exists, bad-run, no-labels, cannot-write, and what the printer cannot do: no-medium,
        no-format, no-resolution, no-printer, bad-printer, no-printing, printer-refused.
        """
        if not 1 <= copies <= MOST_COPIES:
            raise LabelError(f"{copies} copies of each label cannot be printed.", kind="bad-run",
                             hint=f"Give 1 to {MOST_COPIES}.")
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise LabelError(f"{folder} exists and is not an empty folder.", kind="run-exists",
                             hint="Resume the print run in it (gearkeep printer resume FOLDER), or name a new folder.")
        facts = printer_facts(printer_uri)
        ticket_for(facts, medium.width_um, medium.height_um, medium.dpi)
        head = RunHead(run=uuid4().hex[:12], printer=facts.uri, width_um=medium.width_um, height_um=medium.height_um,
                       dpi=medium.dpi, copies=copies)
        partial = folder.with_name(f".{folder.name}.{head.run}.partial")
        try:
            partial.mkdir(parents=True)
            keep(partial, head, labels, (medium.width_dots, medium.height_dots))
            partial.replace(folder)
            sync_folder(folder.parent)
        except OSError as problem:
            raise LabelError(f"The print run cannot be kept in {folder}: {problem.strerror or problem}.", kind="cannot-write",
                             hint="Check the folder, its rights and the room on the disk.") from problem
        finally:
            shutil.rmtree(partial, ignore_errors=True)
        return cls.open(folder)

    @classmethod
    def open(cls, folder: Path) -> PrintRun:
        """A run that was begun before. Raises LabelError: no-run, bad-run."""
        head, labels, jobs = told(folder, read_log(folder))
        return cls(folder=folder, head=head, names=tuple(name for name, _ in labels),
                   files=tuple(file for _, file in labels), jobs=jobs)

    def outcome(self) -> Outcome:
        """How the labels stand by what is noted; asks nobody."""
        last = {number: job for job in self.jobs.values() for number in job.labels if job.end != NOT_TAKEN}
        printed = self._printed()
        stands: dict[str, list[str]] = {"confirmed": [], "doubtful": [], "waiting": []}
        reasons: dict[str, None] = {}
        for number, name in enumerate(self.names):
            job = last.get(number)
            if job is None:
                stands["waiting"].append(name)
            elif number in printed:
                stands["confirmed"].append(name)
            else:
                stands["doubtful"].append(name)
                called = f"job {job.id}" if job.id is not None else "a job that the printer did not answer"
                reasons[f"{called} {'was ' + job.end if job.end else 'has no known end'}"] = None
        return Outcome(confirmed=tuple(stands["confirmed"]), doubtful=tuple(stands["doubtful"]),
                       waiting=tuple(stands["waiting"]), reason="; ".join(reasons))

    def settle(self, progress: Progress = silent, *, patience: Patience | None = None) -> Outcome:
        """Ask the printer how unfinished jobs have ended, and wait for those it still has; prints nothing new.

        Raises LabelError: no-run, bad-run, run-busy, no-printing, no-printer, printer-refused, printer-stalled.
        """
        with self._held() as log:
            run(self._settle_alone(log, progress, patience or Patience()))
        return self.outcome()

    def send(self, progress: Progress = silent, *, reprint_doubtful: bool = False,
             patience: Patience | None = None) -> Outcome:
        """Settle, then print what waits, in order; stops behind a job that did not complete. Labels in doubt are printed
        again only where reprint_doubtful says so.

        Raises LabelError as settle() does, and: printer-busy, no-medium, no-format, no-resolution, bad-run. What was
        printed by then is noted; outcome() tells.
        """
        with self._held() as log:
            run(self._send(log, progress, patience or Patience(), reprint_doubtful))
        return self.outcome()

    def _printed(self) -> set[int]:
        return {number for job in self.jobs.values() if job.end == JobState.COMPLETED.word for number in job.labels}

    @contextmanager
    def _held(self) -> Iterator[RunLog]:
        """The file for adding, and the jobs as they stand in it by now."""
        with held_log(self.folder) as (log, notes):
            _, _, self.jobs = told(self.folder, notes)
            yield log

    async def _settle_alone(self, log: RunLog, progress: Progress, patience: Patience) -> None:
        async with door(self.head.printer) as printer:
            await self._settle(printer, log, progress, patience)

    async def _send(self, log: RunLog, progress: Progress, patience: Patience, reprint: bool) -> None:
        async with door(self.head.printer) as printer:
            await self._settle(printer, log, progress, patience)
            stands = self.outcome()
            queue = {*stands.waiting, *(stands.doubtful if reprint else ())}
            numbers = [number for number, name in enumerate(self.names) if name in queue]
            if not numbers:
                return
            facts = await ask_facts(printer)
            if not facts.accepting:
                raise LabelError(f"{facts.name} takes no jobs at present.", kind="printer-refused",
                                 hint="Let it accept jobs again, then resume the print run.")
            ticket = ticket_for(facts, self.head.width_um, self.head.height_um, self.head.dpi)
            await check_ticket(printer, ticket)
            for start in range(0, len(numbers), BATCH):
                if not await self._print(printer, log, ticket, numbers[start : start + BATCH], progress, patience):
                    return

    async def _print(self, printer: Door, log: RunLog, ticket: Ticket, numbers: list[int], progress: Progress,
                     patience: Patience) -> bool:
        """One job to its end; whether it completed."""
        data = ticket.data([image for number in numbers for image in [self._picture(number)] * self.head.copies])
        key = max(self.jobs, default=0) + 1
        job = RunJob(name=f"gearkeep {self.head.run} {key}", labels=tuple(numbers))
        log.add({"job": key, "name": job.name, "labels": numbers})
        self.jobs[key] = job
        try:
            job.id = await place(printer, job.name, ticket, data, patience, self._teller(progress))
        except NotTaken:
            self._ended(log, key, NOT_TAKEN)
            raise
        if job.id is None:
            return False
        log.add({"job": key, "id": job.id})
        return self._noted(log, key, await follow(printer, job.id, job.name, patience, self._teller(progress)), progress)

    async def _settle(self, printer: Door, log: RunLog, progress: Progress, patience: Patience) -> None:
        for key, job in self.jobs.items():
            if job.end is not None:
                continue
            found = await find_job(printer, job.id, job.name)
            if found and job.id != found.id:
                job.id = found.id
                log.add({"job": key, "id": found.id})
            if found and not found.state.final:
                found = await follow(printer, found.id, job.name, patience, self._teller(progress))
            self._noted(log, key, found, progress)

    def _noted(self, log: RunLog, key: int, report: JobReport | None, progress: Progress) -> bool:
        """Note how a job ended, where the printer says so; whether it completed."""
        if report is not None:
            self._ended(log, key, report.state.word)
            self._teller(progress)(f"job {report.id} is {report.state.word}")
        return report is not None and report.state is JobState.COMPLETED

    def _ended(self, log: RunLog, key: int, end: str) -> None:
        log.add({"job": key, "end": end})
        self.jobs[key].end = end

    def _teller(self, progress: Progress) -> Callable[[str], None]:
        return lambda says: progress(len(self._printed()), len(self.names), says)

    def _picture(self, number: int) -> Image.Image:
        return picture(self.folder / self.files[number], self.names[number])
