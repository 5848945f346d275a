"""Two versions side by side, and a newer rating."""

from __future__ import annotations

from dataclasses import replace

import pytest
from small_vault import DEMO, SmallVault, readback

from vault.actions.changes import approve, move, retire, revise
from vault.actions.labelling import Wanted, print_labels
from vault.actions.setup import load_catalogue
from vault.actions.swap import prepare, swap
from vault.domain.findings import Severity
from vault.domain.record import ChangeClass, Reason, Record
from vault.errors import GearkeepError, UsageProblem
from vault.trust.statements import Kind

EQUIVALENT = ChangeClass.APPROVED_EQUIVALENT


@pytest.fixture
def small(small_on: SmallVault) -> SmallVault:
    """The small vault, on each engine in turn."""
    return small_on


def _side(small: SmallVault, current_ma: int, note: str) -> Record:
    seen = small.seen("CH-007")
    gear = seen.record.gears[0]
    channel = replace(gear.settings.channels[0], current_ma=current_ma)
    return replace(seen.record, version=2, predecessors=seen.statement.digest[:16], reason=Reason.SETTINGS_CHANGED, note=note,
                   gears=(replace(gear, settings=replace(gear.settings, channels=(channel,))),))


@pytest.fixture
def differing(small: SmallVault) -> SmallVault:
    """CH-007 with two versions 2 that differ: 650 mA and 600 mA."""
    small.fork(_side(small, 650, "first van"), _side(small, 600, "second van"))
    return small


@pytest.fixture
def equal(small: SmallVault) -> SmallVault:
    """CH-007 with two versions 2 of equal settings."""
    small.fork(_side(small, 650, "first van"), _side(small, 650, "second van"))
    return small


ACTS = {
    "label": lambda small, tag: print_labels(small.desk("I01"), Wanted(texts=[tag]), out=small.folder / "label.png"),
    "swap": lambda small, tag: swap(small.desk("T01"), tag, change_class=EQUIVALENT,
             spare="GEN-50-1050", serial=None, readback=readback()),
    "prepare": lambda small, tag: prepare(small.desk(), tag, spare="GEN-50-1050"),
    "revise": lambda small, tag: revise(small.desk("I01"), tag, changes={"channels.1.current_ma": "640"}),
    "move": lambda small, tag: move(small.desk("I01"), tag, place="Attic", line=None, circuit=None, address=None),
    "retire": lambda small, tag: retire(small.desk("I01"), tag, because="enough"),
}


@pytest.mark.parametrize("act", ACTS.values(), ids=ACTS.keys())
def test_heads_that_differ_freeze_everything(differing: SmallVault, act: object) -> None:
    """Labels, swaps and changes wait until somebody settles it."""
    before = differing.sizes()
    with pytest.raises(GearkeepError) as caught:
        act(differing, differing.tags["CH-007"])  # type: ignore[operator]
    assert caught.value.kind == "conflict" and differing.sizes() == before


def test_heads_that_differ_are_a_stop(differing: SmallVault) -> None:
    """The luminaire shows both heads as a conflict."""
    seen = differing.seen("CH-007")
    assert seen.conflict and len(seen.heads) == 2
    assert [(f.rule, f.severity) for f in seen.findings] == [("two-heads", Severity.STOP)]


def test_equal_heads_are_a_note(equal: SmallVault) -> None:
    """Two versions of equal settings hold nothing up."""
    seen = equal.seen("CH-007")
    assert not seen.conflict and not seen.provisional
    assert [(f.rule, f.severity) for f in seen.findings] == [("two-heads", Severity.NOTE)]


@pytest.mark.parametrize("act", [ACTS[name] for name in ("swap", "revise", "move", "retire")],
                         ids=["swap", "revise", "move", "retire"])
def test_the_version_after_equal_heads_follows_both(equal: SmallVault, act: object) -> None:
    """Whatever is signed next names both, so that no head stays behind to disagree with it."""
    act(equal, equal.tags["CH-007"])  # type: ignore[operator]
    seen = equal.seen("CH-007")
    assert (len(seen.heads), seen.record.version, len(seen.record.predecessor_prefixes), seen.conflict) == (1, 3, 2, False)


@pytest.mark.parametrize("set_to", [600, 650, 640])
def test_a_readback_settles_a_conflict(differing: SmallVault, set_to: int) -> None:
    """Version 3 names both heads, bears what the driver reads, and nothing is open."""
    changed = revise(differing.desk("T01"), differing.tags["CH-007"], changes={"channels.1.current_ma": str(set_to)},
                     resolve=True, readback=readback(current_ma=set_to))
    seen = differing.seen("CH-007")
    assert (changed.version, len(seen.record.predecessor_prefixes), seen.conflict) == (3, 2, False)
    assert (seen.record.reason, seen.provisional) == (Reason.CONFLICT_RESOLVED, False)
    assert seen.record.gears[0].settings.channels[0].current_ma == set_to
    assert seen.record.gears[0].readback_digest is not None


def test_a_readback_that_differs_settles_nothing_for_good(differing: SmallVault) -> None:
    """What was read is not what is claimed: refused, or provisional when asked for so."""
    tag, claim = differing.tags["CH-007"], {"channels.1.current_ma": "600"}
    with pytest.raises(GearkeepError) as caught:
        revise(differing.desk("T01"), tag, changes=claim, resolve=True, readback=readback(current_ma=650))
    assert caught.value.kind == "stop"
    done = revise(differing.desk("T01"), tag, changes=claim, resolve=True, readback=readback(current_ma=650), allow_open=True)
    assert done.open_stops == {"readback-differs"}


@pytest.mark.parametrize(
    ("said", "kind"), [(None, "no-readback"), ({}, "no-readback"), ({"emergency-converter": {}}, "no-readback")])
def test_a_conflict_is_not_settled_without_a_readback(
        differing: SmallVault, said: dict[str, dict[str, object]] | None, kind: str) -> None:
    """No readback, an empty one, and one of another gear."""
    with pytest.raises(UsageProblem) as caught:
        revise(differing.desk("T01"), differing.tags["CH-007"], changes={}, resolve=True, readback=said)
    assert caught.value.kind == kind


def test_there_is_nothing_to_settle_in_one_head(small: SmallVault) -> None:
    """Resolve is for conflicts alone."""
    with pytest.raises(UsageProblem) as caught:
        revise(small.desk("T01"), small.tags["CH-007"], changes={}, resolve=True, readback=readback())
    assert caught.value.kind == "no-conflict"


@pytest.fixture
def newer(small: SmallVault) -> SmallVault:
    """A second revision of T1, whose light source bears 720 mA instead of 800 mA: 700 mA and 5 % are too much."""
    text = (DEMO / "types.toml").read_text(encoding="utf-8")
    (small.folder / "types.toml").write_text(text.replace("module_max_ma = 800", "module_max_ma = 720", 1), encoding="utf-8")
    assert load_catalogue(small.desk("authority"), Kind.RATING, small.folder / "types.toml").revised == ("T1",)
    return small


def test_a_newer_rating_signs_no_record_again(newer: SmallVault) -> None:
    """The record stands as it was signed; the one new statement is the rating."""
    assert newer.sizes()[0] == 64  # 63 in the small vault, and the revision
    seen = newer.seen("CH-007")
    assert (seen.record.version, seen.record.fixture_type.revision, seen.provisional) == (1, 1, False)


def test_a_newer_rating_shows_findings_against_both(newer: SmallVault) -> None:
    """The note that the rating is superseded, and what the newer one finds."""
    seen = newer.seen("CH-007")
    assert (seen.rating.revision, seen.current_rating.revision) == (1, 2)
    assert [(f.rule, f.severity) for f in seen.findings] == [("rating-superseded", Severity.NOTE),
                                                            ("current-tolerance", Severity.STOP)]


def test_the_next_version_answers_to_the_newer_rating(newer: SmallVault) -> None:
    """A new version is checked against the newest revision and refused where that says stop."""
    tag = newer.tags["CH-007"]
    with pytest.raises(GearkeepError) as caught:
        move(newer.desk("I01"), tag, place="Attic", line=None, circuit=None, address=None)
    assert caught.value.kind == "stop"
    revise(newer.desk("I01"), tag, changes={"channels.1.current_ma": "650"})
    assert newer.seen("CH-007").record.fixture_type.revision == 2


def test_the_same_ratings_again_are_no_revision(small: SmallVault) -> None:
    """A file loaded twice adds nothing."""
    before = small.sizes()
    done = load_catalogue(small.desk("authority"), Kind.RATING, DEMO / "types.toml")
    assert (done.new, done.revised, len(done.unchanged), small.sizes()) == ((), (), 9, before)


def test_approvals_are_of_one_version(newer: SmallVault) -> None:
    """What was approved of version 2 is asked anew of version 3."""
    tag = newer.tags["CH-007"]
    move(newer.desk("I01"), tag, place="Attic", line=None, circuit=None, address=None, allow_open=True)
    approve(newer.desk("P01"), tag, accepts=None, change_class=ChangeClass.MODIFICATION, because="module data checked")
    assert not newer.seen("CH-007").provisional
    move(newer.desk("I01"), tag, place="Cellar", line=None, circuit=None, address=None, allow_open=True)
    assert newer.seen("CH-007").open_stops == {"current-tolerance"}
