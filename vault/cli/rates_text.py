"""Failure rates as people read them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from vault.domain.counting import counted
from vault.spares.alarm import false_words
from vault.spares.failure_rate import (
    FIT,
    FIT_PER_PERCENT_PER_1000_H,
    PRIOR_MEAN_FIT,
    Evidence,
    hours_to_show,
    prior_words,
    rate_words,
    two_figures,
)

if TYPE_CHECKING:
    from vault.actions.failure_rates import Asked, Rate, Rates

HEADINGS = ("by", "name", "in service", "hours", "expected", "seen", "% per 1000 h", "interval", "")
_DEMAND_PERMILLE = 950


def _percent(rate: float) -> str:
    return f"{two_figures(rate / FIT / FIT_PER_PERCENT_PER_1000_H):g}"


def row(rate: Rate, asked: Asked) -> tuple[str, ...]:
    """One row of the table."""
    low, high = rate.after.interval(asked.credible_permille)
    told = "ALARM" if rate.alarm.raised else "prior alone" if rate.prior_alone else ""
    return (rate.by, rate.name, f"{rate.pieces}", f"{rate.hours:.0f}", f"{two_figures(rate.expected):g}", f"{rate.failures}",
            _percent(rate.after.mean), f"{_percent(low)} to {_percent(high)}", told)


def lines(rates: Rates) -> list[str]:
    """What stands below the table: the prior and its weight, the interval, alarms and how often they are false, notes."""
    if not rates.rates:
        return ["No gear was in service yet."]
    asked = rates.asked
    before, factor = asked.before, f"{asked.rule.factor:g}"
    usual = " (common practice, no source)" if two_figures(before.mean / FIT) == PRIOR_MEAN_FIT else ""
    said = [f"Prior: {rate_words(before.mean)}{usual}, worth {two_figures(before.shape):g} "
            f"{'failure' if two_figures(before.shape) == 1 else 'failures'} in {before.hours:.0f} h.",
            f"An interval holds the true rate with a chance of {asked.credible_permille / 10:g} %."]
    for one in rates.alarms:
        said.append(f"ALARM: {one.name} fails faster than was believed: {one.failures} seen, {two_figures(one.expected):g} "
                    f"expected. It is {min(100 * one.alarm.certainty, 99.99):.4g} % certain that its rate is above {factor} "
                    "times the prior's.")
    known = [one for one in rates.rates if one.hours > 0]
    if known:
        said.append(f"{len(known)} {'is' if len(known) == 1 else 'are'} watched for alarms. If every rate were as the prior "
                    f"says, there would be {false_words(rates.false_alarms)}. Who looks often sees more.")
    if any(one.failures for one in rates.rates):
        said.append("Each swap counts as a failure, unless the old driver was signed for as not faulty (swap --old-driver "
                    "not-faulty: a planned swap, a wrong spare) or as damaged from outside, came back to the store as good or "
                    "was checked there, or serves again. Leave out earlier times with --since.")
    for name, what in (("not_faulty", "not faulty"), ("damaged", "damaged from outside")):
        count = max(sum(getattr(one, name) for one in rates.rates if one.by == by) for by in ("model", "type"))
        if count:
            said.append(f"1 swap was of a driver that was {what}, and is no failure." if count == 1 else
                        f"{count} swaps were of drivers that were {what}, and are no failures.")
    return [*said, *rates.notes]


def details(rate: Rate, asked: Asked) -> list[str]:
    """One model or type by itself."""
    low, high = rate.after.interval(asked.credible_permille)
    alarm, year_h = rate.alarm, rate.next_year_h
    said = [f"{rate.name}: {rate_words(rate.after.mean)}, as likely below {rate_words(rate.after.median)} as above; "
            f"{asked.credible_permille / 10:g} % interval {rate_words(low)} to {rate_words(high)}."]
    if rate.prior_alone:
        said.append("  Nothing was seen of it: that is the prior alone.")
    said.append(f"  {counted(round(rate.gear_days), 'day')} of gear in service: {rate.burning_h:.0f} h burning, "
                f"{rate.standby_h:.0f} h standby.")
    if rate.undecided:
        said.append(f"  Of {counted(rate.failures, 'failure')}, {rate.undecided} {'is' if rate.undecided == 1 else 'are'} still "
                    "looked into.")
    said.append(f"  An alarm comes with {counted(alarm.at_failures, 'failure')} in these hours; by chance alone that would be "
                f"{false_words(alarm.false_chance)}.")
    if rate.failures:
        said.append(f"  {Evidence(name=rate.name, before=rate.before, after=rate.after).words()}; {prior_words(rate.before)}.")
    if year_h:
        most = rate.after.failures_covered(year_h, _DEMAND_PERMILLE)
        said.append(f"  A year to come: {two_figures(rate.next_year_failures):g} failures on average in {year_h:.0f} h, and "
                    f"with a chance of {_DEMAND_PERMILLE / 10:g} % no more than {most}.")
    clear_h = hours_to_show(rate.after, rate.before.mean, 0, asked.credible_permille)
    if clear_h:
        said.append(f"  {clear_h:.0f} h more without a failure would show with {asked.credible_permille / 10:g} % certainty that "
                    "it fails less often than the prior says.")
    return said


def rates_json(rates: Rates) -> dict[str, object]:
    """Everything, for other programs."""
    from vault.actions.rates_report import figures

    asked = rates.asked
    return {
        "prior": {"mean_fit": two_figures(asked.before.mean / FIT), "worth_failures": two_figures(asked.before.shape),
                  "in_hours": round(asked.before.hours)},
        "credible_percent": asked.credible_permille / 10,
        "alarm_rule": {"factor": asked.rule.factor, "certain_percent": asked.rule.certain_permille / 10,
                       "expected_false_alarms": two_figures(rates.false_alarms)},
        "rates": [{**figures(one, asked.credible_permille), "alarm": one.alarm.raised, "prior_alone": one.prior_alone,
                   "years": [{"year": year.year, "exposure_h": round(year.hours), "expected": two_figures(year.expected),
                              "seen": year.failures} for year in one.years]} for one in rates.rates],
        "notes": list(rates.notes),
    }
