"""What is to be done today as a screen of text: every topic has a line, what finds no room is counted, nothing is cut."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence

from vault.exchange.wrapped import wrapped
from vault.spares.today import TOPIC_WORDS, Task, Today, Topic

COLUMNS, LINES = 80, 24
WHOLE = "stock today --all"
_ALL_OF = {Topic.BELOW: "reorder", Topic.TO_ORDER: "reorder", Topic.NO_SPARE: "cover"}
_NOTHING_LINES = 12
_GAP, _INDENT = "  ", " " * 8  # before a command beside its task, and on a line of its own
_MORE = " \\"  # a shell reads on in the next line
_WORD = re.compile(r"""(?:[^\s'"]|'[^']*'|"[^"]*")+""")  # of a command line; what stands in quotes is one


def screen(today: Today, *, columns: int | None = COLUMNS, lines: int = LINES) -> list[str]:
    """At most so many lines of at most so many columns, one line less for the prompt that follows. columns: 60 or more, or None
    where lines may be as long as they are; lines: 16 or more.
    """
    room = lines - 1
    if not today.tasks:
        return _nothing(today, columns, room)
    blocks = [[_block(task, columns) for task in today.of(topic)] for topic in Topic]
    shown = [_seen(_title(today)) if columns is None else cut(_title(today), columns)]
    for topic, some, count in zip(Topic, blocks, _shares(blocks, room - 2), strict=True):
        shown += [line for block in some[:count] for line in block or ()]
        rest = today.of(topic)[count:]
        if rest:
            mark = "!" if any(task.vital for task in rest) else "?" if any(task.unknown for task in rest) else " "
            said = f"{TOPIC_WORDS[topic]}: {_sum(rest, more=count > 0)}"
            shown += _beside(mark, said, _ALL_OF.get(topic, WHOLE), columns) or ()
    shown.append(f'Commands are typed after "gearkeep". All of it: {WHOLE}')
    none = [TOPIC_WORDS[topic].lower() for topic in Topic if not today.of(topic)]
    told = f"Nothing of: {', '.join(none)}."
    beside = [] if not none else [told] if columns is None else textwrap.wrap(told, columns)
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


def _nothing(today: Today, columns: int | None, room: int) -> list[str]:
    looked = _seen(f"Looked at: {'; '.join(today.looked)}.")
    if columns is None:
        return [_seen(_title(today)), looked]
    told = wrapped(looked, columns)
    most = min(_NOTHING_LINES, room - 1)
    if len(told) > most:
        told = [*told[: most - 1], f"and more: gearkeep {WHOLE}"]
    return [cut(_title(today), columns), *told]


def _shares(blocks: Sequence[Sequence[Sequence[str] | None]], room: int) -> list[int]:
    """How many tasks of each topic are shown: the rest of each has a line together. One more of each in turn while there is
    room; a task without lines is never shown.
    """
    counts = [0] * len(blocks)

    def lines(topic: int, count: int) -> int:
        return sum(len(block or ()) for block in blocks[topic][:count]) + (count < len(blocks[topic]))

    left, again = room - sum(lines(topic, 0) for topic in range(len(blocks))), True
    while again:
        again = False
        for topic, count in enumerate(counts):
            if count < len(blocks[topic]) and blocks[topic][count] is not None:
                more = lines(topic, count + 1) - lines(topic, count)
                if more <= left:
                    counts[topic], left, again = count + 1, left - more, True
    return counts


def _sum(rest: Sequence[Task], *, more: bool) -> str:
    known = sum(task.pieces for task in rest if task.pieces is not None)
    unknown = sum(task.pieces is None for task in rest)
    unit = rest[0].unit.removesuffix("s") if known == 1 else rest[0].unit
    pieces = f"{known} {unit}" + (f" and {unknown} unknown" if unknown else "") if unknown < len(rest) else "unknown"
    return f"{len(rest)} {'more ' if more else ''}({pieces})"


def _block(task: Task, columns: int | None) -> list[str] | None:
    """A task on one line with its command, or its command below; None where the command cannot be shown as it is typed."""
    if not task.command.isprintable():
        return None
    return _beside(_mark(task), f"{TOPIC_WORDS[task.topic]}: {task.what}", task.command, columns)


def _beside(mark: str, said: str, command: str, columns: int | None) -> list[str] | None:
    from rich.cells import cell_len

    said = f"{mark} {_seen(said)}"
    if columns is None:
        return [f"{said}{_GAP}{command}"]
    between = columns - cell_len(said) - cell_len(command)
    if between >= len(_GAP):
        return [said + " " * between + command]
    below = _folded(command, columns)
    return None if below is None else [*wrapped(said, columns), *below]


def _folded(command: str, columns: int) -> list[str] | None:
    """A command on lines of its own, each but the last with what a shell reads on after; None where a word is too
    long or a quote open."""
    from rich.cells import cell_len

    words = _WORD.findall(command)
    if " ".join(words) != command:
        return None
    lines, line = list[str](), ""
    for word in words:
        longer = f"{line} {word}" if line else _INDENT + word
        if cell_len(longer) + cell_len(_MORE) <= columns:
            line = longer
            continue
        lines += [line + _MORE] if line else []
        line = f"{_INDENT}  {word}"
        if cell_len(line) + cell_len(_MORE) > columns:
            return None
    return [*lines, line]
