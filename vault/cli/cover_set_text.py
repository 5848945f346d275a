"""The smallest set as lines on a screen and as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from vault.actions.covering_set import Ground, SetFound
from vault.cli.stock_text import price_words
from vault.domain.tag import shown
from vault.exchange.stock_cells import day_words
from vault.spares.coverage_gaps import Gap
from vault.spares.coverage_words import answer_words, class_words
from vault.spares.smallest_set import Chosen, OneSet

ONLY_MODELS = "A set says which models to stock, not how many of each: see gearkeep hold."
_CLASSES, _NAMED, _ENDED = 4, 3, 6  # classes, luminaires of one, and ended models that are named without --all


def count(number: int, word: str) -> str:
    """ "1 class", "3 classes"."""
    plural = word if number == 1 else f"{word}es" if word.endswith("s") else f"{word}s"
    return f"{number:,} {plural}"


def of_classes(ground: Ground, needs: Sequence[int]) -> str:
    """ "12 drivers in 3 classes"."""
    return f"{count(ground.coverage.pieces(needs), 'driver')} in {count(len(needs), 'class')}"


def one_set(one: OneSet, currency: str) -> str:
    """Its size, cost and models."""
    cost = "" if one.cost_cents is None else f", {price_words(one.cost_cents, currency)}"
    return f"{count(len(one.models), 'model')}{cost}: {', '.join(one.models) or 'none'}"


def luminaire_lines(ground: Ground, needs: Sequence[int], everything: bool, gaps: Sequence[Gap] = (),
                    but: str | None = None) -> list[str]:
    """Classes with their luminaires, and why nothing covers them where that is told. but: a model that is spoken of already."""
    nearest = {gap.need: gap for gap in gaps}
    lines = []
    for need in needs if everything else needs[:_CLASSES]:
        lines.append(f"  {ground.coverage.needs[need].pieces:>4}  {class_words(ground.coverage.needs[need])}")
        named = ground.luminaires.get(need, ())
        shown_now = named if everything else named[:_NAMED]
        if shown_now:
            more = f", and {len(named) - len(shown_now)} more" if len(named) > len(shown_now) else ""
            lines.append("        " + "; ".join(f"{shown(one.tag)} {one.place}" for one in shown_now) + more)
        gap = nearest.get(need)
        if gap is not None:
            lines.append("        no model to choose from" if gap.answer is None else
                         f"        nearest: {gap.model} {answer_words(gap.answer)}")
        others = [name for name in ground.others.get(need, ()) if name != but]
        if others:
            lines.append(f"        not generic, but {'fits' if len(others) == 1 else 'fit'}: {', '.join(others)}")
        ended = ground.ended_others.get(need, ())
        if ended:
            lines.append(f"        no longer made, but {'fits' if len(ended) == 1 else 'fit'}: {', '.join(ended)}")
    if len(needs) > _CLASSES and not everything:
        lines.append(f"        and {of_classes(ground, needs[_CLASSES:])} more; --all names them")
    return lines


def ended_lines(ground: Ground, everything: bool, hint: str = "") -> list[str]:
    """Models that can no longer be ordered: those left out, and those that count all the same. hint: how one is taken in."""
    out, told = list(ground.ended.items()), []
    if out:
        named = ", ".join(f"{name} (last order {day_words(day)})" for name, day in (out if everything else out[:_ENDED]))
        more = f", and {len(out) - _ENDED} more" if len(out) > _ENDED and not everything else ""
        told.append(f"No longer made, so left out: {named}{more}.{hint}")
    told += [f"{name} is no longer made (last order {day_words(day)}); it counts here because it was named."
             for name, day in ground.named_ended.items()]
    return told


def _first_line(chosen: Chosen, ground: Ground, share: float) -> str:
    models, covered = count(len(chosen.models), "model"), f"{chosen.best.covered:,} of {count(chosen.total, 'driver')}"
    asked = "" if share == 100 else f" (asked: {share:g} %, emergency duty whole)"
    names, cost, fewer = ", ".join(chosen.models) or "none", chosen.best.cost_cents, len(chosen.models) - 1
    if cost is None:
        said = f"{models} cover{'s' if fewer == 0 else ''} {covered}{asked}: {names}."
        proof = "Proven" + ("" if fewer < 1 else ": no single model does" if fewer == 1 else f": no {fewer} models do")
        least = count(chosen.bound, "model")
    else:
        said = f"The cheapest set, {models} for {price_words(cost, ground.currency)}, covers {covered}{asked}: {names}."
        proof, least = "Proven: no other set is cheaper", price_words(chosen.bound, ground.currency)
    return f"{said} {proof}." if chosen.proven else \
        f"{said} NOT proven in the time: no set can do with less than {least}; give --seconds more."


def _model_lines(chosen: Chosen, ground: Ground) -> list[str]:
    lines = []
    for model in chosen.models:
        forced, adds = chosen.forced.get(model, ()), chosen.adds[model]
        price = f"  {price_words(ground.prices[model], ground.currency)}" if model in ground.prices else ""
        why = ["kept"] if model in chosen.kept else []
        why.append(f"alone covers {of_classes(ground, adds)} of the set" if adds else "the others cover all that it does")
        lines.append(f"  {model}{price}  {'; '.join(why)}")
        if forced:
            lines.append(f"      forced: no other model to choose from covers {of_classes(ground, forced)}"
                         f"{', among them' if len(forced) > 1 else ':'} {class_words(ground.coverage.needs[forced[0]])}")
    return lines


def _care_line(chosen: Chosen, ground: Ground) -> list[str]:
    saves = chosen.care_saves
    if saves is None:
        return []
    gain = [f"{count(saves.pieces, 'driver')} more covered"] if saves.pieces > 0 else []
    fewer = saves.models
    gain += [f"{count(abs(fewer), 'model')} {'fewer' if fewer > 0 else 'more'}"] if fewer else []
    if saves.cost_cents:
        gain.append(f"{price_words(abs(saves.cost_cents), ground.currency)} {'less' if saves.cost_cents > 0 else 'more'}")
    return [f"If \"fits with care\" counted (--care): {', '.join(gain)}. {one_set(saves.best, ground.currency)}." if gain else
            "Letting \"fits with care\" count (--care) would change nothing: the set would be no "
            f"{'cheaper' if chosen.best.cost_cents is not None else 'smaller'} and would cover no more."]


def set_lines(found: SetFound, share: float, everything: bool) -> list[str]:
    """The whole answer of `spares set`."""
    ground, chosen = found.ground, found.chosen
    lines = [_first_line(chosen, ground, share), *_model_lines(chosen, ground)]
    if chosen.uncoverable:
        needs = [gap.need for gap in chosen.uncoverable]
        others = "; models marked as not generic are left out, --any lets them in" if any(map(ground.others.get, needs)) else ""
        lines.append(f"No model to choose from covers {of_classes(ground, needs)}{others}:")
        lines += luminaire_lines(ground, needs, everything, chosen.uncoverable)
    if chosen.left_out:
        lines.append(f"Left out, as the share allows: {of_classes(ground, chosen.left_out)}:")
        lines += luminaire_lines(ground, chosen.left_out, everything)
    lines += ended_lines(ground, everything, " --keep MODEL takes one in all the same.")
    if chosen.short:
        lines.append(f"{count(chosen.short, 'driver')} fewer than asked for: no model covers them.")
    lines += _care_line(chosen, ground)
    if chosen.proven:
        lines += [f"Next best: {one_set(one, ground.currency)}." for one in chosen.runners_up] or ["There is no other set."]
    if chosen.unpriced:
        lines.append(f"Without a price, so left aside: {', '.join(chosen.unpriced)}. With one, the set could become cheaper.")
    if chosen.dominated:
        lines.append(f"{count(len(chosen.dominated), 'model')} had no need of a search: another covers all the same"
                     f"{' and costs no more' if chosen.best.cost_cents is not None else ''}"
                     + (": " + ", ".join(f"{one} (by {by})" for one, by in chosen.dominated.items()) if everything else "") + ".")
    if ground.unsettled:
        lines.append(f"{count(len(ground.unsettled), 'luminaire')} may get no spare until somebody settles them; they are "
                     "counted nowhere here: gearkeep cover")
    return [*lines, ONLY_MODELS]


def chosen_json(chosen: Chosen | None, ground: Ground) -> dict[str, Any] | None:
    """A set with everything behind it."""
    if chosen is None:
        return None
    keys = [need.key.hex() for need in ground.coverage.needs]

    def named(one: OneSet) -> dict[str, Any]:
        return {"models": list(one.models), "covered": one.covered, "cost_cents": one.cost_cents}

    saves = chosen.care_saves
    return {
        **named(chosen.best), "currency": ground.currency or None, "proven": chosen.proven, "bound": chosen.bound,
        "total": chosen.total, "target": chosen.target, "short": chosen.short, "kept": list(chosen.kept),
        "unpriced": list(chosen.unpriced), "dominated": dict(chosen.dominated),
        "uncoverable": [{"class": keys[gap.need], "pieces": gap.of.pieces, "vital": gap.of.vital, "nearest": gap.model,
                         "limit": gap.answer.limit if gap.answer else None} for gap in chosen.uncoverable],
        "left_out": [keys[need] for need in chosen.left_out], "runners_up": [named(one) for one in chosen.runners_up],
        "adds": {model: [keys[need] for need in needs] for model, needs in chosen.adds.items()},
        "forced": {model: [keys[need] for need in needs] for model, needs in chosen.forced.items()},
        "care_saves": None if saves is None else {**named(saves.best), "saves_models": saves.models,
                                                  "saves_cents": saves.cost_cents, "more_covered": saves.pieces},
        "alternatives": {keys[need]: list(models) for need, models in chosen.alternatives.items()},
    }


def classes_json(ground: Ground) -> list[dict[str, Any]]:
    """Every class, and the luminaires of those that are named."""
    return [{"class": need.key.hex(), "what": class_words(need), "pieces": need.pieces, "vital": need.vital,
             "luminaires": [{"tag": one.tag, "place": one.place} for one in ground.luminaires[number]]
             if number in ground.luminaires else None, "not_generic": list(ground.others.get(number, ())),
             "no_longer_made": list(ground.ended_others.get(number, ()))}
            for number, need in enumerate(ground.coverage.needs)]


def ended_json(ground: Ground) -> dict[str, dict[str, str]]:
    """Models that can no longer be ordered with the day of their last order: left out, and counted because they were named."""
    return {"no_longer_made": {name: day_words(day) for name, day in ground.ended.items()},
            "named_though_no_longer_made": {name: day_words(day) for name, day in ground.named_ended.items()}}


def set_json(found: SetFound) -> dict[str, Any]:
    """The whole answer of `spares set`."""
    return {"set": chosen_json(found.chosen, found.ground), "classes": classes_json(found.ground),
            "unsettled": [one.tag for one in found.ground.unsettled], "note": ONLY_MODELS, **ended_json(found.ground)}
