"""gearkeep import, adopt."""

from __future__ import annotations

import functools
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from vault.cli.shell import Progress, command, desk, finding_lines, json_text, open_vault, say, table
from vault.errors import UsageProblem, VerificationError

if TYPE_CHECKING:
    from vault.actions.adopting import AdoptionResult, Left
    from vault.actions.taking_over import Imported
    from vault.exchange.pack_reading import Confirm
    from vault.trust.statements import Genesis

_SHOWN = 10  # luminaires adopted without a remark that are listed one by one


@command(name="import", example='gearkeep --key keys/authority.key import handover-millrace.zip --authority "1f2e 3d4c …"')
@click.argument("pack", required=False, type=click.Path(path_type=Path), metavar="PACK")
@click.option("--authority", help="The other vault's first authority: its fingerprint or public key, from a paper that you "
              "trust. Without it you are asked.")
@click.option("--evidence", default="evidence", show_default=True, type=click.Path(path_type=Path), metavar="FOLDER",
              help="Where both checkpoints are kept when the pack contradicts one that was imported before.")
@click.option("--list", "listed", is_flag=True, help="List what was taken over, and read no pack.")
def import_(pack: Path | None, authority: str | None, evidence: Path, listed: bool, as_json: bool) -> None:
    """Take over another vault's handover pack (a folder or ZIP file) with its signers and proofs; the authority signs for it.

    Every file is held against the pack's signed list and its whole history verified first. Its luminaires are then shown as
    that vault's, read-only; gearkeep adopt makes them yours. A newer pack of the same vault has to continue the older one.
    """
    if listed:
        if pack is not None or authority is not None:
            raise UsageProblem("--list reads no pack.", hint="Leave PACK and --authority off.")
        _list(as_json)
        return
    if pack is None:
        raise UsageProblem("Which pack to import was not said.", hint="Give its folder or ZIP file; or --list.")
    from vault.actions.taking_over import Disagrees, import_pack

    at = desk()
    if at.key_source is not None:
        at.key_source = functools.cache(at.key_source)
    at.key()
    try:
        done = import_pack(at, pack, _confirm(authority), reading=Progress("Verifying entries"),
                           writing=Progress("Keeping entries"))
    except Disagrees as problem:
        from vault.actions.witness import write_evidence

        write_evidence(evidence, problem.evidence)
        raise VerificationError(problem.what, kind=problem.kind, hint=f"{problem.hint} Both are kept in {evidence}.") from problem
    say(json_text(_imported_json(done)) if as_json else "\n".join(_imported_lines(done)))


def _at_a_terminal() -> bool:
    return sys.stdin.isatty()


def _confirm(authority: str | None) -> Confirm:
    from vault.exchange.pack_reading import expecting

    if authority is not None:
        return expecting(authority)
    if not _at_a_terminal():
        raise UsageProblem("It was not said which authority the pack is of.", kind="no-authority",
                           hint="Give --authority with its fingerprint from a paper that you trust; here is no terminal to ask "
                                "on.")

    def ask(genesis: Genesis) -> None:
        from vault.cli.shell import visible
        from vault.trust.keys import fingerprint

        click.echo(visible(f"The pack says that it is of {genesis.site} ({genesis.host}), log {genesis.log_id.hex()}."), err=True)
        click.echo(f"Its authority's fingerprint: {fingerprint(genesis.authority_key)}", err=True)
        if not click.confirm("Does a paper of that vault that you trust show the same fingerprint?", err=True):
            raise VerificationError("The pack's authority was not confirmed.", kind="other-authority",
                                    hint="Nothing was imported. Ask that vault's people for the fingerprint, on paper or by "
                                         "telephone.")

    return ask


def _imported_json(done: Imported) -> dict[str, Any]:
    log = done.log
    return {"log_id": log.log_id.hex(), "host": log.host, "site": log.site, "authority": done.authority, "size": log.size,
            "root": log.root.hex(), "size_before": done.size_before, "added": done.added, "luminaires": done.luminaires,
            "entry": log.seq}


def _imported_lines(done: Imported) -> list[str]:
    log = done.log
    if done.nothing_new:
        return [f"Nothing new: the {log.size} entries of {log.site} were imported before, and the pack holds the same."]
    before = f", the first {done.size_before} of them the same as imported before" if done.size_before else ""
    return [f"{log.site}: {log.size} entries verified{before}; {done.added} came in, {done.luminaires} luminaires in all.",
            f"Log {log.log_id.hex()}, authority {done.authority}. The take-over is entry {log.seq}.",
            f"They are shown as {log.site}'s, read-only. Make them yours: gearkeep --key INSTALLER.key adopt --all"]


def _list(as_json: bool) -> None:
    from vault.actions.taking_over import list_taken
    from vault.trust.signers import day_of

    with open_vault().reading() as session:
        found = list_taken(session)
    if as_json:
        say(json_text({"logs": [{
            "log_id": one.log.log_id.hex(), "host": one.log.host, "site": one.log.site, "authority": one.authority,
            "size": one.log.size, "root": one.log.root.hex(), "taken_over_s": one.log.time_s, "entry": one.log.seq,
            "luminaires": one.luminaires, "adopted": one.adopted} for one in found]}))
    elif not found:
        say("Nothing was taken over here.")
    else:
        table(["log", "site", "host", "entries", "luminaires", "adopted", "taken over", "authority"],
              [(one.log.log_id.hex()[:8], one.log.site, one.log.host, one.log.size, one.luminaires, one.adopted,
                day_of(one.log.time_s), one.authority) for one in found])


@command(example="gearkeep --key keys/I01.key adopt 7K3D9QXW6@a1b2")
@click.argument("tags", metavar="[TAG@LOG]...", nargs=-1)
@click.option("--all", "everything", is_flag=True, help="Every luminaire that was taken over and is not yours yet.")
def adopt(tags: tuple[str, ...], everything: bool, as_json: bool) -> int:
    """Make luminaires that were taken over yours: each gets a new tag and a version 1 under your rating of its type.

    The record names the log, tag and version that it comes from. Print its new label afterwards; the old label then leads to it.
    """
    from vault.actions.adopting import adopt as act

    if everything == bool(tags):
        raise UsageProblem("Which luminaires to adopt was not said." if not tags else "--all means every one already.",
                           hint="Give TAG@LOG, one or more, or --all.")
    done = act(desk(), tags, everything=everything, progress=Progress("Adopting"))
    say(json_text(_adopted_json(done)) if as_json else "\n".join(_adopted_lines(done)))
    return 1 if done.refused or not (done.adopted or done.skipped) else 0


def _left_json(one: Left) -> dict[str, Any]:
    return {"name": one.taken.name, "kind": one.kind, "why": one.why, "adopted_as": list(one.taken.adopted_as)}


def _adopted_json(done: AdoptionResult) -> dict[str, Any]:
    return {"adopted": [{"tag": one.tag, "from": one.taken.name, "place": one.place, "provisional": one.provisional,
                         "findings": [finding.as_json() for finding in one.findings]} for one in done.adopted],
            "skipped": [_left_json(one) for one in done.skipped], "refused": [_left_json(one) for one in done.refused]}


def _adopted_lines(done: AdoptionResult) -> list[str]:
    from vault.domain.tag import shown

    lines: list[str] = []
    # What needs eyes is always shown; of those that went smoothly, as many as one looks through.
    smooth = [one for one in done.adopted if not one.provisional and not one.findings]
    for one in [*smooth[:_SHOWN], *(one for one in done.adopted if one not in smooth)]:
        lines.append(f"{shown(one.tag)}  {one.place}  adopted from {one.taken.name}, {one.taken.words}"
                     + ("  PROVISIONAL" if one.provisional else ""))
        lines += finding_lines(one.findings)
    if len(smooth) > _SHOWN:
        lines.append(f"and {len(smooth) - _SHOWN} more adopted without a remark; all stand in --json and in find")
    lines += [f"skipped {one.taken.name}: {one.why}" for one in done.skipped[:_SHOWN]]
    if len(done.skipped) > _SHOWN:
        lines.append(f"and {len(done.skipped) - _SHOWN} more that were adopted before")
    lines += [f"REFUSED {one.taken.name} [{one.kind}]: {one.why}" for one in done.refused]
    counts = [f"{len(done.adopted)} adopted", f"{len(done.skipped)} adopted before", f"{len(done.refused)} refused"]
    lines.append(", ".join(counts) + ".")
    if done.adopted:
        lines.append(f"Print the new labels: gearkeep label {done.adopted[0].tag} --out label.pdf")
    return lines
