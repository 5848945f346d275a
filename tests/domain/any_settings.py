"""Hypothesis strategies for settings, made from the field tables themselves."""

from __future__ import annotations

import string
from typing import Any

from hypothesis import strategies as st

from vault.domain.driver import DriverModel, Holds, Means, Way
from vault.domain.schema import NOT_SET, Spec, check, specs
from vault.domain.settings import Curve, Gear, Output, Protocol, Settings
from vault.domain.site import Line, LineKind

WORDS = st.text(alphabet=string.ascii_letters + string.digits, min_size=1, max_size=8)


def _one(name: str, spec: Spec) -> st.SearchStrategy[Any]:
    made: dict[str, Any] = {
        "whole": lambda: st.integers(spec.least, spec.most),
        "text": lambda: WORDS,
        "raw": lambda: st.binary(min_size=spec.least, max_size=min(spec.most, 16)),
        "choice": lambda: st.sampled_from(list(spec.kind)),
        "part": lambda: any_of(spec.kind),
        "parts": lambda: st.lists(any_of(spec.kind), min_size=spec.least, max_size=2).map(tuple),
        "names": lambda: st.dictionaries(WORDS.map(lambda word: f"x-{word}"), WORDS | st.integers(0, 999),
                                         max_size=2).map(lambda held: tuple(held.items())),
        "table": lambda: st.lists(_row(spec), min_size=16 if name == "scenes" else 0,
                                  max_size=min(spec.most, 16)).map(tuple),
    }
    found: st.SearchStrategy[Any] = made[spec.shape]()
    if spec.may_be_not_set:
        found = found | st.just(NOT_SET)
    return found if spec.required or spec.shape in ("parts", "names") else st.none() | found


def _row(spec: Spec) -> st.SearchStrategy[Any]:
    cells = [st.integers(0, 256**width - 1) for width in spec.widths]
    return cells[0] if len(cells) == 1 else st.tuples(*cells)


def any_of(kind: type) -> st.SearchStrategy[Any]:
    """Any instance of a described dataclass, rules over several fields aside."""
    return st.builds(kind, **{name: _one(name, spec) for name, spec in specs(kind)})


def settings_strategy() -> st.SearchStrategy[Settings]:
    """Any settings without a problem."""
    found: st.SearchStrategy[Settings] = any_of(Settings).filter(lambda settings: not list(check(settings)))
    return found


def gear_strategy() -> st.SearchStrategy[Gear]:
    """Any gear with settings without a problem."""
    found: st.SearchStrategy[Gear] = any_of(Gear).filter(lambda gear: not list(check(gear)))
    return found


def spare_strategy() -> st.SearchStrategy[DriverModel]:
    """Spares that are set in every way there is."""
    means = st.builds(
        Means, way=st.sampled_from(list(Way)), holds=st.frozensets(st.sampled_from(list(Holds)), min_size=1),
        positions=st.none() | st.lists(st.tuples(st.integers(0, 63), st.integers(1, 2000)), min_size=1,
                                       max_size=8).map(tuple),
        weights=st.none() | st.just((1, 2, 4, 8, 16, 32)), on_is_down=st.none() | st.booleans(),
        hexadecimal=st.none() | st.booleans(), resistor_ma_ohm=st.none() | st.just(5_000_000),
        mains_off=st.none() | st.booleans(), dali_parts=st.none() | st.just((101, 102, 202, 207, 209)))
    return st.builds(
        DriverModel, model=st.just("SPARE"), revision=st.just(1), title=st.just("Spare"),
        output=st.sampled_from(list(Output)), channels=st.integers(1, 4), means=st.lists(means, max_size=4).map(tuple),
        current_min_ma=st.none() | st.integers(1, 500), current_max_ma=st.none() | st.integers(500, 2000),
        current_step_ma=st.none() | st.integers(1, 100), protocols=st.none() | st.just(frozenset(Protocol)),
        constant_voltage_mv=st.none() | st.just(24_000))


LINES = st.none() | st.builds(Line, name=st.just("L1"), revision=st.just(1), kind=st.just(LineKind.DALI),
                              addresses_from=st.integers(0, 1))
CURVES = st.sampled_from(list(Curve))
