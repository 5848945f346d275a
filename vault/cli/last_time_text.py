"""A last-time buy as lines and JSON."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from vault.actions.last_time import LastTime
from vault.cli.hold_text import lasts_words, position_words
from vault.domain.counting import counted
from vault.exchange.stock_cells import day_words
from vault.spares.failure_rate import prior_words, rate_words
from vault.spares.holding import covers_words
from vault.spares.successor import successor_words

_LEARNED = 3  # rates that the screen names


def last_lines(one: LastTime) -> Iterator[str]:
    """A last-time buy in sentences."""
    buy = one.buy
    yield (f"{one.model}: {buy.served_pieces} of {one.pieces} gear to be served, {one.hours_per_year:.0f} h a year, "
           f"{rate_words(one.rate_per_h)}; {one.importance.name.lower()}, service level {one.service_permille / 10:g} %.")
    told = "; ".join(evidence.words() for evidence in one.learned[:_LEARNED])
    more = f"; and {len(one.learned) - _LEARNED} more" if len(one.learned) > _LEARNED else ""
    yield ("The rate was given as known (--rate)." if buy.rate_known else
           f"What the rate rests on: {told}{more}; {prior_words(one.learned[0].before)}.")
    fewer = "" if buy.known_pieces >= buy.random_pieces else f" ({buy.known_pieces} if that rate were known for sure)"
    yield f"Random failures: {buy.random_mean:.2f} expected, {counted(buy.random_pieces, 'piece')}{fewer}."
    if buy.wear_mean:
        yield f"Wear-out reserve: {buy.wear_mean:.2f} expected, {counted(buy.wear_reserve, 'piece')} more."
    yield f"{covers_words(buy.pieces, buy.no_shortage)}."
    if one.ended and one.last_order_day is not None:
        yield (f"It can no longer be ordered: its last order was {day_words(one.last_order_day)}; {successor_words(one.after)}. "
               f"{_there(buy.on_hand)} Lacking: {buy.to_buy}.")
        yield lasts_words(buy.on_hand, one.lasts_years, one.service_permille)
    else:
        packs = f", in packs of {one.pack}" if one.pack > 1 else ""
        until = "" if one.last_order_day is None else f", by {day_words(one.last_order_day)}, the last order"
        yield f"{_there(buy.on_hand)} To buy: {one.to_buy}{packs + until if one.to_buy else ''}."
    yield from one.notes


def _there(position: int) -> str:
    return f"There or coming, less what is reserved: {position_words(position)}."


def last_json(one: LastTime) -> dict[str, Any]:
    """A last-time buy for JSON. to_buy: 0 of what can no longer be ordered; lacking: what it would take."""
    buy, after = one.buy, one.after
    return {"model": one.model, "gear": one.pieces, "served": buy.served_pieces, "hours_per_year": one.hours_per_year,
            "rate_fit": one.rate_per_h * 1e9, "service_permille": one.service_permille, "pieces": buy.pieces,
            "random_pieces": buy.random_pieces, "wear_reserve": buy.wear_reserve, "random_mean": buy.random_mean,
            "wear_mean": buy.wear_mean, "no_shortage": buy.no_shortage, "on_hand": buy.on_hand,
            "to_buy": one.to_buy, "pack": one.pack, "lacking": buy.to_buy, "can_be_ordered": not one.ended,
            "last_order": None if one.last_order_day is None else day_words(one.last_order_day), "lasts_years": one.lasts_years,
            "replaced_by": None if after is None else {"model": after.model, "fits_gear": after.fits, "of_gear": after.serves},
            "rests_on": [{"name": evidence.name, "failures": evidence.failures, "hours": round(evidence.hours),
                          "prior_failures": evidence.before.shape, "prior_hours": round(evidence.before.hours),
                          "rate_fit": evidence.after.mean * 1e9} for evidence in one.learned],
            "rate_known": buy.rate_known, "pieces_were_the_rate_known": buy.known_pieces, "notes": list(one.notes)}
