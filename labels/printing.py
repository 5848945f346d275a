"""Jobs of labels: handed to a printer, tried again while it is busy, followed to their end, found again later."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import Enum
from time import monotonic
from typing import Any

from PIL import Image

from labels.errors import LabelError
from labels.ipp import Attributes, Door, NoAnswer, Operation, Refused, gone, values
from labels.printer import RASTER, PrinterFacts
from labels.pwg import PixelKind, document

Tell = Callable[[str], None]

# RFC 8011 appendix B: what passes by itself, and what says that there is no such job.
_SERVICE_UNAVAILABLE, _TEMPORARY, _BUSY, _TOO_MANY_JOBS = 0x0502, 0x0505, 0x0507, 0x050B
_PASSING = frozenset((_SERVICE_UNAVAILABLE, _TEMPORARY, _BUSY, _TOO_MANY_JOBS))
_NOT_FOUND, _GONE = 0x0406, 0x0407
_JOB_ASKED = ("job-id", "job-name", "job-state", "job-state-reasons", "job-impressions-completed")


class JobState(Enum):
    """RFC 8011 clause 5.3.7."""

    PENDING = 3
    HELD = 4
    PROCESSING = 5
    STOPPED = 6
    CANCELED = 7
    ABORTED = 8
    COMPLETED = 9

    @property
    def final(self) -> bool:
        """Whether the job has ended."""
        return self.value >= JobState.CANCELED.value

    @property
    def word(self) -> str:
        """As in a sentence."""
        return self.name.lower()


@dataclass(frozen=True, slots=True, kw_only=True)
class JobReport:
    """What a printer says of a job. pages: how many it has printed, 0 where it does not say."""

    id: int
    name: str
    state: JobState
    reasons: tuple[str, ...]
    pages: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Patience:
    """Seconds: between two questions, for a busy printer in all, and for a job or printer that shows no change."""

    poll_s: float = 0.5
    busy_s: float = 600
    stall_s: float = 600


@dataclass(frozen=True, slots=True, kw_only=True)
class Ticket:
    """How the labels of a run are printed: the printer's name of the medium, dots an inch, form of its dots."""

    medium: str
    turned: bool
    dpi: int
    kind: PixelKind

    def attributes(self) -> Attributes:
        """Job attributes. Copies are pages of their own: printers may leave them out in raster jobs."""
        return {"copies": 1, "media": self.medium, "print-scaling": "none"}

    def data(self, images: Sequence[Image.Image]) -> bytes:
        """The document: one page a picture."""
        pages = (image.transpose(Image.Transpose.ROTATE_90) if self.turned else image for image in images)
        return b"".join(document(pages, dpi=self.dpi, kind=self.kind, medium=self.medium, pages=len(images)))


class NotTaken(LabelError):
    """The printer has taken nothing of the job."""


def ticket_for(facts: PrinterFacts, width_um: int, height_um: int, dpi: int) -> Ticket:
    """How that printer prints labels of that size. Raises LabelError: no-medium, no-format, no-resolution."""
    choice = facts.choose_medium(width_um, height_um)
    return Ticket(medium=choice.medium.name, turned=choice.turned, dpi=dpi, kind=facts.pixel_kind(dpi))


async def _told(printer: Door, operation: Operation, asked: Attributes, job: Attributes | None = None) -> dict[str, Any]:
    """An answer to a question that changes nothing. Raises LabelError (printer-refused, no-printer)."""
    try:
        return await printer.ask(operation, asked, job=job)
    except Refused as problem:
        raise _refused(problem) from problem
    except NoAnswer as problem:
        raise gone(printer.uri, str(problem)) from problem


async def check_ticket(printer: Door, ticket: Ticket) -> None:
    """Ask the printer whether it would take such a job as it is. Raises LabelError (printer-refused, no-printer)."""
    answer = await _told(printer, Operation.VALIDATE_JOB, {"document-format": RASTER}, ticket.attributes())
    if any("media" in group for group in answer["unsupported-attributes"]):
        raise LabelError(f"The printer would not print on the medium {ticket.medium}, which it named itself.",
                         kind="printer-refused", hint="Check which labels are loaded and set at the printer.")


async def place(printer: Door, name: str, ticket: Ticket, data: bytes, patience: Patience, tell: Tell) -> int | None:
    """Hand a job over; gives its number at the printer, or None where no answer came and the printer does not know it by
    its name either.

    Raises NotTaken: printer-busy, printer-refused, no-printer.
    """
    until, wait = monotonic() + patience.busy_s, patience.poll_s / 2
    while True:
        try:
            answer = await printer.ask(Operation.PRINT_JOB, {"job-name": name, "document-format": RASTER},
                                       job=ticket.attributes(), data=data)
            return int(answer["jobs"][0]["job-id"])
        except LabelError as problem:
            raise NotTaken(problem.what, hint=problem.hint, kind=problem.kind) from problem
        except NoAnswer:
            found = await find_job(printer, None, name)
            return found.id if found else None
        except Refused as problem:
            if problem.status not in _PASSING:
                raise _refused(problem) from problem
            if monotonic() + wait > until:
                raise NotTaken(f"The printer has been busy for {patience.busy_s:g} s.", kind="printer-busy",
                               hint="Wait until it has printed what it has, then resume the print run.") from problem
        tell(f"the printer is busy, trying again in {wait:.2g} s")
        await asyncio.sleep(wait)
        wait = min(2 * wait, 10 * patience.poll_s)


def _refused(problem: Refused) -> NotTaken:
    return NotTaken(f"The printer refuses ({_status_word(problem.status)}).", kind="printer-refused",
                    hint="Look at the printer's own display or page for the reason, then resume the print run.")


def _status_word(status: int) -> str:
    """As RFC 8011 appendix B writes it, or the number."""
    from pyipp.enums import IppStatus

    if status not in {one.value for one in IppStatus}:
        return f"IPP status {status:#06x}"
    side = "client" if status < 0x0500 else "server"
    return IppStatus(status).name.lower().replace("error_", f"{side}-error-").replace("_", "-")


async def find_job(printer: Door, job_id: int | None, name: str) -> JobReport | None:
    """A job by its number, or by its name where the number is not known or is another job's by now (printers may count
    anew when they start). Raises LabelError: no-printer, printer-refused.
    """
    if job_id is not None and (job := await _by_number(printer, job_id)) and job.name == name:
        return job
    for which in ("not-completed", "completed"):
        answer = await _told(printer, Operation.GET_JOBS, {"which-jobs": which, "requested-attributes": _JOB_ASKED})
        for told in answer["jobs"]:
            if told.get("job-name") == name:
                return _report(told)
    return None


async def _by_number(printer: Door, job_id: int) -> JobReport | None:
    asked = {"job-id": job_id, "requested-attributes": _JOB_ASKED}
    try:
        answer = await _told(printer, Operation.GET_JOB_ATTRIBUTES, asked)
    except LabelError as problem:
        if isinstance(refusal := problem.__cause__, Refused) and refusal.status in (_NOT_FOUND, _GONE):
            return None
        raise
    return _report(answer["jobs"][0]) if answer["jobs"] else None


def _report(told: Attributes) -> JobReport:
    pages = next(iter(values(told, "job-impressions-completed")), 0)
    return JobReport(id=int(told["job-id"]), name=str(told.get("job-name", "")), state=JobState(int(told["job-state"])),
                     reasons=tuple(one for one in values(told, "job-state-reasons") if one != "none"),
                     pages=pages if isinstance(pages, int) else 0)


async def follow(printer: Door, job_id: int, name: str, patience: Patience, tell: Tell) -> JobReport | None:
    """Wait until a job has ended; None when the printer no longer knows it.

    Raises LabelError: printer-stalled (nothing changed for too long; the job is still the printer's), no-printer,
    printer-refused.
    """
    seen, since = "", monotonic()
    while True:
        job = await find_job(printer, job_id, name)
        if job is None or job.state.final:
            return job
        says = f"job {job.id} is {job.state.word}"
        if job.pages:
            says += f", {job.pages} printed"
        if reasons := await _printer_reasons(printer):
            says += f"; the printer says {', '.join(reasons)}"
        if says != seen:
            seen, since = says, monotonic()
            tell(says)
        elif monotonic() - since > patience.stall_s:
            raise LabelError(f"Nothing has changed at the printer for {patience.stall_s:g} s: {says}.", kind="printer-stalled",
                             hint="See to the printer; it still has the job. Then resume the print run.")
        await asyncio.sleep(patience.poll_s)


async def _printer_reasons(printer: Door) -> tuple[str, ...]:
    """Why the printer does not print, in its own keywords; nothing where it prints."""
    answer = await _told(printer, Operation.GET_PRINTER_ATTRIBUTES, {"requested-attributes": ("printer-state-reasons",)})
    told = answer["printers"][0] if answer["printers"] else {}
    return tuple(one for one in values(told, "printer-state-reasons") if one != "none" and not one.endswith("-report"))
