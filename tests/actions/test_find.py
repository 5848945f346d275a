"""Luminaires found without their labels: by what is known of them, and by what hangs beside them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest
from small_vault import SmallVault
from sqlalchemy import update

from vault.actions.changes import move, retire
from vault.actions.finding_luminaires import Asked, find, neighbours_of
from vault.actions.luminaire import view
from vault.db import tables
from vault.domain.record import Reason
from vault.errors import GearkeepError

ROWS = ("CH-001", "CH-002", "CH-003", "CH-004", "CH-006", "CH-007", "CH-008", "CH-009")


def _references(small: SmallVault, asked: Asked) -> list[str | None]:
    return [one.reference for one in find(small.open(), asked).found]


@pytest.mark.parametrize(("asked", "references"), [
    (Asked(text="row 7"), ["CH-007"]), (Asked(text="  ROW   7 "), ["CH-007"]), (Asked(text="ch-00"), list(ROWS)),
    (Asked(text="mb24050"), ["CH-007"]), (Asked(text="d1", place="corridor"), ["CO-001", "CO-002"]),
    (Asked(place="women"), list(ROWS)),
    (Asked(place="women", type_code="T1", line="D1", circuit="L1", serial="4050"), ["CH-007"]),
    (Asked(type_code="t9"), ["PH-001", "PH-002"]), (Asked(line="D2", type_code="T9"), ["PH-001", "PH-002"]),
    (Asked(line="D1", address=6), ["CH-007"]), (Asked(line="D2", address=1), ["PH-001"]),
    (Asked(circuit="CB1", address=1), ["CB1-01"]), (Asked(circuit="L1", line="D1", address=7), ["CH-008"]),
    (Asked(line="D1", answering=frozenset({0, 1, 2, 3, 5, 6, 8, 24})), ["CH-008", "CO-002"]),
    # what a database reads as signs of its own stands for itself
    (Asked(text="%"), []), (Asked(text="CH_007"), []), (Asked(place="row\\"), []), (Asked(place="_______"), []),
    # everything has to hold
    (Asked(text="row 7", type_code="T9"), []), (Asked(text="row 7", line="D2"), []), (Asked(line="D2", address=0), []),
    (Asked(serial="MB24050", place="row 8"), []),
])
def test_everything_that_is_known_has_to_hold(small_on: SmallVault, asked: Asked, references: list[str]) -> None:
    """A part of a text is enough, a code is whole; addresses are as the site writes them (line D2 counts from 1)."""
    assert _references(small_on, asked) == references


@pytest.mark.parametrize("text", ["CAFÉ", "café", "CaFé"])
def test_letters_beyond_ascii_are_found_in_any_case(small_on: SmallVault, text: str) -> None:
    """Databases differ in what they hold for a capital letter; the answer does not."""
    assert set(_references(small_on, Asked(place=text))) == {"CA-001"}


def test_a_part_of_a_tag_is_found(small_on: SmallVault) -> None:
    """Four characters of a label that is half legible, also with the letters that a tag does not use."""
    tag = small_on.tags["CH-007"]
    assert "CH-007" in _references(small_on, Asked(text=tag[2:7].lower()))
    assert _references(small_on, Asked(text=f"{tag[:4]} {tag[4:8]} {tag[8]}")) == ["CH-007"]


def test_what_is_told_of_each(small_on: SmallVault) -> None:
    """Address in the site's numbering, and the states that are true."""
    retire(small_on.desk("I01"), small_on.tags["PH-001"], because="taken down")
    one, two = find(small_on.open(), Asked(type_code="T9")).found
    assert (one.addresses, one.line, one.version, one.states) == ((1,), "D2", 2, ("retired",))
    assert (two.addresses, two.place, two.states) == ((2,), "Pool hall east, truss 2", ())


def test_a_conflict_is_one_luminaire(small_on: SmallVault) -> None:
    """Two newest versions that differ are told once, as a conflict."""
    seen = small_on.seen("CH-007")
    after = replace(seen.record, version=2, predecessors=seen.statement.digest[:16], reason=Reason.SETTINGS_CHANGED)
    small_on.fork(replace(after, place="Attic", line="D2"), replace(after, note="read again"))
    for text in ("CH-007", "attic", "row 7"):
        [one] = find(small_on.open(), Asked(text=text)).found
        assert "conflict" in one.states


def test_neighbours_are_told_the_next_ones_first(small_on: SmallVault) -> None:
    """By address on the line on both sides, then by place."""
    result = find(small_on.open(), Asked(near=small_on.tags["CH-007"])).found
    assert [(one.reference, one.apart) for one in result[:3]] == [
        ("CH-008", "the next address above on line D1, address 7; next to it by the place's number"),
        ("CH-006", "the next address below on line D1, address 5; next to it by the place's number"),
        ("CH-009", "2 addresses above on line D1, address 8; 2 on by the place's number")]
    assert small_on.tags["CH-007"] not in [one.tag for one in result]


def test_neighbours_narrowed(small_on: SmallVault) -> None:
    """--near with other options: all have to hold."""
    assert _references(small_on, Asked(near=small_on.tags["CH-007"], place="corridor")) == ["CO-001", "CO-002"]


def test_a_neighbour_that_moved_or_is_gone_is_none(small_on: SmallVault) -> None:
    """What was beside it once does not count."""
    retire(small_on.desk("I01"), small_on.tags["CH-008"], because="taken down")
    move(small_on.desk("I01"), small_on.tags["CH-006"], place="Attic", line="D2", circuit=None, address="40")
    beside = _references(small_on, Asked(near=small_on.tags["CH-007"]))
    assert not {"CH-006", "CH-008"} & set(beside) and beside[0] == "CH-009"


def test_neighbours_by_place_alone(small_on: SmallVault) -> None:
    """A luminaire on no bus has neighbours too, or none."""
    lines = _beside(small_on, "CO-001")
    assert lines[0].startswith("CO-002, Corridor, bay 2, type T1: the next address above on line D1, address 25")
    assert all(": " in line for line in lines) and len(lines) <= 6


def _beside(small: SmallVault, reference: str) -> Sequence[str]:
    with small.open().reading() as session:
        return neighbours_of(session, view(session, small.tags[reference]))


@pytest.mark.parametrize(("asked", "said"), [
    (Asked(text="coridor"), "The nearest places are: Corridor, bay 1; Corridor, bay 2"),
    (Asked(place="womens changing room, row 5"), "Changing room women, row"),
    (Asked(line="D77"), "There is no line D77; there is B1,"), (Asked(type_code="T77"), "There is no type T77; there is"),
    (Asked(text="%"), "Give less"),
])
def test_what_comes_closest_is_offered(small_on: SmallVault, asked: Asked, said: str) -> None:
    """Where nothing is found: places, lines and types that there are."""
    result = find(small_on.open(), asked)
    assert result.found == () and said in result.offered


@pytest.mark.parametrize(("asked", "kind"), [
    (Asked(), "nothing-asked"), (Asked(address=3), "bad-search"), (Asked(answering=frozenset({3})), "bad-search"),
    (Asked(near="nonsense"), "bad-tag"), (Asked(near="7K3D9QXW6"), "not-found")])
def test_what_cannot_be_looked_for(small: SmallVault, asked: Asked, kind: str) -> None:
    """An address without its line says nothing."""
    with pytest.raises(GearkeepError) as caught:
        find(small.open(), asked)
    assert caught.value.kind == kind


@pytest.mark.parametrize("column", ["place", "line", "type_code", "reference", "circuit"])
def test_an_index_that_says_otherwise_is_refused(small: SmallVault, column: str) -> None:
    """What is shown is what is signed."""
    with small.open().writing() as session:
        session.connection.execute(
            update(tables.record).where(tables.record.c.tag == small.tags["CH-007"]).values({column: "X1"}))
    with pytest.raises(GearkeepError) as caught:
        find(small.open(), Asked(serial="MB24050"))
    assert caught.value.kind == "bad-index"
