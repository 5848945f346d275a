"""How long a handover pack and what belongs to it are to be kept, as the pack states it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from vault.errors import GearkeepError, UsageProblem
from vault.exchange.toml_file import read_toml

MOST = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Retention:
    """terms: (what, how long). source: on what they rest, a sentence."""

    terms: tuple[tuple[str, str], ...]
    source: str

    @property
    def said(self) -> tuple[str, ...]:
        """Each term as a line."""
        return tuple(f"{what}: {how_long}" for what, how_long in self.terms)


USUAL = Retention(
    terms=(("Luminaire configuration: this pack with its paper", "for the life of the installation"),
           ("Each earlier pack", "until the next one was verified against it"),
           ("Records of emergency lighting tests, log book", "as the local rule says")),
    source="Common practice, no source. Local rules and contracts come first.")


def read_retention(said: str | None) -> Retention:
    """None: the usual; a file NAME.toml of lines "what" = "how long"; else the text itself, for the whole pack.

    Raises UsageProblem (bad-retention), FileProblem.
    """
    if said is None:
        return USUAL
    if not said.lower().endswith(".toml"):
        terms = {"This pack with its paper": said}
    else:
        try:
            terms = dict(read_toml(Path(said)))
        except GearkeepError as problem:
            raise UsageProblem(problem.what, hint=problem.hint, kind="bad-retention") from problem
    wrong = [what for what, how_long in terms.items() if not _is_line(what) or not _is_line(how_long)]
    if wrong or not 0 < len(terms) <= MOST:
        found = f"the entry {wrong[0]!r} is not" if wrong else f"{len(terms)} entries are not"
        raise UsageProblem(f"What was given for how long to keep the pack cannot be used: {found} allowed.", kind="bad-retention",
                           hint=f'Write 1 to {MOST} lines such as "test records" = "four years", each part of 1 to 200 '
                                "characters on one line.")
    return Retention(terms=tuple(terms.items()), source="As agreed for this installation. Local rules and contracts come first.")


def _is_line(said: object) -> bool:
    return isinstance(said, str) and said.strip() != "" and len(said) <= 200 and said.isprintable()
