"""A statement about signers as a code on paper: the genesis, each grant, withdrawal and appointment.

Text: HTTPS://HOST/S/PLACE/NUMBER-COUNT#DIGITS. PLACE: the statement's entry in the main journal; NUMBER of COUNT: which
of the codes printed together it is, so that a code that is missing is noticed; DIGITS: as in a capsule. Only DIGITS is
signed. This room neither opens nor trusts a statement.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from vault.errors import UsageProblem, VerificationError
from vault.trust.capsule import check_host, digits_of, signed_bytes_of

MAX_STATEMENT_BYTES = 1_244  # what 3,000 digits hold; an appointment with sixteen endorsements takes under that
MAX_PLACE = 2**40

_FORM = re.compile(r"HTTPS://([A-Z0-9.-]{1,40})/S/(0|[1-9][0-9]{0,12})/([1-9][0-9]{0,4})-([1-9][0-9]{0,4})#(.*)", re.DOTALL)
_HINT = "A code of a signers' page reads HTTPS://HOST/S/PLACE/NUMBER-COUNT#DIGITS."


@dataclass(frozen=True, slots=True, kw_only=True)
class GrantCode:
    """One code of a signers' page. place: entry of the main journal; number: 1 to count."""

    host: str
    place: int
    number: int
    count: int
    signed_bytes: bytes


def is_grant_code(text: str) -> bool:
    """Whether a text has the beginning of such a code; whether it is whole only parsing says."""
    return re.match(r"HTTPS://[A-Z0-9.-]{1,40}/S/", text.strip().upper()) is not None


def grant_text(code: GrantCode) -> str:
    """The text of a code. Raises UsageProblem (foreign-link) or VerificationError (too-large)."""
    if len(code.signed_bytes) > MAX_STATEMENT_BYTES:
        raise VerificationError(f"The statement has {len(code.signed_bytes)} bytes; a code holds at most "
                                f"{MAX_STATEMENT_BYTES}.", kind="too-large", hint="Use the list of signers as a file.")
    return f"HTTPS://{check_host(code.host)}/S/{code.place}/{code.number}-{code.count}#{digits_of(code.signed_bytes)}"


def parse_grant_text(text: str) -> GrantCode:
    """What a code of a signers' page says.

    Raises VerificationError: foreign-link, bad-digits, future-version, truncated, too-large.
    """
    text = text.strip()
    found = _FORM.fullmatch(text.upper()) if text.isascii() else None
    if not found:
        raise VerificationError(f"The code says {text[:60]!r}, which is no code of a signers' page.", kind="foreign-link",
                                hint=_HINT)
    place, number, count = (int(found[group]) for group in (2, 3, 4))
    if number > count or place > MAX_PLACE:
        raise VerificationError(f"The code calls itself number {number} of {count} at entry {place}.", kind="foreign-link",
                                hint=_HINT)
    try:
        host = check_host(found[1])
    except UsageProblem as problem:
        raise VerificationError(problem.what, kind=problem.kind, hint=_HINT) from None
    return GrantCode(host=host, place=place, number=number, count=count, signed_bytes=signed_bytes_of(found[5]))
