"""gearkeep cosign."""

from __future__ import annotations

from pathlib import Path

import click

from vault.cli.shell import command, json_text, open_vault, passphrase, refuse_existing, say


@click.group(epilog="Example: gearkeep cosign check checkpoint-cosigned.txt --cosigner far.key.pub")
def cosign() -> None:
    """A second signature on checkpoints, by ML-DSA-65, should Ed25519 ever be broken."""


@command(cosign, example="gearkeep cosign key far.key")
@click.argument("file", type=click.Path(path_type=Path))
def key(file: Path, as_json: bool) -> None:
    """Make a co-signing key file, encrypted with a passphrase, and its public half for this vault beside it (.pub)."""
    from vault.actions.cosigning import make_cosign_key

    public = make_cosign_key(open_vault(), file, passphrase(confirm=True))
    say(json_text({"file": str(file), "public": str(public)}) if as_json else
        f"Made {file}. Keep {public} with everybody who audits; it holds nothing secret.")


@command(cosign, example="gearkeep cosign add checkpoint.txt --cosign-key far.key --out checkpoint-cosigned.txt")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--cosign-key", "key_file", required=True, type=click.Path(path_type=Path), help="The co-signing key file.")
@click.option("--out", required=True, type=click.Path(path_type=Path), help="The file to write.")
def add(file: Path, key_file: Path, out: Path, as_json: bool) -> None:
    """Add the second signature to a checkpoint's text file, once it agrees with the vault."""
    from vault.actions.cosigning import cosign_file, read_cosign_key

    refuse_existing(out)
    said = cosign_file(open_vault(), file, out, lambda: read_cosign_key(key_file, passphrase()))
    say(json_text({"file": str(out), "size": said.size, "root": said.root.hex()}) if as_json else
        f"Wrote {out}: {said.size} entries, co-signed. Keep it where the checkpoints are kept.")


@command(cosign, example="gearkeep cosign check checkpoint-cosigned.txt --cosigner far.key.pub")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--cosigner", required=True, type=click.Path(path_type=Path), help="The co-signer's public file (.pub).")
def check(file: Path, cosigner: Path, as_json: bool) -> None:
    """Verify the second signature of a checkpoint. No vault is needed; gearkeep audit --checkpoint holds it against one."""
    from vault.actions.cosigning import check_cosigned

    said = check_cosigned(file, cosigner)
    say(json_text({"origin": said.origin, "size": said.size, "root": said.root.hex()}) if as_json else
        f"The co-signature is good: {said.origin}, {said.size} entries, root {said.root.hex()}.")
