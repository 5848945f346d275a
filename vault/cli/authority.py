"""gearkeep authority."""

from __future__ import annotations

import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import click

from vault.cli.shell import command, desk, json_text, open_vault, passphrase, refuse_existing, say, vault_was_given
from vault.cli.signers import end_of_day
from vault.errors import GearkeepError, UsageProblem

if TYPE_CHECKING:
    from vault.trust.appointment import Request

MAX_TEXT_CHARACTERS = 4_000
PAPER_LINES = 4


@click.group(epilog="Example: gearkeep authority show")
def authority() -> None:
    """The key that grants roles: put another in its place, or appoint one when it is lost."""


@command(authority, example="gearkeep authority show")
def show(as_json: bool) -> None:
    """Say whom the vault is founded on and who is authority now, to be compared with paper."""
    from vault.actions.authority import standing
    from vault.trust.keys import fingerprint

    now = standing(open_vault())
    if as_json:
        say(json_text({
            "site": now.site, "log_id": now.log_id.hex(), "authority": now.first_fingerprint,
            "authorities": [{"code": one.code, "fingerprint": fingerprint(one.public_key), "granted_at": one.granted_at}
                            for one in now.authorities],
            "recovery_needed": now.recovery_needed, "recovery_fingerprints": list(now.recovery_fingerprints),
            "appointments": now.appointments}))
        return
    say(f"{now.site}, log {_groups(now.log_id)}", f"Known by its first authority's fingerprint  {now.first_fingerprint}",
        *(f"Authority now  {one.code}  {fingerprint(one.public_key)}" for one in now.authorities))
    if not now.authorities:
        say("Nobody is authority now. Appoint one: gearkeep authority request.")
    say(f"{now.recovery_needed} of these {len(now.recovery_fingerprints)} recovery keys appoint an authority:",
        *(f"  {number}  {mark}" for number, mark in enumerate(now.recovery_fingerprints, 1)))


def _groups(data: bytes) -> str:
    digits = data.hex()
    return " ".join(digits[at : at + 4] for at in range(0, len(digits), 4))


@command(authority, example="gearkeep --key keys/authority.key authority rotate AUTH2 --new-key keys/authority2.key")
@click.argument("code")
@click.option("--new-key", "new_key", required=True, type=click.Path(path_type=Path), help="File for the new key; made here.")
@click.option("--because", default="key rotated", show_default=True, help="Why, up to 60 characters.")
@click.option("--until", metavar="DAY", help="The last day on which the new key signs, as 2031-12-31. Default: no end.")
def rotate(code: str, new_key: Path, because: str, until: str | None, as_json: bool) -> None:
    """Hand the authority's roles to a new key under a short CODE and withdraw the old key, in one step.

    Everybody else stays granted; records and labels stay good. Print the signers' pages again afterwards. Where the old key was
    in wrong hands, say so next: gearkeep signer withdraw OLD --because … --trusted-until ENTRY.
    """
    from vault.actions.authority import rotate as act
    from vault.trust.keys import fingerprint, new_private_key, write_key_file

    until_s = end_of_day(until)
    at = desk()
    at.key()
    private = new_private_key()
    write_key_file(new_key, private, passphrase(confirm=True))
    try:
        done = act(at, code=code, new_key=private, because=because, until_s=until_s)
    except BaseException:
        new_key.unlink(missing_ok=True)
        raise
    if as_json:
        say(json_text({"old": done.old.code, "withdrawn_at": done.old.withdrawn_at, "new": done.new.code,
                       "granted_at": done.new.granted_at, "file": str(new_key), "fingerprint": fingerprint(done.new.public_key)}))
        return
    say(f"{done.new.code} is the authority in place of {done.old.code}, from entry {done.new.granted_at} on.",
        f"Key file: {new_key}. Its fingerprint: {fingerprint(done.new.public_key)}",
        "Everybody else stays granted. Print the signers' pages again: gearkeep signer export signers.pdf",
        f"When copies of {new_key} lie in a safe place, destroy the old key file.")


@command(authority, example="gearkeep authority request AUTH2 --new-key keys/authority2.key --end-others --out request.txt")
@click.argument("code")
@click.option("--new-key", "new_key", required=True, type=click.Path(path_type=Path), help="File for the new key; made here.")
@click.option("--end-others", is_flag=True, help="Every other authority ends with the appointment: where the old key is stolen.")
@click.option("--out", type=click.Path(path_type=Path), help="Write the request here instead of printing it alone.")
def request(code: str, new_key: Path, end_others: bool, out: Path | None, as_json: bool) -> None:
    """When the authority's key is lost, step 1: make a new key and the text that the recovery keys' holders endorse.

    The text holds nothing secret; send it or read it out. Step 2, each holder: gearkeep authority endorse. Step 3, here:
    gearkeep authority appoint. Nothing is written to the vault before step 3.
    """
    from vault.actions.authority import make_request
    from vault.exchange.files import write_whole
    from vault.trust.appointment import request_text
    from vault.trust.keys import new_private_key, public_bytes, write_key_file

    vault = open_vault()
    if out is not None:
        refuse_existing(out)
    private = new_private_key()
    asked = make_request(vault, public_key=public_bytes(private), code=code, ends_others=end_others, now_s=int(time.time()))
    text = request_text(asked)
    write_key_file(new_key, private, passphrase(confirm=True))
    try:
        if out is not None:
            write_whole(out, text.encode())
    except BaseException:
        new_key.unlink(missing_ok=True)
        raise
    if as_json:
        say(json_text({"file": str(new_key), "request": text, "number": asked.number, "out": str(out) if out else None}))
        return
    say(f"Made {new_key}. Send this to the holders of the recovery keys" + (f" ({out}):" if out else ":"), "", text.rstrip(), "",
        *_what(asked))


def _what(asked: Request) -> list[str]:
    from vault.trust.keys import fingerprint
    from vault.trust.signers import day_of

    return [f"It asks to appoint {asked.code} as authority of the log {_groups(asked.log_id)}, dated {day_of(asked.time_s)}.",
            f"The new key's fingerprint: {fingerprint(asked.public_key)}",
            "Every other authority would end with it." if asked.ends_others else "The authorities there are would stay."]


def _text_of(path: Path, most: int = MAX_TEXT_CHARACTERS) -> str:
    try:
        with path.open(encoding="utf-8") as file:
            return file.read(most + 1)
    except (OSError, UnicodeDecodeError) as problem:
        raise UsageProblem(f"{path} cannot be read as text.", kind="cannot-open", hint="Give a text file.") from problem


@command(authority, example="gearkeep authority endorse request.txt --out endorsement-anna.txt")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--paper", type=click.Path(path_type=Path), help="A text file with the recovery key as printed; - reads it from "
              "standard input. Default: it is asked for, line by line. Never an argument.")
@click.option("--trust", type=click.Path(path_type=Path), help="The vault's list of signers, to check request and paper against. "
              "No vault is needed.")
@click.option("--out", type=click.Path(path_type=Path), help="Write the endorsement here.")
@click.option("--yes", is_flag=True, help="Do not ask whether the fingerprint is the right one.")
def endorse(file: Path, paper: Path | None, trust: Path | None, out: Path | None, yes: bool, as_json: bool) -> None:
    """Step 2: endorse a request with one recovery key from paper. Works anywhere; send back the text that comes out.

    Compare the new key's fingerprint with whoever made the request, by voice, before you endorse it.
    """
    from vault.actions.authority import endorse_on_paper, genesis_of
    from vault.exchange.files import write_whole
    from vault.trust.appointment import endorsement_text, parse_request
    from vault.trust.trustlist import MAX_BYTES, load

    if out is not None:
        refuse_existing(out)
    asked = parse_request(_text_of(file))
    listed = load(_text_of(trust, MAX_BYTES)) if trust is not None else None
    genesis = genesis_of(open_vault() if listed is None and vault_was_given() else None, listed)
    if not as_json:
        say(*_what(asked), f"The vault is {genesis.site}." if genesis else
            "Neither a vault nor a list of signers is at hand: compare the log with the signers' pages.")
    if not yes:
        if paper is not None or not sys.stdin.isatty():
            raise UsageProblem("Nobody can be asked here whether the fingerprint is the right one.", kind="not-confirmed",
                               hint="Compare it, then give --yes.")
        if not click.confirm("Is that the fingerprint that you were told?", err=True):
            raise GearkeepError("Nothing was endorsed.", kind="not-confirmed")
    text = endorsement_text(endorse_on_paper(asked, _paper(paper), genesis))
    if out is not None:
        write_whole(out, text.encode())
    if as_json:
        say(json_text({"endorsement": text, "out": str(out) if out else None}))
    else:
        say("", "Send this back" + (f" ({out}):" if out else ":"), "", text.rstrip())


def _paper(path: Path | None) -> str:
    if path is not None and str(path) != "-":
        return _text_of(path)
    if path is not None or not sys.stdin.isatty():
        return sys.stdin.read(MAX_TEXT_CHARACTERS)
    return "\n".join(click.prompt(f"Recovery key, line {number} of {PAPER_LINES}", hide_input=True, err=True)
                     for number in range(1, PAPER_LINES + 1))


@command(authority, example="gearkeep --key keys/authority2.key authority appoint request.txt endorsement-*.txt")
@click.argument("file", type=click.Path(path_type=Path))
@click.argument("endorsements", nargs=-1, required=True, type=click.Path(path_type=Path))
def appoint(file: Path, endorsements: tuple[Path, ...], as_json: bool) -> None:
    """Step 3: append the appointment when enough holders endorsed it, signed by the new key (--key)."""
    from vault.actions.authority import appoint as act
    from vault.trust.appointment import parse_endorsement, parse_request
    from vault.trust.keys import fingerprint

    asked = parse_request(_text_of(file))
    signed = []
    for path in endorsements:
        try:
            signed.append(parse_endorsement(_text_of(path)))
        except GearkeepError as problem:
            raise UsageProblem(f"{path}: {problem.what}", kind=problem.kind, hint=problem.hint) from problem
    made = act(desk(), asked, signed)
    if as_json:
        say(json_text({"code": made.code, "granted_at": made.granted_at, "fingerprint": fingerprint(made.public_key),
                       "ends_others": asked.ends_others}))
        return
    say(f"{made.code} is an authority from entry {made.granted_at} on."
        + (" Every authority before it ended there." if asked.ends_others else ""),
        "Print the signers' pages again: gearkeep signer export signers.pdf")
    if asked.ends_others:
        say("Say from where on the old key is not trusted: gearkeep signer withdraw CODE --because … --trusted-until ENTRY")
