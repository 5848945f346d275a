"""gearkeep sticker: the label's link and record on an NFC sticker."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from vault.cli.shell import command, json_text, open_vault, refuse_existing, say, vault_was_given
from vault.cli.shell import desk as the_desk
from vault.errors import UsageProblem

if TYPE_CHECKING:
    from vault.actions.sticker import Connect, Sticker

READER = click.option("--reader", metavar="PATH", help="An NFC reader: usb, or as in tty:USB0:pn532.")
GROWS_OLD = "A sticker is a copy of the label: it grows old with the luminaire's next version. Write it anew then."


def _at_reader(path: str) -> Connect:
    from labels.nfc_reader import WAIT_S, nfc_library, open_sticker

    nfc_library()  # nobody shall hold a sticker in vain
    click.echo(f"Hold the sticker on the reader; it is waited for {WAIT_S} s.", err=True)
    return partial(open_sticker, path)


def _size_lines(made: Sticker) -> list[str]:
    from vault.domain.tag import shown

    carried = f"its link and the record of {made.record_bytes} bytes" if made.record_bytes else "its link alone"
    sizes = ", ".join(f"{one.memory_bytes} bytes (messages up to {one.message_bytes})" for one in made.held_by)
    lines = [f"{shown(made.tag)} version {made.version}: {carried} make a message of {len(made.data)} bytes.",
             f"Common stickers that hold it: {sizes}." if sizes else
             "No common sticker holds it: take a larger one, or write the link alone with --link-only."]
    if made.provisional:
        lines.append("PROVISIONAL: this version is not approved. Write the sticker anew once it is.")
    return lines


def _as_json(made: Sticker, out: Path | None, reader: str | None) -> dict[str, Any]:
    return {"tag": made.tag, "version": made.version, "link": made.link, "message_bytes": len(made.data),
            "record_bytes": made.record_bytes, "link_only": not made.record_bytes, "provisional": made.provisional,
            "held_by": [{"memory_bytes": one.memory_bytes, "message_bytes": one.message_bytes} for one in made.held_by],
            "file": str(out) if out else None, "reader": reader, "grows_old": GROWS_OLD}


@click.group(epilog="Example: gearkeep sticker write 7K3D9QXW6 --out sticker.ndef")
def sticker() -> None:
    """NFC stickers: what the label's codes say, for a reader or a phone. Nothing new is signed."""


@command(sticker, example="gearkeep sticker write 7K3D9QXW6 --out sticker.ndef --capacity 492")
@click.argument("tag")
@click.option("--out", type=click.Path(path_type=Path), help="Write the NDEF message to this file.")
@READER
@click.option("--capacity", "capacity_bytes", type=click.IntRange(min=1), metavar="BYTES",
              help="The longest NDEF message that the sticker at hand holds.")
@click.option("--link-only", is_flag=True, help="Leave the record out: the sticker names the luminaire, no settings.")
@click.option("--overwrite", is_flag=True, help="Replace a file, or what the sticker holds already.")
def write(tag: str, out: Path | None, reader: str | None, capacity_bytes: int | None, link_only: bool, overwrite: bool,
          as_json: bool) -> None:
    """Write a luminaire's link and newest record to a file or to a sticker at a reader.

    Before it writes it says how long the message is and which common stickers hold it. What a reader wrote is read back.
    """
    from vault.actions.sticker import sticker_of, write_sticker

    if out is None and reader is None:
        raise UsageProblem("There is nothing to write to.", hint="Give --out FILE, --reader usb, or both.")
    if out is not None and not overwrite:
        refuse_existing(out, overwrite=True)
    made = sticker_of(the_desk(), tag, link_only=link_only, capacity_bytes=capacity_bytes)
    if not as_json:
        say(*_size_lines(made))
    if reader is not None:
        write_sticker(made, _at_reader(reader), overwrite=overwrite)
    if out is not None:
        write_sticker(made, out)
    if as_json:
        say(json_text(_as_json(made, out, reader)))
        return
    say(*(["It is on the sticker; read back, it says the same."] if reader else []),
        *([f"It is in {out}."] if out else []), GROWS_OLD)


@command(sticker, example="gearkeep sticker read sticker.ndef --trust signers.txt")
@click.argument("file", required=False, type=click.Path(path_type=Path))
@READER
@click.option("--trust", type=click.Path(path_type=Path), help="List of signers (signer export), when no vault is at hand.")
def read(file: Path | None, reader: str | None, trust: Path | None, as_json: bool) -> int:
    """Read a sticker or a file of its message and verify it, with the vault or with a list of signers alone.

    Figures are shown only when their signature is good.
    """
    from vault.actions.sticker import read_sticker
    from vault.cli.technician import _good, _trust_text
    from vault.cli.technician_text import scanned_json, scanned_lines

    if (file is None) == (reader is None):
        raise UsageProblem("One sticker is read at a time.", hint="Give a FILE, or --reader usb.")
    trust_text = _trust_text(trust)
    vault = open_vault() if trust is None and vault_was_given() else None
    source = file if file is not None else _at_reader(reader or "")
    one = read_sticker(source, vault=vault, trust_text=trust_text)
    say(json_text(scanned_json(one)) if as_json else "\n".join(scanned_lines(one)))
    return 0 if _good(one) else 1
