"""Several columns of somebody else's file that fill one of ours: the parts of a place, the levels of scenes, or the same
thing said twice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from vault.domain.record import Record
from vault.domain.schema import specs
from vault.exchange.translation_columns import PLACE_PARTS, Ledger, ReadColumn

PLACE_MOST = dict(specs(Record))["place"].most
_PLACE_ORDER = ("building", "floor", "room", "grid", "place")


@dataclass(slots=True, kw_only=True)
class Source:
    """A column that fills one of ours. key: under which its readings say it. given: its texts, where they are not simply what
    its cells say.
    """

    column: ReadColumn
    key: str
    given: list[str] | None = None

    def values(self) -> list[str]:
        """One text for each row."""
        if self.given is not None:
            return self.given
        lookup = {cell: self.column.value(cell, self.key) for cell in self.column.readings}
        return [lookup[cell] for cell in self.column.cells]


def place_sources(columns: Sequence[ReadColumn]) -> list[Source]:
    """The columns that make up the place, from the building to the grid line."""
    found = [Source(column=column, key=key) for column in columns for key in (*PLACE_PARTS, "place") if key in column.names()]
    return sorted(found, key=lambda source: _PLACE_ORDER.index(source.key))


def joined_place(sources: Sequence[Source], ledger: Ledger) -> list[str]:
    """The place of each row, its parts with commas between them. One too long is a problem: nobody but the user may say
    what is left out of it.
    """
    lists = [source.values() for source in sources]
    memo: dict[tuple[str, ...], str] = {}
    out = []
    heading = " + ".join(source.column.heading for source in sources)
    for at, parts in enumerate(zip(*lists, strict=True)):
        place = memo.get(parts)
        if place is None:
            place = memo[parts] = ", ".join(dict.fromkeys(filter(None, parts)))
        if len(place) > PLACE_MOST and len(sources) > 1:
            ledger.reject(at, heading=heading, text=place, columns=["place"],
                          problem=f"the place put together has {len(place)} letters",
                          allowed=f"at most {PLACE_MOST}; map a column to ignore, or shorten its cells")
            place = ""
        out.append(place)
    return out


def scene_sources(columns: Sequence[ReadColumn]) -> list[Source]:
    """The columns that say levels of scenes, one scene each or all of them."""
    return [Source(column=column, key=key) for column in columns for key in column.names()
            if key == "scenes" or key.startswith("scene_")]


def joined_scenes(sources: Sequence[Source], ledger: Ledger) -> list[str]:
    """The levels of all scenes of each row in one text; a scene that two columns set differently is a problem."""
    memo: dict[tuple[str, ...], str | None] = {}
    out = []
    for at, parts in enumerate(zip(*(source.values() for source in sources), strict=True)):
        if parts not in memo:
            memo[parts] = _scenes(sources, parts)
        text = memo[parts]
        if text is None:
            ledger.reject(at, heading=" + ".join(source.column.heading for source in sources), text=" ".join(filter(None, parts)),
                          problem="the columns set a scene in two ways", allowed="each scene once", columns=["scenes"])
        out.append(text or "")
    return out


def _scenes(sources: Sequence[Source], parts: Sequence[str]) -> str | None:
    levels: dict[str, str] = {}
    whole: list[str] = []
    for source, part in zip(sources, parts, strict=True):
        pairs = [part] if ":" not in part else part.split()
        if source.key != "scenes" and part:
            pairs = [f"{source.key.removeprefix('scene_')}:{part}"]
        for pair in filter(None, pairs):
            number, colon, level = pair.partition(":")
            if not colon:
                whole.append(pair)
            elif levels.setdefault(number, level) != level:
                return None
    if whole and (levels or len(set(whole)) > 1):
        return None
    return whole[0] if whole else " ".join(f"{number}:{level}" for number, level in levels.items())


def agreed(name: str, sources: Sequence[Source], ledger: Ledger) -> list[str]:
    """The one text that all columns say; where two differ in a row, that is a problem and not decided here."""
    if len(sources) == 1:
        return sources[0].values()
    lists = [source.values() for source in sources]
    out = []
    for at, parts in enumerate(zip(*lists, strict=True)):
        said = {part: source for source, part in zip(reversed(sources), reversed(parts), strict=True) if part}
        if len(said) > 1:
            (first, one), (second, other), *_ = reversed(said.items())
            ledger.reject(at, heading=other.column.heading, text=other.column.cells[at], columns=[name],
                          problem=f"says {second}, but column {one.column.heading!r} of the same row says {first}",
                          allowed="the same in both columns, or one of them empty")
        out.append(next(iter(said)) if len(said) == 1 else "")
    return out
