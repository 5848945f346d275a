"""Which copies of a label count, where they were last seen, and what is found about them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vault.domain.findings import Severity
from vault.domain.label_findings import label_findings
from vault.domain.label_life import (
    TRANSITIONS,
    Event,
    Happened,
    Issued,
    LabelLife,
    State,
    life_of,
)
from vault.domain.places import same_place

HALL, STORE, ATTIC = "Pool hall, bay 3", "Store room", "Attic"
OLD, NEW = b"old-rec.", b"new-rec."

# One letter for each thing that may be signed, then the copy ("?" for none) and the place of a sighting.
PLACES = {"h": HALL, "s": STORE, "a": ATTIC}
EVENTS = {"P": Event.PLACED, "W": Event.WITHDRAWN, "F": Event.SIGHTED}


def _step(number: int, word: str) -> Issued | Happened:
    letter, copy, more = word[0], word[1], word[2:]
    if letter in "IR":
        old = "-" in more
        return Issued(step=number, copy=int(copy), record=OLD if old else NEW, shows_newest=not old, replaces=letter == "R")
    return Happened(step=number, event=EVENTS[letter], copy=None if copy == "?" else int(copy),
                    place=PLACES.get(more[:1]), record={"-": OLD, "+": NEW}.get(more[1:]))


def _life(words: str) -> LabelLife:
    """"I1 P1 F2s": copy 1 issued and placed, copy 2 found in the store room. R replaces; "-" is the older record."""
    return life_of([_step(number, word) for number, word in enumerate(words.split())], HALL)


@pytest.mark.parametrize(("words", "states", "current"), [
    ("", "", []),
    ("I1", "issued", [1]),
    ("I1 P1", "placed", [1]),
    ("I1 W1", "withdrawn", []),
    ("I1 P1 W1", "withdrawn", []),
    ("I1 W1 P1", "withdrawn", []),
    ("I1 I2", "issued issued", [1, 2]),
    ("I1 P1 R2", "replaced issued", [2]),
    ("I1 R2 P1", "replaced issued", [2]),
    ("I1 R2 W1", "withdrawn issued", [2]),
    ("I1 W1 R2", "withdrawn issued", [2]),
    ("I1 R2 I3", "replaced issued issued", [2, 3]),
    ("I1 R2 R3", "replaced replaced issued", [3]),
    ("R1", "issued", [1]),
    ("I1- I2", "issued issued", [2]),
    ("I1- P1", "placed", []),
    ("I1 F1s", "issued", [1]),
    ("I1 W1 F1s", "withdrawn", []),
])
def test_states_and_what_is_current(words: str, states: str, current: list[int]) -> None:
    """A reprint stands beside, a replacement ends what was printed before, and nothing comes back."""
    life = _life(words)
    assert " ".join(copy.state.value for copy in life.copies) == states
    assert [copy.copy for copy in life.copies if copy.current] == current


def test_labels_issued_together_do_not_replace_each_other() -> None:
    """Two copies in one statement of replacements end the earlier copy alone."""
    first = Issued(step=1, copy=1, record=NEW, shows_newest=True)
    pair = [Issued(step=2, copy=copy, record=NEW, shows_newest=True, replaces=True) for copy in (2, 3)]
    assert [copy.state for copy in life_of([first, *pair], HALL).copies] == [State.REPLACED, State.ISSUED, State.ISSUED]


@pytest.mark.parametrize(("words", "elsewhere", "strays"), [
    ("I1 F1s", [STORE], [(STORE, {1})]),
    ("I1 F1h", [None], []),
    ("I1 F1s F1a", [ATTIC], [(ATTIC, {1})]),
    ("I1 F1s F1h", [None], []),
    ("I1 F1s P1", [None], []),
    ("I1 F1s W1", [None], []),
    ("I1 W1 F1s", [STORE], [(STORE, {1})]),
    ("I1 W1 F1s W1", [None], []),
    ("I1 F1s R2", [STORE, None], [(STORE, {1})]),
    ("I1 F?s", [STORE], [(STORE, {1})]),
    ("I1 I2 F?s", [None, None], [(STORE, {1, 2})]),
    ("I1 I2 F?s F?s", [None, None], [(STORE, {1, 2})]),
    ("I1 I2 F?s P2", [STORE, None], [(STORE, {1})]),
    ("I1 I2 F?s P2 W1", [None, None], []),
    ("I1 I2 F?s W1", [None, None], [(STORE, {2})]),
    ("I1 I2 I3 F?s W1 P2", [None, None, None], [(STORE, {3})]),
    ("I1 I2 F?s W1 P2", [None, None], []),
    ("I1 I2 W1 F?s", [None, STORE], [(STORE, {2})]),
    ("I1- I2 F?s-", [STORE, None], [(STORE, {1})]),
    ("I1- I2 F?s+", [None, STORE], [(STORE, {2})]),
    ("I1 F?s I2", [STORE, None], [(STORE, {1})]),
    ("F?s", [], [(STORE, set())]),
    ("F?s I1", [None], [(STORE, set())]),
    ("F?s R1", [None], []),
])
def test_where_labels_were_last_seen(words: str, elsewhere: list[str | None], strays: list[tuple[str, set[int]]]) -> None:
    """A sighting stands until its copy is on the housing, withdrawn or seen again; without a number it may be any of them."""
    life = _life(words)
    assert [copy.elsewhere for copy in life.copies] == elsewhere
    assert [(stray.place, stray.copies) for stray in life.strays] == strays


@pytest.mark.parametrize(("words", "rules"), [
    ("I1 P1", []),
    ("I1 I2 P1 P2", []),
    ("I1 P1 I2", []),
    ("I1 F1s", ["label-elsewhere"]),
    ("I1 I2 P1 F2s", ["label-two-places", "label-elsewhere"]),
    ("I1 I2 F1a F2s", ["label-two-places", "label-elsewhere", "label-elsewhere"]),
    ("I1 I2 F1s F2s", ["label-elsewhere", "label-elsewhere"]),
    ("I1 P1 R2 P2 F1s", ["label-elsewhere"]),
    ("I1 P1 R2 P2 F1s W1", []),
    ("I1 I2 P1 F2s W2", []),
    ("I1- P1 F1s", ["label-elsewhere", "label-outdated"]),
    ("I1- P1", ["label-outdated"]),
    ("I1- P1 I2 P2", []),
    ("I1- P1 I2", ["label-outdated"]),
    ("F?s", ["label-elsewhere"]),
])
def test_findings(words: str, rules: list[str]) -> None:
    """Two current labels in two places and a label elsewhere ask for care; an older one on the housing is noted."""
    found = label_findings(_life(words), HALL)
    assert [finding.rule for finding in found] == rules
    severity = {"label-two-places": Severity.CARE, "label-elsewhere": Severity.CARE, "label-outdated": Severity.NOTE}
    assert [finding.severity for finding in found] == [severity[rule] for rule in rules]


@pytest.mark.parametrize(("words", "said"), [
    ("I1 F1s", "Label copy 1 was"), ("I1 I2 F?s", "A label, one of copies 1 and 2, was"),
    ("I1 I2 F?s W1", "A label, perhaps copy 2, was"), ("I1 I2 F?s P1", "Label copy 2 was"),
    ("F?s", "A label, of which this vault issued no copy, was")])
def test_a_finding_is_as_sure_as_what_was_signed(words: str, said: str) -> None:
    """A withdrawal does not tell where the withdrawn copy had been."""
    *_, finding = label_findings(_life(words), HALL)
    assert finding.says.startswith(f"{said} found at {STORE}, but the luminaire hangs at {HALL}.")


def test_two_places_names_copies_and_places() -> None:
    """The sentence says which copy hangs where."""
    two, elsewhere = label_findings(_life("I1 I2 P1 F2s"), HALL)
    assert two.found == f"copy 1 at {HALL}, copy 2 at {STORE}"
    assert (elsewhere.found, elsewhere.allowed) == (STORE, HALL) and elsewhere.says.startswith("Label copy 2 was found")


@pytest.mark.parametrize(("one", "other", "same"), [
    ("Store room", "store  ROOM ", True), ("Store room", "Storeroom", False), ("Bay 3", "Bay 4", False)])
def test_places_differ_in_more_than_case_and_blanks(one: str, other: str, same: bool) -> None:
    """People write a place's name in their own way."""
    assert same_place(one, other) is same


@pytest.mark.parametrize("event", Event)
def test_nothing_leads_out_of_withdrawn(event: Event) -> None:
    """The table has no row that begins there, and none that brings a replaced copy back."""
    assert (State.WITHDRAWN, event) not in TRANSITIONS
    assert TRANSITIONS.get((State.REPLACED, event)) in (None, State.WITHDRAWN)


COPY = st.integers(1, 4)
ISSUES = st.builds(lambda copy, newest, replaces: Issued(step=0, copy=copy, record=NEW if newest else OLD, shows_newest=newest,
                                                         replaces=replaces), COPY, st.booleans(), st.booleans())
HAPPENED = st.builds(lambda event, copy, place: Happened(step=0, event=event, copy=copy, place=place),
                     st.sampled_from(list(EVENTS.values())), COPY, st.sampled_from(list(PLACES.values())))
STEPS = st.lists(st.one_of(ISSUES, HAPPENED), max_size=14)


def _numbered(steps: Sequence[Issued | Happened]) -> list[Issued | Happened]:
    return [replace(step, step=number) for number, step in enumerate(steps)]


@given(STEPS)
def test_a_withdrawn_or_replaced_copy_is_never_current(steps: list[Issued | Happened]) -> None:
    """Whatever was signed in whatever order."""
    assert not [copy for copy in life_of(_numbered(steps), HALL).copies
                if copy.current and copy.state in (State.WITHDRAWN, State.REPLACED)]


@given(STEPS)
def test_there_are_never_more_current_copies_than_were_issued_since_the_last_replacement(steps: list[Issued | Happened]) -> None:
    """A replacement leaves itself and what is printed after it."""
    numbered = _numbered(steps)
    last = max((step.step for step in numbered if isinstance(step, Issued) and step.replaces), default=0)
    since = [step for step in numbered if isinstance(step, Issued) and step.step >= last]
    assert sum(copy.current for copy in life_of(numbered, HALL).copies) <= len(since)


@given(STEPS)
def test_withdrawing_everything_ends_every_finding(steps: list[Issued | Happened]) -> None:
    """There is always a way to put things right: nothing is current and nothing is elsewhere any more."""
    withdrawals = [Happened(step=0, event=Event.WITHDRAWN, copy=copy) for copy in range(1, 5)]
    life = life_of(_numbered([*steps, *withdrawals]), HALL)
    assert not [copy for copy in life.copies if copy.current] and label_findings(life, HALL) == ()


@given(STEPS)
def test_an_event_of_one_copy_leaves_the_others(steps: list[Issued | Happened]) -> None:
    """Placing, withdrawing or finding copy 1 changes no other copy's state."""
    last = Happened(step=0, event=Event.WITHDRAWN, copy=1)
    before, after = life_of(_numbered(steps), HALL), life_of(_numbered([*steps, last]), HALL)
    assert [c.state for c in before.copies if c.copy != 1] == [c.state for c in after.copies if c.copy != 1]


@pytest.mark.parametrize(("said", "hangs"), [(None, True), (False, False), (True, True)])
def test_a_label_that_hung_hangs_until_it_is_said_to_lie_loose(said: bool | None, hangs: bool) -> None:
    """A later sighting that says nothing of a housing lifts nothing."""
    life = life_of([Issued(step=1, copy=1, record=b"r", shows_newest=True),
                    Happened(step=2, event=Event.SIGHTED, copy=1, place="Bay 2", on_housing=True),
                    Happened(step=3, event=Event.SIGHTED, copy=1, place="Bay2", on_housing=said)], "Bay 1")
    assert [(stray.place, stray.on_housing) for stray in life.strays] == [("Bay2", hangs)]
