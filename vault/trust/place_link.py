"""Links of labels that stand on no luminaire: HTTPS://HOST/LETTER/NAME or with two names.

They say where one is (a bin, a spare, a control line) and carry nothing that is signed, so nothing of them is trusted.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import Enum

from vault.errors import UsageProblem
from vault.trust.capsule import check_host


class Place(Enum):
    """What such a label stands on: a bin (store, bin), a spare (model, and serial where known), a line (name)."""

    BIN = "B"
    SPARE = "D"
    LINE = "N"


_NAME = r"[0-9A-Z.-]+"
_LINK = re.compile(rf"HTTPS://([0-9A-Z.-]+)/([BDN])/({_NAME})(?:/({_NAME}))?")


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceText:
    """What was read: host, kind and one or two names, all in capitals."""

    host: str
    place: Place
    names: tuple[str, ...]


def place_link(host: str, place: Place, *names: str) -> str:
    """The link of one or two names, in capitals. Raises UsageProblem (bad-name) for letters that no code's link holds."""
    for name in names:
        if not re.fullmatch(_NAME, name.upper()):
            raise UsageProblem(f"{name!r} cannot stand in a label's code.", kind="bad-name",
                               hint="A code's link holds the letters A to Z, digits, full stop and hyphen.")
    return f"HTTPS://{check_host(host)}/{place.value}/{'/'.join(name.upper() for name in names)}"


def parse_place(text: str) -> PlaceText | None:
    """What such a link says, or None where the text is no such link."""
    found = _LINK.fullmatch(text.strip().upper()) if text.isascii() else None
    if not found:
        return None
    return PlaceText(host=found[1], place=Place(found[2]), names=tuple(name for name in found.groups()[2:] if name))
