"""What a vault from labels lacks, said for the records that came back."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from vault.domain.record import Record
from vault.domain.tag import from_bytes, shown


def _tag(record: Record) -> str:
    return shown(from_bytes(record.tag))


def _named(what: str, names: Iterable[str], how: str) -> list[str]:
    found = sorted(set(names))
    return [f"{what} {', '.join(found)}: load them again with gearkeep {how} load FILE."] if found else []


def gaps_of(records: Sequence[Record]) -> tuple[str, ...]:
    """Sentences, each naming one thing that labels cannot carry."""
    types = {f"{r.fixture_type.code} revision {r.fixture_type.revision}" for r in records}
    later = [f"{_tag(r)} before version {r.version}" for r in records if r.version > 1]
    still_open = [f"{_tag(r)} ({', '.join(sorted(r.open_stop_names))})" for r in records if r.open_stop_names]
    said = [
        *_named("The ratings of the types", types, "type"),
        *_named("The driver models", (gear.model for r in records for gear in r.gears if gear.model), "driver"),
        *_named("The circuits", (r.circuit for r in records if r.circuit), "circuit"),
        *_named("The control lines", (r.line for r in records if r.line), "line"),
    ]
    if later:
        said.append(f"The history of {', '.join(later)}.")
    if still_open:
        said.append(f"Approvals: what was open stays open until it is approved again, on {', '.join(still_open)}.")
    return (
        *said,
        "Whatever was signed after a label was printed: a luminaire comes back as its label says.",
        "Luminaires whose label nobody photographed; their tags must not be given to others.",
        "Which label copies were printed, placed and withdrawn; copies are counted from 1 again.",
        "The stock: count it and load it with gearkeep stock load.",
        "The names behind the signers' codes.",
        "Checkpoints: this is a new journal under the old log id, so checkpoints of the lost vault do not agree with it. Sign a "
        "new one with gearkeep checkpoint.",
    )
