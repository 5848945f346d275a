"""Catalogue files in TOML."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from vault.errors import GearkeepError
from vault.exchange.catalogue import CatalogueProblem, read_circuits, read_drivers, read_lines, read_types

LINE = '[[line]]\nname = "D1"\nrevision = 1\nkind = "DALI"\naddresses_from = 0\n'
TYPE = ('[[type]]\ncode = "T1"\nrevision = 1\ntitle = "Plain"\n[[type.gears]]\nduty = "general"\n'
        'output = "constant current"\nprotocols = ["dali"]\n[[type.gears.modules]]\ncurrent_max_ma = 700\n')
DRIVER = ('[[driver]]\nmodel = "M"\nrevision = 1\ntitle = "Plain"\noutput = "constant-current"\nchannels = 1\n'
          '[driver.window]\nvertices = [[1, 1], [9, 1], [9, 9]]\n')
CIRCUIT = '[[circuit]]\nname = "L1"\nrevision = 1\nbreaker = "b"\n'


@pytest.mark.parametrize(("reader", "text"), [
    (read_types, TYPE), (read_drivers, DRIVER), (read_circuits, CIRCUIT), (read_lines, LINE),
    (read_lines, TYPE + DRIVER + CIRCUIT + LINE), (read_lines, "\ufeff" + LINE),
])
def test_a_good_file_is_read(tmp_path: Path, reader: Callable[[Path], list[Any]], text: str) -> None:
    """Each reader takes its own entries, also from a file that holds others."""
    path = tmp_path / "catalogue.toml"
    path.write_text(text, encoding="utf-8")
    assert [thing.revision for thing in reader(path)] == [1]


@pytest.mark.parametrize(("reader", "text", "told"), [
    (read_types, TYPE.replace('"dali"', '"dhali"'), [("type T1", "gears.1.protocols.1")]),
    (read_types, TYPE.replace("700", "0.7"), [("type T1", "gears.1.modules.1.current_max_ma")]),
    (read_types, TYPE.replace('code = "T1"', ""), [("type number 1", "code")]),
    (read_drivers, DRIVER + "wind = 1\n", [("driver M", "window.wind")]),
    (read_drivers, DRIVER.replace(", [9, 9]", ""), [("driver M", "window.vertices")]),
    (read_lines, LINE + LINE, [("line D1", "revision")]),
    (read_lines, LINE.replace("= 0", "= true").replace('"DALI"', '"dmx"'),
     [("line D1", "addresses_from"), ("line D1", "kind")]),
    (read_lines, TYPE, [("catalogue.toml", "line")]),
    (read_lines, LINE.replace("[[line]]", "[[lines]]"), [("catalogue.toml", "line"), ("catalogue.toml", "lines")]),
    (read_circuits, '[circuit]\nname = "L1"\nrevision = 1\n', [("catalogue.toml", "circuit")]),
])
def test_everything_wrong_is_told_at_once(
    tmp_path: Path, reader: Callable[[Path], list[Any]], text: str, told: list[tuple[str, str]]
) -> None:
    """A wrong file gives one refusal that names entry and dotted field of each problem."""
    path = tmp_path / "catalogue.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(CatalogueProblem) as refused:
        reader(path)
    assert sorted((entry, problem.path) for entry, problem in refused.value.problems) == told
    assert [field for _, field in told if field not in refused.value.what] == []


@pytest.mark.parametrize("content", [b"[[line]\n", b"\xff\xfe", None])
def test_an_unreadable_file_is_refused(tmp_path: Path, content: bytes | None) -> None:
    """Broken TOML, another encoding and a missing file are refused by name."""
    path = tmp_path / "catalogue.toml"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(GearkeepError, match=r"catalogue\.toml") as refused:
        read_lines(path)
    assert refused.value.kind == "unreadable-file"
