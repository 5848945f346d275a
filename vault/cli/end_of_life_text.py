"""An end-of-life notice and what it means, as lines and JSON."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from vault.actions.end_of_life import EndOfLife
from vault.cli.last_time_text import last_json, last_lines
from vault.domain.counting import counted
from vault.domain.findings import Verdict
from vault.domain.schema import words
from vault.domain.tag import shown
from vault.exchange.stock_cells import day_words
from vault.spares.coverage_words import answer_words

_NAMED = 6  # luminaires and classes that the screen names


def lines(found: EndOfLife, years: int) -> Iterator[str]:
    """In sentences."""
    days = counted(abs(found.days_left), "day")
    left = f"{days} left" if found.days_left >= 0 else f"{days} ago"
    after = f"replaced by {found.replaced_by}" if found.replaced_by else "no replacement is named"
    yield (f"{'Signed: ' if found.changed else ''}{found.model}: last order {day_words(found.last_order_day)} ({left}); {after}.")
    yield from _lost(found)
    if found.replaced_by and found.served:
        yield from _replacement(found)
    if found.buy is not None:
        yield f"Last-time buy for {counted(years, 'year')}:"
        yield from (f"  {line}" for line in last_lines(found.buy))
        yield f"  With wear-out: gearkeep hold last-time {found.model} --years {years} --wear-shape K --wear-life-hours H --age H"
    else:
        yield f"Last-time buy: unknown; {found.no_buy}."
    yield from (f"note: {doubt}" for doubt in found.doubts)


def _lost(found: EndOfLife) -> Iterator[str]:
    served = sum(one.pieces for one in found.served)
    if not found.lost_pieces:
        yield f"No luminaire loses cover: what it covers ({served} gear) another model that is still made covers too."
        return
    vital = sum(one.pieces for one in found.served if one.lost and one.vital)
    lost = found.lost_pieces
    some = f"All {served} gear" if lost == served else f"{lost} of the {served} gear"
    told = f"{some} that it covers {'loses' if lost == 1 else 'lose'} cover, {vital} of them with an emergency duty"
    single = f"The one gear that it covers loses cover; it has {'an' if vital else 'no'} emergency duty"
    yield f"{single if served == 1 else told}. The best set without it: gearkeep spares without {found.model}."
    for one in [one for one in found.served if one.lost][:_NAMED]:
        more = f" and {len(one.tags) - _NAMED} more" if len(one.tags) > _NAMED else ""
        yield f"  {one.pieces:>4}  {one.words}: {', '.join(map(shown, one.tags[:_NAMED]))}{more}"


def _replacement(found: EndOfLife) -> Iterator[str]:
    told = ", ".join(f"{words(verdict).replace('-', ' ')} {found.replaced_pieces(verdict)}" for verdict in (
        Verdict.FITS, Verdict.FITS_WITH_CARE, Verdict.CANNOT_TELL, Verdict.DOES_NOT_FIT))
    known = any(one.replacement is not None for one in found.served)
    if not known:
        yield f"{found.replaced_by} is no driver model of the catalogue, so nobody can tell where it fits."
        return
    yield f"{found.replaced_by} for these gear: {told}."
    against = [one for one in found.served if one.replacement is not None and one.replacement.verdict is not Verdict.FITS]
    for one in against[:_NAMED]:
        yield f"  {one.pieces:>4}  {one.words}: {answer_words(one.replacement) if one.replacement else ''}"


def as_json(found: EndOfLife) -> dict[str, Any]:
    """All of it, uncut."""
    return {"model": found.model, "last_order": day_words(found.last_order_day), "days_left": found.days_left,
            "replaced_by": found.replaced_by, "signed": found.changed, "lost_gear": found.lost_pieces,
            "classes": [{"what": one.words, "gear": one.pieces, "vital": one.vital, "loses_cover": one.lost,
                         "luminaires": list(one.tags),
                         "replacement": None if one.replacement is None else {
                             "verdict": words(one.replacement.verdict), "limit": one.replacement.limit}}
                        for one in found.served],
            "last_time_buy": None if found.buy is None else last_json(found.buy), "no_last_time_buy": found.no_buy or None,
            "doubts": list(found.doubts)}
