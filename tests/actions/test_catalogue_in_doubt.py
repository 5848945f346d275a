"""A driver model, a line, a circuit or a rating that a stolen key changed: no spare fits by it until another hand signs it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from small_vault import DEMO, SmallVault

from vault.actions.cover import covering_of, luminaires_in
from vault.actions.doubt_findings import catalogue_doubt
from vault.actions.fitting import fit, judge
from vault.actions.luminaire import current, driver_models, full_gears, view
from vault.actions.setup import load_catalogue, withdraw_signer
from vault.actions.stock import one_movement
from vault.actions.swap import prepare
from vault.db.audit import run_audit
from vault.domain.findings import Verdict
from vault.domain.rating import Hazard
from vault.domain.stock import Act
from vault.errors import GearkeepError
from vault.spares.coverage_answers import answers_for
from vault.trust.statements import Kind

REFERENCE, SPARE = "CH-007", "GEN-25-800"
ON_CIRCUIT = "CB1-01"
SAMPLE = ("CH-007", "CO-001", "ST-N1", "ER-001", ON_CIRCUIT)


def named(small: SmallVault, kind: Kind) -> str:
    """What of a kind the fit of a luminaire looks at."""
    seen = small.seen(ON_CIRCUIT if kind is Kind.CIRCUIT else REFERENCE)
    of = {Kind.RATING: seen.record.fixture_type.code, Kind.DRIVER_MODEL: SPARE, Kind.LINE: seen.record.line,
          Kind.CIRCUIT: seen.record.circuit}[kind]
    assert of is not None
    return of


def revise(small: SmallVault, code: str, kind: Kind, **changes: object) -> None:
    """Sign the next revision with one key."""
    with small.open().reading() as session:
        body = current(session, kind, named(small, kind))
    small.sign(code, kind, replace(body, revision=body.revision + 1, **changes))


WIDE: dict[str, object] = {"length_mm": 200, "width_mm": 20, "height_mm": 20}
SIGNS = {Kind.RATING: "P01", Kind.DRIVER_MODEL: "S01", Kind.LINE: "I01", Kind.CIRCUIT: "I01"}


def stolen(small: SmallVault, kind: Kind) -> None:
    """Somebody revises one entry of the catalogue; the key is then withdrawn, trusted up to before."""
    last = small.sizes()[0] - 1
    revise(small, SIGNS[kind], kind, **(WIDE if kind is Kind.DRIVER_MODEL else {}))
    withdraw_signer(small.desk("authority"), code=SIGNS[kind], reason="stolen", trusted_until=last)


def verdicts(small: SmallVault, reference: str) -> dict[str, Verdict]:
    """What `fit` says of each model."""
    return {one.spare.model: one.fit.verdict for one in fit(small.desk(), small.tags[reference]).spares}


def coverage(small: SmallVault, reference: str, cache: Path | None = None) -> dict[str, Verdict]:
    """What coverage says of each model for the luminaire's class; the gravest of its gear."""
    with small.open().reading() as session:
        found = covering_of(session, cache=cache)
        tags = luminaires_in(session, found.needs, range(len(found.needs.classes)))
    mine = [number for number, some in tags.items() if small.tags[reference] in some]
    return {model.model: found.coverage.answers[mine[0]][place].verdict for place, model in enumerate(found.coverage.models)}


@pytest.mark.parametrize(("kind", "reference"), [
    (Kind.RATING, REFERENCE), (Kind.LINE, REFERENCE), (Kind.CIRCUIT, ON_CIRCUIT)])
def test_what_a_stolen_key_changed_lets_no_spare_fit(small: SmallVault, tmp_path: Path, kind: Kind, reference: str) -> None:
    """Fit and cover refuse every model, also where the answers were remembered before; another hand's revision lifts it."""
    before = verdicts(small, reference)
    assert Verdict.FITS in before.values() or Verdict.FITS_WITH_CARE in before.values()
    coverage(small, reference, tmp_path / "cache")
    stolen(small, kind)
    assert {*verdicts(small, reference).values(), *coverage(small, reference, tmp_path / "cache").values()} == {
        Verdict.DOES_NOT_FIT}
    revise(small, "authority", kind)
    assert verdicts(small, reference) == before == coverage(small, reference, tmp_path / "cache")


def test_a_driver_that_a_stolen_key_widened_fits_nothing(small: SmallVault, tmp_path: Path) -> None:
    """It and no other, in fit, cover, swap and stock: it says whose key it was and what to do."""
    cache = tmp_path / "cache"
    before, covered = verdicts(small, REFERENCE), coverage(small, REFERENCE, cache)
    stolen(small, Kind.DRIVER_MODEL)
    assert verdicts(small, REFERENCE) == before | {SPARE: Verdict.DOES_NOT_FIT}
    assert coverage(small, REFERENCE, cache) == covered | {SPARE: Verdict.DOES_NOT_FIT}
    first = prepare(small.desk(), small.tags[REFERENCE], spare=SPARE).judged.fit.findings[0]
    assert first.rule == "doubtful-driver" and "S01" in first.says and "driver load" in first.says
    with pytest.raises(GearkeepError) as refused:
        one_movement(small.desk("T01"), act=Act.RESERVE, store="MAIN", model=SPARE, quantity=1, tag_text=small.tags[REFERENCE])
    assert refused.value.kind == "does-not-fit"


def test_an_equal_entry_by_another_hand_settles_it(small: SmallVault) -> None:
    """The file of before is signed anew though nothing in it changed for good: the doubtful revision is no longer the newest."""
    stolen(small, Kind.DRIVER_MODEL)
    loaded = load_catalogue(small.desk("P01"), Kind.DRIVER_MODEL, DEMO / "drivers.toml")
    again = load_catalogue(small.desk("P01"), Kind.DRIVER_MODEL, DEMO / "drivers.toml")
    with small.open().reading() as session:
        assert (loaded.revised, again.revised, catalogue_doubt(session, Kind.DRIVER_MODEL, SPARE)) == ((SPARE,), (), None)
        assert run_audit(session).faults == ()


def test_figures_that_were_right_are_signed_anew_by_another_hand(small: SmallVault) -> None:
    """A doubtful revision that is equal to the file is signed once more, and is then nobody's doubt."""
    last = small.sizes()[0] - 1
    revise(small, "S01", Kind.DRIVER_MODEL)
    withdraw_signer(small.desk("authority"), code="S01", reason="stolen", trusted_until=last)
    assert load_catalogue(small.desk("P01"), Kind.DRIVER_MODEL, DEMO / "drivers.toml").revised == (SPARE,)


def stricter(small: SmallVault) -> None:
    """A hotter line, a circuit with little room, a narrower rating: the newest revisions of each."""
    revise(small, "authority", Kind.LINE, site_ta_c=60)
    revise(small, "authority", Kind.CIRCUIT, battery_min_v=100, luminaires_max=1, leakage_max_ua=1)
    revise(small, "authority", Kind.RATING, hazards=frozenset(Hazard))


@pytest.mark.parametrize("happens", [stricter, lambda small: stolen(small, Kind.DRIVER_MODEL)],
                         ids=["stricter", "a driver in doubt"])
def test_cover_never_says_covered_where_fit_refuses(small: SmallVault, happens: Callable[[SmallVault], Any]) -> None:
    """For a luminaire of each kind, every gear and model, cover has the verdict of the fit, whatever changed or is in doubt."""
    happens(small)
    with small.open().reading() as session:
        found, models = covering_of(session), driver_models(session)
        tags = luminaires_in(session, found.needs, range(len(found.needs.classes)))
        fitted = {}
        for reference in SAMPLE:
            seen = view(session, small.tags[reference])
            fitted |= {(seen.tag, gear.duty, model.model): judge(session, seen, gear, model).fit.verdict
                       for gear in full_gears(seen.record) for model in models.values()}
    told = {(tag, need.of.gear.duty, model.model): answer.verdict
            for number, need in enumerate(found.needs.classes) for tag in tags[number]
            for model, answer in zip(found.coverage.models, found.coverage.answers[number], strict=True)}
    assert {key: told[key] for key in fitted} == fitted


def test_alike_lines_of_which_one_is_in_doubt_are_two_classes(small: SmallVault) -> None:
    """A luminaire on a line that nobody changed keeps its spares."""
    other = next(reference for reference in SAMPLE if small.seen(reference).record.line not in (None, named(small, Kind.LINE)))
    before = verdicts(small, other)
    stolen(small, Kind.LINE)
    assert verdicts(small, other) == before == coverage(small, other)


def test_a_remembered_answer_knows_of_doubt(small: SmallVault) -> None:
    """Answers are kept by what told on the model too."""
    with small.open().reading() as session:
        found = covering_of(session)
        doubt = catalogue_doubt(session, Kind.DRIVER_MODEL, SPARE)
    assert doubt is None
    stolen(small, Kind.DRIVER_MODEL)
    with small.open().reading() as session:
        doubt = catalogue_doubt(session, Kind.DRIVER_MODEL, SPARE)
    assert doubt is not None
    models = [model for model in found.coverage.models if model.model == SPARE]
    plain = answers_for(found.needs.classes, models, quick=False)
    doubted = answers_for(found.needs.classes, models, quick=False, known=plain.held, doubts={SPARE: (doubt,)})
    assert doubted.remembered == 0 and not set(plain.held) & set(doubted.held)
