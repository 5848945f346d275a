"""Changes to one luminaire: revise, move, retire, placed, approve."""

from __future__ import annotations

from collections.abc import Mapping

import pytest
from small_vault import NOW_S, SmallVault, readback

from vault.actions.changes import approve, move, placed, retire, revise
from vault.actions.desk import Desk
from vault.actions.history import history
from vault.actions.labelling import Wanted, print_labels
from vault.actions.swap import swap
from vault.domain.record import ChangeClass, Reason
from vault.errors import GearkeepError, UsageProblem

EQUIVALENT = ChangeClass.APPROVED_EQUIVALENT

CURRENT, LEVEL, ADDRESS = "channels.1.current_ma", "control.min_level", "control.short_address"


@pytest.fixture
def small(small_on: SmallVault) -> SmallVault:
    """The small vault, on each engine in turn."""
    return small_on


def _revise(desk: Desk, tag: str, **changes: str) -> object:
    return revise(desk, tag, changes={CURRENT: "650"} | changes)


def test_a_revision_is_the_next_version_with_that_one_change(small: SmallVault) -> None:
    """Version 2 follows version 1, bears the signer's time and note, and history names just what changed."""
    changed = revise(small.desk("I01"), small.tags["CH-001"], changes={CURRENT: "650"}, note="too bright")
    record = small.seen("CH-001").record
    assert (changed.version, record.reason, record.note, record.time_s) == (2, Reason.SETTINGS_CHANGED, "too bright", NOW_S)
    last = history(small.open(), small.tags["CH-001"])[-1]
    assert [(field, after) for field, _, after in last.changes] == [("gears.1.settings." + CURRENT, 650), ("note", "too bright")]


@pytest.mark.parametrize(
    ("reference", "changes", "gear", "kind"),
    [
        ("CH-001", {CURRENT: "1050"}, None, "stop"),  # over the type's 700 mA
        ("CH-001", {ADDRESS: "6"}, None, "stop"),  # CH-007 has it
        ("CH-001", {LEVEL: "255"}, None, None),
        ("CH-001", {}, None, None),
        ("CH-001", {CURRENT: "700"}, None, "unchanged"),
        ("CH-001", {"channels.1.colour_of_case": "1"}, None, None),
        ("CH-001", {CURRENT: "650"}, "emergency-converter", "no-gear"),
    ],
)
def test_a_revision_that_will_not_do_signs_nothing(
        small: SmallVault, reference: str, changes: Mapping[str, str], gear: str | None, kind: str | None) -> None:
    """A stop, nothing new, an unknown field and a gear that is not there are refused, each with a hint or a reason."""
    before = small.sizes()
    with pytest.raises(GearkeepError) as caught:
        revise(small.desk("I01"), small.tags[reference], changes=changes, gear=gear)
    assert kind in (None, caught.value.kind) and small.sizes() == before


def test_a_revision_of_one_gear_leaves_the_other(small: SmallVault) -> None:
    """The converter's function test changes; the general gear stays as it was."""
    general = small.seen("ST-N1").record.gears[0]
    revise(small.desk("I01"), small.tags["ST-N1"], changes={"emergency.function_test_days": "14"}, gear="emergency-converter")
    first, second = small.seen("ST-N1").record.gears
    assert first == general
    assert second.settings.emergency is not None and second.settings.emergency.function_test_days == 14


@pytest.mark.parametrize(
    ("line", "circuit", "address", "expected"),
    [
        (None, None, None, ("D1", "L1", 0)),
        (None, "L2", "30", ("D1", "L2", 30)),
        ("D2", "L3", "30", ("D2", "L3", 29)),  # D2 numbers its addresses from 1 (demo/lines.toml)
    ],
)
def test_a_move_changes_what_was_said_alone(small: SmallVault, line: str | None, circuit: str | None,
                                            address: str | None, expected: tuple[str, str, int]) -> None:
    """Place always; line, circuit and address where given; the address as that line writes it, kept as on the bus."""
    move(small.desk("T01"), small.tags["CH-001"], place="Store room", line=line, circuit=circuit, address=address)
    record = small.seen("CH-001").record
    control = record.gears[0].settings.control
    assert (record.place, record.reason) == ("Store room", Reason.MOVED)
    assert control is not None and (record.line, record.circuit, control.short_address) == expected


@pytest.mark.parametrize(
    ("line", "address", "kind"),
    [("D9", "3", "not-found"), (None, "6", "stop"), ("D2", "1", "stop"), (None, "six", "error"), ("D2", "0", None)],
)
def test_a_move_to_a_taken_or_unknown_address_signs_nothing(
        small: SmallVault, line: str | None, address: str, kind: str | None) -> None:
    """CH-007 has address 6 on D1, PH-001 has 1 on D2, D2 has no 0, and there is no line D9."""
    before = small.sizes()
    with pytest.raises(GearkeepError) as caught:
        move(small.desk("T01"), small.tags["CH-001"], place="Store room", line=line, circuit=None, address=address)
    assert kind in (None, caught.value.kind) and small.sizes() == before


def test_retiring_withdraws_the_labels(small: SmallVault) -> None:
    """Both printed copies stop counting in the step that retires the luminaire."""
    tag = small.tags["CH-001"]
    for name in ("one.png", "two.png"):
        print_labels(small.desk("I01"), Wanted(texts=[tag]), out=small.folder / name)
    retire(small.desk("I01"), tag, because="store room taken down")
    seen = small.seen("CH-001")
    assert seen.retired and seen.record.note == "store room taken down"
    assert [label.withdrawn for label in seen.labels] == [True, True]


@pytest.mark.parametrize(
    "act",
    [
        lambda small, tag: revise(small.desk("I01"), tag, changes={CURRENT: "650"}),
        lambda small, tag: move(small.desk("I01"), tag, place="Attic", line=None, circuit=None, address=None),
        lambda small, tag: retire(small.desk("I01"), tag, because="again"),
        lambda small, tag: print_labels(small.desk("I01"), Wanted(texts=[tag]), out=small.folder / "label.png"),
        lambda small, tag: swap(small.desk("T01"), tag, change_class=EQUIVALENT,
                 spare="GEN-50-1050", serial=None, readback=readback(short_address=0)),
    ],
    ids=["revise", "move", "retire", "label", "swap"],
)
def test_a_retired_tag_is_refused(small: SmallVault, act: object) -> None:
    """Nothing is signed for a retired luminaire any more."""
    retire(small.desk("I01"), small.tags["CH-001"], because="taken down")
    before = small.sizes()
    with pytest.raises(GearkeepError) as caught:
        act(small, small.tags["CH-001"])  # type: ignore[operator]
    assert caught.value.kind == "retired" and small.sizes() == before


def test_retired_luminaires_are_left_out_of_all_labels(small: SmallVault) -> None:
    """Labels for everything on a line are those of what is in service there."""
    retire(small.desk("I01"), small.tags["CA-001"], because="taken down")
    with pytest.raises(UsageProblem) as caught:
        print_labels(small.desk("I01"), Wanted(line="D3"), out=small.folder / "labels.pdf")
    assert caught.value.kind == "not-found"


def test_placed_is_signed_once_for_the_newest_copy(small: SmallVault) -> None:
    """The second copy is the one on the housing; saying so twice adds nothing."""
    tag = small.tags["CH-001"]
    for name in ("one.png", "two.png"):
        print_labels(small.desk("I01"), Wanted(texts=[tag]), out=small.folder / name)
    assert (placed(small.desk("T01"), tag), placed(small.desk("T01"), tag)) == (2, 2)
    assert [label.placed for label in small.seen("CH-001").labels] == [False, True]


def test_a_label_that_was_never_printed_is_not_placed(small: SmallVault) -> None:
    """Nobody can have seen it."""
    with pytest.raises(UsageProblem) as caught:
        placed(small.desk("T01"), small.tags["CH-001"])
    assert caught.value.kind == "no-label"


@pytest.fixture
def wrong_swap(small: SmallVault) -> SmallVault:
    """CH-007 with a new driver that reads 500 mA where 700 mA was meant: provisional."""
    swap(small.desk("T01"), small.tags["CH-007"], change_class=EQUIVALENT,
             spare="GEN-50-1050", serial=None, readback=readback(current_ma=500))
    return small


def test_an_approvers_approval_lifts_the_stop(wrong_swap: SmallVault) -> None:
    """A second signer accepts what is open; nothing is open then, and the record says who accepted what."""
    assert wrong_swap.seen("CH-007").open_stops == {"readback-differs"}
    approve(wrong_swap.desk("P01"), wrong_swap.tags["CH-007"], accepts=frozenset({"readback-differs"}),
            change_class=ChangeClass.APPROVED_EQUIVALENT, because="light level measured")
    seen = wrong_swap.seen("CH-007")
    assert not seen.provisional
    assert [(a.signer, a.accepts) for a in seen.approvals] == [("P01", frozenset({"readback-differs"}))]


@pytest.mark.parametrize(
    ("code", "accepts", "kind"),
    [
        ("T01", None, "wrong-role"),  # signed the record, and no approver
        ("I01", None, "wrong-role"),
        ("P01", frozenset({"window"}), "not-open"),
        ("P01", frozenset({"readback-differs", "widnow"}), "not-open"),
    ],
)
def test_what_lifts_no_stop(wrong_swap: SmallVault, code: str, accepts: frozenset[str] | None, kind: str) -> None:
    """The record's own signer, somebody without the role, and findings that are not open."""
    before = wrong_swap.sizes()
    with pytest.raises(GearkeepError) as caught:
        approve(wrong_swap.desk(code), wrong_swap.tags["CH-007"], accepts=accepts,
                change_class=ChangeClass.APPROVED_EQUIVALENT, because="it will do")
    assert caught.value.kind == kind and wrong_swap.sizes() == before
    assert wrong_swap.seen("CH-007").provisional


def test_nothing_open_is_nothing_to_approve(small: SmallVault) -> None:
    """A good record asks for no approval."""
    with pytest.raises(UsageProblem) as caught:
        approve(small.desk("P01"), small.tags["CH-001"], accepts=None, change_class=ChangeClass.LIKE_FOR_LIKE, because="fine")
    assert caught.value.kind == "nothing-open"


@pytest.mark.parametrize(
    "act",
    [
        lambda small, tag: move(small.desk("T01"), tag, place="Attic", line=None, circuit=None, address=None),
        lambda small, tag: revise(small.desk("T01"), tag, changes={LEVEL: "100"}),
    ],
    ids=["move", "revise"],
)
def test_a_later_version_does_not_lift_a_stop(wrong_swap: SmallVault, act: object) -> None:
    """The driver still reads wrong: moving the luminaire, or changing something else, is no approval."""
    act(wrong_swap, wrong_swap.tags["CH-007"])  # type: ignore[operator]
    seen = wrong_swap.seen("CH-007")
    assert (seen.record.version, seen.open_stops) == (3, {"readback-differs"})


def test_a_corrected_setting_closes_its_own_stop(small: SmallVault) -> None:
    """A current that the rating forbids is open until it is corrected; then nothing is, without any approval."""
    desk, tag = small.desk("I01"), small.tags["CH-001"]
    revise(desk, tag, changes={CURRENT: "800"}, allow_open=True)
    assert "current-permitted" in small.seen("CH-001").open_stops
    revise(desk, tag, changes={CURRENT: "700"})
    assert small.seen("CH-001").open_stops == frozenset()


def test_a_good_swap_closes_a_bad_one(wrong_swap: SmallVault) -> None:
    """Another driver that reads as it should settles what the first one left open."""
    swap(wrong_swap.desk("T01"), wrong_swap.tags["CH-007"], change_class=EQUIVALENT,
             spare="GEN-50-1050", serial=None, readback=readback())
    assert not wrong_swap.seen("CH-007").provisional
