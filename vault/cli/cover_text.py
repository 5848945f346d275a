"""Coverage as lines on a screen."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import product

from vault.actions.cover import Unsettled
from vault.cli.screen import Screen, folded
from vault.domain.counting import counted
from vault.domain.findings import Verdict
from vault.domain.tag import shown
from vault.spares.coverage_gaps import Gap, Gaps, by_duty
from vault.spares.coverage_words import VERDICT_WORDS, answer_words, class_words, duty_words, gap_words
from vault.spares.needs import Answer, Coverage

_WHOLE = "Every class: gearkeep cover --all; the matrix: gearkeep cover --out FILE.xlsx"
_UNSAVED, _UNCOVERED = 4, 3  # classes of each kind that are told at most without --all


def cover_lines(coverage: Coverage, gaps: Gaps, unsettled: Sequence[Unsettled], *,
                examples: Mapping[int, tuple[str, str]], luminaires: int, free: Mapping[str, int], care: bool, in_stock: bool,
                everything: bool, screen: Screen | None) -> list[str]:
    """What cannot be saved, what nothing covers, then what covers what. examples: a luminaire and its place, by class.
    luminaires: that cannot be saved. free: pieces by model that nobody keeps. screen: folded to its columns, and so many classes
    that it holds them; None: not folded.
    """
    many = max(len(gaps.unsaved), len(gaps.uncovered), 1)
    room = screen or Screen()

    def head(unsaved: int, uncovered: int) -> list[str]:
        told = _unsaved_lines(gaps, luminaires, len(unsettled), examples, unsaved)
        if not in_stock:
            told += _uncovered_lines(gaps, uncovered)
        return [*told, *_unsettled_lines(unsettled, everything)]

    blocks = [folded(one, screen) for one in _class_blocks(coverage, free, everything)]
    below = f"{counted(len(coverage.needs), 'class', 'classes')} by {counted(len(coverage.models), 'model')}. " \
        f"\"Fits with care\" {'counts' if care else 'does not count'}. * is free on a shelf."
    if everything:
        return [*folded([*head(many, many), below], screen), *(line for block in blocks for line in block)]
    last = len(folded([below, _WHOLE], screen)) + 1
    for unsaved, uncovered in product(range(_UNSAVED, 0, -1), range(_UNCOVERED, 0, -1)):
        lines = folded(head(unsaved, uncovered), screen)
        if len(lines) + last + sum(map(len, blocks[:1])) <= room.lines:
            break
    lines += folded([below], screen)
    for block in blocks:
        if len(lines) + len(block) + last > room.lines + 1 and block is not blocks[0]:
            break
        lines += block
    return [*lines, *folded([_WHOLE], screen)]


def _unsaved_lines(gaps: Gaps, luminaires: int, unsettled: int, examples: Mapping[int, tuple[str, str]], most: int) -> list[str]:
    """What no spare on the shelf can save, each class with an example and why."""
    if not gaps.unsaved:
        return [f"A spare on the shelf can save every luminaire{f' but the {unsettled} named below' if unsettled else ''}."]
    lines = [f"No spare on the shelf can save {counted(gaps.unsaved_pieces, 'driver')} in {counted(luminaires, 'luminaire')}: "
             f"{_duties(gaps.unsaved)}"]
    for gap in gaps.unsaved[:most]:
        tag, place = examples[gap.need]
        lines += [f"  {gap.pieces:>4}  {class_words(gap.of)}", f"        {shown(tag)}, {place}; {_nearest(gap)}"]
    return lines + _rest(gaps.unsaved[most:])


def _nearest(gap: Gap) -> str:
    return "nothing lies on a shelf" if gap.answer is None else f"{gap.model} {gap_words(gap)}"


def _uncovered_lines(gaps: Gaps, most: int) -> list[str]:
    if not gaps.uncovered:
        return ["The catalogue covers every luminaire."]
    return [f"No model of the catalogue covers {counted(gaps.uncovered_pieces, 'driver')}: {_duties(gaps.uncovered)}",
            *(f"  {gap.pieces:>4}  {class_words(gap.of)}" for gap in gaps.uncovered[:most]), *_rest(gaps.uncovered[most:])]


def _duties(gaps: Sequence[Gap]) -> str:
    return ", ".join(f"{pieces} {duty_words(duty)}" for duty, pieces in by_duty(tuple(gaps)).items())


def _rest(gaps: Sequence[Gap]) -> list[str]:
    return [f"        and {counted(sum(gap.pieces for gap in gaps), 'driver')} more in "
            f"{counted(len(gaps), 'other class', 'other classes')}"] if gaps else []


def _unsettled_lines(unsettled: Sequence[Unsettled], everything: bool) -> list[str]:
    """Luminaires that get no spare yet."""
    if not unsettled:
        return []
    named = unsettled if everything else unsettled[:1]
    more = len(unsettled) - len(named)
    return [f"Not counted, for no spare may be fitted before it is settled: {counted(len(unsettled), 'luminaire')}",
            *(f"        {shown(one.tag)}: {one.why}" for one in named), *([f"        and {more} more"] if more else [])]


def _class_blocks(coverage: Coverage, free: Mapping[str, int], everything: bool) -> list[list[str]]:
    """Every class with its models: those that cover it, or, of all, each with its limit."""
    blocks = []
    for of, answers in zip(coverage.needs, coverage.answers, strict=True):
        named = [(model.model + ("*" if free.get(model.model) else ""), answer)
                 for model, answer in zip(coverage.models, answers, strict=True)]
        lines = [f"  {of.pieces:>4}  {class_words(of)}"]
        if everything:
            lines += [f"          {name:<25} {answer_words(answer)}" for name, answer in named]
        else:
            lines.append(_covering(named))
        blocks.append(lines)
    return blocks


def _covering(named: Sequence[tuple[str, Answer]]) -> str:
    for verdict in (Verdict.FITS, Verdict.FITS_WITH_CARE, Verdict.CANNOT_TELL):
        some = sorted((name for name, answer in named if answer.verdict is verdict), key=lambda name: name[-1:] != "*")
        if some:
            return f"        {VERDICT_WORDS[verdict]} {len(some)}: {', '.join(some)}"
    return "        no model fits"
