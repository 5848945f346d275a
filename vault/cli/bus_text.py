"""What gearkeep bus prints: cautions and the yes to them, frames, what was read beside the record."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from vault.cli.shell import finding_lines, json_text, say, table, visible
from vault.errors import UsageProblem

if TYPE_CHECKING:
    from vault.actions.bus_work import BusDone, BusPlan
    from vault.actions.luminaire import View
    from vault.domain.frames import Frame
    from vault.domain.readback import Comparison
    from vault.domain.settings import Gear


def say_cautions() -> None:
    """Said before anything is sent; on standard error, so that JSON stays what it is."""
    from vault.domain.cautions import CAUTIONS

    for caution in CAUTIONS:
        if caution.number in (1, 3, 4, 11):
            click.echo(f"caution: {caution.text}", err=True)


def caution_lines(plan: BusPlan) -> list[str]:
    """The cautions of this job, and what the spare cannot hold."""
    return ["Cautions; local rules and competent, authorised persons decide:",
            *(f"  {number:2}. {caution}" for number, caution in enumerate(plan.judged.plan.cautions, 1)),
            *(f"Cannot be held: {one}" for one in plan.judged.plan.cannot_hold)]


def acknowledge(plan: BusPlan, yes: bool) -> None:
    """The cautions, and a yes to them, before anything is sent. Raises UsageProblem (not-confirmed)."""
    for line in caution_lines(plan):
        click.echo(visible(line), err=True)
    if yes:
        return
    if not sys.stdin.isatty():
        raise UsageProblem("Nobody has confirmed; nothing was sent.", kind="not-confirmed",
                           hint="Read the cautions, then give --yes; here is no terminal to ask on.")
    said = " and ".join(map(plan.job.said, plan.job.addresses))
    if not click.confirm(f"Cautions read, covers closed, supply on: set the spare at {said}?", err=True):
        raise UsageProblem("It was not confirmed; nothing was sent.", kind="not-confirmed",
                           hint="Run the command again when ready.")


def frame_lines(frames: Sequence[Frame]) -> list[str]:
    """Frames by number, bytes and words."""
    return [f"{number:4}  {one.bytes_hex}{'  twice' if one.send_twice else '       '}  {one.words}"
            for number, one in enumerate(frames, 1)]


def report(seen: View, gear: Gear, done: BusDone, compared: Sequence[Comparison], out: Path | None, as_json: bool) -> int:
    """Write what was read where wanted, print it beside the record; the exit code."""
    from vault.domain.fields import label_of
    from vault.domain.findings import stops
    from vault.domain.readback_rows import comparison_rows
    from vault.domain.schema import words
    from vault.exchange.readback_file import Readback, readback_json, write_readback

    kept = Readback(tag=seen.tag, version=seen.record.version, gears={words(gear.duty): done.values})
    if out is not None:
        write_readback(out, kept)
    # What the bus cannot read is for the typed form; it is no fault of this reading.
    differs = [one for one in compared if one.result == "differs"]
    missing = [one.field for one in compared if one.result == "not-read"]
    unread = ", ".join(map(label_of, missing))
    good = not differs and not stops(done.findings)
    if as_json:
        say(json_text(readback_json(kept) | {
            "good": good, "differs": [one.field for one in differs], "not_read": missing,
            "findings": [one.as_json() for one in done.findings], "told": list(done.told)}))
        return 0 if good else 1
    agree = sum(one.result in ("same", "within-tolerance") for one in compared)
    shown = [one for one in compared if one.result in ("same", "within-tolerance", "differs")]
    table(["setting", "set to", "read", ""], comparison_rows(shown, seen.line))
    say(*finding_lines(done.findings))
    say(f"{len(done.values)} fields were read; {agree} settings agree with version {seen.record.version}, {len(differs)} differ."
        + (f" {len(missing)} cannot be read over the bus or were not answered: {unread}." if missing else ""))
    if out is not None:
        say(f"Written to {out}; type in the rest: gearkeep readback fill {seen.tag}.")
    return 0 if good else 1
