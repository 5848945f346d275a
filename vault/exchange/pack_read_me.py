"""READ-ME.txt of a handover pack: what each file is, and how to verify it without this program."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from vault.exchange.pack_layout import (
    FORMAT,
    LIST,
    MAIN_CHECKPOINT,
    MAIN_JOURNAL,
    PAGE,
    PAPER,
    READ_ME,
    SIGNERS,
    STOCK_CHECKPOINT,
    STOCK_JOURNAL,
    TABLE,
)

_SAYS = {
    PAGE: "All records in one page: open it in a browser. It needs no network and no program; it verifies every signature, the "
          "journal and the checkpoint, and finds a luminaire by its tag, place, line and address.",
    PAPER: "The same for people, to be printed: as-built schedule, groups and scenes, settings by type, emergency lighting, "
           "spares, findings, cautions, signers and the checkpoint as codes.",
    TABLE: "The as-built luminaire and addressing schedule as a table for a spreadsheet (CSV, UTF-8, commas). Columns that "
           "begin with as_built_ only tell; gearkeep handover reads the others again. Luminaires out of service are not in it. "
           "A luminaire without a reference stands under its tag. A cell that a spreadsheet would run as a formula has an "
           "apostrophe before it.",
    MAIN_JOURNAL: "Every signed statement of the building in the order in which they were signed: COSE_Sign1 statements (RFC "
                  "9052) one behind the other as a CBOR sequence (RFC 8742). These bytes are what counts; all else is made of "
                  "them.",
    STOCK_JOURNAL: "The same for the stock of spares.",
    MAIN_CHECKPOINT: f"Size and root hash of {MAIN_JOURNAL}, signed: a C2SP tlog-checkpoint in a C2SP signed note.",
    STOCK_CHECKPOINT: f"The same for {STOCK_JOURNAL}.",
    SIGNERS: "Who may sign, as statements and in words. It holds codes, roles and public keys, no names of people.",
    FORMAT: "How all of these bytes are made, in full: enough to write a program that reads them.",
    LIST: "Every other file with its SHA-256 and its size, signed: a C2SP signed note.",
    READ_ME: "This text.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadMe:
    """What the text needs to know. checkpoints: (words, verifier key in C2SP form) of each log. retention: lines."""

    site: str
    host: str
    made_on: str
    authority_fingerprint: str
    checkpoints: Sequence[tuple[str, str]]
    retention: Sequence[str]
    retention_source: str
    cautions: Sequence[str]


def read_me_text(about: ReadMe, files: Collection[str]) -> bytes:
    """The text in UTF-8, lines of at most 100 characters. files: the names in the pack."""
    from textwrap import wrap

    wide = max(map(len, _SAYS)) + 2
    listed = [line for name, says in _SAYS.items() if name in files for line in wrap(
        says, 100, initial_indent=f"  {name:{wide}}", subsequent_indent=" " * (wide + 2))]
    paragraphs = [
        [f"Handover pack of {about.site} ({about.host}), made on {about.made_on}.",
         "How every luminaire's driver is set, as signed records. Nothing here needs the program that made it."],
        *(wrap(f"Beware: {said}", 100) for said in about.cautions),
        ["The files", "", *listed],
        ["How to verify it", "",
         *wrap(f"1. In a browser: open {PAGE}. It must say that all luminaires are verified, and show this authority fingerprint "
               "and, under About this pack, a note with this size and root. Hold them against the paper, which should have come "
               "to you by another way:", 100),
         f"   authority fingerprint {about.authority_fingerprint}",
         *(f"   {said}" for said, _ in about.checkpoints)],
        ["2. That no file was exchanged, with standard tools (in this folder):", "",
         f"   awk 'length($1) == 64 && NF == 3 {{print $1 \"  \" $3}}' {LIST} | sha256sum --check",
         "", *wrap(f"{LIST} itself, {MAIN_CHECKPOINT} and {STOCK_CHECKPOINT} are signed notes, which any verifier of C2SP "
                   "signed notes checks with these keys:", 100, initial_indent="   ", subsequent_indent="   "),
         *(f"   {key}" for _, key in about.checkpoints)],
        wrap(f"3. With gearkeep: gearkeep import reads the pack into another vault and verifies all of it. With a program of "
             f"your own: {FORMAT} says how.", 100),
        ["How long to keep it", "", *(f"  {line}" for said in about.retention for line in wrap(said, 98)),
         *(f"  {line}" for line in wrap(about.retention_source, 98))],
        wrap("Nobody's name stands in these files as far as the program puts one there: signers are codes. Whoever runs the "
             "vault knows who they are.", 100),
    ]
    return ("\n\n".join("\n".join(lines) for lines in paragraphs) + "\n").encode()
