"""What is to be done today as a screen of text: every topic has a line, and what finds no room is counted."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from vault.spares.today import TOPIC_WORDS, Task, Today, Topic

COLUMNS, LINES = 80, 24
_COMMAND, _GAP = 30, "  "  # columns that a command has in any case
WHOLE = "stock today --all"
_ALL_OF = {Topic.BELOW: "reorder", Topic.TO_ORDER: "reorder", Topic.NO_SPARE: "cover"}
_NOTHING_LINES = 12


def screen(today: Today, *, columns: int = COLUMNS, lines: int = LINES) -> list[str]:
    """At most so many lines of at most so many columns, one line less for the prompt that follows. columns: 60 or more; lines:
    16 or more.
    """
    room = lines - 1
    if not today.tasks:
        return _nothing(today, columns, room)
    shares = _shares([len(today.of(topic)) for topic in Topic], room - 2)
    shown = [cut(_title(today), columns)]
    for topic, share in zip(Topic, shares, strict=True):
        shown += _topic_lines(topic, today.of(topic), share, columns)
    shown.append(cut(f'Commands are typed after "gearkeep". All of it, uncut: {WHOLE}', columns))
    none = [TOPIC_WORDS[topic].lower() for topic in Topic if not today.of(topic)]
    beside = textwrap.wrap(f"Nothing of: {', '.join(none)}.", columns) if none else []
    return shown + beside if len(shown) + len(beside) <= room else shown


def whole(today: Today) -> list[str]:
    """Every task uncut, its command on a line of its own, and what was looked at."""
    shown = [_title(today)]
    for topic in Topic:
        for task in today.of(topic):
            shown += [f"{_mark(task)} {TOPIC_WORDS[topic]}: {task.what}", f"      gearkeep {task.command}"]
    return [*shown, f"Looked at: {'; '.join(today.looked)}."]


def cut(said: str, columns: int) -> str:
    """The text, an ellipsis at its end where it was too long. A line break is a space; what cannot be seen is a ?."""
    from rich.cells import cell_len, set_cell_size  # letters of some scripts take two columns

    said = _seen(said)
    return said if cell_len(said) <= columns else set_cell_size(said, columns - 1).rstrip() + "…"


def _seen(said: str) -> str:
    return "".join(one if one.isprintable() else "?" for one in " ".join(said.split()))


def _title(today: Today) -> str:
    count, vital = len(today.tasks), today.vital
    if not count:
        return f"{today.day}: nothing to do today. {today.site}"
    grave = f", {vital} of them vital (!)" if vital else ", none of them vital"
    return f"{today.day}: {count} {'thing' if count == 1 else 'things'} to do{grave}. {today.site}"


def _mark(task: Task) -> str:
    return "!" if task.vital else "?" if task.unknown else " "


def _nothing(today: Today, columns: int, room: int) -> list[str]:
    told = textwrap.wrap(_seen(f"Looked at: {'; '.join(today.looked)}."), columns)
    most = min(_NOTHING_LINES, room - 1)
    if len(told) > most:
        told = [*told[: most - 1], cut(f"and more: gearkeep {WHOLE}", columns)]
    return [cut(_title(today), columns), *told]


def _shares(counts: Sequence[int], room: int) -> list[int]:
    """Lines for each topic: one for each that has any, then one more in turn while there is room."""
    shares = [min(count, 1) for count in counts]
    left = room - sum(shares)
    while left > 0 and any(share < count for share, count in zip(shares, counts, strict=True)):
        for number, count in enumerate(counts):
            if left and shares[number] < count:
                shares[number] += 1
                left -= 1
    return shares


def _topic_lines(topic: Topic, tasks: Sequence[Task], share: int, columns: int) -> list[str]:
    if len(tasks) <= share:
        return [_line(_mark(task), f"{TOPIC_WORDS[topic]}: {task.what}", task.command, columns) for task in tasks]
    told, rest = tasks[: share - 1], tasks[share - 1 :]
    shown = [_line(_mark(task), f"{TOPIC_WORDS[topic]}: {task.what}", task.command, columns) for task in told]
    return [*shown, _line("!" if any(task.vital for task in rest) else "?" if any(task.unknown for task in rest) else " ",
                          f"{TOPIC_WORDS[topic]}: {_sum(rest, more=bool(told))}", _ALL_OF.get(topic, WHOLE), columns)]


def _sum(rest: Sequence[Task], *, more: bool) -> str:
    known = sum(task.pieces for task in rest if task.pieces is not None)
    unknown = sum(task.pieces is None for task in rest)
    pieces = f"{known} {rest[0].unit}" + (f" and {unknown} unknown" if unknown else "") if unknown < len(rest) else "unknown"
    return f"{len(rest)} {'more ' if more else ''}({pieces})"


def _line(mark: str, said: str, command: str, columns: int) -> str:
    from rich.cells import cell_len, set_cell_size

    most = columns - 2 - len(_GAP)
    # Short words leave a long command more room; what is cut of either stands on the full list.
    command = cut(command, max(_COMMAND, most - cell_len(_seen(said))))
    left = most - cell_len(command)
    return f"{mark} {set_cell_size(cut(said, left), left)}{_GAP}{command}"
