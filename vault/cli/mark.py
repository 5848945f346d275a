"""gearkeep mark: labels for bins, spares and control lines."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from vault.cli.shell import command, json_text, open_vault, refuse_existing, say

if TYPE_CHECKING:
    from vault.actions.place_labels import Content

_FILE = (
    click.option("--out", required=True, type=click.Path(path_type=Path), help="A .pdf, .png or .svg."),
    click.option("--medium", default="60x40", show_default=True, help="Label size in mm."),
    click.option("--dpi", type=click.Choice(["203", "300", "600"]), default="300", show_default=True,
                 help="Dots an inch of the printer."),
    click.option("--media", "media_file", type=click.Path(path_type=Path), help="TOML file with sizes of your own."),
    click.option("--overwrite", is_flag=True, help="Replace a file that is there already."),
)


def _to_file(function: Any) -> Any:
    for option in reversed(_FILE):
        function = option(function)
    return function


def _print(content: Content, out: Path, medium: str, dpi: str, media_file: Path | None, overwrite: bool,
           as_json: bool) -> None:
    from vault.actions.labelling import medium_named, own_media
    from vault.actions.place_labels import print_place

    if not overwrite:
        refuse_existing(out, overwrite=True)
    drawn = print_place(open_vault(), content, out, medium_named(medium, int(dpi), own_media(media_file)))
    if as_json:
        say(json_text({"file": str(out), "name": drawn.tag_shown, "left_off": list(drawn.left_off)}))
        return
    say(f"The label {drawn.tag_shown} is in {out}. Print at actual size (100 %, no scaling).",
        *([f"No room was left for: {'; '.join(drawn.left_off)}."] if drawn.left_off else []))


@click.group(epilog="Example: gearkeep mark bin MAIN A1 --out bin.pdf")
def mark() -> None:
    """Labels for bins, spares and control lines. Their code names the thing; it carries nothing signed."""


@command(mark, name="bin", example="gearkeep mark bin MAIN A1 --out bin.pdf")
@click.argument("store")
@click.argument("name")
@_to_file
def bin_of(store: str, name: str, **file: Any) -> None:
    """A bin of a store, with the models that lie in it."""
    from vault.actions.place_labels import bin_label

    _print(bin_label(store, name), **file)


@command(mark, example="gearkeep mark spare GEN-50-1050 --serial G5-0412 --out spare.png")
@click.argument("model")
@click.option("--serial", help="Its serial number, where each piece gets a label of its own.")
@_to_file
def spare(model: str, serial: str | None, **file: Any) -> None:
    """A spare driver with what it can be set to, or a battery with how long it keeps."""
    from vault.actions.place_labels import spare_label

    _print(spare_label(model, serial), **file)


@command(mark, example="gearkeep mark line D1 --out line.pdf --medium 102x51")
@click.argument("name")
@_to_file
def line(name: str, **file: Any) -> None:
    """A control line for its cabinet: luminaires, addresses in use, addresses that are free."""
    from vault.actions.place_labels import line_label

    _print(line_label(name), **file)
