"""gearkeep audit, rebuild, checkpoint, upgrade."""

from __future__ import annotations

import functools
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import click

from vault.cli.shell import Progress, command, desk, json_text, open_vault, say, signing_key, vault_address
from vault.errors import GearkeepError, UsageProblem

EVIDENCE = Path("gearkeep-evidence")
_EVIDENCE_OPTION = click.option(
    "--evidence", type=click.Path(path_type=Path), default=EVIDENCE, show_default=True, metavar="FOLDER",
    help="Where both notes are kept, with a report, when checkpoints and journal disagree; written only then.")


def held_json(held: Iterable[Any]) -> list[dict[str, Any]]:
    """What the journal says to each checkpoint given."""
    return [{"source": one.kept.source, "verdict": one.verdict.value, "why": one.why,
             "log": None if one.log is None else ("main", "stock")[one.log], "size": one.said.size if one.said else None}
            for one in held]


def _keep_evidence(folder: Path, files: dict[str, str]) -> tuple[str | None, list[str]]:
    """(the folder, or None when nothing was kept; lines to print). What cannot be kept is said; the audit still counts."""
    if not files:
        return None, []
    from vault.actions.witness import write_evidence

    try:
        write_evidence(folder, files)
    except GearkeepError as problem:
        return None, [f"THE EVIDENCE COULD NOT BE KEPT: {problem.what} {problem.hint}"]
    return str(folder), [
        "CHECKPOINTS DISAGREE. Sign nothing in this vault until it is known why.",
        f"Both sides' notes and a report lie in {folder}. Copy that folder to another place, then ask whoever holds other "
        "checkpoints, and look for the newest backup."]


def _audit_json(done: Any, checkpoint: str | None, evidence: str | None) -> dict[str, Any]:
    result = done.result
    return {
        "statements": result.statements,
        "problems": [{"what": f.what, "where": f.where, "why": f.why} for f in result.faults],
        "checkpoint": checkpoint,
        "logs": [{"log": name, "size": result.sizes[number], "root": result.roots[number].hex()}
                 for number, name in ((0, "main"), (1, "stock"))],
        "checkpoints": held_json(done.held), "of_other_vaults": done.strangers, "evidence": evidence,
    }


def _held_lines(done: Any) -> list[str]:
    good = sum(one.verdict.value == "consistent" for one in done.held)
    lines = [f"{good} of {len(done.held)} checkpoints agree with the journal."] if done.held else []
    seen = [one.said.size for one in done.held if one.said is not None and one.log == 0 and one.verdict.value == "consistent"]
    if seen and max(seen) < done.result.sizes[0]:
        lines.append(f"The newest of them saw {max(seen)} of {done.result.sizes[0]} entries; of what came later they say "
                     "nothing.")
    if done.strangers:
        lines.append(f"{done.strangers} of other vaults in the same folder were passed over.")
    return lines


def _freshness_line(newest: Any) -> str:
    if newest is None:
        return "No checkpoint was ever signed here. Sign one, and keep it outside: gearkeep checkpoint."
    from vault.trust.signers import day_of

    of_day = "" if newest.time_s is None else f", the last of them of {day_of(newest.time_s)}"
    return f"The vault's newest checkpoint saw {newest.size} of {newest.entries} entries{of_day}."


@command(example="gearkeep audit --checkpoint from-the-binder.txt")
@click.option("--checkpoint", "files", multiple=True, type=click.Path(path_type=Path), metavar="FILE|FOLDER",
              help="A checkpoint kept outside the vault: a text file, a photograph of its page, or a folder of such; may be "
                   "repeated.")
@_EVIDENCE_OPTION
def audit(files: tuple[Path, ...], evidence: Path, as_json: bool) -> int:
    """Verify every signature, chain, proof and index row, and hold the journal against checkpoints.

    Only a checkpoint kept elsewhere shows that entries were taken off the end or an old copy was restored.
    """
    from vault.actions.keeping import examine, freshness, latest_checkpoint

    vault = open_vault()
    done = examine(vault, files, Progress("Verifying"))
    result = done.result
    kept_in, loud = _keep_evidence(evidence, done.evidence)
    if as_json:
        say(json_text(_audit_json(done, latest_checkpoint(vault), kept_in)))
    else:
        say(f"{result.statements} statements verified, {len(result.faults)} problems.",
            *(f"  {fault.what}: {fault.where}: {fault.why}" for fault in result.faults), *_held_lines(done), *loud)
        if not result.faults:
            say(_freshness_line(freshness(vault)))
        if not files:
            say("No checkpoint from outside was given; give one with --checkpoint FILE to rule out a rollback.")
    return 1 if result.faults else 0


@command(example="gearkeep rebuild")
@click.option("--from-labels", "folder", type=click.Path(path_type=Path),
              help="Make a new vault from a folder of photographs of labels and of the signers' pages.")
@click.option("--authority", help="With --from-labels: the authority's public key or fingerprint, from a paper that you trust. "
              "Not needed with --key of the authority.")
@click.option("--signers", "signer_files", multiple=True, type=click.Path(path_type=Path),
              help="With --from-labels: signers' pages or lists that lie elsewhere (pictures, .json); may be repeated.")
@click.option("--out", type=click.Path(path_type=Path), help="With --from-labels: the new vault's file.")
@click.option("--accept-recovered", "accept", is_flag=True,
              help="Sign, as the authority, for the records that came back from labels.")
def rebuild(folder: Path | None, authority: str | None, signer_files: tuple[Path, ...], out: Path | None, accept: bool,
            as_json: bool) -> int | None:
    """Make every index table anew from the journal alone; or make a lost vault anew from its labels.

    Without options: nothing changes when the journal does not verify. With --from-labels: the last labelled record of each
    luminaire comes back, verified. With --key of the authority the records are accepted at once, else an audit names them
    until --accept-recovered.
    """
    if folder is not None:
        if accept:
            raise UsageProblem("--accept-recovered is for a vault that came back before.", hint="Leave it off here.")
        if out is None:
            raise UsageProblem("A vault is made from labels into a new file, and none was named.", hint="Give --out NEW.db.")
        return _from_labels(folder, authority, signer_files, out, as_json)
    if authority is not None or signer_files or out is not None:
        raise UsageProblem("--authority, --signers and --out belong to --from-labels.", hint="Give --from-labels FOLDER.")
    if accept:
        _accept_recovered(as_json)
        return None
    from vault.actions.keeping import rebuild_index

    rows = rebuild_index(open_vault(), Progress("Rebuilding"))
    say(json_text({"rows": rows}) if as_json else f"{rows} index rows were made anew from the journal.")
    return None


def _from_labels(folder: Path, authority: str | None, signer_files: tuple[Path, ...], out: Path, as_json: bool) -> int:
    import time

    from vault.actions.recovering import recover
    from vault.cli.recovered_text import recovered_json, recovered_lines
    from vault.trust.keys import public_bytes

    key = signing_key()
    if authority is None:
        if key is None:
            raise UsageProblem("It was not said which authority the labels are of.",
                               hint="Give --authority with its key or fingerprint from a paper that you trust, or --key with "
                                    "its key file.")
        # Whoever has the authority's own key file needs no paper.
        loaded = key()
        authority, key = public_bytes(loaded).hex(), lambda: loaded
    done = recover(folder, authority=authority, signer_files=signer_files, out=out, key=key,
                   now_s=lambda: int(time.time()), reading=Progress("Reading"), writing=Progress("Writing"))
    say(json_text(recovered_json(done)) if as_json else "\n".join(recovered_lines(done)))
    return 1 if done.failures or not done.tags else 0


def _accept_recovered(as_json: bool) -> None:
    from vault.actions.recovering import accept_recovered

    count = accept_recovered(desk())
    say(json_text({"accepted": count}) if as_json else
        f"{count} {'record' if count == 1 else 'records'} from labels accepted." if count else
        "Nothing to do: no record waits to be accepted.")


@command(example="gearkeep --checkpoint-key keys/checkpoint.key checkpoint --post /mnt/office/checkpoints")
@click.option("--out", type=click.Path(path_type=Path),
              help="Write a page to print (.pdf), or text files (.txt; the stock journal's beside it as -stock).")
@click.option("--post", "folders", multiple=True, type=click.Path(path_type=Path), metavar="FOLDER",
              help="Put it into a folder that lies elsewhere (mounted, synchronised), each as a file of its own that is never "
                   "written over; may be repeated. What lies there is held against the journal first.")
@_EVIDENCE_OPTION
def checkpoint(out: Path | None, folders: tuple[Path, ...], evidence: Path, as_json: bool) -> int:
    """Sign the size and root of each journal. Keep the result outside: on paper, on a phone, with somebody else."""
    from vault.actions.checkpoint_page import write_checkpoint_page
    from vault.actions.keeping import post_checkpoints
    from vault.exchange.files import write_whole

    at = desk()
    if at.checkpoint_key_source is not None:
        # Asked once: a passphrase that comes by a file descriptor can be read only once.
        at.checkpoint_key_source = functools.cache(at.checkpoint_key_source)
    done = post_checkpoints(at, folders)
    if done.evidence:
        kept_in, loud = _keep_evidence(evidence, done.evidence)
        say(json_text({"checkpoints": [], "file": None, "posted": [], "disagreeing": held_json(done.disagreeing),
                       "evidence": kept_in}) if as_json else
            "\n".join(["Nothing was signed.", *(f"  {one.verdict.value}: {one.kept.source}: {one.why}"
                                               for one in done.disagreeing), *loud]))
        return 1
    signed = done.signed
    if out is not None and out.suffix.lower() == ".pdf":
        write_checkpoint_page(at, out)
    elif out is not None:
        for one in signed:
            path = out if one.log == "main" else out.with_name(f"{out.stem}-{one.log}{out.suffix}")
            write_whole(path, one.note.encode())
    if as_json:
        say(json_text({"checkpoints": [{"log": c.log, "size": c.size, "root": c.root.hex(), "note": c.note,
                                        "verifier_key": c.verifier_key}
                                       for c in signed], "file": str(out) if out else None,
                       "posted": [str(path) for path in done.files], "disagreeing": [], "evidence": None}))
    else:
        say(*(f"{c.log} journal, size {c.size}\n{c.note}" for c in signed))
        if out is not None:
            say(f"Written to {out}. Keep it away from the computer that holds the vault.")
        say(*(f"Posted: {path}" for path in done.files))
    return 0


@command(example="gearkeep upgrade")
def upgrade(as_json: bool) -> None:
    """Bring an older vault's schema up to this program's, then make its index anew. Run gearkeep backup first."""
    from vault.actions.keeping import upgrade_vault

    before, after = upgrade_vault(vault_address())
    say(json_text({"before": before, "after": after}) if as_json else
        f"The schema was {before}, it is {after}." if before != after else f"Nothing to do: the schema is {after}.")
