"""Where a COBie workbook's components are: their floor and space, and the systems that hold them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from vault.exchange.cobie_book import CobieBook, CobieRow, Left, references
from vault.exchange.schedule_columns import EXTRA

MOST_PLACE = 40  # letters that a record holds (vault/domain/record.py)
LINE, CIRCUIT = "Control line", "Final circuit"  # categories of the systems that we write
NO_FLOOR = "Not stated"  # COBie wants a floor for every space; our places need not name one


def places_of(book: CobieBook, components: Sequence[CobieRow]) -> dict[str, str]:
    """Component -> its place, floor and space in at most 40 letters. What does not resolve is noted."""
    floors, spaces = book.named("Floor"), book.named("Space")
    floor_of: dict[str, str] = {}
    for name, row in spaces.items():
        floor = book.resolve("Space", row, "FloorName", floors)
        floor_of[name] = floor.name if floor else row.get("FloorName")
        if floor is None and row.get("FloorName"):
            book.noted.append(Left(sheet="Space", row=row.number, name=name,
                                   why=f"its floor {row.get('FloorName')} is not in the sheet Floor"))
    places: dict[str, str] = {}
    for row in components:
        space, remarks = _space(book, row, spaces)
        floor_name = floor_of.get(space.name, "") if space else ""
        place, cut = _place("" if floor_name == NO_FLOOR else floor_name, space.name if space else row.get("Space"),
                            space.get("Description") if space else "")
        places[row.name] = place
        remarks += ["its place is longer than 40 letters and was cut"] if cut else []
        book.noted += [Left(sheet="Component", row=row.number, name=row.name, why=why) for why in remarks]
    return places


def _space(book: CobieBook, row: CobieRow, spaces: Mapping[str, CobieRow]) -> tuple[CobieRow | None, list[str]]:
    found = book.resolve("Component", row, "Space", spaces)
    said = row.get("Space")
    if found is not None or not said:
        return found, []
    named = [target for _, target in references(said, spaces) if target is not None]
    if not named:
        return None, [f"its space {said} is not in the sheet Space"]
    return named[0], [f"it lies in several spaces ({said}); the first counts"]


def _place(floor: str, space: str, description: str) -> tuple[str, bool]:
    """Floor, space and what the space is, as much of it as 40 letters hold; the space is the last to be left off."""
    full = f"{space} {description}" if description and description != space else space
    if space.startswith(f"{floor}, "):
        floor = ""  # a space that is named after its floor says it already
    for said in (", ".join(filter(None, (floor, full))), ", ".join(filter(None, (floor, space))), full, space):
        if len(said) <= MOST_PLACE:
            return said, False
    return space[:MOST_PLACE - 1].rstrip() + "…", True


def systems_of(book: CobieBook, components: set[str]) -> dict[str, dict[str, str]]:
    """Component -> column (line, circuit, extra:System) -> the system that holds it. Systems without luminaires are left."""
    known = {row.name: row for row in book.rows("Component")}
    found: dict[str, dict[str, str]] = {}
    for row in book.rows("System"):
        column = {LINE: "line", CIRCUIT: "circuit"}.get(row.get("Category"), f"{EXTRA}System")
        held = [name for name in _members(book, row, known) if name in components]
        for name in held:
            columns = found.setdefault(name, {})
            if column not in columns:
                columns[column] = row.name
            elif column.startswith(EXTRA):
                columns[column] += f"; {row.name}"
            else:
                book.left.append(Left(sheet="System", row=row.number, name=row.name,
                                      why=f"{name} is in the {column} {columns[column]} already"))
        if not held:
            book.left.append(Left(sheet="System", row=row.number, name=row.name, why="it holds no luminaire"))
    return found


def _members(book: CobieBook, row: CobieRow, known: Mapping[str, CobieRow]) -> Iterator[str]:
    for name, component in references(row.get("ComponentNames"), known):
        if component is None:
            book.noted.append(Left(sheet="System", row=row.number, name=row.name, why=f"it names {name}, which is no component"))
        else:
            yield name
