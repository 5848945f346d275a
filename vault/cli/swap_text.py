"""What gearkeep swap prints when it is not guided, as lines and as JSON."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from vault.cli.shell import finding_lines
from vault.cli.technician_text import NO_STEPS, VERDICT, change_words, gear_lines, judged_json, record_lines, step_lines
from vault.domain.findings import Verdict
from vault.domain.readback_rows import comparison_rows
from vault.domain.schema import words
from vault.domain.tag import shown

if TYPE_CHECKING:
    from vault.actions.swap import Prepared, Swapped

_AGREES = ("same", "within-tolerance", "by-design")


def prepared_json(ready: Prepared) -> dict[str, Any]:
    """A swap that is not yet signed."""
    return {"tag": ready.seen.tag, "gear": words(ready.gear.duty), "signed": False, "spare": judged_json(ready.judged),
            "readback_form": ready.form}


def prepared_lines(ready: Prepared, form_file: Path | None) -> list[str]:
    """The whole sheet for the ladder."""
    judged = ready.judged
    lines = [*record_lines(ready.seen.record, ready.seen.signer_code, ready.seen.statement.digest), "",
             *gear_lines(ready.gear, ready.seen.line), "",
             f"{VERDICT[judged.fit.verdict.value]}: {judged.fit.model}, {judged.stock_words}",
             *finding_lines(judged.fit.findings), ""]
    if judged.fit.verdict not in (Verdict.FITS, Verdict.FITS_WITH_CARE):
        return [*lines, NO_STEPS]
    lines += [*step_lines(judged), "", "READ BACK THESE FIELDS", *(f"  {name}" for name in ready.form), ""]
    where = f"The empty form is in {form_file}. " if form_file else "Give --form FILE for an empty form. "
    return [*lines, where + "Nothing is signed yet: fill it in, then run swap again with --readback FILE."]


def _differing(done: Swapped) -> Iterable[str]:
    rows = [one for one in done.comparisons if one.result not in (*_AGREES, "extra")]
    for name, wanted, read, result in comparison_rows(rows, done.line):
        yield f"  {name}: set to {wanted}, read {read}: {result}"


def swapped_lines(done: Swapped) -> list[str]:
    """What a swap came to."""
    changed = done.changed
    compared = sum(item.result != "extra" for item in done.comparisons)
    same = sum(item.result in _AGREES for item in done.comparisons)
    lines = [f"{shown(changed.tag)} version {changed.version} signed: {done.judged.fit.model} as "
             f"{change_words(done.change_class)}.",
             f"Readback: {same} of {compared} fields agree." + (" A full match." if done.matched else ""),
             *_differing(done)]
    lines += [done.left_words] if done.left_words else []
    lines += [f"note: {note}" for note in done.stock_notes]
    lines += finding_lines(changed.findings)
    if changed.open_stops:
        lines.append(f"PROVISIONAL until a second signer approves: {', '.join(sorted(changed.open_stops))}.")
    return lines


def swapped_json(done: Swapped) -> dict[str, Any]:
    """What a swap came to, as JSON."""
    return {
        "tag": done.changed.tag, "version": done.changed.version, "signed": True, "matched": done.matched,
        "change_class": change_words(done.change_class), "open_stops": sorted(done.changed.open_stops),
        "findings": [f.as_json() for f in done.changed.findings], "store": done.store, "bin": done.bin,
        "stock_left": done.stock_left,
        "stock_notes": list(done.stock_notes),
        "readback": [{"field": c.field, "expected": c.expected, "found": c.found, "unit": c.unit, "result": c.result}
                     for c in done.comparisons],
    }
