"""The last-time buy of a model that will not be made again."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

from vault.actions.desk import Desk
from vault.actions.holding import HoldAsked, hold_plan
from vault.db.audit import Progress, quiet
from vault.domain.terms import Importance
from vault.errors import UsageProblem
from vault.spares.last_time import LastBuy, WearOut, last_time_buy


@dataclass(frozen=True, slots=True, kw_only=True)
class LastTimeAsked:
    """years: of remaining use. wear_shape, wear_life_h: Weibull, both or neither. ages: (pieces, hours burnt),
    None for all pieces. retiring: luminaires due to be retired before. service_permille: None: by importance.
    """

    years: int
    wear_shape: float | None = None
    wear_life_h: int | None = None
    ages: tuple[tuple[int | None, int], ...] = ()
    retiring: int = 0
    service_permille: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LastTime:
    """The purchase and what it rests on."""

    model: str
    buy: LastBuy
    pieces: int
    hours_per_year: float
    rate_per_h: float
    importance: Importance
    service_permille: int
    notes: tuple[str, ...]


def last_time(desk: Desk, model: str, wish: LastTimeAsked, asked: HoldAsked, *, progress: Progress = quiet) -> LastTime:
    """A last-time buy of one model for all gear that it serves or would serve: of the chosen set, its share.

    Raises UsageProblem (not-found) where no gear falls to it, (bad-value) for wear-out without ages; GearkeepError
    (out-of-range).
    """
    holding = hold_plan(desk, replace(asked, also=(model,)), progress=progress)
    line = next((one for one in holding.plan.lines if one.model == model), None)
    if line is None:
        raise UsageProblem(f"No gear in service falls to {model}.", kind="not-found",
                           hint="See which models serve gear: gearkeep hold plan. Or choose it alone: --model.")
    hours = sum(share.origin.pieces * share.hours for share in line.shares) / line.pieces
    rate = line.yearly / (line.pieces * hours) if hours else 0.0
    service = wish.service_permille or asked.policy.service_permille[line.importance]
    wear = _wear(wish, line.pieces)
    buy = last_time_buy(pieces=line.pieces, years=wish.years, hours_per_year=hours, rate_per_1e9_h=rate * 1e9,
                        service_permille=service, wear=wear, retiring=wish.retiring,
                        on_hand=max(line.position, 0))
    return LastTime(model=model, buy=buy, pieces=line.pieces, hours_per_year=hours, rate_per_h=rate, importance=line.importance,
                    service_permille=service, notes=tuple(_last_notes(buy, wear, wish)))


def _wear(wish: LastTimeAsked, pieces: int) -> WearOut | None:
    if wish.wear_shape is None and wish.wear_life_h is None:
        if wish.ages:
            raise UsageProblem("Ages were given without a wear-out life.", kind="bad-value",
                               hint="Give --wear-shape and --wear-life-hours too.")
        return None
    if wish.wear_shape is None or wish.wear_life_h is None or not wish.ages:
        raise UsageProblem("Wear-out needs a shape, a life and the ages, which are not on record; none is taken as 0.",
                           kind="bad-value", hint="Give --wear-shape, --wear-life-hours and --age, for example --age 20000.")
    ages: Counter[int] = Counter()
    for count, age in wish.ages:
        ages[age] += pieces if count is None else count
    return WearOut(shape=wish.wear_shape, life_h=wish.wear_life_h, ages=dict(ages))


def _last_notes(buy: LastBuy, wear: WearOut | None, wish: LastTimeAsked) -> list[str]:
    notes = ["Random failures: Poisson, pieces by hours by rate."]
    if wear is None:
        notes.append("Wear-out is not counted: give --wear-shape, --wear-life-hours and --age.")
    else:
        notes.append("Wear-out: the chance that each piece wears out for the first time in the hours left, given its age "
                     "(Weibull); not renewal: a replacement's own wear-out is not counted.")
        if not buy.exact:
            notes.append("So many pieces: the normal distribution stands for the exact one.")
        if buy.second_lives:
            notes.append(f"A new piece may well wear out within {wish.years} years too, so that the figure is too low.")
    if wish.retiring:
        notes.append(f"{wish.retiring} luminaires due to be retired before are left out, the oldest first.")
    return notes
