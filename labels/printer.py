"""What a printer says of itself, and which of its media a label is for."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import Enum
from typing import Any

from labels.errors import LabelError
from labels.ipp import CHECK_PATH, Attributes, Door, NoAnswer, Operation, Refused, door, gone, run, values
from labels.media_names import size_in_words, size_of_name
from labels.pwg import PixelKind

RASTER = "image/pwg-raster"
TOLERANCE_UM = 500
_DOTS_PER_INCH = 3  # unit of a resolution (RFC 8011 clause 5.1.16); 4 would be a centimetre
_HUNDREDTHS_UM = 10  # media-size is in 1/100 mm (PWG 5100.7)
_ASKED = ("printer-name", "printer-info", "printer-make-and-model", "printer-state", "printer-state-reasons",
          "printer-is-accepting-jobs", "media-supported", "media-ready", "media-col-database", "document-format-supported",
          "pwg-raster-document-type-supported", "pwg-raster-document-resolution-supported", "printer-resolution-supported")


class PrinterState(Enum):
    """RFC 8011 clause 5.4.11."""

    IDLE = 3
    PRINTING = 4
    STOPPED = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class PrinterMedium:
    """One medium by the printer's name. ready: it says that this one is loaded."""

    name: str
    width_um: int
    height_um: int
    ready: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class MediumChoice:
    """medium for a label; turned: its name gives the label's height as its width, so that the label is printed turned."""

    medium: PrinterMedium
    turned: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PrinterFacts:
    """What was asked of a printer. reasons: its own keywords for its state, without "none"."""

    uri: str
    name: str
    state: PrinterState
    reasons: tuple[str, ...]
    accepting: bool
    media: tuple[PrinterMedium, ...]
    formats: tuple[str, ...]
    resolutions_dpi: tuple[int, ...]
    pixel_kinds: tuple[PixelKind, ...]

    def choose_medium(self, width_um: int, height_um: int, tolerance_um: int = TOLERANCE_UM) -> MediumChoice:
        """The medium for a label of that size; a loaded one first, then one that need not be turned, then the nearest.

        Raises LabelError (no-medium) naming what the printer has.
        """
        fits = []
        for medium in self.media:
            for turned, (width, height) in ((False, (width_um, height_um)), (True, (height_um, width_um))):
                off = max(abs(medium.width_um - width), abs(medium.height_um - height))
                if off <= tolerance_um:
                    fits.append((not medium.ready, turned, off, medium.name, MediumChoice(medium=medium, turned=turned)))
        if not fits:
            raise LabelError(f"{self.name} has no labels of {size_in_words(width_um, height_um)}.", kind="no-medium",
                             hint=f"It has: {self._media_in_words()}. Set its label size, or choose one of these.")
        return min(fits, key=lambda fit: fit[:4])[4]

    def _media_in_words(self) -> str:
        return "; ".join(f"{size_in_words(one.width_um, one.height_um)} ({one.name}{', loaded' if one.ready else ''})"
                         for one in self.media) or "no medium with a known size"

    def pixel_kind(self, dpi: int) -> PixelKind:
        """How its dots are written at that resolution. Raises LabelError: no-format, no-resolution."""
        if RASTER not in self.formats or not self.pixel_kinds:
            raise LabelError(f"{self.name} does not take {RASTER}, in black or grey.", kind="no-format",
                             hint=f"It takes: {', '.join(self.formats) or 'nothing that it names'}. "
                                  "Write the labels to a PDF file and print that without scaling.")
        if dpi not in self.resolutions_dpi:
            raise LabelError(f"{self.name} does not print {dpi} dots an inch.", kind="no-resolution",
                             hint=f"It prints {', '.join(map(str, self.resolutions_dpi)) or 'none that it names'}; "
                                  "choose labels drawn for that.")
        return self.pixel_kinds[0]


def _media(told: Attributes) -> Iterator[PrinterMedium]:
    """Every medium with a known size once, in the printer's order; a size it states outweighs one out of the name."""
    sizes: dict[str, tuple[int, int]] = {}
    for name in (*values(told, "media-supported"), *values(told, "media-ready")):
        # custom_min and custom_max are the ends of a range, and no medium (PWG 5101.1 clause 5.1).
        size = None if name.startswith(("custom_min", "custom_max")) else size_of_name(name)
        if size:
            sizes.setdefault(name, size)
    for entry in values(told, "media-col-database"):
        name, size = _database_entry(entry)
        if name and size:
            sizes[name] = size
    ready = set(values(told, "media-ready"))
    for name, (width, height) in sizes.items():
        yield PrinterMedium(name=name, width_um=width, height_um=height, ready=name in ready)


def _database_entry(entry: Any) -> tuple[str | None, tuple[int, int] | None]:
    """A medium's name and size; a range of sizes is none."""
    if not isinstance(entry, Mapping) or not isinstance(size := entry.get("media-size"), Mapping):
        return None, None
    sides = size.get("x-dimension"), size.get("y-dimension")
    if not (isinstance(sides[0], int) and isinstance(sides[1], int)):
        return None, None
    return entry.get("media-size-name"), (sides[0] * _HUNDREDTHS_UM, sides[1] * _HUNDREDTHS_UM)


def _resolutions(told: Attributes) -> Iterator[int]:
    for name in ("pwg-raster-document-resolution-supported", "printer-resolution-supported"):
        if given := values(told, name):
            yield from sorted({across for across, along, unit in given if across == along and unit == _DOTS_PER_INCH})
            return


def facts_of(uri: str, told: Attributes) -> PrinterFacts:
    """The facts out of Get-Printer-Attributes."""
    names = (values(told, name) for name in ("printer-info", "printer-name", "printer-make-and-model"))
    state = int(next(iter(values(told, "printer-state")), PrinterState.STOPPED.value))
    kinds = values(told, "pwg-raster-document-type-supported")
    return PrinterFacts(
        uri=uri,
        name=next((name[0] for name in names if name), uri),
        state=PrinterState(state),
        reasons=tuple(one for one in values(told, "printer-state-reasons") if one != "none"),
        accepting=bool(next(iter(values(told, "printer-is-accepting-jobs")), True)),
        media=tuple(_media(told)),
        formats=tuple(values(told, "document-format-supported")),
        resolutions_dpi=tuple(_resolutions(told)),
        pixel_kinds=tuple(kind for kind in PixelKind if kind.value in kinds),
    )


async def ask_facts(printer: Door) -> PrinterFacts:
    """The same over an open way. Raises LabelError: no-printer, printer-refused."""
    try:
        answer = await printer.ask(Operation.GET_PRINTER_ATTRIBUTES, {"requested-attributes": _ASKED})
    except Refused as problem:
        raise LabelError(f"The printer {printer.uri} does not say what it has ({problem}).", kind="printer-refused",
                         hint=CHECK_PATH) from problem
    except NoAnswer as problem:
        raise gone(printer.uri, str(problem)) from problem
    told: Iterable[Attributes] = answer["printers"]
    try:
        return facts_of(printer.uri, next(iter(told), {}))
    except (TypeError, ValueError, AttributeError, LookupError) as problem:
        # Whatever stands there in the place of a number or a name: nothing is printed on its word.
        raise gone(printer.uri, "it answers with facts that no printer has") from problem


async def _facts(uri: str) -> PrinterFacts:
    async with door(uri) as printer:
        return await ask_facts(printer)


def printer_facts(uri: str) -> PrinterFacts:
    """Ask the printer at ipp://... what it is and has. Raises LabelError: bad-printer, no-printing, no-printer,
    printer-refused.
    """
    return run(_facts(uri))
