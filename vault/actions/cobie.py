"""The vault's luminaires as a COBie workbook, and what somebody else's COBie workbook holds."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from vault.actions.desk import Desk
from vault.actions.luminaire import View, all_current, driver_models
from vault.actions.pack_gather import AsBuilt, BuiltGear, gather, natural, states_of
from vault.db import stock_rows
from vault.db.session import Session
from vault.domain.schema import words
from vault.errors import GearkeepError
from vault.exchange.cobie_read import CobieRead, luminaire_table
from vault.exchange.cobie_settings import RECORD, Attribute, gear_attributes
from vault.exchange.cobie_write import CobieLuminaire, CobieSite, CobieSpare, cobie_sheets
from vault.exchange.table_out import write_xlsx_table
from vault.exchange.tables import read_tables
from vault.spares.levels import shelves
from vault.trust.capsule import link
from vault.trust.statements import Kind

Progress = Callable[[int, int], None]
BY = "vault"  # what made the rows that no single signer made


def quiet(_done: int, _total: int) -> None:
    """No progress."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """What a workbook was written with: rows by sheet, and the tags of luminaires whose state is not plainly good."""

    path: Path
    rows: dict[str, int]
    doubtful: dict[str, tuple[str, ...]]


def write_cobie(desk: Desk, path: Path, progress: Progress = quiet) -> Written:
    """Write every luminaire in service, verified, with types, spares, systems and settings. Retired ones are left out.

    Raises VerificationError at the first record that is not good, GearkeepError (not-found) for a vault without luminaires.
    """
    with desk.vault.reading() as session:
        built = gather(session, progress)
        if not built.in_service:
            raise GearkeepError("The vault holds no luminaire in service.", hint="Hand luminaires over first.", kind="not-found")
        site = _site(session, built, desk.now_s())
    sheets = cobie_sheets(site)
    write_xlsx_table(path, sheets)
    return Written(path=path, rows={sheet.name: len(sheet.rows) - 1 for sheet in sheets},
                   doubtful={seen.tag: states_of(seen) for seen in built.in_service if states_of(seen)})


def check_cobie(path: Path, types: Sequence[str] | None = None, progress: Progress = quiet) -> CobieRead:
    """What a COBie workbook holds and what of it would be taken. types: the names of the types that are luminaires."""
    return luminaire_table(read_tables(path, progress), only_types=types)


def _site(session: Session, built: AsBuilt, now_s: int) -> CobieSite:
    genesis = session.genesis
    gears: dict[str, list[BuiltGear]] = defaultdict(list)
    for gear in built.gears:
        gears[gear.seen.tag].append(gear)
    ordered = sorted(built.in_service, key=lambda one: (natural(one.record.place), natural(one.record.reference or "")))
    luminaires = [_luminaire(seen, gears[seen.tag], genesis.host) for seen in ordered]
    held = all_current(session, Kind.RATING)
    used = {one.type_code for one in luminaires}
    ratings = {code: rating for code, rating in held.items() if code in used}
    # A recovered vault may lack a rating; the record then carries what is known of it.
    ratings |= {seen.record.fixture_type.code: seen.rating for seen in built.in_service
                if seen.record.fixture_type.code not in ratings}
    return CobieSite(site=genesis.site, host=genesis.host, log_id=genesis.log_id.hex(), time_s=now_s, by=BY,
                     luminaires=luminaires, types=[ratings[code] for code in sorted(ratings, key=natural)],
                     spares=list(_spares(session, built)), roles=_roles(session))


def _luminaire(seen: View, gears: Sequence[BuiltGear], host: str) -> CobieLuminaire:
    record = seen.record
    own = [gear for gear in gears if gear.record is record]
    first = own[0].gear if own else record.gears[0]
    said = [Attribute(name="record_version", value=str(record.version), unit="", category=RECORD),
            Attribute(name="record_digest", value=seen.row.digest.hex(), unit="", category=RECORD),
            Attribute(name="record_state", value=", ".join(states_of(seen)) or "verified", unit="", category=RECORD)]
    for number, built in enumerate(own):
        said += gear_attributes(built.gear, built.line, first=number == 0)
    return CobieLuminaire(
        tag=seen.tag, link=link(host, seen.tag), reference=record.reference or "", type_code=record.fixture_type.code,
        place=record.place, line=record.line or "", circuit=record.circuit or "", serial=first.serial or "",
        signer=seen.signer_code, time_s=record.time_s, digest=seen.row.digest.hex(), attributes=tuple(said))


def _roles(session: Session) -> dict[str, str]:
    """Code of a signer -> what it may do, in words; no person's name."""
    return {one.code: ", ".join(sorted(words(role) for role in one.roles)) for one in session.signers.everyone()}


def _spares(session: Session, built: AsBuilt) -> Iterator[CobieSpare]:
    """Models in stock, under each type whose luminaires have such a driver."""
    places: dict[str, list[str]] = defaultdict(list)
    pieces: dict[str, int] = defaultdict(int)
    for shelf in shelves(stock_rows.each_movement(session)):
        if shelf.pieces > 0:
            places[shelf.model].append(f"{shelf.pieces} in {shelf.store}" + (f", bin {shelf.bin}" if shelf.bin else ""))
            pieces[shelf.model] += shelf.pieces
    models = driver_models(session)
    wanted = {(gear.gear.model, gear.record.fixture_type.code) for gear in built.gears if gear.gear.model}
    for model, type_code in sorted(wanted):
        if model in pieces:
            title = models[model].title if model in models else model
            yield CobieSpare(model=model, title=title, type_code=type_code, pieces=pieces[model],
                             where="; ".join(places[model]))
