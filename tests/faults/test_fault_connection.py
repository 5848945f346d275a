"""The connection to a PostgreSQL server breaks in the middle of a commit: asked again by digest, never doubled."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest
from crash_acts import ROWS_PER_SCHEDULE, Life, schedule_of
from crash_places import Places
from cutting_proxy import Proxy, proxy_to
from postgres_server import Server
from small_vault import SmallVault

from vault.actions.handover import hand_over
from vault.actions.handover_reading import look
from vault.db.audit import run_audit
from vault.domain.record import Reason
from vault.errors import GearkeepError
from vault.trust.statements import Kind
from vault.trust.verify import sign

# A command ends with a nought on the wire; "READ COMMITTED" is another.
APPEND, COMMIT = b"gearkeep_append(", b"COMMIT\0"


@pytest.fixture(scope="module")
def direct(tmp_path_factory: pytest.TempPathFactory, server: Server) -> SmallVault:
    """A vault on the server."""
    return Places(tmp_path_factory.mktemp("connection"), server).today()


@pytest.fixture
def proxy(server: Server) -> Iterator[Proxy]:
    """A way to the server that can be cut."""
    with proxy_to(server.port) as opened:
        yield opened


@pytest.fixture
def cut(direct: SmallVault, proxy: Proxy, server: Server) -> Iterator[SmallVault]:
    """The same vault by way of the proxy."""
    assert direct.server_address is not None
    made = replace(direct, server_address=direct.server_address.replace(f":{server.port}/", f":{proxy.port}/"), opened=[])
    yield made
    made.close()
    direct.close()


def _next_version(small: SmallVault) -> bytes:
    seen = small.seen("CH-003")
    with small.open().reading() as session:
        log_id = session.genesis.log_id
    record = replace(seen.record, version=seen.record.version + 1, predecessors=seen.statement.digest[:16],
                     reason=Reason.SETTINGS_CHANGED, note="cut")
    return sign(Kind.RECORD, record, small.keys["I01"], log_id=log_id)


def _faults(small: SmallVault) -> int:
    with small.open().reading() as session:
        return len(run_audit(session).faults)


@pytest.mark.parametrize(("arrives", "late_s"), [(True, 0.0), (True, 0.4), (False, 0.0)])
def test_a_statement_is_there_once_whether_it_arrived_or_not(
        direct: SmallVault, cut: SmallVault, proxy: Proxy, arrives: bool, late_s: float) -> None:
    """The connection breaks before the server gets the statement, or before its answer comes back: it is there once."""
    signed, before = _next_version(direct), direct.sizes()[0]
    vault = cut.open()
    proxy.arm(APPEND, arrives=arrives, late_s=late_s)
    statement = vault.append_signed(signed)
    assert (proxy.cuts, direct.sizes()[0], direct.seen("CH-003").statement.digest) == (1, before + 1, statement.digest)
    assert vault.append_signed(signed).digest == statement.digest
    assert direct.sizes()[0] == before + 1 and _faults(direct) == 0


def test_a_server_that_stays_away_is_told_and_the_same_bytes_may_be_sent_again(
        direct: SmallVault, cut: SmallVault, proxy: Proxy, monkeypatch: pytest.MonkeyPatch) -> None:
    """After some tries the connection is said to be lost; what arrived is found by its digest later."""
    monkeypatch.setattr("vault.db.one_append.PAUSES_S", (0.01, 0.01))
    signed, before = _next_version(direct), direct.sizes()[0]
    vault = cut.open()
    proxy.arm(APPEND, arrives=True, stays_shut=True)
    with pytest.raises(GearkeepError) as problem:
        vault.append_signed(signed)
    assert problem.value.kind in ("connection-lost", "cannot-open", "outcome-unknown") and problem.value.hint
    proxy.shut = False
    vault.append_signed(signed)
    assert direct.sizes()[0] == before + 1 and _faults(direct) == 0


@pytest.mark.parametrize(("arrives", "late_s", "number"), [(True, 0.0, 1), (True, 0.4, 2), (False, 0.0, 3)])
def test_a_handover_is_whole_or_not_there(
        direct: SmallVault, cut: SmallVault, proxy: Proxy, arrives: bool, late_s: float, number: int) -> None:
    """A commit that arrived counts although its answer was lost, even where the server gets it after we ask for it.

    One that did not arrive is told, and doing it again completes it.
    """
    life = Life(act="handover", small=cut, number=number)
    schedule, before = schedule_of(life, 0), direct.sizes()[0]
    vault = life.open()
    seen = look(life.desk(vault, "I01"), schedule)
    proxy.arm(COMMIT, arrives=arrives, late_s=late_s)
    kinds = []
    try:
        hand_over(life.desk(vault, "I01"), seen)
    except GearkeepError as problem:
        kinds.append(problem.kind)
    assert (proxy.cuts, direct.sizes()[0] - before, kinds) == (
        (1, ROWS_PER_SCHEDULE, []) if arrives else (1, 0, ["connection-lost"]))
    hand_over(life.desk(vault, "I01"), schedule)
    assert direct.sizes()[0] - before == ROWS_PER_SCHEDULE and _faults(direct) == 0
    life.close()


def test_nobody_is_told_a_thing_that_nobody_knows(direct: SmallVault, cut: SmallVault, proxy: Proxy) -> None:
    """The server does not answer any more: the message says that the outcome is unknown and where to look."""
    life = Life(act="handover", small=cut, number=4)
    schedule, before, vault = schedule_of(life, 0), direct.sizes()[0], life.open()
    seen = look(life.desk(vault, "I01"), schedule)
    proxy.arm(COMMIT, arrives=True, stays_shut=True)
    with pytest.raises(GearkeepError) as problem:
        hand_over(life.desk(vault, "I01"), seen)
    life.close()
    assert problem.value.kind == "outcome-unknown" and "history" in problem.value.hint
    hand_over(life.desk(direct.open(), "I01"), schedule)
    assert direct.sizes()[0] - before == ROWS_PER_SCHEDULE and _faults(direct) == 0

