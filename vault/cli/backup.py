"""gearkeep backup, restore."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

import click

from vault.cli.keeping import held_json
from vault.cli.shell import Progress, command, json_text, open_vault, say
from vault.errors import UsageProblem


def _state_json(state: Any) -> list[dict[str, Any]]:
    return [{"log": name, "size": state.sizes[number], "root": state.roots[number].hex()}
            for number, name in ((0, "main"), (1, "stock"))]


def _faults_json(faults: Any) -> list[dict[str, str]]:
    return [{"what": fault.what, "where": fault.where, "why": fault.why} for fault in faults]


def _entries(count: int) -> str:
    return f"{count} {'entry' if count == 1 else 'entries'}"


def _backup_lines(done: Any) -> list[str]:
    main, stock = done.state.sizes[0], done.state.sizes[1]
    lines = [f"Wrote {done.path}: {_entries(main)} of the main journal, {stock} of the stock journal, {done.size_bytes} bytes."]
    if done.faults:
        lines += ["IT WAS KEPT ALTHOUGH IT IS NOT GOOD:", *(f"  {one.what}: {one.where}: {one.why}" for one in done.faults)]
    else:
        lines.append("Proven: the file's pages; sizes and roots are the vault's" + (
            f"; the newest checkpoint inside ({_entries(done.checkpoint_size)}) agrees" if done.checkpoint_size else "")
            + (f"; all {done.statements} statements, tree hashes and index rows." if done.statements is not None else "."))
        if done.statements is None:
            lines.append("Not proven: the single statements and index rows (--no-audit). gearkeep --vault FILE audit does that.")
    lines.append("Not proven: that the vault itself was not rolled back. That tells gearkeep audit --checkpoint FILE.")
    if done.contradictions:
        lines += ["EARLIER BACKUPS DISAGREE. Nothing was pruned; keep them all, and run gearkeep audit with a checkpoint.",
                  *(f"  {one.where}: {one.why}" for one in done.contradictions)]
    lines += [f"Pruned {path}." for path in done.pruned]
    return lines


@command(example="gearkeep backup --folder /mnt/backup/lights --keep 30")
@click.option("--out", type=click.Path(path_type=Path), metavar="FILE", help="The new file; none is ever overwritten.")
@click.option("--folder", type=click.Path(path_type=Path), help="A folder that gets a file with the vault's id and the time in "
              "its name. What lies there of this vault is held against the new one.")
@click.option("--keep", type=click.IntRange(min=1), metavar="N", help="With --folder: how many of this vault's files stay, the "
              "new one among them. Older ones go only once the new one is proven.")
@click.option("--no-audit", is_flag=True, help="Prove pages, sizes, roots and the newest checkpoint alone, not every statement.")
@click.option("--even-faulty", is_flag=True, help="Keep the copy although it is found faulty (exit code 1; nothing is pruned).")
def backup(out: Path | None, folder: Path | None, keep: int | None, no_audit: bool, even_faulty: bool, as_json: bool) -> int:
    """Copy the whole vault into one file while others go on writing, and prove the copy.

    The file is a vault (SQLite) whatever the engine of the original, so any gearkeep reads it. It holds people's names.
    """
    from vault.actions.backup import back_up

    if (out is None) == (folder is None):
        raise UsageProblem("A backup goes to one place.", hint="Give --out FILE, or --folder FOLDER.")
    if keep is not None and folder is None:
        raise UsageProblem("--keep belongs to --folder.", hint="Give --folder FOLDER, or leave --keep off.")
    done = back_up(open_vault(), out=out, folder=folder, keep=keep, audited=not no_audit, even_faulty=even_faulty,
                   now_s=int(time.time()), copying=Progress("Copying"), verifying=Progress("Verifying"))
    say(json_text({
        "file": str(done.path), "bytes": done.size_bytes, "logs": _state_json(done.state), "audited": done.statements is not None,
        "statements": done.statements, "checkpoint_size": done.checkpoint_size, "problems": _faults_json(done.faults),
        "contradictions": _faults_json(done.contradictions), "pruned": [str(path) for path in done.pruned]})
        if as_json else "\n".join(_backup_lines(done)))
    return 1 if done.faults or done.contradictions else 0


def _restore_lines(done: Any) -> list[str]:
    main, stock = done.state.sizes[0], done.state.sizes[1]
    lines = [f"Restored {done.address}: {_entries(main)} of the main journal, {stock} of the stock journal; "
             f"{done.statements} statements verified."]
    if done.faults:
        lines += ["IT IS NOT GOOD:", *(f"  {one.what}: {one.where}: {one.why}" for one in done.faults)]
    same = [one for one in done.held if one.verdict.value == "consistent"]
    if same:
        newest = max(same, key=lambda one: (-one.log, one.said.size))
        lines.append(f"Same history as {len(same)} of {len(done.held)} checkpoints given; the newest ({newest.kept.source}) saw "
                     f"{_entries(newest.said.size)}, and {_entries(newest.now - newest.said.size)} came behind it.")
    for one in done.missing:
        lines.append(f"MISSING: this backup holds {_entries(one.now)}, the checkpoint {one.kept.source} saw {one.said.size}. "
                     "What was signed since the backup is not here, and every audit against that checkpoint will say so.")
    if not done.held:
        lines.append("No checkpoint from outside was given: that this is the newest state, or the true one, is not proven.")
    if done.newest is not None:
        lines.append(f"The newest checkpoint inside saw {_entries(done.newest)} of the main journal.")
    return [*lines, "Next:",
            "  1. Before anybody signs: look for a newer backup, a replica, and labels printed since (gearkeep scan tells of a "
            "label whose record is not in the vault).",
            f"  2. gearkeep --vault '{done.address}' audit --checkpoint FILE, with every checkpoint that you can find.",
            "  3. Put the old vault away as it is, so that nobody signs in both.",
            "  4. Sign a new checkpoint: gearkeep checkpoint --post FOLDER; and make a new backup."]


@command(example="gearkeep restore vault-backup.db --into vault.db --checkpoint from-the-binder.txt")
@click.argument("backup_file", metavar="BACKUP", type=click.Path(path_type=Path))
@click.option("--into", required=True, metavar="ADDRESS", help="A new file, or a new site on a PostgreSQL server; nothing is "
              "ever overwritten.")
@click.option("--checkpoint", "files", multiple=True, type=click.Path(path_type=Path), metavar="FILE|FOLDER",
              help="A checkpoint kept outside (as for audit); may be repeated. It proves that this is the same history.")
@click.option("--accept-older", is_flag=True, help="Restore although a checkpoint saw more entries than the backup holds.")
@click.option("--even-faulty", is_flag=True, help="Restore although the audit finds faults (exit code 1).")
def restore(backup_file: Path, into: str, files: tuple[Path, ...], accept_older: bool, even_faulty: bool, as_json: bool) -> int:
    """Bring a backup back into a new place, proven by checkpoints to be the same history.

    Also the way from a file to a PostgreSQL server and back. Nothing is written when a checkpoint disagrees.
    """
    from vault.actions.backup import restore as act

    done = act(backup_file, into, checkpoint_files=files, accept_older=accept_older, even_faulty=even_faulty,
               copying=Progress("Copying"), verifying=Progress("Verifying"))
    say(json_text({
        "vault": done.address, "logs": _state_json(done.state), "statements": done.statements,
        "checkpoints": held_json(done.held),
        "missing_entries": max((one.said.size - one.now for one in done.missing if one.said), default=0),
        "newest_checkpoint_inside": done.newest, "problems": _faults_json(done.faults)})
        if as_json else "\n".join(_restore_lines(done)))
    return 1 if done.faults else 0
