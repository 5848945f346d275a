"""What a key in wrong hands signed, and what of it nobody has answered for since (FORMAT.md, section Chain)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sqlalchemy import select

from vault.db import tables
from vault.db.session import Session
from vault.db.tables import MAIN
from vault.domain.record import Basis, Reason, Record
from vault.domain.schema import words
from vault.domain.tag import shown
from vault.trust.keys import key_id
from vault.trust.signers import DigestAt, Doubt
from vault.trust.statements import Kind

RULE = "doubtful-signer"


@dataclass(frozen=True, slots=True, kw_only=True)
class DoubtfulVersion:
    """A version of a luminaire that is in doubt and not settled."""

    seq: int
    version: int
    doubt: Doubt


@dataclass(frozen=True, slots=True, kw_only=True)
class DoubtfulEntry:
    """An entry of the main journal that is in doubt and not settled. what: the kind and its name, in words."""

    seq: int
    what: str
    doubt: Doubt

    @property
    def why(self) -> str:
        """One sentence for an audit."""
        return f"{RULE}: {self.what} was signed by {said(self.doubt)}"


def said(doubt: Doubt) -> str:
    """Whose key it was and up to where it is trusted, in words."""
    upto = "no entry of it is trusted in this journal" if doubt.trusted_until is None else \
        f"it is trusted up to entry {doubt.trusted_until}"
    return f"{doubt.code}, whose key was in wrong hands: {upto}, says the withdrawal at entry {doubt.withdrawn_at}"


def digest_at(session: Session) -> DigestAt:
    """Digests of the main journal's entries by place."""
    j = tables.journal.c

    def read(place: int) -> bytes | None:
        found = session.connection.execute(select(j.digest).where(j.log == MAIN, j.seq == place)).scalar()
        return None if found is None else bytes(found)

    return read


def doubt_of(session: Session, signer: bytes, seq: int, *, behind: bool = False) -> Doubt | None:
    """Why an entry of the main journal is not trusted, or None. behind: see vault/trust/signers.py."""
    signers = session.signers
    return signers.doubt(signer, seq, digest_at(session), behind=behind) if signers.any_doubt else None


def doubtful_versions(session: Session, tag: str) -> list[DoubtfulVersion]:
    """Versions of a luminaire that are in doubt: no approval accepts them, no readback or measurement came behind them."""
    if not session.signers.any_doubt:
        return []
    r, a = tables.record.c, tables.approval.c
    rows = session.connection.execute(
        select(r.seq, r.version, r.digest, r.key_id).where(r.tag == tag).order_by(r.version, r.seq)).all()
    doubts = {row.seq: doubt_of(session, row.key_id, row.seq) for row in rows}
    if not any(doubts.values()):
        return []
    version = {bytes(row.digest): row.version for row in rows}
    approved = [version[bytes(row.record_digest)] for row in session.connection.execute(
        select(a.seq, a.key_id, a.record_digest, a.accepts).where(a.record_digest.in_(list(version))))
        if RULE in row.accepts.split() and doubt_of(session, row.key_id, row.seq) is None]
    looked_at = [(row.version, row.seq) for row in rows
                 if doubts[row.seq] is None and _tells_anew(session.statement(row.seq).body)]
    found = []
    for row in rows:
        doubt = doubts[row.seq]
        settled = any(v >= row.version for v in approved) or any(v > row.version and s > row.seq for v, s in looked_at)
        if doubt is not None and not settled:
            found.append(DoubtfulVersion(seq=row.seq, version=row.version, doubt=doubt))
    return found


def _tells_anew(record: Record) -> bool:
    """Whether a version says what hangs there. A swap's readback is of the spare that was set by the version before."""
    return record.basis is not Basis.STATED and record.reason is not Reason.DRIVER_SWAP


def doubtful_entries(session: Session) -> Iterator[DoubtfulEntry]:
    """Every entry of the main journal that is in doubt and not settled, for an audit: records, the catalogue, grants,
    withdrawals, recoveries, take-overs. Doubtful approvals accept nothing and label events change no figure, so those stand
    aside.
    """
    if not session.signers.any_doubt:
        return
    r = tables.record.c
    suspects = session.signers.suspects()
    for (tag,) in session.connection.execute(select(r.tag).where(r.key_id.in_(suspects)).distinct().order_by(r.tag)).all():
        for one in doubtful_versions(session, tag):
            yield DoubtfulEntry(seq=one.seq, what=f"{shown(tag)} version {one.version}", doubt=one.doubt)
    yield from _catalogue(session)
    yield from _about_signers(session)


def doubtful_revision(session: Session, kind: Kind, name: str) -> DoubtfulEntry | None:
    """The newest revision of a rating, driver model, circuit or line where that is in doubt."""
    if not session.signers.any_doubt:
        return None
    c, j = tables.catalogue.c, tables.journal.c
    row = session.connection.execute(
        select(c.seq, c.revision, j.key_id).join(tables.journal, (j.seq == c.seq) & (j.log == MAIN))
        .where(c.kind == int(kind), c.name == name).order_by(c.revision.desc()).limit(1)).first()
    doubt = doubt_of(session, row.key_id, row.seq) if row is not None else None
    if row is None or doubt is None:
        return None
    return DoubtfulEntry(seq=row.seq, what=f"{words(kind).replace('-', ' ')} {name} revision {row.revision}", doubt=doubt)


def _catalogue(session: Session) -> Iterator[DoubtfulEntry]:
    c = tables.catalogue.c
    for kind, name in session.connection.execute(select(c.kind, c.name).distinct().order_by(c.kind, c.name)).all():
        found = doubtful_revision(session, Kind(kind), name)
        if found is not None:
            yield found


def _about_signers(session: Session) -> Iterator[DoubtfulEntry]:
    """A grant or withdrawal is settled by a later one of the same key by a good hand; a recovery by a later recovery, a
    take-over by a later one of the same log.
    """
    j = tables.journal.c
    kinds = (int(Kind.GRANT), int(Kind.WITHDRAWAL), int(Kind.RECOVERY), int(Kind.TAKE_OVER))
    query = select(j.seq, j.kind, j.key_id).where(j.log == MAIN, j.kind.in_(kinds)).order_by(j.seq)
    rows = session.connection.execute(query).all()
    waiting: dict[bytes, DoubtfulEntry] = {}
    for row in rows:
        body = session.statement(row.seq).body
        if row.kind == Kind.RECOVERY:
            about, what = body.digests, "recovery of records from labels"
        elif row.kind == Kind.TAKE_OVER:
            about, what = body.log_id, f"take-over of the log {body.log_id.hex()[:8]} of {body.site}"
        elif row.kind == Kind.GRANT:
            about, what = key_id(body.public_key), f"grant to {body.code}"
        else:
            about, what = body.key_id, f"withdrawal of the key {body.key_id.hex()}"
        doubt = doubt_of(session, row.key_id, row.seq)
        waiting.pop(about, None)
        if doubt is not None:
            waiting[about] = DoubtfulEntry(seq=row.seq, what=what, doubt=doubt)
    yield from sorted(waiting.values(), key=lambda one: one.seq)
