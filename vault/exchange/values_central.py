"""Two things in one cell: line and address as L1/23, circuit and address of a central battery as 4/12."""

from __future__ import annotations

import re

from vault.domain.addresses import CENTRAL_MAX
from vault.exchange.cell_reading import ColumnFacts, Said
from vault.exchange.values_address import address_number, counted
from vault.exchange.values_number import joined, nothing_taken
from vault.exchange.values_parts import AS_IT_STANDS, NOT_TAKEN, Option, decide, refuse

# The last mark divides: a line may be called GW2.1.
_PAIR = re.compile(r"(?P<first>.*[^ /.:;,-]) ?[/.:;,-] ?(?P<second>[^/.:;,]+)")
_CIRCUIT_WORD = re.compile(r"(?:zb|k|kreis|sk|cct|circuit|circ|dép|départ|sib?e|cbs|lk|c)\.?[ :-]?(?=[0-9])", re.IGNORECASE)
_CENTRAL = re.compile(r"(?:a|adr|addr|nr|no|n°|lampe|l)?\.? ?0*([0-9]{1,3})", re.IGNORECASE)
ALLOWED_CENTRAL = f"circuit and address like 4/12; an address is 1 to {CENTRAL_MAX}"


def read_line_address(plain: str, facts: ColumnFacts) -> Said:
    """{line: "L1", address: "23"}, the address as the file counts. Raises Ask."""
    found = _PAIR.fullmatch(plain)
    number = address_number(found["second"].strip()) if found else None
    if found is None or number is None:
        raise refuse(f"{plain!r} is no line and address", "line and address like L1/23")
    rule = counted(plain, number, facts)
    return Said(values={"line": found["first"].strip(), "address": str(number)}, rule=joined("line and address", rule))


def read_central(plain: str, facts: ColumnFacts) -> Said:
    """{central_circuit: "4", central_address: "12"}, or one of them where a single number stands. Raises Ask."""
    found = _PAIR.fullmatch(plain)
    if found:
        circuit = _CIRCUIT_WORD.sub("", found["first"].strip())
        return Said(values={"central_circuit": circuit, "central_address": _central_number(plain, found["second"].strip())},
                    rule="circuit and address" if circuit == found["first"].strip() else f"circuit {circuit} and address")
    options = [Option(word="circuit", says=f"{plain} is the circuit"),
               Option(word="address", says=f"{plain} is the address"), NOT_TAKEN]
    picked = decide(facts, "lone-number", f"One number stands where others have two, {plain}. Which one is it?", options)
    if picked.word == NOT_TAKEN.word:
        return nothing_taken(plain)
    if picked.word == "circuit":
        return Said(values={"central_circuit": plain}, rule="circuit alone, as answered")
    return Said(values={"central_address": _central_number(plain, plain)}, rule="address alone, as answered")


def read_central_address(plain: str, facts: ColumnFacts) -> Said:
    """{central_address: "12"}. Raises Ask."""
    said = plain if plain.casefold() == "not set" else _central_number(plain, plain)
    return Said(values={facts.field: said}, rule=AS_IT_STANDS if said == plain else f"{plain} is {said}")


def _central_number(plain: str, text: str) -> str:
    found = _CENTRAL.fullmatch(text)
    if found is None or not 1 <= int(found[1]) <= CENTRAL_MAX:
        raise refuse(f"{plain!r} is no central battery address", ALLOWED_CENTRAL)
    return str(int(found[1]))
