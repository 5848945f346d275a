"""From a COBie workbook to a table of luminaires under our headings, with everything told that was not taken."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from vault.exchange.asked import Choice, FileQuestion
from vault.exchange.cobie_attributes import Attributes, attribute_columns
from vault.exchange.cobie_book import CobieBook, CobieRow, Left, is_cobie, open_book
from vault.exchange.cobie_layout import SYSTEM
from vault.exchange.cobie_light import Judged, Light, judge_type
from vault.exchange.cobie_places import places_of, systems_of
from vault.exchange.raw_table import RawTable
from vault.exchange.schedule_columns import EXTRA, LUMINAIRE_COLUMNS

MOST_REFERENCE = 24  # letters that a record holds (vault/domain/record.py)
LUMINAIRE, OTHER = "luminaire", "other"
SERIAL_KEY = "SerialNumber: whose"
REFERENCE_KEY = "Component: reference"


@dataclass(frozen=True, slots=True, kw_only=True)
class CobieType:
    """A type of the workbook. taken: whether its components are taken as luminaires; because: why or why not."""

    name: str
    category: str
    components: int
    taken: bool
    because: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CobieRead:
    """What a COBie workbook holds of luminaires.

    table: under our headings; row n is row n of the sheet Component, empty where it is no luminaire; second gears stand below.
    left: rows that were not taken. noted: rows that were taken with a remark, row 1 of a sheet for its columns. counts: rows of
    each sheet, and "luminaires". ours: whether gearkeep wrote all luminaires; the table's cells then are what the strict
    reader of schedules takes.
    """

    table: RawTable
    questions: tuple[FileQuestion, ...]
    left: tuple[Left, ...]
    noted: tuple[Left, ...]
    counts: Mapping[str, int]
    types: tuple[CobieType, ...]
    ours: bool


def type_key(name: str) -> str:
    """The key of the question whether a type is a luminaire."""
    return f"{name}: is it a luminaire"


def luminaire_table(tables: Sequence[RawTable], answers: Mapping[str, str] | None = None,
                    only_types: Sequence[str] | None = None) -> CobieRead:
    """The luminaires of a COBie workbook. answers: FileQuestion.key -> word. only_types: the names of the types to be taken,
    whatever their words say. Raises FileProblem for what is no COBie workbook."""
    answers = answers or {}
    book = open_book(tables)
    types = book.named("Type")
    judged = {name: judge_type(name, row.get("Category"), row.get("Description")) for name, row in types.items()}
    taken = {name for name, one in judged.items() if _is_taken(name, one, answers, only_types)}
    components, of_type = _components(book, types, judged, taken)
    questions = [_ask_type(name, judged[name], of_type[name]) for name in types
                 if judged[name].light is Light.DOUBT and only_types is None and type_key(name) not in answers and of_type[name]]
    table = _table(book, components, answers, questions)
    said = set(types) if only_types is not None else {name for name in types if type_key(name) in answers}
    listed = tuple(CobieType(name=name, category=row.get("Category"), components=of_type[name], taken=name in taken,
                             because="you said so" if name in said else judged[name].because)
                   for name, row in types.items())
    return CobieRead(table=table, questions=tuple(questions), left=tuple(book.left), noted=tuple(book.noted), types=listed,
                     counts=book.counts | {"luminaires": len(components)}, ours=_ours(components))


def _is_taken(name: str, judged: Judged, answers: Mapping[str, str], only_types: Sequence[str] | None) -> bool:
    if only_types is not None:
        return name in {one.strip() for one in only_types}
    said = answers.get(type_key(name))
    return said == LUMINAIRE if said else judged.light is Light.YES


def _ask_type(name: str, judged: Judged, components: int) -> FileQuestion:
    return FileQuestion(
        key=type_key(name), says=f"Is the type {name} a luminaire? {judged.because[0].upper()}{judged.because[1:]}.",
        choices=(Choice(word=LUMINAIRE, says="take its components"), Choice(word=OTHER, says="leave them")),
        likely=OTHER, heading="Type", count=components)


def _components(book: CobieBook, types: Mapping[str, CobieRow], judged: Mapping[str, Judged],
                taken: set[str]) -> tuple[list[tuple[CobieRow, CobieRow]], Counter[str]]:
    """The components that are luminaires, each with its type; and how many components each type has."""
    of_type: Counter[str] = Counter()
    kept: list[tuple[CobieRow, CobieRow]] = []
    for name, row in book.named("Component").items():
        kind = book.resolve("Component", row, "TypeName", types)
        if kind is None:
            said = row.get("TypeName")
            why = f"its type {said!r} is not in the sheet Type" if said else "it has no type"
            book.left.append(Left(sheet="Component", row=row.number, name=name, why=why))
            continue
        of_type[kind.name] += 1
        if kind.name in taken:
            kept.append((row, kind))
        else:
            doubt = "" if judged[kind.name].light is not Light.DOUBT else "perhaps "
            book.left.append(Left(sheet="Component", row=row.number, name=name,
                                  why=f"its type {kind.name} is {doubt}no luminaire"))
    for name in types:
        if name not in taken:
            book.left.append(Left(sheet="Type", row=types[name].number, name=name, why=judged[name].because))
    return kept, of_type


_REFERENCES = {
    "tag-number": ("TagNumber, or the name where that is empty", ("TagNumber", "Name")),
    "name": ("Name", ("Name",)),
    "asset-identifier": ("AssetIdentifier", ("AssetIdentifier",)),
    "bar-code": ("BarCode", ("BarCode",)),
    "end-of-name": ("what stands behind the last colon of Name", ("Name",)),
    "ext-identifier": ("ExtIdentifier", ("ExtIdentifier",)),
}


def _reference(row: CobieRow, word: str) -> str:
    said = next((row.get(column) for column in _REFERENCES[word][1] if row.get(column)), "")
    return said.rpartition(":")[2].strip() if word == "end-of-name" else said


def _references(components: Sequence[tuple[CobieRow, CobieRow]], answers: Mapping[str, str],
                questions: list[FileQuestion]) -> dict[str, str]:
    """Component -> its drawing reference. Asked where TagNumber and Name are too long or stand twice."""
    made = {word: [_reference(row, word) for row, _ in components] for word in _REFERENCES}
    good = [word for word, said in made.items()
            if all(said) and len(set(said)) == len(said) and max(map(len, said), default=0) <= MOST_REFERENCE]
    word = answers.get(REFERENCE_KEY, "")
    if word not in _REFERENCES:
        word = good[0] if good else "tag-number"
        if components and word not in ("tag-number", "name"):
            questions.append(FileQuestion(
                key=REFERENCE_KEY, heading="Component", count=len(components), likely=word,
                says="Which column is the drawing reference? TagNumber and Name stand twice, or are longer than "
                     f"{MOST_REFERENCE} letters.",
                choices=tuple(Choice(word=one, says=_REFERENCES[one][0]) for one in good),
                examples=tuple((row.number, row.name) for row, _ in components[:3])))
    return {row.name: said for (row, _), said in zip(components, made[word], strict=True)}


def _ours(components: Sequence[tuple[CobieRow, CobieRow]]) -> bool:
    return bool(components) and all(row.get("ExtSystem") == SYSTEM for row, _ in components)


def _serial_column(components: Sequence[tuple[CobieRow, CobieRow]], answers: Mapping[str, str],
                   questions: list[FileQuestion]) -> str:
    filled = [(row.number, row.get("SerialNumber")) for row, _ in components if row.get("SerialNumber")]
    word = answers.get(SERIAL_KEY, "driver" if _ours(components) else "")
    if filled and not word:
        questions.append(FileQuestion(
            key=SERIAL_KEY, heading="SerialNumber", count=len(filled), examples=tuple(filled[:3]), likely="luminaire",
            says="Whose serial number stands in SerialNumber?",
            choices=(Choice(word="luminaire", says="the luminaire's; it is kept beside the settings"),
                     Choice(word="driver", says="the driver's"), Choice(word="ignore", says="leave it"))))
    return {"driver": "serial", "ignore": ""}.get(word, f"{EXTRA}SerialNumber") if filled else ""


def _table(book: CobieBook, components: Sequence[tuple[CobieRow, CobieRow]], answers: Mapping[str, str],
           questions: list[FileQuestion]) -> RawTable:
    places, numbers = places_of(book, [row for row, _ in components]), _references(components, answers, questions)
    systems = systems_of(book, {row.name for row, _ in components})
    serial = _serial_column(components, answers, questions)
    attributes: Attributes = attribute_columns(book, components)
    cells: dict[int, dict[str, str]] = {}
    for row, kind in components:
        own = {"reference": numbers[row.name], "type": kind.name, "place": places[row.name], **systems.get(row.name, {})}
        own |= {serial: row.get("SerialNumber")} if serial and row.get("SerialNumber") else {}
        cells[row.number] = attributes.cells.get(row.name, {}) | own
    # A second gear is a row of its own, below those of the sheet.
    below = max((row.number for row in book.rows("Component")), default=1)
    by_name = {row.name: cells[row.number] for row, _ in components}
    for number, ((name, _), gear) in enumerate(attributes.further.items(), start=below + 1):
        cells[number] = {column: by_name[name][column] for column in LUMINAIRE_COLUMNS if column in by_name[name]} | gear
    first = ("reference", "type", "place", "line", "circuit", "serial", f"{EXTRA}System", f"{EXTRA}SerialNumber")
    used = {column for row in cells.values() for column in row}
    headings = ([column for column in first if column in used or column in ("reference", "type", "place")]
                + [column for column in attributes.headings if column in used and column not in first])
    at = {number: tuple(row.get(heading, "") for heading in headings) for number, row in cells.items()}
    rows = [tuple(headings), *(at.get(number, ()) for number in range(2, max(at, default=1) + 1))]
    _tell_spares(book)
    return RawTable(file=book.file, sheet="Component", rows=rows,
                    made_of=f"COBie workbook, {len(components)} of {book.counts['Component']} components taken as luminaires")


def _tell_spares(book: CobieBook) -> None:
    for row in book.rows("Spare"):
        book.left.append(Left(sheet="Spare", row=row.number, name=row.name,
                              why="spares are received with gearkeep stock receive"))


__all__ = ["CobieRead", "CobieType", "Left", "is_cobie", "luminaire_table"]
