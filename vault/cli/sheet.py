"""gearkeep sheet."""

from __future__ import annotations

from pathlib import Path

import click

from vault.cli.shell import Progress, command, desk, json_text, refuse_existing, say
from vault.errors import UsageProblem


@command(example="gearkeep sheet 7K3D9QXW6 --spare CC-50 --out sheet.pdf")
@click.argument("tags", metavar="TAG...", nargs=-1, required=True)
@click.option("--spare", help="Model of the driver that goes in: the sheet then has its steps.")
@click.option("--gear", help="Which gear: general, emergency-converter … Default: all, or the first when a spare is named.")
@click.option("--out", type=click.Path(path_type=Path), required=True, help="The .pdf to write: A4, one or two pages a gear.")
def sheet(tags: tuple[str, ...], spare: str | None, gear: str | None, out: Path, as_json: bool) -> int:
    """Print a work order for people who work on paper.

    It holds the settings in large type, cautions, steps and a drawing for the spare, boxes for the readback and the tests, and
    the luminaire's code. Without a spare it ranks those that fit. Nothing is signed by it.
    """
    from vault.actions.work_order import USABLE, print_sheets
    from vault.domain.tag import shown

    if out.suffix.lower() != ".pdf":
        raise UsageProblem(f"A sheet is a PDF; {out.name} would not say so.", kind="unknown-format", hint="Give --out NAME.pdf.")
    refuse_existing(out)
    made = print_sheets(desk(), tags, out, spare=spare, gear=gear, progress=Progress("Writing sheets"))
    if as_json:
        say(json_text({"file": str(out), "pages": sum(one.pages for one in made), "sheets": [
            {"tag": one.tag, "gear": one.gear, "spare": one.spare, "verdict": one.verdict.value if one.verdict else None,
             "pages": one.pages} for one in made]}))
    else:
        for one in made:
            fit = f", {one.spare}: {one.verdict.value.replace('-', ' ')}" if one.verdict else ""
            said = "" if one.verdict is None or one.verdict in USABLE else "; the sheet says why and has no steps"
            say(f"{shown(one.tag)} {one.gear}: {one.pages} page{'s' if one.pages > 1 else ''}{fit}{said}.")
        say(f"Written to {out}. Nothing is signed: type in what was read with gearkeep swap TAG --spare MODEL --readback FILE.")
    return 0 if all(one.verdict is None or one.verdict in USABLE for one in made) else 1
