"""A readback beside its record as a table that reads well aloud."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from vault.domain.fields import address_words, label_of, value_words
from vault.domain.readback import Comparison
from vault.domain.site import Line
from vault.domain.units import permille

_RESULTS: Mapping[str, str] = {
    "same": "as set", "by-design": "by the driver's design", "differs": "DIFFERS", "not-read": "NOT READ",
    "extra": "kept; not on record",
}
_UNUSED = {"scenes": 255, "scene_mirek": 0xFFFF}


def comparison_rows(comparisons: Iterable[Comparison], line: Line | None) -> list[tuple[str, str, str, str]]:
    """(field, set to, read, result) of each comparison, in words with units; line: how its addresses are numbered."""
    return [(_capital(label_of(one.field)) if one.result != "extra" else one.field, _words(one, one.expected, line),
             _words(one, one.found, line), _result(one)) for one in comparisons]


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _words(one: Comparison, value: Any, line: Line | None) -> str:
    name = one.field.rpartition(".")[2]
    if value is None:
        return "–"
    if one.wrong_type and value is one.found:
        return repr(value)
    if name == "short_address" and isinstance(value, int):
        return address_words(value, line)
    if name in _UNUSED and isinstance(value, list) and len(value) == 16:
        return " ".join(f"{number}:{entry}" for number, entry in enumerate(value) if entry != _UNUSED[name]) or "none"
    return value_words(name, one.unit, value)


def _result(one: Comparison) -> str:
    said = _RESULTS.get(one.result, "")
    if one.tolerance_permille is not None:
        allowed = f"within {permille(one.tolerance_permille)}{', assumed' if one.assumed else ''}"
        said = {"differs": f"DIFFERS, allowed {allowed}", "within-tolerance": allowed}.get(one.result, said)
    return f"{said}, by {one.evidence.replace('-', ' ')}" if one.evidence else said
