"""Which labels seen on wrong housings freeze luminaires, and which plainly good ones do not."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vault.domain.findings import Severity
from vault.domain.label_freeze import FREEZING, Seat, another_finding, freezes, others_meant, own_findings, ways_out
from vault.domain.label_life import Event, Happened, Issued, LabelLife, Stray, life_of

HALL, BAY, STORE = "Pool hall, bay 3", "Corridor, bay 1", "Store room"
OWN = Seat(tag_shown="7K3D 9QXW 6", place=HALL, type_code="T1")
OTHER = Seat(tag_shown="88EX 8QKH 3", place=BAY, type_code="T1")
THIRD = Seat(tag_shown="D7N9 XK3E N", place=BAY, type_code="T2")
RECORD = b"new-rec."

# What became of copy 1 before it was found: each a list of steps.
PAST = {
    "issued": (), "placed": (Event.PLACED,), "withdrawn": (Event.WITHDRAWN,), "placed-withdrawn": (Event.PLACED, Event.WITHDRAWN),
}


def _life(past: str, *, place: str = BAY, type_code: str | None = None, on_housing: bool | None = None,
          after: tuple[Event, ...] = ()) -> LabelLife:
    steps: list[Issued | Happened] = [Issued(step=0, copy=1, record=RECORD, shows_newest=True)]
    steps += [Happened(step=1, event=event, copy=1) for event in PAST[past.removeprefix("replaced-")]]
    if past.startswith("replaced-"):
        steps.append(Issued(step=2, copy=2, record=RECORD, shows_newest=True, replaces=True))
    steps.append(Happened(step=3, event=Event.SIGHTED, copy=1, place=place, type_code=type_code, on_housing=on_housing))
    steps += [Happened(step=4, event=event, copy=1) for event in after]
    return life_of(steps, HALL, "T1")


@pytest.mark.parametrize(("past", "there", "on_housing", "frozen"), [
    # a spare that hung nowhere yet lies in the store, whatever was said of its housing
    ("issued", (), None, False), ("issued", (), False, False), ("issued", (OTHER,), False, False),
    # the same on a housing, or where another luminaire is recorded
    ("issued", (), True, True), ("issued", (OTHER,), None, True), ("issued", (OTHER,), True, True),
    # it hung on its housing: moved, or come off; not when it is known to lie in a drawer
    ("placed", (), None, True), ("placed", (), False, False), ("placed", (), True, True), ("placed", (OTHER,), None, True),
    # an old label in a drawer is what one expects; on a housing it misleads
    ("replaced-placed", (), None, False), ("replaced-placed", (), True, True), ("replaced-placed", (OTHER,), None, True),
    ("replaced-placed", (OTHER,), False, False), ("replaced-issued", (), None, False),
    ("withdrawn", (), None, False), ("withdrawn", (), True, True), ("withdrawn", (OTHER,), None, True),
    ("withdrawn", (OTHER,), False, False), ("placed-withdrawn", (), None, False), ("placed-withdrawn", (OTHER,), None, True),
])
def test_what_freezes(past: str, there: tuple[Seat, ...], on_housing: bool | None, frozen: bool) -> None:
    """Copy by state, by what else is recorded where it was found, by whether it hangs or lies there."""
    life = _life(past, on_housing=on_housing)
    [stray] = life.strays
    assert freezes(stray, life, there) is frozen


@pytest.mark.parametrize(("steps", "frozen"), [
    (("P1", "P2"), True), (("P1",), False), ((), False),
])
def test_a_label_without_its_number(steps: tuple[str, ...], frozen: bool) -> None:
    """It may be the spare that hung nowhere yet, unless both copies hung on the housing."""
    issued: list[Issued | Happened] = [Issued(step=0, copy=copy, record=RECORD, shows_newest=True) for copy in (1, 2)]
    hung = [Happened(step=1, event=Event.PLACED, copy=int(step[1])) for step in steps]
    life = life_of([*issued, *hung, Happened(step=2, event=Event.SIGHTED, copy=None, place=STORE)], HALL, "T1")
    assert freezes(life.strays[0], life, ()) is frozen


def test_a_label_that_nobody_issued_freezes_only_on_a_housing() -> None:
    """No copy is known that could have come off."""
    life = life_of([Happened(step=0, event=Event.SIGHTED, copy=None, place=STORE)], HALL, "T1")
    assert not freezes(life.strays[0], life, ()) and freezes(life.strays[0], life, (OTHER,))


@pytest.mark.parametrize(("place", "type_code", "strays"), [
    (HALL, "T1", 0), (HALL.upper(), "T1", 0), (HALL, None, 0), (HALL, "T2", 1), (BAY, "T1", 1), (BAY, "T2", 1)])
def test_place_and_type_have_to_agree(place: str, type_code: str | None, strays: int) -> None:
    """A housing of another type contradicts the record in the luminaire's own place too."""
    assert len(_life("placed", place=place, type_code=type_code, on_housing=True).strays) == strays


@pytest.mark.parametrize("after", [Event.PLACED, Event.WITHDRAWN])
@pytest.mark.parametrize("place", [HALL, BAY])
def test_placing_and_withdrawing_settle(after: Event, place: str) -> None:
    """Nobody looks for that copy any more."""
    assert _life("placed", place=place, type_code="T2", on_housing=True, after=(after,)).strays == ()


@pytest.mark.parametrize(("first", "then"), [((BAY, True), (BAY.upper(), False)), ((BAY, None), (HALL, True))])
def test_what_is_said_last_counts(first: tuple[str, bool | None], then: tuple[str, bool | None]) -> None:
    """Looked at again, it lies loose; or it hangs where it belongs."""
    steps: list[Issued | Happened] = [Issued(step=0, copy=1, record=RECORD, shows_newest=True)]
    steps += [Happened(step=at, event=Event.SIGHTED, copy=1, place=place, on_housing=on)
              for at, (place, on) in enumerate((first, then), 1)]
    life = life_of(steps, HALL, "T1")
    assert not [stray for stray in life.strays if freezes(stray, life, (OTHER,))]


@pytest.mark.parametrize(("there", "type_code", "meant"), [
    ((OTHER,), None, (OTHER,)), ((OTHER, THIRD), None, (OTHER, THIRD)), ((OTHER, THIRD), "T2", (THIRD,)),
    ((OTHER, THIRD), "T9", (OTHER, THIRD)), ((), "T1", ()), ((OTHER,), "T2", (OTHER,))])
def test_who_may_bear_it(there: tuple[Seat, ...], type_code: str | None, meant: tuple[Seat, ...]) -> None:
    """The type of the housing tells which of several it is, where one of them is of that type."""
    assert others_meant(Stray(place=BAY, copies=frozenset({1}), type_code=type_code), there) == meant


@pytest.mark.parametrize(("there", "rule", "severity"), [
    ((OTHER,), "label-of-another", Severity.STOP), ((OTHER, THIRD), "label-near", Severity.CARE)])
def test_the_other_luminaire_is_told(there: tuple[Seat, ...], rule: str, severity: Severity) -> None:
    """The only one there is frozen; several of one place are each told."""
    told = another_finding(Stray(place=BAY, copies=frozenset({1})), OWN, OTHER, there)
    assert (told.rule, told.severity, told.found) == (rule, severity, OWN.tag_shown)
    assert told.says.startswith(f"Label copy 1 of {OWN.tag_shown}, which hangs at {HALL}, was found at {BAY}")


@pytest.mark.parametrize(("place", "type_code", "rule", "said"), [
    (BAY, None, "label-housing", f"was found at {BAY}, but the luminaire hangs at {HALL}. 88EX 8QKH 3 is recorded there."),
    (BAY, "T2", "label-housing", f"was found at {BAY}, on a housing of type T2, but"),
    (HALL, "T2", "label-type", "was seen on a housing of type T2, but the luminaire is of type T1."),
])
def test_its_own_finding_says_what_contradicts(place: str, type_code: str | None, rule: str, said: str) -> None:
    """Place, type, and who else is recorded there."""
    [finding] = own_findings([(Stray(place=place, copies=frozenset({1}), type_code=type_code), (OTHER,))], OWN)
    assert (finding.rule, finding.severity) == (rule, Severity.STOP) and finding.rule in FREEZING and said in finding.says


def test_the_hint_names_the_tag_whose_label_it_is() -> None:
    """For the luminaire in whose place it was found, that is the other one."""
    [own] = own_findings([(Stray(place=BAY, copies=frozenset({1})), (OTHER,))], OWN)
    told = another_finding(Stray(place=BAY, copies=frozenset({1})), OWN, OTHER, (OTHER,))
    assert "true of 7K3D9QXW6:" in ways_out([own], OWN.tag_shown)
    hint = ways_out([told], OTHER.tag_shown)
    assert "true of 7K3D9QXW6:" in hint and "gearkeep move 88EX8QKH3" in hint


@given(st.sampled_from([*PAST, "replaced-placed"]), st.sampled_from([None, "T1", "T2"]), st.sampled_from([None, True]),
       st.sampled_from([HALL, BAY, STORE]))
def test_a_withdrawal_of_a_known_copy_always_thaws(past: str, type_code: str | None, on_housing: bool | None,
                                                   place: str) -> None:
    """There is a way out of every freeze."""
    life = _life(past, place=place, type_code=type_code, on_housing=on_housing, after=(Event.WITHDRAWN,))
    assert life.strays == ()
