"""gearkeep init."""

from __future__ import annotations

import re
import time
from pathlib import Path

import click

from vault.cli.shell import command, json_text, passphrase, say, vault_address
from vault.errors import UsageProblem

# The digit and host budget of vault/FORMAT.md holds at this length.
HOST_BUDGET = 13


def _recovery(text: str) -> tuple[int, int]:
    found = re.fullmatch(r"(\d{1,2})of(\d{1,2})", text)
    if found is None:
        raise UsageProblem(f"--recovery {text} cannot be read.", hint="Write it as 1of1 or 2of3.")
    return int(found[1]), int(found[2])


@command(example='gearkeep --vault vault.db init --host lx.example.eu --site "Harbour Baths"')
@click.option("--host", required=True, help="Host name that stands in every label's link, for good: labels last longer "
              "than servers. 4 to 30 characters.")
@click.option("--site", required=True, help="What the vault is of, up to 60 characters.")
@click.option("--keys", "keys_folder", type=click.Path(file_okay=False, path_type=Path),
              help="Folder for the key files. Default: keys beside the vault's file; for a server's site, keys here.")
@click.option("--recovery", default="1of1", show_default=True, help="How many of how many recovery keys are needed.")
def init(host: str, site: str, keys_folder: Path | None, recovery: str, as_json: bool) -> None:
    """Make a new vault, the authority's key and the checkpoint key.

    The recovery key is shown once: print it, lock it away, keep it nowhere else.
    """
    from vault.actions.setup import found_vault
    from vault.db.address import parse_address

    needed, count = _recovery(recovery)
    beside = Path() if "://" in vault_address() else Path(vault_address()).resolve().parent
    folder = keys_folder or beside / "keys"
    done = found_vault(vault_address(), host=host, site=site, keys_folder=folder, passphrase=passphrase(confirm=True),
                       recovery_needed=needed, recovery_count=count, now_s=int(time.time()))
    cost = len(host) - HOST_BUDGET
    if as_json:
        say(json_text({"vault": str(parse_address(vault_address())), "log_id": done.genesis.log_id.hex(),
                       "authority": done.fingerprint,
                       "authority_key": str(done.authority_file), "checkpoint_key": str(done.checkpoint_file),
                       "recovery_keys": list(done.recovery_papers), "recovery_needed": needed,
                       "recovery_fingerprints": list(done.recovery_fingerprints)}))
        return
    say(f"Made {parse_address(vault_address())} for {site}.",
        f"Authority key   {done.authority_file}   (grants roles, signs ratings and driver models)",
        f"Checkpoint key  {done.checkpoint_file}   (signs the journal's size and root)",
        f"Authority fingerprint  {done.fingerprint}",
        "Write the fingerprint down: it tells this vault from every other.", "",
        f"Recovery: {needed} of these {count} can appoint a new authority. Print now; they are not shown again.")
    for number, (paper, mark) in enumerate(zip(done.recovery_papers, done.recovery_fingerprints, strict=True), 1):
        say(f"  Recovery key {number}:", *(f"    {line}" for line in paper.splitlines()), f"    public fingerprint {mark}")
    say(("Give each to another person. " if count > 1 else "") + "How to use them: gearkeep authority request --help.")
    if cost > 0:
        say("", f"The host has {len(host)} characters, {cost} over {HOST_BUDGET}: every capsule code holds about "
            f"{round(cost * 5.5 / 8)} bytes less, so some records will need a larger code or a link label.")
