"""What a stock command is told instead of a model or a bin: a scanned label of a spare or a bin, a picture of one, or a name."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from labels.errors import LabelError
from labels.pictures import PICTURE_SUFFIXES
from vault.actions.desk import Desk
from vault.actions.scan_codes import PLACES, parse_code, said_by
from vault.actions.scan_sources import Progress, gather, quiet
from vault.actions.stock_names import model_named
from vault.db import stock_rows
from vault.db.session import Session
from vault.errors import GearkeepError
from vault.spares.levels import Shelf, shelves
from vault.spares.stock_walk import state_of
from vault.trust.capsule import LabelText
from vault.trust.place_link import Place, PlaceText, parse_place

MOST_NAMED = 8  # models that a question lists


@dataclass(frozen=True, slots=True, kw_only=True)
class StockItem:
    """What was meant. store, bin, serial: None where neither the label nor the words beside it say."""

    model: str
    store: str | None = None
    bin: str | None = None
    serial: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StockBin:
    """A bin. store: None where it was typed without one."""

    bin: str
    store: str | None = None


def read_said(said: str, progress: Progress = quiet) -> str:
    """The text of the one bin's or spare's label in a picture file, or what was said itself where it names no picture.

    A maker's own codes are passed by. Raises GearkeepError: several-labels, no-stock-label, place-code or luminaire-label for
    the label of something else, and those of a picture that cannot be read.
    """
    if Path(said).suffix.casefold() not in PICTURE_SUFFIXES:
        return said
    texts: list[str] = []
    for found in gather([said], camera=None, progress=progress):
        if isinstance(found, tuple):
            raise _unread(found[1])
        texts += [code.text for reading in found.readings for code in reading.codes]
    usable = list(dict.fromkeys(text for text in texts if (read := parse_place(text)) and read.place is not Place.LINE))
    if len(usable) > 1:
        names = ", ".join(" ".join(read.names) for text in usable if (read := parse_place(text)))
        raise GearkeepError(f"{said} shows {len(usable)} labels: {names}.", kind="several-labels",
                            hint="Take a picture of the one that is meant, or type the model.")
    if not usable:
        for text in texts:
            _refuse_others(text)
        raise GearkeepError(f"{said} shows no label of a spare or of a bin.", kind="no-stock-label",
                            hint="Type the model, or make a label with: gearkeep mark spare MODEL.")
    return usable[0]


def read_luminaire(session: Session, said: str, progress: Progress = quiet) -> str:
    """The tag of the one luminaire's label in a picture file, or behind a label's link, with the vault that it is of where that
    is another; else what was said itself.

    Raises GearkeepError: several-labels, no-luminaire-label, and those of what cannot be read or is no luminaire's label.
    """
    if Path(said).suffix.casefold() not in PICTURE_SUFFIXES:
        return _full_tag(session, parse_code(said, "FILE")) if "/" in said else said
    labels: list[LabelText] = []
    problems: list[GearkeepError] = []
    for found in gather([said], camera=None, progress=progress):
        if isinstance(found, tuple):
            raise _unread(found[1])
        read = said_by(found.readings, found.name, found.file, film=found.film)
        labels += read.labels
        problems += read.problems
    tags = list(dict.fromkeys(_full_tag(session, label) for label in labels))
    if len(tags) == 1:
        return tags[0]
    if len(tags) > 1:
        raise GearkeepError(f"{said} shows the labels of {len(tags)} luminaires: {', '.join(tags)}.", kind="several-labels",
                            hint="Take a picture of the one that is meant, or type its tag.")
    raise problems[0] if problems else GearkeepError(
        f"{said} shows no label of a luminaire.", kind="no-luminaire-label", hint="Type the tag that stands on its label.")


def find_luminaire(desk: Desk, said: str, progress: Progress = quiet) -> str:
    """`read_luminaire` in a session of its own."""
    with desk.vault.reading() as session:
        return read_luminaire(session, said, progress)


def _full_tag(session: Session, label: LabelText) -> str:
    own = label.host is None or label.host.upper() == session.genesis.host.upper()
    return label.tag if own else f"{label.tag}@{label.host}"


def _unread(problem: LabelError) -> GearkeepError:
    return GearkeepError(problem.what, hint=problem.hint, kind=problem.kind)


def _refuse_others(text: str) -> None:
    """Raises for the label of a luminaire or a line. A tag that is typed alone may be a model's name as well."""
    if "/" not in text:
        return
    place = parse_place(text)
    if place is not None and place.place is Place.LINE:
        raise GearkeepError(f"This label stands on {PLACES[place.place]} ({', '.join(place.names)}), not on a spare.",
                            kind="place-code", hint="Scan the label of the spare or of its bin, or type the model.")
    try:
        label = parse_code(text, "FILE")
    except GearkeepError:
        return
    raise GearkeepError(f"This is the label of the luminaire {label.tag}, not of a spare.", kind="luminaire-label",
                        hint="Scan the label of the spare or of its bin, or type the model; the luminaire goes behind --for.")


def resolve_item(session: Session, said: str, *, store: str | None = None, bin_name: str | None = None,
                 serial: str | None = None) -> StockItem:
    """The model that was meant, with the store, bin and serial number that its label or the words beside it say.

    said: a model's name in any case, or a label's link (of a picture: `read_said` first). A bin's label means the one model in
    it; a serial number, typed or of a spare's label, means the place where that piece lies, unless another is said. Raises
    UsageProblem (not-found with a near name; ambiguous), GearkeepError (other-vault, several-models, empty-bin,
    label-differs, luminaire-label, place-code).
    """
    place = _place(session, said)
    if place is None:
        return _piece(session, StockItem(model=model_named(session, said), store=store, bin=bin_name, serial=serial))
    if place.place is Place.SPARE:
        model = model_named(session, place.names[0])
        read = _same("serial", place.names[1] if len(place.names) > 1 else None, serial)
        return _piece(session, StockItem(model=model, store=store, bin=bin_name, serial=read))
    known = list(shelves(stock_rows.each_movement(session)))
    there = _bin(known, place)
    held = [shelf for shelf in known if (shelf.store, shelf.bin) == (there.store, there.bin)]
    return StockItem(model=_one_model(there, held), store=_same("store", there.store, store), serial=serial,
                     bin=_same("bin", there.bin, bin_name))


def resolve_bin(session: Session, said: str, *, store: str | None = None) -> StockBin:
    """The bin that was meant: a typed name as it stands, or the bin and store of a bin's label.

    Raises GearkeepError: other-vault, label-differs, wrong-label for the label of a spare, luminaire-label, place-code.
    """
    place = _place(session, said)
    if place is None:
        return StockBin(bin=said.strip(), store=store)
    if place.place is not Place.BIN:
        raise GearkeepError(f"This label stands on {PLACES[place.place]} ({place.names[0]}), not on a bin.", kind="wrong-label",
                            hint="Scan the label of the bin, or type the bin's name.")
    there = _bin(shelves(stock_rows.each_movement(session)), place)
    return StockBin(bin=there.bin, store=_same("store", there.store or "", store))


def find_item(desk: Desk, said: str, *, store: str | None = None, bin_name: str | None = None, serial: str | None = None,
              progress: Progress = quiet) -> StockItem:
    """What a stock command was told, as a whole: pictures are read first, then `resolve_item` and `resolve_bin`.

    bin_name may be a bin's label too. Raises what those do.
    """
    text, bin_text = read_said(said, progress), read_said(bin_name, progress) if bin_name else None
    with desk.vault.reading() as session:
        if bin_text is None:
            return resolve_item(session, text, store=store, serial=serial)
        there = resolve_bin(session, bin_text, store=store)
        return resolve_item(session, text, store=there.store, bin_name=there.bin, serial=serial)


def find_target(desk: Desk, to_store: str, to_bin: str | None, progress: Progress = quiet) -> StockBin:
    """Where a transfer goes: a store that is typed, or a bin's label (link or picture) for either of the two.

    Returns store and bin; bin "" where none was said. Raises what `read_said` and `resolve_bin` do.
    """
    text, bin_text = read_said(to_store, progress), read_said(to_bin, progress) if to_bin else None
    with desk.vault.reading() as session:
        there = resolve_bin(session, text) if _place(session, text) is not None else StockBin(bin="", store=text.strip())
        if bin_text is None:
            return there
        found = resolve_bin(session, bin_text, store=there.store)
        return StockBin(bin=_same("to-bin", there.bin or None, found.bin) or "", store=found.store)


def _place(session: Session, said: str) -> PlaceText | None:
    place = parse_place(said)
    if place is None or place.place is Place.LINE:
        _refuse_others(said)
        return None
    if place.host != session.genesis.host.upper():
        raise GearkeepError(f"The label belongs to {place.host}, this vault is {session.genesis.host}.", kind="other-vault",
                            hint="Open the vault it belongs to, or type the model.")
    return place


def _piece(session: Session, item: StockItem) -> StockItem:
    """The item with its serial number as the store wrote it (a label says it in capitals), and with where that piece lies, so
    far as nobody said where it should.
    """
    if item.serial is None:
        return item
    wanted = item.serial.casefold()
    rows = stock_rows.movements(session, item.model)
    written = next((row.serial for row in reversed(rows) if row.serial and row.serial.casefold() == wanted), item.serial)
    lies = next((shelf for shelf in state_of(rows, {}, today_day=0).shelves
                 if written in shelf.serials and item.store in (None, shelf.store)), None)
    if lies is None or item.bin is not None:
        return replace(item, serial=written)
    return replace(item, serial=written, store=lies.store, bin=lies.bin or None)


def _bin(known: list[Shelf], place: PlaceText) -> StockBin:
    """The bin of a label as the store writes it; the label says it in capitals."""
    store, name = place.names[0], place.names[-1]
    found = sorted({(shelf.store, shelf.bin) for shelf in known if (shelf.store.upper(), shelf.bin.upper()) == (store, name)})
    if len(found) > 1:
        raise GearkeepError("The label may mean any of " + ", ".join(f"{bin_} of {store_}" for store_, bin_ in found) + ".",
                            kind="ambiguous", hint="Type the store and the bin with their capitals as they are.")
    if not found:
        raise GearkeepError(f"Nothing was ever put into the bin {name} of the store {store}.", kind="empty-bin",
                            hint="Type the model; --store and --bin say where it goes.")
    return StockBin(store=found[0][0], bin=found[0][1])


def _one_model(there: StockBin, held: list[Shelf]) -> str:
    """The model that lies in a bin, or that lay there last where it is empty."""
    models = sorted({shelf.model for shelf in held if shelf.pieces} or {shelf.model for shelf in held})
    if len(models) == 1:
        return models[0]
    listed = ", ".join(models[:MOST_NAMED]) + (f" and {len(models) - MOST_NAMED} more" if len(models) > MOST_NAMED else "")
    raise GearkeepError(f"The bin {there.bin} of {there.store} holds {len(models)} models: {listed}.", kind="several-models",
                        hint="Scan the label of the spare itself, or type its model and the bin behind --bin.")


def _same(what: str, read: str | None, said: str | None) -> str | None:
    if read is not None and said is not None and read.casefold() != said.casefold():
        raise GearkeepError(f"The label says {what} {read}, and --{what} says {said}.", kind="label-differs",
                            hint=f"Leave --{what} out, or scan the other label.")
    return said if read is None else read
