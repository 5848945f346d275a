"""Failure rates as a table for files and as a chart of expected against seen by year."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from vault.actions.failure_rates import Rate, Rates
from vault.errors import GearkeepError
from vault.exchange.chart import Axis, Chart, Mark, Series, write_chart
from vault.exchange.table_out import Cell, write_csv_table
from vault.spares.failure_rate import FIT, two_figures
from vault.spares.holding import spares_for

HEADINGS = ("by", "name", "in_service", "gear_days", "burning_h", "standby_h", "exposure_h", "expected", "seen", "undecided",
            "not_faulty", "damaged", "prior_fit", "prior_worth_failures", "rate_fit", "median_fit", "low_fit", "high_fit",
            "alarm", "certainty_percent", "alarm_at_failures", "false_alarm_percent", "next_year_expected")
# Nine years in ten hold so many failures as the whiskers of the chart say, were the rate the prior's mean.
_LOW_PERMILLE, _HIGH_PERMILLE = 50, 950


def figures(rate: Rate, credible_permille: int) -> dict[str, str | int | float]:
    """What is known of one model or type, by the names of `HEADINGS`; rates in FIT to two figures."""
    low, high = rate.after.interval(credible_permille)
    said = (rate.by, rate.name, rate.pieces, round(rate.gear_days), round(rate.burning_h), round(rate.standby_h),
            round(rate.hours), two_figures(rate.expected), rate.failures, rate.undecided, rate.not_faulty, rate.damaged,
            _fit(rate.before.mean), two_figures(rate.before.shape), _fit(rate.after.mean), _fit(rate.after.median), _fit(low),
            _fit(high), "yes" if rate.alarm.raised else "no", round(100 * rate.alarm.certainty, 1), rate.alarm.at_failures,
            two_figures(100 * rate.alarm.false_chance), two_figures(rate.next_year_failures))
    return dict(zip(HEADINGS, said, strict=True))


def _fit(rate: float) -> float | int:
    fit = two_figures(rate / FIT)
    return int(fit) if fit >= 1 else fit


def write_rates(path: Path, rates: Rates) -> None:
    """Every rate as a row of a CSV file. Raises GearkeepError (unwritable-file)."""
    rows = [[_cell(one) for one in figures(rate, rates.asked.credible_permille).values()] for rate in rates.rates]
    write_csv_table(path, [HEADINGS, *rows])


def _cell(value: str | int | float) -> Cell:
    return f"{value:g}" if isinstance(value, float) else value


def shown_in_chart(rates: Rates) -> Sequence[Rate]:
    """Whose years a chart adds up: of what was named, else of all models, since every gear has one model and one type."""
    return [one for one in rates.rates if one.by == "model"] or rates.rates


def plot_rates(path: Path, rates: Rates) -> tuple[Path, ...]:
    """Write the chart as FILE.svg and its figures as FILE.csv beside it; returns both. Rates have to be by year.

    Raises UsageProblem and GearkeepError as `write_chart`, and GearkeepError (not-found) where nothing served yet.
    """
    of = shown_in_chart(rates)
    by_year = list(zip(*(one.years for one in of), strict=True))
    if not by_year:
        raise GearkeepError("There is nothing to draw: no gear was in service yet.", kind="not-found",
                            hint="Sign luminaires first: gearkeep handover.")
    expected = [sum(year.expected for year in years) for years in by_year]
    called = of[0].name if len(of) == 1 else f"{len(of)} {'driver models' if of[0].by == 'model' else 'fixture types'}"
    return write_chart(path, Chart(
        title=f"Failures expected and seen, {called}", x=Axis(label="year"), y=Axis(label="failures"),
        categories=tuple(str(years[0].year) for years in by_year),
        series=(Series(name="expected", values=tuple(map(two_figures, expected)), kind=Mark.BARS,
                       low=tuple(spares_for(mean, _LOW_PERMILLE) for mean in expected),
                       high=tuple(spares_for(mean, _HIGH_PERMILLE) for mean in expected)),
                Series(name="seen", values=tuple(sum(year.failures for year in years) for years in by_year),
                       kind=Mark.BARS))))
