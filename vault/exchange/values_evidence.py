"""What the cells of a whole column make certain about each other, and which answer they point to where nothing is certain."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

from vault.domain.addresses import GEAR_ON_A_LINE
from vault.exchange.asked import Choice
from vault.exchange.cell_reading import ColumnFacts, Unclear
from vault.exchange.raw_table import Oddity, Remark
from vault.exchange.values_address import NUMBERING, address_number
from vault.exchange.values_date import DATES, date_in
from vault.exchange.values_group import GROUPS, group_numbers
from vault.exchange.values_level import LEVEL, ONE, PERCENT, SMALL, UNIT, stated
from vault.exchange.values_number import BODY, MARK, mark_shown, quantity

# Not the second figure of 27...54.
_BODIES = re.compile(rf"(?<![0-9.,])(?=[0-9])(?:{BODY})")
_WITH_MARKS = re.compile(
    r"(?:current|power|voltage)(?:_(?:min|max|window))?(?:_[234])?(?:_(?:ma|v|w))?|emergency_(?:level_percent|current_ma|power_w)|"
    r"dc_level_percent|duration(?:_min)?|limits|(?:min|max|power_on|system_failure)_level|scene_[0-9]+|.*est_k|supply|fade_time")
_LEVELS = re.compile(r"limits|(?:min|max|power_on|system_failure)_level|scene_[0-9]+")
_DIVIDED = re.compile(r"(?P<first>\w+)(?P<mark>[./-])(?P<second>[0-9]+)")

Certain = tuple[str, str]  # an answer, and the sentence that says why


def certain_mark(cells: Collection[str], facts: ColumnFacts) -> Certain | None:
    """Which mark stands before the decimals, where cells show one of the two and none shows the other."""
    if not _WITH_MARKS.fullmatch(facts.field):
        return None
    shown: dict[str, str] = {}
    for cell in cells:
        for body in _BODIES.findall(cell):
            mark = mark_shown(body)
            if mark:
                shown.setdefault(mark, cell)
    if len(shown) != 1:
        return None
    mark, cell = next(iter(shown.items()))
    return mark, f"a {mark} stands before the decimals, as {cell} shows"


def certain_numbering(cells: Collection[str], facts: ColumnFacts, counts_from: int | None) -> Certain | None:
    """From where short addresses count: an address 0 leaves no other way, nor does 64 where the vault's lines count from 1."""
    numbers = address_numbers(cells, facts)
    if 0 in numbers and GEAR_ON_A_LINE not in numbers:
        return "from-0", "addresses count from 0: there is an address 0 and no 64"
    if GEAR_ON_A_LINE in numbers and 0 not in numbers and counts_from == 1:
        return "from-1", "addresses count from 1: there is an address 64 and no 0, and the vault's lines count from 1"
    return None


def address_numbers(cells: Collection[str], facts: ColumnFacts) -> set[int]:
    """Every number in a column of addresses, empty for another column."""
    if facts.field not in ("address", "line_address"):
        return set()
    texts = cells if facts.field == "address" else [re.split(r"[/.:;,-]", cell)[-1].strip() for cell in cells]
    return {number for number in map(address_number, texts) if number is not None}


def groups_in_doubt(cells: Collection[str], facts: ColumnFacts) -> bool:
    """Whether a column of groups has one beyond 15, so that nobody knows from where any of them counts."""
    if facts.field != "groups" or NUMBERING in facts.answers:
        return False
    return any(number >= GROUPS for cell in cells for number in group_numbers(cell) or ())


def certain_levels(cells: Collection[str], facts: ColumnFacts) -> Certain | None:
    """Figures beyond 100 beside no share make a column one of levels."""
    if not _LEVELS.fullmatch(facts.field) or stated(facts) or any("%" in cell for cell in cells):
        return None
    bare = [cell for cell in cells if cell.isascii() and cell.isdecimal()]
    beyond = next((cell for cell in bare if len(cell) == 3 and int(cell) > 100), None)
    if beyond is None or any(found and not found.unit and not found.body.isdecimal() for found in map(quantity, cells)):
        return None
    return LEVEL, f"figures without a unit are levels: {beyond} is beyond 100, and no cell says %"


def certain(cells: Collection[str], facts: ColumnFacts, counts_from: int | None) -> Mapping[str, Certain]:
    """Kind of question -> what the column answers it with, for all that was not answered. cells: in plain letters."""
    found = {MARK: certain_mark(cells, facts), NUMBERING: certain_numbering(cells, facts, counts_from),
             UNIT: certain_levels(cells, facts)}
    return {kind: answer for kind, answer in found.items() if answer is not None and kind not in facts.answers}


def pointed(unclear: Unclear, unclear_cells: Sequence[str], cells: Collection[str], remarks: Mapping[str, Remark],
            facts: ColumnFacts, counts_from: int | None) -> Unclear:
    """The question with what the other cells of the column add: why it is asked, which answer is likely."""
    if unclear.kind == DATES:
        return _of_dates(unclear, unclear_cells, cells, remarks)
    if unclear.kind == NUMBERING and facts.field in ("address", "line_address"):
        return _of_numbering(unclear, address_numbers(cells, facts), counts_from)
    if unclear.kind == NUMBERING:
        groups = {number for cell in cells for number in group_numbers(cell) or ()}
        return replace(unclear, likely="from-1" if max(groups, default=0) == GROUPS and 0 not in groups else None)
    if unclear.kind in (UNIT, SMALL, ONE) and unclear.likely is None and any("%" in cell for cell in cells):
        return replace(unclear, likely=PERCENT)
    if unclear.kind == "unit" and unclear.likely is None and facts.field in ("duration", "duration_min"):
        # Common practice, no source: 1, 2, 3 and 8 are rated durations in hours, none is one in minutes.
        hours = all(found.body in ("1", "2", "3", "8") for found in map(quantity, unclear_cells) if found)
        return replace(unclear, likely="h" if hours else None)
    return unclear


def _of_numbering(unclear: Unclear, numbers: set[int], counts_from: int | None) -> Unclear:
    top = GEAR_ON_A_LINE
    if {0, top} <= numbers:
        said = (f"There is an address 0 and an address {top}, which no line has at once: counted from 0 the {top} is refused, "
                "counted from 1 the 0. ")
        likely = None
    elif top in numbers:
        said, likely = f"There is an address {top} and no 0: either they count from 1, or {top} is wrong. ", "from-1"
    elif counts_from is not None:
        said, likely = f"The vault's lines count from {counts_from}. ", f"from-{counts_from}"
    else:
        said, likely = f"There is neither an address 0 nor {top}. ", None
    return replace(unclear, says=said + unclear.says, likely=likely)


def _of_dates(unclear: Unclear, unclear_cells: Sequence[str], cells: Collection[str], remarks: Mapping[str, Remark]) -> Unclear:
    """Only the forms that look like other cells of the column, where there are such; and which order those point to."""
    alike = [found for found in map(_DIVIDED.fullmatch, cells) if found]
    marks = Counter(found["mark"] for found in alike)
    choices: Sequence[Choice] = unclear.choices
    if marks:
        mark = marks.most_common(1)[0][0]
        zeros = any(found["second"].startswith("0") and len(found["second"]) > 1 for found in alike if found["mark"] == mark)
        fitting = [each for each in choices if mark in each.word and (mark != "." or zeros == (len(each.word) == 4))]
        choices = fitting or choices
    firsts = {found["first"].lstrip("0") for found in alike}
    dated = [found for found in (date_in(cell, remarks.get(cell)) for cell in unclear_cells) if found]
    orders = {"D": all(str(each.number) in firsts for each in dated), "M": all(str(each.month) in firsts for each in dated)}
    pointing = [order for order, fits in orders.items() if fits]
    likely = [each.word for each in choices if pointing == [each.word[0]]]
    return replace(unclear, choices=tuple(choices), likely=likely[0] if len(likely) == 1 else None)


def zeros_in_doubt(texts: Collection[str], remarks: Mapping[str, Remark]) -> Mapping[str, str]:
    """Text of a name -> what is to be known of its zeros: "1.3" beside "1.03", "0" beside "00", or lost by a spreadsheet."""
    by_bare: dict[str, list[str]] = {}
    for text in texts:
        by_bare.setdefault(re.sub(r"(?<![0-9])0+(?=[0-9])", "", text), []).append(text)
    found = {}
    for alike in by_bare.values():
        for text in alike if len(alike) > 1 else ():
            others = " and ".join(other for other in alike if other != text)
            found[text] = f"{others} stands in this column too"
    for text in texts:
        remark = remarks.get(text)
        if remark is not None and remark.oddity is Oddity.NUMBER and re.fullmatch(r"[0-9]+\.[0-9]", text):
            found[text] = f"the spreadsheet holds a number: {text} and {text}0 look alike in it"
    return found
