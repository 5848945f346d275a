"""A schedule file read before anything is signed: its translation, its mapping kept, its rejected rows given back."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from vault.actions.handover_site import Newest, Site
from vault.db.audit import Progress, quiet
from vault.domain.driver import DriverModel
from vault.exchange.schedule_mapping import COLUMN, ScheduleMapping, write_mapping_file
from vault.exchange.schedule_translation import Translation, translate
from vault.trust.statements import Kind

if TYPE_CHECKING:
    from vault.actions.desk import Desk
    from vault.actions.handover_result import HandoverResult


def look(desk: Desk, path: Path, *, mapping: ScheduleMapping | None = None, progress: Progress = quiet) -> Translation:
    """What a file says in our columns, and what it leaves open, against what the vault knows now. Signs nothing."""
    with desk.vault.reading() as session:
        site = Site(session)
        models: Newest[DriverModel] = Newest(session, Kind.DRIVER_MODEL)
        return translate(path, ratings=site.ratings, lines=site.lines, circuits=site.circuits, drivers=models,
                         mapping=mapping or ScheduleMapping(), progress=progress)


def save_mapping(path: Path, seen: Translation, mapping: ScheduleMapping) -> None:
    """Keep what was decided and what the file's own headings decided, with the open questions to be answered there."""
    columns = {one.heading: one.field for one in seen.columns if one.field} | dict(mapping.columns)
    answered = {key.removesuffix(f": {COLUMN}"): word for key, word in mapping.answers.items() if key.endswith(f": {COLUMN}")}
    kept = replace(mapping, sheet=seen.raw.sheet if seen.several_sheets else mapping.sheet, columns=columns | answered,
                   heading_row=seen.heading_row or mapping.heading_row,
                   answers={key: word for key, word in mapping.answers.items() if not key.endswith(f": {COLUMN}")})
    write_mapping_file(path, kept, seen.questions)


def write_back(path: Path, seen: Translation, result: HandoverResult) -> bool:
    """Write the rows of every rejected luminaire as a file of the same kind. False where there is none."""
    from vault.exchange.rejected_rows import write_rejected_rows

    if not result.rejected:
        return False
    write_rejected_rows(path, seen, result.rejected, result.kin)
    return True
