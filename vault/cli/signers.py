"""gearkeep signer."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from vault.cli.shell import command, desk, json_text, open_vault, passphrase, refuse_existing, say, table
from vault.errors import UsageProblem


@click.group(epilog="Example: gearkeep signer list")
def signer() -> None:
    """Who may sign what."""


def _signer_json(one: Any, name: str | None) -> dict[str, Any]:
    return {"code": one.code, "roles": sorted(role.name.lower() for role in one.roles), "key_id": one.key_id.hex(),
            "granted_at": one.granted_at, "withdrawn_at": one.withdrawn_at, "name": name}


@command(signer, example="gearkeep signer key anna.key")
@click.argument("file", type=click.Path(path_type=Path))
def key(file: Path, as_json: bool) -> None:
    """Make your own key file, encrypted with a passphrase, and print its public key for the authority."""
    from vault.trust.keys import new_private_key, public_bytes, write_key_file

    private = new_private_key()
    write_key_file(file, private, passphrase(confirm=True))
    public = public_bytes(private).hex()
    if as_json:
        say(json_text({"file": str(file), "public_key": public}))
    else:
        say(f"Made {file}. Keep it to yourself; give the authority this public key:", public)


@command(signer, example="gearkeep --key keys/authority.key signer add T04 --role technician --public-key 3b6a…")
@click.argument("code")
@click.option("--role", "roles", multiple=True, required=True,
              type=click.Choice(["installer", "technician", "stores", "approver", "authority"]), help="May be repeated.")
@click.option("--public-key", help="64 hexadecimal digits, as printed by: gearkeep signer key.")
@click.option("--new-key", type=click.Path(path_type=Path), help="Make a key file here and grant to it.")
@click.option("--name", help="The person behind the code; kept in a table that can be erased, never in the journal.")
def add(code: str, roles: tuple[str, ...], public_key: str | None, new_key: Path | None, name: str | None,
        as_json: bool) -> None:
    """Grant roles to a signer under a short CODE (to 8 characters) that will stand on labels."""
    from vault.actions.setup import add_signer
    from vault.trust.keys import new_private_key, public_bytes, write_key_file
    from vault.trust.statements import Role

    if (public_key is None) == (new_key is None):
        raise UsageProblem("Name the signer's key once.", hint="Give either --public-key or --new-key FILE.")
    desk_ = desk()
    desk_.key()
    if new_key is not None:
        private = new_private_key()
        write_key_file(new_key, private, passphrase())
        public = public_bytes(private)
    else:
        try:
            public = bytes.fromhex(public_key or "")
        except ValueError as problem:
            raise UsageProblem("The public key is not hexadecimal.", hint="Give the 64 digits as printed.") from problem
    try:
        granted = add_signer(desk_, code=code, roles=frozenset(Role[role.upper()] for role in roles), public_key=public,
                             name=name)
    except BaseException:
        if new_key is not None:
            new_key.unlink(missing_ok=True)
        raise
    if as_json:
        say(json_text(_signer_json(granted, name)))
    else:
        say(f"{code} may now sign as {' and '.join(roles)}." + (f" Key file: {new_key}" if new_key else ""))


@command(signer, name="list", example="gearkeep signer list --json")
def list_(as_json: bool) -> None:
    """List every signer with roles and state."""
    from vault.db import queries

    with open_vault().reading() as session:
        everyone, names = session.signers.everyone(), queries.signer_names(session)
    if as_json:
        say(json_text({"signers": [_signer_json(one, names.get(one.code)) for one in everyone]}))
        return
    table(["code", "roles", "key", "since entry", "state", "name"],
          [(s.code, ", ".join(sorted(r.name.lower() for r in s.roles)), s.key_id.hex(), s.granted_at,
            "valid" if s.withdrawn_at is None else f"withdrawn at entry {s.withdrawn_at}", names.get(s.code, ""))
           for s in everyone])


@command(signer, example='gearkeep --key keys/authority.key signer withdraw T04 --because "left the company"')
@click.argument("code")
@click.option("--because", required=True, help="Why, up to 60 characters.")
def withdraw(code: str, because: str, as_json: bool) -> None:
    """From now on nothing that the signer signs counts."""
    from vault.actions.setup import withdraw_signer

    gone = withdraw_signer(desk(), code=code, reason=because)
    if as_json:
        say(json_text(_signer_json(gone, None)))
    else:
        say(f"{code} was withdrawn at entry {gone.withdrawn_at}. What {code} signed before stays good.")


@command(signer, example="gearkeep signer forget T04")
@click.argument("code")
def forget(code: str, as_json: bool) -> None:
    """Erase the person's name behind a code. The journal never held it."""
    from vault.db import queries

    with open_vault().writing() as session:
        had = code in queries.signer_names(session)
        queries.set_signer_name(session, code, None)
    say(json_text({"code": code, "erased": had}) if as_json else
        f"The name behind {code} is erased." if had else f"No name was kept for {code}.")


@command(signer, example="gearkeep signer export signers.json")
@click.argument("file", type=click.Path(path_type=Path))
def export(file: Path, as_json: bool) -> None:
    """Write the list of signers, for scanning with no vault at hand (scan --trust FILE).

    A file name that ends in .pdf gives pages to print, with codes: with them and the labels a lost vault comes back
    (rebuild --from-labels).
    """
    from vault.actions.checkpoint_page import write_signers_page
    from vault.actions.keeping import signer_list
    from vault.exchange.files import write_whole

    refuse_existing(file)
    if file.suffix.lower() == ".pdf":
        write_signers_page(open_vault(), file)
    else:
        write_whole(file, signer_list(open_vault()).encode())
    say(json_text({"file": str(file)}) if as_json else f"Wrote {file}. It holds public keys only.")
