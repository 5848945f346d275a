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
from vault.trust.place_link import Place, parse_place

PLACES = {Place.BIN: "a bin of the store", Place.SPARE: "a spare", Place.LINE: "a control line"}
FIRST_CHARACTERS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What a source says. labels: one for each tag and record; problems: what cannot be taken for a label, and why; notes:
    what else was seen beside the labels.
    """

    labels: tuple[LabelText, ...] = ()
    problems: tuple[GearkeepError, ...] = ()
    notes: tuple[str, ...] = ()


def parse_code(text: str, source: str) -> LabelText:
    """What a code says. Codes of this program's own that stand on no luminaire are named for what they are.

    Raises GearkeepError or VerificationError: checkpoint-code, signers-code, place-code, foreign-code, and those of
    vault.trust.capsule.parse_text.
    """
    if is_checkpoint(text):
        raise VerificationError("This is a signed checkpoint of the journal, not a label.", kind="checkpoint-code",
                                hint=f"Hold the vault against it: gearkeep audit --checkpoint {source}")
    if is_grant_code(text):
        raise VerificationError("This is a code of a page of signers, not a label.", kind="signers-code",
                                hint="Such pages bring a lost vault's signers back: gearkeep rebuild --from-labels FOLDER")
    place = parse_place(text)
    if place is not None:
        raise VerificationError(f"This label stands on {PLACES[place.place]}, not on a luminaire: {', '.join(place.names)}.",
                                kind="place-code", hint="Scan the label on the luminaire's housing.")
    try:
        return parse_text(text)
    except GearkeepError as problem:
        if problem.kind != "foreign-link":
            raise
        raise VerificationError(f"The code begins {text.strip()[:FIRST_CHARACTERS]!r}, which is no label of this kind.",
                                kind="foreign-code", hint=problem.hint) from None


def _code_in_picture(code: FoundCode, source: str) -> LabelText | GearkeepError:
    try:
        return parse_code(code.text, source)
    except GearkeepError as problem:
        if problem.kind != "bad-tag" or re.search("[/#]", code.text):
            return problem
        # Nobody typed it: a code that holds neither a link nor a tag is somebody else's.
        return VerificationError(f"The code begins {code.text[:FIRST_CHARACTERS]!r}, which is no label of this kind.",
                                 kind="foreign-code", hint="Scan the luminaire's own label.")


def said_by(readings: Iterable[Reading], source: str) -> Said:
    """Everything that one source says, a film's frames taken together."""
    labels: list[LabelText] = []
    problems: list[GearkeepError] = []
    unread: list[GearkeepError] = []
    notes: list[str] = []
    for reading in readings:
        read = [(code, _code_in_picture(code, source)) for code in reading.codes]
        good = [(code, label) for code, label in read if isinstance(label, LabelText)]
        problems += [problem for _, problem in read if isinstance(problem, GearkeepError)]
        apart = _disagreeing(good)
        problems += [_disagreement(link, capsule) for link, capsule in apart]
        spoilt = {id(label) for pair in apart for label in pair}
        labels += [label for _, label in good if id(label) not in spoilt]
        for broken in reading.unread:
            if any(beside(broken, code) for code, _ in good):
                notes.append("One code of a label could not be read; the other one was.")
            else:
                unread.append(_damaged(source))
    held, films = fullest(labels), not isinstance(readings, Sequence) or len(readings) > 1
    foreign = [problem for problem in problems if problem.kind == "foreign-code"]
    if held and foreign:
        problems = [problem for problem in problems if problem.kind != "foreign-code"]
        notes += [f"Beside it: {problem.what}" for problem in foreign]
    return Said(labels=tuple(held), problems=_each_once(problems + ([] if films else unread)), notes=tuple(dict.fromkeys(notes)))


def _damaged(source: str) -> GearkeepError:
    problem = nothing_read(source, damaged=1)
    return VerificationError(problem.what, kind=problem.kind, hint=problem.hint)


def _each_once(problems: Iterable[GearkeepError]) -> tuple[GearkeepError, ...]:
    return tuple({(problem.kind, problem.what): problem for problem in problems}.values())


def fullest(labels: Iterable[LabelText]) -> list[LabelText]:
    """One for each tag and record: a link alone counts only where no code of the same label carries the record."""
    held = list(dict.fromkeys(labels))
    whole = {(label.host, label.tag) for label in held if label.signed_bytes is not None}
    return [label for label in held if label.signed_bytes is not None or (label.host, label.tag) not in whole]


def _name(label: LabelText) -> tuple[str | None, str]:
    return label.host, label.tag


def _disagreeing(good: Sequence[tuple[FoundCode, LabelText]]) -> list[tuple[LabelText, LabelText]]:
    """Link and capsule that stand on one label and name different luminaires, where neither has its own partner."""
    links = [(code, label) for code, label in good if label.signed_bytes is None]
    capsules = [(code, label) for code, label in good if label.signed_bytes is not None]
    paired = {_name(label) for _, label in links} & {_name(label) for _, label in capsules}
    return [(label, other) for code, label in links for capsule, other in capsules
            if _name(label) not in paired and _name(other) not in paired and on_same_label(code, capsule)]


def _disagreement(link: LabelText, capsule: LabelText) -> GearkeepError:
    names = f"the small code names {shown(link.tag)}, the large one {shown(capsule.tag)}"
    if link.tag == capsule.tag:
        names = f"the small code names {link.host}, the large one {capsule.host}"
    return VerificationError(f"The two codes of one label disagree: {names}.", kind="codes-disagree",
                             hint="Do not use this label: it was tampered with, or two labels overlap. Look at the text, "
                                  "and ask the vault.")
