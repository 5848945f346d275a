"""A handover of many rows: what is read once, judged once and asked for at once gives what row by row gives."""

from __future__ import annotations

import csv
import io
import sys
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from small_vault import DEMO, FAULTY, GOOD, HEADING, ROWS, SmallVault, rows_of, write_rows
from stored import ask, rows, tamper

sys.path.append(str(Path(__file__).resolve().parents[1] / "domain"))

from any_settings import LINES, gear_strategy

from vault.actions.handover import hand_over
from vault.actions.handover_addresses import AddressBook
from vault.actions.handover_result import HandoverResult
from vault.db.audit import run_audit
from vault.db.heads import heads_near
from vault.domain.addresses import AddressUse, check_addresses
from vault.domain.grouped_checks import GroupedChecks
from vault.domain.limits import check_gears
from vault.domain.rating import Rating
from vault.domain.record import Reason, Record
from vault.domain.settings import Control, Gear, Protocol
from vault.domain.site import Circuit, Line, LineKind
from vault.errors import VerificationError
from vault.exchange.catalogue import read_circuits, read_lines, read_types
from vault.exchange.schedule import read_schedule
from vault.exchange.schedule_headings import names_of
from vault.exchange.schedule_reader import Reader
from vault.trust.statements import Kind

RATINGS: Mapping[str, Rating] = {rating.code: rating for rating in read_types(DEMO / "types.toml")}
DEMO_LINES: Mapping[str, Line] = {line.name: line for line in read_lines(DEMO / "lines.toml")}
CIRCUITS: Mapping[str, Circuit] = {one.name: one for one in read_circuits(DEMO / "circuits.toml")}
CELLS = [dict(zip(HEADING.split(","), row, strict=True)) for row in csv.reader(ROWS)]


def _row(of: str, /, **cells: str) -> str:
    """The demo's row with some other cells."""
    found = next(row for row in CELLS if row["reference"] == of)
    out = io.StringIO()
    csv.writer(out, lineterminator="").writerow((found | cells).values())
    return out.getvalue()


def _feed(small: SmallVault, fed: list[str], **options: bool) -> HandoverResult:
    return hand_over(small.desk("I01"), write_rows(small.folder / "fed.csv", fed), **options)


# What a row may say in the cells that are read anew for each, good and bad.
OWN = st.fixed_dictionaries({}, optional={
    "reference": st.sampled_from(["", "A-1", "x" * 25, "Ä"]), "place": st.sampled_from(["", "Hall", "y" * 41, "Café"]),
    "line": st.sampled_from(["", "D1", "D2", "D9"]), "circuit": st.sampled_from(["", "L1", "L77"]),
    "serial": st.sampled_from(["", "S1", "not set", "Not_Set", "z" * 25, "№ 7"]),
    "address": st.sampled_from(["", "0", "1", "63", "64", "064", "not set", "#", "5.0", "٣", "-1", "1000"]),
    "central_address": st.sampled_from(["", "1", "255", "256", "0", "not set", "#", "007"]),
})


@given(st.lists(st.tuples(st.sampled_from(CELLS), OWN), min_size=1, max_size=12))
def test_a_copied_row_is_what_reading_it_gives(fed: list[tuple[dict[str, str], dict[str, str]]]) -> None:
    """The demo's rows with any cells of their own: the same gear or the same complaints, whatever rows came before."""
    headings = HEADING.split(",")
    names = names_of(headings, {}, set())
    reader = Reader(names, ratings=RATINGS, lines=DEMO_LINES, circuits=CIRCUITS)
    for cells, own in fed:
        row = tuple((cells | own)[name] for name in headings)
        values = reader.values(row)
        assert reader.row(values) == reader.slow_row(reader.cells(values))


@pytest.mark.parametrize("order", [1, -1])
def test_the_demo_schedule_is_read_the_same_in_any_order(tmp_path: Path, order: int) -> None:
    """Each luminaire of the demo's schedule, read among all others, is what its own rows alone give."""
    whole = read_schedule(write_rows(tmp_path / "all.csv", ROWS[::order]), ratings=RATINGS, lines=DEMO_LINES, circuits=CIRCUITS)
    for luminaire in whole.luminaires:
        alone = read_schedule(write_rows(tmp_path / "one.csv", rows_of(luminaire.reference)[::order]), ratings=RATINGS,
                              lines=DEMO_LINES, circuits=CIRCUITS)
        assert [(one.gears, one.place, one.line, one.type_code) for one in alone.luminaires] == [
            (luminaire.gears, luminaire.place, luminaire.line, luminaire.type_code)]


PLACES = st.tuples(st.sampled_from(sorted(RATINGS)), LINES, st.none() | st.sampled_from(sorted(CIRCUITS)))


@given(gear_strategy(), st.lists(PLACES, min_size=1, max_size=3), st.integers(0, 63), st.integers(1, 255))
def test_what_is_judged_once_is_judged_right(gear: Gear, places: list[tuple[str, Line | None, str | None]], short: int,
                                             central: int) -> None:
    """Any settings, alone and twice, then at other addresses, of another model and serial number: the findings of each."""
    checks, moved = GroupedChecks(), _moved(gear, short, central)
    for code, line, circuit in places:
        place = {"line": line, "circuit": CIRCUITS.get(circuit or "")}
        for gears in ((gear,), (moved,), (gear, moved), (_moved(gear, 0, 1),), (gear,)):
            assert checks.findings(gears, RATINGS[code], **place) == check_gears(gears, RATINGS[code], **place)


def _moved(gear: Gear, short: int, central: int) -> Gear:
    control = gear.settings.control or Control(protocol=Protocol.DALI, min_level=1)
    control = replace(control, short_address=short, central_address=central)
    return replace(gear, model="OTHER", serial="OTHER", settings=replace(gear.settings, control=control))


USES = st.builds(
    AddressUse, tag_shown=st.sampled_from(["A", "B", "C", "D"]), where=st.sampled_from(["L0", "L1", "L2", "", "?"]),
    short_address=st.none() | st.integers(0, 8) | st.just(64), central_circuit=st.sampled_from([None, "C1", "C2"]),
    central_address=st.none() | st.integers(1, 4))
SITE = {"lines": {name: Line(name=name, revision=1, kind=LineKind.DALI, addresses_from=0, gear_max=most)
                  for name, most in (("L0", None), ("L1", 3), ("L2", 1))},
        "circuits": {"C1": Circuit(name="C1", revision=1, luminaires_max=2)}}


@given(st.lists(st.lists(USES, max_size=3), max_size=8))
def test_an_address_is_free_as_comparing_with_all_would_say(luminaires: list[list[AddressUse]]) -> None:
    """Luminaire after luminaire: what the book finds is what holding it against every other address in use finds."""
    book, everyone = AddressBook(**SITE), list[AddressUse]()
    for uses in luminaires:
        shared = [other for other in everyone if any(_one_place(use, other) for use in uses)]
        found = {(f.rule, f.says) for f in book.findings(uses)}
        assert found == {(f.rule, f.says) for f in check_addresses(uses, shared, **SITE)}
        book.remember(uses)
        everyone += uses


def _one_place(use: AddressUse, other: AddressUse) -> bool:
    line = use.short_address is not None and other.short_address is not None and use.where == other.where
    circuit = None not in (use.central_address, other.central_address) and use.central_circuit == other.central_circuit
    return line or circuit


@pytest.fixture
def many(tmp_path: Path) -> Path:
    """A schedule of 1,100 rows of one type without addresses."""
    rows = [_row("CH-001", reference=f"M-{number}", address="", serial=f"S{number}") for number in range(1100)]
    return write_rows(tmp_path / "many.csv", rows)


def test_many_rows_are_signed_by_other_processes(small: SmallVault, many: Path) -> None:
    """Enough rows for several lots: each is signed once, in the file's order, and the vault audits clean."""
    seen: list[tuple[int, int]] = []
    before = small.sizes()[0]
    result = hand_over(small.desk("I01"), many, progress=lambda done, total: seen.append((done, total)))
    assert [one.reference for one in result.accepted] == [f"M-{number}" for number in range(1100)]
    assert (seen[0], seen[-1], len(seen)) == ((1, 1100), (1100, 1100), 1100)
    assert small.sizes()[0] == before + 1100
    with small.open().reading() as session:
        assert run_audit(session).faults == ()


def test_a_bad_signer_leaves_nothing_of_many_rows(small: SmallVault, many: Path) -> None:
    """Stores sign no record: nothing of a large schedule is left behind."""
    before = small.sizes()
    with pytest.raises(VerificationError) as caught:
        hand_over(small.desk("S01"), many)
    assert (caught.value.kind, small.sizes()) == ("wrong-role", before)


def test_both_engines_answer_alike(small_on: SmallVault) -> None:
    """Good, faulty, changed and unchanged rows at once; then the same file again."""
    before = small_on.sizes()[0]
    fed = [*rows_of(*FAULTY), *rows_of(*GOOD[1:]), _row("CH-001", current_ma="650")]
    first, again = _feed(small_on, fed), _feed(small_on, fed)
    assert sorted({(one.reference, one.change) for one in first.accepted if one.change != "unchanged"}) == [
        ("CH-001", "revised"), ("CO-003", "new")]
    assert {one.change for one in again.accepted} == {"unchanged"} and small_on.sizes()[0] == before + 2
    assert [bad.row for bad in first.rejected] == [bad.row for bad in again.rejected]
    with small_on.open().reading() as session:
        assert run_audit(session).faults == ()


def test_a_few_rows_read_only_what_lies_beside_them(small_on: SmallVault) -> None:
    """A damaged record on another line holds nothing up; one on the row's own line is refused, as everywhere."""
    small_on.close()
    damaged = ask(small_on.address, "SELECT seq FROM record WHERE reference = 'CH-007'")[0][0]
    where = "WHERE log = 0 AND seq = :seq"
    signed = bytes(ask(small_on.address, f"SELECT signed FROM journal {where}", seq=damaged)[0][0])
    tamper(small_on.address, f"UPDATE journal SET signed = :signed {where}", seq=damaged,
           signed=signed[:-1] + bytes([signed[-1] ^ 1]))
    assert [one.change for one in _feed(small_on, [_row("PH-001", reference="N-1", address="60")]).accepted] == ["new"]
    with pytest.raises(VerificationError) as caught:
        _feed(small_on, [_row("CO-001", reference="N-2", address="61")])
    assert caught.value.kind == "bad-signature"


def test_a_channels_own_central_address_is_taken_too(small_on: SmallVault) -> None:
    """No index table holds it; a row that wants the same address on the circuit is rejected all the same."""
    seen = small_on.seen("CO-001")
    gear = seen.record.gears[0]
    own = Control(protocol=Protocol.NONE, central_circuit="CB2", central_address=9)
    settings = replace(gear.settings, channels=(replace(gear.settings.channels[0], control=own),))
    body: Record = replace(seen.record, version=2, predecessors=seen.statement.digest[:16], reason=Reason.SETTINGS_CHANGED,
                           gears=(replace(gear, settings=settings),))
    small_on.sign("I01", Kind.RECORD, body)
    result = _feed(small_on, [_row("CB1-02", reference="N-1", central_circuit="CB2", central_address="9")])
    assert [bad.column for bad in result.rejected] == ["central_address"]


def test_a_luminaire_whose_row_cannot_be_read_keeps_its_address(small: SmallVault) -> None:
    """The file names CH-007 in a row that says nothing; another row that wants its address is rejected."""
    result = _feed(small, [_row("CH-007", current_ma="much"), _row("CO-003", address="6")])
    assert [(bad.row, bad.column) for bad in result.rejected] == [(2, "current_ma"), (3, "address")]


def test_two_luminaires_of_one_file_swap_addresses(small: SmallVault) -> None:
    """What the file says of both counts, not what they had."""
    fed = [_row("CH-001", address="1"), _row("CH-002", address="0")]
    assert [one.change for one in _feed(small, fed).accepted] == ["revised", "revised"]


def test_heads_are_found_by_line_and_by_circuit(small_on: SmallVault) -> None:
    """Those on a line and those that name a circuit, each once, in the order of the journal."""
    with small_on.open().reading() as session:
        found = heads_near(session, lines=["D1"], central_circuits=["CB1", "CB2"])
    assert [row.seq for row in found] == sorted({row.seq for row in found})
    assert {row.reference for row in found} == {
        row["reference"] for row in CELLS if row["reference"] in GOOD and (row["line"] == "D1" or row["central_circuit"])}


def test_no_index_row_differs_from_what_an_audit_derives(small_on: SmallVault) -> None:
    """Every row that a bulk append wrote is the one that its statement stands for."""
    _feed(small_on, rows_of("CO-003", "CB1-02", "CH-010"))
    written = rows(small_on.address)
    with small_on.open().reading() as session:
        assert run_audit(session).faults == ()
    assert len(written["gear"]) == len(GOOD) + 1 + 3


