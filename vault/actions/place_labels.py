"""Labels for what is no luminaire: a bin of the store, a spare on the shelf, a control line in its cabinet."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path

from labels.content import BigFigure, LabelContent
from labels.drawing import Drawn, write_pdf, write_png, write_svg
from labels.media import MEDIA, Medium
from vault.actions.luminaire import all_current, driver_models
from vault.db import queries, stock_rows
from vault.db.session import Session, Vault
from vault.domain.driver import DriverModel
from vault.domain.record import Reason, Record
from vault.domain.schema import words
from vault.domain.settings import Protocol
from vault.domain.site import Line, LineKind
from vault.domain.units import ma, mv, mw
from vault.errors import GearkeepError, UsageProblem
from vault.exchange.stock_cells import counted_months
from vault.spares.levels import shelves
from vault.trust.place_link import Place, PlaceText, place_link
from vault.trust.statements import Kind

Content = Callable[[Session], LabelContent]


def bin_label(store: str, name: str) -> Content:
    """A bin of a store: its name, and the models that lie in it. Raises UsageProblem (not-found)."""

    def content(session: Session) -> LabelContent:
        known = [shelf for shelf in shelves(stock_rows.each_movement(session)) if shelf.bin]
        held = sorted({shelf.model for shelf in known if (shelf.store, shelf.bin) == (store, name)})
        if not held:
            there = ", ".join(sorted({f"{shelf.bin} of {shelf.store}" for shelf in known})) or "none"
            raise UsageProblem(f"Nothing was ever put into the bin {name} of the store {store}.", kind="not-found",
                               hint=f"Bins there are: {there}. Put spares into one with: gearkeep stock receive "
                                    "MODEL N --bin BIN")
        return LabelContent(tag_shown=name, link_text=place_link(session.genesis.host, Place.BIN, store, name),
                            capsule_text=None, big=(), lines=(f"store {store}", *held), must=1)

    return content


def spare_label(model: str, serial: str | None) -> Content:
    """A spare: its model, what it can be set to, its serial number; of a battery how long it keeps. Raises UsageProblem
    (not-found).
    """

    def content(session: Session) -> LabelContent:
        known = _described(session, model)
        if known is None:
            raise UsageProblem(f"The vault knows no driver model, battery or other item {model}.", kind="not-found",
                               hint="See them with: gearkeep driver list, gearkeep stock terms.")
        figure, *lines = known
        names = (model, serial) if serial else (model,)
        return LabelContent(
            tag_shown=model, link_text=place_link(session.genesis.host, Place.SPARE, *names), capsule_text=None,
            big=(BigFigure(caption="", value=figure),), lines=tuple([f"serial {serial}", *lines] if serial else lines), must=1)

    return content


def _described(session: Session, model: str) -> list[str] | None:
    """What stands large, and lines; None for what nobody knows."""
    driver = driver_models(session).get(model)
    if driver is not None:
        return [_output(driver), *_abilities(driver)]
    terms = stock_rows.supply_terms(session, [model]).get(model)
    if terms is None or terms.item is None:
        return None
    kept = [] if terms.shelf_life_months is None else [f"keeps {counted_months(terms.shelf_life_months)}"]
    return [words(terms.item), *kept]


def _output(driver: DriverModel) -> str:
    if driver.constant_voltage_mv is not None:
        return f"{mv(driver.constant_voltage_mv)} constant"
    least, most = driver.current_min_ma, driver.current_max_ma
    if least is None or most is None:
        return "current unknown"
    return ma(most) if least == most else f"{least}–{ma(most)}"


_CONTROL = {Protocol.DALI: "DALI", Protocol.ANALOGUE_1_10V: "1–10 V", Protocol.PHASE_CUT: "phase cut", Protocol.SWITCH: "switch"}


def _abilities(driver: DriverModel) -> Iterable[str]:
    if driver.window is not None:
        voltages = [voltage for _, voltage in driver.window.vertices]
        yield f"{mv(min(voltages)).removesuffix(' V')}–{mv(max(voltages))}"
        if driver.window.power_max_mw is not None:
            yield f"≤ {mw(driver.window.power_max_mw)}"
    if driver.protocols:
        controls = [_CONTROL[protocol] for protocol in sorted(driver.protocols) if protocol is not Protocol.NONE]
        yield ", ".join(controls) or "not controlled"
    yield "set by " + ", ".join(words(means.way) for means in driver.means)


_KIND = {LineKind.DALI: "DALI", LineKind.CENTRAL_BATTERY_BUS: "Central battery",
         LineKind.SELF_CONTAINED_EMERGENCY_BUS: "Emergency"}


def line_label(name: str) -> Content:
    """A control line: what hangs on it, its addresses in runs as the site writes them, and the free ones."""

    def content(session: Session) -> LabelContent:
        known = all_current(session, Kind.LINE)
        if name not in known:
            raise UsageProblem(f"The vault does not know the line {name}.", kind="not-found",
                               hint="See the lines with: gearkeep line list.")
        line: Line = known[name]
        rows = _in_service(queries.head_rows(session, line=name))
        records: list[Record] = [queries.record_at(session, row).body for row in rows]
        central = line.kind is LineKind.CENTRAL_BATTERY_BUS
        found = [control.central_address if central else control.short_address for record in records for gear in record.gears
                 if (control := gear.settings.control) is not None]
        used = sorted({address for address in found if isinstance(address, int)})
        # Central-battery addresses are kept as the site writes them, 1 to 255; short ones as on the bus, 0 to 63.
        base, every = (0, range(1, 256)) if central else (line.addresses_from, range(64))
        most = line.gear_max or len(every)
        free = sorted(set(every) - set(used))
        lines = [line.title or "", f"{_counted(rows)}, addresses from {every[0] + base}",
                 f"used {_runs(used, base)}", f"free {_runs(free, base)}" if len(used) < most else "no address is free"]
        return LabelContent(tag_shown=f"Line {name}", link_text=place_link(session.genesis.host, Place.LINE, name),
                            capsule_text=None, lines=tuple(text for text in lines if text),
                            big=(BigFigure(caption="", value=f"{_KIND[line.kind]}, {len(used)} of {most}"),), must=1)

    return content


def _in_service(rows: Iterable[queries.RecordRow]) -> list[queries.RecordRow]:
    return [row for row in rows if row.reason != Reason.RETIRED]


def _counted(rows: list[queries.RecordRow]) -> str:
    return "1 luminaire" if len(rows) == 1 else f"{len(rows)} luminaires"


def _runs(numbers: list[int], base: int) -> str:
    """Numbers as runs: 0–4, 7, 9–12."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    return ", ".join(str(first + base) if first == last else f"{first + base}–{last + base}"
                     for first, last in runs) or "none"


def print_place(vault: Vault, content: Content, out: Path, medium: Medium = MEDIA["60x40"]) -> Drawn:
    """Draw one such label to a PDF, PNG or SVG file. Nothing is signed: it says nothing that anybody answers for."""
    with vault.reading() as session:
        said = content(session)
    suffix = out.suffix.lower()
    if suffix == ".pdf":
        return write_pdf(out, [said], medium)[0]
    writer = {".png": write_png, ".svg": write_svg}.get(suffix)
    if writer is None:
        raise UsageProblem(f"{out.name} is no PDF, PNG or SVG.", kind="bad-format",
                           hint="Give a file name that ends in .pdf, .png or .svg.")
    return writer(out, said, medium)


def told(session: Session, read: PlaceText) -> str:
    """What a scanned bin, spare or line is, in one sentence. Raises GearkeepError (other-vault)."""
    if read.host != session.genesis.host:
        raise GearkeepError(f"The label belongs to {read.host}, this vault is {session.genesis.host}.", kind="other-vault",
                            hint="Open the vault it belongs to.")
    names = read.names
    if read.place is Place.BIN:
        held = [f"{shelf.pieces} × {shelf.model}" for shelf in shelves(stock_rows.each_movement(session))
                if (shelf.store.upper(), shelf.bin.upper()) == (names[0], names[-1])]
        return f"Bin {names[-1]} of the store {names[0]} holds {', '.join(held) or 'nothing'}."
    if read.place is Place.SPARE:
        model = next((one for one in (*driver_models(session), *stock_rows.supply_terms(session)) if one.upper() == names[0]), "")
        about = ", ".join(_described(session, model) or ["a model that this vault does not know"])
        return f"Spare {names[0]}{f', serial {names[1]}' if len(names) > 1 else ''}: {about}."
    rows = [row for row in _in_service(queries.head_rows(session)) if (row.line or "").upper() == names[0]]
    return f"Line {names[0]}: {_counted(rows)} in service."
