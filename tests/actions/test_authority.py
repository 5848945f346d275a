"""The authority's key: handed on, lost and appointed anew, and what stays as it was."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from lost_vault import photograph_pages
from small_vault import HOST, NOW_S, SITE, SmallVault

from vault.actions.authority import appoint, endorse_on_paper, make_request, recovery_keys, rotate, standing
from vault.actions.checkpoint_page import write_signers_page
from vault.actions.desk import Desk
from vault.actions.keeping import audit, rebuild_index, signer_list
from vault.actions.label_folder import gather
from vault.actions.recovered_trust import establish
from vault.actions.scanning import scan
from vault.actions.setup import Founded, add_signer, found_vault, withdraw_signer
from vault.db.doubts import doubt_of
from vault.db.session import Vault
from vault.errors import GearkeepError, UsageProblem
from vault.trust.appointment import Request, Signed
from vault.trust.keys import fingerprint, public_bytes, read_key_file
from vault.trust.statements import Role
from vault.trust.trustlist import load

NEW, OTHER, TECHNICIAN = (Ed25519PrivateKey.from_private_bytes(bytes([n]) * 32) for n in (21, 22, 23))
PASSPHRASE = b"dry socks 12"


# --- handed on ---


def test_everybody_else_stays_granted_and_labels_stay_good(small: SmallVault) -> None:
    """Two entries; the old key grants no more, the new one does; every record verifies as before."""
    before = small.sizes()[0]
    done = rotate(small.desk("authority"), code="AUTH2", new_key=NEW, because="key rotated")
    assert small.sizes()[0] == before + 2 and (done.new.granted_at, done.old.withdrawn_at) == (before, before + 1)
    assert not small.seen("CH-007").provisional
    offline = scan([], text=small.label_text("CH-007"), vault=None, trust_text=signer_list(small.open()))[0]
    assert offline.problem is None and audit(small.open()).faults == ()
    roles = frozenset({Role.TECHNICIAN})
    with pytest.raises(GearkeepError) as caught:
        add_signer(small.desk("authority"), code="T09", roles=roles, public_key=public_bytes(OTHER), name=None)
    assert caught.value.kind == "withdrawn-signer"
    new = Desk(vault=small.open(), key_source=lambda: NEW, now_s=lambda: NOW_S)
    assert add_signer(new, code="T09", roles=roles, public_key=public_bytes(OTHER), name=None).granted_at


@pytest.mark.parametrize(("who", "code", "key", "kind"), [
    ("I01", "AUTH2", NEW, "wrong-role"), ("authority", "T01", NEW, "code-in-use"),
], ids=["no authority", "a code in use"])
def test_nothing_is_handed_on_by_halves(small: SmallVault, who: str, code: str, key: Ed25519PrivateKey, kind: str) -> None:
    """Refused, and no entry is written."""
    before = small.sizes()
    with pytest.raises(UsageProblem) as caught:
        rotate(small.desk(who), code=code, new_key=key, because="key rotated")
    assert (caught.value.kind, small.sizes()) == (kind, before)


def test_a_key_that_held_a_role_is_none_to_hand_on_to(small: SmallVault) -> None:
    """The technician's key does not become the authority's by rotation."""
    with pytest.raises(UsageProblem) as caught:
        rotate(small.desk("authority"), code="AUTH2", new_key=small.keys["T01"], because="key rotated")
    assert caught.value.kind == "exists"


# --- lost ---


@dataclass(slots=True, kw_only=True)
class Lost:
    """A vault with two of three recovery keys, whose authority's key nobody has."""

    founded: Founded

    def desk(self, key: Ed25519PrivateKey = NEW) -> Desk:
        """Somebody with a key."""
        return Desk(vault=self.founded.vault, key_source=lambda: key, now_s=lambda: NOW_S)

    def request(self, ends_others: bool = True) -> Request:
        """A request to appoint the new key."""
        return make_request(self.founded.vault, public_key=public_bytes(NEW), code="AUTH2", ends_others=ends_others, now_s=NOW_S)

    def endorsed(self, request: Request, *numbers: int) -> list[Signed]:
        """The endorsements of the recovery keys with these numbers, from paper."""
        return [endorse_on_paper(request, self.founded.recovery_papers[n - 1], self.founded.genesis) for n in numbers]


@pytest.fixture
def lost(tmp_path: Path) -> Lost:
    """With a technician who was granted before."""
    founded = found_vault(str(tmp_path / "vault.db"), host=HOST, site=SITE, keys_folder=tmp_path / "keys", passphrase=PASSPHRASE,
                          recovery_needed=2, recovery_count=3, now_s=NOW_S)
    old = read_key_file(founded.authority_file, PASSPHRASE)
    add_signer(Desk(vault=founded.vault, key_source=lambda: old, now_s=lambda: NOW_S), code="T01",
               roles=frozenset({Role.TECHNICIAN}), public_key=public_bytes(TECHNICIAN), name=None)
    return Lost(founded=founded)


def test_two_of_three_papers_appoint_another(lost: Lost) -> None:
    """The new key grants from there on, the old one no more, the technician stays; an audit is clean."""
    request = lost.request()
    made = appoint(lost.desk(), request, lost.endorsed(request, 3, 1))
    assert (made.code, made.roles) == ("AUTH2", frozenset({Role.AUTHORITY}))
    now = standing(lost.founded.vault)
    assert ([one.code for one in now.authorities], now.appointments) == (["AUTH2"], 1)
    assert now.first_fingerprint == lost.founded.fingerprint
    assert add_signer(lost.desk(), code="T02", roles=frozenset({Role.TECHNICIAN}), public_key=public_bytes(OTHER), name=None)
    result = audit(lost.founded.vault)
    assert (result.faults, result.statements) == ((), 4)


def test_done_twice_it_changes_nothing(lost: Lost) -> None:
    """The same bytes are the same entry."""
    request = lost.request()
    given = lost.endorsed(request, 1, 2)
    assert appoint(lost.desk(), request, given) == appoint(lost.desk(), request, given)
    assert standing(lost.founded.vault).appointments == 1


def test_a_request_that_was_left_lying_dies_with_the_next(lost: Lost) -> None:
    """An earlier request, endorsed well, is refused behind another appointment."""
    lying = make_request(lost.founded.vault, public_key=public_bytes(OTHER), code="AUTH3", ends_others=True, now_s=NOW_S)
    held = lost.endorsed(lying, 1, 2)
    request = lost.request()
    appoint(lost.desk(), request, lost.endorsed(request, 1, 2))
    with pytest.raises(GearkeepError) as caught:
        appoint(lost.desk(OTHER), lying, held)
    assert caught.value.kind == "bad-chain" and "new request" in caught.value.hint


@pytest.mark.parametrize(("numbers", "key", "change", "kind"), [
    ((1,), NEW, {}, "too-few-endorsements"), ((1, 2), OTHER, {}, "bad-key"), ((1, 2), NEW, {"code": "AUTH9"}, "bad-endorsement"),
    ((1, 2), NEW, {"log_id": bytes(16)}, "other-vault"),
], ids=["one holder", "another key", "changed on the way", "another vault"])
def test_what_appoints_nobody(lost: Lost, numbers: tuple[int, ...], key: Ed25519PrivateKey, change: dict[str, object],
                              kind: str) -> None:
    """Refused with its reason, and nothing is written."""
    request = lost.request()
    held = lost.endorsed(request, *numbers)
    with pytest.raises(GearkeepError) as caught:
        appoint(lost.desk(key), replace(request, **change), held)  # type: ignore[arg-type]
    assert (caught.value.kind, standing(lost.founded.vault).appointments) == (kind, 0)


def test_a_wrong_paper_is_noticed_where_it_is_typed(lost: Lost, tmp_path: Path) -> None:
    """With a vault or list at hand a paper of another vault is refused; without, any paper signs and the vault refuses."""
    other = found_vault(str(tmp_path / "other.db"), host=HOST, site=SITE, keys_folder=tmp_path / "other", passphrase=PASSPHRASE,
                        recovery_needed=1, recovery_count=1, now_s=NOW_S)
    request, paper = lost.request(), other.recovery_papers[0]
    with pytest.raises(UsageProblem) as caught:
        endorse_on_paper(request, paper, lost.founded.genesis)
    assert caught.value.kind == "bad-key"
    with pytest.raises(UsageProblem) as caught:
        endorse_on_paper(request, paper, other.genesis)
    assert caught.value.kind == "other-vault"
    with pytest.raises(GearkeepError) as refused:
        appoint(lost.desk(), request, [*lost.endorsed(request, 1), endorse_on_paper(request, paper, None)])
    assert refused.value.kind == "bad-endorsement"


def test_the_fingerprints_are_those_of_the_papers(lost: Lost) -> None:
    """What init and `authority show` print of the recovery keys is of the genesis's public keys."""
    keys = recovery_keys(lost.founded.genesis)
    assert standing(lost.founded.vault).recovery_fingerprints == lost.founded.recovery_fingerprints \
        == tuple(fingerprint(key) for key in keys)


# --- on paper and in lists ---


def appointed(lost: Lost) -> Lost:
    """With an appointment and a signer whose time ends."""
    request = lost.request()
    appoint(lost.desk(), request, lost.endorsed(request, 1, 2))
    add_signer(lost.desk(), code="T02", roles=frozenset({Role.TECHNICIAN}), public_key=public_bytes(OTHER), name=None,
               until_s=NOW_S + 86_400)
    return lost


def test_the_list_of_signers_carries_it_all(lost: Lost) -> None:
    """Appointment and expiry are verified from the file, and stand there in words with the recovery keys' fingerprints."""
    text = signer_list(appointed(lost).founded.vault)
    listed = load(text)
    by_code = {one.code: one for one in listed.signers.everyone()}
    assert by_code["AUTH"].withdrawn_at == by_code["AUTH2"].granted_at and by_code["T02"].until_s == NOW_S + 86_400
    assert all(mark in text for mark in lost.founded.recovery_fingerprints) and "Appointment 1: AUTH2" in text
    assert "until 2030-03-18" in text  # 1,900,086,400 s after 1970, by GNU date


def test_the_pages_are_enough_to_trust_the_signers_again(lost: Lost, tmp_path: Path) -> None:
    """Genesis, grants and the appointment come back from photographs of the pages, against the first authority."""
    pages = photograph_pages(write_signers_page(appointed(lost).founded.vault, tmp_path / "signers.pdf"), tmp_path)
    trust = establish(gather(pages, lambda _done, _total: None), lost.founded.fingerprint)
    assert trust.failures == () and [one.code for one in trust.signers.everyone()] == ["AUTH", "T01", "AUTH2", "T02"]


def test_a_later_authority_does_not_tell_the_vault(lost: Lost, tmp_path: Path) -> None:
    """Anybody may grant a role to a public key, so pages are held against the first authority alone."""
    pages = photograph_pages(write_signers_page(appointed(lost).founded.vault, tmp_path / "signers.pdf"), tmp_path)
    with pytest.raises(GearkeepError) as caught:
        establish(gather(pages, lambda _done, _total: None), public_bytes(NEW).hex())
    assert caught.value.kind == "other-authority" and "first authority" in caught.value.hint


def test_on_either_engine(new_address: Callable[[], str], tmp_path: Path) -> None:
    """An appointment, a grant that ends and a key in doubt are kept, read again and audited clean."""
    address = new_address()
    founded = found_vault(address, host=HOST, site=SITE, keys_folder=tmp_path / "keys", passphrase=PASSPHRASE, recovery_needed=2,
                          recovery_count=3, now_s=NOW_S)
    lost = appointed(Lost(founded=founded))
    withdraw_signer(lost.desk(), code="AUTH", reason="stolen", trusted_until=0)
    founded.vault.close()
    again = Vault(address)
    with again.reading() as session:
        by_code = {one.code: one for one in session.signers.everyone()}
        doubts = [doubt_of(session, by_code["AUTH"].key_id, place) is not None for place in (0, 1)]
    assert (by_code["AUTH"].withdrawn_at, by_code["AUTH2"].granted_at, by_code["T02"].until_s) == (1, 1, NOW_S + 86_400)
    assert doubts == [False, True] and rebuild_index(again) == 4 and audit(again).faults == ()
    again.close()
