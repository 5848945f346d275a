"""Handover: what is signed, what is rejected and why, and that nothing is signed twice."""

from __future__ import annotations

from pathlib import Path

import pytest
from small_vault import FAULTS, FAULTY, GOOD, HEADING, SmallVault, readback, rows_of, write_rows

from vault.actions.changes import retire
from vault.actions.handover import hand_over
from vault.actions.handover_reading import write_back
from vault.actions.handover_result import HandoverResult
from vault.actions.swap import swap
from vault.db import queries
from vault.domain.record import ChangeClass, Reason
from vault.errors import GearkeepError, VerificationError
from vault.exchange.schedule_mapping import ScheduleMapping

EQUIVALENT = ChangeClass.APPROVED_EQUIVALENT

RIGHT = {fault["wrong"]: fault["right"] for fault in FAULTS.values()}


def _change(row: str, old: str, new: str) -> str:
    assert row.count(old) == 1
    return row.replace(old, new)


def _counts(result: HandoverResult) -> dict[str, int]:
    changes = [one.change for one in result.accepted]
    return {change: changes.count(change) for change in set(changes)}


def _feed(small: SmallVault, rows: list[str], **options: bool) -> HandoverResult:
    return hand_over(small.desk("I01"), write_rows(small.folder / "fed.csv", rows), **options)


def test_every_good_row_was_signed_once(small: SmallVault) -> None:
    """Each good luminaire has one record, version 1, for handover; the two rows of one luminaire make one record."""
    with small.open().reading() as session:
        rows = queries.head_rows(session)
    assert sorted(row.reference for row in rows) == sorted(GOOD)
    assert {(row.version, row.reason) for row in rows} == {(1, Reason.HANDOVER)}
    assert len(small.seen("ST-N1").record.gears) == 2


@pytest.mark.parametrize(
    ("reference", "column", "value", "allowed"),
    [
        ("CH-005", "current_ma", "1050", "at most 700 mA"),
        ("CO-004", "address", "26", "each address once"),
        ("FO-006", "type", "T11", "T1, T2, T3, T4, T5, T6, T7, T8, T9"),
        ("PH-011", "current_ma", "nine hundred", "a whole number 1 to 20000 mA"),
        ("PH-027", "voltage_max_v", "30.0 to 38.0", "32.6 to 41.6 V"),
        ("CA-009", "address", "64", "0 to 63, or not set"),
        ("ER-007", "emergency_mode", "maintained", "non-maintained"),
    ],
)  # figures of demo/types.toml, demo/lines.toml and demo/faults.toml
def test_a_bad_row_names_row_column_value_and_what_is_allowed(
        small: SmallVault, reference: str, column: str, value: str, allowed: str) -> None:
    """The first thing wrong with each faulty row, in the row's own words, where a spreadsheet would show it."""
    result = _feed(small, rows_of(*FAULTY))
    of_row = [bad for bad in result.rejected if bad.row == 2 + FAULTY.index(reference)]
    assert (of_row[0].column, of_row[0].value, of_row[0].allowed) == (column, value, allowed)
    assert reference not in [one.reference for one in result.accepted]


def test_good_rows_among_bad_ones_are_signed(small: SmallVault) -> None:
    """A bad row holds up no other: of the eight, the one whose address came first is signed."""
    before = small.sizes()[0]
    assert [one.reference for one in _feed(small, rows_of(*FAULTY)).accepted] == ["CO-003"]
    assert small.sizes()[0] == before + 1


def test_the_same_file_twice_adds_nothing(small: SmallVault) -> None:
    """Fed again, every row is unchanged and the journal has not grown."""
    before = small.sizes()
    result = hand_over(small.desk("I01"), small.folder / "schedule.csv")
    assert (_counts(result), result.rejected, small.sizes()) == ({"unchanged": len(GOOD)}, (), before)


def test_after_a_swap_the_same_file_still_adds_nothing(small: SmallVault) -> None:
    """The schedule does not know of the new driver and does not take it back."""
    swap(small.desk("T01"), small.tags["CH-007"], change_class=EQUIVALENT, spare="GEN-50-1050", serial="G1", readback=readback())
    before = small.sizes()
    result = hand_over(small.desk("I01"), small.folder / "schedule.csv")
    assert (_counts(result), small.sizes()) == ({"unchanged": len(GOOD)}, before)
    assert small.seen("CH-007").record.gears[0].serial == "G1"


def test_a_list_of_what_hangs_there_adds_nothing(small: SmallVault) -> None:
    """A row that says what the newest version says, as our own as-built table does, is no change, though a swap came between."""
    swap(small.desk("T01"), small.tags["CH-007"], change_class=EQUIVALENT, spare="GEN-50-1050", serial="G1", readback=readback())
    now = _change(rows_of("CH-007")[0], "CC-40-700,MB24050", "GEN-50-1050,G1")
    before = small.sizes()
    assert (_counts(_feed(small, [now])), small.sizes()) == ({"unchanged": 1}, before)


@pytest.mark.parametrize(("old", "new"), [("Changing room women, row 7", "Changing room women, row 70"), (",700,", ",600,")])
def test_a_changed_row_never_undoes_a_swap(small: SmallVault, old: str, new: str) -> None:
    """A row that differs from what was handed over is refused once somebody changed the luminaire since."""
    swap(small.desk("T01"), small.tags["CH-007"], change_class=EQUIVALENT, spare="GEN-50-1050", serial="G1", readback=readback())
    before = small.sizes()
    result = _feed(small, [_change(rows_of("CH-007")[0], old, new)])
    assert ([one.column for one in result.rejected], small.sizes()) == (["reference"], before)


def test_a_revision_says_what_it_changes(small: SmallVault) -> None:
    """A changed row lists each field with its value before and after, in a preview too."""
    row = _change(rows_of("CH-007")[0], ",700,", ",650,")
    assert _feed(small, [row], preview=True).accepted[0].changes == (("general.channels.1.current_ma", 700, 650),)


def test_a_corrected_rejected_file_adds_just_the_corrected(small: SmallVault) -> None:
    """The file of rejected rows, one of them corrected, signs that one; the other is rejected again."""
    result = _feed(small, rows_of("CH-001", "CH-005", "PH-011"))
    rejected = small.folder / "rejected.csv"
    assert write_back(rejected, result.translation, result)
    rejected.write_text(_change(rejected.read_text(encoding="utf-8-sig"), '"1050"', f"\"{RIGHT[FAULTS[6]['wrong']]}\""),
                        encoding="utf-8")
    again = hand_over(small.desk("I01"), rejected)
    assert [(one.reference, one.change) for one in again.accepted] == [("CH-005", "new")]
    assert [(bad.row, bad.column) for bad in again.rejected] == [(3, "current_ma")]


def test_a_changed_row_revises_its_luminaire(small: SmallVault) -> None:
    """Same reference, other current: version 2 of the same tag, for correction, following version 1."""
    first = small.seen("CH-001").statement
    result = _feed(small, [_change(rows_of("CH-001")[0], ",700,", ",600,")])
    seen = small.seen("CH-001")
    assert [(one.tag, one.version, one.change) for one in result.accepted] == [(small.tags["CH-001"], 2, "revised")]
    assert (seen.record.reason, seen.record.predecessors) == (Reason.CORRECTION, first.digest[:16])
    assert seen.record.gears[0].settings.channels[0].current_ma == 600


@pytest.mark.parametrize("code", ["I01", None])
def test_preview_signs_nothing_and_needs_no_key(small: SmallVault, code: str | None) -> None:
    """Everything is checked and told; the journal stays as it was."""
    before = small.sizes()
    rows = [*rows_of("CO-003", "CH-005"), _change(rows_of("CH-001")[0], ",700,", ",600,")]
    result = hand_over(small.desk(code), write_rows(small.folder / "fed.csv", rows), preview=True)
    assert {(one.reference, one.change) for one in result.accepted} == {("CH-001", "revised"), ("CO-003", "new")}
    assert {bad.row for bad in result.rejected} == {2} and small.sizes() == before


@pytest.mark.parametrize(
    ("taken", "old", "new", "column"),
    [
        ("CO-003", "dali,26,", "dali,6,", "address"),  # CH-007 has 6 on D1
        ("CB2-01", "CB2,1", "CB1,1", "central_address"),  # CB1-01 has 1 on CB1
    ],
)
def test_an_address_that_the_vault_knows_is_not_given_twice(
        small: SmallVault, taken: str, old: str, new: str, column: str) -> None:
    """The address of a luminaire that the file does not speak of is taken all the same."""
    result = _feed(small, [_change(rows_of(taken)[0], old, new)])
    assert [bad.column for bad in result.rejected] == [column] and result.accepted == ()


def test_a_retired_luminaires_address_is_free(small: SmallVault) -> None:
    """What is gone for good occupies nothing."""
    retire(small.desk("I01"), small.tags["CH-007"], because="taken down")
    result = _feed(small, [_change(rows_of("CO-003")[0], "dali,26,", "dali,6,")])
    assert [one.change for one in result.accepted] == ["new"]


def test_a_retired_luminaires_reference_is_not_used_again(small: SmallVault) -> None:
    """A changed row with the reference of a retired luminaire is rejected."""
    retire(small.desk("I01"), small.tags["CH-007"], because="taken down")
    result = _feed(small, [_change(rows_of("CH-007")[0], ",700,", ",600,")])
    assert [bad.column for bad in result.rejected] == ["reference"] and result.accepted == ()


def test_provisional_signs_with_its_stops_open(small: SmallVault) -> None:
    """A luminaire with stops is signed when asked for so, and says which stops a second signer must accept."""
    result = _feed(small, rows_of("CH-005"), allow_open=True)
    assert [(one.reference, one.provisional) for one in result.accepted] == [("CH-005", True)] and not result.rejected
    with small.open().reading() as session:
        row = queries.versions_of(session, result.accepted[0].tag)[0]
    assert set((row.open_stops or "").split()) == {"current-permitted", "current-tolerance", "power"}


def test_what_cannot_be_read_is_not_signed_as_provisional(small: SmallVault) -> None:
    """Provisional lets stops pass, not cells that say nothing."""
    result = _feed(small, rows_of("PH-011", "FO-006"), allow_open=True)
    assert result.accepted == () and {bad.column for bad in result.rejected} == {"current_ma", "type"}


def test_a_mapped_heading_is_read(small: SmallVault) -> None:
    """A file with a heading of its own is read through a mapping."""
    path = write_rows(small.folder / "fed.csv", rows_of("CO-003"), _change(HEADING, ",place,", ",where it hangs,"))
    result = hand_over(small.desk("I01"), path, mapping=ScheduleMapping(
        columns={"where it hangs": "place", "gear": "gear"}))
    assert [one.change for one in result.accepted] == ["new"]


@pytest.mark.parametrize("code", ["S01", "P01", "authority"])
def test_only_who_may_sign_records_hands_over(small: SmallVault, code: str) -> None:
    """Stores, approver and authority sign no record, and nothing is left behind of their try."""
    before = small.sizes()
    with pytest.raises(VerificationError) as caught:
        hand_over(small.desk(code), write_rows(small.folder / "fed.csv", rows_of("CO-003")))
    assert caught.value.kind == "wrong-role" and small.sizes() == before


@pytest.mark.parametrize("content", [b"", b"\xff\xfe\x00", b"reference,colour\nA,B\n"])
def test_a_file_that_is_no_schedule_signs_nothing(small: SmallVault, content: bytes) -> None:
    """An empty file, other bytes and unknown headings are refused whole."""
    path: Path = small.folder / "fed.csv"
    path.write_bytes(content)
    before = small.sizes()
    with pytest.raises(GearkeepError):
        hand_over(small.desk("I01"), path)
    assert small.sizes() == before
