"""gearkeep audit, rebuild, checkpoint, upgrade."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from vault.cli.shell import Progress, command, desk, json_text, open_vault, say, vault_address


def _audit_json(result: Any, checkpoint: str | None) -> dict[str, Any]:
    return {
        "statements": result.statements,
        "problems": [{"what": f.what, "where": f.where, "why": f.why} for f in result.faults],
        "checkpoint": checkpoint,
        "logs": [{"log": name, "size": result.sizes[number], "root": result.roots[number].hex()}
                 for number, name in ((0, "main"), (1, "stock"))],
    }


@command(example="gearkeep audit --checkpoint from-the-binder.txt")
@click.option("--checkpoint", "files", multiple=True, type=click.Path(path_type=Path),
              help="A checkpoint kept outside the vault: a text file, or a photograph of its page; may be repeated.")
def audit(files: tuple[Path, ...], as_json: bool) -> int:
    """Verify every signature, chain, proof and index row, and hold the journal against checkpoints.

    Only a checkpoint kept elsewhere shows that entries were taken off the end or an old copy was restored.
    """
    from vault.actions.keeping import audit as act
    from vault.actions.keeping import latest_checkpoint

    vault = open_vault()
    result = act(vault, files, Progress("Verifying"))
    if as_json:
        say(json_text(_audit_json(result, latest_checkpoint(vault))))
    else:
        say(f"{result.statements} statements verified, {len(result.faults)} problems.",
            *(f"  {fault.what}: {fault.where}: {fault.why}" for fault in result.faults))
        if not files:
            say("No checkpoint from outside was given; give one with --checkpoint FILE to rule out a rollback.")
    return 1 if result.faults else 0


@command(example="gearkeep rebuild")
def rebuild(as_json: bool) -> None:
    """Make every index table anew from the journal alone. Nothing changes when the journal does not verify."""
    from vault.actions.keeping import rebuild_index

    rows = rebuild_index(open_vault(), Progress("Rebuilding"))
    say(json_text({"rows": rows}) if as_json else f"{rows} index rows were made anew from the journal.")


@command(example="gearkeep --checkpoint-key keys/checkpoint.key checkpoint --out checkpoint.txt")
@click.option("--out", type=click.Path(path_type=Path),
              help="Write a page to print (.pdf), or text files (.txt; the stock journal's beside it as -stock).")
def checkpoint(out: Path | None, as_json: bool) -> None:
    """Sign the size and root of each journal. Keep the result outside: on paper, on a phone, with somebody else."""
    from vault.actions.checkpoint_page import write_checkpoint_page
    from vault.actions.keeping import sign_checkpoints
    from vault.exchange.files import write_whole

    at = desk()
    signed = sign_checkpoints(at)
    if out is not None and out.suffix.lower() == ".pdf":
        write_checkpoint_page(at, out)
    elif out is not None:
        for one in signed:
            path = out if one.log == "main" else out.with_name(f"{out.stem}-{one.log}{out.suffix}")
            write_whole(path, one.note.encode())
    if as_json:
        say(json_text({"checkpoints": [{"log": c.log, "size": c.size, "root": c.root.hex(), "note": c.note,
                                        "verifier_key": c.verifier_key}
                                       for c in signed], "file": str(out) if out else None}))
    else:
        say(*(f"{c.log} journal, size {c.size}\n{c.note}" for c in signed))


@command(example="gearkeep upgrade")
def upgrade(as_json: bool) -> None:
    """Bring an older vault's schema up to this program's, then make its index anew. Copy the file first."""
    from vault.actions.keeping import upgrade_vault

    before, after = upgrade_vault(vault_address())
    say(json_text({"before": before, "after": after}) if as_json else
        f"The schema was {before}, it is {after}." if before != after else f"Nothing to do: the schema is {after}.")
