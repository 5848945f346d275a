"""gearkeep cover: which spare can stand in for which luminaires."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from vault.cli.shell import FAILED, Progress, command, desk, json_text, refuse_existing, say
from vault.errors import UsageProblem

if TYPE_CHECKING:
    from vault.actions.cover import Covering
    from vault.spares.coverage_gaps import Gap, Gaps
    from vault.spares.needs import Coverage


@command(example="gearkeep cover --type T3")
@click.option("--type", "type_code", help="Only luminaires of one fixture type.")
@click.option("--line", help="Only luminaires on one control line.")
@click.option("--care", is_flag=True, help="Let a model that fits with care count as cover.")
@click.option("--in-stock", is_flag=True, help="Only models of which a good piece lies in a store.")
@click.option("--out", type=click.Path(path_type=Path), help="Write the whole matrix: .xlsx or .csv.")
@click.option("--all", "everything", is_flag=True, help="Every class, with what every model's limit is.")
def cover(type_code: str | None, line: str | None, care: bool, in_stock: bool, out: Path | None, everything: bool,
          as_json: bool) -> int:
    """Show what no spare can save, then what covers what.

    Luminaires are taken together whose gear needs the same of a driver. First come those that no spare on a shelf can save,
    emergency before all; then those that no model covers; then classes with the models that cover them (* is free on a shelf). A
    spare that is kept for a planned swap saves that luminaire alone.
    """
    from vault.actions.cover import covering_of, default_cache, example_of, luminaires_in, on_shelf, shelf_gaps
    from vault.actions.stock import stock_state

    if out is not None:
        if out.suffix.lower() not in (".csv", ".xlsx"):
            raise UsageProblem(f"{out} would be neither a workbook nor CSV.", kind="bad-value",
                               hint="End its name in .xlsx or .csv.")
        refuse_existing(out)
    at = desk()
    with at.vault.reading() as session:
        found = covering_of(session, type_code=type_code, line=line, cache=default_cache(session), progress=Progress("judged"))
        state = stock_state(session, now_s=at.now_s())
        shelf = on_shelf(session, found.needs, state)
        gaps = shelf_gaps(found.coverage, shelf, with_care=care)
        inside = luminaires_in(session, found.needs, [gap.need for gap in gaps.unsaved])
        tags = {gap.need: [tag for tag in inside[gap.need] if tag not in gap.saved] for gap in gaps.unsaved}
        examples = {gap.need: example_of(session, found.needs, gap, tags[gap.need]) for gap in gaps.unsaved}
    usable = {model: state.usable(model) for model in state.models}
    if out is not None:
        from vault.exchange.cover_table import write_cover

        write_cover(out, _narrowed(found, usable, in_stock), gaps, places=found.needs.places, examples=examples,
                    usable=usable, kept=shelf.kept, with_care=care)
    if as_json:
        say(json_text(_json(found, gaps, usable, shelf.kept, tags, in_stock)))
    else:
        from vault.cli.cover_text import cover_lines
        from vault.cli.screen import screen_size

        say(*cover_lines(_narrowed(found, usable, in_stock), gaps, found.unsettled, examples=examples,
                         luminaires=len({tag for some in tags.values() for tag in some}), free=shelf.free, care=care,
                         in_stock=in_stock, everything=everything, screen=screen_size()))
        if out is not None:
            say(f"Wrote {out}.")
    return FAILED if gaps.uncovered or found.unsettled or (in_stock and gaps.unsaved) else 0


def _narrowed(found: Covering, usable: dict[str, int], in_stock: bool) -> Coverage:
    from vault.spares.needs import Coverage

    whole = found.coverage
    if not in_stock:
        return whole
    kept = [number for number, model in enumerate(whole.models) if usable.get(model.model)]
    return Coverage(needs=whole.needs, models=[whole.models[number] for number in kept],
                    answers=[[row[number] for number in kept] for row in whole.answers])


def _json(found: Covering, gaps: Gaps, usable: dict[str, int], kept: Mapping[str, int], tags: dict[int, list[str]],
          in_stock: bool) -> dict[str, Any]:
    from vault.domain.schema import words
    from vault.spares.coverage_words import class_words

    coverage = _narrowed(found, usable, in_stock)

    def gap(one: Gap) -> dict[str, Any]:
        return {"class": one.of.key.hex(), "pieces": one.pieces, "vital": one.of.vital, "nearest": one.model,
                "limit": one.answer.limit if one.answer else None, "all_kept": one.kept > 0}

    classes = [{"class": of.key.hex(), "what": class_words(of), "type": of.ratings[0].code, "revision": of.ratings[0].revision,
                "duty": words(of.gear.duty), "vital": of.vital, "pieces": of.pieces, "tags": list(of.tags), "place": place}
               for of, place in zip(coverage.needs, found.needs.places, strict=True)]
    return {
        "classes": classes, "uncovered": [gap(one) for one in gaps.uncovered],
        "unsaved": [{**gap(one), "luminaires": tags[one.need]} for one in gaps.unsaved],
        "unsettled": [{"tag": one.tag, "why": one.why} for one in found.unsettled],
        "models": [{"model": model.model, "usable": usable.get(model.model, 0), "kept": kept.get(model.model, 0)}
                   for model in coverage.models],
        "matrix": [{"class": of.key.hex(), "model": model.model, "verdict": answer.verdict.value, "rule": answer.rule,
                    "limit": answer.limit}
                   for of, row in zip(coverage.needs, coverage.answers, strict=True)
                   for model, answer in zip(coverage.models, row, strict=True)],
    }

