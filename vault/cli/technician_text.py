"""What the technician's commands print, as lines and as JSON."""

from __future__ import annotations

import time
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from vault.actions.dating import dated_ahead
from vault.actions.luminaire import View, change_class_words, full_gears
from vault.cli.shell import finding_lines
from vault.domain.fields import address_words
from vault.domain.findings import Finding, Severity, Verdict
from vault.domain.record import ChangeClass, Record
from vault.domain.schema import plain, words
from vault.domain.settings import Gear
from vault.domain.site import Line
from vault.domain.tag import from_bytes, shown
from vault.domain.wording import setting_words

if TYPE_CHECKING:
    # Whoever only shows a luminaire does not wait for what reads pictures and judges spares.
    from vault.actions.fitting import FitResult, Judged
    from vault.actions.label_copies import HeldLabel
    from vault.actions.origins import Taken
    from vault.actions.scanning import Scanned
    from vault.domain.fit import Fit

VERDICT = {"fits": "FITS", "fits-with-care": "FITS WITH CARE", "does-not-fit": "DOES NOT FIT",
           "cannot-tell": "CANNOT TELL"}
NO_STEPS = "No steps are shown for a spare that does not fit or of which that cannot be told."


def change_words(change: ChangeClass) -> str:
    """like-for-like, approved-equivalent, modification."""
    return change_class_words(change) or ""


def duty_words(gear: Gear) -> str:
    """general, emergency-converter …"""
    return words(gear.duty)


def gear_lines(gear: Gear, line: Line | None) -> list[str]:
    """One gear's settings in words."""
    made = " ".join(part for part in (gear.model, f"serial {gear.serial}" if gear.serial else "") if part)
    head = f"{words(gear.duty).replace('-', ' ').upper()} GEAR   {made}".rstrip()
    return [head, *(f"  {label:28} {value}" for label, value in setting_words(gear.settings, line))]


def _note_lines(record: Record) -> list[str]:
    return [f"note: {record.note}"] if record.note else []


def _origin_lines(record: Record) -> list[str]:
    origin = record.taken_from
    return [] if origin is None else [f"its record says: adopted from {shown(from_bytes(origin.tag))} version {origin.version} "
                                      f"of another vault, log {origin.log_id.hex()}"]


def record_lines(record: Record, signer: str, digest: bytes) -> list[str]:
    """Tag, version and place; who signed it when, why and on what basis; its digest."""
    day = datetime.fromtimestamp(record.time_s, UTC).strftime("%Y-%m-%d %H:%M UTC")
    where = [record.place, f"line {record.line}" if record.line else "", f"circuit {record.circuit}" if record.circuit else "",
             f"drawing {record.reference}" if record.reference else ""]
    digits = digest[:8].hex()
    return [f"{shown(from_bytes(record.tag))}   version {record.version}   {', '.join(w for w in where if w)}",
            f"signed by {signer} on {day}, {words(record.reason)}, {words(record.basis)}; "
            f"digest {' '.join(digits[i : i + 4] for i in range(0, 16, 4))}", *_note_lines(record), *_origin_lines(record)]


def identity_lines(seen: View) -> list[str]:
    """What a luminaire is known by: place, type, line and address, circuit, drawing, the drivers on record."""
    record = seen.record
    lines = [f"{shown(seen.tag)}   {record.place}", f"type {seen.rating.code}: {seen.rating.title}"]
    controls = [control for gear in record.gears for control in
                (gear.settings.control, *(channel.control for channel in gear.settings.channels)) if control is not None]
    addresses = [address_words(control.short_address, seen.line) for control in controls
                 if isinstance(control.short_address, int)]
    where = [f"line {record.line}" if record.line else "", *addresses, f"circuit {record.circuit}" if record.circuit else "",
             f"drawing {record.reference}" if record.reference else ""]
    lines += [", ".join(one for one in where if one)] if any(where) else []
    return lines + [f"{words(gear.duty)} gear on record: {gear.model or 'model not recorded'}"
                    f"{f', serial {gear.serial}' if gear.serial else ''}" for gear in record.gears]


def _ahead(record: Record) -> list[Finding]:
    return dated_ahead(record, int(time.time()))


def _standing_lines(seen: View) -> list[str]:
    lines = ["RETIRED: out of service for good."] if seen.retired else []
    if seen.conflict:
        lines.append("STOP: two newest versions differ. Labels and swaps are frozen until it is settled.")
    if seen.frozen:
        lines.append("FROZEN: a label was seen where it contradicts the records. Labels and swaps wait until it is settled.")
    return lines


def taken_lines(taken: Taken | None) -> list[str]:
    """Whose a luminaire is and what has become of it here; nothing of the vault's own."""
    return [] if taken is None else [f"{taken.name}: {taken.words}; {taken.adoption_words}"]


def view_lines(seen: View) -> list[str]:
    """A luminaire as `show` prints it."""
    lines = record_lines(seen.record, seen.signer_code, seen.statement.digest)
    lines.append(f"type {seen.rating.code} revision {seen.rating.revision}: {seen.rating.title}")
    lines += _standing_lines(seen)
    if seen.provisional:
        lines.append(f"PROVISIONAL until a second signer approves: {', '.join(sorted(seen.open_stops))}.")
    for gear in full_gears(seen.record):
        lines += ["", *gear_lines(gear, seen.line)]
    findings = [*seen.findings, *_ahead(seen.record)]
    lines += ["", "FINDINGS" if findings else "No findings: the settings agree with the type's rating."]
    lines += finding_lines(findings)
    lines += [f"  approved by {a.signer} as {change_words(a.change_class)}: {', '.join(sorted(a.accepts))} – {a.because}"
              for a in seen.approvals]
    return lines + _label_lines(seen)


def _label_lines(seen: View) -> list[str]:
    if not seen.labels:
        return []
    current = [label for label in seen.labels if label.current]
    if not current:
        return ["No label that counts shows the newest settings." + ("" if seen.retired else " Print one.")]
    newest = seen.statement.digest[:8]
    told = [label for label in current if label.placed or label.elsewhere is not None] or current
    lines = [f"Label copy {label.copy} {'of this version' if label.record_prefix == newest else 'of an earlier version'}, "
             f"{label_place(label)}." for label in told[-3:]]
    more = len(current) - len(lines)
    if more:
        lines.append(f"{more} more label {'copy counts' if more == 1 else 'copies count'}: gearkeep labels {seen.tag}")
    return lines


def label_place(label: HeldLabel) -> str:
    """Where a copy was last seen."""
    if label.elsewhere is not None:
        return f"last seen at {label.elsewhere}"
    return "seen on the housing" if label.placed else "not yet seen on the housing"


def view_json(seen: View) -> dict[str, Any]:
    """A luminaire as `show --json` prints it."""
    return {
        "tag": seen.tag, "version": seen.record.version, "verified": True, "signer": seen.signer_code,
        "settings": [plain(gear) for gear in seen.record.gears], "rating": plain(seen.rating) if seen.rating_held else None,
        "findings": [f.as_json() for f in (*seen.findings, *_ahead(seen.record))],
        "provisional": seen.provisional, "conflict": seen.conflict,
        "retired": seen.retired, "frozen": bool(seen.frozen), "open_stops": sorted(seen.open_stops), "record": plain(seen.record),
        "digest": seen.statement.digest.hex(), "entry": seen.row.seq,
        "address_numbered_from": seen.line.addresses_from if seen.line else 0,
        "approvals": [{"signer": a.signer, "accepts": sorted(a.accepts), "because": a.because,
                       "change_class": change_words(a.change_class)} for a in seen.approvals],
        "labels": [label.as_json() for label in seen.labels],
    }


OTHER_CODES = frozenset({"place-code", "checkpoint-code", "signers-code"})


def scanned_lines(one: Scanned) -> list[str]:
    """One scanned label in words."""
    if one.problem is not None or one.record is None or one.statement is None:
        kind, what, hint = one.problem or ("error", "Nothing was read.", "")
        name = f" {shown(one.tag)}" if one.tag else ""
        # What is no luminaire's label has nothing that could be verified.
        head = "NO LUMINAIRE" if kind in OTHER_CODES else "NOT VERIFIED"
        return [f"{head}{name} ({one.source}): {what}", *([f"  {hint}"] if hint else []), f"  [{kind}]",
                *(f"note: {note}" for note in one.notes)]
    signer = one.statement.signer.code if one.statement.signer else "AUTH"
    lines = ["VERIFIED: " + (one.as_of or "signature and journal entry are good"), *taken_lines(one.taken),
             *record_lines(one.record, signer, one.statement.digest)]
    if one.source != "text":
        lines.insert(1, f"read from {one.source}")
    if one.as_of is not None:
        lines.append("Addresses are numbered from 0 here, as on the bus; the label says how the site numbers them.")
        lines.append("A newer version may exist, and its signer's key may have been withdrawn since: offline neither can be "
                     "told. Ask the vault before you set a driver by this.")
    if one.newest is False:
        lines.append(f"The label shows version {one.record.version}; the vault's newest is version {one.newest_version}. "
                     + ("Its settings are still the same." if one.current else
                        "STOP: ITS SETTINGS HAVE CHANGED. Use the vault's: gearkeep show."))
    if one.seen is not None:
        lines += _standing_lines(one.seen)
    lines += finding_lines(_ahead(one.record))
    open_stops = one.seen.open_stops if one.seen else one.record.open_stop_names
    if open_stops:
        lines.append(f"PROVISIONAL: not approved: {', '.join(sorted(open_stops))}.")
    for gear in full_gears(one.record):
        lines += gear_lines(gear, one.seen.line if one.seen else None)
    return lines + [f"note: {note}" for note in one.notes]


def scanned_json(one: Scanned) -> dict[str, Any]:
    """One scanned label as JSON."""
    record, statement = one.record, one.statement
    kind, what, hint = one.problem or (None, None, None)
    return {
        "source": one.source, "tag": one.tag, "version": record.version if record else None,
        "verified": record is not None, "signer": statement.signer.code if statement and statement.signer else None,
        "settings": [plain(gear) for gear in record.gears] if record else None, "newest": one.newest,
        "newest_version": one.newest_version, "settings_current": one.current if record else None,
        "record": plain(record) if record else None, "as_of": one.as_of,
        "provisional": bool(one.seen.open_stops if one.seen else record.open_stop_names) if record else None,
        "taken": one.taken.as_json() if one.taken else None,
        "retired": one.seen.retired if one.seen else None, "conflict": one.seen.conflict if one.seen else None,
        "problem": {"kind": kind, "what": what, "hint": hint} if kind else None,
        "notes": [*one.notes, *(finding.says for finding in (_ahead(record) if record else ()))],
    }


def offline_json(judged: Sequence[tuple[Gear, Fit]]) -> list[dict[str, Any]]:
    """A spare judged by the label alone, as JSON."""
    return [{"gear": words(gear.duty), "model": fit.model, "verdict": fit.verdict.value,
             "findings": [f.as_json() for f in fit.findings]} for gear, fit in judged]


def offline_lines(judged: Sequence[tuple[Gear, Fit]]) -> list[str]:
    """A spare judged by the label alone, in words."""
    lines: list[str] = []
    for gear, fit in judged:
        lines += ["", f"{VERDICT[fit.verdict.value]}: {fit.model} for the {words(gear.duty)} gear, judged by the label alone",
                  *finding_lines(f for f in fit.findings if f.severity is Severity.STOP)]
        silent = sorted({f.rule for f in fit.findings if f.severity is not Severity.STOP})
        if silent:
            lines.append(f"  The label does not tell enough for: {', '.join(silent)}. Judge it with the vault before you fit it.")
    return lines


def step_lines(judged: Judged, *, with_frames: bool = True) -> list[str]:
    """Cautions first, then what the spare cannot hold, then the steps, then every bus frame."""
    plan = judged.plan
    lines = ["CAUTIONS – local rules and competent, authorised persons decide", *(f"  {c}" for c in plan.cautions)]
    if plan.cannot_hold:
        lines += ["", "THIS SPARE CANNOT HOLD", *(f"  {text}" for text in plan.cannot_hold)]
    lines += ["", "STEPS"]
    for step in plan.steps:
        lines.append(f"  {step.number}. {step.text}")
        lines += [f"       {line}" for line in step.detail.splitlines()] if step.detail else []
    if plan.frames and with_frames:
        lines += ["", "BUS FRAMES"]
        lines += [f"  {frame.bytes_hex}{'  twice within 100 ms' if frame.send_twice else ''}   {frame.words}"
                  for frame in plan.frames]
    return lines


def judged_json(one: Judged) -> dict[str, Any]:
    """One spare as JSON."""
    return {
        "model": one.fit.model, "verdict": one.fit.verdict.value, "findings": [f.as_json() for f in one.fit.findings],
        "steps": [{"number": s.number, "means": s.means, "text": s.text, "detail": s.detail} for s in one.plan.steps],
        "in_stock": one.in_stock, "kept": dict(one.kept), "kept_here": one.kept_here,
        "cautions": list(one.plan.cautions), "cannot_hold": list(one.plan.cannot_hold),
        "frames": [{"bytes": f.bytes_hex, "twice": f.send_twice, "words": f.words} for f in one.plan.frames],
        "checked": list(one.fit.checked),
    }


def spare_line(one: Judged) -> str:
    """Verdict, model, stock, title."""
    return f"{VERDICT[one.fit.verdict.value]:15} {one.fit.model}   {one.stock_words}   {one.spare.title}"


def fit_lines(result: FitResult, *, detailed: bool) -> list[str]:
    """Spares ranked; with one spare also every finding and the steps."""
    lines = [f"{shown(result.seen.tag)}   {result.seen.record.place}   {words(result.gear.duty)} gear, "
             f"type {result.seen.rating.code}"]
    if not result.spares:
        return [*lines, "No spare to judge. Load driver models, or leave --in-stock out."]
    for one in result.spares:
        lines += ["", spare_line(one)]
        lines += finding_lines(one.fit.findings, notes=detailed)
    if detailed and result.spares[0].fit.verdict in (Verdict.FITS, Verdict.FITS_WITH_CARE):
        lines += ["", *step_lines(result.spares[0])]
    elif detailed:
        lines += ["", NO_STEPS]
    return lines
