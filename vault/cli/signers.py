"""gearkeep signer."""

from __future__ import annotations

import time
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from vault.cli.shell import command, desk, json_text, open_vault, passphrase, refuse_existing, say, table
from vault.errors import UsageProblem

if TYPE_CHECKING:
    from vault.trust.signers import Signer, Signers

WARN_DAYS = 90


@click.group(epilog="Example: gearkeep signer list")
def signer() -> None:
    """Who may sign what."""


def _signer_json(one: Any, name: str | None) -> dict[str, Any]:
    return {"code": one.code, "roles": sorted(role.name.lower() for role in one.roles), "key_id": one.key_id.hex(),
            "granted_at": one.granted_at, "withdrawn_at": one.withdrawn_at, "name": name,
            "until": None if one.until_s is None else _day(one.until_s)}


def _day(time_s: int) -> str:
    from vault.trust.signers import day_of

    return day_of(time_s)


def end_of_day(said: str | None) -> int | None:
    """The last second (UTC) of a day written as 2031-12-31. Raises UsageProblem (bad-date)."""
    if said is None:
        return None
    try:
        day = date.fromisoformat(said)
        return int(datetime(day.year, day.month, day.day, 23, 59, 59, tzinfo=UTC).timestamp())
    except ValueError as problem:
        raise UsageProblem(f"--until {said} is no day.", kind="bad-date", hint="Write it as 2031-12-31.") from problem


def expiry_lines(signers: Signers, now_s: int) -> list[str]:
    """A line for each signer whose time is over or ends within 90 days."""
    from vault.trust.signers import expiring

    lines = []
    for one in expiring(signers, now_s, WARN_DAYS):
        left = ((one.until_s or 0) - now_s) // 86_400
        lines.append(f"{one.code} {'can sign no more since' if left < 0 else 'can sign until'} {_day(one.until_s or 0)}"
                     + ("." if left < 0 else f", {left} {'day' if left == 1 else 'days'} from now.")
                     + f" Grant the key anew where it shall go on: gearkeep signer add {one.code} --until DATE …")
    return lines


def _state(one: Signer, now_s: int) -> str:
    if one.withdrawn_at is not None:
        return f"withdrawn at entry {one.withdrawn_at}"
    if one.until_s is None:
        return "valid"
    return f"{'expired' if one.until_s < now_s else 'valid until'} {_day(one.until_s)}"


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
@click.option("--until", metavar="DAY", help="The last day on which the key signs, as 2031-12-31. Default: until withdrawn.")
@click.option("--name", help="The person behind the code; kept in a table that can be erased, never in the journal.")
def add(code: str, roles: tuple[str, ...], public_key: str | None, new_key: Path | None, until: str | None,
        name: str | None, as_json: bool) -> None:
    """Grant roles to a signer under a short CODE (to 8 characters) that will stand on labels.

    Granting to the same key again renews it, with the roles and the end that are given now.
    """
    from vault.actions.setup import add_signer
    from vault.trust.keys import new_private_key, public_bytes, write_key_file
    from vault.trust.statements import Role

    if (public_key is None) == (new_key is None):
        raise UsageProblem("Name the signer's key once.", hint="Give either --public-key or --new-key FILE.")
    until_s = end_of_day(until)
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
                             name=name, until_s=until_s)
    except BaseException:
        if new_key is not None:
            new_key.unlink(missing_ok=True)
        raise
    if as_json:
        say(json_text(_signer_json(granted, name)))
    else:
        end = f", until {until}" if until else ""
        say(f"{code} may now sign as {' and '.join(roles)}{end}." + (f" Key file: {new_key}" if new_key else ""))


@command(signer, name="list", example="gearkeep signer list --json")
def list_(as_json: bool) -> None:
    """List every signer with roles and state; says who can sign no more soon."""
    from vault.db import queries

    now_s = int(time.time())
    with open_vault().reading() as session:
        everyone, names = session.signers.everyone(), queries.signer_names(session)
        ending = expiry_lines(session.signers, now_s)
    if as_json:
        say(json_text({"signers": [_signer_json(one, names.get(one.code)) for one in everyone], "ending": ending}))
        return
    table(["code", "roles", "key", "since entry", "state", "name"],
          [(s.code, ", ".join(sorted(r.name.lower() for r in s.roles)), s.key_id.hex(), s.granted_at,
            _state(s, now_s), names.get(s.code, "")) for s in everyone])
    say(*ending)


@command(signer, example='gearkeep --key keys/authority.key signer withdraw T04 --because "telephone stolen" --trusted-until 812')
@click.argument("code")
@click.option("--because", required=True, help="Why, up to 60 characters.")
@click.option("--trusted-until", type=click.IntRange(min=0), metavar="ENTRY",
              help="The last journal entry from before the key was in wrong hands; what it signed behind that is in doubt.")
def withdraw(code: str, because: str, trusted_until: int | None, as_json: bool) -> None:
    """From now on nothing that the signer signs counts. What was signed before stays good, unless --trusted-until is given.

    Entries in doubt stay in the journal; show, scan, fit, cover, stock list and audit name them until the driver was read or
    another signer approved, loaded or counted it anew.
    """
    from vault.actions.setup import withdraw_signer

    gone = withdraw_signer(desk(), code=code, reason=because, trusted_until=trusted_until)
    if as_json:
        say(json_text({**_signer_json(gone.signer, None), "trusted_until": trusted_until,
                       "in_doubt": [one.code for one in gone.in_doubt]}))
        return
    if trusted_until is None:
        say(f"{code} was withdrawn at entry {gone.at}. What {code} signed before stays good.")
    else:
        say(f"{code} is withdrawn. What {code} signed behind entry {trusted_until} is in doubt: gearkeep audit names it.")
        if gone.stock_trusted:
            what = "1 movement or statement of terms" if gone.stock_trusted == 1 else \
                f"{gone.stock_trusted} movements or statements of terms"
            say(f"{what} that {code} signed while entry {trusted_until} was the last one still count. Where they are in doubt "
                "too, withdraw once more with an earlier entry.")
    if gone.in_doubt:
        say("Granted by a key in doubt, so in doubt themselves: " + ", ".join(one.code for one in gone.in_doubt)
            + ". Grant them anew, or withdraw them too.")


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
