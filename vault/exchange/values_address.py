"""Short addresses as a file writes them: 0, 00, A5, 64. Whether they count from 0 or from 1 is a matter of the column."""

from __future__ import annotations

import re

from vault.domain.addresses import GEAR_ON_A_LINE
from vault.exchange.cell_reading import ColumnFacts, Said
from vault.exchange.values_number import joined
from vault.exchange.values_parts import AS_IT_STANDS, Option, decide, refuse
from vault.exchange.values_strict import is_own

NUMBERING = "numbering"
FROM = {"from-0": 0, "from-1": 1}
ALLOWED = "one address, 0 to 63 or 1 to 64; a row for each gear"
ADDRESS = re.compile(r"(?:(?:dali|adr|addr|address|adresse|indirizzo|dirección|adres|a|sa|ka|nr|no|n°|#|@)\.?[ :-]?)?"
                     r"0*(?P<number>[0-9]{1,3})", re.IGNORECASE)


def address_number(plain: str) -> int | None:
    """The number in an address cell, None where there is none or several."""
    found = ADDRESS.fullmatch(plain)
    return int(found["number"]) if found else None


def counted(plain: str, number: int, facts: ColumnFacts) -> str:
    """The rule of an address, once it is known from where the column counts. Raises Ask."""
    if number > GEAR_ON_A_LINE:
        raise refuse(f"address {plain!r} does not exist", ALLOWED)
    if facts.field == "address" and is_own(facts.heading, "address"):
        return "as the line counts"
    options = [Option(word="from-0", says="from 0 to 63, as they go over the line"),
               Option(word="from-1", says="from 1 to 64; each goes over the line as one less")]
    picked = decide(facts, NUMBERING, "Do the short addresses of this file count from 0 or from 1?", options)
    first = FROM[picked.word]
    if not first <= number <= first + GEAR_ON_A_LINE - 1:
        raise refuse(f"address {plain!r} does not exist where they count {picked.word.replace('-', ' ')}",
                     f"{first} to {first + GEAR_ON_A_LINE - 1}")
    return f"counted {picked.word.replace('-', ' ')}"


def as_line_counts(address: str, numbering: str, addresses_from: int) -> str:
    """An address that a file counts by `numbering` ("from-0", "from-1"), as a line counts that begins with `addresses_from`."""
    return str(int(address) - FROM[numbering] + addresses_from)


def read_address(plain: str, facts: ColumnFacts) -> Said:
    """{address: "5"}, as the file counts. Raises Ask."""
    if plain.casefold().replace("_", " ") == "not set":
        return Said(values={facts.field: plain}, rule=AS_IT_STANDS)
    number = address_number(plain)
    if number is None:
        raise refuse(f"{plain!r} is no short address", ALLOWED)
    rule = counted(plain, number, facts)
    changed = "" if str(number) == plain else f"{plain} is {number}"
    return Said(values={facts.field: str(number)}, rule=joined(changed, rule))
