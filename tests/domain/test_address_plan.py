"""Addresses in walking order, lines filled alike, and what cannot be told."""

from __future__ import annotations

from itertools import combinations_with_replacement, pairwise, permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vault.domain.address_balance import Bin, shared_out
from vault.domain.address_check import check_items, runs_of
from vault.domain.address_items import Fate, Item, Kind, Plan, Slot, Track, circuit_track, line_track
from vault.domain.address_order import in_walking_order, walking_key
from vault.domain.address_plan import plan_addresses
from vault.domain.findings import Severity
from vault.domain.site import Circuit, Line, LineKind

D1, D2, D3 = (line_track(name, Line(name=name, revision=1, kind=LineKind.DALI, addresses_from=first))
              for name, first in (("D1", 0), ("D2", 1), ("D3", 0)))
CB1 = circuit_track("CB1", Circuit(name="CB1", revision=1, central=True, luminaires_max=20, share_max_percent=60))
CB2 = circuit_track("CB2", Circuit(name="CB2", revision=1, central=True))


def _item(key: str, *addresses: int | None, lines: tuple[str, ...] = ("D1",), place: str = "Hall", stays: str = "",
          set_on: str | None = None) -> Item:
    slots = tuple(Slot(gear=number, address=address) for number, address in enumerate(addresses))
    return Item(key=key, reference=key, place=place, lines=lines, slots=slots, stays=stays, set_on=set_on)


def _row(count: int, *addresses: int | None, lines: tuple[str, ...] = ("D1",)) -> list[Item]:
    return [_item(f"L{number}", *(addresses or (None,)), lines=lines, place=f"Room {number}") for number in range(1, count + 1)]


def _told(plan: Plan) -> list[tuple[str, str, int, str]]:
    return [(one.item.key, one.track, one.address, one.fate.value) for one in plan.placed]


def _rules(plan: Plan) -> set[tuple[str, Severity]]:
    return {(finding.rule, finding.severity) for finding in plan.findings}


@pytest.mark.parametrize("places", [
    ["Room 2", "Room 10"],
    ["Room 2", "Room 2, row 1", "Room 2, row 11", "Room 10"],
    ["2. UG Flur", "UG Flur", "EG Flur", "1.OG Flur", "2. OG Flur", "10.OG", "DG"],
    ["UG2, Lager", "UG 1, Lager", "EG / Raum 012", "OG1 Raum 3", "OG 2"],
    ["-1 Store", "0 Hall", "1 Office", "2 Office"],
    ["Level -1", "Level 0", "Level 2", "Level 10"],
    ["Basement", "Ground floor", "1st floor", "second floor", "3rd floor", "Roof"],
    ["Sous-sol", "RDC", "R+1", "2e étage"],
    ["House A, EG, Room 3", "House A, 1.OG, Room 1", "House B, UG"],
    ["Stairs 1-2", "Stairs 1-10"],
    ["Corridor", "Corridor 1"],
])
def test_places_are_walked_from_the_lowest_floor_and_room_up(places: list[str]) -> None:
    """Numbers count as numbers, and floors as they are written in English, German and French (common practice, no source)."""
    assert all(walking_key(one) < walking_key(other) for one, other in pairwise(places))


def test_a_list_of_references_goes_before_the_places() -> None:
    """What is not in the list follows in the order of the places."""
    items = [_item("A", place="Room 1"), _item("B", place="Room 2"), _item("C", place="Room 10"), _item("D", place="Room 9")]
    walk = in_walking_order(items, place=lambda one: one.place, reference=lambda one: one.reference, order=["C", "A"])
    assert [item.key for item in walk] == ["C", "A", "B", "D"]


@given(st.text(max_size=20))
def test_any_place_can_be_sorted_among_others(place: str) -> None:
    """Whatever is written, two keys can be compared."""
    assert (walking_key(place) < walking_key("Room 2 EG")) is not (walking_key(place) >= walking_key("Room 2 EG"))


def _brute_force(weights: list[int], bins: list[Bin]) -> int | None:
    """The least difference over every order of the bins and every way to cut the walk into runs."""
    found = [max(sums) - min(sums) for order in permutations(bins)
             for cuts in combinations_with_replacement(range(len(weights) + 1), len(bins) - 1)
             if all((sums := [one.held + sum(weights[start:end])
                              for one, (start, end) in zip(order, pairwise([0, *cuts, len(weights)]), strict=True)])[at]
                    <= order[at].most for at in range(len(bins)))]
    return min(found, default=None)


@given(st.lists(st.integers(1, 3), min_size=1, max_size=7),
       st.lists(st.builds(lambda held, room: Bin(held=held, most=held + room), st.integers(0, 6), st.integers(0, 9)),
                min_size=1, max_size=3))
def test_no_way_to_share_out_is_more_even(weights: list[int], bins: list[Bin]) -> None:
    """Of all contiguous ways, tried one by one, none has a smaller difference; where there is none, none is found."""
    chosen = shared_out(weights, [str(number) for number in range(len(weights))], bins)
    sums = None if chosen is None else [one.held + sum(weight for weight, at in zip(weights, chosen, strict=True) if at == number)
                                        for number, one in enumerate(bins)]
    assert (None if sums is None else max(sums) - min(sums)) == _brute_force(weights, bins)
    assert sums is None or all(held <= one.most for held, one in zip(sums, bins, strict=True))


@pytest.mark.parametrize(("weights", "bins", "expected"), [
    ([1] * 40, [Bin(held=60, most=64), Bin(held=0, most=64), Bin(held=0, most=64)], [0, 20, 20]),
    ([1] * 600, [Bin(held=64, most=64), *[Bin(held=0, most=64)] * 20], [0, *[30] * 20]),
    ([2] * 512, [Bin(held=0, most=64)] * 16, [32] * 16),
])
def test_lines_that_are_full_leave_the_rest_even(weights: list[int], bins: list[Bin], expected: list[int]) -> None:
    """Where one line is fuller than all others will ever be, those share alike."""
    chosen = shared_out(weights, [str(at) for at in range(len(weights))], bins)
    assert chosen is not None and [chosen.count(at) for at in range(len(bins))] == expected


def test_a_room_is_not_cut_in_two_where_that_costs_nothing() -> None:
    """Five and six, or six and five: the cut lies between the rooms."""
    places = ["Room 1"] * 6 + ["Room 2"] * 5
    assert shared_out([1] * 11, places, [Bin(held=0, most=64)] * 2) == [0] * 6 + [1] * 5


@pytest.mark.parametrize(("items", "expected"), [
    ([_item("A", None, place="Room 10"), _item("B", None, place="Room 2")], [("B", "D1", 0, "new"), ("A", "D1", 1, "new")]),
    ([_item("A", 1, place="Room 1"), _item("B", None, place="Room 2"), _item("C", None, place="Room 3")],
     [("A", "D1", 1, "kept"), ("B", "D1", 0, "new"), ("C", "D1", 2, "new")]),
    # Both gear of a luminaire lie beside each other; the single free address 1 is left out.
    ([_item("A", 0), _item("B", 2), _item("C", None, None)],
     [("A", "D1", 0, "kept"), ("B", "D1", 2, "kept"), ("C", "D1", 3, "new"), ("C", "D1", 4, "new")]),
    # Its converter gets the address behind the one that is set.
    ([_item("A", 7, None), _item("B", None, place="Room")],
     [("A", "D1", 7, "kept"), ("A", "D1", 8, "new"), ("B", "D1", 0, "new")]),
])
def test_what_is_set_stays_and_the_rest_follows_the_walk(items: list[Item], expected: list[tuple[str, str, int, str]]) -> None:
    """The lowest free addresses in walking order, gear of one luminaire side by side."""
    assert _told(plan_addresses(items, [D1])) == expected


def test_renumbering_takes_an_address_from_another_line() -> None:
    """What is set on D2 and is to be on D1 gets one of D1's, and is no conflict any more."""
    plan = plan_addresses([_item("A", 3, set_on="D2"), _item("B", None)], [D1, D2], renumber=True)
    assert _told(plan) == [("A", "D1", 0, "moved"), ("B", "D1", 1, "new")] and plan.findings == ()


def test_renumbering_moves_addresses_and_says_from_where() -> None:
    """Only where told; one that may not be touched keeps its own and nobody else gets it."""
    items = [_item("A", 5, place="Room 1"), _item("B", 1, place="Room 2"), _item("C", 0, place="Room 3", stays="it is frozen")]
    plan = plan_addresses(items, [D1], renumber=True)
    assert _told(plan) == [("A", "D1", 1, "moved"), ("B", "D1", 2, "moved"), ("C", "D1", 0, "kept")]
    assert [one.before for one in plan.placed] == [5, 1, None]


@pytest.mark.parametrize(("items", "tracks", "options", "found"), [
    (_row(57), [D1], {}, set()),
    (_row(58), [D1], {}, {("line-nearly-full", Severity.CARE)}),
    # 64 gear on a line: IEC 62386-101 and -102.
    (_row(65), [D1], {}, {("line-gear", Severity.STOP), ("address-none-given", Severity.STOP)}),
    ([_item("A", 3), _item("B", 3)], [D1], {}, {("address", Severity.STOP)}),
    ([_item("A", 3, 3)], [D1], {}, {("address", Severity.CARE)}),
    ([_item("A", 64)], [D1], {}, {("address", Severity.STOP)}),
    ([_item("A", None, lines=())], [D1], {}, {("address-none-given", Severity.STOP)}),
    ([_item("A", 3, lines=("D1", "D2"))], [D1, D2], {}, {("address-none-given", Severity.STOP)}),
    ([_item("A", 3, set_on="D2")], [D1, D2], {}, {("address-other-line", Severity.STOP)}),
    ([_item("A", None, stays="it is frozen")], [D1], {}, {("address-none-given", Severity.STOP)}),
    ([_item("A", None)], [line_track("D1", None)], {}, {("address-line", Severity.CARE)}),
    (_row(60), [D1], {"leave_percent": 10},
     {("line-nearly-full", Severity.CARE), ("address-spare", Severity.CARE)}),
    # 20 luminaires on a central circuit: DIN V VDE V 0108-100:2010 4.4.6, as quoted.
    (_row(20, lines=("CB1",)), [CB1], {}, set()),
    (_row(21, lines=("CB1",)), [CB1], {}, {("circuit-luminaires", Severity.STOP), ("address-none-given", Severity.STOP)}),
    (_row(21, 1, lines=("CB2",))[:1], [CB2], {}, set()),
    (_row(21, lines=("CB2",)), [CB2], {}, {("circuit-luminaires", Severity.CARE), ("address-none-given", Severity.STOP)}),
])
def test_what_a_plan_finds(items: list[Item], tracks: list[Track], options: dict[str, int],
                           found: set[tuple[str, Severity]]) -> None:
    """The limits of lines and circuits, conflicts, and luminaires that cannot be placed."""
    assert _rules(plan_addresses(items, tracks, **options)) == found  # type: ignore[arg-type]


@pytest.mark.parametrize(("count", "leave", "expected"), [
    (20, 10, [10, 10]),
    (121, 10, [61, 60]),
    (115, 10, [58, 57]),
    (128, 0, [64, 64]),
    (130, 0, [64, 64]),
])
def test_lines_are_filled_alike(count: int, leave: int, expected: list[int]) -> None:
    """Two lines for one pool; the spare share is given up where there is no room for it, and what is over is told."""
    plan = plan_addresses(_row(count, lines=("D1", "D2")), [D1, D2], leave_percent=leave)
    assert sorted((fill.count for fill in plan.filled), reverse=True) == expected
    assert len(plan.unplaced) == count - sum(expected)


ADDRESS = st.one_of(st.none(), st.integers(0, 12))
ITEMS = st.lists(st.tuples(st.lists(ADDRESS, min_size=1, max_size=2), st.sampled_from([("D1",), ("D2",), ("D1", "D2"), ()]),
                           st.integers(1, 30), st.sampled_from(["", "", "", "it is frozen"])), max_size=60)


def _made(drawn: list[tuple[list[int | None], tuple[str, ...], int, str]]) -> list[Item]:
    return [_item(f"L{number}", *addresses, lines=lines, place=f"Room {room}", stays=stays)
            for number, (addresses, lines, room, stays) in enumerate(drawn)]


@given(ITEMS, st.booleans(), st.integers(0, 50))
def test_a_plan_keeps_its_promises(drawn: list[tuple[list[int | None], tuple[str, ...], int, str]], renumber: bool,
                                   leave: int) -> None:
    """New addresses are free ones, what is set stays, limits hold, nobody is lost, and new ones rise along the walk."""
    items = _made(drawn)
    plan = plan_addresses(items, [D1, D2], renumber=renumber, leave_percent=leave)
    fresh = [one for one in plan.placed if one.fate is not Fate.KEPT]
    every = [(one.track, one.address) for one in plan.placed]
    assert all(every.count((one.track, one.address)) == 1 and 0 <= one.address <= 63 for one in fresh)
    assert all(one.address == one.slot.address for one in plan.placed if one.fate is Fate.KEPT)
    assert renumber or all(one.slot.address is None for one in fresh)
    assert all(not one.item.stays for one in fresh)
    assert all(len([track for track, _ in every if track == name]) <= 64 for name in ("D1", "D2"))
    assert {one.item.key for one in plan.placed} | {one.item.key for one in plan.unplaced} == {item.key for item in items}
    whole = [one for one in plan.placed if all(slot.address is None for slot in one.item.slots)]
    for name in ("D1", "D2"):
        rising = [one.address for one in whole if one.track == name]
        assert rising == sorted(rising)


def test_runs_and_gaps_of_a_line() -> None:
    """First free address, longest free run, and what is free below the highest in use."""
    checked = check_items([_item("A", 0), _item("B", 1), _item("C", 5), _item("D", None)], [D1])
    state = checked.states[0]
    assert (state.first_free, state.largest_free, state.gaps) == (2, (6, 63), ((2, 4),))
    assert [item.key for item in state.missing] == ["D"] and {f.rule for f in state.findings} == {"address-missing"}
    assert runs_of([3, 1, 2, 7]) == ((1, 3), (7, 7))


@pytest.mark.parametrize(("items", "tracks", "found"), [
    (_row(64, None), [D1], {"address-missing", "line-nearly-full"}),
    ([_item("A", 3), _item("B", 3)], [D1], {"address"}),
    ([_item("A", 3, lines=())], [D1], {"address-line"}),
    ([_item("A", None, lines=())], [D1], {"address-line"}),
    ([_item(f"L{n}", lines=("CB1",)) for n in range(21)], [CB1], {"circuit-luminaires"}),
    ([_item(f"L{n}", lines=("CB1",)) for n in range(20)], [CB1], set()),
])
def test_what_a_check_finds(items: list[Item], tracks: list[Track], found: set[str]) -> None:
    """Duplicates, gear without address, addresses without line, and full lines and circuits."""
    checked = check_items(items, tracks)
    assert {finding.rule for state in checked.states for finding in state.findings} | {f.rule for f in checked.findings} == found


def test_addresses_are_said_as_the_site_counts_them() -> None:
    """Bus address 5 is 5 where a line counts from 0, and 6 where it counts from 1; central addresses are kept as written."""
    assert [D1.said(5), D2.said(5), CB1.said(5)] == ["address 5 (from 0)", "address 6 (from 1)", "address 5 (from 1)"]
    assert (D2.kind, CB1.kind) == (Kind.LINE, Kind.CIRCUIT)
