"""The set resistor: I = 5 V / R x 1000 (from memory) with preferred values of IEC 60063."""

from __future__ import annotations

from fractions import Fraction

import eseries
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vault.domain.driver import Holds, Means, Way
from vault.domain.resistor import NoResistor, ResistorChoice, Series, colour_bands, set_resistor

# 5 V / R[ohm] x 1000 in A is 5 000 000 / R in mA (from memory).
PLUG_IN = Means(way=Way.RESISTOR, holds=frozenset({Holds.CURRENT}), resistor_ma_ohm=5_000_000)


def chosen(wanted_ma: int, series: Series = "E96") -> ResistorChoice:
    """The resistor, which the constant is there for."""
    found = set_resistor(PLUG_IN, wanted_ma, series=series)
    assert isinstance(found, ResistorChoice)
    return found


@pytest.mark.parametrize(("wanted_ma", "series", "ohms", "gives_ma"), [
    (350, "E96", 14_300, 349.7), (500, "E96", 10_000, 500), (700, "E96", 7_150, 699.3), (250, "E96", 20_000, 250),
    (1050, "E96", 4_750, 1052.6), (350, "E24", 15_000, 333.3), (700, "E192", 7_150, 699.3),
])
def test_nearest_resistor(wanted_ma: int, series: Series, ohms: int, gives_ma: float) -> None:
    """The preferred value nearest in current (arithmetic on the formula and IEC 60063)."""
    found = chosen(wanted_ma, series)
    assert found.ohms == ohms
    assert float(found.gives_ma) == pytest.approx(gives_ma, abs=0.05)


@pytest.mark.parametrize(("series", "permille"), [("E24", 50), ("E96", 10), ("E192", 5)])
def test_tolerance_of_the_series(series: Series, permille: int) -> None:
    """Without a demand of the model the series' own tolerance counts (IEC 60063)."""
    assert chosen(500, series).tolerance_permille == permille


def test_currents_over_the_tolerance() -> None:
    """1 % either way of 10 kilohm gives 495.0 to 505.1 mA (arithmetic)."""
    found = chosen(500)
    assert float(found.low_ma) == pytest.approx(495.05, abs=0.01)
    assert float(found.high_ma) == pytest.approx(505.05, abs=0.01)


def test_error_is_signed() -> None:
    """349.65 mA is 1 per mille below 350 mA (arithmetic)."""
    assert float(chosen(350).error_permille) == pytest.approx(-1.0, abs=0.01)


def test_no_constant_no_resistor() -> None:
    """Without the model's own constant nothing can be told."""
    found = set_resistor(Means(way=Way.RESISTOR, holds=frozenset({Holds.CURRENT})), 350)
    assert isinstance(found, NoResistor)
    assert "does not say" in found.reason


@pytest.mark.parametrize(("wanted_ma", "said"), [(350, "14.3 kΩ"), (500, "10 kΩ"), (5, "1 MΩ"), (10_000, "499 Ω")])
def test_resistor_in_words(wanted_ma: int, said: str) -> None:
    """A value is said in its usual unit."""
    assert chosen(wanted_ma).ohms_words == said


@given(st.integers(10, 5_000))
def test_as_good_as_the_library(wanted_ma: int) -> None:
    """Never further from the wanted current than what the library finds nearest in ohms (eseries 1.2.1)."""
    found = chosen(wanted_ma)
    nearest = eseries.find_nearest(eseries.ESeries.E96, 5_000_000 / wanted_ma)
    assert abs(float(found.gives_ma) - wanted_ma) <= abs(5_000_000 / nearest - wanted_ma) + 1e-6
    assert found.low_ma < found.gives_ma < found.high_ma
    assert found.gives_ma == Fraction(5_000_000) / found.ohms


@pytest.mark.parametrize(("ohms", "permille", "digits", "bands"), [
    (Fraction(4_700), 50, 2, "yellow violet red gold"), (Fraction(15_000), 50, 2, "brown green orange gold"),
    (Fraction(14_300), 10, 3, "brown yellow orange red brown"), (Fraction(7_150), 5, 3, "violet brown green brown green"),
    (Fraction(4_700), 10, 2, "yellow violet black brown brown"), (Fraction(47, 10), 50, 2, "yellow violet gold gold"),
    (Fraction(100), 20, 3, "brown black black black red"), (Fraction(22, 100), 100, 2, "red red silver silver"),
    (Fraction(10_000), 30, 3, "brown black black red red"), (Fraction(10_000), 0, 3, ""), (Fraction(1, 3), 10, 3, ""),
])
def test_colour_bands(ohms: Fraction, permille: int, digits: int, bands: str) -> None:
    """Digits, power of ten and tolerance by the colours of IEC 60062 (from memory); a demand between two takes the finer."""
    assert " ".join(colour_bands(ohms, permille, digits=digits)) == bands


COLOURS = ("black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white")


@given(st.integers(10, 5_000), st.sampled_from(["E24", "E96", "E192"]))
def test_bands_read_back_as_the_value(wanted_ma: int, series: Series) -> None:
    """Digits times power of ten are the value again (IEC 60062, from memory)."""
    found = chosen(wanted_ma, series)
    *digits, power, _ = found.bands
    value = int("".join(str(COLOURS.index(colour)) for colour in digits))
    assert value * Fraction(10) ** [*COLOURS, "silver", "gold"].index(power) == found.ohms


@pytest.mark.parametrize("series", ["E24", "E96", "E192"])
@given(wanted_ma=st.integers(20, 3_000))
def test_nearest_of_the_whole_series(series: Series, wanted_ma: int) -> None:
    """No value of the series over seven decades comes nearer (every value of eseries 1.2.1 as oracle)."""
    values = [Fraction(f"{value:.3g}") for value in eseries.erange(eseries.ESeries[series], 100, 1_000_000)]
    gives = chosen(wanted_ma, series).gives_ma
    assert abs(gives - wanted_ma) == min(abs(Fraction(5_000_000) / value - wanted_ma) for value in values)
