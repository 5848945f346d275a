"""Labels into files: drawn, proved, and signed for, together or not at all."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from labels.content import LabelContent
from labels.drawing import Drawn, quiet, write_pdf, write_png, write_pwg, write_svg
from labels.errors import LabelError
from labels.media import MEDIA, PAGES, Medium, Sheet, grid
from labels.media_file import OwnMedia, read_media
from vault.actions.desk import Desk
from vault.actions.label_content import content_of
from vault.actions.luminaire import View, find_tag, require_settled, view
from vault.db import queries
from vault.db.session import Session
from vault.domain.record import Reason
from vault.domain.tag import to_bytes
from vault.errors import GearkeepError, UsageProblem
from vault.trust.statements import IssuedLabel, IssueReason, Kind, LabelIssue

Progress = Callable[[int, int], None]
ISSUED_AT_ONCE = 500  # labels that one statement holds


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """Which labels: named by tag, all of a control line, or everything in service. link_only: a label may bear the link
    alone where its record finds no room. why: None leaves the reason of a further copy to the record that stands.
    """

    texts: Sequence[str] = ()
    line: str | None = None
    everything: bool = False
    link_only: bool = False
    why: IssueReason | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Printed:
    """Labels that were drawn and signed for.

    without_settings: tags whose settings did not fit into the code. left_off: (tag, small lines that found no room).
    beside: tags that had a label of the same version already; replaced: tags whose earlier labels no longer count.
    """

    path: Path
    tags: tuple[str, ...]
    without_settings: tuple[str, ...]
    left_off: tuple[tuple[str, tuple[str, ...]], ...]
    beside: tuple[str, ...]
    replaced: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """What is signed for one label once it is drawn."""

    tag: str
    record_digest: bytes
    copy: int
    why: IssueReason


def medium_named(name: str, dpi: int, own: OwnMedia | None = None) -> Medium:
    """A label size for a printer of that many dots an inch. Raises UsageProblem naming the sizes there are."""
    known = {**MEDIA, **(own.media if own else {})}
    if name not in known:
        raise UsageProblem(f"There is no label size {name}.", kind="bad-medium",
                           hint=f"There is: {', '.join(known)}. --media FILE adds sizes of your own.")
    return replace(known[name], dpi=dpi)


def sheet_named(name: str, medium: Medium, own: OwnMedia | None = None) -> Sheet:
    """A page of labels: one of the user's own, or as many as a page takes. Raises UsageProblem or LabelError."""
    if own is not None and name in own.sheets:
        return own.sheets[name]
    if name not in PAGES:
        known = (*PAGES, *(own.sheets if own else ()))
        raise UsageProblem(f"There is no sheet {name}.", kind="bad-medium",
                           hint=f"There is: {', '.join(known)}. --media FILE adds sheets of your own.")
    return grid(name, medium)


def own_media(path: Path | None) -> OwnMedia | None:
    """The user's sizes and sheets, where a file of them was given."""
    return read_media(path) if path is not None else None


def tags_to_print(session: Session, wanted: Wanted) -> list[str]:
    """The tags asked for, in the order of the drawing references where all are. Raises UsageProblem (not-found)."""
    if wanted.everything or wanted.line is not None:
        rows = [row for row in queries.head_rows(session, line=wanted.line) if row.reason != Reason.RETIRED]
        rows.sort(key=lambda row: (row.reference or "", row.tag))
        tags = list(dict.fromkeys(row.tag for row in rows))
    else:
        tags = list(dict.fromkeys(find_tag(session, text) for text in wanted.texts))
    if not tags and wanted.line is not None:
        raise UsageProblem(f"No luminaire in service is on the line {wanted.line}.", kind="not-found",
                           hint="See the lines with: gearkeep line list.")
    if not tags:
        raise UsageProblem("No luminaire was named.", kind="not-found", hint="Give tags, --line NAME or --all.")
    return tags


def due(seen: View, why: IssueReason | None) -> Due:
    """What a label printed now is, beside the copies that there are."""
    digest = seen.statement.digest[:8]
    standing = [copy for copy in seen.labels if not copy.withdrawn]
    if why is None:
        # Another copy of the same version stands beside the others; one of a newer version takes their place.
        same = any(copy.record_prefix == digest for copy in standing)
        why = IssueReason.REPRINT if same else IssueReason.REPLACEMENT if standing else IssueReason.FIRST
    return Due(tag=seen.tag, record_digest=digest, why=why,
               copy=1 + max((copy.copy for copy in seen.labels), default=0))


def contents_of(session: Session, tags: Sequence[str], wanted: Wanted, dues: list[Due]) -> Iterator[LabelContent]:
    """What each label says, one after the other; `dues` takes what has to be signed for it. Raises GearkeepError."""
    refused: list[GearkeepError] = []
    for tag in tags:
        seen = view(session, tag)
        try:
            require_settled(seen)
        except GearkeepError as problem:
            if len(tags) == 1:
                raise
            refused.append(problem)
            continue
        dues.append(due(seen, wanted.why))
        yield content_of(session, seen, capsule_optional=wanted.link_only)
    if refused:
        raise GearkeepError(f"{len(refused)} of {len(tags)} luminaires cannot be labelled, and no label was made. "
                            + " ".join(problem.what for problem in refused), hint=refused[0].hint, kind=refused[0].kind)


def sign_issue(session: Session, desk: Desk, medium: Medium, pairs: Sequence[tuple[Due, Drawn]]) -> None:
    """Sign that these labels were issued, those of one reason together."""
    for why in IssueReason:
        issued = tuple(IssuedLabel(tag=to_bytes(one.tag), record_digest=one.record_digest, copy=one.copy,
                                   carries_settings=done.carries_settings) for one, done in pairs if one.why is why)
        for start in range(0, len(issued), ISSUED_AT_ONCE):
            session.append(Kind.LABEL_ISSUE, LabelIssue(time_s=desk.now_s(), medium=medium.name, why=why,
                                                        labels=issued[start : start + ISSUED_AT_ONCE]), desk.key())


def print_labels(desk: Desk, wanted: Wanted, *, out: Path, medium: Medium = MEDIA["60x40"], sheet: Sheet | None = None,
                 progress: Progress = quiet) -> Printed:
    """Draw labels to a PDF, PNG, SVG or PWG raster file and sign that they were issued, together or not at all."""
    desk.key()
    with desk.vault.writing() as session:
        return print_in(session, desk, tags_to_print(session, wanted), wanted, out=out, medium=medium, sheet=sheet,
                        progress=progress)


def print_in(session: Session, desk: Desk, tags: Sequence[str], wanted: Wanted, *, out: Path, medium: Medium,
             sheet: Sheet | None = None, progress: Progress = quiet) -> Printed:
    """The same within a transaction, whose end makes it count."""
    dues: list[Due] = []
    drawn = _draw(out, contents_of(session, tags, wanted, dues), len(tags), medium, sheet, progress)
    sign_issue(session, desk, medium, list(zip(dues, drawn, strict=True)))
    without = tuple(tag for tag, one in zip(tags, drawn, strict=True) if not one.carries_settings)
    left_off = tuple((tag, one.left_off) for tag, one in zip(tags, drawn, strict=True) if one.left_off)
    return Printed(path=out, tags=tuple(tags), without_settings=without, left_off=left_off,
                   beside=tuple(one.tag for one in dues if one.why is IssueReason.REPRINT),
                   replaced=tuple(one.tag for one in dues if one.why is IssueReason.REPLACEMENT))


def _draw(out: Path, contents: Iterator[LabelContent], count: int, medium: Medium, sheet: Sheet | None,
          progress: Progress) -> list[Drawn]:
    try:
        return _written(out, contents, count, medium, sheet, progress)
    except LabelError as problem:
        if problem.kind != "too-big":
            raise
        raise LabelError(problem.what, kind=problem.kind,
                         hint=f"{problem.hint} Or print the tag alone with --link-only.") from problem


def _written(out: Path, contents: Iterator[LabelContent], count: int, medium: Medium, sheet: Sheet | None,
             progress: Progress) -> list[Drawn]:
    suffix = out.suffix.lower()
    if suffix == ".pdf":
        return write_pdf(out, contents, medium, progress, total=count, sheet=sheet)
    if suffix == ".pwg":
        if sheet is not None:
            raise UsageProblem("A PWG raster holds one label a page and no sheet.", kind="bad-format",
                               hint="Give a file name that ends in .pdf, or leave --sheet off.")
        return write_pwg(out, contents, medium, progress, total=count)
    writer = {".png": write_png, ".svg": write_svg}.get(suffix)
    if writer is None:
        raise UsageProblem(f"{out.name} is no PDF, PNG, SVG or PWG raster.", kind="bad-format",
                           hint="Give a file name that ends in .pdf, .png, .svg or .pwg.")
    if count != 1 or sheet is not None:
        raise UsageProblem(f"A {suffix[1:].upper()} holds one label, and {count} were asked for." if count != 1 else
                           f"A {suffix[1:].upper()} holds one label and no sheet.", kind="bad-format",
                           hint="Give a file name that ends in .pdf.")
    return [writer(out, next(contents), medium)]
