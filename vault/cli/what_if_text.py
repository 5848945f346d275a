"""What a model's end of life or a new model would change, as lines on a screen and as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from vault.actions.covering_set import Ground, Tried, WithFound, WithoutFound
from vault.cli.cover_set_text import (
    ONLY_MODELS,
    chosen_json,
    classes_json,
    count,
    ended_json,
    ended_lines,
    luminaire_lines,
    of_classes,
    one_set,
)
from vault.cli.stock_text import price_words
from vault.spares.coverage_words import class_words
from vault.spares.smallest_set import Chosen
from vault.spares.what_if import Added


def _best(words: str, chosen: Chosen | None, ground: Ground) -> list[str]:
    if chosen is None:
        return []
    proven = "proven" if chosen.proven else "NOT proven in the time"
    return [f"{words}, {proven}: {one_set(chosen.best, ground.currency)}; "
            f"it covers {chosen.best.covered:,} of {count(chosen.total, 'driver')}."]


def without_lines(found: WithoutFound, everything: bool) -> list[str]:
    """The whole answer of `spares without`."""
    ground, gone = found.ground, found.dropped
    moved = [need for need in gone.covered if need not in gone.lost]
    luminaires = {one.tag for named in ground.luminaires.values() for one in named}
    lines = [f"{gone.model} covers {of_classes(ground, gone.covered)}."]
    if gone.lost:
        lose = "loses" if len(luminaires) == 1 else "lose"
        lines.append(f"Without it {count(len(luminaires), 'luminaire')} {lose} cover, {of_classes(ground, gone.lost)}:")
        lines += luminaire_lines(ground, gone.lost, everything)
    else:
        lines.append("Without it no luminaire loses cover.")
    if moved:
        lines.append(f"{of_classes(ground, moved)} keep cover by other models.")
    lines += _best("The best set with it", gone.before, ground) + _best("The best set without it", gone.after, ground)
    return [*lines, *([gone.unpriced] if gone.unpriced else []), *ended_lines(ground, everything), ONLY_MODELS]


def without_json(found: WithoutFound) -> dict[str, Any]:
    """The whole answer of `spares without`."""
    keys = [need.key.hex() for need in found.ground.coverage.needs]
    gone = found.dropped
    return {"model": gone.model, "covered": [keys[need] for need in gone.covered], "lost": [keys[need] for need in gone.lost],
            "before": chosen_json(gone.before, found.ground), "after": chosen_json(gone.after, found.ground),
            "unknown": gone.unpriced or None, "classes": classes_json(found.ground), "note": ONLY_MODELS,
            **ended_json(found.ground)}


def _saves(one: Added, ground: Ground) -> str:
    if one.worth_cents is not None:
        worth = price_words(max(one.worth_cents, 0), ground.currency)
        return (f"Its price is not known; at {worth} or less it belongs to a cheapest set." if one.chosen
                else "Its price is not known, and even for nothing the cheapest set has no use for it.")
    if not one.chosen:
        return "The best set has no use for it."
    if one.before is not None and one.before.best.cost_cents is not None and one.saves_cents is None:
        return "Its price is not known. It alone covers some luminaires, so whatever it costs those need it."
    parts = []
    if one.saves_models:
        parts.append(f"{count(abs(one.saves_models), 'model')} {'fewer' if one.saves_models > 0 else 'more'}")
    if one.saves_cents:
        parts.append(f"{price_words(abs(one.saves_cents), ground.currency)} {'less' if one.saves_cents > 0 else 'more'}")
    replaced = f"; it replaces {', '.join(one.replaces)}" if one.replaces else "; it replaces none"
    return f"The best set takes it: {', '.join(parts) or 'as many models as before'}{replaced}."


def _price_line(tried: Tried, cheapest: bool, currency: str) -> list[str]:
    if tried.price_cents is None:
        return []
    said = f"Its price: {price_words(tried.price_cents, currency)}, {tried.price_from.value}"
    return [f"{said}." if cheapest else f"{said}; it counts only with --cheapest."]


def _known_line(tried: Tried) -> list[str]:
    if tried.known_revision is None:
        return []
    says = "which says the same" if tried.same else "and says otherwise: here the file counts in its place"
    return [f"{tried.added.model} is in the catalogue already, revision {tried.known_revision}, {says}."]


def _added_lines(tried: Tried, ground: Ground, everything: bool, cheapest: bool) -> list[str]:
    one = tried.added
    lines = [*_known_line(tried), f"{one.model} would cover {of_classes(ground, one.covered)}" + (
        f", with care {of_classes(ground, one.care)}" if one.care else "") + (
        f"; of {of_classes(ground, one.unknown)} nobody can tell, for want of figures" if one.unknown else "") + "."]
    if one.gained:
        lines.append(f"No other model to choose from covers {of_classes(ground, one.gained)} of them:")
        lines += luminaire_lines(ground, one.gained, everything, but=one.model)
    if everything:
        lines += [f"  {ground.coverage.needs[need].pieces:>4}  {class_words(ground.coverage.needs[need])}" for need in one.covered
                  if need not in one.gained]
    lines += _price_line(tried, cheapest, ground.currency)
    if one.before is not None and one.after is not None:
        lines.append(_saves(one, ground))
    return lines + _best("The best set with it", one.after, ground)


def with_lines(found: WithFound, everything: bool) -> list[str]:
    """The whole answer of `spares with`."""
    lines = _best("The best set now", found.tried[0].added.before, found.ground)
    for one in found.tried:
        lines += _added_lines(one, found.ground, everything, found.cheapest)
    lines += dict.fromkeys(one.added.unpriced for one in found.tried if one.added.unpriced)
    lines += ended_lines(found.ground, everything)
    return [*lines, "Nothing was signed: gearkeep driver load FILE takes a model into the catalogue.", ONLY_MODELS]


def with_json(found: WithFound) -> dict[str, Any]:
    """The whole answer of `spares with`."""
    ground = found.ground
    keys = [need.key.hex() for need in ground.coverage.needs]

    def named(needs: Sequence[int]) -> list[str]:
        return [keys[need] for need in needs]

    return {"before": chosen_json(found.tried[0].added.before, ground), "candidates": [
        {"model": one.model, "known_revision": tried.known_revision, "same_as_known": tried.same,
         "price_cents": tried.price_cents, "price_from": tried.price_from.name.lower(), "covered": named(one.covered),
         "with_care": named(one.care), "cannot_tell": named(one.unknown), "gained": named(one.gained),
         "chosen": one.chosen, "replaces": list(one.replaces), "saves_models": one.saves_models,
         "saves_cents": one.saves_cents, "worth_cents": one.worth_cents, "after": chosen_json(one.after, ground),
         "unknown": one.unpriced or None} for tried in found.tried for one in [tried.added]],
            "classes": classes_json(ground), "note": ONLY_MODELS, **ended_json(ground)}
