"""What a holding plan rests on, in sentences."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from vault.actions.failure_rates import Rates
from vault.actions.service_hours import strange_words
from vault.actions.today_tasks import typed
from vault.domain.terms import Importance
from vault.exchange.stock_cells import day_words
from vault.spares.burning_hours import HoursTable, goes_by_circuit
from vault.spares.failure_rate import prior_words, rate_words
from vault.spares.hold_plan import HoldLine, HoldPlan
from vault.spares.holding import Policy
from vault.spares.stores import elsewhere_words

if TYPE_CHECKING:
    from vault.actions.hold_asked import HoldAsked

_RAISED_NAMED = 4  # rates that a note names


COVERS = "S spares cover S demands: the chance that none goes wanting is P(D <= S)."


def service_words(policy: Policy) -> str:
    """The service levels."""
    service = ", ".join(f"{one.name.lower()} {policy.service_permille[one] / 10:g} %" for one in Importance)
    return f"Service levels: {service}. Emergency gear is vital; of a model that serves several, the gravest counts."


def plan_notes(asked: HoldAsked, found: HoldPlan, rates: Rates, hours: Sequence[str], today_day: int) -> Iterator[str]:
    """What stands beside the service levels and what S spares cover. hours: what is said of burning hours."""
    shares = [share for line in found.lines for share in line.shares]
    own = sum(share.origin.pieces for share in shares if share.own)
    others = sum(line.pieces for line in found.lines) - own
    yield (f"Failures start from {rate_words(rates.asked.before.mean)} (common practice, no source) and learn from the swaps on "
           "record.")
    yield _known_words(found.lines)
    yield from hours
    yield (f"Of {own + others} gear, {own} fall to the model that they bear now; {others} to the cheapest model that fits and is "
           "still made, or where none has a price to the first.")
    if found.mixed:
        yield (f"Prices in {' and '.join(found.mixed)} cannot be compared: where models of more than one of them fit, gear that "
               "bears none of the chosen ones falls to the first of the catalogue. Choose models of one currency with --model.")
    raised = dict.fromkeys(one for line in found.lines for one in line.learned if one.raised)
    if raised:
        told = [one.words() for one in raised]
        more = f"; and {len(told) - _RAISED_NAMED} more" if len(told) > _RAISED_NAMED else ""
        yield (f"Rates well above the prior raise the demand: {'; '.join(told[:_RAISED_NAMED])}{more}. What was "
               f"seen is weighed with a prior: {prior_words(rates.asked.before)}. See: gearkeep rates.")
    for line in found.lines:
        if line.unreckoned:
            yield (f"No order quantity of {line.model}{f' in packs of {line.pack:,}' if line.pack > 1 else ''}: "
                   f"{line.unreckoned[0].lower()}{line.unreckoned[1:]} Its levels leave out what an order costs.")
        yield from late_notes(line, today_day)
    yield from _store_notes(asked, found)
    no_lead = [line.model for line in found.lines if line.lead_days is None]
    assumed = [line.model for line in found.lines if not line.lead_told and line.lead_days is not None]
    if no_lead:
        yield (f"The lead time of {_named(no_lead)} is unknown, so no figure is given. Say it in the terms (stock load, "
               "column lead_days) or give --lead-weeks.")
    if assumed:
        yield (f"A lead time of {asked.policy.lead_days} days was assumed for {_named(assumed)} (--lead-weeks): the terms "
               "tell none.")


def _known_words(lines: Sequence[HoldLine]) -> str:
    """That the mean rate is taken as known, and of which models more would be held were it not."""
    more = [f"{line.model} at {line.unsure_point} and not {line.levels.reorder_point}" for line in lines
            if line.levels is not None and line.unsure_point is not None and line.unsure_point > line.levels.reorder_point]
    told = f" As it may be higher, one who wants to be sure reorders {_named(more)}." if more else \
        " That it may be higher would raise no reorder point."
    return f"Over lead time and review period the mean rate is taken as known (Poisson).{told if lines else ''}"


def hours_notes(hours: HoursTable, found: HoldPlan, rates: Rates) -> Iterator[str]:
    """Whose burning hours were taken, by how many gear, and names of which no gear is on record."""
    gear: Counter[str] = Counter()
    for share in [share for line in found.lines for share in line.shares]:
        circuit, code = share.origin.circuit, share.need.ratings[-1].code
        by = ("mode" if not goes_by_circuit(share.need.gear.duty, share.need.gear.settings.emergency) else
              "default" if hours.is_assumed(circuit, code) else "circuit" if circuit in hours.by_circuit else "type")
        gear[by] += share.origin.pieces
    told = [f"{gear[by]} gear {said}" for by, said in (
        ("circuit", "as their circuit"), ("type", "as their fixture type"),
        ("default", f"{hours.default} h, as nobody said any of theirs"), ("mode", "by their emergency mode")) if gear[by]]
    source = f" ({hours.source})" if hours.source else ""
    more = "" if hours.source or not gear["default"] else " Say them by circuit and type: --hours FILE, or GEARKEEP_HOURS."
    yield f"Burning hours a year{source}: {', '.join(told) or 'of no gear'}.{more}"
    yield from strange_words(hours, rates.groups)


def _store_notes(asked: HoldAsked, found: HoldPlan) -> Iterator[str]:
    if asked.stores:
        yield (f"Counted is what lies in {' and '.join(asked.stores)} or is coming there, for all gear in service; other stores "
               "count as empty.")
        return
    spread = [f"{line.model} {elsewhere_words(line.elsewhere)}" for line in found.lines if line.elsewhere]
    if spread:
        yield (f"All stores and vans count as one: of what is there and coming, {'; '.join(spread)}. One store by itself: "
               "--store NAME.")


def _named(models: Sequence[str], most: int = 5) -> str:
    more = len(models) - most
    return ", ".join(models[:most]) + (f" and {more} more" if more > 0 else "")


def late_notes(line: HoldLine, today_day: int) -> Iterator[str]:
    """Orders of a model whose day has passed, each in a sentence that says whether they still count."""
    for due in line.late:
        days = today_day - due.due_day
        late = (f"Order {due.order} for {due.store} is late: {due.pieces} of {due.model} were due {day_words(due.due_day)}, "
                f"{days} {'day' if days == 1 else 'days'} ago")
        taken_back = typed("gearkeep stock cancel", due.model, due.pieces, "--order", due.order, store=due.store)
        yield (f"{late}; they are not counted as coming any more. Ask the supplier, then receive them, or take the order back: "
               f"{taken_back}." if due in line.uncounted else f"{late}; they still count as coming.")
