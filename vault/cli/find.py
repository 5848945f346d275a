"""gearkeep find."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from vault.cli.shell import Progress, command, json_text, open_vault, say, table
from vault.errors import UsageProblem

if TYPE_CHECKING:
    from vault.actions.finding_luminaires import Found

_SHOWN = 200  # rows of a table that anybody looks through


def _addresses(said: str | None) -> frozenset[int] | None:
    """The addresses of a list such as 0-4,6. Raises UsageProblem."""
    if said is None:
        return None
    found: set[int] = set()
    for part in filter(None, (part.strip() for part in said.split(","))):
        low, _, high = part.partition("-")
        if not low.strip().isdecimal() or not (high or low).strip().isdecimal() or not int(low) <= int(high or low) <= 64:
            raise UsageProblem(f"{part!r} is no address and no range of addresses.", kind="bad-search",
                               hint="Give them as the site writes them, such as 0-4,6: from 0 to 63, or from 1 to 64 on a line "
                                    "that counts from 1.")
        found.update(range(int(low), int(high or low) + 1))
    return frozenset(found)


@command(example='gearkeep find "row 7" --type T1')
@click.argument("text", required=False)
@click.option("--place", help="A part of the place's name.")
@click.option("--type", "type_code", help="Code of the fixture type.")
@click.option("--line", help="Name of the control line.")
@click.option("--address", type=click.IntRange(0, 255), help="Address as the site writes it, on --line; with --circuit alone "
              "the central battery address.")
@click.option("--circuit", help="Name of the circuit.")
@click.option("--serial", help="A part of a driver's serial number.")
@click.option("--near", metavar="TAG", help="The neighbours of this luminaire: by address on its line, then by place.")
@click.option("--answering", metavar="LIST", help="Addresses that answer on --line, such as 0-4,6: finds those that do not.")
def find(text: str | None, place: str | None, type_code: str | None, line: str | None, address: int | None,
         circuit: str | None, serial: str | None, near: str | None, answering: str | None, as_json: bool) -> int:
    """Find luminaires without their labels; everything that is given has to hold.

    TEXT stands in the drawing reference, the place, the line or a driver's serial number, or is four characters or more of the
    tag. Which gear of a line is silent: --line NAME --answering LIST.
    """
    from vault.actions.finding_luminaires import Asked
    from vault.actions.finding_luminaires import find as act

    result = act(open_vault(), Asked(text=text, place=place, type_code=type_code, line=line, address=address, circuit=circuit,
                                     serial=serial, near=near, answering=_addresses(answering)),
                 Progress("Verifying luminaires"))
    if as_json:
        say(json_text({"found": [one.as_json() for one in result.found], "offered": result.offered or None}))
    elif result.found:
        _say_found(result.found)
    else:
        # With --answering a search that finds nothing has its good reason.
        silent = "whatever the other words mean has an address that answers."
        nothing = "No luminaire is known of which all of that holds"
        say(f"{nothing}: {silent}" if answering is not None and not result.offered else f"{nothing}. {result.offered}")
    return 0 if result.found else 1


def _say_found(found: tuple[Found, ...]) -> None:
    from vault.domain.tag import shown

    headings = ["tag", "reference", "place", "line", "address", "circuit", "type", "version", "state", "apart", "of"]
    rows = [(one.taken.name if one.taken else shown(one.tag), one.reference, one.place, one.line,
             " ".join(map(str, one.addresses)), one.circuit, one.type_code, one.version, ", ".join(one.states).upper(), one.apart,
             one.taken.words.removeprefix("of ") if one.taken else None) for one in found[:_SHOWN]]
    kept = [at for at, name in enumerate(headings) if name not in ("state", "apart", "of") or any(row[at] for row in rows)]
    table([headings[at] for at in kept], [[row[at] for at in kept] for row in rows])
    if len(found) > _SHOWN:
        say(f"{len(found) - _SHOWN} more (--json names each). Say more of it to find fewer.")
