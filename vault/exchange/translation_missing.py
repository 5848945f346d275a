"""What a record has to say and neither the file nor the type's rating does: asked once for the whole file."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from vault.domain.rating import GearRating, Rating
from vault.domain.schema import from_words, words
from vault.domain.settings import Duty, EmergencyMode, EmergencySupply, Gear, Protocol
from vault.errors import UsageProblem
from vault.exchange.asked import Choice, FileQuestion
from vault.exchange.assign import leaf
from vault.exchange.schedule_columns import CONTROL, EMERGENCY, GEAR_COLUMNS, CellProblem
from vault.exchange.translation_columns import Ledger

NOT_SET = "not set"
# Our column -> what is asked, and the choices; without choices any text is an answer that the column takes.
ASKED: Mapping[str, tuple[str, tuple[Choice, ...], str | None]] = {
    "control": (
        "Neither the file nor the rating says how these luminaires are controlled, and they have addresses, groups or levels. "
        "How are they?", tuple(Choice(word=words(one), says=f"control: {words(one)}") for one in Protocol), None),
    "min_level": (
        "The file does not say the lowest dimming level (1 to 254) of these DALI drivers, and a record has to say it or that it "
        "was not set. Which is it?", (), NOT_SET),
    "emergency_supply": (
        "Neither the file nor the rating says what supplies these luminaires in an emergency. What does?",
        tuple(Choice(word=words(one), says=f"supply: {words(one)}") for one in EmergencySupply), None),
    "emergency_mode": (
        "Neither the file nor the rating says the mode of these emergency luminaires. Which is it?",
        tuple(Choice(word=words(one), says=f"mode: {words(one)}") for one in EmergencyMode), None),
    "duration_min": (
        "Neither the file nor the rating says the rated duration of these emergency luminaires, in minutes. What is it?",
        (), None),
}
_EMERGENCY = tuple(name for name, column in GEAR_COLUMNS.items() if column.path.startswith(EMERGENCY))
_CONTROL = tuple(name for name, column in GEAR_COLUMNS.items() if column.path.startswith(CONTROL) and name != "control")
_LOOKED_AT = ("type", "control", "gear", *_CONTROL, *_EMERGENCY)


@dataclass(frozen=True, slots=True, kw_only=True)
class Missing:
    """Fills what is missing. ratings: what the types say."""

    ratings: Mapping[str, Rating]

    def lacks(self, row: Mapping[str, str]) -> tuple[str, ...]:
        """The columns of ours that a row would have to fill."""
        gear = self._gear(row)
        if gear is None:
            return ()
        control = row.get("control") or (words(next(iter(gear.protocols))) if gear.protocols and len(gear.protocols) == 1 else "")
        if not control and any(row.get(name) for name in _CONTROL):
            return ("control",)
        found = ["min_level"] if control == words(Protocol.DALI) and not row.get("min_level") else []
        if gear.duty is not Duty.GENERAL or any(row.get(name) for name in _EMERGENCY):
            limits = gear.emergency
            said = {"emergency_supply": limits and limits.supply is not None,
                    "emergency_mode": limits and limits.modes and len(limits.modes) == 1,
                    "duration_min": limits and limits.duration_min is not None}
            found += [name for name, known in said.items() if not known and not row.get(name)]
        return tuple(found)

    def _gear(self, row: Mapping[str, str]) -> GearRating | None:
        rating = self.ratings.get(row.get("type", ""))
        if rating is None:
            return None
        if len(rating.gears) == 1 and not row.get("gear"):
            return rating.gears[0]
        duty = from_words(Duty, row.get("gear", ""))
        return rating.gear_for(duty) if duty is not None else None


def fill_missing(table: dict[str, list[str]], ratings: Mapping[str, Rating], answers: Mapping[str, str], ledger: Ledger) -> None:
    """Put the answers where a record would lack something, or ask. Raises UsageProblem (bad-answer) for what cannot be."""
    missing = Missing(ratings=ratings)
    # What controls a luminaire decides what else has to be said.
    for asked in (("control",), ("min_level", "emergency_supply", "emergency_mode", "duration_min")):
        for name, places in _lacking(table, missing, asked, ledger).items():
            word = answers.get(name)
            if word is None:
                _ask(name, places, table, ledger)
                continue
            checked(name, word)
            column = table.setdefault(name, [""] * len(ledger.numbers))
            for at in places:
                column[at] = word


def _lacking(table: Mapping[str, list[str]], missing: Missing, asked: Collection[str], ledger: Ledger) -> dict[str, list[int]]:
    names = [name for name in _LOOKED_AT if name in table]
    memo: dict[tuple[str, ...], tuple[str, ...]] = {}
    rows: dict[str, list[int]] = {}
    for at, cells in enumerate(zip(*(table[name] for name in names), strict=True)):
        if cells not in memo:
            memo[cells] = missing.lacks(dict(zip(names, cells, strict=True)))
        for name in memo[cells]:
            if name in asked and name not in ledger.silent.get(at, ()):
                rows.setdefault(name, []).append(at)
    return rows


def _ask(name: str, places: Sequence[int], table: Mapping[str, list[str]], ledger: Ledger) -> None:
    says, choices, likely = ASKED[name]
    shown = tuple((ledger.numbers[at], f"{table['reference'][at]} {table['type'][at]}".strip()) for at in places[:3])
    ledger.ask(FileQuestion(key=name, says=says, choices=choices, likely=likely, count=len(places), examples=shown,
                            allowed="" if choices else GEAR_COLUMNS[name].allowed))
    for at in places:
        ledger.wait(at, (name,))


def checked(name: str, word: str) -> str:
    """The answer as our column takes it. Raises UsageProblem (bad-answer)."""
    choices = [choice.word for choice in ASKED[name][1]]
    try:
        if choices and word not in choices:
            raise CellProblem("is none of the choices")
        if word != NOT_SET:
            _, spec = leaf(Gear, GEAR_COLUMNS[name].path)
            value = GEAR_COLUMNS[name].read(word)
            if isinstance(value, int) and not spec.least <= value <= spec.most:
                raise CellProblem("is out of range")
        elif NOT_SET not in GEAR_COLUMNS[name].allowed:
            raise CellProblem("is no answer here")
    except CellProblem as problem:
        raise UsageProblem(f"The answer to {name}: {word!r} {problem}.", kind="bad-answer",
                           hint=f"Allowed: {', '.join(choices) or GEAR_COLUMNS[name].allowed}.") from problem
    return word
