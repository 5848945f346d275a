"""A distribution board's name and a circuit's, in two columns, as one circuit of the vault."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from vault.exchange.asked import FileQuestion
from vault.exchange.translation_columns import Ledger, ReadColumn
from vault.exchange.translation_names import Names, answered, bare


def join_boards(board: ReadColumn, circuit: ReadColumn, names: Names, answers: Mapping[str, str], ledger: Ledger) -> list[str]:
    """The circuit of each row: the circuit's own name where the vault knows it and no two boards share it, else
    one that is made of both; what may be either is asked once for the pair.
    """
    rows: dict[tuple[str, str], list[int]] = {}
    for at, pair in enumerate(zip(board.cells, circuit.cells, strict=True)):
        rows.setdefault(pair, []).append(at)
    of_circuit: dict[str, set[str]] = {}
    said = {pair: (board.value(pair[0], "board"), circuit.value(pair[1], "circuit")) for pair in rows}
    for on, name in said.values():
        of_circuit.setdefault(name, set()).add(on)
    found: dict[tuple[str, str], str] = {}
    for pair, (on, name) in said.items():
        found[pair] = name
        if not name or not on:
            continue
        kind = f"is {on} {name}"
        word = answers.get(f"{circuit.heading}: {kind}")
        both = names.alike(on + name)
        alone = name in names.known and len(of_circuit[name]) == 1
        if word is not None:
            found[pair] = answered(word, name)
        elif len(both) == 1 and not alone:
            found[pair] = both[0]
        elif not alone or both:
            near = [*both, *(one for one in names.near(name) if one not in both)]
            if near:
                ledger.ask(_question(circuit, kind, on, name, names, near, [circuit.numbers[at] for at in rows[pair]]))
                for at in rows[pair]:
                    ledger.wait(at, ["circuit"])
    return [found[pair] for pair in zip(board.cells, circuit.cells, strict=True)]


def _question(circuit: ReadColumn, kind: str, on: str, name: str, names: Names, near: Sequence[str],
              rows: Sequence[int]) -> FileQuestion:
    likely = near[0] if len(near) == 1 and bare(near[0]) == bare(name) else None
    return FileQuestion(key=f"{circuit.heading}: {kind}", heading=circuit.heading, likely=likely, count=len(rows),
                        says=f"Circuit {name!r} on board {on!r}: which circuit of the vault is it?", choices=names.choices(near),
                        examples=tuple((row, name) for row in rows[:3]))


__all__ = ["join_boards"]
