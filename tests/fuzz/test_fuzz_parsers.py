"""No bytes from outside make a parser do anything but give a value or refuse in its own words."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

sys.path.append(str(Path(__file__).resolve().parent))

from parsers import PARSERS, spoiled

from labels.errors import LabelError
from vault.errors import GearkeepError

FOUND_BEFORE = [
    ("list of a pack", b"\n"),
    ("sheet of a workbook", b'<?xml version="1.0" encoding="TTF-8"?><worksheet/>'),
    ("sheet of a workbook", b'<?xml version="1.0" encoding="utf-7"?><worksheet/>'),
    ("list of sheets", b'<?xml version="1.0" encoding="TTF-8"?><workbook/>'),
    ("list of sheets", b'<?xml version="1.0" encoding="utf-7"?><workbook/>'),
    ("burning hours in TOML", b"default = " + b"9" * 5000),
    ("burning hours in TOML", b"default = " + b"[" * 5000),
    ("drivers", b"driver = " + b"[" * 5000),
]
WITH_GOOD = [name for name, parser in PARSERS.items() if parser.good]


def _read(name: str, data: bytes) -> None:
    try:
        again = PARSERS[name].read(data)
    except (GearkeepError, LabelError) as problem:
        assert problem.kind and problem.what
        return
    assert again is None or again == data


@pytest.mark.parametrize(("name", "data"), FOUND_BEFORE)
def test_what_a_parser_once_fell_over(name: str, data: bytes) -> None:
    """Bytes that once ended in an error of Python's own are refused in ours."""
    with pytest.raises(GearkeepError):
        PARSERS[name].read(data)


@pytest.mark.parametrize("name", PARSERS)
@settings(max_examples=25)
@given(data=st.binary(max_size=200))
def test_any_bytes(name: str, data: bytes) -> None:
    """Noise: a value that is written as it was read, or a refusal with its class."""
    _read(name, data)


@pytest.mark.parametrize("name", WITH_GOOD)
@settings(max_examples=40)
@given(draw=st.data())
def test_good_input_with_mistakes(name: str, draw: st.DataObject) -> None:
    """Bits turned, bytes missing, added, doubled, cut off: accepted only where it is written back as it was read."""
    good = draw.draw(st.sampled_from(PARSERS[name].good))
    _read(name, spoiled(good, lambda count: draw.draw(st.integers(0, count - 1))))


@pytest.mark.parametrize("name", WITH_GOOD)
def test_good_input_is_taken(name: str) -> None:
    """What is spoiled is good before."""
    for good in PARSERS[name].good:
        again = PARSERS[name].read(good)
        assert again is None or again == good
