"""gearkeep label."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from vault.cli.shell import Progress, command, desk, json_text, refuse_existing, say
from vault.errors import UsageProblem

if TYPE_CHECKING:
    from vault.actions.labelling import Printed


def _many(count: int) -> str:
    return "1 label" if count == 1 else f"{count} labels"


def _say_printed(printed: Printed, sheet: str | None) -> None:
    from vault.domain.tag import shown

    say(f"{_many(len(printed.tags))} in {printed.path}, every code read back from its own raster.",
        f"Print at actual size (100 %, no scaling){', on the sheet ' + sheet if sheet else ''}.")
    if printed.without_settings:
        say(f"{_many(len(printed.without_settings))} with too little room for the settings in a code; the code holds the tag "
            "alone and the label says so: " + ", ".join(map(shown, printed.without_settings)) + ".")
    if printed.left_off:
        count = "1 label has" if len(printed.left_off) == 1 else f"{len(printed.left_off)} labels have"
        said = sorted({line for _, lines in printed.left_off for line in lines})
        more = " … (--json names each)" if len(said) > 6 else "."
        say(f"{count} no room for the last small lines, which the code holds all the same: " + "; ".join(said[:6]) + more)


@command(example="gearkeep --key anna.key label --all --out labels.pdf")
@click.argument("tags", nargs=-1)
@click.option("--all", "everything", is_flag=True, help="Every luminaire in service.")
@click.option("--line", help="Every luminaire on this control line.")
@click.option("--out", required=True, type=click.Path(path_type=Path), help="A .pdf; for one label also a .png or .svg.")
@click.option("--overwrite", is_flag=True, help="Replace a file that is there already.")
@click.option("--medium", default="60x40", show_default=True, help="Label size in mm: 60x40, 50x25, 76x51, 102x51 or your own.")
@click.option("--dpi", type=click.Choice(["203", "300", "600"]), default="300", show_default=True,
              help="Dots an inch of the printer; a module is a whole number of them.")
@click.option("--media", "media_file", type=click.Path(path_type=Path), help="TOML file with sizes and sheets of your own.")
@click.option("--sheet", help="Many labels on a page: a4, letter or your own.")
@click.option("--link-only", is_flag=True, help="Let a label bear the link alone where its settings find no room.")
@click.option("--reprint", is_flag=True, help="Another copy beside those that stand.")
@click.option("--replace", is_flag=True, help="A copy in the place of those that stand: they no longer count.")
def label(tags: tuple[str, ...], everything: bool, line: str | None, out: Path, overwrite: bool, medium: str, dpi: str,
          media_file: Path | None, sheet: str | None, link_only: bool, reprint: bool, replace: bool, as_json: bool) -> None:
    """Print labels to a file and sign that they were issued. Every code is read back before it counts.

    Beside the file go pages for your papers: the signers as codes, and with --checkpoint-key a signed checkpoint.
    """
    from vault.actions.checkpoint_page import signers_file, write_sheet_pages
    from vault.actions.labelling import Wanted, medium_named, own_media, print_labels, sheet_named
    from vault.trust.statements import IssueReason

    if reprint and replace:
        raise UsageProblem("--reprint and --replace say opposite things.", hint="Give one of them.")
    page_file = out.with_name(f"{out.stem}-checkpoint.pdf")
    if not overwrite:
        refuse_existing(out, page_file, signers_file(page_file))
    own = own_media(media_file)
    size = medium_named(medium, int(dpi), own)
    wanted = Wanted(texts=tags, line=line, everything=everything, link_only=link_only,
                    why=IssueReason.REPRINT if reprint else IssueReason.REPLACEMENT if replace else None)
    at = desk()
    printed = print_labels(at, wanted, out=out, medium=size, sheet=sheet_named(sheet, size, own) if sheet else None,
                           progress=Progress("Drawing labels"))
    page = write_sheet_pages(at, page_file)
    if as_json:
        say(json_text({"file": str(printed.path), "tags": list(printed.tags), "pages": str(page),
                       "without_settings": list(printed.without_settings),
                       "left_off": {tag: list(lines) for tag, lines in printed.left_off}}))
        return
    _say_printed(printed, sheet)
    say(f"Keep {page} with your papers, away from the vault: it holds the signers, and a lost vault comes back with it.")
