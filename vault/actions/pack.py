"""The handover pack for the building's owner: all signed bytes, and what people read, in one folder."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from importlib.resources import files as files_of
from pathlib import Path

from vault.actions.desk import Desk
from vault.actions.keeping import SignedCheckpoint, sign_checkpoints
from vault.actions.pack_closing import as_noted
from vault.actions.pack_gather import AsBuilt, BuiltGear, gather, state_words, states_of
from vault.actions.pack_paper import paper
from vault.db import queries
from vault.db.audit import origin, run_audit
from vault.db.session import SIGNER_KINDS, Session
from vault.db.tables import MAIN, STOCK
from vault.domain.cautions import CAUTIONS
from vault.domain.findings import Severity
from vault.domain.tag import from_bytes
from vault.errors import GearkeepError, UsageProblem, VerificationError
from vault.exchange import pack_layout
from vault.exchange.pack_page import PageInput, pack_page
from vault.exchange.pack_paper_pdf import paper_pdf
from vault.exchange.pack_read_me import ReadMe, read_me_text
from vault.exchange.pack_retention import Retention
from vault.exchange.pack_table import TableRow, as_built_table
from vault.exchange.pack_writing import write_folder_and_zip
from vault.trust.keys import fingerprint
from vault.trust.note import sign_note
from vault.trust.signers import day_of
from vault.trust.trustlist import dump

# (what is done, how much of it, of how much)
Progress = Callable[[str, int, int], None]
TRIES = 3
_SAID = {
    "conflict": "two newest versions differ, so nobody knows what is true",
    "frozen": "a label was seen on a wrong housing, so it may be taken for another one",
    "provisional": "a second signer has not accepted a finding, so the record does not count yet"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Packed:
    """A pack that was written. files: name -> bytes of it. states: state of `states_of` -> luminaires in it."""

    folder: Path
    zip_path: Path | None
    files: dict[str, int]
    luminaires: int
    retired: int
    statements: int
    states: dict[str, int]
    checkpoints: list[SignedCheckpoint]


def write_pack(desk: Desk, out: Path, *, zip_path: Path | None = None, retention: Retention,
               progress: Progress = lambda _what, _done, _total: None) -> Packed:
    """Verify the whole vault, sign its checkpoints anew and write the pack of that very state into a new folder.

    Two packs of one state made on one day are the same bytes. Raises UsageProblem: exists, no-key, bad-key;
    VerificationError: does-not-verify, where the audit finds anything; GearkeepError: busy, unwritable-file.
    """
    for path in (out, *([zip_path] if zip_path is not None else [])):
        if path.exists():
            raise UsageProblem(f"{path} is there already.", kind="exists", hint="Name another one, or move that one away.")
    key = desk.checkpoint_key()
    if key is not None:
        # Asked once: a passphrase that comes by a file descriptor can be read only once.
        desk = replace(desk, checkpoint_key_source=lambda: key)
    for _ in range(TRIES):
        made = _files_of_one_state(desk, retention, progress)
        if made is not None:
            files, built, signed = made
            write_folder_and_zip(out, files, zip_path)
            return Packed(
                folder=out, zip_path=zip_path, files={name: len(data) for name, data in sorted(files.items())},
                luminaires=len(built.in_service), retired=len(built.retired), statements=sum(one.size for one in signed),
                states=_states(built), checkpoints=signed)
    raise GearkeepError("While the pack was made others signed in this vault, again and again.", kind="busy",
                        hint="Nothing was written. Try again when nobody works in it.")


def _states(built: AsBuilt) -> dict[str, int]:
    count = Counter(state for seen in built.in_service for state in states_of(seen))
    return {state: count[state] for state in _SAID}


def _files_of_one_state(desk: Desk, retention: Retention, progress: Progress
                        ) -> tuple[dict[str, bytes], AsBuilt, list[SignedCheckpoint]] | None:
    """All files of the state that a reading session sees; None when others signed before its checkpoint was."""
    with desk.vault.reading() as session:
        found = run_audit(session, progress=lambda done, total: progress("Verifying", done, total))
        if found.faults:
            first = found.faults[0]
            raise VerificationError(
                f"No pack was made: this vault does not verify. {first.what}: {first.where}: {first.why}"
                + (f" And {len(found.faults) - 1} more." if len(found.faults) > 1 else ""), kind="does-not-verify",
                hint="Run: gearkeep audit. Settle what it names, then make the pack.")
        signed = sign_checkpoints(desk)
        states = {MAIN: (session.size(), session.root()), STOCK: (session.size(STOCK), session.root(STOCK))}
        if [(one.size, one.root) for one in signed] != [state for state in states.values() if state[0]]:
            return None
        built = gather(session, lambda done, total: progress("Gathering", done, total))
        return _files(desk, session, built, signed, retention, progress), built, signed


def _files(desk: Desk, session: Session, built: AsBuilt, signed: list[SignedCheckpoint], retention: Retention,
           progress: Progress) -> dict[str, bytes]:
    genesis, made_on = session.genesis, day_of(desk.now_s())
    main = signed[0]
    statements = queries.signed_statements(session, MAIN)
    files = {
        pack_layout.MAIN_JOURNAL: b"".join(statements), pack_layout.MAIN_CHECKPOINT: main.note.encode(),
        pack_layout.SIGNERS: dump(queries.signed_of_kinds(session, SIGNER_KINDS), main.size, main.note).encode(),
        pack_layout.FORMAT: (files_of("vault") / "FORMAT.md").read_bytes(),
        pack_layout.TABLE: as_built_table(_table_rows(built))}
    for one in signed[1:]:
        files[pack_layout.STOCK_JOURNAL] = b"".join(queries.signed_statements(session, STOCK))
        files[pack_layout.STOCK_CHECKPOINT] = one.note.encode()
    files[pack_layout.PAPER] = paper_pdf(paper(session, built, signed, retention, made_on, warnings(built)),
                                         lambda done, total: progress("Setting pages", done, total))
    files[pack_layout.PAGE] = pack_page(PageInput(
        site=genesis.site, host=genesis.host, log_id=genesis.log_id, made_on=made_on,
        authority_fingerprint=fingerprint(genesis.authority_key), checkpoint_note=main.note, statements=statements,
        retention=(*retention.said, retention.source),
        judged={seen.tag: sorted(seen.open_stops) for seen in built.in_service if seen.open_stops},
        cautions=(*warnings(built), *(caution.text for caution in CAUTIONS))))
    files[pack_layout.READ_ME] = read_me_text(ReadMe(
        site=genesis.site, host=genesis.host, made_on=made_on, authority_fingerprint=fingerprint(genesis.authority_key),
        checkpoints=[(f"{one.log} journal: {one.size} in all, root {as_noted(one)}", one.verifier_key) for one in signed],
        retention=retention.said,
        retention_source=retention.source, cautions=warnings(built)), [*files, pack_layout.LIST, pack_layout.READ_ME])
    key = desk.checkpoint_key()
    assert key is not None  # the checkpoints were signed by it
    name = origin(genesis, MAIN)
    files[pack_layout.LIST] = sign_note(pack_layout.list_text(name, files), name, key).encode()
    return files


def warnings(built: AsBuilt) -> tuple[str, ...]:
    """What is not settled, a sentence for each state."""
    return tuple(f"{number} {'luminaire is' if number == 1 else 'luminaires are'} {state_words(state)}: {_SAID[state]}."
                 for state, number in _states(built).items() if number)


def _table_rows(built: AsBuilt) -> Iterator[TableRow]:
    for one in built.gears:
        yield TableRow(
            # A schedule needs a reference; the tag is one that nobody else has.
            reference=one.record.reference or one.seen.tag, type_code=one.record.fixture_type.code, place=one.record.place,
            line_name=one.record.line, circuit=one.record.circuit, gear=one.gear, line=one.line,
            rating=one.seen.current_rating if one.seen.rating_held else None, told=_told(one))


def _told(one: BuiltGear) -> dict[str, str]:
    seen, record = one.seen, one.record
    told = (finding for finding in seen.findings if finding.severity is not Severity.NOTE)
    origin = record.taken_from
    return {
        "adopted_from": f"{from_bytes(origin.tag)}@{origin.log_id.hex()}" if origin is not None else "",
        "tag": seen.tag, "version": str(record.version), "signed_on": day_of(record.time_s),
        "signer": one.signer,
        "state": ", ".join(one.states), "provisional": "yes" if "provisional" in one.states else "no",
        "findings": "; ".join(dict.fromkeys(f"{finding.severity.value}: {finding.says}" for finding in told)),
        "accepted": "; ".join(f"{' '.join(sorted(approval.accepts))} by {approval.signer}" for approval in seen.approvals)}
