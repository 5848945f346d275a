"""gearkeep found, labels, withdraw-label."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import click

from vault.cli.shell import command, desk, finding_lines, json_text, open_vault, say, table

if TYPE_CHECKING:
    from vault.actions.label_copies import HeldLabel
    from vault.actions.labels_life import LabelList


def _list_json(held: LabelList) -> dict[str, Any]:
    return {"tag": held.tag, "version": held.version, "place": held.place, "retired": held.retired,
            "labels": [copy.as_json() for copy in held.copies], "findings": [f.as_json() for f in held.findings]}


def _row(copy: HeldLabel) -> tuple[object, ...]:
    day = datetime.fromtimestamp(copy.printed_s, UTC).date().isoformat()
    return (copy.copy, copy.state.value, "yes" if copy.current else "no", copy.version,
            "newest" if copy.life.shows_newest else "older", day, copy.signer, copy.why, copy.elsewhere, copy.because)


def _say_list(held: LabelList) -> None:
    from vault.domain.tag import shown

    say(f"{shown(held.tag)}   version {held.version}   {held.place}" + ("   RETIRED" if held.retired else ""))
    if held.copies:
        table(["copy", "state", "current", "version", "settings", "printed", "by", "as", "found at", "withdrawn because"],
              map(_row, held.copies))
    else:
        say("No label was ever printed for it.")
    say(*finding_lines(held.findings))


def _worth_a_look(held: LabelList) -> int:
    from vault.domain.findings import Severity

    return 1 if any(finding.severity is not Severity.NOTE for finding in held.findings) else 0


@command(example='gearkeep --key tom.key found 7K3D9QXW6 --at "Store room" --copy 2')
@click.argument("tag")
@click.option("--at", "place", required=True, help="Where it was found, up to 40 characters.")
@click.option("--copy", type=click.IntRange(1, 9999), help="The copy's number, where it is known.")
def found(tag: str, place: str, copy: int | None, as_json: bool) -> None:
    """Sign that a label was found elsewhere than its luminaire hangs."""
    from vault.actions.labels_life import sight_label

    held = sight_label(desk(), tag, place, copy)
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
