"""gearkeep rates: how often drivers fail, learned from the swaps on record."""

from __future__ import annotations

from pathlib import Path

import click

from vault.cli.hold_options import hours_file, hours_of
from vault.cli.shell import command, desk, json_text, refuse_existing, say, table
from vault.errors import UsageProblem


@command(name="rates", example="gearkeep rates --model CC-50 --hours hours.csv --plot cc50.svg")
@click.option("--model", "models", multiple=True, metavar="MODEL", help="This driver model; may be given again.")
@click.option("--type", "types", multiple=True, metavar="TYPE", help="This fixture type; may be given again.")
@hours_file
@click.option("--ta", type=click.Choice(["arrhenius", "ten-kelvin"]), is_flag=False, flag_value="arrhenius",
              help="Weigh hours by the site's ambient temperature against the type's limit: by Arrhenius, or by the rule of "
              "thumb that life halves with every 10 K more.")
@click.option("--activation", type=float, metavar="EV", help="Activation energy for --ta, in electronvolts. Default: 0.7.")
@click.option("--since", metavar="DAY", help="What came before does not count, such as 2027-01-01.")
@click.option("--prior", type=float, metavar="PERCENT", help="Failures expected before anything was seen, in per cent a 1000 h. "
              "Default: 0.2 (common practice, no source).")
@click.option("--worth", type=float, metavar="FAILURES", help="How many failures that is worth. Default: 1.")
@click.option("--prior-mtbf", type=float, nargs=2, metavar="LIKELY LOW", help="The prior by two MTBFs in hours instead: one as "
              "likely exceeded as not, one exceeded with a chance of 95 %.")
@click.option("--credible", type=click.FloatRange(1, 99.9), default=90, show_default=True, metavar="PERCENT",
              help="Chance that an interval holds the true rate.")
@click.option("--factor", type=float, default=2, show_default=True, help="Alarm when the rate is above so many times the prior's "
              "mean.")
@click.option("--certain", type=float, default=99, show_default=True, metavar="PERCENT", help="And that is so certain.")
@click.option("--plot", type=click.Path(path_type=Path), metavar="FILE.svg",
              help="Draw expected against seen by year; the figures come beside it as CSV.")
@click.option("--out", type=click.Path(path_type=Path), metavar="FILE.csv", help="Write every figure.")
def rates(models: tuple[str, ...], types: tuple[str, ...], hours: Path | None, ta: str | None, activation: float | None,
          since: str | None, prior: float | None, worth: float | None, prior_mtbf: tuple[float, float] | None, credible: float,
          factor: float, certain: float, plot: Path | None, out: Path | None, as_json: bool) -> int:
    """Failure rates by driver model and fixture type, from the swaps on record, beside what was expected.

    A prior belief and the failures seen make the rate, with an interval; an alarm says what fails faster than was believed.
    Exit code 1 on an alarm.
    """
    from vault.actions.failure_rates import Asked, failure_rates
    from vault.actions.rates_report import plot_rates, write_rates
    from vault.actions.service_hours import Ageing
    from vault.cli.rates_text import HEADINGS, details, lines, rates_json, row
    from vault.cli.stock import day
    from vault.spares import failure_rate
    from vault.spares.alarm import AlarmRule
    from vault.spares.arrhenius import ACTIVATION_EV
    from vault.spares.stock_walk import DAY_S

    if prior_mtbf and (prior is not None or worth is not None):
        raise UsageProblem("--prior-mtbf says the whole prior.", hint="Leave off --prior and --worth.")
    if activation is not None and (ta != "arrhenius" or not 0 < activation <= 5):
        raise UsageProblem(f"An activation energy of {activation:g} eV cannot be used here.", kind="out-of-range",
                           hint="Give one above 0 up to 5 eV, with --ta arrhenius.")
    for path, ending in ((plot, ".svg"), (out, ".csv")):
        if path is not None and path.suffix.casefold() != ending:
            raise UsageProblem(f"{path.name} cannot be written: its ending is {path.suffix or 'missing'}.", kind="unknown-format",
                               hint=f"End the name in {ending}.")
    files = [one for one in (plot, plot.with_suffix(".csv") if plot else None, out) if one is not None]
    if len(set(files)) < len(files):
        raise UsageProblem(f"{out} would be the chart's own figures.", kind="exists", hint="Give --out another name.")
    refuse_existing(*files)
    before = failure_rate.prior_from_mtbf(*prior_mtbf) if prior_mtbf else failure_rate.prior(
        mean_fit=failure_rate.PRIOR_MEAN_FIT if prior is None else prior * failure_rate.FIT_PER_PERCENT_PER_1000_H,
        shape=failure_rate.PRIOR_SHAPE if worth is None else worth)
    found = failure_rates(desk(), Asked(
        models=models, types=types, since_s=(day(since) or 0) * DAY_S,
        hours=hours_of(hours),
        ageing=Ageing(activation_ev=None if ta == "ten-kelvin" else activation or ACTIVATION_EV) if ta else None,
        before=before, credible_permille=round(credible * 10),
        rule=AlarmRule(factor=factor, certain_permille=round(certain * 10)), by_year=plot is not None),
        tell=lambda said: click.echo(f"note: {said}", err=True))
    if out:
        write_rates(out, found)
    written = [*([str(out)] if out else []), *(map(str, plot_rates(plot, found)) if plot else ())]
    if as_json:
        say(json_text({**rates_json(found), "written": written}))
    else:
        table(HEADINGS, [row(one, found.asked) for one in found.rates])
        say(*lines(found), *(line for one in found.rates if models or types for line in details(one, found.asked)))
        say(*(f"Written: {name}." for name in written))
    return 1 if found.alarms or not found.rates else 0
