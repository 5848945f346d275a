"""From the rows of a schedule to luminaires. Rows that differ only in what differs from luminaire to luminaire (place,
reference, line, address, serial number) are read once and then copied.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from operator import itemgetter
from typing import Any

from vault.domain.rating import Rating
from vault.domain.record import Record
from vault.domain.schema import specs, words
from vault.domain.settings import Duty, Gear, Settings
from vault.domain.site import Circuit, Line
from vault.domain.voltage import coldest_c
from vault.exchange.plain import nearest
from vault.exchange.schedule_columns import LUMINAIRE_COLUMNS
from vault.exchange.schedule_headings import NEEDED
from vault.exchange.schedule_row import Bad, duty_of, read_cells, read_gear

# What differs from one luminaire to the next; every other cell is part of the pattern that a row follows.
OWN = ("reference", "place", "line", "circuit", "serial", "address", "central_address")
MOST_PATTERNS = 5000

# A designation may well begin with = or + (IEC 81346); a function with its bracket is none.
_FORMULA = re.compile(r"[=+@-][A-Za-z.]+\(")

_RECORD, _GEAR = dict(specs(Record)), dict(specs(Gear))

Cells = Mapping[str, str]
Values = tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ScheduledLuminaire:
    """A luminaire that can be read whole. rows: where its gears stand in the file, in the order of `gears`."""

    reference: str
    type_code: str
    place: str
    line: str | None
    circuit: str | None
    gears: tuple[Gear, ...]
    rows: tuple[int, ...]


@dataclass(slots=True)
class _Pattern:
    """The gear of the first row of its kind. settings: (short address, central address) -> what those make of it."""

    gear: Gear
    settings: dict[tuple[int | None, int | None], Settings] = field(default_factory=dict)

    def with_own(self, serial: str, short: int | None, central: int | None) -> Gear:
        settings = self.settings.get((short, central))
        if settings is None:
            settings = self.settings[short, central] = _with_addresses(self.gear.settings, short, central)
        return Gear(duty=self.gear.duty, model=self.gear.model, serial=serial or None, settings=settings)


def _with_addresses(settings: Settings, short: int | None, central: int | None) -> Settings:
    control = settings.control
    if control is not None and short is not None:
        control = replace(control, short_address=short)
    if control is not None and central is not None:
        control = replace(control, central_address=central)
    return replace(settings, control=control)


def _own_text(cells: Cells, name: str) -> list[Bad]:
    spec = _RECORD[name]
    cell = cells.get(name, "")
    allowed = f"1 to {spec.most} printable characters"
    if not cell and name in NEEDED:
        return [Bad(column=name, problem="nothing stands here", allowed=allowed)]
    if _FORMULA.match(cell):
        return [Bad(column=name, problem=f"{cell!r} is a formula of a spreadsheet and no text", allowed=allowed)]
    if len(cell) > spec.most or not cell.isprintable():
        return [Bad(column=name, problem=f"{cell!r} is too long or not printable", allowed=allowed)]
    return []


def _known(cells: Cells, name: str, known: Iterable[str], called: str) -> list[Bad]:
    cell, names = cells.get(name, ""), sorted(known)
    if not cell or cell in names:
        return []
    few = names if len(names) <= 20 else [*names[:20], f"… {len(names)} in all"]
    hint = nearest(cell, names)
    return [Bad(column=name, problem=f"{called} {cell!r} is not known{f', {hint}' if hint else ''}",
                allowed=", ".join(few) or f"nothing: no {called} is known")]


def _pick(places: Sequence[int]) -> Callable[[Values], tuple[Any, ...]]:
    """The values at these places as a tuple, however few they are."""
    return itemgetter(*places) if len(places) > 1 else lambda values: tuple(values[at] for at in places)


class Reader:
    """Reads rows under the given headings (our names, in the file's order; "" is not read)."""

    def __init__(self, names: Sequence[str], *, ratings: Mapping[str, Rating], lines: Mapping[str, Line],
                 circuits: Mapping[str, Circuit]) -> None:
        self.ratings, self.lines, self.circuits = ratings, lines, circuits
        self.width = len(names)
        self._names = [name for name in names if name]
        self._read = None if len(self._names) == self.width else _pick([at for at, name in enumerate(names) if name])
        # A column that the file does not have is found at the end, where nothing stands.
        places = {name: at for at, name in enumerate(self._names)}
        self._own = _pick([places.get(name, -1) for name in OWN])
        self._pattern = _pick([at for name, at in places.items() if name not in OWN])
        self._type = places["type"]
        self._patterns: dict[tuple[object, ...], _Pattern] = {}

    def values(self, row: Sequence[str]) -> Values:
        """What stands in the columns that are read, and behind them nothing."""
        cells = tuple(map(str.strip, row[: self.width])) + ("",) * (self.width + 1 - len(row))
        return cells[: self.width + 1] if self._read is None else (*self._read(cells), "")

    def cells(self, values: Values) -> dict[str, str]:
        """Name -> cell, filled cells alone."""
        return {name: cell for name, cell in zip(self._names, values, strict=False) if cell}

    def slow_row(self, cells: Cells) -> tuple[Duty | None, Gear | None, list[Bad]]:
        """What one row alone says."""
        bad = _own_text(cells, "reference") + _own_text(cells, "place")
        bad += _known(cells, "line", self.lines, "line") + _known(cells, "circuit", self.circuits, "circuit")
        bad += _known(cells, "central_circuit", self.circuits, "circuit")
        line = self.lines.get(cells.get("line", ""))
        if cells.get("address") and not cells.get("line"):
            bad.append(Bad(column="line", problem="nothing stands here, but an address counts on its line",
                           allowed=", ".join(sorted(self.lines)) or "a line"))
        values, unreadable = read_cells(cells, line)
        bad += unreadable
        rating = self.ratings.get(cells.get("type", ""))
        if rating is None:
            wrong_type = _known(cells, "type", self.ratings, "type")
            nothing = Bad(column="type", problem="nothing stands here", allowed=", ".join(sorted(self.ratings)))
            return None, None, bad + (wrong_type or [nothing])
        duty, wrong_duty = duty_of(cells, rating)
        gear_rating = rating.gear_for(duty) if duty is not None else None
        if gear_rating is None:
            return duty, None, bad + wrong_duty
        gear, wrong = read_gear(cells, values, gear_rating, ambient_min_c=coldest_c(rating))
        told = {item.column for item in bad}
        return duty, gear, bad + [item for item in wrong if item.column not in told]

    def row(self, values: Values) -> tuple[Duty | None, Gear | None, list[Bad]]:
        """The same, copied from an earlier row of its pattern where nothing can be wrong with what differs."""
        reference, place, line_name, circuit, serial, address, central_address = self._own(values)
        line = self.lines.get(line_name) if line_name else None
        good = (_is_text(reference, _RECORD["reference"].most) and _is_text(place, _RECORD["place"].most)
                and reference[0] not in "=+-@" and place[0] not in "=+-@"
                and (line is not None or not line_name) and (not circuit or circuit in self.circuits)
                and (not serial or (_is_text(serial, _GEAR["serial"].most) and serial[:3].casefold() != "not")))
        short = int(address) - (line.addresses_from if line else 0) if _is_number(address) else None
        central = int(central_address) if _is_number(central_address) else None
        good = good and (short is None or 0 <= short <= 63) and (central is None or 1 <= central <= 255)
        if not good or (address and line is None):
            return self.slow_row(self.cells(values))
        key = (self._pattern(values), bool(serial), None if short is not None else address,
               None if central is not None else central_address)
        pattern = self._patterns.get(key)
        if pattern is not None:
            return pattern.gear.duty, pattern.with_own(serial, short, central), []
        duty, gear, bad = self.slow_row(self.cells(values))
        if gear is not None and not bad and len(self._patterns) < MOST_PATTERNS:
            self._patterns[key] = _Pattern(gear)
            gear = self._patterns[key].with_own(serial, short, central)
        return duty, gear, bad

    def luminaire(self, rows: Mapping[int, Values]) -> tuple[ScheduledLuminaire | None, list[tuple[int, Bad]]]:
        """The luminaire of the rows with one reference, or what is wrong with it."""
        first_row, first_values = next(iter(rows.items()))
        rating = self.ratings.get(first_values[self._type])
        if len(rows) == 1 and rating is not None and len(rating.gears) == 1:
            duty, gear, wrong = self.row(first_values)
            if gear is None or wrong:
                return None, [(first_row, item) for item in wrong]
            return self._made(first_values, (gear,), (first_row,)), []
        first = self.cells(first_values) if len(rows) > 1 else {}
        bad: list[tuple[int, Bad]] = []
        gears: list[Gear] = []
        seen: dict[Duty, int] = {}
        for number, own in rows.items():
            # The second row of a luminaire may leave out what the first has said of the whole.
            cells = {**{name: first.get(name, "") for name in LUMINAIRE_COLUMNS}, **self.cells(own)} if first else {}
            values = (*(cells.get(name, "") for name in self._names), "") if first else own
            duty, gear, wrong = self.row(values)
            bad += [(number, item) for item in wrong]
            for name in LUMINAIRE_COLUMNS if first else ():
                if cells.get(name, "") != first.get(name, "") and (duty is None or duty not in seen):
                    bad.append((number, Bad(column=name, problem=f"differs from row {first_row}",
                                            allowed=first.get(name, "") or "nothing")))
            if duty is not None and duty in seen:
                said = f"{cells['reference']!r} stands twice for {words(duty)}, in rows {seen[duty]} and {number}"
                twice = Bad(column="reference", problem=said, allowed="each reference once for each gear")
                bad += [(seen[duty], twice), (number, twice)]
            elif duty is not None:
                seen[duty] = number
            if gear is not None:
                gears.append(gear)
        if rating is not None and not bad:
            for missing in (gear.duty for gear in rating.gears if gear.duty not in seen):
                bad.append((first_row, Bad(column="gear", problem=f"there is no row for {words(missing)}",
                                           allowed=f"a row for each gear of type {rating.code}")))
        if bad:
            return None, bad
        return self._made(first_values, tuple(gears), tuple(rows)), []

    def _made(self, values: Values, gears: tuple[Gear, ...], rows: tuple[int, ...]) -> ScheduledLuminaire:
        reference, place, line, circuit, *_ = self._own(values)
        return ScheduledLuminaire(reference=reference, type_code=values[self._type], place=place, line=line or None,
                                  circuit=circuit or None, gears=gears, rows=rows)


def _is_text(cell: str, most: int) -> bool:
    return 0 < len(cell) <= most and cell.isprintable()


def _is_number(cell: str) -> bool:
    return 0 < len(cell) <= 3 and cell.isascii() and cell.isdecimal()


__all__ = ["OWN", "Reader", "ScheduledLuminaire"]
