"""One checkpoint over many sites: signed when all agree, and what it says of each site later."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from small_vault import HOST, NOW_S, PASSPHRASE, SmallVault
from stored import tamper

from vault.actions.changes import revise
from vault.actions.estate import check, sign
from vault.actions.keeping import sign_checkpoints
from vault.actions.setup import found_vault
from vault.errors import GearkeepError, UsageProblem, VerificationError
from vault.trust.keys import fingerprint, public_bytes

KEY = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))
PUBLIC = public_bytes(KEY).hex()


def _change(small: SmallVault, current_ma: int = 650) -> None:
    revise(small.desk("I01"), small.tags["CH-001"], changes={"channels.1.current_ma": str(current_ma)})


def _new_site(folder: Path, name: str) -> str:
    founded = found_vault(str(folder / f"{name}.db"), host=HOST, site=name, keys_folder=folder / f"{name}-keys",
                          passphrase=PASSPHRASE.encode(), recovery_needed=1, recovery_count=1, now_s=NOW_S)
    founded.vault.close()
    return str(folder / f"{name}.db")


def _signed(small: SmallVault, *others: str, out: str = "estate.json", previous: Path | None = None) -> Path:
    small.close()
    path = small.folder / out
    sign([small.address, *others], KEY, name="Town", out=path, now_s=NOW_S, previous=previous)
    return path


def _verdicts(path: Path, *addresses: str) -> list[str]:
    return [one.verdict.value for one in check(path, addresses, PUBLIC)]


def test_sites_are_the_same_then_grow(small_on: SmallVault, tmp_path: Path) -> None:
    """One site with a journal of stock, one that was founded and nothing more."""
    school = _new_site(tmp_path, "school")
    path = _signed(small_on, school)
    assert _verdicts(path, small_on.address, school) == ["same", "same"]
    _change(small_on)
    answers = check(path, [small_on.address, school], PUBLIC)
    assert [one.verdict.value for one in answers] == ["grown", "same"]
    before, now = answers[0].before, answers[0].now
    assert before is not None and now is not None and (now[0] - before[0], now[1] - before[1]) == (1, 0)


@pytest.mark.parametrize(("then", "verdict"), [((), "rolled-back"), ((640,), "forked"), ((640, 630), "forked")])
def test_a_site_that_lost_its_history_is_told(small: SmallVault, then: tuple[int, ...], verdict: str) -> None:
    """An old copy put back: as it was, written on to the same size, and beyond it."""
    before = small.copy_file("before.db")
    _change(small)
    path = _signed(small)
    shutil.copy(before, small.path)
    for current_ma in then:
        _change(small, current_ma)
    small.close()
    assert _verdicts(path, small.address) == [verdict]


def test_missing_and_unknown_sites_are_told(small: SmallVault, tmp_path: Path) -> None:
    """One that the estate has and nobody named; one that was named and the estate does not have."""
    path = _signed(small)
    assert _verdicts(path, _new_site(tmp_path, "school")) == ["unknown", "missing"]


def test_a_site_that_cannot_be_read_is_told_beside_the_others(small: SmallVault) -> None:
    """The others are still answered for."""
    path = _signed(small)
    (small.folder / "broken.db").write_bytes(b"hello")
    assert _verdicts(path, str(small.folder / "broken.db"), small.address) == ["unreadable", "same"]


def test_a_copy_beside_its_original_is_answered_for_too(small: SmallVault) -> None:
    """Two vaults of one id: each is held against the checkpoint."""
    old = small.copy_file("old.db")
    _change(small)
    assert _verdicts(_signed(small), small.address, str(old)) == ["same", "rolled-back"]


@pytest.mark.parametrize("trusted", [PUBLIC, PUBLIC.upper(), fingerprint(bytes.fromhex(PUBLIC))])
def test_the_key_may_be_given_whole_or_as_fingerprint(small: SmallVault, trusted: str) -> None:
    """As it stands on paper."""
    assert [one.verdict.value for one in check(_signed(small), [small.address], trusted)] == ["same"]


@pytest.mark.parametrize(("trusted", "kind"), [
    ("00" * 16, "unknown-signer"), (public_bytes(Ed25519PrivateKey.from_private_bytes(bytes(32))).hex(), "unknown-signer"),
    ("hello", "bad-key"), ("", "bad-key"), ("abcd", "bad-key")])
def test_a_key_of_somebody_else_opens_nothing(small: SmallVault, trusted: str, kind: str) -> None:
    """The file's own claim of a key is never enough."""
    with pytest.raises(GearkeepError) as caught:
        check(_signed(small), [small.address], trusted)
    assert caught.value.kind == kind


@pytest.mark.parametrize("content", [b"hello", b"\xff\xfe", b"{}", b"[]"])
def test_what_is_no_estate_is_refused(small: SmallVault, content: bytes) -> None:
    """Any other file."""
    path = small.folder / "estate.json"
    path.write_bytes(content)
    with pytest.raises(VerificationError) as caught:
        check(path, [small.address], PUBLIC)
    assert caught.value.kind == "bad-estate"


def test_nothing_is_written_over(small: SmallVault) -> None:
    """An estate's file is a witness."""
    path = _signed(small)
    before = path.read_bytes()
    with pytest.raises(UsageProblem) as caught:
        _signed(small)
    assert caught.value.kind == "exists" and path.read_bytes() == before


def test_a_site_named_twice_is_wrong_use(small: SmallVault) -> None:
    """Each site once."""
    with pytest.raises(UsageProblem) as caught:
        _signed(small, small.address)
    assert caught.value.kind == "bad-payload" and not (small.folder / "estate.json").exists()


def test_nothing_is_signed_for_a_site_that_its_own_checkpoint_contradicts(small: SmallVault) -> None:
    """The journal's end was cut off by the database's owner, its newest checkpoint was not."""
    _change(small)
    sign_checkpoints(small.desk())
    small.close()
    tamper(str(small.path), "DELETE FROM journal WHERE log = 0 AND seq = (SELECT max(seq) FROM journal WHERE log = 0)")
    with pytest.raises(VerificationError) as caught:
        _signed(small)
    assert caught.value.kind == "rollback" and not (small.folder / "estate.json").exists()


def _roll_back(small: SmallVault, before: Path, _school: str) -> list[str]:
    shutil.copy(before, small.path)
    return [_school]


def _leave_out(_small: SmallVault, _before: Path, _school: str) -> list[str]:
    return []


@pytest.mark.parametrize(("change", "kind"), [(_roll_back, "rollback"), (_leave_out, "site-gone")])
def test_nothing_is_signed_that_the_last_file_contradicts(
        small: SmallVault, tmp_path: Path, change: Callable[[SmallVault, Path, str], list[str]], kind: str) -> None:
    """A site rolled back since, and one that nobody named any more."""
    school = _new_site(tmp_path, "school")
    before = small.copy_file("before.db")
    _change(small)
    last = _signed(small, school)
    others = change(small, before, school)
    with pytest.raises(VerificationError) as caught:
        _signed(small, *others, out="next.json", previous=last)
    assert caught.value.kind == kind and not (small.folder / "next.json").exists()


def test_a_new_site_joins_the_estate(small: SmallVault, tmp_path: Path) -> None:
    """It is no contradiction of the last file."""
    last = _signed(small)
    school = _new_site(tmp_path, "school")
    assert _verdicts(_signed(small, school, out="next.json", previous=last), small.address, school) == ["same", "same"]
