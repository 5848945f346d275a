"""gearkeep printer: what a printer has, and a print run that was interrupted."""

from __future__ import annotations

import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from vault.cli.shell import command, desk, json_text, say, table, visible

if TYPE_CHECKING:
    from vault.actions.print_on import OnPrinter


class Telling:
    """Says what the printer does, when that changes and never more than once a second."""

    def __init__(self) -> None:
        self._said, self._at, self._start = "", time.monotonic(), time.monotonic()

    def __call__(self, confirmed: int, total: int, says: str) -> None:
        now = time.monotonic()
        if says == self._said or now - self._at < 1.0:
            return
        self._said, self._at = says, now
        rate = confirmed / (now - self._start)
        left = f", {(total - confirmed) / rate:.0f} s left" if confirmed else ""
        click.echo(visible(f"Printing: {confirmed} of {total} confirmed{left}; {says}"), err=True)


def say_run(run: OnPrinter, as_json: bool, more: dict[str, Any] | None = None) -> int:
    """Print how a run stands; returns the exit code."""
    from vault.domain.tag import shown

    open_ends = bool(run.doubtful or run.waiting)
    if as_json:
        trouble = None if run.trouble is None else {"kind": run.trouble.kind, "what": run.trouble.what, "hint": run.trouble.hint}
        say(json_text({"printer": run.printer, "run": str(run.folder), "confirmed": list(run.confirmed),
                       "doubtful": list(run.doubtful), "waiting": list(run.waiting), "reason": run.reason,
                       "trouble": trouble, **(more or {})}))
        return 1 if open_ends else 0
    count = len(run.confirmed)
    say(f"{count} {'label' if count == 1 else 'labels'} printed, confirmed by {run.printer} and signed for." if count else
        f"No label was confirmed by {run.printer}, and none is signed for.")
    if run.trouble is not None:
        say(f"Then it stopped: {run.trouble.what}", *([run.trouble.hint] if run.trouble.hint else []))
    if run.doubtful:
        say(f"In doubt, because {run.reason}: {', '.join(map(shown, run.doubtful))}.",
            "Destroy those that came out, for nobody signed for them; then print them all again: "
            f"gearkeep --key YOUR.key printer resume {run.folder} --reprint-doubtful")
    if run.waiting:
        say(f"Not printed yet: {', '.join(map(shown, run.waiting))}. To go on: "
            f"gearkeep --key YOUR.key printer resume {run.folder}")
    return 1 if open_ends else 0


@click.group(epilog="Example: gearkeep printer show ipp://label-printer.local/ipp/print")
def printer() -> None:
    """A label printer: what it has, and print runs that were interrupted."""


@command(printer, example="gearkeep printer show ipp://label-printer.local/ipp/print")
@click.argument("uri")
def show(uri: str, as_json: bool) -> None:
    """Ask a printer for its state, label sizes and dots an inch."""
    from labels.printer import printer_facts

    facts = printer_facts(uri)
    if as_json:
        say(json_text({"printer": facts.uri, "name": facts.name, "state": facts.state.name.lower(),
                       "reasons": list(facts.reasons), "accepting": facts.accepting, "dpi": list(facts.resolutions_dpi),
                       "formats": list(facts.formats),
                       "media": [{"name": m.name, "width_mm": m.width_um / 1000, "height_mm": m.height_um / 1000,
                                  "loaded": m.ready} for m in facts.media]}))
        return
    say(f"{facts.name} at {facts.uri} is {facts.state.name.lower()}"
        + (f" ({', '.join(facts.reasons)})" if facts.reasons else "") + ("." if facts.accepting else " and takes no jobs."),
        f"Dots an inch: {', '.join(map(str, facts.resolutions_dpi)) or 'it does not say'}.")
    table(["width mm", "height mm", "medium", "loaded"],
          [(f"{m.width_um / 1000:g}", f"{m.height_um / 1000:g}", m.name, "yes" if m.ready else "") for m in facts.media])


@command(printer, example="gearkeep --key anna.key printer resume print-run-1")
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--reprint-doubtful", is_flag=True, help="Print labels again of which nobody knows whether they came out.")
@click.option("--printer", "printer_uri", metavar="URI", help="The printer that the run has to be for; give it where others may "
              "write into the folder.")
def resume(folder: Path, reprint_doubtful: bool, printer_uri: str | None, as_json: bool) -> int:
    """Go on with a print run behind the last label that the printer confirmed, at the printer that the folder names."""
    from vault.actions.print_on import resume as act

    return say_run(act(desk(), folder, reprint_doubtful=reprint_doubtful, printer=printer_uri, progress=Telling()), as_json)
