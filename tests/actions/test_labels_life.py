"""Labels after they were printed: placed, withdrawn, found elsewhere, listed."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from small_vault import NOW_S, SmallVault

from vault.actions.changes import move, placed, retire, revise
from vault.actions.labels_life import LabelList, label_list, sight_label, withdraw_label
from vault.db.audit import run_audit
from vault.domain.label_life import State
from vault.domain.tag import to_bytes
from vault.errors import GearkeepError
from vault.trust.statements import IssuedLabel, IssueReason, Kind, LabelCopy, LabelIssue, LabelPlaced, LabelSighting, SeenLabel

LAMP = "CH-007"
PLACE = "Corridor, west end"


@pytest.fixture
def lamp(small: SmallVault) -> str:
    """The tag of one luminaire."""
    return small.tags[LAMP]


def _issue(small: SmallVault, *copies: int, why: IssueReason | None = None, reference: str = LAMP) -> None:
    """Sign that copies were printed of the newest version, without drawing them."""
    seen = small.seen(reference)
    small.sign("I01", Kind.LABEL_ISSUE, LabelIssue(time_s=NOW_S, medium="60x40", why=why, labels=tuple(
        IssuedLabel(tag=to_bytes(seen.tag), record_digest=seen.statement.digest[:8], copy=copy, carries_settings=True)
        for copy in copies)))


def _current(held: LabelList) -> list[int]:
    return [copy.copy for copy in held.copies if copy.current]


def _rules(small: SmallVault) -> list[str]:
    return [finding.rule for finding in small.seen(LAMP).findings if finding.rule.startswith("label-")]


def test_a_list_says_what_was_printed_when_and_by_whom(small: SmallVault, lamp: str) -> None:
    """Copy, version, reason, signer and time."""
    _issue(small, 1, why=IssueReason.FIRST)
    [copy] = label_list(small.open(), lamp).copies
    assert (copy.copy, copy.version, copy.why, copy.signer, copy.printed_s) == (1, 1, "first", "I01", NOW_S)
    assert (copy.state, copy.current, copy.elsewhere) == (State.ISSUED, True, None)


@pytest.mark.parametrize(("why", "current", "states"), [
    (IssueReason.REPRINT, [1, 2], [State.ISSUED, State.ISSUED]),
    (IssueReason.REPLACEMENT, [2], [State.REPLACED, State.ISSUED]),
    (None, [1, 2], [State.ISSUED, State.ISSUED]),
])
def test_a_reprint_stands_beside_and_a_replacement_in_place(
        small: SmallVault, lamp: str, why: IssueReason | None, current: list[int], states: list[State]) -> None:
    """What nobody said why of is taken for a copy beside the others."""
    _issue(small, 1, why=IssueReason.FIRST)
    _issue(small, 2, why=why)
    held = label_list(small.open(), lamp)
    assert (_current(held), [copy.state for copy in held.copies]) == (current, states)


def test_a_change_of_settings_makes_the_label_on_the_housing_old(small: SmallVault, lamp: str) -> None:
    """It is no longer current, and `show` notes it until the new one is placed."""
    _issue(small, 1)
    placed(small.desk("T01"), lamp)
    assert _rules(small) == []
    revise(small.desk("I01"), lamp, changes={"channels.1.current_ma": "650"})
    assert (_current(label_list(small.open(), lamp)), _rules(small)) == ([], ["label-outdated"])
    _issue(small, 2)
    placed(small.desk("T01"), lamp)
    assert (_current(label_list(small.open(), lamp)), _rules(small)) == ([2], [])


def test_a_change_that_no_driver_feels_leaves_the_label_current(small: SmallVault, lamp: str) -> None:
    """The luminaire hangs elsewhere with the same settings."""
    _issue(small, 1)
    move(small.desk("I01"), lamp, place="Attic", line=None, circuit=None, address=None)
    assert _current(label_list(small.open(), lamp)) == [1]


def test_a_label_found_elsewhere_is_a_finding_until_it_is_withdrawn(small: SmallVault, lamp: str) -> None:
    """Two current labels in two places; the one in the store room is taken off."""
    _issue(small, 1, 2)
    placed(small.desk("T01"), lamp, 1)
    found = sight_label(small.desk("T01"), lamp, "Store  room", 2, on_housing=None)
    assert [finding.rule for finding in found.findings] == ["label-two-places", "label-elsewhere"] == _rules(small)
    assert [copy.elsewhere for copy in found.copies] == [None, "Store room"]
    assert withdraw_label(small.desk("T01"), lamp, [2], "was on the wrong housing") == (2,)
    held = label_list(small.open(), lamp)
    assert (held.findings, held.copies[1].because, _current(held)) == ((), "was on the wrong housing", [1])


def test_a_label_found_elsewhere_may_be_right_and_the_record_wrong(small: SmallVault, lamp: str) -> None:
    """Signing the move ends the finding."""
    _issue(small, 1)
    assert len(sight_label(small.desk("T01"), lamp, "Attic", 1).findings) == 1
    move(small.desk("I01"), lamp, place="attic", line=None, circuit=None, address=None)
    assert _rules(small) == []


def test_a_label_without_its_number_may_be_any_copy(small: SmallVault, lamp: str) -> None:
    """Seeing one on its housing leaves the other."""
    _issue(small, 1, 2)
    assert [copy.elsewhere for copy in sight_label(small.desk("T01"), lamp, "Attic", None).copies] == [None, None]
    placed(small.desk("T01"), lamp, 2)
    assert [copy.elsewhere for copy in label_list(small.open(), lamp).copies] == ["Attic", None]


def test_a_label_nobody_printed_is_found(small: SmallVault, lamp: str) -> None:
    """The tag is known, but the vault issued no copy."""
    found = sight_label(small.desk("T01"), lamp, "Attic", None)
    assert found.copies == () and "issued no copy" in found.findings[0].says


def test_a_label_seen_on_its_housing_again_is_signed_again(small: SmallVault, lamp: str) -> None:
    """Placing it once more ends the finding; a third time there is nothing to say."""
    _issue(small, 1)
    placed(small.desk("T01"), lamp)
    sight_label(small.desk("T01"), lamp, "Attic", 1)
    before, later = small.sizes()[0], small.desk("T01")
    later.now_s = lambda: NOW_S + 60
    placed(later, lamp)
    placed(later, lamp)
    assert (small.sizes()[0], _rules(small)) == (before + 1, [])


def test_a_withdrawn_label_that_turns_up_can_be_withdrawn_once_more(small: SmallVault, lamp: str) -> None:
    """It never counts again."""
    _issue(small, 1)
    withdraw_label(small.desk("I01"), lamp, None, "torn")
    assert len(sight_label(small.desk("T01"), lamp, "Attic", 1).findings) == 1
    withdraw_label(small.desk("I01"), lamp, [1], "burnt this time")
    held = label_list(small.open(), lamp)
    assert (held.findings, held.copies[0].state, held.copies[0].because) == ((), State.WITHDRAWN, "burnt this time")


def test_without_numbers_every_standing_copy_is_withdrawn(small: SmallVault, lamp: str) -> None:
    """The replaced one too, but not what was withdrawn before."""
    _issue(small, 1)
    _issue(small, 2, why=IssueReason.REPLACEMENT)
    _issue(small, 3)
    withdraw_label(small.desk("I01"), lamp, [3], "torn")
    assert withdraw_label(small.desk("I01"), lamp, None, "housing replaced") == (1, 2)


def test_retiring_withdraws_replaced_copies_too(small: SmallVault, lamp: str) -> None:
    """All labels of a luminaire that is gone."""
    _issue(small, 1)
    _issue(small, 2, why=IssueReason.REPLACEMENT)
    retire(small.desk("I01"), lamp, because="taken down")
    assert [copy.state for copy in label_list(small.open(), lamp).copies] == [State.WITHDRAWN] * 2


@pytest.mark.parametrize(("act", "kind"), [
    (lambda small, tag: withdraw_label(small.desk("I01"), tag, [3], "torn"), "no-label"),
    (lambda small, tag: withdraw_label(small.desk("I01"), tag, [2, 1], "torn"), "withdrawn"),
    (lambda small, tag: withdraw_label(small.desk("I01"), tag, [2], "x" * 61), "bad-payload"),
    (lambda small, tag: withdraw_label(small.desk("S01"), tag, [2], "torn"), "wrong-role"),
    (lambda small, tag: withdraw_label(small.desk(), tag, [2], "torn"), "no-key"),
    (lambda small, _tag: withdraw_label(small.desk("I01"), small.tags["CH-001"], None, "torn"), "no-label"),
    (lambda small, tag: sight_label(small.desk("T01"), tag, "Attic", 3), "no-label"),
    (lambda small, tag: sight_label(small.desk("T01"), tag, small.seen(LAMP).record.place.upper(), 2), "same-place"),
    (lambda small, tag: sight_label(small.desk("T01"), tag, "A" * 41, 2), "bad-payload"),
    (lambda small, tag: sight_label(small.desk("T01"), tag, " ", 2), "bad-payload"),
    (lambda small, tag: sight_label(small.desk("P01"), tag, "Attic", 2), "wrong-role"),
    (lambda small, _tag: sight_label(small.desk("T01"), "7K3D9QXW6", "Attic", None), "not-found"),
    (lambda small, tag: placed(small.desk("T01"), tag, 1), "not-current"),
    (lambda small, tag: placed(small.desk("T01"), tag, 3), "no-label"),
])
def test_what_cannot_be_signs_nothing(small: SmallVault, lamp: str, act: object, kind: str) -> None:
    """Copy 1 is withdrawn, copy 2 stands, there is no copy 3."""
    _issue(small, 1, 2)
    withdraw_label(small.desk("I01"), lamp, [1], "torn")
    before = small.sizes()
    with pytest.raises(GearkeepError) as caught:
        act(small, lamp)  # type: ignore[operator]
    assert (caught.value.kind, small.sizes()) == (kind, before)


def _sighting(tag: bytes, copy: int | None) -> LabelSighting:
    return LabelSighting(time_s=NOW_S, labels=(SeenLabel(tag=tag, place="Attic", copy=copy),))


@pytest.mark.parametrize(("tag", "copy"), [(b"\0" * 5, None), (None, 2)])
def test_the_chain_refuses_what_the_journal_does_not_know(small: SmallVault, lamp: str, tag: bytes | None,
                                                         copy: int | None) -> None:
    """A sighting of an unknown tag, or of a copy never issued, whoever signs it."""
    _issue(small, 1)
    with pytest.raises(GearkeepError) as caught:
        small.sign("T01", Kind.LABEL_SIGHTING, _sighting(tag or to_bytes(lamp), copy))
    assert caught.value.kind == "bad-chain"


def test_placed_past_the_actions_does_not_bring_a_label_back(small: SmallVault, lamp: str) -> None:
    """The journal takes the statement, for somebody saw the label; it counts no more all the same."""
    _issue(small, 1)
    withdraw_label(small.desk("I01"), lamp, None, "torn")
    small.sign("T01", Kind.LABEL_PLACED, LabelPlaced(time_s=NOW_S, labels=(LabelCopy(tag=to_bytes(lamp), copy=1),)))
    assert _current(label_list(small.open(), lamp)) == []


def _faults(small: SmallVault) -> Sequence[object]:
    with small.open().reading() as session:
        return run_audit(session).faults


def test_the_audit_holds_the_index_against_the_whole_life(small: SmallVault, lamp: str) -> None:
    """Issued, replaced, placed, found and withdrawn: no fault."""
    _issue(small, 1, why=IssueReason.FIRST)
    _issue(small, 2, why=IssueReason.REPLACEMENT)
    placed(small.desk("T01"), lamp)
    sight_label(small.desk("T01"), lamp, "Attic", None)
    withdraw_label(small.desk("I01"), lamp, [1], "found in the attic")
    assert _faults(small) == ()
