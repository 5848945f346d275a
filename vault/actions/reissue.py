"""A label in the place of one that is gone: the old copies withdrawn and the new one printed, together or not at all."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from labels.media import MEDIA, Medium
from vault.actions.desk import Desk
from vault.actions.labelling import Printed, Wanted, print_in
from vault.actions.luminaire import find_tag, require_settled, view
from vault.domain.tag import to_bytes
from vault.trust.statements import IssueReason, Kind, LabelCopy, LabelWithdrawal


@dataclass(frozen=True, slots=True, kw_only=True)
class Reissued:
    """withdrawn: numbers of the copies that count no more; copy: the number of the new one."""

    printed: Printed
    withdrawn: tuple[int, ...]
    copy: int


def reissue(desk: Desk, tag_text: str, because: str, *, out: Path, medium: Medium = MEDIA["60x40"],
            link_only: bool = False) -> Reissued:
    """Withdraw every copy that stands and print a new one to a PDF, PNG, SVG or PWG raster file.

    Nothing is signed unless the file is written. Raises GearkeepError: conflict, retired, frozen; and what print_labels raises.
    """
    key = desk.key()
    with desk.vault.writing() as session:
        seen = view(session, find_tag(session, tag_text))
        require_settled(seen)
        standing = tuple(label.copy for label in seen.labels if not label.withdrawn)
        if standing:
            session.append(Kind.LABEL_WITHDRAWAL, LabelWithdrawal(
                time_s=desk.now_s(), reason=because,
                labels=tuple(LabelCopy(tag=to_bytes(seen.tag), copy=copy) for copy in standing)), key)
        wanted = Wanted(link_only=link_only, why=IssueReason.REPLACEMENT if seen.labels else IssueReason.FIRST)
        printed = print_in(session, desk, [seen.tag], wanted, out=out, medium=medium)
    return Reissued(printed=printed, withdrawn=standing, copy=1 + max((label.copy for label in seen.labels), default=0))
