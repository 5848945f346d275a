"""Two fittings, one label: what is refused until somebody settles where the label belongs."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from small_vault import NOW_S, SmallVault, readback
from sqlalchemy import update

from vault.actions.changes import move, placed, retire, revise
from vault.actions.finding_luminaires import Asked, find
from vault.actions.fitting import fit
from vault.actions.labelling import Wanted, print_labels
from vault.actions.labels_life import label_list, sight_label, withdraw_label
from vault.actions.reissue import reissue
from vault.actions.sticker import sticker_of
from vault.actions.swap import prepare, swap
from vault.db import tables
from vault.db.audit import run_audit
from vault.domain.tag import to_bytes
from vault.errors import GearkeepError
from vault.trust.statements import IssuedLabel, IssueReason, Kind, LabelIssue

LAMP, OTHER = "CH-007", "CH-008"
THERE, FREE, STORE = "Changing room women, row 8", "Changing room women, row 12", "Store room"


def _issue(small: SmallVault, *copies: int, reference: str = LAMP, why: IssueReason | None = None) -> None:
    seen = small.seen(reference)
    small.sign("I01", Kind.LABEL_ISSUE, LabelIssue(time_s=NOW_S, medium="60x40", why=why, labels=tuple(
        IssuedLabel(tag=to_bytes(seen.tag), record_digest=seen.statement.digest[:8], copy=copy, carries_settings=True)
        for copy in copies)))


def _frozen(small: SmallVault, *references: str) -> list[list[str]]:
    return [[finding.rule for finding in small.seen(reference).frozen] for reference in references or (LAMP, OTHER)]


def _found(small: SmallVault, place: str, copy: int | None = 2, type_code: str | None = None,
           on_housing: bool | None = None) -> None:
    sight_label(small.desk("T01"), small.tags[LAMP], place, copy, type_code, on_housing=on_housing)


@pytest.fixture
def two(small_on: SmallVault) -> SmallVault:
    """Copy 1 hangs on CH-007, copy 2 was printed and hung nowhere yet."""
    _issue(small_on, 1, 2)
    placed(small_on.desk("T01"), small_on.tags[LAMP], 1)
    return small_on


@pytest.mark.parametrize(("place", "type_code", "on_housing", "own", "other"), [
    (THERE, None, None, ["label-housing"], ["label-of-another"]),
    (THERE.upper(), None, True, ["label-housing"], ["label-of-another"]),
    (THERE, "T2", True, ["label-housing"], ["label-of-another"]), (THERE, None, False, [], []),
    (STORE, None, None, [], []), (STORE, None, False, [], []), (FREE, None, True, ["label-housing"], []),
    (FREE, "T1", True, ["label-housing"], []), ("changing room women, row 7", "T2", True, ["label-type"], []),
])
def test_who_is_frozen(two: SmallVault, place: str, type_code: str | None, on_housing: bool | None, own: list[str],
                       other: list[str]) -> None:
    """The label's own luminaire, and the one recorded where it was found; nobody for a spare in the store."""
    _found(two, place, 2, type_code, on_housing)
    assert _frozen(two) == [own, other]


ACTS: dict[str, Callable[[SmallVault, str, Path], object]] = {
    "label": lambda small, tag, out: print_labels(small.desk("T01"), Wanted(texts=[tag]), out=out),
    "reissue": lambda small, tag, out: reissue(small.desk("T01"), tag, "gone", out=out),
    "sticker": lambda small, tag, _out: sticker_of(small.desk("T01"), tag),
    "fit": lambda small, tag, _out: fit(small.desk("T01"), tag),
    "prepare": lambda small, tag, _out: prepare(small.desk("T01"), tag, spare="GEN-50-1050"),
    "swap": lambda small, tag, _out: swap(small.desk("T01"), tag, spare="GEN-50-1050", serial="88213", readback=readback()),
    "revise": lambda small, tag, _out: revise(small.desk("I01"), tag, changes={"channels.1.current_ma": "650"}),
}


@pytest.mark.parametrize("name", list(ACTS))
@pytest.mark.parametrize("reference", [LAMP, OTHER])
def test_what_is_refused(small: SmallVault, tmp_path: Path, name: str, reference: str) -> None:
    """Both luminaires; nothing is signed, no file is written, and the refusal names the finding and the ways out."""
    _issue(small, 1, 2)
    _found(small, THERE)
    before, out = small.sizes(), tmp_path / "label.png"
    with pytest.raises(GearkeepError) as caught:
        ACTS[name](small, small.tags[reference], out)
    assert (caught.value.kind, small.sizes(), out.exists()) == ("frozen", before, False)
    assert "was found at Changing room women, row 8" in caught.value.what
    assert f"true of {small.tags[LAMP]}" in (caught.value.hint or "")


def test_what_still_works(small: SmallVault) -> None:
    """Showing, listing and finding; each says that it is frozen."""
    _issue(small, 1, 2)
    _found(small, THERE)
    [one] = find(small.open(), Asked(text=OTHER)).found
    assert one.states == ("frozen",) and small.seen(OTHER).frozen
    assert label_list(small.open(), small.tags[OTHER]).frozen and label_list(small.open(), small.tags[LAMP]).frozen


WAYS_OUT: dict[str, Callable[[SmallVault, str], object]] = {
    "withdrawn": lambda small, tag: withdraw_label(small.desk("T01"), tag, [2], "taken off"),
    "placed": lambda small, tag: placed(small.desk("T01"), tag, 2),
    "loose": lambda small, tag: sight_label(small.desk("T01"), tag, THERE, 2, on_housing=False),
    "elsewhere": lambda small, tag: sight_label(small.desk("T01"), tag, "Drawer", 2, on_housing=False),
    "right place": lambda small, tag: sight_label(small.desk("T01"), tag, small.seen(LAMP).record.place, 2),
    "moved": lambda small, tag: move(small.desk("I01"), tag, place=THERE, line=None, circuit=None, address=None),
    "retired": lambda small, tag: retire(small.desk("I01"), tag, because="taken down"),
}


@pytest.mark.parametrize("way", list(WAYS_OUT))
def test_the_ways_out(two: SmallVault, way: str) -> None:
    """Each ends the freeze of both luminaires, and the journal stays good."""
    _found(two, THERE)
    WAYS_OUT[way](two, two.tags[LAMP])
    assert _frozen(two) == [[], []]
    with two.open().reading() as session:
        assert run_audit(session).faults == ()


def test_the_other_luminaire_may_have_been_moved(two: SmallVault) -> None:
    """Then it is free; the label's own luminaire is not, for its spare label hangs in a place that nobody knows."""
    _found(two, THERE, on_housing=True)
    move(two.desk("I01"), two.tags[OTHER], place="Attic", line=None, circuit=None, address=None)
    assert _frozen(two) == [["label-housing"], []]


@pytest.mark.parametrize(("copy", "place", "frozen"), [(1, STORE, True), (1, "Drawer", True), (2, STORE, False)])
def test_a_label_that_came_off(two: SmallVault, copy: int, place: str, frozen: bool) -> None:
    """The copy that hung on the housing is elsewhere: the luminaire was moved, or its label came off. A spare was not."""
    _found(two, place, copy)
    assert bool(small_frozen(two)) is frozen


def small_frozen(small: SmallVault) -> list[str]:
    """The rules that freeze the lamp."""
    [rules] = _frozen(small, LAMP)
    return rules


def test_an_old_label_in_a_drawer_freezes_nothing(two: SmallVault) -> None:
    """Withdrawn, and found in a drawer afterwards."""
    withdraw_label(two.desk("T01"), two.tags[LAMP], [1], "torn, taken off")
    _found(two, "Drawer", 1)
    assert small_frozen(two) == []


def test_a_label_never_printed_here_can_be_settled(small: SmallVault) -> None:
    """The vault issued no copy that could be withdrawn; looking again settles it."""
    _found(small, "changing room women, row 7", None, "T2", True)
    assert _frozen(small) == [["label-type"], []]
    _found(small, "changing room women, row 7", None, "T1", True)
    assert _frozen(small) == [[], []]


def test_of_several_in_one_place_each_is_told(two: SmallVault) -> None:
    """Nobody knows which of them bears the label: a care for each, and the label's own luminaire is frozen."""
    move(two.desk("I01"), two.tags["CH-009"], place=THERE, line=None, circuit=None, address=None)
    _found(two, THERE)
    assert _frozen(two, LAMP, OTHER, "CH-009") == [["label-housing"], [], []]
    told = [[finding.rule for finding in two.seen(one).findings if finding.rule == "label-near"] for one in (OTHER, "CH-009")]
    assert told == [["label-near"], ["label-near"]]


@pytest.mark.parametrize(("place", "type_code", "on_housing", "kind"), [
    ("changing room women, row 7", None, None, "same-place"), ("changing room women, row 7", "T1", True, "same-place"),
    (STORE, "T1", False, "bad-search"), (STORE, "T" * 13, True, "bad-payload")])
def test_what_is_no_sighting(two: SmallVault, place: str, type_code: str | None, on_housing: bool | None, kind: str) -> None:
    """A label where it belongs; a loose one on a housing of some type."""
    before = two.sizes()
    with pytest.raises(GearkeepError) as caught:
        _found(two, place, 2, type_code, on_housing)
    assert (caught.value.kind, two.sizes()) == (kind, before)


def test_an_index_that_hides_where_it_was_seen_is_refused(small: SmallVault) -> None:
    """What is signed of a sighting is read, not what the index says."""
    _issue(small, 1, 2)
    _found(small, THERE)
    with small.open().writing() as session:
        session.connection.execute(update(tables.label_event).where(tables.label_event.c.event == "sighted").values(place=FREE))
    with pytest.raises(GearkeepError) as caught:
        small.seen(LAMP)
    assert caught.value.kind == "bad-index"


def test_a_reissue_withdraws_and_prints_in_one_act(two: SmallVault, tmp_path: Path) -> None:
    """Both copies that stood are withdrawn, the new one counts."""
    done = reissue(two.desk("T01"), two.tags[LAMP], "label gone", out=tmp_path / "label.png")
    held = label_list(two.open(), two.tags[LAMP])
    assert (done.withdrawn, done.copy, done.printed.replaced) == ((1, 2), 3, (two.tags[LAMP],))
    assert [(copy.state.value, copy.current, copy.because) for copy in held.copies] == [
        ("withdrawn", False, "label gone"), ("withdrawn", False, "label gone"), ("issued", True, None)]
    assert (tmp_path / "label.png").is_file() and held.findings == ()


def test_a_reissue_of_a_label_never_printed_is_the_first(small: SmallVault, tmp_path: Path) -> None:
    """There is nothing to withdraw."""
    done = reissue(small.desk("T01"), small.tags[LAMP], "never arrived", out=tmp_path / "label.png")
    assert (done.withdrawn, done.copy) == ((), 1)
    assert label_list(small.open(), small.tags[LAMP]).copies[0].why == "first"


@pytest.mark.parametrize(("out", "because", "kind"), [
    ("no-such-folder/label.png", "gone", None), ("label.txt", "gone", "bad-format"), ("label.png", "x" * 61, "bad-payload")])
def test_a_reissue_that_fails_withdraws_nothing(two: SmallVault, tmp_path: Path, out: str, because: str,
                                                kind: str | None) -> None:
    """The file cannot be written, or the reason is too long."""
    before = two.sizes()
    with pytest.raises(Exception) as caught:  # drawing has an error class of its own
        reissue(two.desk("T01"), two.tags[LAMP], because, out=tmp_path / out)
    assert two.sizes() == before and kind in (None, getattr(caught.value, "kind", None))
    assert not list(tmp_path.glob("**/label.*"))
