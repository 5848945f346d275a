"""A stolen key: what show, fit, scan and audit say until somebody answered for it. A key whose time is over."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from lost_vault import LostVault
from small_vault import NOW_S, SmallVault, readback

from vault.actions.changes import approve, move, revise
from vault.actions.desk import Desk
from vault.actions.fitting import fit
from vault.actions.keeping import audit, signer_list
from vault.actions.luminaire import current
from vault.actions.scanning import scan
from vault.actions.setup import add_signer, withdraw_signer
from vault.actions.swap import swap
from vault.db.doubts import doubtful_entries
from vault.domain.findings import Severity, Verdict
from vault.domain.record import Basis, ChangeClass, Reason, Record
from vault.errors import GearkeepError, UsageProblem
from vault.trust.keys import public_bytes
from vault.trust.statements import Approval, Kind, Role

REFERENCE = "CH-007"


def stolen(small: SmallVault, code: str = "T01") -> int:
    """Somebody swaps a driver with the key; it is then withdrawn, trusted up to before the swap. The last trusted entry."""
    last = small.sizes()[0] - 1
    swap(small.desk("T01"), small.tags[REFERENCE], spare="GEN-50-1050", serial="X1", readback=readback(),
         change_class=ChangeClass.APPROVED_EQUIVALENT)
    withdraw_signer(small.desk("authority"), code=code, reason="telephone stolen", trusted_until=last)
    return last


def grant(desk: Desk, code: str, role: Role, public_key: bytes) -> None:
    """One role for one key."""
    add_signer(desk, code=code, roles=frozenset({role}), public_key=public_key, name=None)


def whats(small: SmallVault) -> list[str]:
    """What an audit would name."""
    with small.open().reading() as session:
        return [one.what.rpartition(" ")[0].partition(" ")[0] if "version" not in one.what else one.what.split()[-1]
                for one in doubtful_entries(session)]


def test_nothing_is_in_doubt_where_no_withdrawal_says_so(small: SmallVault) -> None:
    """A signer who left takes no trust along."""
    withdraw_signer(small.desk("authority"), code="I01", reason="left")
    seen = small.seen(REFERENCE)
    assert whats(small) == [] and not seen.provisional


def test_show_fit_and_scan_name_it(small: SmallVault) -> None:
    """A stop says whose key it was and what to do; the luminaire is provisional and no spare fits."""
    last = stolen(small)
    seen = small.seen(REFERENCE)
    stop = seen.findings[0]
    assert (stop.rule, stop.severity) == ("doubtful-signer", Severity.STOP) and seen.open_stops == {"doubtful-signer"}
    assert "T01" in stop.says and f"up to entry {last}" in stop.says and "approve" in stop.says
    assert {one.fit.verdict for one in fit(small.desk("I01"), seen.tag).spares} == {Verdict.DOES_NOT_FIT}
    scanned = scan([], text=small.label_text(REFERENCE), vault=small.open(), trust_text=None)[0]
    assert scanned.seen is not None and scanned.seen.provisional


def test_others_are_as_they_were(small: SmallVault) -> None:
    """What the key signed before, and what others signed, stands."""
    stolen(small)
    assert not small.seen("CH-008").provisional and whats(small) == ["2"]


@pytest.mark.parametrize("act", [
    lambda small: move(small.desk("I01"), small.tags[REFERENCE], place="Attic", line=None, circuit=None, address=None),
    lambda small: revise(small.desk("I01"), small.tags[REFERENCE], changes={"channels.1.current_ma": "650"}, allow_open=True),
], ids=["moved", "changed"])
def test_a_version_that_repeats_the_settings_lifts_nothing(small: SmallVault, act: object) -> None:
    """The figures in it are still the thief's."""
    stolen(small)
    act(small)  # type: ignore[operator]
    seen = small.seen(REFERENCE)
    assert seen.record.version == 3 and "doubtful-signer" in seen.open_stops and whats(small) == ["2"]


def test_an_approval_by_another_settles_it(small: SmallVault) -> None:
    """Show and audit are clean again; the entry stays in the journal."""
    stolen(small)
    approve(small.desk("P01"), small.tags[REFERENCE], accepts=frozenset({"doubtful-signer"}),
            change_class=ChangeClass.LIKE_FOR_LIKE, because="read the driver on site")
    seen = small.seen(REFERENCE)
    assert (seen.provisional, [f.rule for f in seen.findings], whats(small)) == (False, [], [])
    assert seen.record.version == 2


def next_version(small: SmallVault, **changes: object) -> Record:
    """The version behind the one in doubt."""
    seen = small.seen(REFERENCE)
    return replace(seen.record, version=3, predecessors=seen.statement.digest[:16], **changes)  # type: ignore[arg-type]


@pytest.mark.parametrize(("basis", "reason", "settled"), [
    (Basis.READ, Reason.CORRECTION, True), (Basis.MEASURED, Reason.SETTINGS_CHANGED, True),
    (Basis.READ, Reason.DRIVER_SWAP, False), (Basis.STATED, Reason.CORRECTION, False),
])
def test_a_fresh_version_settles_it_when_the_driver_was_asked(small: SmallVault, basis: Basis, reason: Reason,
                                                               settled: bool) -> None:
    """A spare that was set by the doubtful version only says it again."""
    stolen(small)
    small.sign("I01", Kind.RECORD, next_version(small, basis=basis, reason=reason))
    assert (not small.seen(REFERENCE).provisional, whats(small) == []) == (settled, settled)


def test_an_approval_with_the_stolen_key_accepts_nothing(small: SmallVault) -> None:
    """Neither before the theft was known nor by another stolen key."""
    grant(small.desk("authority"), "P02", Role.APPROVER, public_bytes(small.keys["T02"]))
    last = stolen(small)
    body = Approval(record_digest=small.seen(REFERENCE).statement.digest, accepts="doubtful-signer",
                    change_class=ChangeClass.LIKE_FOR_LIKE, because="fine", time_s=NOW_S)
    small.sign("T02", Kind.APPROVAL, body)
    assert not small.seen(REFERENCE).provisional
    withdraw_signer(small.desk("authority"), code="P02", reason="stolen too", trusted_until=last)
    assert small.seen(REFERENCE).open_stops == {"doubtful-signer"} and whats(small) == ["2"]


def test_a_stolen_rating_is_named_until_its_next_revision(small: SmallVault) -> None:
    """What an approver's stolen key let a luminaire take is nobody's word."""
    with small.open().reading() as session:
        rating = current(session, Kind.RATING, small.seen(REFERENCE).rating.code)
    last = small.sizes()[0] - 1
    small.sign("P01", Kind.RATING, replace(rating, revision=2))
    withdraw_signer(small.desk("authority"), code="P01", reason="stolen", trusted_until=last)
    assert "doubtful-rating" in small.seen(REFERENCE).open_stops and whats(small) == ["rating"]
    small.sign("authority", Kind.RATING, replace(rating, revision=3))
    assert "doubtful-rating" not in small.seen(REFERENCE).open_stops and whats(small) == []


def test_those_whom_the_stolen_authority_granted_are_told(small: SmallVault) -> None:
    """The withdrawal names them; granted anew they are good and an audit is clean."""
    second = Ed25519PrivateKey.from_private_bytes(bytes([9]) * 32)
    at = Desk(vault=small.open(), key_source=lambda: second, now_s=lambda: NOW_S)
    technician = public_bytes(Ed25519PrivateKey.from_private_bytes(bytes([10]) * 32))
    grant(small.desk("authority"), "A2", Role.AUTHORITY, public_bytes(second))
    last = small.sizes()[0] - 1
    grant(small.desk("authority"), "T09", Role.TECHNICIAN, technician)
    done = withdraw_signer(at, code="AUTH", reason="stolen", trusted_until=last)
    assert [one.code for one in done.in_doubt] == ["T09"] and whats(small) == ["grant"]
    grant(at, "T09", Role.TECHNICIAN, technician)
    assert whats(small) == []


@pytest.mark.parametrize("entry", [-1, 10_000])
def test_an_entry_that_is_not_there_is_refused(small: SmallVault, entry: int) -> None:
    """Nothing is signed."""
    before = small.sizes()
    with pytest.raises(UsageProblem) as caught:
        withdraw_signer(small.desk("authority"), code="T01", reason="stolen", trusted_until=entry)
    assert (caught.value.kind, small.sizes()) == ("not-found", before)


def test_after_a_loss_nothing_of_the_key_is_trusted(small: SmallVault, tmp_path: Path) -> None:
    """The place means another entry in the vault made anew, so every record of the key is in doubt until approved."""
    (tmp_path / "photos").mkdir()
    lost = LostVault(small=small, photos=tmp_path / "photos", out=tmp_path / "new.db")
    stolen(small)
    lost.label(REFERENCE)
    lost.label("CH-008")
    lost.list_signers()
    done = lost.recover()
    assert [one.doubtful for one in done.tags] == [small.tags[REFERENCE] == one.tag for one in done.tags]
    assert "doubtful-signer" in done.findings[0]
    assert "doubtful-signer" in lost.seen(REFERENCE).open_stops and "doubtful-signer" not in lost.seen("CH-008").open_stops


# --- signers whose time is over ---


def ended(small: SmallVault) -> None:
    """The installer's grant ends; the authority signs something later than that."""
    installer = public_bytes(small.keys["I01"])
    roles = frozenset({Role.INSTALLER})
    add_signer(small.desk("authority"), code="I01", roles=roles, public_key=installer, name=None, until_s=NOW_S + 10)
    later = Desk(vault=small.open(), key_source=lambda: small.keys["authority"], now_s=lambda: NOW_S + 86_400)
    add_signer(later, code="T02", roles=frozenset({Role.TECHNICIAN}), public_key=public_bytes(small.keys["T02"]), name=None)


def test_what_was_signed_in_time_stays_good(small: SmallVault) -> None:
    """In the vault, and on a label read with a list of signers alone, which says whose word that is."""
    ended(small)
    assert not small.seen(REFERENCE).provisional and audit(small.open()).faults == ()
    offline = scan([], text=small.label_text(REFERENCE), vault=None, trust_text=signer_list(small.open()))[0]
    assert offline.problem is None and offline.as_of is not None and "by the label's own word" in offline.as_of


def test_a_key_whose_time_is_over_signs_no_more(small: SmallVault) -> None:
    """Even when it dates its statement back."""
    ended(small)
    with pytest.raises(GearkeepError) as caught:
        move(small.desk("I01"), small.tags[REFERENCE], place="Attic", line=None, circuit=None, address=None)
    assert caught.value.kind == "expired-signer"


def test_after_a_loss_records_signed_in_time_come_back(small: SmallVault, tmp_path: Path) -> None:
    """They stand before the authority's later date in the new journal, and an audit of it is clean."""
    (tmp_path / "photos").mkdir()
    lost = LostVault(small=small, photos=tmp_path / "photos", out=tmp_path / "new.db")
    ended(small)
    lost.label(REFERENCE)
    lost.list_signers()
    done = lost.recover()
    assert (done.failures, [one.doubtful for one in done.tags], lost.whys()) == ((), [False], [])
