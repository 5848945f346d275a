"""What the codes of one source say: its labels, both codes of each taken together, and what is no luminaire's label."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from labels.reading import FoundCode, Reading, beside, nothing_read, on_same_label
from vault.actions.keeping import is_checkpoint
from vault.domain.tag import shown
from vault.errors import GearkeepError, VerificationError
from vault.trust.capsule import LabelText, parse_text
from vault.trust.grant_code import is_grant_code
from vault.trust.place_link import Place, PlaceText, parse_place

PLACES = {Place.BIN: "a bin of the store", Place.SPARE: "a spare", Place.LINE: "a control line"}
FIRST_CHARACTERS = 60

Read = tuple[FoundCode, LabelText]


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What a source says. labels: one for each tag and record; problems: what cannot be taken for a label, and why; notes:
    what else was seen beside the labels.
    """

    labels: tuple[LabelText, ...] = ()
    problems: tuple[GearkeepError, ...] = ()
    notes: tuple[str, ...] = ()


class PlaceLabel(VerificationError):
    """A label that stands on no luminaire. read: what its link says."""

    def __init__(self, read: PlaceText) -> None:
        super().__init__(f"This label stands on {PLACES[read.place]}, not on a luminaire: {', '.join(read.names)}.",
                         kind="place-code", hint="Scan the label on the luminaire's housing.")
        self.read = read


def parse_code(text: str, file: str) -> LabelText:
    """What a code says. Codes of this program's own that stand on no luminaire are named for what they are.
    file: where it was read, to be handed on.

    Raises GearkeepError or VerificationError: checkpoint-code, signers-code, place-code, foreign-code, and those of
    vault.trust.capsule.parse_text.
    """
    if is_checkpoint(text):
        raise VerificationError("This is a signed checkpoint of the journal, not a label.", kind="checkpoint-code",
                                hint=f"Hold the vault against it: gearkeep audit --checkpoint {file}")
    if is_grant_code(text):
        raise VerificationError("This is a code of a page of signers, not a label.", kind="signers-code",
                                hint="Such pages bring a lost vault's signers back: gearkeep rebuild --from-labels FOLDER")
    place = parse_place(text)
    if place is not None:
        raise PlaceLabel(place)
    try:
        return parse_text(text)
    except GearkeepError as problem:
        if problem.kind != "foreign-link":
            raise
        raise VerificationError(f"The code begins {text.strip()[:FIRST_CHARACTERS]!r}, which is no label of this kind.",
                                kind="foreign-code", hint=problem.hint) from None


def _code_in_picture(code: FoundCode, file: str) -> LabelText | GearkeepError:
    try:
        return parse_code(code.text, file)
    except GearkeepError as problem:
        if problem.kind != "bad-tag" or re.search("[/#]", code.text):
            return problem
        # Nobody typed it: a code that holds neither a link nor a tag is somebody else's.
        return VerificationError(f"The code begins {code.text[:FIRST_CHARACTERS]!r}, which is no label of this kind.",
                                 kind="foreign-code", hint="Scan the luminaire's own label.")


def said_by(readings: Iterable[Reading], name: str, file: str, *, film: bool = False) -> Said:
    """Everything that one source says, a film's frames taken together. In a film codes are passed by and blurred, so that
    one left unread says nothing.
    """
    labels: list[LabelText] = []
    problems: list[GearkeepError] = []
    notes: list[str] = []
    for reading in readings:
        read = [(code, _code_in_picture(code, file)) for code in reading.codes]
        good = [(code, label) for code, label in read if isinstance(label, LabelText)]
        problems += [problem for _, problem in read if isinstance(problem, GearkeepError)]
        spoilt = set()
        for (code, link), (other, capsule) in _disagreeing(good):
            problems.append(_disagreement(link, capsule))
            spoilt |= {code, other}
        labels += [label for code, label in good if code not in spoilt]
        for broken in () if film else reading.unread:
            if any(beside(broken, code) for code, _ in good):
                notes.append("One code of a label could not be read; the other one was.")
            else:
                problems.append(_damaged(name))
    foreign = [problem for problem in problems if problem.kind == "foreign-code"]
    if labels:
        # A maker's own code on the housing is no fault of the label.
        problems = [problem for problem in problems if problem.kind != "foreign-code"]
        notes += [f"Beside it: {problem.what}" for problem in foreign]
    once = {(problem.kind, problem.what): problem for problem in problems}
    return Said(labels=tuple(fullest(labels)), problems=tuple(once.values()), notes=tuple(dict.fromkeys(notes)))


def _damaged(name: str) -> GearkeepError:
    problem = nothing_read(name, damaged=1)
    return VerificationError(problem.what, kind=problem.kind, hint=problem.hint)


def fullest(labels: Iterable[LabelText]) -> list[LabelText]:
    """One for each tag and record: a link alone counts only where no code of the same label carries the record."""
    held = list(dict.fromkeys(labels))
    whole = {(label.host, label.tag) for label in held if label.signed_bytes is not None}
    return [label for label in held if label.signed_bytes is not None or (label.host, label.tag) not in whole]


def _name(label: LabelText) -> tuple[str | None, str]:
    return label.host, label.tag


def _disagreeing(good: Sequence[Read]) -> list[tuple[Read, Read]]:
    """Link and capsule that stand on one label and name different luminaires, where neither has its own partner."""
    links = [one for one in good if one[1].signed_bytes is None]
    capsules = [one for one in good if one[1].signed_bytes is not None]
    paired = {_name(label) for _, label in links} & {_name(label) for _, label in capsules}
    return [(link, capsule) for link in links for capsule in capsules if _name(link[1]) not in paired
            and _name(capsule[1]) not in paired and on_same_label(link[0], capsule[0])]


def _disagreement(link: LabelText, capsule: LabelText) -> GearkeepError:
    names = f"the small code names {shown(link.tag)}, the large one {shown(capsule.tag)}"
    if link.tag == capsule.tag:
        names = f"the small code names {link.host}, the large one {capsule.host}"
    return VerificationError(f"The two codes of one label disagree: {names}.", kind="codes-disagree",
                             hint="Do not use this label: it was tampered with, or two labels overlap. Look at the text, "
                                  "and ask the vault.")
