"""Who may sign, read from the journal and verified once for each open vault."""

from __future__ import annotations

from copy import deepcopy
from dataclasses import dataclass

from sqlalchemy import Connection, bindparam, select

from vault.db import tables
from vault.db.engine import blob
from vault.db.tables import MAIN
from vault.errors import GearkeepError
from vault.trust.signers import Signers
from vault.trust.statements import Genesis, Kind
from vault.trust.verify import verify, verify_genesis

SIGNER_KINDS = (int(Kind.GENESIS), int(Kind.GRANT), int(Kind.WITHDRAWAL), int(Kind.APPOINTMENT))

_J = tables.journal.c
# They are few among millions. seq + 0 and sorting here leave a planner no other index than the one by kind: in the order of
# the journal it would read all of it.
_FROM = select(_J.seq, _J.signed).where(_J.log == MAIN, _J.kind.in_(SIGNER_KINDS), _J.seq + 0 >= bindparam("least"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Trusted:
    """The genesis and the signers as of the journal's first `read` entries."""

    genesis: Genesis
    signers: Signers
    read: int


def read_trusted(connection: Connection, known: Trusted | None) -> Trusted:
    """The signers as the journal says now; what `known` covers is not verified again.

    Raises GearkeepError (not-a-vault) without a genesis, VerificationError for a statement that is not good.
    """
    rows = sorted(connection.execute(_FROM, {"least": known.read if known else 0}).all())
    if known is not None and not rows:
        return known
    if known is None:
        if not rows or rows[0].seq != 0:
            raise GearkeepError("The vault has no genesis.", kind="not-a-vault",
                                hint="Restore a backup, or make a new vault with: gearkeep init.")
        genesis: Genesis = verify_genesis(blob(rows[0].signed)).body
        signers, rows = Signers(), rows[1:]
        signers.feed(genesis, 0)
        read = 1
    else:
        genesis, signers, read = known.genesis, deepcopy(known.signers), known.read
    for row in rows:
        statement = verify(blob(row.signed), log_id=genesis.log_id, signers=signers, place=row.seq)
        signers.feed(statement.body, row.seq, by=statement.key_id)
        read = row.seq + 1
    return Trusted(genesis=genesis, signers=signers, read=read)
