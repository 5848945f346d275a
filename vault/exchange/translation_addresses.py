"""Addresses as a file counts them, written as the vault's lines count theirs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from vault.domain.site import Line
from vault.exchange.translation_merge import Source


def as_the_lines_count(source: Source, line_names: Sequence[str], lines: Mapping[str, Line]) -> list[str]:
    """Turn the addresses of a column into those of each row's line, and say so; nothing is done where both count alike.

    A row without a line that is known keeps its address as it stands.
    """
    first = source.column.numbering[-1:]
    if not first.isdecimal():
        return []
    from_file = int(first)
    memo: dict[tuple[str, str], str] = {}
    moved: dict[str, Line] = {}
    out = []
    for name, address in zip(line_names, source.values(), strict=True):
        key = (name, address)
        if key not in memo:
            line = lines.get(name)
            memo[key] = address
            if line is not None and line.addresses_from != from_file and address.isdecimal():
                memo[key] = str(int(address) - from_file + line.addresses_from)
                moved[name] = line
        out.append(memo[key])
    source.given = out
    return [f"Addresses in column {source.column.heading!r} count from {from_file}, those of line {name} in the vault from "
            f"{line.addresses_from}: {from_file} in the file is {line.addresses_from} on the line."
            for name, line in moved.items()]
