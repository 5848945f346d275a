"""One cell of somebody else's schedule, read as its column's field says; each field has a module of its own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from vault.exchange.cell_reading import ColumnFacts, Reading, Said
from vault.exchange.raw_table import Oddity, Remark
from vault.exchange.schedule_columns import EXTRA, LUMINAIRE_COLUMNS
from vault.exchange.values_address import read_address
from vault.exchange.values_central import read_central, read_central_address, read_line_address
from vault.exchange.values_count import read_fade, read_kelvin, read_percent, read_quantity, read_supply
from vault.exchange.values_current import read_current
from vault.exchange.values_date import as_typed, date_in, offered
from vault.exchange.values_duration import read_duration, read_interval
from vault.exchange.values_group import read_groups, read_scenes
from vault.exchange.values_level import read_level, read_limits
from vault.exchange.values_mode import read_emergency_supply, read_mode
from vault.exchange.values_number import MARK, POINT, joined
from vault.exchange.values_parts import (
    ABOVE,
    AS_IT_STANDS,
    NOT_TAKEN,
    SIEHE_OBEN,
    Ask,
    FieldReader,
    Option,
    decide,
    is_ditto_mark,
    nothing_said,
    plain_cell,
    refuse,
)
from vault.exchange.values_power import read_power
from vault.exchange.values_strict import is_own, is_strict
from vault.exchange.values_voltage import read_voltage, read_voltage_window
from vault.exchange.values_word import read_control, read_curve, read_gear, read_ip, read_protection_class

# Columns that hold names, which are taken as they stand.
NAMES = frozenset((*LUMINAIRE_COLUMNS, "driver", "serial", "central_circuit", "building", "floor", "room", "grid", "board"))
LONGEST = 200

_CHANNELS = ("", "_2", "_3", "_4")
_READERS: Mapping[str, FieldReader] = {
    "gear": read_gear, "control": read_control, "address": read_address, "central_address": read_central_address,
    "scenes": read_scenes, "curve": read_curve, "groups": read_groups,
    **dict.fromkeys(("min_level", "max_level", "power_on_level", "system_failure_level",
                     *(f"scene_{number}" for number in range(16))), read_level),
    **dict.fromkeys(("fade_time", "fade_rate", "extended_fade"), read_fade),
    **dict.fromkeys(("coolest_k", "warmest_k"), read_kelvin),
    **dict.fromkeys((*(f"current{channel}_ma" for channel in _CHANNELS), "emergency_current_ma"), read_current),
    **dict.fromkeys((*(f"power{channel}_w" for channel in _CHANNELS), "emergency_power_w"), read_power),
    **dict.fromkeys((f"voltage{kind}{channel}_v" for kind in ("", "_min", "_max") for channel in _CHANNELS), read_voltage),
    "emergency_mode": read_mode, "emergency_supply": read_emergency_supply,
    **dict.fromkeys(("duration_min", "duration"), read_duration),
    **dict.fromkeys(("function_test_days", "duration_test_weeks", "test_delay_min", "prolong_s"), read_interval),
    **dict.fromkeys(("emergency_level_percent", "dc_level_percent"), read_percent),
    "quantity": read_quantity, "voltage_window": read_voltage_window, "supply": read_supply, "ip": read_ip,
    "protection_class": read_protection_class, "line_address": read_line_address, "limits": read_limits, "central": read_central,
}
_HAVE_NONE = frozenset(("groups", "scenes", "control", "emergency_mode"))


def read_cell(text: str, facts: ColumnFacts, remark: Remark | None = None) -> Reading:
    """What a cell says in our columns.

    Keys of `Said.values` are our columns, or a field of `schedule_fields.FOREIGN_FIELDS` that is not a column of ours:
    building, floor, room, grid, board (texts as they stand), quantity ("2"), protection_class ("class-i"), ip ("IP20",
    "IP20/44"), supply_v ("230", "220-240") with supply_kind ("ac", "dc", "ac/dc", "" where none is said), scene_0 …
    scene_15 ("229", "mask"). An address stands as the file counts it; `answers["numbering"]` says from where.
    """
    try:
        return _said(text, facts, remark)
    except Ask as asked:
        return asked.reading


def _said(text: str, facts: ColumnFacts, remark: Remark | None) -> Said:
    stripped = text.strip()
    field = facts.field
    if field.startswith(EXTRA):
        return Said(values={field: stripped} if stripped else {}, rule=AS_IT_STANDS)
    plain = plain_cell(text[: LONGEST * 5])
    dated = date_in(plain, remark) if offered(field) else None
    if dated is None and stripped and field not in NAMES and is_own(facts.heading, field) and is_strict(field, stripped):
        return Said(values={field: stripped}, rule=AS_IT_STANDS)
    names = field in NAMES
    why = nothing_said(plain, names=names, has_none=field in _HAVE_NONE)
    if why:
        return Said(values={}, rule=why)
    if is_ditto_mark(plain):
        raise refuse(f"{stripped} stands for what is above, and nothing is known to stand there", "the value itself")
    if plain.casefold() in SIEHE_OBEN:
        return _above_or_nothing(plain, facts)
    if dated is not None:
        typed = as_typed(plain, dated, facts)
        said = Said(values={field: typed}, rule="") if names else _READERS[field](typed, facts)
        return replace(said, rule=joined(f"the date {plain} was typed as {typed}, as answered", said.rule))
    if names:
        return Said(values={field: stripped}, rule=AS_IT_STANDS)
    if len(plain) > LONGEST:
        raise refuse(f"{plain[:40]!r}… is too long", f"at most {LONGEST} letters")
    if remark is not None and remark.oddity is Oddity.NUMBER:
        # A number in a workbook has no marks that could be taken for one another.
        facts = replace(facts, answers={**facts.answers, MARK: POINT})
        if field == "groups":
            return read_groups(plain, facts, remark)
    return _READERS[field](plain, facts)


def _above_or_nothing(plain: str, facts: ColumnFacts) -> Said:
    above = Option(word=ABOVE, says="siehe oben: what stands above")
    nothing = Option(word=NOT_TAKEN.word, says="sans objet: these cells say nothing")
    picked = decide(facts, f"is {plain}", f"{plain} is German for as above and French for does not apply. Which is it?",
                    (above, nothing))
    return Said(values={}, rule=f"{plain}: {picked.says}, as answered")


def is_ditto(text: str, facts: ColumnFacts | None = None) -> bool:
    """Whether a cell says "as above" ("dto.", "idem", '"'). "s.o." is German for that and French for "does not apply":
    only an answer in `facts` makes it one, and `read_cell` asks."""
    plain = plain_cell(text)
    if plain.casefold() in SIEHE_OBEN:
        return facts is not None and facts.answers.get(f"is {plain}") == ABOVE
    return is_ditto_mark(plain)
