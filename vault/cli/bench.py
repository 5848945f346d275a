"""gearkeep bench."""

from __future__ import annotations

from pathlib import Path

import click

from vault.cli.shell import command, json_text, say, table


@command(example="gearkeep bench --luminaires 1000000 --versions 3 --rows 100000 --json")
@click.option("--luminaires", type=click.IntRange(100), default=1000, show_default=True, help="In the vault that is made for it.")
@click.option("--versions", type=click.IntRange(1, 20), default=3, show_default=True, help="Of each luminaire.")
@click.option("--rows", type=click.IntRange(100), default=1000, show_default=True, help="Of the schedule that is handed over.")
@click.option("--turns", type=click.IntRange(1), default=3, show_default=True, help="Of each figure and its limit, alternating.")
@click.option("--server", help="A database on a PostgreSQL server, postgresql+psycopg://USER@HOST/DATABASE, for appends by four "
              "writers; sites of the bench's own are made there and taken away.")
@click.option("--folder", type=click.Path(path_type=Path, exists=True, file_okay=False),
              help="Where the vaults are made; on the disk that is to be measured.")
def bench(luminaires: int, versions: int, rows: int, turns: int, server: str | None, folder: Path | None, as_json: bool) -> int:
    """Measure this machine: each figure beside its limit, taken in the same run.

    No vault of yours is touched. The short default takes about a minute; a million luminaires take an hour or two. Exit code 1:
    a target was missed, which a small vault or a busy machine may do.
    """
    from vault.bench.run import measure

    figures = []
    for figure in measure(luminaires=luminaires, versions=versions, rows=rows, turns=turns, server=server, folder=folder,
                          said=lambda text: click.echo(f"{text} …", err=True)):
        figures.append(figure)
    if as_json:
        say(json_text({figure.name: figure.plain() for figure in figures}))
    else:
        table(["figure", "value", "unit", "limit", "beside", "ratio", "target", "met"],
              [(one.name, f"{one.value:.4g}", one.unit, "" if one.limit is None else f"{one.limit:.4g}", one.beside,
                "" if one.ratio is None else f"{one.ratio:.2f}", f"{one.sense} {one.target:g}", "yes" if one.met else "no")
               for one in figures])
        if server is None:
            say("Appends to PostgreSQL were not measured; name a database with --server.")
    return 0 if all(figure.met for figure in figures) else 1
