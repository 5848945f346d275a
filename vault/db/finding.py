"""Luminaires looked for by what is known of them: the index narrows, and what it finds is then verified."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sqlalchemy import ColumnElement, Select, exists, func, or_, select

from vault.db import tables
from vault.db.heads import among, lots
from vault.db.newest import IS_HEAD
from vault.db.prepared import Prepared
from vault.db.queries import RecordRow
from vault.db.session import Session
from vault.domain.record import Record
from vault.domain.tag import from_bytes
from vault.trust.statements import Kind

_R, _G, _E, _J = tables.record.c, tables.gear.c, tables.label_event.c, tables.journal.c
_COLUMNS = tuple(_R[name] for name in RecordRow.__slots__)
_SIGHTED = Prepared(select(_E.tag, _E.place).distinct().join(tables.journal, (_J.log == tables.MAIN) & (_J.seq == _E.seq))
                    .where(_J.log == tables.MAIN, _J.kind == int(Kind.LABEL_SIGHTING)))
LEAST_OF_A_TAG = 4  # characters; fewer are found in too many tags


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What is known of a luminaire; all that is given has to hold. text: in its reference, place, line, a driver's serial
    number, or four characters and more of its tag. place, serial: a part of it is enough; the others are whole.
    """

    text: str | None = None
    place: str | None = None
    type_code: str | None = None
    line: str | None = None
    circuit: str | None = None
    serial: str | None = None
    tags: Sequence[str] | None = None


def _pattern(text: str) -> str:
    """A LIKE pattern for a text anywhere, the database's own signs taken as they are.

    Databases differ in what they hold for upper and lower case beyond ASCII: there any one character will do, and whoever
    asks looks again at what is signed.
    """
    escaped = "".join(f"\\{one}" if one in "%_\\" else one if one.isascii() else "_" for one in text.lower())
    return f"%{escaped}%"


def _like(column: ColumnElement[str | None], text: str) -> ColumnElement[bool]:
    return func.lower(column).like(_pattern(text), escape="\\")


def _clean(text: str) -> str:
    return " ".join(text.split())


def _tag_part(text: str) -> str | None:
    part = "".join(text.split()).replace("-", "").upper().translate(str.maketrans("OIL", "011"))
    return part if len(part) >= LEAST_OF_A_TAG and part.isascii() and part.isalnum() else None


def _serial_like(text: str) -> ColumnElement[bool]:
    return exists().where(_G.seq == _R.seq, _like(_G.serial, text))


def _conditions(session: Session, wanted: Wanted) -> Iterator[ColumnElement[bool]]:
    yield IS_HEAD
    if wanted.text is not None:
        text, part = _clean(wanted.text), _tag_part(wanted.text)
        held = [*(_like(column, text) for column in (_R.reference, _R.place, _R.line)), _serial_like(text)]
        yield or_(*held, *([_R.tag.contains(part)] if part else []))
    if wanted.place is not None:
        yield _like(_R.place, _clean(wanted.place))
    if wanted.serial is not None:
        yield _serial_like(_clean(wanted.serial))
    if wanted.tags is not None:
        yield among(session.connection, _R.tag, wanted.tags)
    for column, name in ((_R.type_code, wanted.type_code), (_R.line, wanted.line), (_R.circuit, wanted.circuit)):
        if name is not None:
            yield column.in_(sorted({name.strip(), name.strip().upper(), name.strip().lower()}))


def taken_conditions(wanted: Wanted) -> list[ColumnElement[bool]]:
    """What holds of the index over luminaires taken over where everything wanted may hold; serials and tags are not asked."""
    t = tables.taken_record.c
    found: list[ColumnElement[bool]] = []
    if wanted.text is not None:
        text, part = _clean(wanted.text), _tag_part(wanted.text)
        found.append(or_(*(_like(column, text) for column in (t.reference, t.place, t.line)),
                         *([t.tag.contains(part)] if part else [])))
    if wanted.place is not None:
        found.append(_like(t.place, _clean(wanted.place)))
    for column, name in ((t.type_code, wanted.type_code), (t.line, wanted.line), (t.circuit, wanted.circuit)):
        if name is not None:
            found.append(column.in_(sorted({name.strip(), name.strip().upper(), name.strip().lower()})))
    return found


def _rows(session: Session, query: Select[tuple[object, ...]]) -> list[RecordRow]:
    return [RecordRow(**row._mapping) for row in session.connection.execute(query)]


def search(session: Session, wanted: Wanted) -> list[RecordRow]:
    """Heads of which everything wanted holds by the index, whatever its case, by reference and tag.

    Beyond ASCII there may be more of them: see `says`.
    """
    return _rows(session, select(*_COLUMNS).where(*_conditions(session, wanted)).order_by(_R.reference, _R.tag, _R.seq))


def says(record: Record, wanted: Wanted) -> bool:
    """Whether everything wanted holds by what is signed."""
    serials = [gear.serial for gear in record.gears]
    if wanted.text is not None:
        part = _tag_part(wanted.text)
        held = _holds([record.reference, record.place, record.line, *serials], wanted.text)
        if not held and not (part and part in from_bytes(record.tag)):
            return False
    return ((wanted.place is None or _holds([record.place], wanted.place))
            and (wanted.serial is None or _holds(serials, wanted.serial)))


def _holds(said: Sequence[str | None], text: str) -> bool:
    looked_for = _clean(text).casefold()
    return any(looked_for in one.casefold() for one in said if one is not None)


def places(session: Session) -> list[str]:
    """Every place that a version of a luminaire names, each once."""
    return list(session.connection.execute(select(_R.place).distinct().order_by(_R.place)).scalars())


def heads_at(session: Session, named: Sequence[str]) -> list[RecordRow]:
    """Heads at places of these very names, in the order of the journal."""
    found = [row for some in lots(named)
             for row in _rows(session, select(*_COLUMNS).where(among(session.connection, _R.place, some), IS_HEAD))]
    return sorted(found, key=lambda row: row.seq)


def sightings(session: Session) -> list[tuple[str, str]]:
    """(tag, place) of every label that was ever found elsewhere than with its luminaire, each once."""
    return [(row[0], row[1]) for row in _SIGHTED.rows(session.connection)]
