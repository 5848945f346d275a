"""Import: another vault's pack is verified whole, its entries are kept, and our authority signs for them."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path

from vault.actions.desk import Desk
from vault.db import taken
from vault.db.session import Session
from vault.db.taken import TakenLog
from vault.errors import UsageProblem, VerificationError
from vault.exchange.pack_reading import Confirm, Pack, Progress, read_pack
from vault.trust import merkle
from vault.trust.keys import fingerprint
from vault.trust.signers import require_role
from vault.trust.statements import Kind
from vault.trust.takeover import TakeOver


class Disagrees(VerificationError):
    """A pack that contradicts what was imported before. evidence: file name -> text, to be kept."""

    def __init__(self, what: str, *, kind: str, hint: str, evidence: dict[str, str]) -> None:
        super().__init__(what, kind=kind, hint=hint)
        self.evidence = evidence


@dataclass(frozen=True, slots=True, kw_only=True)
class Imported:
    """What an import did. added: entries that came in; size_before: how many were vouched for before, 0 for none."""

    log: TakenLog
    authority: str
    added: int
    size_before: int
    luminaires: int

    @property
    def nothing_new(self) -> bool:
        """Whether the same state was imported before and nothing of it was missing."""
        return self.added == 0 and self.size_before == self.log.size


def import_pack(desk: Desk, path: Path, confirm: Confirm, *, reading: Progress, writing: Progress) -> Imported:
    """Verify a pack and keep its entries, vouched for by a take-over that our authority signs; all or nothing.

    A newer pack of a log that was imported before has to continue it. Raises what `read_pack` raises; UsageProblem (own-pack);
    VerificationError (wrong-role); Disagrees (rollback, fork).
    """
    key = desk.key()
    _refuse_others(desk)
    pack = read_pack(path, confirm, reading)
    with desk.vault.writing() as session:
        if pack.genesis.log_id in (session.genesis.log_id, session.genesis.stock_log_id):
            raise UsageProblem("This is a pack of this very vault.", kind="own-pack",
                               hint="Import it into another vault. To bring a vault back: gearkeep restore.")
        before = next((one for one in taken.taken_logs(session) if one.log_id == pack.genesis.log_id), None)
        if before is not None:
            _require_continued(session, before, pack)
        if before is None or before.size < pack.size:
            session.append(Kind.TAKE_OVER, TakeOver(
                log_id=pack.genesis.log_id, host=pack.genesis.host, site=pack.genesis.site,
                authority_key=pack.genesis.authority_key, checkpoint=pack.note.encode(), time_s=desk.now_s()), key)
        added = taken.store(session, pack.genesis.log_id, pack.entries, writing)
        log = next(one for one in taken.taken_logs(session) if one.log_id == pack.genesis.log_id)
        return Imported(log=log, authority=pack.authority, added=added, size_before=before.size if before else 0,
                        luminaires=len(taken.tags_of(session, log.log_id)))


def _refuse_others(desk: Desk) -> None:
    """Raises VerificationError before a large pack is read for somebody who may not sign for it."""
    with desk.vault.reading() as session:
        require_role(session.signers.at(desk.key_id(), session.size()), Kind.TAKE_OVER)


def _require_continued(session: Session, before: TakenLog, pack: Pack) -> None:
    """The pack's history goes on from the one imported before (RFC 9162 2.1.4), else Disagrees."""
    if pack.size >= before.size:
        read = _pack_nodes(pack)
        root = merkle.root(before.size, read)
        if root == before.root:
            proof = merkle.consistency_proof(before.size, pack.size, read)
            merkle.verify_consistency(before.size, pack.size, before.root, pack.root, proof)
            return
        kind = "fork"
    else:
        held = merkle.root(pack.size, taken.read_node(session, before.log_id))
        kind = "rollback" if held == pack.root else "fork"
    what = (f"The pack holds {pack.size} entries of {before.site}, of which {before.size} were imported before: it is older, or "
            "entries were taken away." if kind == "rollback" else
            f"The pack tells another history of {before.site} than the one of {before.size} entries that was imported before.")
    raise Disagrees(what, kind=kind, evidence=_evidence(session, before, pack, what, kind),
                    hint="Nothing was imported. Ask that vault's authority for its newest pack." if kind == "rollback" else
                    "Nothing was imported. Both signed checkpoints are kept: ask that vault's authority which history is theirs.")


def _pack_nodes(pack: Pack) -> merkle.ReadNode:
    levels: list[list[bytes]] = [[merkle.leaf_hash(one) for one in pack.entries]]
    while len(levels[-1]) > 1:
        below = levels[-1]
        levels.append([merkle.node_hash(below[at], below[at + 1]) for at in range(0, len(below) - 1, 2)])
    return lambda level, index: levels[level][index]


def _evidence(session: Session, before: TakenLog, pack: Pack, what: str, kind: str) -> dict[str, str]:
    """Both signed checkpoints and a report."""
    ours: TakeOver = session.statement(before.seq).body
    start = before.log_id.hex()[:8]
    names = {f"{start}-{before.size:012d}-{before.root.hex()[:16]}.txt": ours.note,
             f"{start}-{pack.size:012d}-{pack.root.hex()[:16]}.txt": pack.note}
    report = "\n".join([
        "Two checkpoints of one log that disagree. Keep this folder: both notes are signed by the checkpoint key of that vault.",
        "", f"{kind}: {what}", *(f"  {name}" for name in names),
        f"imported before: {before.size} entries, root {before.root.hex()}, entry {before.seq} of this vault's journal",
        f"this pack:       {pack.size} entries, root {pack.root.hex()}", ""])
    return {**names, f"report-{hashlib.sha256(report.encode()).hexdigest()[:12]}.txt": report}


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """A log that was taken over. adopted: how many of its luminaires are ours by now."""

    log: TakenLog
    authority: str
    luminaires: int
    adopted: int


def list_taken(session: Session) -> list[Listed]:
    """Every log that was taken over, by site."""
    found = []
    for log in taken.taken_logs(session):
        tags = taken.tags_of(session, log.log_id)
        found.append(Listed(log=log, authority=fingerprint(log.authority_key), luminaires=len(tags),
                            adopted=sum(bool(taken.adopted_as(session, log.log_id, tag)) for tag in tags)))
    return found
