"""gearkeep handover, revise, move, retire, placed, approve, label."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from vault.cli.shell import Progress, command, desk, finding_lines, json_text, refuse_existing, say, table
from vault.errors import UsageProblem

if TYPE_CHECKING:
    from vault.actions.changes import Changed
    from vault.actions.handover import HandoverResult


def _pairs(settings: tuple[str, ...]) -> dict[str, str]:
    found = {}
    for text in settings:
        path, sign, value = text.partition("=")
        if not sign or not path.strip():
            raise UsageProblem(f"--set {text} cannot be read.", hint="Write it as channels.1.current_ma=650.")
        found[path.strip()] = value.strip()
    return found


def _handover_json(result: HandoverResult) -> dict[str, object]:
    return {
        "accepted": [{"reference": a.reference, "tag": a.tag, "version": a.version, "change": a.change,
                      "provisional": a.provisional,
                      "changes": [{"field": f, "before": b, "after": n} for f, b, n in a.changes]} for a in result.accepted],
        "rejected": [{"row": r.row, "column": r.column, "value": r.value, "problem": r.problem, "allowed": r.allowed}
                     for r in result.rejected],
        "findings": [{"reference": reference, **finding.as_json()} for reference, finding in result.findings],
    }


def _many(count: int, word: str) -> str:
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def _say_handover(result: HandoverResult, preview: bool, rejected_file: Path | None) -> None:
    counts = {change: sum(a.change == change for a in result.accepted) for change in ("new", "revised", "unchanged")}
    verb = "would be signed" if preview else "signed"
    say(f"{counts['new']} new luminaires {verb}, {counts['revised']} revised, {counts['unchanged']} unchanged.")
    for one in result.accepted:
        if one.changes:
            said = "; ".join(f"{field}: {before if before is not None else '–'} → {after if after is not None else '–'}"
                             for field, before, after in one.changes)
            say(f"  {one.reference} version {one.version}: {said}")
    provisional = [a.reference for a in result.accepted if a.provisional]
    if provisional:
        say(f"{len(provisional)} of them are provisional until a second signer approves: {', '.join(provisional)}.")
    if result.findings:
        say("Worth a look:")
        for reference, finding in result.findings:
            say(*(f"{reference}{line}" if number % 2 == 0 else line
                  for number, line in enumerate(finding_lines([finding]))))
    if result.rejected:
        rows = {r.row for r in result.rejected}
        verb = "would not be" if preview else "were not"
        say("", f"{_many(len(result.rejected), 'problem')} in {_many(len(rows), 'row')}; those luminaires {verb} signed:")
        table(["row", "column", "found", "problem", "allowed"],
              [(r.row, r.column, r.value, r.problem, r.allowed) for r in result.rejected])
        if rejected_file is not None:
            say(f"The rejected rows are in {rejected_file}. Correct them there and feed that file again.")
        else:
            say("Give --rejected FILE to get these rows as a file to correct and feed again.")


@command(example="gearkeep --key anna.key handover schedule.csv --rejected rejected.csv")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--preview", is_flag=True, help="Check everything, sign nothing.")
@click.option("--map", "map_file", type=click.Path(path_type=Path), help="TOML file: heading in your file = heading here.")
@click.option("--rejected", "rejected_file", type=click.Path(path_type=Path), help="Write rejected rows here.")
@click.option("--provisional", is_flag=True, help="Sign luminaires with open stops too, as provisional.")
def handover(file: Path, preview: bool, map_file: Path | None, rejected_file: Path | None, provisional: bool,
             as_json: bool) -> int:
    """Check a luminaire schedule (CSV) row by row and sign one record for each good luminaire.

    The same file twice adds nothing; a corrected row revises its luminaire, found by its reference.
    """
    from vault.actions.handover import hand_over
    from vault.exchange.schedule import read_mapping, write_rejected

    if rejected_file is not None:
        refuse_existing(rejected_file)
    mapping = read_mapping(map_file) if map_file is not None else None
    result = hand_over(desk(), file, mapping=mapping, preview=preview, allow_open=provisional,
                       progress=Progress("Checking and signing" if not preview else "Checking"))
    if rejected_file is not None and result.rejected:
        write_rejected(rejected_file, result.schedule, result.rejected)
    if as_json:
        say(json_text(_handover_json(result)))
    else:
        _say_handover(result, preview, rejected_file if result.rejected else None)
    return 1 if result.rejected else 0


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
