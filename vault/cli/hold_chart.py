"""The curve of cost against service as a chart."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

from vault.actions.holding import Money
from vault.exchange.chart import Axis, Chart, Mark, Series, write_chart

MOST_POINTS = 400


def _percent(share: float) -> float:
    """Never rounded up to 100 %."""
    return min(share * 100, 99.99) if share < 1 else 100.0


def curve_chart(found: Money) -> Chart:
    """Cost along x; share met at once and chance that none goes wanting, in per cent."""
    points = found.curve.points
    # Of two points of one cost the later is better; more points than can be told apart are thinned out.
    by_cost = list({point.cost_cents: point for point in points}.values())
    step = -(-len(by_cost) // MOST_POINTS)
    shown = [*by_cost[:-1:step], by_cost[-1]]
    return Chart(
        title="What the money buys", x=Axis(label="cost", unit=found.currency, decimals=2),
        y=Axis(label="service", unit="%", decimals=2),
        positions=tuple(Decimal(point.cost_cents) / 100 for point in shown),
        series=(Series(name="met at once", kind=Mark.STEPS, values=tuple(_percent(point.served) for point in shown)),
                Series(name="none goes wanting", kind=Mark.STEPS, values=tuple(_percent(point.no_shortage) for point in shown))),
        note=f"From {'an empty shelf' if found.from_empty else 'what is there'}: each pack where a cent takes most expected "
             "waiting off.")


def write_curve(path: Path, found: Money) -> None:
    """Write it. Raises UsageProblem (exists, unknown-format) and GearkeepError (unwritable-file)."""
    write_chart(path, curve_chart(found))
