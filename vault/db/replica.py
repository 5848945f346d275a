"""How far a copy that follows the main server is behind it."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import Connection, Engine, select
from sqlalchemy.exc import DBAPIError

from vault.db import tables
from vault.db.engine import blob
from vault.db.plain_errors import plain_errors
from vault.db.tables import MAIN, STOCK
from vault.errors import GearkeepError


@dataclass(frozen=True, slots=True, kw_only=True)
class Lag:
    """entries: how many entries of both journals the copy lacks; None when the main server does not answer.

    seconds: since the copy last took anything over from the main server; None when it never did or is no copy.
    """

    entries: int | None
    seconds: float | None

    @property
    def behind(self) -> bool:
        """Whether something is missing, or may be."""
        return self.entries is None or self.entries > 0


def _state(connection: Connection) -> tuple[bytes, dict[int, int]]:
    j = tables.journal.c
    genesis = connection.execute(select(j.digest).where(j.log == MAIN, j.seq == 0)).scalar_one_or_none()
    sizes = {int(log): int(size) for log, size in connection.exec_driver_sql("SELECT log, size FROM log_state")}
    return blob(genesis or b""), sizes


def _since_last(connection: Connection) -> float | None:
    found = connection.exec_driver_sql("SELECT extract(epoch FROM clock_timestamp() - pg_last_xact_replay_timestamp())").scalar()
    return None if found is None else float(found)


def lag(main: Engine, copy: Engine) -> Lag:
    """How far `copy` is behind `main`. Raises GearkeepError when they are not one vault, or the main server lost entries."""
    with plain_errors(), copy.connect() as connection, connection.begin():
        genesis, held = _state(connection)
        seconds = _since_last(connection)
    try:
        with main.connect() as connection, connection.begin():
            main_genesis, sizes = _state(connection)
    except DBAPIError:
        return Lag(entries=None, seconds=seconds)
    if genesis != main_genesis:
        raise GearkeepError("The copy to read from is of another vault than the main server's.", kind="other-vault",
                            hint="Check --read-url and --vault: both name one site, on two servers.")
    for log, name in ((MAIN, "main"), (STOCK, "stock")):
        if held.get(log, 0) > sizes.get(log, 0):
            raise GearkeepError(
                f"The copy holds {held[log]} entries of the {name} journal and the main server only {sizes.get(log, 0)}: it lost "
                "entries, or an old backup was put back there.", kind="rollback",
                hint="Sign nothing. Run gearkeep audit --checkpoint FILE against both, with a checkpoint kept outside.")
    return Lag(entries=sum(sizes.values()) - sum(held.values()), seconds=seconds)
