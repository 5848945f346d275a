"""Answers that answer nothing: a misspelt key would leave a file read otherwise than somebody said, without a word."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from vault.errors import UsageProblem
from vault.exchange.cobie_read import REFERENCE_KEY, SERIAL_KEY
from vault.exchange.schedule_mapping import COLUMN, HEADING_ROW, SHEET
from vault.exchange.translation_missing import ASKED
from vault.exchange.translation_rows import HIDDEN, SECTIONS

_WHOLE_FILE = frozenset({SHEET, HEADING_ROW, HIDDEN, SECTIONS, REFERENCE_KEY, SERIAL_KEY, *ASKED})
_KINDS = frozenset({COLUMN, "decimal-mark", "unit", "about", "times", "several", "single-voltage", "level-unit", "level-of-1",
                    "small-levels", "lone-limit", "lone-number", "numbering", "range", "fade-unit", "dates", "curve", "power"})
_OTHER_KIND = re.compile(r"is .+|.* names")
# Kinds whose word is taken at once; of the others a word that is none leaves the question open.
_WORDS: Mapping[str, tuple[str, ...]] = {
    "numbering": ("from-0", "from-1"), "decimal-mark": ("comma", "point"), "curve": ("logarithmic", "linear"),
    "power": ("taken", "output")}


def refuse_wrong_words(answers: Mapping[str, str]) -> None:
    """Raises UsageProblem (bad-answer) for a word that its kind of question does not have."""
    for key, word in answers.items():
        allowed = _WORDS.get(key.rpartition(": ")[2])
        if allowed and word not in allowed:
            raise UsageProblem(f"{word!r} is no answer to {key!r}.", kind="bad-answer", hint=f"Allowed: {' or '.join(allowed)}.")


def not_asked(answers: Mapping[str, str], headings: Iterable[str]) -> tuple[str, ...]:
    """The keys that no question about a file with these headings can have."""
    known = set(headings)
    return tuple(key for key in answers if key not in _WHOLE_FILE and not _can_be(key, known))


def _can_be(key: str, headings: set[str]) -> bool:
    # A heading may hold a colon itself, and so may the text that a kind speaks of.
    for found in re.finditer(": ", key):
        kind = key[found.end():]
        if key[: found.start()] in headings and (kind in _KINDS or _OTHER_KIND.fullmatch(kind)):
            return True
    return key.endswith(": is it a luminaire")
