"""Which pieces a movement takes: what lies there, what bears a serial number, and what was counted."""

from __future__ import annotations

import shlex
from collections.abc import Iterator
from dataclasses import replace

from vault.actions.stock_told import holders, listed, typed, typed_place, where_words
from vault.db.stock_rows import MovementRow
from vault.domain.counting import be, been
from vault.domain.stock import Act, Condition, MovementLine
from vault.errors import GearkeepError, UsageProblem
from vault.exchange.stock_cells import day_words
from vault.spares.stock_state import StockShelf
from vault.spares.stock_walk import DAY_S, Walk

TAKES = frozenset({Act.ISSUE, Act.SCRAP, Act.TRANSFER, Act.CHECKED})


def refuse_short(walk: Walk, row: MovementRow) -> None:
    """Raises GearkeepError (stock-short) for a line that takes more than there is, naming the bins that hold the model."""
    there = sum(pieces for _, pieces in walk.leaving(row)) if row.act in TAKES else row.quantity
    if there >= row.quantity:
        return
    resets = row.act == Act.CHECKED or row.condition == Condition.NEEDS_RESET
    made = f" made on {day_words(row.made_day)}" if row.made_day is not None else ""
    what = f"{row.model}{made}{' that need a reset' if resets else ' that may be issued' if row.act != Act.SCRAP else ''}"
    others = [one for one in _shelves(walk, row.model) if (one.store, one.bin) != (row.store, row.bin or "")]
    elsewhere = holders(others, store=row.store, needs_reset=resets)
    place = f"bin {row.bin} of {row.store} holds" if row.bin else f"Outside of any bin, {row.store} holds"
    hint = ("Name the place that they come from with --bin and --store" if elsewhere else "See gearkeep stock list")
    raise GearkeepError(
        f"{_big(place)} {there} of {what}, and {row.quantity} {been(row.quantity)} asked for.{elsewhere}", kind="stock-short",
        hint=f"{hint}, or count the bin and sign the count: gearkeep stock count.{_way_out(walk, row, resets)}")


def _way_out(walk: Walk, row: MovementRow, resets: bool) -> str:
    """What to do where the pieces lie there, but of another condition or age."""
    others = walk.lots_in(row.store, row.model, row.bin or "", Condition.GOOD if resets else Condition.NEEDS_RESET)
    if row.made_day is not None:
        lots = walk.lots_in(row.store, row.model, row.bin or "", Condition.NEEDS_RESET if resets else Condition.GOOD)
        days = [f"{lots[day]} {'of unknown day' if day is None else f'made on {day_words(day)}'}"
                for day in sorted(lots, key=lambda day: -1 if day is None else day)]
        return f" What lies there: {listed(days)}." if days else ""
    if not others or resets:
        return ""
    return (" Those that need a reset are scrapped or moved with --condition needs-reset." if row.act != Act.ISSUE else
            " A returned piece may be issued once it was checked: gearkeep stock check.")


def as_it_lies(walk: Walk, act: Act, store: str, line: MovementLine) -> MovementLine:
    """A line with the serial number as the store wrote it; a transfer or scrap in the condition of the piece that it names.

    Raises GearkeepError (which-condition) where the line says another condition.
    """
    if act not in TAKES or line.serial is None:
        return line
    there = next((one for one in _shelves(walk, line.model) if (one.store, one.bin) == (store, line.bin or "")), None)
    same = [one for one in there.serials if one.casefold() == line.serial.casefold()] if there is not None else []
    if there is None or (line.serial not in same and len(same) != 1):
        return line
    line = replace(line, serial=line.serial if line.serial in same else same[0])
    if act not in (Act.TRANSFER, Act.SCRAP):
        return line
    resets = line.serial in there.reset_serials
    if line.condition is not None and (line.condition is Condition.NEEDS_RESET) != resets:
        raise GearkeepError(f"The {line.model} with serial number {line.serial} in {where_words(store, line.bin)} "
                            f"{'needs a reset' if resets else 'is good'}, and the line says otherwise.", kind="which-condition",
                            hint="Leave --condition out: the piece goes in its own. Where it is another, sign that first: "
                                 "gearkeep stock check, or count the bin.")
    return replace(line, condition=Condition.NEEDS_RESET) if resets else line


def _refuse_unchecked(row: MovementRow, shelf: StockShelf) -> None:
    """Raises GearkeepError (needs-reset) for the issue of a piece that came back and was not checked since."""
    if row.act == Act.ISSUE and row.serial in shelf.reset_serials:
        raise unchecked(shelf, row.serial or "")


def unchecked(shelf: StockShelf, serial: str) -> GearkeepError:
    """That a piece came back and nobody checked it since."""
    check = typed("check", shelf.model, 1, shelf.store, shelf.bin)
    return GearkeepError(f"The {shelf.model} with serial number {serial} in {where_words(shelf.store, shelf.bin)} needs a reset: "
                         "it came back, and nobody has checked it since.", kind="needs-reset",
                         hint=f"Nothing was signed. Reset and test it, then: {check} --serial {shlex.quote(serial)}. Or take "
                              "another piece.")


def _not_there(row: MovementRow, what: str) -> GearkeepError:
    count = typed("count", row.model, "FOUND", row.store, row.bin)
    return GearkeepError(what, kind="not-there",
                         hint=f"Nothing was signed. Read the number on the piece again. Where it lies there all the same, count "
                              f"the bin with it: {count} --serial {shlex.quote(row.serial or '')} --because WHY.")


def piece_notes(walk: Walk, row: MovementRow, *, in_hand: bool = False) -> Iterator[str]:
    """What is to be heard of serial numbers where a line takes pieces, before it happens.

    in_hand: somebody read the piece itself, so that one without a number bears none, and what the books say of another is told
    and no more. Raises GearkeepError: needs-reset for the issue of a piece that nobody checked since it came back, good-already
    for the check of a good one, serial-elsewhere for a piece that lies in another place, not-there for one that left or is none
    of those there, which-piece where a piece with a number would go and nobody says which; UsageProblem (bad-value) for several
    pieces of one number.
    """
    if row.act not in TAKES:
        return
    if row.serial is not None and row.quantity != 1:
        raise UsageProblem(f"{row.quantity} pieces cannot have the serial number {row.serial}.", kind="bad-value",
                           hint="Move each piece by itself.")
    here, pieces, bare = where_words(row.store, row.bin), 0, 0
    every: tuple[str, ...] = ()
    numbers: tuple[str, ...] = ()  # of the condition that the line takes
    resets = row.act == Act.CHECKED or row.condition == Condition.NEEDS_RESET
    for shelf in _shelves(walk, row.model):
        if (shelf.store, shelf.bin) == (row.store, row.bin or ""):
            _refuse_unchecked(row, shelf)
            every = shelf.serials
            numbers = tuple(one for one in every if (one in shelf.reset_serials) == resets)
            bare = (shelf.needs_reset if resets else shelf.good) - len(numbers)
            pieces = shelf.needs_reset if row.act == Act.CHECKED else shelf.good + shelf.needs_reset
        elif row.serial in shelf.serials:
            raise GearkeepError(f"The {row.model} with serial number {row.serial} lies in {where_words(shelf.store, shelf.bin)}, "
                                f"not in {here}.", kind="serial-elsewhere",
                                hint=f"Say {typed_place(shelf.store, shelf.bin)}. If it lies elsewhere by now, sign that first: "
                                     "gearkeep stock transfer.")
    if row.serial in numbers:
        return
    if row.act == Act.CHECKED and row.serial in every:
        raise GearkeepError(f"The {row.model} with serial number {row.serial} in {here} is good; it needs no check.",
                            kind="good-already", hint="Read the number on the piece again: gearkeep stock list --json names "
                                                      "those that lie there.")
    if row.serial is not None or in_hand:
        wrong = _why_not_there(walk, row, here, numbers, bare)
        if wrong is not None and not in_hand:
            raise _not_there(row, wrong)
        if wrong is not None:
            yield f"{wrong} See what is there; count it."
    elif not every or (row.act == Act.CHECKED and row.quantity == pieces):
        return
    elif row.quantity == pieces:
        yield f"With {'it' if pieces == 1 else 'them'} went the serial {'number' if len(numbers) == 1 else 'numbers'} " \
              f"{listed(numbers)}."
    elif row.quantity > bare:
        raise GearkeepError((f"Of those that need a reset, {here}" if resets else _big(here)) + f" holds {listed(numbers)}"
                            + (f", and {bare} without a serial number" if bare else "")
                            + f", and {row.quantity} {been(row.quantity)} asked for without saying which.", kind="which-piece",
                            hint="Read the serial number on the piece, and say it with --serial, each piece by itself.")
    elif row.act != Act.CHECKED:
        yield (f"{_big(here)} holds {listed(every)} too; on the books a piece without a serial number went. Where it was one "
               "of those, say --serial the next time, and count the bin.")


def _why_not_there(walk: Walk, row: MovementRow, here: str, numbers: tuple[str, ...], bare: int) -> str | None:
    """Why the piece that a line names, or one without a number, cannot be the one that lies there; None where it may."""
    left = walk.left_by(row.model, row.serial) if row.serial is not None else None
    if left is not None:
        how = "was issued" if left.act == Act.ISSUE else "was scrapped"
        return (f"The {row.model} with serial number {row.serial} {how} from {where_words(left.store, left.bin)} on "
                f"{day_words(left.time_s // DAY_S)} and did not come back since.")
    if not numbers or bare:
        return None
    gone = row.serial or "a piece without a serial number"
    return f"{_big(here)} was to hold {listed(numbers)} alone, and {gone} is none of them."


def count_notes(walk: Walk, row: MovementRow) -> Iterator[str]:
    """How a count differs from what should lie there, before it happens.

    Raises GearkeepError: which-bin where pieces are counted outside of any bin, and the store holds them in bins alone;
    which-condition where some there need a reset, and the count does not say whether it counted those.
    """
    if row.act != Act.COUNT:
        return
    if row.bin is None and row.quantity:
        known = [one for one in _shelves(walk, row.model) if one.store == row.store and one.good + one.needs_reset]
        if known and all(one.bin for one in known):
            raise GearkeepError(f"{row.store} holds {row.model} in bins alone, and the count names none."
                                f"{holders(known, store=row.store)}", kind="which-bin",
                                hint="Say which bin was counted with --bin; where they were found in another place, give that "
                                     "place a name with --bin.")
    resets = sum(walk.lots_in(row.store, row.model, row.bin or "", Condition.NEEDS_RESET).values())
    if row.condition is None and resets:
        good = sum(walk.lots_in(row.store, row.model, row.bin or "").values())
        raise GearkeepError(f"{_big(where_words(row.store, row.bin))} holds {good} good of {row.model} and {resets} that "
                            f"{'needs' if resets == 1 else 'need'} a reset, and the count does not say which were counted.",
                            kind="which-condition",
                            hint="Count them apart, each with its own --condition: good, or needs-reset.")
    lots = walk.lots_in(row.store, row.model, row.bin or "", row.condition or Condition.GOOD)
    there, total, day = sum(lots.values()), row.quantity, ""
    if row.made_day is not None:
        there, day = lots.get(row.made_day, 0), f" made on {day_words(row.made_day)}"
        unknown = lots.get(None, 0)
        known_now = min(max(row.quantity - there, 0), unknown)
        if known_now:
            there += known_now
            yield f"{known_now} of {row.model}{_in(row)}, whose day was unknown, {be(known_now)} on record as{day} now."
        if unknown > known_now:
            yield (f"{unknown - known_now} of unknown day still {'stands' if unknown - known_now == 1 else 'stand'}{_in(row)}: "
                   "count the whole bin without --made where it holds fewer.")
        total += sum(lots.values()) - there
    if row.quantity != there:
        yield (f"{row.quantity} of {row.model}{day} {been(row.quantity)} counted where {there} should "
               f"lie{_in(row)}: {row.quantity - there:+d}, signed with its reason."
               + (f" With those of other days {total} lie there." if total != row.quantity else ""))


def lost_numbers(row: MovementRow, before: tuple[str, ...], after: tuple[str, ...]) -> Iterator[str]:
    """Serial numbers that a count made unknown: which piece is missing it does not say."""
    lost = sorted(set(before) - set(after))
    if row.act == Act.COUNT and lost:
        yield (f"Which pieces lie there is not known any more: {listed(lost)} {be(len(lost))} off the books. For each that is "
               f"there: {typed('count', row.model, row.quantity, row.store, row.bin)} --serial NUMBER --because WHY.")


def numbers_in(walk: Walk, row: MovementRow) -> tuple[str, ...]:
    """Serial numbers in the bin of a line."""
    return next((one.serials for one in _shelves(walk, row.model) if (one.store, one.bin) == (row.store, row.bin or "")), ())


def _in(row: MovementRow) -> str:
    return f" in bin {row.bin}" if row.bin else ""


def _big(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}"


def _shelves(walk: Walk, model: str) -> list[StockShelf]:
    return [one for one in walk.shelves() if one.model == model]
