"""What is wrong with a luminaire's labels, short of what freezes it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from vault.domain.findings import Finding
from vault.domain.label_life import CopyLife, LabelLife, Stray
from vault.domain.places import same_place
from vault.domain.rules import Sheet


def _copies_words(copies: Iterable[int]) -> str:
    numbers = [str(copy) for copy in sorted(copies)]
    return f"copy {numbers[0]}" if len(numbers) == 1 else f"copies {', '.join(numbers[:-1])} and {numbers[-1]}"


def stray_words(stray: Stray) -> str:
    """The label as sure as it is known which one it is: "label copy 2", "a label, perhaps copy 2,"."""
    if not stray.copies:
        return "a label, of which this vault issued no copy,"
    if stray.sure:
        return f"label {_copies_words(stray.copies)}"
    if len(stray.copies) == 1:
        return f"a label, perhaps {_copies_words(stray.copies)},"
    return f"a label, one of {_copies_words(stray.copies)},"


def label_findings(life: LabelLife, place: str, told: Sequence[Stray] = ()) -> tuple[Finding, ...]:
    """What is wrong with the labels of a luminaire that hangs at `place`. told: strays of which another finding tells."""
    sheet = Sheet()
    _two_places(sheet, life.copies, place)
    for stray in life.strays:
        if stray in told:
            continue
        if stray.on_housing is False:
            sheet.ask("label-elsewhere").note(f"{stray_words(stray)} lies loose at {stray.place}.", found=stray.place,
                                              allowed=place)
            continue
        sheet.ask("label-elsewhere").broken(
            f"{stray_words(stray)} was found at {stray.place}, but the luminaire hangs at {place}. Sign a move if it was "
            "moved; else take the label off and withdraw it.", found=stray.place, allowed=place)
    on_housing = [copy for copy in life.copies if copy.placed]
    if on_housing and not any(copy.current for copy in on_housing):
        sheet.ask("label-outdated").note(
            f"The label on the housing, copy {on_housing[-1].copy}, shows older settings than the newest version. Print a "
            "new one, place it, and take the old one off.", found=f"copy {on_housing[-1].copy}",
            allowed="a copy of the newest settings")
    return tuple(sheet.findings)


def _two_places(sheet: Sheet, copies: Sequence[CopyLife], place: str) -> None:
    where = [(copy.copy, copy.elsewhere or place) for copy in copies
             if copy.current and not copy.loose and (copy.elsewhere or copy.placed)]
    if any(not same_place(where[0][1], other) for _, other in where):
        said = ", ".join(f"copy {copy} at {spot}" for copy, spot in where)
        sheet.ask("label-two-places").broken(
            f"Current labels of one luminaire were seen in different places: {said}. One of them is on the wrong housing: "
            "take it off and withdraw it.", found=said, allowed="one place")
