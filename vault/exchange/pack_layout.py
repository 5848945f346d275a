"""What lies in a handover pack, by name, and the signed list of it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from hashlib import sha256

from vault.errors import VerificationError

# A pack is a folder, or that folder in a ZIP file under its own name.
PAGE = "index.html"  # searches and verifies all records in a browser, without a network
PAPER = "handover.pdf"
TABLE = "as-built.csv"
FORMAT = "FORMAT.md"
READ_ME = "READ-ME.txt"
SIGNERS = "signers.json"
MAIN_JOURNAL = "journal.cborseq"  # RFC 8742: every signed statement of the main log in order, nothing between them
STOCK_JOURNAL = "stock.cborseq"
MAIN_CHECKPOINT = "checkpoint.txt"  # C2SP checkpoint over exactly the statements in MAIN_JOURNAL
STOCK_CHECKPOINT = "checkpoint-stock.txt"
LIST = "LIST.txt"  # every other file with its SHA-256: a C2SP signed note by the checkpoint key

NEEDED = (LIST, MAIN_JOURNAL, MAIN_CHECKPOINT, FORMAT)

_FIRST = "gearkeep handover pack 1"
_LINE = re.compile(r"([0-9a-f]{64}) ([0-9]{1,15}) ([A-Za-z0-9][A-Za-z0-9._-]{0,99})")


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """One file of a pack."""

    digest: bytes
    size: int


def list_text(origin: str, files: Mapping[str, bytes]) -> str:
    """The text of LIST, to be signed as a note: origin (that of the main log's checkpoint), form, one line a file."""
    lines = [f"{sha256(data).hexdigest()} {len(data)} {name}" for name, data in sorted(files.items())]
    return "\n".join([origin, _FIRST, *lines]) + "\n"


def read_list(text: str) -> tuple[str, dict[str, Listed]]:
    """(origin, name -> Listed) of an opened note. Raises VerificationError (bad-pack)."""
    origin, _, rest = text.partition("\n")
    first, *lines = rest.removesuffix("\n").split("\n")
    found = [_LINE.fullmatch(line) for line in lines]
    names = [one[3] for one in found if one]
    if first != _FIRST or len(names) != len(lines) or len(set(names)) != len(names):
        raise VerificationError(f"{LIST} is no list of a handover pack.", kind="bad-pack",
                                hint="Ask the sender for the whole pack again.")
    return origin, {one[3]: Listed(digest=bytes.fromhex(one[1]), size=int(one[2])) for one in found if one}
