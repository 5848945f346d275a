"""gearkeep readback: what to read of a driver, typed in, held against the record, and proven to be the one signed for."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import TYPE_CHECKING

import click

from vault.cli.shell import command, desk, finding_lines, json_text, refuse_existing, say, table, visible
from vault.errors import GearkeepError, UsageProblem

if TYPE_CHECKING:
    from vault.actions.reading_back import Asked
    from vault.exchange.readback_file import Readback

_GEAR = click.option("--gear", help="Which gear: general, emergency-converter … Default: every gear.")
_SPARE = click.option("--spare", help="Model of the driver that hangs there, when the record names another.")


@click.group(epilog="Example: gearkeep readback form 7K3D9QXW6 --out readback.csv")
def readback() -> None:
    """What was read from a driver: the form, typed in, checked against the record, proven."""


def _endings(path: Path) -> None:
    if path.suffix.casefold() not in (".json", ".csv"):
        raise UsageProblem(f"{path} ends in {path.suffix or 'nothing'}.", kind="bad-ending", hint="Allowed: .json and .csv.")


@command(readback, example="gearkeep readback form 7K3D9QXW6 --spare GEN-50-1050 --out readback.csv")
@click.argument("tag")
@_GEAR
@_SPARE
@click.option("--out", type=click.Path(path_type=Path), required=True, help="Write the form here, .json or .csv.")
def form(tag: str, gear: str | None, spare: str | None, out: Path, as_json: bool) -> None:
    """Write an empty form: every field to read with what is asked in words, nothing filled in."""
    from vault.actions.reading_back import asked
    from vault.domain.readback_form import with_evidence
    from vault.domain.tag import shown
    from vault.exchange.readback_file import write_form

    _endings(out)
    refuse_existing(out)
    due = asked(desk(), tag, gear=gear, spare=spare)
    asks = {duty: with_evidence(asks) for duty, asks in due.asks.items()}
    write_form(out, tag=due.tag, version=due.version, asks=asks)
    count = sum(map(len, asks.values()))
    say(json_text({"tag": due.tag, "version": due.version, "form": str(out), "fields": count}) if as_json else
        f"{out}: {count} fields of {shown(due.tag)} version {due.version}. What stays empty counts as not read.")


def _begun(out: Path, due: Asked) -> Readback:
    """What the file holds already of this very luminaire and version; an empty readback when it is not there."""
    from vault.exchange.readback_file import Readback, read_readback

    if not out.exists():
        return Readback(tag=due.tag, version=due.version, gears={})
    held = read_readback(out)
    if (held.tag, held.version) != (due.tag, due.version):
        raise UsageProblem(f"{out} is there already and is not the readback of this luminaire's newest version.", kind="exists",
                           hint="Name another file, or move that one away.")
    return held


def _photograph(path: Path | None) -> str | None:
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest() if path is not None else None
    except OSError as problem:
        raise UsageProblem(f"{path} cannot be read: {problem.strerror}.", kind="unreadable-file",
                           hint="Check the file's name and rights.") from problem


@command(readback, example="gearkeep readback fill 7K3D9QXW6 --out readback.json")
@click.argument("tag")
@_GEAR
@_SPARE
@click.option("--photograph", type=click.Path(path_type=Path), help="Photograph of the switches as set; its SHA-256 is kept.")
@click.option("--out", type=click.Path(path_type=Path), required=True, help="Keep it here, .json or .csv; goes on with it.")
def fill(tag: str, gear: str | None, spare: str | None, photograph: Path | None, out: Path, as_json: bool) -> int:
    """Type in what the driver reads, field by field. Enter: not read. A question mark: what is allowed.

    Every answer is in the file at once. After a break the same command asks only for what is not there yet.
    """
    from vault.actions.reading_back import asked
    from vault.domain.tag import shown
    from vault.exchange.readback_file import Readback, write_readback
    from vault.exchange.readback_typed import fill as type_in

    _endings(out)
    picture = _photograph(photograph)
    due = asked(desk(), tag, gear=gear, spare=spare)
    held = _begun(out, due)
    for duty, asks in due.asks.items():
        def keep(values: dict[str, object], duty: str = duty) -> None:
            held.gears[duty] = dict(values)
            write_readback(out, Readback(tag=due.tag, version=due.version, gears=held.gears))

        click.echo(f"── {duty} gear: {len(asks)} fields", err=True)
        type_in(asks, lambda text: _typed(text, out), keep, known=held.gears.get(duty), photograph=picture)
    count = sum(map(len, held.gears.values()))
    say(json_text({"tag": due.tag, "version": due.version, "readback": str(out) if count else None, "fields": count})
        if as_json else f"{shown(due.tag)} version {due.version}: {count} answers"
        + (f" in {out}." if count else "; nothing was typed, nothing was written."))
    return 0 if count else 1


def _typed(text: str, out: Path) -> str:
    try:
        said: str = click.prompt(visible(text), default="", show_default=False, prompt_suffix=" ", err=True)
    except click.Abort as problem:
        raise GearkeepError(f"The input ended at: {text.rpartition(chr(10))[2]}", kind="no-answer",
                            hint=f"What was typed before is kept in {out}; run the same command again to go on." if out.exists()
                            else "Nothing was typed yet, and nothing was written.") from problem
    return said


@command(readback, example="gearkeep readback check 7K3D9QXW6 readback.json")
@click.argument("tag")
@click.argument("file", type=click.Path(path_type=Path))
@_SPARE
def check(tag: str, file: Path, spare: str | None, as_json: bool) -> int:
    """Hold a readback against the newest record, field by field. Exit code 0: everything was read and agrees."""
    from vault.actions.reading_back import check_readback
    from vault.domain.readback_rows import comparison_rows
    from vault.domain.tag import shown
    from vault.exchange.readback_file import read_readback

    done = check_readback(desk(), tag, read_readback(file), spare=spare)
    record = done.seen.record
    if as_json:
        say(json_text({
            "tag": done.seen.tag, "version": record.version, "read_at": done.read_at, "matched": done.matched,
            "gears": {duty: [{"field": row.field, "expected": row.expected, "found": row.found, "unit": row.unit,
                              "result": row.result, "tolerance_permille": row.tolerance_permille, "evidence": row.evidence}
                             for row in rows] for duty, rows in done.gears.items()},
            "findings": [finding.as_json() for finding in done.findings]}))
        return 0 if done.matched else 1
    for duty, rows in done.gears.items():
        say(f"{shown(done.seen.tag)} version {record.version}, {duty} gear")
        table(["field", "set to", "read", "result"], comparison_rows(rows, done.seen.line))
    if done.read_at not in (None, record.version):
        say(f"It was read against version {done.read_at}; the newest is version {record.version}.")
    say(*finding_lines(done.findings), "A full match." if done.matched else "NOT a full match.")
    return 0 if done.matched else 1


@command(readback, example="gearkeep readback prove 7K3D9QXW6 readback.json --version 2")
@click.argument("tag")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--version", type=click.IntRange(1, 100_000), help="Of the record. Default: the newest.")
def prove(tag: str, file: Path, version: int | None, as_json: bool) -> int:
    """Say whether this is the readback that a version was signed for. Exit code 0: it is, for every gear in the file."""
    from vault.actions.reading_back import prove_readback
    from vault.exchange.readback_file import read_readback

    number, proven = prove_readback(desk(), tag, read_readback(file), version=version)
    if as_json:
        say(json_text({"version": number, "gears": [
            {"gear": one.duty, "digest": one.digest.hex(), "signed": one.signed.hex() if one.signed else None, "same": one.same}
            for one in proven]}))
    for one in proven if not as_json else ():
        which = "the" if one.same else "NOT the"
        told = f"its digest is {one.digest.hex()}, and version {number} bears {one.signed.hex() if one.signed else 'none'}"
        say(f"{one.duty or 'the gear'}: this is {which} readback that was signed for; {told}.")
    return 0 if all(one.same for one in proven) else 1
