"""Coverage of the small vault: classes, both ratings, what is unsettled, and the file that remembers answers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from small_vault import NOW_S, SmallVault
from sqlalchemy import update

from vault.actions.changes import retire
from vault.actions.cover import Covering, covering_of, luminaires_in, on_shelf, shelf_gaps
from vault.actions.fitting import fit
from vault.actions.luminaire import full_gears
from vault.actions.stock import one_movement, stock_state
from vault.db import tables
from vault.db.session import Session
from vault.domain.findings import Verdict
from vault.domain.rating import Hazard
from vault.domain.record import Reason
from vault.domain.schema import words
from vault.domain.stock import Act
from vault.errors import UsageProblem, VerificationError
from vault.spares.coverage_gaps import OnShelf
from vault.trust.statements import Kind


def covering(small: SmallVault, **options: object) -> Covering:
    """Coverage of the whole small vault."""
    with small.open().reading() as session:
        return covering_of(session, **options)  # type: ignore[arg-type]


def test_every_gear_in_service_is_in_one_class(small: SmallVault) -> None:
    """Twenty gear of nineteen luminaires are counted, each once."""
    found = covering(small)
    assert sum(of.pieces for of in found.coverage.needs) == 20
    assert {tag for some in luminaires(small, found) for tag in some} == set(small.tags.values())


def luminaires(small: SmallVault, found: Covering) -> list[list[str]]:
    """Of every class."""
    with small.open().reading() as session:
        tags = luminaires_in(session, found.needs, range(len(found.needs.classes)))
    return [tags[number] for number in range(len(tags))]


SAMPLE = ("CH-007", "CO-001", "ST-N1", "CA-001", "CV-001", "ER-001")


def test_coverage_answers_as_fit_does(small: SmallVault) -> None:
    """For a luminaire of each kind, gear and model the class has the verdict of the fit that a swap is judged by."""
    found = covering(small)
    told = {(tag, found.coverage.needs[number].gear.duty, model.model): answer.verdict
            for number, some in enumerate(luminaires(small, found)) for tag in some
            for model, answer in zip(found.coverage.models, found.coverage.answers[number], strict=True)}
    judged = {}
    for reference in SAMPLE:
        tag = small.tags[reference]
        for gear in full_gears(small.seen(reference).record):
            result = fit(small.desk(), tag, gear=words(gear.duty))
            judged |= {(tag, gear.duty, spare.fit.model): spare.fit.verdict for spare in result.spares}
    assert judged == {key: verdict for key, verdict in told.items() if key in judged}


def test_a_retired_luminaire_needs_nothing(small: SmallVault) -> None:
    """What is gone for good is in no class."""
    retire(small.desk("I01"), small.tags["CV-001"], because="gone")
    assert sum(of.pieces for of in covering(small).coverage.needs) == 19


def test_luminaires_in_conflict_are_counted_nowhere(small: SmallVault) -> None:
    """Two heads that differ: no spare until it is settled."""
    small.in_conflict("CH-007")
    found = covering(small)
    assert [(one.tag, one.why) for one in found.unsettled] == [(small.tags["CH-007"], "two newest versions differ")]
    assert sum(of.pieces for of in found.coverage.needs) == 19


def test_heads_that_agree_count_once(small: SmallVault) -> None:
    """Two versions signed side by side with equal settings are one luminaire."""
    seen = small.seen("CH-007")
    side = replace(seen.record, version=seen.record.version + 1, predecessors=seen.statement.digest[:16], reason=Reason.MOVED)
    small.fork(side, replace(side, note="the other"))
    found = covering(small)
    assert (found.unsettled, sum(of.pieces for of in found.coverage.needs)) == ((), 20)


def test_a_stricter_newest_rating_takes_cover_away(small: SmallVault) -> None:
    """The worse of the named and the newest rating counts for a class."""
    rating = small.seen("CV-001").rating
    newest = replace(rating, revision=rating.revision + 1, hazards=frozenset({Hazard.RAIL}))
    small.sign("authority", Kind.RATING, newest)
    found = covering(small, type_code=rating.code)
    assert {answer.verdict for row in found.coverage.answers for answer in row} == {Verdict.DOES_NOT_FIT}


def test_answers_are_remembered_in_a_file(small: SmallVault) -> None:
    """The second time nothing goes the careful way; a new revision of a model is judged anew, and it alone."""
    cache = small.folder / "cache" / "answers.json"
    first, second = covering(small, cache=cache), covering(small, cache=cache)
    assert (second.carefully, second.remembered, second.coverage.answers) == (0, first.carefully, first.coverage.answers)
    model = next(one for one in first.coverage.models if one.model == "GEN-45-900")
    small.sign("authority", Kind.DRIVER_MODEL, replace(model, revision=model.revision + 1))
    assert 0 < covering(small, cache=cache).carefully <= len(first.coverage.needs)


SPOIL: dict[str, Callable[[Path], object]] = {
    "changed": lambda path: path.write_bytes(path.read_bytes().replace(b"fits-with-care", b"fits")),
    "cut short": lambda path: path.write_bytes(path.read_bytes()[:-9]), "empty": lambda path: path.write_bytes(b""),
    "other": lambda path: path.write_bytes(b"gearkeep cover 1\n[]\n[1, 2]"),
}


@pytest.mark.parametrize("how", SPOIL)
def test_a_spoilt_file_is_as_good_as_none(small: SmallVault, how: str) -> None:
    """What was changed or damaged is judged anew and written anew."""
    cache = small.folder / "answers.json"
    first = covering(small, cache=cache)
    SPOIL[how](cache)
    again = covering(small, cache=cache)
    assert (again.remembered, again.coverage.answers) == (0, first.coverage.answers)
    assert covering(small, cache=cache).carefully == 0


def test_a_cache_that_cannot_be_written_hinders_nothing(small: SmallVault) -> None:
    """Where no file can be made the answers are the same."""
    blocked = small.folder / "file"
    blocked.write_text("no folder", encoding="utf-8")
    assert covering(small, cache=blocked / "answers.json").coverage.answers == covering(small).coverage.answers


def forged(session: Session, **figures: object) -> None:
    """An index that says otherwise of every gear."""
    session.connection.execute(update(tables.gear).values(**figures))


@pytest.mark.parametrize("figures", [{"need": b"\0" * 8}, {"need": None}, {"duty": 2}])
def test_an_index_that_says_otherwise_is_refused(small: SmallVault, figures: dict[str, object]) -> None:
    """A class is held against a signed record; an index of an older program is told."""
    with small.open().writing() as session:
        forged(session, **figures)
    with pytest.raises(VerificationError) as refused:
        covering(small)
    assert refused.value.kind == "bad-index"


@pytest.mark.parametrize("options", [{"type_code": "NONE"}, {"line": "NONE"}, {"models": ["NONE"]}])
def test_an_unknown_name_is_told(small: SmallVault, options: dict[str, object]) -> None:
    """A type, line or model that the vault does not know is wrong use."""
    with pytest.raises(UsageProblem):
        covering(small, **options)


def test_nothing_on_the_shelf_saves_nothing(small: SmallVault) -> None:
    """With the shelves as they are every class is saved; with empty ones none is, and the catalogue covers all still."""
    found = covering(small)
    with small.open().reading() as session:
        shelf = on_shelf(session, found.needs, stock_state(session, now_s=NOW_S))
    assert shelf_gaps(found.coverage, shelf).unsaved_pieces == 0
    empty = shelf_gaps(found.coverage, OnShelf(free={}))
    assert (empty.unsaved_pieces, empty.uncovered_pieces) == (20, 0)


def test_the_last_spare_kept_for_one_luminaire_saves_no_other(small: SmallVault) -> None:
    """With no other model to choose from: kept, it saves that one and the rest of the class is without; free again, all are."""
    found, tag = covering(small, models=["CC-40-700"]), small.tags["CH-007"]
    (need,) = (number for number, of in enumerate(luminaires(small, found)) if tag in of)
    gaps = []
    for act in (Act.RESERVE, Act.RELEASE):
        one_movement(small.desk("S01"), act=act, store="MAIN", model="CC-40-700", quantity=1, tag_text=tag)
        with small.open().reading() as session:
            shelf = on_shelf(session, found.needs, stock_state(session, now_s=NOW_S))
        gaps.append({gap.need: (gap.kept, gap.pieces, set(gap.saved)) for gap in shelf_gaps(found.coverage, shelf).unsaved})
    assert gaps[0][need] == (1, found.coverage.needs[need].pieces - 1, {tag}) and need not in gaps[1]


def test_the_example_of_a_class_is_one_that_it_counts_with_its_own_place(small: SmallVault) -> None:
    """The luminaire signed last is in conflict: another of the class stands for it, and the place is that one's."""
    small.in_conflict("CH-007")
    found = covering(small)
    shown_first = {of.tags[0]: place for of, place in zip(found.coverage.needs, found.needs.places, strict=True)}
    assert small.tags["CH-007"] not in shown_first
    by_tag = {tag: small.seen(reference).record.place for reference, tag in small.tags.items() if tag in shown_first}
    assert shown_first == by_tag
