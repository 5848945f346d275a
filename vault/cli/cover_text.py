"""Coverage as lines on a screen."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from vault.actions.cover import Unsettled
from vault.domain.findings import Verdict
from vault.domain.tag import shown
from vault.spares.coverage_gaps import Gap, by_duty
from vault.spares.coverage_words import VERDICT_WORDS, answer_words, class_words, duty_words
from vault.spares.needs import Coverage

_WHOLE = "Every class: gearkeep cover --all; the matrix: gearkeep cover --out FILE.xlsx"


def counted(number: int, what: str) -> str:
    """ "1 driver", "3 drivers"."""
    return f"{number} {what}{'' if number == 1 else 's'}"


def gap_lines(gaps: Sequence[Gap], heading: str, none: str, places: Sequence[str], most: int, *, nearest: bool) -> list[str]:
    """What is without cover, with numbers by duty. none: what is said where nothing is."""
    if not gaps:
        return [none]
    duties = ", ".join(f"{pieces} {duty_words(duty)}" for duty, pieces in by_duty(tuple(gaps)).items())
    lines = [f"{heading}: {duties}"]
    for gap in gaps[:most]:
        lines.append(f"  {gap.of.pieces:>4}  {class_words(gap.of)}")
        if nearest:
            example = f"{shown(gap.of.tags[0])}, {places[gap.need]}" if gap.of.tags else places[gap.need]
            why = f"{gap.model} {answer_words(gap.answer)}" if gap.answer is not None else "nothing lies on a shelf"
            lines.append(f"        {example}; {why}")
    if len(gaps) > most:
        rest = gaps[most:]
        lines.append(f"        and {counted(sum(gap.of.pieces for gap in rest), 'driver')} more of other kinds")
    return lines


def unsettled_lines(unsettled: Sequence[Unsettled], everything: bool) -> list[str]:
    """Luminaires that get no spare yet."""
    if not unsettled:
        return []
    named = unsettled if everything else unsettled[:1]
    return [f"Not counted, for no spare may be fitted before it is settled: {counted(len(unsettled), 'luminaire')}",
            *(f"        {shown(one.tag)}: {one.why}" for one in named)]


def class_lines(coverage: Coverage, usable: Mapping[str, int], care: bool, most: int, everything: bool) -> list[str]:
    """Every class with its models: those that cover it, or, of all, each with its limit."""
    lines = [f"{len(coverage.needs)} classes by {len(coverage.models)} models. Fits with care "
             f"{'counts' if care else 'counts not'}. * lies on a shelf."]
    for of, answers in list(zip(coverage.needs, coverage.answers, strict=True))[:most]:
        lines.append(f"  {of.pieces:>4}  {class_words(of)}")
        named = [(model.model + ("*" if usable.get(model.model) else ""), answer)
                 for model, answer in zip(coverage.models, answers, strict=True)]
        if everything:
            lines += [f"          {name:<25} {answer_words(answer)}" for name, answer in named]
            continue
        for verdict in (Verdict.FITS, Verdict.FITS_WITH_CARE, Verdict.CANNOT_TELL):
            some = sorted((name for name, answer in named if answer.verdict is verdict), key=lambda name: name[-1:] != "*")
            if some:
                lines.append(f"        {VERDICT_WORDS[verdict]} {len(some)}: {', '.join(some)}")
                break
        else:
            lines.append("        no model fits")
    return lines if everything else [*lines, _WHOLE]
