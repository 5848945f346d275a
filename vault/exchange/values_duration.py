"""Times: 3h, 3 hr, 180', 1:30, 1h30, 1,5 h, and times between tests: 7 d, weekly, 52 weeks."""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal

from vault.exchange.cell_reading import ColumnFacts, Said
from vault.exchange.values_measure import Measure, read_measure
from vault.exchange.values_parts import alternatives, refuse

# Words for an hour and so on in six languages; a day and a year only where tests are meant.
_HOURS = "h|hr|hrs|hour|hours|std|stdn|st|stunde|stunden|heure|heures|ora|ore|hora|horas|u|uur|uren"
_MINUTES = "min|mins|minute|minutes|minuten|minuti|minutos|minuut|mn|'|m"
_SECONDS = "s|sec|secs|sek|second|seconds|sekunden|secondes|secondi|segundos|seconden|\"|''"
_DAYS = "d|day|days|tag|tage|tagen|jour|jours|j|giorno|giorni|día|días|dag|dagen|t"
_WEEKS = "w|wk|wks|week|weeks|woche|wochen|semaine|semaines|settimana|settimane|semana|semanas|weken|kw"
_YEARS = "y|yr|year|years|a|jahr|jahre|an|ans|anno|anni|año|años|jaar"
_DAY_WORDS: Mapping[str, int] = {
    **dict.fromkeys(alternatives("daily|täglich|quotidien|giornaliero|diario|dagelijks"), 1),
    **dict.fromkeys(alternatives("weekly|wöchentlich|hebdomadaire|settimanale|semanal|wekelijks"), 7)}
_WEEK_WORDS: Mapping[str, int] = {
    **dict.fromkeys(alternatives("yearly|annual|annually|jährlich|annuel|annuale|anual|jaarlijks"), 52),
    **dict.fromkeys(alternatives("weekly|wöchentlich|hebdomadaire|settimanale|semanal|wekelijks"), 1),
    **dict.fromkeys(alternatives(
        "half-yearly|halbjährlich|semestriel|semestrale|semestral|halfjaarlijks"), 26)}


def _units(*named: tuple[str, Decimal]) -> dict[str, Decimal]:
    return {word: factor for words, factor in named for word in words.split("|")}


_MIN = Decimal(1)
DURATION = Measure(
    unit="min", units=_units((_HOURS, Decimal(60)), (_MINUTES, _MIN)), least=Decimal(1), most=Decimal(1440),
    called="a duration", allowed="1 to 1,440 min in whole minutes, as 3 h, 180 min or 1:30", bare=("min", "h"), whole=True)
DELAY = Measure(
    unit="min", units=_units((_HOURS, Decimal(60)), (_MINUTES, _MIN), (_DAYS, Decimal(1440))), least=Decimal(0),
    most=Decimal(983_025), called="a delay", allowed="whole minutes, as 180 min or 3 h", bare=("min", "h"), whole=True)
PROLONG = Measure(
    unit="s", units=_units((_SECONDS, _MIN), (_MINUTES, Decimal(60))), least=Decimal(0), most=Decimal(7650),
    called="a time to prolong by", allowed="0 to 7,650 s, as 60 s or 1 min", bare=("s", "min"), whole=True)
DAYS = Measure(
    unit="d", units=_units((_DAYS, _MIN), (_WEEKS, Decimal(7))), least=Decimal(0), most=Decimal(255),
    called="an interval of tests", allowed="0 to 255 days, as 7 d or weekly", bare=("d", "weeks"), whole=True)
WEEKS = Measure(
    unit="weeks", units=_units((_WEEKS, _MIN), (_YEARS, Decimal(52))), least=Decimal(0), most=Decimal(97),
    called="an interval of tests", allowed="0 to 97 weeks, as 52 weeks or yearly", bare=("weeks", "year"), whole=True)

_CLOCK = re.compile(rf"([0-9]{{1,2}}) ?(?::|(?:{_HOURS})\.?) ?([0-5][0-9])(?::00| ?(?:{_MINUTES}))?\.?(?: ?(?:{_HOURS}))?",
                    re.IGNORECASE)


def read_duration(plain: str, facts: ColumnFacts) -> Said:
    """{duration_min: "180"}. Raises Ask."""
    clock = _CLOCK.fullmatch(plain)
    if clock:
        minutes = int(clock[1]) * 60 + int(clock[2])
        if not minutes:
            raise refuse(f"{plain!r} is no time at all", DURATION.allowed)
        return Said(values={"duration_min": str(minutes)}, rule=f"hours and minutes to {minutes} min")
    said = read_measure(plain, facts, DURATION, frozenset(("min", "mind", "mindestens", "at least", "≥", ">=")))
    return Said(values={"duration_min": said.values[facts.field]} if said.values else {}, rule=said.rule)


def read_interval(plain: str, facts: ColumnFacts) -> Said:
    """One of test_delay_min, prolong_s, function_test_days, duration_test_weeks. Raises Ask."""
    words = {"function_test_days": _DAY_WORDS, "duration_test_weeks": _WEEK_WORDS}.get(facts.field, {})
    if plain.casefold() in words:
        number = words[plain.casefold()]
        return Said(values={facts.field: str(number)}, rule=f"{plain} is {number} {_OF[facts.field].unit}")
    return read_measure(plain, facts, _OF[facts.field])


_OF: Mapping[str, Measure] = {"test_delay_min": DELAY, "prolong_s": PROLONG,
                              "function_test_days": DAYS, "duration_test_weeks": WEEKS}
