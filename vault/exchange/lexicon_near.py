"""Headings that are nearly known: a slip of the pen, a word more or less. What is found is offered, never taken."""

from __future__ import annotations

import functools

from vault.exchange.lexicon import split_unit, words_of, written_words

# Measured on the lexicon's own headings of 5 letters and more, one letter of each left out, doubled or changed: with 80,
# 99 of 100 find their field among the few that are offered (with 85: 96).
LEAST_RATIO, LEAST_SHARED = 80, 92
_OFFERED = 4


@functools.lru_cache(maxsize=1024)
def near_fields(heading: str) -> tuple[str, ...]:
    """The fields whose headings are nearest to one that is not known, the nearest first, at most four."""
    from rapidfuzz import fuzz, process

    wanted = words_of(split_unit(heading)[0])
    if len(wanted) < 3:
        return ()
    known = written_words()
    alike = process.extract(wanted, known.keys(), scorer=fuzz.ratio, score_cutoff=LEAST_RATIO, limit=8)
    # "Output current of the LED module" has all words of a heading that is known.
    longer = [word for word in known if len(word) > 3]
    shared = process.extract(wanted, longer, scorer=fuzz.token_set_ratio, score_cutoff=LEAST_SHARED, limit=12)
    shared = sorted(shared, key=lambda found: (-found[1], -len(found[0])))
    fields = dict.fromkeys(name for word, _, _ in (*alike, *shared) for name in known[word] if name)
    return tuple(fields)[:_OFFERED]
