"""What a label's code says: a link, and behind it the record's signed bytes as one decimal number.

Link: HTTPS://HOST/L/TAG. Capsule: one byte of format version, then the record (COSE_Sign1, untagged); read as a
big-endian number, written in decimal behind "#". The version byte is never zero, so leading zero bytes of a record
cannot get lost, and digits take the least room in the code. This room neither opens nor trusts a record.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from vault.domain.tag import parse_tag
from vault.errors import UsageProblem, VerificationError

FORMAT_VERSION = 1
MIN_HOST_LENGTH = 4
MAX_HOST_LENGTH = 30
MAX_DIGITS = 3_000  # three times what the largest label holds; bounds the conversion of a hostile text
MAX_RECORD_BYTES = 1_200

_HOST = r"[A-Z0-9](?:[A-Z0-9.-]*[A-Z0-9])?"
_LINK = re.compile(rf"HTTPS://({_HOST})/L/([^/?#]*)(?:#(.*))?", re.DOTALL)
_LINK_HINT = "A label of this vault reads HTTPS://HOST/L/TAG."


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelText:
    """What was read from a label. host: None when a tag alone was typed. signed_bytes: None on a link label."""

    host: str | None
    tag: str
    signed_bytes: bytes | None


def check_host(host: str) -> str:
    """A host name in upper case, as labels carry it. Raises UsageProblem (foreign-link)."""
    upper = host.strip().upper()
    if not MIN_HOST_LENGTH <= len(upper) <= MAX_HOST_LENGTH or not re.fullmatch(_HOST, upper) or ".." in upper:
        raise UsageProblem(f"{host[:60]!r} cannot stand on labels as a host name.", kind="foreign-link",
                           hint=f"Use {MIN_HOST_LENGTH} to {MAX_HOST_LENGTH} characters: A to Z, 0 to 9, full stop, "
                                "hyphen; no port, no path.")
    return upper


def link(host: str, tag: str) -> str:
    """The link of a tag. Raises UsageProblem (foreign-link) or GearkeepError (bad-tag)."""
    return f"HTTPS://{check_host(host)}/L/{parse_tag(tag)}"


def capsule_text(link: str, signed_bytes: bytes) -> str:
    """The link with the record behind it. Raises VerificationError (too-large)."""
    if len(signed_bytes) > MAX_RECORD_BYTES:
        raise VerificationError(f"The record has {len(signed_bytes)} bytes; a capsule holds at most "
                                f"{MAX_RECORD_BYTES}.", kind="too-large", hint="Print a link label for it.")
    return f"{link}#{digits_of(signed_bytes)}"


def parse_text(text: str) -> LabelText:
    """What a scanned or typed text says: a link, a link with a capsule, or a tag alone.

    Forgives the case of the link and white space around it. Raises GearkeepError or VerificationError: foreign-link,
    bad-tag, bad-digits, future-version, truncated, too-large.
    """
    text = text.strip()
    if not re.search(r"[:/.?#]", text):
        return LabelText(host=None, tag=parse_tag(text), signed_bytes=None)
    found = _LINK.fullmatch(text.upper()) if text.isascii() else None
    if not found:
        raise VerificationError(f"The code says {text[:60]!r}, which is no label of this kind.", kind="foreign-link",
                                hint=_LINK_HINT)
    try:
        host = check_host(found[1])
    except UsageProblem as problem:
        raise VerificationError(problem.what, kind=problem.kind, hint=_LINK_HINT) from None
    digits: str | None = found[3]
    return LabelText(host=host, tag=parse_tag(found[2]), signed_bytes=None if digits is None else signed_bytes_of(digits))


def digits_of(signed_bytes: bytes) -> str:
    """One byte of format version and the signed bytes as one decimal number."""
    return str(int.from_bytes(bytes([FORMAT_VERSION]) + signed_bytes, "big"))


def signed_bytes_of(digits: str) -> bytes:
    """The signed bytes in a code's number. Raises VerificationError: too-large, bad-digits, future-version, truncated."""
    if len(digits) > MAX_DIGITS:
        raise VerificationError(f"The code carries {len(digits)} digits; a label holds at most {MAX_DIGITS}.",
                                kind="too-large")
    if not (digits.isascii() and digits.isdigit()) or digits.startswith("0"):
        raise VerificationError("What follows # in the code is not the number of a record.", kind="bad-digits",
                                hint="Scan the label again.")
    number = int(digits)
    capsule = number.to_bytes((number.bit_length() + 7) // 8, "big")
    version, record = capsule[0], capsule[1:]
    if version != FORMAT_VERSION:
        raise VerificationError(f"The label is of format {version}; this program reads format {FORMAT_VERSION}.",
                                kind="future-version",
                                hint="Scan the whole label again; if it says the same, a newer gearkeep may read it.")
    if not record:
        raise VerificationError("The code carries no record behind its format version.", kind="truncated",
                                hint="Scan the label again.")
    return record
