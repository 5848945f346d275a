"""What becomes of printed labels: withdrawn, found elsewhere, listed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from vault.actions.desk import Desk
from vault.actions.label_copies import HeldLabel, held_labels
from vault.actions.luminaire import View, find_tag, view
from vault.db.session import Vault
from vault.domain.findings import Finding
from vault.domain.label_freeze import FREEZING
from vault.domain.places import same_place
from vault.domain.tag import shown, to_bytes
from vault.errors import UsageProblem
from vault.trust.statements import Kind, LabelCopy, LabelSighting, LabelWithdrawal, SeenLabel


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelList:
    """Every copy of one luminaire's label, oldest first, and what is wrong with them."""

    tag: str
    place: str
    version: int
    retired: bool
    copies: tuple[HeldLabel, ...]
    findings: tuple[Finding, ...]

    @property
    def frozen(self) -> bool:
        """Whether its labels freeze swaps and printing."""
        return any(finding.rule in FREEZING for finding in self.findings)


def label_list(vault: Vault, tag_text: str) -> LabelList:
    """The copies of a luminaire's label. Raises GearkeepError (not-found, bad-tag)."""
    with vault.reading() as session:
        seen = view(session, find_tag(session, tag_text))
        held = held_labels(session, seen.tag, seen.statement)
    return LabelList(tag=seen.tag, place=seen.record.place, version=seen.record.version, retired=seen.retired,
                     copies=held.copies, findings=held.findings)


def _known_copy(seen: View, copy: int) -> HeldLabel:
    found = next((label for label in seen.labels if label.copy == copy), None)
    if found is None:
        numbers = ", ".join(str(label.copy) for label in seen.labels)
        raise UsageProblem(f"{shown(seen.tag)} has no label copy {copy}.", kind="no-label",
                           hint=f"It has: {numbers}." if numbers else "No label was ever printed for it.")
    return found


def _to_withdraw(seen: View, copies: Sequence[int] | None) -> tuple[int, ...]:
    if copies is None:
        standing = tuple(label.copy for label in seen.labels if not label.withdrawn)
        if not standing:
            raise UsageProblem(f"{shown(seen.tag)} has no label to withdraw.", kind="no-label",
                               hint="See its labels with: gearkeep labels TAG.")
        return standing
    for label in (_known_copy(seen, copy) for copy in copies):
        # One that turned up after it was withdrawn may be withdrawn once more.
        if label.withdrawn and not (label.elsewhere or label.life.perhaps_at):
            raise UsageProblem(f"Label copy {label.copy} of {shown(seen.tag)} is withdrawn already.", kind="withdrawn")
    return tuple(dict.fromkeys(copies))


def withdraw_label(desk: Desk, tag_text: str, copies: Sequence[int] | None, because: str) -> tuple[int, ...]:
    """These copies (None: all that are not withdrawn) no longer count; returns their numbers.

    Raises UsageProblem: no-label, withdrawn. Nothing is signed unless all of them can be withdrawn.
    """
    with desk.vault.writing() as session:
        seen = view(session, find_tag(session, tag_text))
        chosen = _to_withdraw(seen, copies)
        body = LabelWithdrawal(time_s=desk.now_s(), reason=because,
                               labels=tuple(LabelCopy(tag=to_bytes(seen.tag), copy=copy) for copy in chosen))
        session.append(Kind.LABEL_WITHDRAWAL, body, desk.key())
    return chosen


def _settles(seen: View) -> bool:
    """Whether there is something about its own labels that seeing one in its place may end."""
    return any(finding.rule in ("label-elsewhere", "label-housing", "label-type") for finding in seen.findings)


def sight_label(desk: Desk, tag_text: str, place: str, copy: int | None, type_code: str | None = None, *,
                on_housing: bool | None = True) -> LabelList:
    """A label was found at another place than its luminaire's, or on a housing of another type; returns the copies with what
    is wrong now. At its own place, on a housing of no other type, it settles what was found about it before.

    copy: its number, None where nobody could read it. type_code: of the housing that bears it. on_housing: False for a label
    that lies loose, None where nobody said. Raises UsageProblem: no-label for a copy never printed, same-place where the label
    is where it belongs and nothing is to be settled, bad-search for a type of a label that lies loose.
    """
    with desk.vault.writing() as session:
        seen = view(session, find_tag(session, tag_text))
        if copy is not None:
            _known_copy(seen, copy)
        if type_code is not None and on_housing is False:
            raise UsageProblem("A label that lies loose is on no housing of any type.", kind="bad-search",
                               hint="Give the type, or say that it lies loose.")
        agrees = same_place(place, seen.record.place) and type_code in (None, seen.record.fixture_type.code)
        if agrees and not _settles(seen):
            raise UsageProblem(f"{seen.record.place} is where {shown(seen.tag)} hangs by its record.", kind="same-place",
                               hint="A label that is where it belongs is signed with: gearkeep placed TAG (--copy N).")
        found = SeenLabel(tag=to_bytes(seen.tag), place=" ".join(place.split()), copy=copy, type_code=type_code,
                          on_housing=on_housing)
        session.append(Kind.LABEL_SIGHTING, LabelSighting(time_s=desk.now_s(), labels=(found,)), desk.key())
    return label_list(desk.vault, tag_text)
