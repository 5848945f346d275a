"""The pack's list of spares: the driver models in use, what lies in stock, and which of it fits where."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from vault.actions.doubt_findings import DOUBTS, model_doubts
from vault.actions.luminaire import driver_models
from vault.actions.pack_gather import AsBuilt, BuiltGear, natural, without_address
from vault.db import stock_rows
from vault.db.session import Session
from vault.domain.driver import DriverModel
from vault.domain.findings import Verdict
from vault.domain.fit import fit_spare
from vault.domain.schema import words
from vault.domain.settings import Gear
from vault.exchange.pack_paper import PaperSection, PaperTable
from vault.spares.levels import shelves

_USABLE = (Verdict.FITS, Verdict.FITS_WITH_CARE)
MOST_NEEDS = 2000  # needs times models that are judged; above it the list says what is in use and in stock alone


def spares(session: Session, built: AsBuilt) -> PaperSection:
    """What is in use with what could take its place, and everything in stock."""
    held: dict[str, list[str]] = defaultdict(list)
    pieces: Counter[str] = Counter()
    for shelf in shelves(stock_rows.each_movement(session)):
        if shelf.pieces > 0:
            pieces[shelf.model] += shelf.pieces
            held[shelf.model].append(f"{shelf.pieces} in {shelf.store}" + (f", bin {shelf.bin}" if shelf.bin else ""))
    models = driver_models(session)
    # A model whose newest revision is in doubt fits nothing, as in `gearkeep fit`.
    stocked = {model: models[model] for model in sorted(pieces, key=natural)
               if model in models and not model_doubts(session, model)}
    in_use: dict[tuple[str, str], list[BuiltGear]] = defaultdict(list)
    for one in built.gears:
        in_use[one.gear.model or "not recorded", words(one.gear.duty).replace("-", " ")].append(one)
    fits = _fits(built, stocked)
    ranked = sorted(in_use.items(), key=lambda pair: (-len(pair[1]), natural(pair[0][0]), pair[0][1]))
    rows = [(model, duty, str(len(some)), str(pieces[model]), _fitting(some, fits) if fits is not None else "not judged")
            for (model, duty), some in ranked]
    used = Counter(one.gear.model for one in built.gears)
    listed = [(model, models[model].title if model in models else "not in the catalogue", str(used[model]),
               "; ".join(held[model])) for model in sorted(held, key=natural)]
    return PaperSection(
        key="spares", title="Spares",
        paragraphs=("Which models in stock can take the settings, judged against each type's rating as the vault holds it; in "
                    "brackets, how many of the drivers in use. Before a driver is fitted its luminaire is judged again: "
                    "gearkeep fit TAG.", "A driver of another model than the one before is not like for like."),
        tables=(PaperTable(headings=("In use", "Duty", "Drivers", "In stock", "From stock fits, or fits with care"),
                           widths=(90, 90, 40, 40, 270), rows=rows),
                PaperTable(headings=("In stock", "What it is", "In use", "Where"), widths=(90, 210, 40, 190), rows=listed)))


def _need(one: BuiltGear) -> Any:
    """What a fit depends on: the same for luminaires that differ in their address, place and names alone."""
    circuit = replace(one.circuit, name="-", revision=1, title=None) if one.circuit is not None else None
    line = replace(one.line, name="-", revision=1, title=None) if one.line is not None else None
    return (_in_doubt(one), one.record.fixture_type.code, one.record.fixture_type.digest, one.gear.duty, circuit, line,
            replace(without_address(one.gear.settings), extras=()))


def _fits(built: AsBuilt, stocked: Mapping[str, DriverModel]) -> dict[int, tuple[str, ...]] | None:
    """id of a listed gear -> models in stock that fit it; None where there are too many needs."""
    of_need: dict[Any, list[BuiltGear]] = defaultdict(list)
    for one in built.gears:
        of_need[_need(one)].append(one)
    if len(of_need) * len(stocked) > MOST_NEEDS:
        return None
    found: dict[int, tuple[str, ...]] = {}
    for some in of_need.values():
        fitting = tuple(model for model, spare in stocked.items() if _usable(some[0], some[0].gear, spare))
        found |= dict.fromkeys(map(id, some), fitting)
    return found


def _usable(one: BuiltGear, gear: Gear, spare: DriverModel) -> bool:
    """Against the rating that the record names and the newest one: the worse counts."""
    ratings = {rating.revision: rating for rating in (one.seen.rating, one.seen.current_rating)}
    return one.seen.rating_held and not _in_doubt(one) and all(
        fit_spare(gear, rating, spare, circuit=one.circuit, line=one.line).verdict in _USABLE for rating in ratings.values())


def _in_doubt(one: BuiltGear) -> bool:
    return any(finding.rule in DOUBTS for finding in one.seen.findings)


def _fitting(some: list[BuiltGear], fits: Mapping[int, tuple[str, ...]]) -> str:
    # Nobody knows what a luminaire in conflict is set to.
    count = Counter(model for one in some if "conflict" not in one.states for model in fits[id(one)])
    return ", ".join(f"{model} ({number} of {len(some)})" for model, number in count.most_common()) or "none"
