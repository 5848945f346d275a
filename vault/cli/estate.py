"""gearkeep estate."""

from __future__ import annotations

import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import click

from vault.cli.shell import command, json_text, passphrase, say, table

_SITES = click.option("--site", "sites", multiple=True, required=True, metavar="ADDRESS",
                      help="A site's vault, as for --vault; repeated for each site.")


@click.group(epilog="Example: gearkeep estate check estate.json --site baths.db --site school.db --estate '1f3a 9c02 …'")
def estate() -> None:
    """One checkpoint over all sites of an estate."""


@command(estate, example="gearkeep estate key estate.key")
@click.argument("file", type=click.Path(path_type=Path))
def key(file: Path, as_json: bool) -> None:
    """Make the estate's key file, encrypted with a passphrase, and print its public key and fingerprint for the papers."""
    from vault.trust.keys import fingerprint, new_private_key, public_bytes, write_key_file

    private = new_private_key()
    write_key_file(file, private, passphrase(confirm=True))
    public = public_bytes(private)
    say(json_text({"file": str(file), "public_key": public.hex(), "fingerprint": fingerprint(public)}) if as_json else
        f"Made {file}.\nPublic key: {public.hex()}\nFingerprint: {fingerprint(public)}\n"
        "Write one of them on paper: gearkeep estate check asks for it.")


def _sites_json(body: Any) -> list[dict[str, Any]]:
    return [{"log_id": site.log_id.hex(), "main_size": site.main_size, "main_root": site.main_root.hex(),
             "stock_size": site.stock_size, "stock_root": site.stock_root.hex()} for site in body.sites]


@command(estate, example="gearkeep estate sign --site baths.db --site school.db --estate-key estate.key --name 'Town of Example' "
                         "--out estate-2031-03.json")
@_SITES
@click.option("--estate-key", "key_file", required=True, type=click.Path(path_type=Path), help="The estate's key file.")
@click.option("--name", required=True, help="The estate's name, up to 60 characters.")
@click.option("--out", required=True, type=click.Path(path_type=Path), help="The file to write; none is ever overwritten.")
@click.option("--previous", type=click.Path(path_type=Path), help="The estate's last file: every site in it has to agree first.")
def sign(sites: tuple[str, ...], key_file: Path, name: str, out: Path, previous: Path | None, as_json: bool) -> None:
    """Sign the sizes and roots of all sites in one file, once each agrees with its own newest checkpoint."""
    from vault.actions.estate import sign as act
    from vault.trust.keys import fingerprint, read_key_file

    done = act(sites, read_key_file(key_file, passphrase()), name=name, out=out, now_s=int(time.time()), previous=previous)
    say(json_text({"file": str(out), "estate": name, "public_key": done.public_key.hex(), "sites": _sites_json(done.body)})
        if as_json else
        f"Signed {len(done.body.sites)} sites of {name} into {out}. Keep it away from the computers that hold the sites.\n"
        f"Fingerprint of the estate's key: {fingerprint(done.public_key)}")


@command(estate, example="gearkeep estate check estate.json --site baths.db --site school.db --estate "
                         "'1f3a 9c02 77d1 40be 8a6c 51f0 2e9d b364'")
@click.argument("file", type=click.Path(path_type=Path))
@_SITES
@click.option("--estate", "trusted", required=True, metavar="KEY",
              help="The estate's public key or fingerprint, from a paper that you trust.")
def check(file: Path, sites: tuple[str, ...], trusted: str, as_json: bool) -> int:
    """Say of each site whether it is the same, has grown, was rolled back or forked, is missing or unknown."""
    from vault.actions.estate import GOOD, open_estate
    from vault.actions.estate import check as act

    body = open_estate(file, trusted)
    answers = act(file, sites, trusted)
    day = datetime.fromtimestamp(body.time_s, UTC).strftime("%Y-%m-%d %H:%M UTC")
    if as_json:
        say(json_text({"estate": body.name, "signed": day, "sites": [
            {"verdict": one.verdict.value, "site": one.name, "address": one.address,
             "log_id": one.log_id.hex() if one.log_id else None, "before": one.before, "now": one.now, "why": one.why}
            for one in answers]}))
    else:
        say(f"{body.name}, signed {day}, {len(body.sites)} sites.")
        table(("site", "verdict", "why"), [
            (one.name or one.address or (one.log_id.hex()[:16] if one.log_id else ""), one.verdict.value, one.why)
            for one in answers])
    return 0 if all(one.verdict in GOOD for one in answers) else 1
