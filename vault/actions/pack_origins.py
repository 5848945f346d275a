"""The pack's word on other vaults' luminaires: which were taken over, and which of them are this vault's own by now."""

from __future__ import annotations

from collections.abc import Iterator

from vault.db import taken
from vault.db.session import Session
from vault.db.taken import TakenLog
from vault.domain.tag import shown
from vault.exchange.pack_paper import PaperSection, PaperTable
from vault.trust.signers import day_of


def origins(session: Session) -> Iterator[PaperSection]:
    """A section where anything was taken over, else none."""
    logs = taken.taken_logs(session)
    if not logs:
        return
    adopted = {log.log_id: list(_adopted(session, log)) for log in logs}
    rows = [(log.site, log.host, log.log_id.hex(), day_of(log.time_s), str(log.size),
             str(len(taken.tags_of(session, log.log_id))), str(len(adopted[log.log_id]))) for log in logs]
    yield PaperSection(
        key="origins", title="Taken over from other vaults",
        paragraphs=("The luminaires of these vaults are kept here as their own signers signed them. Those that were adopted are "
                    "this vault's own and stand in the schedule under the tags that they have here. The others do not stand in "
                    "this pack: keep the pack of their own vault beside it.",),
        tables=(PaperTable(headings=("Site", "Host", "Log", "Taken over", "Entries", "Luminaires", "Adopted"),
                           widths=(120, 90, 130, 56, 44, 50, 44), rows=rows),
                PaperTable(headings=("Tag here", "Tag there", "Site"), widths=(60, 60, 410),
                           rows=[row for some in adopted.values() for row in some])))


def _adopted(session: Session, log: TakenLog) -> Iterator[tuple[str, str, str]]:
    for tag in taken.tags_of(session, log.log_id):
        for own in taken.adopted_as(session, log.log_id, tag):
            yield shown(own), shown(tag), log.site
