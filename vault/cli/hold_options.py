"""Options of every command that reckons what to hold: burning hours, by a file or one figure, and which stores count."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from vault.spares.burning_hours import YEAR_H

if TYPE_CHECKING:
    from vault.spares.burning_hours import HoursTable

hours_file = click.option(
    "--hours", type=click.Path(path_type=Path), metavar="FILE", envvar="GEARKEEP_HOURS",
    help="Burning hours a year by circuit and type (or GEARKEEP_HOURS): CSV or a workbook with the columns circuit, type, "
    "hours, or TOML.")
_PER_YEAR = click.option("--hours-per-year", type=click.IntRange(0, YEAR_H), help="Burning hours of general lighting of which "
                         "nobody said any. Default: 4000 h, or as FILE says.")
stores_option = click.option("--store", "stores", multiple=True, metavar="NAME", help="Count what lies in this store or van "
                             "alone, for all gear in service; may be repeated. Left out: all of them.")


def hours_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """Both options: hours and hours_per_year."""
    return hours_file(_PER_YEAR(function))


def hours_of(file: Path | None, per_year: int | None = None) -> HoursTable:
    """What they say. Raises GearkeepError: bad-hours, unreadable-file."""
    from dataclasses import replace

    from vault.exchange.hours_file import read_hours_file
    from vault.spares.burning_hours import HoursTable

    found = HoursTable() if file is None else read_hours_file(file)
    return found if per_year is None else replace(found, default=per_year)
