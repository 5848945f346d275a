"""gearkeep revise, move, retire, placed, approve, label."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from vault.cli.shell import command, desk, finding_lines, json_text, say
from vault.errors import UsageProblem

if TYPE_CHECKING:
    from vault.actions.changes import Changed


def _pairs(settings: tuple[str, ...]) -> dict[str, str]:
    found = {}
    for text in settings:
        path, sign, value = text.partition("=")
        if not sign or not path.strip():
            raise UsageProblem(f"--set {text} cannot be read.", hint="Write it as channels.1.current_ma=650.")
        found[path.strip()] = value.strip()
    return found


def _say_changed(changed: Changed, as_json: bool, done: str) -> None:
    from vault.domain.tag import shown

    if as_json:
        say(json_text({"tag": changed.tag, "version": changed.version, "open_stops": sorted(changed.open_stops),
                       "findings": [f.as_json() for f in changed.findings]}))
        return
    say(f"{shown(changed.tag)} version {changed.version}: {done}", *finding_lines(changed.findings))
    if changed.open_stops:
        say(f"PROVISIONAL until a second signer approves: {', '.join(sorted(changed.open_stops))}.")


@command(example="gearkeep --key anna.key revise 7K3D9QXW6 --set channels.1.current_ma=650")
@click.argument("tag")
@click.option("--set", "settings", multiple=True, metavar="FIELD=VALUE",
              help="Field as a readback form names it, e.g. channels.1.current_ma; may be repeated.")
@click.option("--gear", help="Which gear: general, emergency-converter … Default: the first.")
@click.option("--note", help="A few words, up to 60 characters.")
@click.option("--resolve", is_flag=True, help="Settle two newest versions that differ; needs --readback.")
@click.option("--readback", type=click.Path(path_type=Path), help="What was read from the drivers (JSON or CSV).")
@click.option("--provisional", is_flag=True, help="Sign in spite of stops; they stay open until approved.")
def revise(tag: str, settings: tuple[str, ...], gear: str | None, note: str | None, resolve: bool,
           readback: Path | None, provisional: bool, as_json: bool) -> int:
    """Sign the next version of a luminaire with changed settings."""
    from vault.actions.changes import revise as act
    from vault.exchange.readback_file import read_readback

    said = read_readback(readback) if readback is not None else None
    changed = act(desk(), tag, changes=_pairs(settings), gear=gear, note=note, resolve=resolve, readback=said,
                  allow_open=provisional)
    _say_changed(changed, as_json, "signed. Its old label no longer shows these settings; print a new one.")
    return 1 if changed.open_stops else 0


@command(example='gearkeep --key anna.key move 7K3D9QXW6 --place "Workshop 2, bay 3"')
@click.argument("tag")
@click.option("--place", required=True, help="Where it hangs now, up to 40 characters.")
@click.option("--line", help="Its control line, if that changed.")
@click.option("--circuit", help="Its circuit, if that changed.")
@click.option("--address", help="Its short address as the site writes it, if that changed.")
@click.option("--provisional", is_flag=True, help="Sign in spite of stops; they stay open until approved.")
def move(tag: str, place: str, line: str | None, circuit: str | None, address: str | None, provisional: bool,
         as_json: bool) -> int:
    """Sign that a luminaire hangs elsewhere."""
    from vault.actions.changes import move as act

    changed = act(desk(), tag, place=place, line=line, circuit=circuit, address=address, allow_open=provisional)
    _say_changed(changed, as_json, f"signed, now at {place}. Print a new label.")
    return 1 if changed.open_stops else 0


@command(example='gearkeep --key anna.key retire 7K3D9QXW6 --because "store room taken down"')
@click.argument("tag")
@click.option("--because", required=True, help="Why, up to 60 characters.")
def retire(tag: str, because: str, as_json: bool) -> None:
    """Sign that a luminaire is gone for good; its labels are withdrawn and its tag is never used again."""
    from vault.actions.changes import retire as act

    _say_changed(act(desk(), tag, because=because), as_json, "retired, its labels are withdrawn.")


@command(example="gearkeep --key anna.key placed 7K3D9QXW6")
@click.argument("tag")
@click.option("--copy", type=click.IntRange(1, 9999), help="Which copy, as gearkeep labels numbers them. Default: the newest.")
def placed(tag: str, copy: int | None, as_json: bool) -> None:
    """Sign that a label was seen on the housing."""
    from vault.actions.changes import placed as act
    from vault.domain.tag import parse_tag

    seen = act(desk(), tag, copy)
    say(json_text({"tag": parse_tag(tag), "copy": seen}) if as_json else f"Label copy {seen} is on the housing.")


@command(example='gearkeep --key boss.key approve 7K3D9QXW6 --as approved-equivalent --because "module data checked"')
@click.argument("tag")
@click.option("--finding", "findings", multiple=True, help="Name of an open stop; may be repeated. Default: all open ones.")
@click.option("--as", "change_class", required=True,
              type=click.Choice(["like-for-like", "approved-equivalent", "modification"]), help="What the change amounts to.")
@click.option("--because", required=True, help="Why it is accepted, up to 120 characters.")
def approve(tag: str, findings: tuple[str, ...], change_class: str, because: str, as_json: bool) -> int:
    """Accept open stops of another signer's record. Takes the role approver or authority."""
    from vault.actions.changes import approve as act
    from vault.domain.record import ChangeClass
    from vault.domain.schema import from_words

    chosen = from_words(ChangeClass, change_class)
    assert chosen is not None  # click.Choice let only these through
    changed = act(desk(), tag, accepts=frozenset(findings) or None, change_class=chosen, because=because)
    accepted = ", ".join(sorted(changed.accepted))
    _say_changed(changed, as_json, f"approved: {accepted}. If a label was printed before, have an installer or technician print "
                 "a new one.")
    return 1 if changed.open_stops else 0
