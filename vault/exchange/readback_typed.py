"""A readback typed in, field by field; whatever was typed is handed on at once, so that a break loses nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from vault.domain.readback_evidence import PHOTOGRAPH, photograph_field
from vault.domain.readback_form import Ask, evidence_ask
from vault.errors import GearkeepError
from vault.exchange.readback_value import typed_value


def fill(asks: Iterable[Ask], ask: Callable[[str], str], keep: Callable[[dict[str, object]], None], *,
         known: dict[str, object] | None = None, photograph: str | None = None) -> dict[str, object]:
    """Ask for every field that is not known yet; returns field -> plain value.

    ask: shows a text and gives back what was typed; "" is not read, "?" has what is allowed shown. A value that cannot be is
    told and asked again. keep: gets everything so far after each answer. After a current or a voltage it asks how that is
    known. known: what was typed before. photograph: SHA-256 in hexadecimal of the file that "photograph" speaks of.
    """
    values = dict(known or {})
    for one in asks:
        if one.field not in values:
            _answer(one, ask, keep, values, "nothing: not read")
        proof = evidence_ask(one.field) if values.get(one.field) is not None else None
        if proof is not None and proof.field not in values:
            _answer(proof, ask, keep, values, "nothing: not said")
        if proof is not None and values.get(proof.field) == PHOTOGRAPH and photograph is not None:
            values[photograph_field(proof.field)] = photograph
            keep(values)
    return values


def _answer(one: Ask, ask: Callable[[str], str], keep: Callable[[dict[str, object]], None], values: dict[str, object],
            nothing: str) -> None:
    text = f"{one.says} ({nothing}):"
    told = ""
    while True:
        said = ask(told + text).strip()
        if not said:
            return
        if said == "?":
            told = f"Allowed: {one.allowed}.\n"
            continue
        try:
            values[one.field] = typed_value(one.field, said)
        except GearkeepError as problem:
            told = f"{problem.what} {problem.hint}\n"
            continue
        keep(values)
        return
