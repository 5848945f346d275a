"""The smallest and the cheapest set of models: proven, against examples of textbooks and against trying all."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from set_cases import UNKNOWN, coverage, figures, try_all

from vault.errors import GearkeepError
from vault.spares.cover_program import Program, Row, Solved, best
from vault.spares.needs import Coverage
from vault.spares.smallest_set import smallest_set

# Cormen, Leiserson, Rivest, Stein: Introduction to Algorithms, Fig. 35.3; the instance from memory.
CLRS = coverage({"S1": range(6), "S2": (4, 5, 7, 8), "S3": (0, 3, 6, 9), "S4": (1, 4, 6, 7, 10), "S5": (2, 5, 8, 11),
                 "S6": (9, 10)}, pieces=[1] * 12)
# Winston: Operations Research, fire stations of Kilroy County, which cities are within 15 minutes; the instance from memory.
WINSTON = coverage({"city1": (0, 1), "city2": (0, 1, 5), "city3": (2, 3), "city4": (2, 3, 4), "city5": (3, 4, 5),
                    "city6": (1, 4, 5)}, pieces=[1] * 6)


@pytest.mark.parametrize(("instance", "best"), [(CLRS, ("S3", "S4", "S5")), (WINSTON, ("city2", "city4"))],
                         ids=["CLRS Fig. 35.3", "Winston's fire stations"])
def test_textbook_examples_have_their_optimum(instance: Coverage, best: tuple[str, ...]) -> None:
    """Three sets where greedy takes four; two stations for six cities."""
    found = smallest_set(instance)
    assert (found.models, found.proven, found.bound) == (best, True, len(best))


def test_the_next_best_sets_of_the_textbook_example_are_larger() -> None:
    """No other three sets cover all twelve elements; greedy's four (S1, S4, S5, S3) contain the best three, so are no news."""
    found = smallest_set(CLRS)
    assert [len(one.models) for one in found.runners_up] == [size for _, size, _ in try_all(CLRS).next_best(3)]
    assert all(len(one.models) > 3 and one.covered == 12 for one in found.runners_up)


@st.composite
def instances(draw: st.DrawFn) -> tuple[Coverage, dict[str, Any]]:
    """Up to six models and seven classes, with prices, a share, care, kept and excluded models."""
    names = draw(st.permutations(["M1", "M2", "M3", "M4", "M5", "M6"]))[:draw(st.integers(1, 6))]
    count = draw(st.integers(1, 7))
    some = st.sets(st.integers(0, count - 1))
    pieces = draw(st.lists(st.integers(1, 9), min_size=count, max_size=count))
    made = coverage({name: draw(some) for name in names}, pieces=pieces, vital=draw(some),
                    care={name: draw(some) for name in names})
    prices = {name: draw(st.sampled_from([0, 700, 1250, 1250, 2450])) for name in names}
    apart = draw(st.lists(st.sampled_from(names), max_size=2, unique=True))
    return made, {"costs": draw(st.sampled_from([None, prices])), "with_care": draw(st.booleans()),
                  "permille": draw(st.sampled_from([1000, 1000, 950, 700, 400])), "keep": apart[:1], "without": apart[1:]}


def _found(made: Coverage, asked: dict[str, Any], **more: Any) -> Any:
    return smallest_set(made, costs=asked["costs"], with_care=asked["with_care"], share_permille=asked["permille"],
                        keep=asked["keep"], without=asked["without"], **more)


@settings(max_examples=20)
@given(instances())
def test_the_set_is_the_best_of_all_and_so_are_the_next(instance: tuple[Coverage, dict[str, Any]]) -> None:
    """Fewest or cheapest, then fewest, then most pieces, as trying all finds; the next best likewise, each a different set."""
    made, asked = instance
    tried, found = try_all(made, **asked), _found(made, asked)
    sets = [found.best, *found.runners_up]
    assert found.proven and found.bound == tried.first[0]
    assert [figures(made, one.models, asked["costs"], asked["with_care"]) for one in sets] == [tried.first, *tried.next_best(3)]
    assert all(frozenset(one.models) in {chosen for _, chosen in tried.sets} for one in sets)
    assert not any(set(before.models) <= set(one.models) for at, one in enumerate(sets) for before in sets[:at])


@settings(max_examples=8)
@given(instances(), st.randoms(use_true_random=False))
def test_the_answer_does_not_depend_on_the_order_of_models_and_classes(instance: tuple[Coverage, dict[str, Any]],
                                                                       chance: Any) -> None:
    """Equally good sets are told apart by the alphabet, not by the order in which they were read."""
    made, asked = instance
    models, needs = list(range(len(made.models))), list(range(len(made.needs)))
    chance.shuffle(models)
    chance.shuffle(needs)
    other = Coverage(needs=[made.needs[at] for at in needs], models=[made.models[at] for at in models],
                     answers=[[made.answers[at][model] for model in models] for at in needs])
    first, second = _found(made, asked), _found(other, asked)
    assert (first.models, first.runners_up, first.care_saves) == (second.models, second.runners_up, second.care_saves)


@settings(max_examples=10)
@given(instances())
def test_what_is_told_of_each_model_and_class_is_so(instance: tuple[Coverage, dict[str, Any]]) -> None:
    """What only it adds, what forces it, what is left out and what nothing covers."""
    made, asked = instance
    found, care = _found(made, asked), asked["with_care"]
    covering = {number: {model.model for at, model in enumerate(made.models) if made.covers(number, at, with_care=care)}
                - set(asked["without"]) for number in range(len(made.needs))}
    chosen = set(found.models)
    assert found.adds == {name: tuple(n for n, by in covering.items() if by & chosen == {name}) for name in found.models}
    assert all(covering[number] == {name} and name in chosen for name, numbers in found.forced.items() for number in numbers)
    assert set(found.left_out) == {number for number, by in covering.items() if by and not by & chosen}
    assert {gap.need for gap in found.uncoverable} == {number for number, by in covering.items() if not by}
    assert not any(made.needs[number].vital for number in found.left_out)
    assert {number: set(by) for number, by in found.alternatives.items()} == {n: by for n, by in covering.items() if by}


def test_a_class_that_nothing_covers_is_told_with_the_nearest_model() -> None:
    """The rest is covered all the same; an unknown is nearer than a stop, and neither ever covers."""
    found = smallest_set(coverage({"A": (0,), "B": (0, 1)}, pieces=[3, 2, 5], otherwise=UNKNOWN))
    assert (found.models, found.short, found.best.covered) == (("B",), 5, 5)
    assert [(gap.need, gap.model, gap.answer) for gap in found.uncoverable] == [(2, "A", UNKNOWN)]


def test_emergency_duty_is_covered_whatever_the_share() -> None:
    """One emergency luminaire among a hundred forces its model at a share of 50 %."""
    found = smallest_set(coverage({"A": (0,), "B": (1,), "C": (2,)}, pieces=[60, 39, 1], vital=(2,)), share_permille=500)
    assert (found.models, found.left_out, found.forced) == (("A", "C"), (1,), {"C": (2,)})


def test_what_fits_with_care_would_save_is_told() -> None:
    """One model with care in place of two."""
    made = coverage({"A": (0, 1), "B": (2,), "C": ()}, pieces=[1, 1, 1], care={"A": (2,)})
    saves = smallest_set(made, costs={"A": 2000, "B": 500, "C": 1}).care_saves
    assert saves is not None
    assert (saves.best.models, saves.models, saves.cost_cents, saves.pieces) == (("A",), 1, 500, 0)


def test_the_cheapest_set_may_be_larger_than_the_smallest() -> None:
    """Two cheap models beat one dear one."""
    made = coverage({"DEAR": (0, 1), "LOW1": (0,), "LOW2": (1,)}, pieces=[1, 1])
    assert smallest_set(made).models == ("DEAR",)
    cheapest = smallest_set(made, costs={"DEAR": 5000, "LOW1": 2000, "LOW2": 2999})
    assert (cheapest.models, cheapest.best.cost_cents, cheapest.bound) == (("LOW1", "LOW2"), 4999, 4999)


def test_a_model_without_a_price_is_left_aside_and_told() -> None:
    """It may be cheaper, but nobody knows."""
    found = smallest_set(coverage({"A": (0,), "B": (0,)}, pieces=[1]), costs={"B": 4000})
    assert (found.models, found.unpriced) == (("B",), ("A",))


@pytest.mark.parametrize(("asked", "kind", "says"), [
    ({"costs": {"A": 100}}, "unknown-price", "there is no price of B"),
    ({"costs": {"B": 100}, "keep": ("A",)}, "unknown-price", "there is no price of A"),
    ({"keep": ("X",)}, "not-found", "no driver model X"),
    ({"without": ("X",)}, "not-found", "no driver model X"),
    ({"keep": ("A",), "without": ("A",)}, "bad-value", "both kept and left out"),
    ({"share_permille": 0}, "bad-value", "0 %"),
    ({"share_permille": 1001}, "bad-value", "100.1 %"),
])
def test_what_cannot_be_answered_is_refused_in_words(asked: dict[str, Any], kind: str, says: str) -> None:
    """A set that needs a model of unknown price has no cost; the fewest are still found."""
    made = coverage({"A": (0,), "B": (1,)}, pieces=[1, 1])
    with pytest.raises(GearkeepError) as refused:
        smallest_set(made, **asked)
    assert refused.value.kind == kind and says in refused.value.what
    assert smallest_set(made).models == ("A", "B")


def test_an_empty_vault_needs_no_model() -> None:
    """Nothing to cover, nothing to choose."""
    found = smallest_set(coverage({"A": ()}, pieces=[]))
    assert (found.models, found.proven, found.bound, found.runners_up) == ((), True, 0, ())


def test_without_time_a_set_is_given_but_not_called_proven() -> None:
    """Steiner triples over 27 points (Fulkerson, Nemhauser, Trotter 1974, A27; optimum 18, from memory): the bound is told."""
    points = [(a, b, c) for a in range(3) for b in range(3) for c in range(3)]
    lines = sorted({frozenset((p, q, tuple(-(x + y) % 3 for x, y in zip(p, q, strict=True)))) for p in points for q in points
                    if p != q}, key=sorted)
    made = coverage({f"P{at:02}": [n for n, line in enumerate(lines) if point in line] for at, point in enumerate(points)},
                    pieces=[1] * len(lines))
    found = smallest_set(made, time_limit_s=0.001, runners_up=0)
    assert (found.proven, found.runners_up, found.care_saves) == (False, (), None)
    assert found.bound < len(found.models) and found.best.covered == found.total == 117


def test_out_of_time_the_set_is_no_worse_than_the_greedy_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """The solver has all six sets of CLRS Fig. 35.3 in hand and no bound: greedy takes four there, as the book says."""
    monkeypatch.setattr("vault.spares.cover_program._Solver._solve", lambda _solver, _objective: (0b111111, 0.0, True))
    covering = [sum(CLRS.covers(need, at, with_care=False) << at for at in range(6)) for need in range(12)]
    program = Program(rows=[Row(columns=columns, weight=1, must=True) for columns in covering], costs=[1] * 6, taken=0, target=12)
    found = best(program, usable=0b111111, time_limit_s=1)
    assert found == Solved(columns=0b011101, bound=0, proven=False)
