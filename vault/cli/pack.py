"""gearkeep pack."""

from __future__ import annotations

from pathlib import Path

import click

from vault.cli.shell import Progress, command, desk, json_text, refuse_existing, say
from vault.errors import UsageProblem


@command(example="gearkeep --checkpoint-key keys/checkpoint.key pack --out handover-2026 --zip handover-2026.zip")
@click.option("--out", type=click.Path(path_type=Path), required=True, metavar="FOLDER", help="The folder to make.")
@click.option("--zip", "zip_path", type=click.Path(path_type=Path), metavar="FILE",
              help="The same folder as a .zip file beside it; the same records give the same bytes.")
@click.option("--retention", metavar="TEXT|FILE", help='How long to keep the pack: a text, or a .toml file of lines "what" = '
              '"how long". Default: configuration for the life of the installation, test records as the local rule says.')
def pack(out: Path, zip_path: Path | None, retention: str | None, as_json: bool) -> None:
    """Make the handover pack for the building's owner: paper, a page for the browser, table and all signed bytes.

    The whole vault is verified first and its checkpoint signed anew. The pack can be read and verified without this program.
    """
    from vault.actions.pack import write_pack
    from vault.exchange.pack_retention import read_retention

    if zip_path is not None and zip_path.suffix.lower() != ".zip":
        raise UsageProblem(f"{zip_path.name} would not say that it is a ZIP file.", kind="unknown-format",
                           hint="Give --zip NAME.zip.")
    refuse_existing(*([out] if zip_path is None else [out, zip_path]))
    kept = read_retention(retention)
    shown: dict[str, Progress] = {}

    def progress(what: str, done: int, total: int) -> None:
        shown.setdefault(what, Progress(what))(done, total)

    made = write_pack(desk(), out, zip_path=zip_path, retention=kept, progress=progress)
    if as_json:
        say(json_text({
            "folder": str(made.folder), "zip": str(made.zip_path) if made.zip_path else None, "files": made.files,
            "luminaires": made.luminaires, "retired": made.retired, "statements": made.statements, "states": made.states,
            "checkpoints": [{"log": one.log, "size": one.size, "root": one.root.hex(), "note": one.note,
                             "verifier_key": one.verifier_key} for one in made.checkpoints]}))
        return
    loud = ", ".join(f"{number} {state}" for state, number in made.states.items() if number)
    say(f"{made.luminaires} luminaires in service{f' ({loud})' if loud else ''}, {made.statements} statements, "
        f"{len(made.files)} files in {made.folder}{f' and in {made.zip_path}' if made.zip_path else ''}.",
        f"Checkpoint: {made.checkpoints[0].size} entries, root {made.checkpoints[0].root.hex()}.",
        "Print handover.pdf and keep it away from the files: its checkpoint is the witness that they are the same still.")
