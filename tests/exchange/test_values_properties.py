"""Figures in every style read back as the same figure or are asked about, and no text at all breaks a reader."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vault.exchange.cell_reading import ColumnFacts, Said, Unclear, Unreadable
from vault.exchange.column_survey import survey
from vault.exchange.raw_table import Oddity, Remark
from vault.exchange.schedule_fields import FIELDS
from vault.exchange.values import is_ditto, read_cell

_SPACES = st.sampled_from(["", " ", "\u00a0", "\u202f", "\u2009"])
_THOUSANDS = st.sampled_from(["", ".", ",", " ", "\u00a0", "\u202f", "'", "’"])
_DASHES = st.sampled_from(["-", "–", "—", "‐", "−", "...", "…", " to ", " bis ", " à "])


@st.composite
def _styled(draw: st.DrawFn, thousandths: st.SearchStrategy[int]) -> tuple[Decimal, str]:
    """A figure and one way in which people write it."""
    value = Decimal(draw(thousandths)) / 1000
    mark = draw(st.sampled_from(",."))
    between = draw(_THOUSANDS.filter(lambda one: one != mark))
    whole, _, fraction = f"{value:f}".partition(".")
    fraction = fraction.rstrip("0") if draw(st.booleans()) else fraction
    return value, f"{int(whole):,}".replace(",", between) + (mark + fraction if fraction else "")


_VOLTS, _WATTS = st.integers(0, 1_000_000), st.integers(1, 10_000_000)
_MILLIAMPERES = st.integers(1, 20_000).map(lambda value: value * 1000)


@settings(max_examples=40, deadline=None)
@given(case=st.sampled_from([("current_ma", "mA", 1), ("power_w", "W", 2), ("voltage_min_v", "V", 3)]), data=st.data())
def test_a_figure_reads_back_or_is_asked_about(case: tuple[str, str, int], data: st.DataObject) -> None:
    """No style of writing turns a figure into another one in silence."""
    field, unit, which = case
    value, text = data.draw(_styled({1: _MILLIAMPERES, 2: _WATTS, 3: _VOLTS}[which]))
    reading = read_cell(text + data.draw(_SPACES) + unit, ColumnFacts(field=field, heading="X"))
    assert isinstance(reading, Unclear) or (isinstance(reading, Said) and Decimal(reading.values[field]) == value)


@settings(max_examples=50, deadline=None)
@given(low=_styled(_VOLTS), high=_styled(_VOLTS), dash=_DASHES, space=_SPACES)
def test_a_window_reads_back_or_is_asked_about(low: tuple[Decimal, str], high: tuple[Decimal, str], dash: str,
                                               space: str) -> None:
    """Both ends of a window, whatever stands between them."""
    reading = read_cell(f"{low[1]}{dash}{high[1]}{space}V", ColumnFacts(field="voltage_window", heading="X"))
    assert isinstance(reading, Unclear) or (
        isinstance(reading, Said) and sorted(Decimal(one) for one in reading.values.values()) == sorted((low[0], high[0])))


@settings(max_examples=40, deadline=None)
@given(groups=st.sets(st.integers(0, 15), min_size=1), before=st.sampled_from(["", "G", "Gr. ", "group "]),
       between=st.sampled_from(["+", ",", ";", "/", " + ", ", ", " & ", " und ", " et "]))
def test_groups_read_back_or_are_asked_about(groups: set[int], before: str, between: str) -> None:
    """Groups in every style of list."""
    text = between.join(f"{before}{group}" for group in groups)
    reading = read_cell(text, ColumnFacts(field="groups", heading="X"))
    assert isinstance(reading, Said)
    assert {int(one) for one in reading.values["groups"].split("+")} == groups


_TEXTS = st.one_of(st.text(max_size=30), st.text(alphabet="0123456789.,-–+/x%'\" hVAmWGNMBSD?~:=½", max_size=14))


@settings(max_examples=40, deadline=None)
@given(text=_TEXTS, field=st.sampled_from(FIELDS), unit=st.sampled_from(["", "mA", "V", "h", "%"]), number=st.booleans())
def test_no_text_breaks_a_reader(text: str, field: str, unit: str, number: bool) -> None:
    """Whatever stands in a cell, it is read, asked about or refused, always with words."""
    reading = read_cell(text, ColumnFacts(field=field, heading="X", unit=unit), Remark(oddity=Oddity.NUMBER) if number else None)
    is_ditto(text)
    assert (reading.rule if isinstance(reading, Said) else reading.says if isinstance(reading, Unclear) else reading.problem)


_CELLS = st.lists(_TEXTS | st.sampled_from(
    ["1.050", "0.7", "700", "2x14", "~30", "03-Jan", "64", "0", "16", "0-3", "50", "0,05", "30V", "s.o."]), max_size=6)


@settings(max_examples=40, deadline=None)
@given(cells=_CELLS, field=st.sampled_from(FIELDS), data=st.data())
def test_a_question_that_is_answered_is_never_asked_again(cells: list[str], field: str, data: st.DataObject) -> None:
    """Whatever is answered, a column comes to an end of its questions, and each is asked once."""
    texts = {text: (row, 1) for row, text in enumerate(cells, 2)}
    facts = ColumnFacts(field=field, heading="X")
    asked: set[str] = set()
    for _ in range(20):
        surveyed = survey(texts, facts)
        if not surveyed.questions:
            break
        assert asked.isdisjoint(question.key for question in surveyed.questions)
        asked |= {question.key for question in surveyed.questions}
        words = {one.key.removeprefix("X: "): data.draw(st.sampled_from(one.choices)).word for one in surveyed.questions}
        facts = replace(facts, answers={**facts.answers, **words})
    assert not survey(texts, facts).questions


@pytest.mark.parametrize("text", ["9" * 40_000, "(" * 40_000, " ." * 20_000, "1," * 20_000, "a1" * 20_000, "-" * 40_000])
def test_a_very_long_cell_is_refused_at_once(text: str) -> None:
    """Length alone is no work."""
    assert isinstance(read_cell(text, ColumnFacts(field="current_ma", heading="X")), Unreadable | Said)
