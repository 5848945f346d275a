"""What a readback file says, gathered field by field with everything that is wrong in it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from vault.domain.readback_evidence import evidence_wrong, is_evidence
from vault.domain.schema import from_words, words
from vault.domain.settings import Duty
from vault.domain.tag import parse_tag
from vault.errors import GearkeepError
from vault.exchange.assign import ValueProblem
from vault.exchange.plain import nearest, shown
from vault.exchange.readback_value import spec_of

# The key of a readback that does not say which gear it is of: the luminaire has but one.
ONLY_GEAR = ""
_EXACT = "allowed whole numbers, texts and lists of whole numbers"
_LAST_VERSION = 100_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Readback:
    """tag, version: of the record that it was read against, None where the file does not say.

    gears: a gear's duty in words, or "" where the file names none -> dotted field -> plain value. What was not read is
    left out.
    """

    tag: str | None
    version: int | None
    gears: dict[str, dict[str, object]]


class ReadbackProblem(GearkeepError):
    """A readback file is wrong; all that is wrong is told. Kind: bad-readback."""

    def __init__(self, path: Path, wrong: list[str]) -> None:
        super().__init__(f"{path.name} cannot be taken as a readback: {'; '.join(wrong)}",
                         hint="export it again, or correct the file", kind="bad-readback")


class Float:
    """A number with a point or an exponent: readbacks are exact, so it is refused where it stands."""

    def __init__(self, said: str) -> None:
        self.said = said


class Pairs(list[tuple[str, Any]]):
    """An object of a JSON file with its names as they stand, doubles included."""


def field_wrong(field: str) -> str:
    """What is wrong with a field's name, or the empty text."""
    try:
        spec_of(field)
    except ValueProblem as error:
        return f"{error.what}{f' ({error.hint})' if error.hint else ''}"
    return ""


def inexact(value: object) -> str:
    """What is wrong with a value out of a JSON file, or the empty text."""
    if isinstance(value, Float):
        return f"found {value.said}, {_EXACT}"
    if isinstance(value, bool):
        return f"found {str(value).lower()}, {_EXACT}"
    if isinstance(value, Pairs):
        return f"found an object, {_EXACT}"
    if isinstance(value, list):
        return next((f"found nothing, {_EXACT}" if one is None else wrong for one in value
                     if (wrong := inexact(one)) or one is None), "")
    return ""


def gear_name(said: str, wrong: list[str]) -> str:
    duty = from_words(Duty, said)
    if duty is None:
        known = [words(member) for member in Duty]
        wrong.append(f"{said!r} is no gear: {nearest(said, known) or 'one of ' + ', '.join(known)}")
        return said
    return words(duty)


class Gathered:
    """What a file says, gathered with everything that is wrong; told at the end in one message."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self.wrong: list[str] = []
        self._tag: str | None = None
        self._version: int | None = None
        self._asked: dict[str, set[str]] = {}
        self._gears: dict[str, dict[str, object]] = {}

    def bound(self, name: str, value: object) -> None:
        """The tag or the version."""
        if value is None:
            return
        if name == "version":
            if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= _LAST_VERSION:
                said = value.said if isinstance(value, Float) else shown(value)
                self.wrong.append(f"version: found {said}, allowed a whole number 1 to {_LAST_VERSION}")
            else:
                self._version = value
            return
        try:
            self._tag = parse_tag(value if isinstance(value, str) else shown(value))
        except GearkeepError as problem:
            self.wrong.append(f"tag: {problem.what}")

    def field(self, gear: str, field: str, value: object, problem: str, where: str) -> None:
        """One field; None is one that was not read."""
        asked = self._asked.setdefault(gear, set())
        if field in asked:
            problem = "stands twice" if not where.startswith("row") else f"stands twice for {gear or 'the gear'}"
        asked.add(field)
        problem = problem or field_wrong(field)
        if not problem and value is not None and is_evidence(field):
            problem = evidence_wrong(field, value)
        if problem:
            self.wrong.append(f"{where}{field}: {problem}")
        elif value is not None:
            self._gears.setdefault(gear, {})[field] = value

    def readback(self) -> Readback:
        """All of it. Raises ReadbackProblem."""
        if not self.wrong and not self._asked:
            self.wrong.append("no field was read")
        elif not self.wrong and not self._gears:
            self.wrong.append("nothing was filled in")
        if self.wrong:
            raise ReadbackProblem(self._path, self.wrong)
        return Readback(tag=self._tag, version=self._version, gears=self._gears)
