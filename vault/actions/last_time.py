"""The last-time buy of a model that will not be made again."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

from vault.actions.desk import Desk
from vault.actions.hold_asked import HoldAsked
from vault.actions.hold_notes import late_notes
from vault.actions.holding import hold_plan
from vault.db.audit import Progress, quiet
from vault.domain.counting import counted
from vault.domain.terms import Importance
from vault.errors import UsageProblem
from vault.spares.failure_rate import Evidence
from vault.spares.holding import demand_covered
from vault.spares.last_time import LastBuy, WearOut, known_rate_buy, last_time_buy
from vault.spares.successor import Successor


@dataclass(frozen=True, slots=True, kw_only=True)
class LastTimeAsked:
    """years: of remaining use. wear_shape, wear_life_h: Weibull, both or neither. ages: (pieces, hours burnt),
    None for all pieces. retiring: luminaires due to be retired before. service_permille: None: by importance. rate_per_h: a
    failure rate that is known; None: as believed.
    """

    years: int
    wear_shape: float | None = None
    wear_life_h: int | None = None
    ages: tuple[tuple[int | None, int], ...] = ()
    retiring: int = 0
    service_permille: int | None = None
    rate_per_h: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LastTime:
    """The purchase and what it rests on. last_order_day: None where none is on record; ended: it is past, so that nothing can be
    bought; lasts_years: how long what is there lasts at the service level, None without demand. after: what replaces the model.
    learned: the rates that its demand comes from. pack: pieces that come together.
    """

    model: str
    buy: LastBuy
    pieces: int
    hours_per_year: float
    rate_per_h: float
    importance: Importance
    service_permille: int
    last_order_day: int | None
    ended: bool
    lasts_years: float | None
    after: Successor | None
    learned: tuple[Evidence, ...]
    pack: int
    notes: tuple[str, ...]

    @property
    def to_buy(self) -> int:
        """Pieces to buy, in whole packs; 0 of what can no longer be ordered."""
        return 0 if self.ended else -(-self.buy.to_buy // self.pack) * self.pack


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
    rate = (line.yearly / (line.pieces * hours) if hours else 0.0) if wish.rate_per_h is None else wish.rate_per_h
    service = wish.service_permille or asked.policy.service_permille[line.importance]
    wear, lasts = _wear(wish, line.pieces), line.lasts_years(service)
    if wish.rate_per_h is None:
        buy = last_time_buy(pieces=line.pieces, years=wish.years, parts=line.parts, service_permille=service, wear=wear,
                            retiring=wish.retiring, on_hand=line.position)
    else:
        buy = known_rate_buy(pieces=line.pieces, years=wish.years, hours_per_year=hours, rate_per_1e9_h=rate * 1e9,
                             service_permille=service, wear=wear, retiring=wish.retiring, on_hand=line.position)
        yearly = line.pieces * hours * rate
        lasts = demand_covered(line.position, service) / yearly if yearly else None
    return LastTime(model=model, buy=buy, pieces=line.pieces, hours_per_year=hours, rate_per_h=rate, importance=line.importance,
                    service_permille=service, last_order_day=line.last_order_day, ended=line.ended,
                    lasts_years=lasts, after=holding.after.get(model), learned=line.learned,
                    pack=line.pack, notes=(*late_notes(line, holding.today_day), *_last_notes(buy, wear, wish, len(line.parts))))


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


def _last_notes(buy: LastBuy, wear: WearOut | None, wish: LastTimeAsked, rates: int) -> list[str]:
    notes = ["Random failures at a rate that was given as known: Poisson, pieces by hours by rate." if buy.rate_known else
             "Random failures at a rate that is believed and not known: negative binomial. It is one rate for all the years, and "
             "where it is above its mean it is so in each of them; that asks for more pieces than the mean rate. A rate that you "
             "know: --rate."]
    if rates > 1 and not buy.rate_known:
        notes.append(f"The {rates} rates that it rests on are taken as independent of each other.")
    if wear is None:
        notes.append("Wear-out is not counted: give --wear-shape, --wear-life-hours and --age.")
    else:
        notes.append("Wear-out: the chance that each piece wears out for the first time in the hours left, given its age "
                     "(Weibull); not renewal: a replacement's own wear-out is not counted.")
        if buy.second_lives:
            notes.append(f"A new piece may well wear out within {counted(wish.years, 'year')} too, so that the figure is too "
                         "low.")
    if wish.retiring:
        notes.append(f"{counted(wish.retiring, 'luminaire')} due to be retired before "
                     f"{'is' if wish.retiring == 1 else 'are'} left out, the oldest first.")
    return notes
