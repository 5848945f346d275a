"""gearkeep found, labels, withdraw-label, reissue."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from vault.cli.shell import command, desk, finding_lines, json_text, open_vault, refuse_existing, say, table

if TYPE_CHECKING:
    from vault.actions.label_copies import HeldLabel
    from vault.actions.labels_life import LabelList


def _list_json(held: LabelList) -> dict[str, Any]:
    return {"tag": held.tag, "version": held.version, "place": held.place, "retired": held.retired, "frozen": held.frozen,
            "labels": [copy.as_json() for copy in held.copies], "findings": [f.as_json() for f in held.findings]}


def _row(copy: HeldLabel) -> tuple[object, ...]:
    day = datetime.fromtimestamp(copy.printed_s, UTC).date().isoformat()
    return (copy.copy, copy.state.value, "yes" if copy.current else "no", copy.version,
            "newest" if copy.life.shows_newest else "older", day, copy.signer, copy.why, copy.elsewhere, copy.because)


def _say_list(held: LabelList) -> None:
    from vault.domain.tag import shown

    say(f"{shown(held.tag)}   version {held.version}   {held.place}" + ("   RETIRED" if held.retired else "")
        + ("   FROZEN" if held.frozen else ""))
    if held.copies:
        table(["copy", "state", "current", "version", "settings", "printed", "by", "as", "found at", "withdrawn because"],
              map(_row, held.copies))
    else:
        say("No label was ever printed for it.")
    say(*finding_lines(held.findings))


def _worth_a_look(held: LabelList) -> int:
    from vault.domain.findings import Severity

    return 1 if any(finding.severity is not Severity.NOTE for finding in held.findings) else 0


@command(example='gearkeep --key tom.key found 7K3D9QXW6 --at "Corridor, bay 2" --copy 2')
@click.argument("tag")
@click.option("--at", "place", required=True, help="Where it was found, up to 40 characters, as the plans name the place.")
@click.option("--copy", type=click.IntRange(1, 9999), help="The copy's number, where it is known.")
@click.option("--type", "type_code", help="Code of the type of the housing that bears it.")
@click.option("--hanging/--loose", "on_housing", default=None, help="It hangs on a housing there, or lies loose: in a drawer, a "
              "store, on the floor.")
def found(tag: str, place: str, copy: int | None, type_code: str | None, on_housing: bool | None, as_json: bool) -> None:
    """Sign that a label was found elsewhere than its luminaire hangs, or on a housing of another type.

    A label on a wrong housing freezes swaps and printing of its luminaire, and of the one recorded there, until it is settled:
    by move, placed, withdraw-label, or found once more. One that lies loose freezes nothing.
    """
    from vault.actions.labels_life import sight_label

    held = sight_label(desk(), tag, place, copy, type_code, on_housing=True if type_code and on_housing is None else on_housing)
    if as_json:
        say(json_text(_list_json(held)))
    else:
        say("Signed.")
        _say_list(held)


@command(example="gearkeep labels 7K3D9QXW6")
@click.argument("tag")
def labels(tag: str, as_json: bool) -> int:
    """List the copies of a luminaire's label: which count, which were placed, replaced, withdrawn or found elsewhere."""
    from vault.actions.labels_life import label_list

    held = label_list(open_vault(), tag)
    if as_json:
        say(json_text(_list_json(held)))
    else:
        _say_list(held)
    return _worth_a_look(held)


@command(example='gearkeep --key tom.key withdraw-label 7K3D9QXW6 --copy 1 --because "torn, taken off"')
@click.argument("tag")
@click.option("--copy", "copies", type=click.IntRange(1, 9999), multiple=True,
              help="Number of a copy; may be repeated. Default: all that are not withdrawn.")
@click.option("--because", required=True, help="Why, up to 60 characters.")
def withdraw_label(tag: str, copies: tuple[int, ...], because: str, as_json: bool) -> None:
    """Sign that labels no longer count."""
    from vault.actions.labels_life import withdraw_label as act
    from vault.domain.tag import parse_tag

    gone = act(desk(), tag, copies or None, because)
    if as_json:
        say(json_text({"tag": parse_tag(tag), "withdrawn": list(gone)}))
        return
    numbers = ", ".join(map(str, gone))
    say(f"Label {'copy' if len(gone) == 1 else 'copies'} {numbers} no longer {'counts' if len(gone) == 1 else 'count'}.")


@command(example='gearkeep --key tom.key reissue 7K3D9QXW6 --because "label gone" --out label.png')
@click.argument("tag")
@click.option("--because", required=True, help="Why the old copies count no more, up to 60 characters.")
@click.option("--out", type=click.Path(path_type=Path), required=True, help="A .png, .svg, .pdf or .pwg file.")
@click.option("--overwrite", is_flag=True, help="Replace a file that is there already.")
@click.option("--medium", default="60x40", show_default=True, help="Label size in mm: 60x40, 50x25, 76x51 or 102x51.")
@click.option("--dpi", type=click.Choice(["203", "300", "600"]), default="300", show_default=True,
              help="Dots an inch of the printer.")
@click.option("--link-only", is_flag=True, help="Let the label bear the link alone where its settings find no room.")
def reissue(tag: str, because: str, out: Path, overwrite: bool, medium: str, dpi: str, link_only: bool, as_json: bool) -> None:
    """Withdraw every copy of a label that stands and print a new one, together or not at all."""
    from vault.actions.labelling import medium_named
    from vault.actions.reissue import reissue as act
    from vault.domain.tag import shown

    if not overwrite:
        refuse_existing(out, overwrite=True)
    done = act(desk(), tag, because, out=out, medium=medium_named(medium, int(dpi)), link_only=link_only)
    [of] = done.printed.tags
    if as_json:
        say(json_text({"tag": of, "file": str(out), "copy": done.copy, "withdrawn": list(done.withdrawn),
                       "without_settings": bool(done.printed.without_settings)}))
        return
    say(f"Label copy {done.copy} of {shown(of)} in {out}, every code read back from its own raster.")
    if done.printed.without_settings:
        say("Its code holds the tag alone, for want of room; the label says so.")
    if done.withdrawn:
        numbers = ", ".join(map(str, done.withdrawn))
        say(f"Withdrawn: {'copy' if len(done.withdrawn) == 1 else 'copies'} {numbers}. Destroy what turns up of them.")
    say(f"When it hangs on the housing: gearkeep placed {of}")
