"""Working on with a vault that came back from labels: without ratings nothing fits; with them everything goes on."""

from __future__ import annotations

from pathlib import Path

import pytest
from lost_vault import LostVault
from small_vault import CATALOGUE, DEMO, SmallVault, readback

from vault.actions.changes import placed, retire, revise
from vault.actions.fitting import fit
from vault.actions.handover import hand_over
from vault.actions.history import history
from vault.actions.labelling import Wanted, print_labels
from vault.actions.setup import load_catalogue
from vault.actions.swap import swap
from vault.db.session import Vault
from vault.domain.findings import Severity, Verdict
from vault.domain.record import ChangeClass
from vault.domain.tag import shown
from vault.errors import GearkeepError
from vault.trust.statements import Kind

EQUIVALENT = ChangeClass.APPROVED_EQUIVALENT


@pytest.fixture
def lost(small: SmallVault, tmp_path: Path) -> LostVault:
    """CH-007 at version 2 came back from its label, and CH-008 at version 1."""
    (tmp_path / "photos").mkdir()
    made = LostVault(small=small, photos=tmp_path / "photos", out=tmp_path / "new.db")
    swap(small.desk("T01"), small.tags["CH-007"], spare="GEN-50-1050", serial="X1", readback=readback(), change_class=EQUIVALENT)
    made.label("CH-007")
    made.label("CH-008")
    made.list_signers()
    assert len(made.recover().tags) == 2
    return made


@pytest.fixture
def loaded(lost: LostVault) -> LostVault:
    """The same with the catalogue loaded again."""
    for kind, name in CATALOGUE:
        load_catalogue(lost.desk("authority"), kind, DEMO / f"{name}.toml")
    return lost


def test_without_its_rating_a_luminaire_is_never_said_to_fit(lost: LostVault) -> None:
    """The missing rating is an unknown, the settings are shown, and no spare fits before it is there."""
    load_catalogue(lost.desk("authority"), Kind.DRIVER_MODEL, DEMO / "drivers.toml")
    seen = lost.seen("CH-007")
    assert [(f.rule, f.severity) for f in seen.findings] == [("rating-missing", Severity.UNKNOWN),
                                                             ("line-missing", Severity.CARE)]
    assert "gearkeep type load" in seen.findings[0].says and seen.provisional and not seen.rating_held
    judged = fit(lost.desk("T01"), seen.tag)
    verdicts = {one.fit.model: one.fit.verdict for one in judged.spares}
    assert set(verdicts.values()) <= {Verdict.CANNOT_TELL, Verdict.DOES_NOT_FIT}
    assert verdicts["GEN-50-1050"] is Verdict.CANNOT_TELL


ACTS = {
    "revise": lambda lost, tag: revise(lost.desk("I01"), tag, changes={"channels.1.current_ma": "650"}, allow_open=True),
    "retire": lambda lost, tag: retire(lost.desk("I01"), tag, because="gone"),
}


@pytest.mark.parametrize("act", ACTS.values(), ids=ACTS.keys())
def test_without_the_rating_no_version_is_signed(lost: LostVault, act: object) -> None:
    """A new version names a rating, so the refusal says what to load."""
    with pytest.raises(GearkeepError) as caught:
        act(lost, lost.small.tags["CH-007"])  # type: ignore[operator]
    assert caught.value.kind == "no-rating" and "type load" in caught.value.hint


def test_without_its_line_no_label_says_an_address(lost: LostVault) -> None:
    """Nobody can tell whether the site numbers from 0 or from 1, so the label waits for the line."""
    with pytest.raises(GearkeepError) as caught:
        print_labels(lost.desk("I01"), Wanted(texts=[lost.small.tags["CH-007"]], link_only=True), out=lost.photos / "new.png")
    assert caught.value.kind == "no-line" and "line load" in caught.value.hint


def test_with_the_catalogue_loaded_nothing_is_unknown(loaded: LostVault) -> None:
    """The very same rating, signed by the same authority, is the one that the records name."""
    seen = loaded.seen("CH-007")
    assert (seen.findings, seen.provisional, seen.rating_held, loaded.whys()) == ((), False, True, [])


def test_another_rating_under_the_same_name_is_pointed_out(lost: LostVault) -> None:
    """Its figures judge the settings with care; the next version binds to it, and an audit agrees."""
    changed = lost.small.folder / "changed.toml"
    text = (DEMO / "types.toml").read_text(encoding="utf-8")
    first = text.index("title")
    changed.write_text(text[:first] + text[first:].replace('"', '"New ', 1), encoding="utf-8")
    code = text[:first].rsplit('code = "', 1)[1].split('"')[0]
    assert code == lost.seen("CH-007").record.fixture_type.code
    for kind, name in CATALOGUE[1:]:
        load_catalogue(lost.desk("authority"), kind, DEMO / f"{name}.toml")
    load_catalogue(lost.desk("authority"), Kind.RATING, changed)
    seen = lost.seen("CH-007")
    assert [(f.rule, f.severity) for f in seen.findings] == [("rating-renewed", Severity.CARE)] and not seen.provisional
    revise(lost.desk("I01"), seen.tag, changes={"channels.1.current_ma": "650"})
    after = lost.seen("CH-007")
    assert (after.record.version, after.findings, lost.whys()) == (3, (), [])
    assert after.record.fixture_type.digest != seen.record.fixture_type.digest


def test_a_driver_is_swapped_as_before(loaded: LostVault) -> None:
    """The next version follows the one from the label."""
    done = swap(loaded.desk("T01"), loaded.small.tags["CH-008"], spare="GEN-50-1050", serial="X2",
                readback=readback(short_address=7), change_class=EQUIVALENT, from_stock=False)
    assert done.matched and done.changed.version == 2 and loaded.whys() == []


def test_its_history_begins_with_the_label(loaded: LostVault) -> None:
    """What came before is not made up."""
    [entry] = history(Vault(str(loaded.out)), loaded.small.tags["CH-007"])
    assert (entry.version, entry.changes) == (2, ())


def test_copies_of_labels_are_counted_from_one(loaded: LostVault) -> None:
    """The label on the housing is nobody's copy here; a newly printed one is the first."""
    tag = loaded.small.tags["CH-007"]
    with pytest.raises(GearkeepError) as caught:
        placed(loaded.desk("T01"), tag)
    assert caught.value.kind == "no-label"
    print_labels(loaded.desk("T01"), Wanted(texts=[tag]), out=loaded.small.folder / "label.png")
    assert placed(loaded.desk("T01"), tag) == 1 and loaded.whys() == []


def test_the_old_schedule_does_not_undo_a_swap(loaded: LostVault) -> None:
    """CH-007 was swapped since it was handed over: its row is refused. CH-008 stands as its row says."""
    done = hand_over(loaded.desk("I01"), loaded.small.folder / "schedule.csv")
    assert [one.change for one in done.accepted if one.reference == "CH-008"] == ["unchanged"]
    assert [one.value for one in done.rejected] == ["CH-007"] and shown(loaded.small.tags["CH-007"]) in done.rejected[0].problem
    assert loaded.seen("CH-007").record.version == 2
