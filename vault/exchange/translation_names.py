"""Names in somebody else's file held against the names that the vault knows: types, lines, circuits, driver models."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace

from vault.exchange.asked import Choice, FileQuestion
from vault.exchange.cell_reading import Said, Unclear
from vault.exchange.translation_columns import ReadColumn

NONE_OF_THEM = "none"
# One letter wrong is near only in a name that is long enough for the rest to say something.
_LONG = 5
_MOST_NEAR = 8
_MOST_TEXTS = 200  # what so many do not show, more do not either


def bare(name: str) -> str:
    """A name without what people write differently: case, spaces, hyphens, dots, strokes, marks of a footnote."""
    return re.sub(r"[\W_]+", "", name.casefold())


@dataclass(frozen=True, slots=True, kw_only=True)
class Names:
    """Known names of one kind, found by how they look. kind: "fixture type". load: the command that makes one known.
    preferred: those that most files mean.
    """

    kind: str
    load: str
    known: Collection[str]
    preferred: Collection[str] = ()
    _by_bare: dict[str, list[str]] = field(default_factory=dict)

    def alike(self, text: str) -> list[str]:
        """Known names that differ from a text in case and punctuation alone."""
        if not self._by_bare:
            for name in self.known:
                self._by_bare.setdefault(bare(name), []).append(name)
        return sorted(self._by_bare.get(bare(text), ())) if bare(text) else []

    def near(self, text: str) -> list[str]:
        """Known names that a text may well mean: alike, else with one letter wrong."""
        found, plain = self.alike(text), bare(text)
        if found or len(plain) < _LONG:
            return found
        from rapidfuzz.distance import OSA
        from rapidfuzz.process import extract

        close = extract(plain, list(self._by_bare), scorer=OSA.distance, score_cutoff=1, limit=_MOST_NEAR)
        return sorted(name for key, _, _ in close for name in self._by_bare[key])

    def choices(self, near: Sequence[str]) -> tuple[Choice, ...]:
        """What may be answered to "which of these?"."""
        return (*(Choice(word=name, says=f"the {self.kind} {name} of the vault") for name in near),
                Choice(word=NONE_OF_THEM, says=f"none of these; load it with {self.load}, till then the rows are rejected"))


def prefixes(texts: Collection[str], known: Collection[str]) -> list[str]:
    """What turns texts into known names when it stands before them, best first: "D" for 1 and 2 where D1 and D2 are known."""
    found: Counter[str] = Counter()
    for text in sorted(texts)[:_MOST_TEXTS]:
        for name in known:
            prefix = name[: len(name) - len(text)]
            # A figure cut off from a longer one is another number: 1 is not what stands in D11.
            if text and prefix and name.endswith(text) and not (prefix[-1].isdigit() and text[0].isdigit()):
                found[prefix] += 1
    return [prefix for prefix, _ in found.most_common(_MOST_NEAR)]


def answered(word: str, text: str) -> str:
    """The name that an answer about a text means; the text itself, which nobody knows, where it is none of them."""
    return text if word == NONE_OF_THEM else word


def resolve(column: ReadColumn, key: str, names: Names, answers: Mapping[str, str]) -> list[FileQuestion]:
    """Turn what a column's cells say for `key` into names that the vault knows; what is only near is asked once a text.

    What is near to nothing stays, and the strict reader says what is known.
    """
    said = {text: reading.values[key] for text, reading in column.readings.items()
            if isinstance(reading, Said) and reading.values.get(key)}
    unknown = {text: name for text, name in said.items() if name not in names.known}
    questions: list[FileQuestion] = []
    if unknown and len(unknown) == len(said) and key in ("line", "circuit", "central_circuit"):
        found = _by_prefix(column, key, unknown, names, answers)
        if found is not None:
            return found
    by_name: dict[str, list[str]] = {}
    for text, name in unknown.items():
        by_name.setdefault(name, []).append(text)
    for name, texts in by_name.items():
        kind = f"is {name}"
        word = answers.get(f"{column.heading}: {kind}")
        if word is not None:
            _put(column, texts, key, answered(word, name), f"{names.kind} as answered")
            continue
        near = names.near(name)
        if not near:
            continue
        says = f"{name!r} in column {column.heading!r} is no {names.kind} of the vault; which one does it mean?"
        likely = near[0] if len(near) == 1 and names.alike(name) else None
        questions.append(column.question(kind, says, names.choices(near), texts, likely))
        _wait(column, texts, kind, says, names.choices(near))
    return questions


def _by_prefix(column: ReadColumn, key: str, unknown: Mapping[str, str], names: Names,
               answers: Mapping[str, str]) -> list[FileQuestion] | None:
    kind = f"{key.replace('_', ' ')} names"
    word = answers.get(f"{column.heading}: {kind}")
    if word == NONE_OF_THEM:
        return None
    if word is not None:
        for text, name in unknown.items():
            own = answers.get(f"{column.heading}: is {word}{name}", NONE_OF_THEM)
            _put(column, [text], key, answered(own, word + name), f"{word} before the name, as answered")
        return []
    if any(names.alike(name) or f"{column.heading}: is {name}" in answers for name in unknown.values()):
        return None
    found = prefixes(set(unknown.values()), names.known)
    if not found:
        return None
    shown = sorted(set(unknown.values()))[:3]
    choices = (*(Choice(word=prefix, says=f"{', '.join(shown)} {'mean' if len(shown) > 1 else 'means'} "
                        f"{', '.join(prefix + name for name in shown)}") for prefix in found),
               Choice(word=NONE_OF_THEM, says="none of these: the names stand as they are"))
    says = (f"No {names.kind} of the vault is called as the cells of column {column.heading!r} say "
            f"({', '.join(shown)}); does something stand before them in the vault?")
    _wait(column, unknown, kind, says, choices)
    good = [prefix for prefix in found if all(prefix + name in names.preferred for name in unknown.values())]
    likely = (good or found)[0] if len(good or found) == 1 else None
    return [column.question(kind, says, choices, unknown, likely)]


def _put(column: ReadColumn, texts: Sequence[str], key: str, name: str, rule: str) -> None:
    for text in texts:
        reading = column.readings[text]
        assert isinstance(reading, Said)  # only those were looked at
        column.readings[text] = replace(reading, values={**reading.values, key: name}, rule=f"{reading.rule}; {rule}".strip("; "))


def _wait(column: ReadColumn, texts: Collection[str], kind: str, says: str, choices: tuple[Choice, ...]) -> None:
    for text in texts:
        column.readings[text] = Unclear(kind=kind, says=says, choices=choices)


def unknown_drivers(columns: Sequence[ReadColumn], names: Names) -> list[str]:
    """A sentence for each driver model that the vault does not know: it is signed as it stands."""
    found: dict[str, list[str]] = {}
    for column in columns:
        for text in column.readings:
            name = column.value(text, "driver")
            if name and name not in names.known:
                found.setdefault(name, []).append(f"{column.where([text])[1]} in column {column.heading!r}")
    return [f"Driver model {name!r} ({', '.join(where)}) is not in the vault; it is signed as it stands. Load its data with "
            f"{names.load}, so that spares can be judged." for name, where in found.items()]
