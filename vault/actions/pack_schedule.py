"""The pack's as-built schedule and its matrix of groups and scenes, by line and address."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import groupby

from vault.actions.pack_gather import AsBuilt, BuiltGear, natural, state_words
from vault.domain.apply_means import controls_of
from vault.domain.levels import level_words
from vault.domain.schema import NOT_SET, words
from vault.domain.settings import Control, Curve, Duty, Gear, Protocol
from vault.domain.site import Line, LineKind
from vault.domain.units import ma, mv, mv_range
from vault.exchange.pack_paper import PaperSection, PaperTable
from vault.trust.signers import day_of

_MASK = 255
CENTRAL = "Addresses on a central battery circuit are numbered from 1."
UNKNOWN, LEFT = "?", "–"  # not on record; left as the driver has it
_SCHEDULE = ("Address", "Tag", "Reference", "Place", "Type", "Driver", "Set to", "Circuit", "Record")
_SCHEDULE_WIDTHS = (34, 56, 48, 100, 28, 76, 88, 32, 69)
_KINDS = ("Line", "Central battery circuit", "Without a control line")


def by_group(gears: Iterable[BuiltGear]) -> Iterator[tuple[str, str, list[BuiltGear]]]:
    """(key, title, gear) of every line, circuit and the rest, in the order of the schedule."""
    for (kind, name), some in groupby(gears, key=lambda built: built.group):
        yield f"{kind}-{name}", f"{_KINDS[kind]} {name}".strip(), list(some)


def numbering(line: Line | None, name: str) -> str:
    """How addresses on a line are written, in a sentence."""
    if line is None:
        return f"The line {name} is not in the vault's catalogue; its addresses stand as on the bus, numbered from 0."
    if line.kind is LineKind.CENTRAL_BATTERY_BUS:
        return CENTRAL
    if line.addresses_from:
        return f"Addresses on line {line.name} are numbered from 1; on the bus they are one less, 0 to 63."
    return f"Addresses on line {line.name} are numbered from 0, as on the bus."


def schedule(built: AsBuilt) -> PaperSection:
    """Every gear in service by line, then address."""
    return PaperSection(
        key="schedule", title="As-built luminaire and addressing schedule",
        paragraphs=("One row for each driver. The newest signed version of each luminaire counts. A row in bold with a bar "
                    "beside it is not settled: its record says why.",),
        parts=tuple(PaperSection(key=f"schedule-{key}", title=title, paragraphs=_where(some),
                                 tables=(_table(some),)) for key, title, some in by_group(built.gears)))


def _where(some: list[BuiltGear]) -> tuple[str, ...]:
    kind, name = some[0].group
    many = len({one.seen.tag for one in some})
    said = f"{many} {'luminaire' if many == 1 else 'luminaires'}, {len(some)} {'driver' if len(some) == 1 else 'drivers'}."
    if kind == 1:
        return (f"{said} {CENTRAL}",)
    line = some[0].line
    titled = f" {line.title}." if line is not None and line.title else ""
    return (f"{said}{titled} {numbering(line, name)}" if kind == 0 else said,)


def _table(some: list[BuiltGear]) -> PaperTable:
    rows = [(one.address or "–", one.tag, one.reference or "–", one.record.place, one.record.fixture_type.code,
             driver_words(one.gear), set_to(one.gear), one.record.circuit or "–", record_words(one)) for one in some]
    return PaperTable(headings=_SCHEDULE, widths=_SCHEDULE_WIDTHS, rows=rows, loud=loud_rows(some))


def loud_rows(some: Iterable[BuiltGear]) -> frozenset[int]:
    """Rows of luminaires that are not settled."""
    return frozenset(number for number, one in enumerate(some) if one.states)


def driver_words(gear: Gear) -> str:
    """Model, and what it is for where that is not general lighting."""
    duty = "" if gear.duty is Duty.GENERAL else f", {words(gear.duty).replace('-', ' ')}"
    return f"{gear.model or 'model not recorded'}{duty}"


def set_to(gear: Gear) -> str:
    """The drive current or voltage of each channel with its voltage window."""
    said = []
    for channel in gear.settings.channels:
        colour = f" {words(channel.colour).replace('-', ' ')}" if channel.colour is not None else ""
        figure = ma(channel.current_ma) if channel.current_ma is not None else (
            mv(channel.voltage_mv) if channel.voltage_mv is not None else "not recorded")
        low, high = channel.voltage_min_mv, channel.voltage_max_mv
        said.append(f"{figure}{colour}" + (f", {mv_range(low, high)}" if low is not None and high is not None else ""))
    return "; ".join(said)


def record_words(one: BuiltGear) -> str:
    """Version, signer's code, day, and what is not settled."""
    loud = "".join(f"{state_words(state)} " for state in one.states)
    return f"{loud}v{one.record.version} {one.signer} {day_of(one.record.time_s)}"


def matrix(built: AsBuilt) -> PaperSection:
    """Which address is a member of which group, and its level in each scene, line by line."""
    parts, without = [], []
    for key, title, some in by_group(built.gears):
        rows = [(one, control) for one in some for _, control in controls_of(one.gear.settings)
                if control.protocol is Protocol.DALI]
        if rows:
            parts.append(_of_line(key, title, rows))
        else:
            without.append(title[:1].lower() + title[1:])
    silent = (f"No DALI gear: {', '.join(sorted(without, key=natural))}.",) if without else ()
    return PaperSection(key="matrix", title="Groups and scenes", parts=tuple(parts), paragraphs=(
        "Membership of groups 0 to 15, and the level that each gear takes in scenes 0 to 15 (IEC 62386-102). An empty cell: no "
        "member; in a scene, MASK: the gear stays as it is. ? is not on record, – is left as the driver has it.", *silent))


def _of_line(key: str, title: str, rows: list[tuple[BuiltGear, Control]]) -> PaperSection:
    numbers = tuple(map(str, range(16)))
    loud = loud_rows([one for one, _ in rows])
    groups = [(one.address or "–", one.reference or one.tag, *_groups(control)) for one, control in rows]
    scenes = [(one.address or "–", one.reference or one.tag, *_scenes(control)) for one, control in rows]
    tables = [PaperTable(headings=("Address", f"{what} of", *numbers), widths=(36, 62, *(27,) * 16), rows=cells, loud=loud)
              for what, cells in (("Groups", groups), ("Scenes", scenes)) if any(row[2] != UNKNOWN for row in cells)]
    silent = [f"No {what} are on record." for what, cells in (("groups", groups), ("scenes", scenes))
              if all(row[2] == UNKNOWN for row in cells)]
    used = {(level, control.curve if isinstance(control.curve, Curve) else None)
            for _, control in rows if isinstance(control.scenes, tuple) for level in control.scenes if level != _MASK}
    said = "; ".join(level_words(*one) for one in sorted(used, key=lambda pair: (-pair[0], str(pair[1]))))
    return PaperSection(key=f"matrix-{key}", title=title, tables=tables,
                        paragraphs=(*([f"Levels used: {said}."] if said else []), *silent))


def _groups(control: Control) -> tuple[str, ...]:
    if not isinstance(control.groups, int):
        return (LEFT if control.groups is NOT_SET else UNKNOWN,) * 16
    return tuple("X" if control.groups >> number & 1 else "" for number in range(16))


def _scenes(control: Control) -> tuple[str, ...]:
    if not isinstance(control.scenes, tuple):
        return (LEFT if control.scenes is NOT_SET else UNKNOWN,) * 16
    return tuple("" if level == _MASK else str(level) for level in control.scenes)
