"""The pack's findings: accepted ones with who accepted them, and those that nobody has settled."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from vault.actions.luminaire import View
from vault.actions.pack_gather import AsBuilt, natural, state_words, states_of
from vault.db import queries
from vault.db.session import Session
from vault.domain.apply_means import controls_of
from vault.domain.findings import Severity, stops
from vault.domain.schema import words
from vault.domain.tag import shown
from vault.exchange.pack_paper import PaperSection, PaperTable
from vault.trust.signers import Signers, day_of

_NAMED = 12  # luminaires named behind a finding that many have
_ORDER = (Severity.STOP, Severity.UNKNOWN, Severity.CARE)


def findings(session: Session, built: AsBuilt) -> PaperSection:
    """Accepted, not settled, and what is worth knowing."""
    return PaperSection(key="findings", title="Findings", parts=(
        _accepted(session, built), _unsettled(built), _twice(built), _told(built), _retired(built)))


def _accepted(session: Session, built: AsBuilt) -> PaperSection:
    rows = [row for seen in sorted(built.in_service, key=_by_name) for row in _approvals(session, seen)]
    return PaperSection(
        key="findings-accepted", title="Findings accepted, and by whom",
        paragraphs=("A second signer accepted these for the version that counts. Signers stand by their codes and roles.",)
        if rows else ("None: no finding of a version that counts was accepted by a second signer.",),
        tables=(PaperTable(headings=("Tag", "Reference", "Version", "Finding accepted", "As", "Because", "By", "Day"),
                           widths=(58, 52, 34, 106, 74, 106, 62, 48), rows=rows),) if rows else ())


def _approvals(session: Session, seen: View) -> Iterator[tuple[str, ...]]:
    if not seen.approvals:
        return
    counted = {(one.accepts, one.because) for one in seen.approvals}
    for row in queries.approvals(session, seen.statement.digest):
        statement = session.statement(row.seq)
        body = statement.body
        if (frozenset(body.accepts.split()), body.because) in counted:
            yield (shown(seen.tag), seen.record.reference or "–", str(seen.record.version), body.accepts,
                   words(body.change_class).replace("-", " "), body.because, signer_words(session.signers, statement.key_id),
                   day_of(body.time_s))


def signer_words(signers: Signers, ident: bytes) -> str:
    """A signer's code and roles: "P01, approver"."""
    signer = signers.latest(ident)
    if signer is None:
        return ident.hex()
    return f"{signer.code}, {' and '.join(sorted(words(role) for role in signer.roles))}"


def _by_name(seen: View) -> tuple[object, ...]:
    return natural(seen.record.reference or ""), seen.tag


def _unsettled(built: AsBuilt) -> PaperSection:
    rows = [(shown(seen.tag), seen.record.reference or "–", seen.record.place, ", ".join(map(state_words, states_of(seen))),
             " ".join(_reasons(seen))) for seen in sorted(built.in_service, key=_by_name) if states_of(seen)]
    return PaperSection(
        key="findings-open", title="Luminaires that are not settled",
        paragraphs=("PROVISIONAL: a second signer has not accepted a finding, so the record does not count yet. IN CONFLICT: two "
                    "newest versions differ. FROZEN: a label was seen on a wrong housing. ADDRESS PLANNED: the address was "
                    "planned, and nobody has signed that the driver was set to it. Do not rely on their settings before they are "
                    "settled.",)
        if rows else ("None: every luminaire in service is settled.",),
        tables=(PaperTable(headings=("Tag", "Reference", "Place", "State", "Why"), widths=(58, 52, 100, 70, 250), rows=rows,
                           loud=frozenset(range(len(rows)))),) if rows else ())


def _reasons(seen: View) -> Iterator[str]:
    said = dict.fromkeys(finding.says for finding in stops(seen.findings))
    yield from said
    told = {finding.rule for finding in stops(seen.findings)}
    left = sorted(seen.open_stops - told)
    if left:
        yield f"Not accepted: {', '.join(left)}."
    if "planned" in states_of(seen):
        yield "Set the driver to its address, read it back and sign that."


def _twice(built: AsBuilt) -> PaperSection:
    """Short and central addresses that more than one luminaire has: no record says so of itself."""
    holders: dict[str, dict[str, str]] = defaultdict(dict)
    for one in built.gears:
        for _, control in controls_of(one.gear.settings):
            first = one.line.addresses_from if one.line is not None else 0
            if isinstance(control.short_address, int) and one.record.line:
                said = f"short address {control.short_address + first} on line {one.record.line}"
                holders[said][one.seen.tag] = one.reference or one.tag
            if isinstance(control.central_address, int) and control.central_circuit:
                said = f"central battery address {control.central_address} on circuit {control.central_circuit}"
                holders[said][one.seen.tag] = one.reference or one.tag
    twice = {said: list(names.values()) for said, names in holders.items() if len(names) > 1}
    return PaperSection(
        key="findings-twice", title="Addresses that stand more than once",
        paragraphs=tuple(f"{said} stands for {' and '.join(names)}." for said, names in twice.items()) or ("None.",))


def _told(built: AsBuilt) -> PaperSection:
    """Everything that a check says of settled luminaires, each sentence once."""
    holders: dict[tuple[Severity, str], list[str]] = defaultdict(list)
    for seen in built.in_service:
        for finding in seen.findings:
            if finding.severity in _ORDER and not (states_of(seen) and finding in stops(seen.findings)):
                where = f"{finding.where}: " if finding.where else ""
                holders[finding.severity, f"{where}{finding.says}"].append(seen.record.reference or shown(seen.tag))
    ranked = sorted(holders.items(), key=lambda pair: (_ORDER.index(pair[0][0]), -len(pair[1]), pair[0][1]))
    rows = [(severity.value.upper(), says, str(len(some)), _named(some)) for (severity, says), some in ranked]
    return PaperSection(
        key="findings-told", title="Findings of settled luminaires",
        paragraphs=() if rows else ("None.",),
        tables=(PaperTable(headings=("Severity", "Finding", "Luminaires", "Which"), widths=(44, 290, 46, 150), rows=rows),)
        if rows else ())


def _named(names: list[str]) -> str:
    more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
    return f"{', '.join(sorted(names, key=natural)[:_NAMED])}{more}"


def _retired(built: AsBuilt) -> PaperSection:
    rows = [(shown(seen.tag), seen.record.reference or "–", seen.record.place, seen.record.fixture_type.code,
             day_of(seen.record.time_s), seen.record.note or "") for seen in sorted(built.retired, key=_by_name)]
    return PaperSection(
        key="retired", title="Out of service for good", paragraphs=() if rows else ("None.",),
        tables=(PaperTable(headings=("Tag", "Reference", "Place", "Type", "Since", "Why"), widths=(58, 56, 146, 44, 50, 176),
                           rows=rows),) if rows else ())
