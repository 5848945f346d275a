"""All answers of a coverage: plain stops the quick way, what is remembered by its digest, the rest by the whole fit."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from hashlib import blake2b
from importlib.resources import files

from vault.domain.driver import DriverModel
from vault.domain.findings import Finding
from vault.spares.coverage import Need, content_digest, judge
from vault.spares.coverage_quick import quick_stops
from vault.spares.needs import Answer

ANSWER_BYTES = 16
# What answers depend on besides their class and model: a change in any of these packages' modules that begin so
# forgets every answer.
_RULES_IN = (("vault.domain", ""), ("vault.spares", "coverage"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered:
    """answers[class][model]. held: every answer that did not come the quick way, by digest, to be remembered. quickly,
    remembered, carefully: how many came which way.
    """

    answers: Sequence[Sequence[Answer]]
    held: Mapping[bytes, Answer]
    quickly: int
    remembered: int
    carefully: int


@cache
def rules_version() -> bytes:
    """16 bytes over the program text of the fit and of coverage, so that no answer outlives the rule that gave it."""
    digest = blake2b(digest_size=ANSWER_BYTES)
    for package, begins in _RULES_IN:
        for module in sorted(files(package).iterdir(), key=lambda one: one.name):
            if module.name.startswith(begins) and module.name.endswith(".py"):
                digest.update(module.name.encode() + b"\0" + module.read_bytes())
    return digest.digest()


def answers_for(needs: Sequence[Need], models: Sequence[DriverModel], *, known: Mapping[bytes, Answer] | None = None,
                quick: bool = True, doubts: Mapping[str, Sequence[Finding]] | None = None,
                progress: Callable[[int, int], None] = lambda _done, _total: None) -> Answered:
    """Every model against every class. known: answers remembered by digest. quick=False judges all by the whole fit. doubts: by
    model, what tells on it whatever the class.
    """
    known, doubts = known or {}, doubts or {}
    stops = quick_stops(needs, models) if quick else None
    of_model = [blake2b(rules_version() + content_digest(model) + _told(doubts.get(model.model, ())), digest_size=32).digest()
                for model in models]
    answers: list[tuple[Answer, ...]] = []
    held: dict[bytes, Answer] = {}
    quickly = remembered = carefully = 0
    for number, need in enumerate(needs):
        row: list[Answer] = []
        stopped = stops.at[number].tolist() if stops is not None else [0] * len(models)
        for model, digest, place in zip(models, of_model, stopped, strict=True):
            plain = stops.answers[place] if stops is not None else None
            if plain is not None:
                quickly += 1
                row.append(plain)
                continue
            key = blake2b(need.digest + digest, digest_size=ANSWER_BYTES).digest()
            found = known.get(key)
            if found is None:
                carefully += 1
                found = judge(need, model, doubts.get(model.model, ()))
            else:
                remembered += 1
            held[key] = found
            row.append(found)
        answers.append(tuple(row))
        progress(number + 1, len(needs))
    return Answered(answers=answers, held=held, quickly=quickly, remembered=remembered, carefully=carefully)


def _told(findings: Sequence[Finding]) -> bytes:
    return "\n".join(f"{finding.rule} {finding.says}" for finding in findings).encode()


__all__ = ["ANSWER_BYTES", "Answered", "answers_for", "rules_version"]
