"""gearkeep label."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from vault.cli.shell import Progress, command, desk, json_text, refuse_existing, say
from vault.errors import UsageProblem

if TYPE_CHECKING:
    from labels.media import Medium
    from labels.media_file import OwnMedia
    from vault.actions.labelling import Printed, Wanted


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
        say(f"{count} no room for some small lines: " + "; ".join(said[:6]) + more)
    if printed.beside:
        say(f"{_many(len(printed.beside))} of a version that had a label already: a further copy that counts beside the other. "
            "If the other is lost or torn, print with --replace instead.")
    if printed.replaced:
        say(f"{_many(len(printed.replaced))} in the place of earlier ones, which no longer count: take those off.")


@command(example="gearkeep --key anna.key label --all --out labels.pdf")
@click.argument("tags", nargs=-1)
@click.option("--all", "everything", is_flag=True, help="Every luminaire in service.")
@click.option("--line", help="Every luminaire on this control line.")
@click.option("--out", type=click.Path(path_type=Path), help="A .pdf or .pwg; for one label also a .png or .svg.")
@click.option("--printer", help="Print on this printer, ipp://HOST/PATH, instead of into a file.")
@click.option("--run", "run_folder", type=click.Path(path_type=Path),
              help="Folder that keeps the print run, so that it can be resumed. Default: a new one named by the time.")
@click.option("--copies", type=click.IntRange(1, 99), default=1, show_default=True, help="Of each label, on a printer.")
@click.option("--overwrite", is_flag=True, help="Replace a file that is there already.")
@click.option("--medium", default="60x40", show_default=True, help="Label size in mm: 60x40, 50x25, 76x51, 102x51 or your own.")
@click.option("--dpi", type=click.Choice(["203", "300", "600"]), default="300", show_default=True,
              help="Dots an inch of the printer; a module is a whole number of them.")
@click.option("--media", "media_file", type=click.Path(path_type=Path), help="TOML file with sizes and sheets of your own.")
@click.option("--sheet", help="Many labels on a page: a4, letter or your own.")
@click.option("--link-only", is_flag=True, help="Let a label bear the link alone where its settings find no room.")
@click.option("--reprint", is_flag=True, help="Another copy beside those that stand.")
@click.option("--replace", is_flag=True, help="A copy in the place of those that stand: they no longer count.")
def label(tags: tuple[str, ...], everything: bool, line: str | None, out: Path | None, printer: str | None,
          run_folder: Path | None, copies: int, overwrite: bool, medium: str, dpi: str, media_file: Path | None,
          sheet: str | None, link_only: bool, reprint: bool, replace: bool, as_json: bool) -> int:
    """Print labels to a file or on a printer and sign that they were issued. Every code is read back before it counts.

    Beside them go pages for your papers: the signers as codes, and with --checkpoint-key a signed checkpoint.
    """
    from vault.actions.labelling import Wanted, medium_named, own_media
    from vault.trust.statements import IssueReason

    if reprint and replace:
        raise UsageProblem("--reprint and --replace say opposite things.", hint="Give one of them.")
    if (out is None) == (printer is None):
        raise UsageProblem("Labels go either into a file or on a printer.", hint="Give --out FILE or --printer ipp://HOST/PATH.")
    own = own_media(media_file)
    size = medium_named(medium, int(dpi), own)
    wanted = Wanted(texts=tags, line=line, everything=everything, link_only=link_only,
                    why=IssueReason.REPRINT if reprint else IssueReason.REPLACEMENT if replace else None)
    if printer is not None:
        if sheet is not None:
            raise UsageProblem("A label printer prints one label after the other, not a sheet.", hint="Leave --sheet off.")
        return _on_printer(wanted, printer, run_folder, size, copies, as_json)
    if run_folder is not None or copies != 1:
        raise UsageProblem("--run and --copies are for a printer.", hint="Leave them off, or give --printer.")
    assert out is not None  # one of the two was given
    return _into_file(wanted, out, size, sheet, own, overwrite, as_json)


def _into_file(wanted: Wanted, out: Path, size: Medium, sheet: str | None, own: OwnMedia | None, overwrite: bool,
               as_json: bool) -> int:
    from vault.actions.checkpoint_page import signers_file, write_sheet_pages
    from vault.actions.keeping import refuse_wrong_checkpoint_key
    from vault.actions.labelling import print_labels, sheet_named

    stem = out.stem if out.suffix.lower() == ".pdf" else out.name.replace(".", "-")
    page_file = out.with_name(f"{stem}-checkpoint.pdf")
    if not overwrite:
        refuse_existing(out, page_file, signers_file(page_file), overwrite=True)
    at = desk()
    refuse_wrong_checkpoint_key(at)
    printed = print_labels(at, wanted, out=out, medium=size, sheet=sheet_named(sheet, size, own) if sheet else None,
                           progress=Progress("Drawing labels"))
    pages = write_sheet_pages(at, page_file)
    if as_json:
        say(json_text({"file": str(printed.path), "tags": list(printed.tags), "pages": str(pages),
                       "without_settings": list(printed.without_settings), "beside": list(printed.beside),
                       "replaced": list(printed.replaced),
                       "left_off": {tag: list(lines) for tag, lines in printed.left_off}}))
        return 0
    _say_printed(printed, sheet)
    _say_pages(pages)
    return 0


def _on_printer(wanted: Wanted, printer: str, folder: Path | None, size: Medium, copies: int, as_json: bool) -> int:
    from vault.actions.checkpoint_page import write_sheet_pages
    from vault.actions.keeping import refuse_wrong_checkpoint_key
    from vault.actions.print_on import print_on
    from vault.cli.printing import Telling, say_run

    at = desk()
    refuse_wrong_checkpoint_key(at)
    folder = folder or Path(f"print-run-{at.now_s()}")
    run = print_on(at, wanted, printer=printer, folder=folder, medium=size, copies=copies, progress=Telling())
    pages = write_sheet_pages(at, folder / "papers-checkpoint.pdf")
    code = say_run(run, as_json, {"pages": str(pages)})
    if not as_json:
        _say_pages(pages)
    return code


def _say_pages(pages: Path) -> None:
    say(f"Keep {pages} with your papers, away from the vault: it holds the signers, and a lost vault comes back with it.")
