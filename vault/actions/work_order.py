"""The work order: everything that a technician on paper needs for one gear, gathered and printed. Nothing is signed."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from labels.code import make_symbol
from vault.actions.changes import gear_position
from vault.actions.desk import Desk
from vault.actions.finding_luminaires import neighbours_of
from vault.actions.fitting import Judged, candidates, judge
from vault.actions.looking import locate, vault_of
from vault.actions.luminaire import READS, View, full_gears, require_settled, view
from vault.actions.origins import Taken
from vault.actions.work_order_settings import evidence, large_and_rest, readback_fields
from vault.db import stock_rows
from vault.db.session import Session
from vault.domain.cautions import cautions_for, retests_for
from vault.domain.driver import Way
from vault.domain.fields import value_words
from vault.domain.findings import Finding, Severity, Verdict
from vault.domain.fit import rank
from vault.domain.schema import words
from vault.domain.settings import Duty, EmergencySupply, Gear, Output
from vault.domain.tag import shown
from vault.errors import UsageProblem
from vault.exchange.work_order import Offer, OrderStep, SpareToFit, WorkOrder
from vault.exchange.work_order_pdf import write_work_orders
from vault.spares.levels import shelves
from vault.trust.capsule import link

USABLE = (Verdict.FITS, Verdict.FITS_WITH_CARE)
OFFERS = 8
NEIGHBOURS = 2
ROOT_BYTES = 8  # enough to compare by eye


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """The pages of one gear. verdict: of the spare that was named, None without one."""

    tag: str
    gear: str
    spare: str | None
    verdict: Verdict | None
    pages: int


def print_sheets(desk: Desk, tag_texts: Sequence[str], out: Path, *, spare: str | None = None, gear: str | None = None,
                 progress: Callable[[int, int], None] = lambda _done, _total: None) -> list[Sheet]:
    """Write one PDF with the work orders of these luminaires, each gear on pages of its own.

    Without a gear named: the first, as a swap takes it, when a spare is named; else every gear. A spare that does not fit
    gets a sheet that says so, without steps. Raises GearkeepError: frozen, conflict, retired, not-found; UsageProblem.
    """
    made: list[tuple[WorkOrder, tuple[str, str, Judged | None]]] = []
    with desk.vault.reading() as session:
        found = [locate(session, text) for text in tag_texts]
        tags = [tag if taken is None else taken.name for tag, taken in found]
        twice = sorted({tag for tag in tags if tags.count(tag) > 1})
        if twice:
            raise UsageProblem(f"{', '.join(shown(tag) if '@' not in tag else tag for tag in twice)} was named twice.",
                               kind="named-twice", hint="Name each luminaire once.")
        for number, (tag, taken) in enumerate(found, 1):
            made += _orders(session, tag, taken, spare, gear)
            progress(number, 2 * len(tags))
    # The first half of the way was gathering, the second is setting the pages.
    counts = write_work_orders(out, [order for order, _ in made],
                               lambda done, total: progress(len(tags) + done * len(tags) // total, 2 * len(tags)))
    return [Sheet(tag=tag, gear=duty, spare=spare, verdict=judged.fit.verdict if judged else None, pages=pages)
            for (_, (tag, duty, judged)), pages in zip(made, counts, strict=True)]


def _orders(session: Session, tag: str, taken: Taken | None, spare: str | None, gear: str | None
            ) -> Iterator[tuple[WorkOrder, tuple[str, str, Judged | None]]]:
    with vault_of(session, taken) as reading:
        seen = view(reading, tag)
    require_settled(seen)
    gears = full_gears(seen.record)
    chosen = gears if spare is None and gear is None else (gears[gear_position(seen.record, gear)],)
    for one in chosen:
        judged = judge(session, seen, one, candidates(session, spare, False)[0]) if spare is not None else None
        yield work_order(session, seen, one, judged, taken), (tag, words(one.duty), judged)


def work_order(session: Session, seen: View, gear: Gear, judged: Judged | None, taken: Taken | None = None) -> WorkOrder:
    """What the paper says of one gear of a settled luminaire, with one spare or with what could go in.

    taken: whose luminaire it is, None for this vault's own; its neighbours are then left out.
    """
    record, host = seen.record, session.genesis.host if taken is None else taken.log.host
    symbol = make_symbol(link(host, seen.tag), level="Q", max_version=10)
    large, rest = large_and_rest(gear, seen.line)
    fixed = judged is not None and judged.spare.fixed_window
    spare = _spare(session, gear, judged) if judged is not None else None
    return WorkOrder(
        tag_shown=shown(seen.tag), version=record.version, site=session.genesis.site if taken is None else taken.log.site,
        gear=f"{words(gear.duty).replace('-', ' ')} gear", place=record.place,
        type_words=f"Type {seen.rating.code}: {seen.rating.title}",
        link_text=symbol.text, matrix=tuple(tuple(map(bool, row)) for row in symbol.matrix), facts=tuple(_facts(seen, taken)),
        banner=f"PROVISIONAL – NOT APPROVED: {', '.join(sorted(seen.open_stops))}" if seen.provisional else None,
        findings=tuple(_said(f) for f in seen.findings if f.severity is not Severity.NOTE),
        large=tuple(large), settings=tuple(rest), neighbours=neighbours_of(session, seen, NEIGHBOURS) if taken is None else (),
        cautions=judged.plan.cautions if judged is not None else _every_caution(gear),
        spare=spare, offers=tuple(_offers(session, seen, gear)) if judged is None else (),
        remarks=tuple(_remarks(seen, gear)) if judged is None else (),
        readback=tuple(readback_fields(gear, seen.line, fixed_window=fixed)), evidence=tuple(evidence(gear)),
        retests=retests_for(gear, seen.rating), checkpoint=_checkpoint(session))


def _said(finding: Finding) -> str:
    where = f"{finding.where}: " if finding.where else ""
    return f"{finding.severity.value.upper()} {where}{finding.says}"


def _groups(digits: str) -> str:
    return " ".join(digits[start : start + 4] for start in range(0, len(digits), 4))


def _facts(seen: View, taken: Taken | None) -> Iterator[tuple[str, str]]:
    record = seen.record
    if taken is not None:
        yield "Another vault's", f"{taken.name}, {taken.words}; {taken.adoption_words}"
    where = [("line", record.line), ("circuit", record.circuit), ("drawing", record.reference)]
    said = ", ".join(f"{name} {value}" for name, value in where if value)
    if said:
        yield "Where", said
    day = datetime.fromtimestamp(record.time_s, UTC).strftime("%Y-%m-%d")
    yield "Record", (f"version {record.version}, signed by {seen.signer_code} on {day}, digest "
                     f"{_groups(seen.statement.digest[:8].hex())}")
    for gear in record.gears:
        serial = f", serial {gear.serial}" if gear.serial else ""
        yield f"{words(gear.duty).replace('-', ' ').capitalize()} gear on record", f"{gear.model or 'model not recorded'}{serial}"
    if record.note and not record.note.startswith(READS):
        yield "Note", record.note


def _every_caution(gear: Gear) -> tuple[str, ...]:
    """No spare is known yet, so whatever means it may be set by."""
    emergency = gear.settings.emergency
    supply = emergency.supply if emergency is not None else None
    if supply is None and gear.duty is not Duty.GENERAL:
        supply = EmergencySupply.SELF_CONTAINED
    return cautions_for(gear.settings, set(Way), supply)


def _where(session: Session, model: str) -> str:
    held = [s for s in shelves(stock_rows.each_movement(session, model)) if s.model == model and s.pieces > 0]
    places = "; ".join(f"{s.pieces} in {s.store}{f', bin {s.bin}' if s.bin else ''}" for s in held)
    return places or "none in stock"


def _spare(session: Session, gear: Gear, judged: Judged) -> SpareToFit:
    refused = judged.fit.verdict not in USABLE
    told = (Severity.STOP, Severity.UNKNOWN, Severity.CARE)
    hint = "" if gear.model == judged.fit.model else (
        f"{judged.fit.model} is another model than {gear.model or 'the one before'}: not like for like. Approved equivalent "
        "when the luminaire's maker or your own rules approve it, else a modification.")
    steps = () if refused else tuple(_step(step.means, step.text, step.detail) for step in judged.plan.steps)
    return SpareToFit(
        model=judged.fit.model, title=judged.spare.title, verdict=_verdict(judged.fit.verdict), refused=refused,
        stock=_where(session, judged.fit.model), findings=tuple(_said(f) for f in judged.fit.findings if f.severity in told),
        cannot_hold=() if refused else judged.plan.cannot_hold, steps=steps,
        pictures=() if refused else judged.plan.pictures, class_hint=hint)


def _step(means: str, text: str, detail: str) -> OrderStep:
    if means == "test":
        # The tests have boxes of their own behind the steps.
        return OrderStep(text=f"{text} They are listed below.")
    return OrderStep(text=text, detail=tuple(detail.splitlines()))


def _verdict(verdict: Verdict) -> str:
    return words(verdict).replace("-", " ")


def _offers(session: Session, seen: View, gear: Gear) -> Iterator[Offer]:
    judged = [judge(session, seen, gear, spare) for spare in candidates(session, None, False)]
    by_model = {one.fit.model: one for one in judged}
    ranked = [by_model[fit.model] for fit in rank([one.fit for one in judged], original=gear.model)]
    usable = [one for one in ranked if one.fit.verdict in USABLE]
    for one in (usable or ranked)[:OFFERS]:
        wrong = [f for f in one.fit.findings if f.severity is not Severity.NOTE]
        more = f" And {len(wrong) - 1} more." if len(wrong) > 1 else ""
        yield Offer(model=one.fit.model, verdict=_verdict(one.fit.verdict), stock=_where(session, one.fit.model),
                    reason=f"{_said(wrong[0])}{more}" if wrong else one.spare.title)


def _remarks(seen: View, gear: Gear) -> Iterator[str]:
    settings = gear.settings
    kind = "constant current" if settings.output is Output.CONSTANT_CURRENT else "constant voltage"
    many = len(settings.channels)
    yield (f"Output: {kind}, {many} channel{'s' if many > 1 else ''}, settable to the figures above; its window holds the whole "
           "voltage window above.")
    controls = [settings.control, *(channel.control for channel in settings.channels)]
    protocols = sorted({words(one.protocol).replace("dali", "DALI") for one in controls if one is not None})
    if protocols:
        yield f"Control: {', '.join(protocols)}."
    if settings.emergency is not None:
        yield (f"Emergency: {value_words('mode', '', settings.emergency.mode)}, {words(settings.emergency.supply)}, "
               f"{settings.emergency.rated_duration_min} min.")
    protection = seen.rating.protection_class
    first = f"Protection class {words(protection).removeprefix('class-').upper()}. " if protection is not None else ""
    yield f"{first}Same isolation and mounting, a case that finds room. Judge it first: gearkeep fit TAG --spare MODEL."


def _checkpoint(session: Session) -> str:
    root = _groups(session.root()[:ROOT_BYTES].hex())
    return f"When this was printed, the vault's journal held {session.size()} entries; its root begins {root}."
