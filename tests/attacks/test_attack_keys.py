"""Attacks by somebody who holds a key. Rows of the table in DEVELOPERS.md."""

from __future__ import annotations

from dataclasses import replace

import pytest
from attackers import STRANGER, refused, resigned, words_of_audit
from small_vault import NOW_S, SmallVault

from vault.actions.authority import rotate
from vault.actions.setup import withdraw_signer
from vault.domain.record import ChangeClass, Reason
from vault.trust.keys import key_id, public_bytes
from vault.trust.statements import Approval, Grant, Kind, Recovery, Role, Withdrawal

GRANT = Grant(public_key=public_bytes(STRANGER), roles=frozenset({Role.AUTHORITY}), code="X01", time_s=NOW_S)


def _next(small: SmallVault, **changes: object) -> object:
    seen = small.seen("CH-007")
    fields = {"version": 2, "predecessors": seen.statement.digest[:16], "reason": Reason.SETTINGS_CHANGED, "time_s": NOW_S}
    return replace(seen.record, **{**fields, **changes})  # type: ignore[arg-type]


@pytest.mark.parametrize("kind", [Kind.GRANT, Kind.WITHDRAWAL, Kind.RATING, Kind.RECOVERY])
def test_a_technician_acts_as_the_authority(small: SmallVault, kind: Kind) -> None:
    """With a technician's key nobody grants, withdraws, rates or recovers."""
    seen = small.seen("CH-007")
    bodies = {Kind.GRANT: GRANT, Kind.RATING: seen.rating, Kind.RECOVERY: Recovery(time_s=NOW_S, digests=seen.statement.digest),
              Kind.WITHDRAWAL: Withdrawal(key_id=key_id(public_bytes(small.keys["I01"])), time_s=NOW_S, reason="x")}
    assert refused(lambda: small.open().append_signed(resigned(small, kind, bodies[kind], small.keys["T01"]))) == "wrong-role"


def test_a_technician_signs_a_false_record(small: SmallVault) -> None:
    """Nobody catches a false figure under a good key; it is judged against the rating and bears its signer's code."""
    small.open().append_signed(resigned(small, Kind.RECORD, _next(small, place="Nowhere"), small.keys["T01"]))
    assert small.seen("CH-007").signer_code == "T01"


def test_a_technician_approves_their_own_record(small: SmallVault) -> None:
    """One's own reason never lifts a stop."""
    signed = resigned(small, Kind.RECORD, _next(small, open_stops="fit"), small.keys["T01"])
    digest = small.open().append_signed(signed).digest
    body = Approval(record_digest=digest, accepts="fit", change_class=ChangeClass.MODIFICATION, because="fine", time_s=NOW_S)
    assert refused(lambda: small.open().append_signed(resigned(small, Kind.APPROVAL, body, small.keys["T01"]))) == "wrong-role"


def test_a_record_that_leaves_its_own_history_out(small: SmallVault) -> None:
    """A version that names a predecessor which nobody signed is refused."""
    body = _next(small, predecessors=b"\x01" * 16)
    assert refused(lambda: small.open().append_signed(resigned(small, Kind.RECORD, body, small.keys["T01"]))) == "bad-chain"


def test_a_version_signed_beside_the_newest(small: SmallVault) -> None:
    """Two newest versions that differ are a conflict: shown, and frozen for swaps and labels."""
    gears = small.seen("CH-001").record.gears
    one, other = _next(small), _next(small, gears=gears)
    small.sign("I01", Kind.RECORD, one)
    small.sign("T01", Kind.RECORD, other)
    assert small.seen("CH-007").conflict


def test_a_withdrawn_key_signs_on(small: SmallVault) -> None:
    """From its withdrawal on a key signs nothing that counts."""
    signed = resigned(small, Kind.RECORD, _next(small), small.keys["T01"])
    withdraw_signer(small.desk("authority"), code="T01", reason="left")
    assert refused(lambda: small.open().append_signed(signed)) == "withdrawn-signer"


def test_a_withdrawn_authority_grants_on(small: SmallVault) -> None:
    """After the authority was handed on, the old key grants nothing."""
    rotate(small.desk("authority"), code="AUTH2", new_key=STRANGER, because="handed on")
    grant = replace(GRANT, code="X02", public_key=public_bytes(small.keys["T02"]))
    late = resigned(small, Kind.GRANT, grant, small.keys["authority"])
    assert refused(lambda: small.open().append_signed(late)) == "withdrawn-signer"


def test_a_stranger_signs(small: SmallVault) -> None:
    """A key that was never granted is no signer."""
    assert refused(lambda: small.open().append_signed(resigned(small, Kind.RECORD, _next(small), STRANGER))) == "unknown-signer"


def test_a_statement_dated_back(small: SmallVault) -> None:
    """A version dated long before the one that it follows: taken in, for clocks are wrong, and named where it is shown."""
    body = _next(small, time_s=NOW_S - 400 * 86_400)
    small.open().append_signed(resigned(small, Kind.RECORD, body, small.keys["T01"]))
    assert {finding.rule: finding.severity.value for finding in small.seen("CH-007").findings}["dated-back"] == "care"
    small.close()
    assert words_of_audit(small) == set()
