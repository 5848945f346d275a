"""gearkeep cover: which spare can stand in for which luminaires."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from vault.cli.shell import FAILED, Progress, command, desk, json_text, refuse_existing, say
from vault.errors import UsageProblem

if TYPE_CHECKING:
    from vault.actions.cover import Covering
    from vault.spares.coverage_gaps import Gap, Gaps

WIDTH = 79
_HEIGHT, _UNSAVED, _UNCOVERED = 23, 4, 3  # lines, and classes of each kind, that leave a screen of 24 lines whole


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
    emergency before all; then those that no model covers; then every class with the models that cover it (* lies on a shelf).
    """
    from vault.actions.cover import covering_of, default_cache, luminaires_in, shelf_gaps, usable_pieces

    if out is not None:
        if out.suffix.lower() not in (".csv", ".xlsx"):
            raise UsageProblem(f"{out} would be neither a workbook nor CSV.", kind="bad-value",
                               hint="End its name in .xlsx or .csv.")
        refuse_existing(out)
    with desk().vault.reading() as session:
        usable = usable_pieces(session)
        found = covering_of(session, type_code=type_code, line=line, cache=default_cache(session), progress=Progress("judged"))
        gaps = shelf_gaps(found.coverage, usable, with_care=care)
        tags = luminaires_in(session, found.needs, [gap.need for gap in gaps.unsaved])
    if out is not None:
        from vault.exchange.cover_table import write_cover

        write_cover(out, *_narrowed(found, gaps, usable, in_stock), places=found.needs.places, usable=usable, with_care=care)
    luminaires = len({tag for some in tags.values() for tag in some})
    if as_json:
        say(json_text(_json(found, gaps, usable, tags, in_stock)))
    else:
        say(*_text(found, gaps, usable, luminaires, care, in_stock, everything))
        if out is not None:
            say(f"Wrote {out}.")
    return FAILED if gaps.uncovered or found.unsettled or (in_stock and gaps.unsaved) else 0


def _narrowed(found: Covering, gaps: Gaps, usable: dict[str, int], in_stock: bool) -> tuple[Any, Gaps]:
    from vault.spares.needs import Coverage

    whole = found.coverage
    if not in_stock:
        return whole, gaps
    kept = [number for number, model in enumerate(whole.models) if usable.get(model.model)]
    return Coverage(needs=whole.needs, models=[whole.models[number] for number in kept],
                    answers=[[row[number] for number in kept] for row in whole.answers]), gaps


def _json(found: Covering, gaps: Gaps, usable: dict[str, int], tags: dict[int, list[str]], in_stock: bool) -> dict[str, Any]:
    from vault.domain.schema import words
    from vault.spares.coverage_words import class_words

    coverage, _ = _narrowed(found, gaps, usable, in_stock)

    def gap(one: Gap) -> dict[str, Any]:
        return {"class": one.of.key.hex(), "pieces": one.of.pieces, "vital": one.of.vital, "nearest": one.model,
                "limit": one.answer.limit if one.answer else None}

    classes = [{"class": of.key.hex(), "what": class_words(of), "type": of.ratings[0].code, "revision": of.ratings[0].revision,
                "duty": words(of.gear.duty), "vital": of.vital, "pieces": of.pieces, "tags": list(of.tags), "place": place}
               for of, place in zip(coverage.needs, found.needs.places, strict=True)]
    return {
        "classes": classes, "uncovered": [gap(one) for one in gaps.uncovered],
        "unsaved": [{**gap(one), "luminaires": tags[one.need]} for one in gaps.unsaved],
        "unsettled": [{"tag": one.tag, "why": one.why} for one in found.unsettled],
        "models": [{"model": model.model, "usable": usable.get(model.model, 0)} for model in coverage.models],
        "matrix": [{"class": of.key.hex(), "model": model.model, "verdict": answer.verdict.value, "rule": answer.rule,
                    "limit": answer.limit}
                   for of, row in zip(coverage.needs, coverage.answers, strict=True)
                   for model, answer in zip(coverage.models, row, strict=True)],
    }


def _text(found: Covering, gaps: Gaps, usable: dict[str, int], luminaires: int, care: bool, in_stock: bool,
          everything: bool) -> list[str]:
    from vault.cli.cover_text import class_lines, counted, gap_lines, unsettled_lines

    many = len(gaps.unsaved) + len(gaps.uncovered) + len(found.coverage.needs)
    most = (many, many) if everything else (_UNSAVED, _UNCOVERED)
    saved = f"A spare on the shelf can save every luminaire{' but those named below' if found.unsettled else ''}."
    lines = gap_lines(gaps.unsaved, "No spare on the shelf can save "
                      f"{counted(gaps.unsaved_pieces, 'driver')} in {counted(luminaires, 'luminaire')}",
                      saved, found.needs.places, most[0], nearest=True)
    if not in_stock:
        lines += gap_lines(gaps.uncovered, f"No model of the catalogue covers {counted(gaps.uncovered_pieces, 'driver')}",
                           "The catalogue covers every luminaire.", found.needs.places, most[1], nearest=False)
    lines += unsettled_lines(found.unsettled, everything)
    coverage, _ = _narrowed(found, gaps, usable, in_stock)
    # A heading, two lines for each class, and where to see the rest.
    shown = many if everything else max(1, (_HEIGHT - len(lines) - 2) // 2)
    lines += class_lines(coverage, usable, care, shown, everything)
    return lines if everything else [line if len(line) <= WIDTH else line[: WIDTH - 1] + "…" for line in lines]
