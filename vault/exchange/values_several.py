"""Several figures in one cell: 2x14, 14+14, 350/700. Channels, drivers, or one sum: nobody can tell, so it is asked."""

from __future__ import annotations

import re
from decimal import Decimal

from vault.exchange.cell_reading import ColumnFacts, Said
from vault.exchange.values_measure import Measure, scaled
from vault.exchange.values_number import nothing_taken, quantity, written
from vault.exchange.values_parts import NOT_TAKEN, NOTHING, Option, decide, refuse

_TIMES = re.compile(r"([1-9][0-9]?) ?[x*·] ?(.*[0-9].*)", re.IGNORECASE)
_BETWEEN = re.compile(r" ?[+/&;|] ?")
_CHANNEL = re.compile(r"(current|power)(?:_([2-4]))?_(ma|w)")
MOST_CHANNELS = 4


def read_several(plain: str, facts: ColumnFacts, measure: Measure) -> Said | None:
    """A cell of several figures under its question, None for a cell of one. Raises Ask."""
    times = _TIMES.fullmatch(plain)
    if times:
        count, texts = int(times[1]), [times[2]]
    else:
        count, texts = 1, _BETWEEN.split(plain)
        if len(texts) == 1 or len(texts) > MOST_CHANNELS or not all(quantity(text) for text in texts):
            return None
    figures = _figures(plain, texts, facts, measure)
    if times:
        return _times(plain, count, figures[0], facts, measure)
    return _listed(plain, figures, facts, measure)


def _figures(plain: str, texts: list[str], facts: ColumnFacts, measure: Measure) -> list[Decimal]:
    last = quantity(texts[-1])
    figures = []
    for text in texts:
        taken = quantity(text)
        if taken is None or last is None or taken.before:
            raise measure.refused(plain)
        if not taken.unit:  # 350/700 mA: the unit stands behind the last one
            taken = quantity(f"{taken.body} {last.unit}") or taken
        figures.append(scaled(plain, taken, facts, measure)[0])
    return figures


def _channels(facts: ColumnFacts, figures: list[Decimal], plain: str) -> dict[str, str]:
    found = _CHANNEL.fullmatch(facts.field)
    first = int(found[2] or 1) if found else 0
    if found is None or first + len(figures) - 1 > MOST_CHANNELS:
        raise refuse(f"{plain!r} has more figures than there are channels", f"at most {MOST_CHANNELS} channels")
    return {f"{found[1]}{'' if number == 1 else f'_{number}'}_{found[3]}": written(value)
            for number, value in enumerate(figures, first)}


def _times(plain: str, count: int, value: Decimal, facts: ColumnFacts, measure: Measure) -> Said:
    if count == 1:
        return Said(values={facts.field: written(value)}, rule=f"once {written(value)} {measure.unit}")
    each = f"{written(value)} {measure.unit}"
    options = [
        Option(word="driver", says=f"several drivers: {each} is what the one driver of the row is set to"),
        Option(word="channels", says=f"one driver with several channels, {each} on each"),
        Option(word="sum", says=f"one channel of {written(value * count)} {measure.unit} in all"), NOT_TAKEN]
    picked = decide(facts, "times", f"What does {plain} say?", options)
    return _made(plain, picked.word, {"driver": [value], "sum": [value * count]}.get(picked.word, [value] * count), facts)


def _listed(plain: str, figures: list[Decimal], facts: ColumnFacts, measure: Measure) -> Said:
    shown = " and ".join(f"{written(value)} {measure.unit}" for value in figures)
    options = [Option(word="channels", says=f"one driver with several channels: {shown}"),
               Option(word="sum", says=f"one channel of {written(sum(figures, Decimal(0)))} {measure.unit} in all"), NOT_TAKEN]
    picked = decide(facts, "several", f"What does {plain} say?", options)
    return _made(plain, picked.word, [sum(figures, Decimal(0))] if picked.word == "sum" else figures, facts)


def _made(plain: str, word: str, figures: list[Decimal], facts: ColumnFacts) -> Said:
    if word == NOTHING:
        return nothing_taken(plain)
    values = _channels(facts, figures, plain) if word == "channels" else {facts.field: written(figures[0])}
    return Said(values=values, rule=f"{plain} read as answered: {word}")
