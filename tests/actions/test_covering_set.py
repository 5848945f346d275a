"""The smallest set of a whole vault, what a model's end takes away and what a candidate brings, down to the luminaires."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from set_of_vault import alone_fits, smallest_by_trying
from small_vault import DEMO, SmallVault

from vault.actions.covering_set import PriceFrom, Wanted, find_set, find_with, find_without
from vault.actions.stock_load import load_stock
from vault.errors import GearkeepError, UsageProblem

ANY = Wanted(any_model=True)
NAMES = [entry["model"] for entry in tomllib.loads((DEMO / "drivers.toml").read_text(encoding="utf-8"))["driver"]]
PRICES = "model,quantity,price,currency\n" + "".join(f"{name},0,{20 + at}.50,{{}}\n" for at, name in enumerate(NAMES))


@pytest.fixture(autouse=True)
def own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Nothing is remembered from one test to the next."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    yield


def _priced(small: SmallVault, text: str) -> None:
    path = small.folder / "prices.csv"
    path.write_text(text, encoding="utf-8")
    load_stock(small.desk("S01"), path, store="MAIN")


def test_the_set_is_proven_and_as_small_as_trying_every_set_finds(small: SmallVault) -> None:
    """Over all models of the demo; nothing is left uncovered."""
    found = find_set(small.desk(), ANY)
    assert found.chosen.proven and found.chosen.uncoverable == ()
    assert len(found.chosen.models) == smallest_by_trying(found.ground.coverage)
    assert found.chosen.best.covered == found.chosen.total == 20


def test_only_generic_models_are_chosen_unless_asked_and_what_they_cannot_cover_is_named(small: SmallVault) -> None:
    """Two-channel, constant-voltage and the escape sign's own gear have no generic spare; the originals are named."""
    found = find_set(small.desk(), Wanted())
    generic = {model.model for model in found.ground.coverage.models}
    assert generic == {entry for entry in NAMES if entry not in ("CC-40-700", "EM-6-180", "TW-2X20", "CV-24-60", "CB-30-500")}
    named = {one.tag: found.ground.others[need] for need, some in found.ground.luminaires.items() for one in some}
    assert named == {small.tags["CA-001"]: ("TW-2X20",), small.tags["CV-001"]: ("CV-24-60",), small.tags["ER-001"]: ("EM-6-180",)}


@pytest.mark.parametrize("model", ["EM-6-180", "GEN-50-1050"])
def test_dropping_a_model_names_exactly_the_luminaires_that_lose_cover(small: SmallVault, model: str) -> None:
    """Those that `fit` finds no other spare for."""
    found = find_without(small.desk(), model, ANY)
    named = {one.tag for some in found.ground.luminaires.values() for one in some}
    assert named == alone_fits(small, model)
    assert found.dropped.after is not None and model not in found.dropped.after.models


def test_a_luminaire_that_loses_cover_is_named_with_its_place(small: SmallVault) -> None:
    """As its record says it."""
    found = find_without(small.desk(), "TW-2X20", ANY)
    (some,) = found.ground.luminaires.values()
    assert [(one.tag, one.place) for one in some] == [(small.tags["CA-001"], small.seen("CA-001").record.place)]


def test_the_cheapest_set_is_by_the_loaded_prices(small: SmallVault) -> None:
    """Without prices it is refused; with them its cost is the sum of one piece of each."""
    with pytest.raises(GearkeepError) as refused:
        find_set(small.desk(), Wanted(cheapest=True, any_model=True))
    _priced(small, PRICES.format(*["EUR"] * len(NAMES)))
    found = find_set(small.desk(), Wanted(cheapest=True, any_model=True))
    assert refused.value.kind == "unknown-price"
    assert found.chosen.best.cost_cents == sum(2050 + 100 * NAMES.index(name) for name in found.chosen.models)
    assert found.chosen.best.cost_cents == smallest_by_trying(found.ground.coverage, found.ground.prices)
    assert (found.chosen.proven, found.ground.currency) == (True, "EUR")


def test_prices_in_two_currencies_are_not_compared(small: SmallVault) -> None:
    """They are named; the fewest models need no price."""
    _priced(small, PRICES.format(*["CHF", *["EUR"] * (len(NAMES) - 1)]))
    with pytest.raises(GearkeepError, match="CHF, EUR"):
        find_set(small.desk(), Wanted(cheapest=True, any_model=True))
    assert find_set(small.desk(), ANY).chosen.proven


def test_a_kept_model_is_in_the_set(small: SmallVault) -> None:
    """Even one that is not generic, and that the others make useless."""
    found = find_set(small.desk(), Wanted(keep=("CC-40-700",)))
    assert "CC-40-700" in found.chosen.models and found.chosen.kept == ("CC-40-700",)


def _ended(small: SmallVault, *models: str) -> None:
    path = small.folder / "ended.csv"
    path.write_text("model,last_order\n" + "".join(f"{model},2020-01-01\n" for model in models), encoding="utf-8")
    load_stock(small.desk("S01"), path, store="MAIN", sure=True)


def test_what_can_no_longer_be_ordered_is_left_out_and_named(small: SmallVault) -> None:
    """Unless it is kept; of a class that nothing else covers it is told."""
    _ended(small, "GEN-50-1050", "GEN-25-800", "TW-2X20")
    found, kept = find_set(small.desk(), ANY), find_set(small.desk(), Wanted(any_model=True, keep=("GEN-25-800", "TW-2X20")))
    assert set(found.ground.ended) == {"GEN-50-1050", "GEN-25-800", "TW-2X20"}
    assert not set(found.ground.ended) & set(found.chosen.models)
    told = {one.tag: found.ground.ended_others[need] for need, some in found.ground.luminaires.items() for one in some}
    assert told[small.tags["CA-001"]] == ("TW-2X20",)
    assert set(kept.ground.ended) == {"GEN-50-1050"} and {"GEN-25-800", "TW-2X20"} <= set(kept.chosen.models)
    assert set(kept.ground.named_ended) == {"GEN-25-800", "TW-2X20"}


def test_what_can_no_longer_be_ordered_keeps_no_cover(small: SmallVault) -> None:
    """Where all others are made no more, all that GEN-50-1050 covers is lost without it; with them nothing would be."""
    _ended(small, *(name for name in NAMES if name != "GEN-50-1050"))
    found = find_without(small.desk(), "GEN-50-1050", ANY).dropped
    assert found.lost == found.covered != ()


def test_a_candidate_from_a_file_is_judged_and_not_signed(small: SmallVault) -> None:
    """The two-channel driver under another name covers the café's ring, which no generic model does."""
    path = small.folder / "candidate.toml"
    text = (DEMO / "drivers.toml").read_text(encoding="utf-8")
    entry = next(part for part in text.split("[[driver]]") if 'model = "TW-2X20"' in part)
    path.write_text("[[driver]]" + entry.replace("TW-2X20", "NEW-2X20"), encoding="utf-8")
    before = small.sizes()
    (tried,) = (found := find_with(small.desk(), path, Wanted())).tried
    named = {one.tag for some in found.ground.luminaires.values() for one in some}
    assert (tried.added.chosen, named, small.sizes()) == (True, {small.tags["CA-001"]}, before)
    assert (tried.known_revision, tried.price_from) == (None, PriceFrom.NOBODY)


@pytest.mark.parametrize(("listed", "price_cents", "expected"), [
    (None, None, (2150 + 100 * NAMES.index("TW-2X20") - 100, PriceFrom.TERMS)),
    ("model,price,currency\nTW-2X20,9.90,EUR\n", None, (990, PriceFrom.QUOTED)),
    ("model,price,currency\nTW-2X20,9.90,EUR\n", 500, (500, PriceFrom.TOLD)),
])
def test_a_candidates_price_is_the_nearest_that_anybody_says(small: SmallVault, listed: str | None, price_cents: int | None,
                                                            expected: tuple[int, PriceFrom]) -> None:
    """As given, else by the list, else by the terms; that the catalogue says the same of the model is told."""
    _priced(small, PRICES.format(*["EUR"] * len(NAMES)))
    entries = (DEMO / "drivers.toml").read_text(encoding="utf-8").split("[[driver]]")
    path, quote = small.folder / "candidate.toml", small.folder / "quote.csv"
    path.write_text("[[driver]]" + next(part for part in entries if 'model = "TW-2X20"' in part), encoding="utf-8")
    quote.write_text(listed or "", encoding="utf-8")
    (tried,) = find_with(small.desk(), path, Wanted(cheapest=True, any_model=True), price_cents=price_cents,
                         quoted=quote if listed else None).tried
    assert (tried.price_cents, tried.price_from, tried.known_revision, tried.same) == (*expected, 1, True)


@pytest.mark.parametrize(("listed", "kind"), [
    ("model,price,currency\nTW-2X20,9.90,CHF\n", "mixed-currencies"), ("model,supplier\nTW-2X20,NORTHYARD\n", "bad-file")])
def test_a_list_of_prices_that_cannot_be_compared(small: SmallVault, listed: str, kind: str) -> None:
    """Another currency than the terms', or no price at all."""
    _priced(small, PRICES.format(*["EUR"] * len(NAMES)))
    (small.folder / "quote.csv").write_text(listed, encoding="utf-8")
    with pytest.raises(GearkeepError) as refused:
        find_with(small.desk(), DEMO / "drivers.toml", Wanted(cheapest=True), quoted=small.folder / "quote.csv")
    assert refused.value.kind == kind


@pytest.mark.parametrize("asked", [lambda desk: find_set(desk, Wanted(keep=("NONE",))),
                                   lambda desk: find_without(desk, "NONE", ANY)], ids=["keep", "without"])
def test_a_model_that_the_vault_does_not_know_is_refused(small: SmallVault, asked: object) -> None:
    """With those that it knows."""
    with pytest.raises(UsageProblem, match="does not know the driver model NONE"):
        asked(small.desk())  # type: ignore[operator]
