"""Labels read back: what is verified with the vault, with the list of signers alone, and what is refused and why."""

from __future__ import annotations

import csv
import shutil
from collections.abc import Callable
from dataclasses import replace

import cbor2
import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from small_vault import DEMO, HOST, NOW_S, SmallVault, readback

from vault.actions.changes import revise
from vault.actions.keeping import signer_list
from vault.actions.labelling import Wanted, print_labels
from vault.actions.scanning import Scanned, scan
from vault.actions.setup import withdraw_signer
from vault.actions.swap import swap
from vault.domain.record import ChangeClass, Record
from vault.domain.settings import Protocol
from vault.errors import UsageProblem, VerificationError
from vault.trust.capsule import capsule_text, link
from vault.trust.statements import Kind
from vault.trust.verify import sign

EQUIVALENT = ChangeClass.APPROVED_EQUIVALENT

FOREIGN_TAG = "7K3D9QXW6"  # check character by python-stdnum's iso7064.mod_37_2
STRANGER = Ed25519PrivateKey.from_private_bytes(b"7" * 32)


def _with_vault(small: SmallVault, text: str) -> Scanned:
    return scan([], text=text, vault=small.open(), trust_text=None)[0]


def _offline(small: SmallVault, text: str) -> Scanned:
    return scan([], text=text, vault=None, trust_text=signer_list(small.open()))[0]


READERS = {"vault": _with_vault, "offline": _offline}
Reader = Callable[[SmallVault, str], Scanned]


@pytest.mark.parametrize("reference", ["CH-007", "PH-001", "CO-001"])
def test_a_printed_label_says_what_the_schedule_says(small: SmallVault, reference: str) -> None:
    """Drawn as a picture and read back: place, current, window, power, address and levels of the installer's row."""
    picture = small.folder / "label.png"
    print_labels(small.desk("I01"), Wanted(texts=[small.tags[reference]]), out=picture)
    [read] = scan([str(picture)], text=None, vault=small.open(), trust_text=None)
    with (DEMO / "schedule.csv").open(encoding="utf-8", newline="") as file:
        row = next(row for row in csv.DictReader(file) if row["reference"] == reference)
    assert read.problem is None and read.record is not None and read.newest is True
    record, settings = read.record, read.record.gears[0].settings
    channel, control = settings.channels[0], settings.control
    assert (record.reference, record.place, record.line, record.circuit, record.fixture_type.code) == tuple(
        row[name] for name in ("reference", "place", "line", "circuit", "type"))
    assert (record.gears[0].model, record.gears[0].serial) == (row["driver"], row["serial"])
    assert channel.current_ma == int(row["current_ma"]) and channel.power_max_mw == int(row["power_w"]) * 1000
    assert (channel.voltage_min_mv, channel.voltage_max_mv) == (float(row["voltage_min_v"]) * 1000,
                                                                float(row["voltage_max_v"]) * 1000)
    assert read.seen is not None and read.seen.line is not None
    assert control is not None and isinstance(control.short_address, int) and control.protocol is Protocol.DALI
    assert control.short_address + read.seen.line.addresses_from == int(row["address"])
    assert (control.min_level, control.max_level, control.power_on_level, control.system_failure_level) == tuple(
        int(row[name]) for name in ("min_level", "max_level", "power_on_level", "system_failure_level"))


def test_a_list_of_signers_is_enough(small: SmallVault) -> None:
    """Without the vault the same record is verified; whether it is the newest nobody can say, and the list's age is told."""
    read = _offline(small, small.label_text("CH-007"))
    assert read.problem is None and read.record == small.seen("CH-007").record
    assert (read.newest, read.seen) == (None, None) and "list 58" in (read.as_of or "")


def test_with_nothing_to_verify_by_no_figure_is_shown(small: SmallVault) -> None:
    """The tag alone is told."""
    [read] = scan([], text=small.label_text("CH-007"), vault=None, trust_text=None)
    assert read.problem is not None and read.problem[0] == "unknown-signer"
    assert (read.tag, read.record, read.statement, read.seen) == (small.tags["CH-007"], None, None, None)


def test_the_tag_alone_is_looked_up_in_the_vault(small: SmallVault) -> None:
    """Typed from the label, or read from the small code."""
    tag = small.tags["CH-007"]
    for text in (tag, f"{tag[:4]} {tag[4:8]} {tag[8:]}".lower(), link(HOST, tag)):
        read = _with_vault(small, text)
        assert read.problem is None and read.record == small.seen("CH-007").record


def _capsule(small: SmallVault, signed: bytes, reference: str = "CH-007") -> str:
    return capsule_text(link(HOST, small.tags[reference]), signed)


def _signed(small: SmallVault, key: Ed25519PrivateKey, kind: Kind = Kind.RECORD, body: object = None,
            log_id: bytes | None = None) -> bytes:
    with small.open().reading() as session:
        own = session.genesis.log_id
    return sign(kind, body or replace(small.seen("CH-007").record, time_s=NOW_S + 1), key, log_id=log_id or own)


def _newest_bytes(small: SmallVault) -> bytes:
    return small.seen("CH-007").statement.signed_bytes


def _damaged(small: SmallVault) -> str:
    text = small.label_text("CH-007")
    return text[:-1] + str((int(text[-1]) + 1) % 10)


def _by_withdrawn(small: SmallVault) -> str:
    signed = _signed(small, small.keys["T02"])
    withdraw_signer(small.desk("authority"), code="T02", reason="left")
    return _capsule(small, signed)


def _future(small: SmallVault) -> str:
    number = int.from_bytes(b"\x02" + _newest_bytes(small), "big")
    return f"{link(HOST, small.tags['CH-007'])}#{number}"


BAD: dict[str, tuple[Callable[[SmallVault], str], str]] = {
    "damaged digit": (_damaged, "bad-signature"),
    "truncated record": (lambda s: _capsule(s, _newest_bytes(s)[:-20]), "truncated"),
    "one byte too many": (lambda s: _capsule(s, _newest_bytes(s) + b"\0"), "not-deterministic"),
    "foreign link": (lambda _: "https://shop.example.org/offer?id=7", "foreign-link"),
    "wrong check character": (lambda s: link(HOST, s.tags["CH-007"])[:-1] + "Z", "bad-tag"),
    "letters among the digits": (lambda s: s.label_text("CH-007") + "A", "bad-digits"),
    "future version": (_future, "future-version"),
    "unsigned": (lambda s: _capsule(s, cbor2.dumps({1: b"12345", 2: 1})), "unsigned"),
    "other vault's host": (lambda s: s.label_text("CH-007").replace(HOST.upper(), "OTHER.EXAMPLE"), "other-vault"),
    "other vault's record": (lambda s: _capsule(s, _signed(s, s.keys["I01"], log_id=b"o" * 16)), "bad-signature"),
    "unknown signer": (lambda s: _capsule(s, _signed(s, STRANGER)), "unknown-signer"),
    "withdrawn signer": (_by_withdrawn, "withdrawn-signer"),
    "signer without the role": (lambda s: _capsule(s, _signed(s, s.keys["S01"])), "wrong-role"),
    "another's record": (lambda s: _capsule(s, _newest_bytes(s), "CH-008"), "bad-tag"),
}


@pytest.mark.parametrize("reader", READERS.values(), ids=READERS.keys())
@pytest.mark.parametrize(("make_text", "kind"), BAD.values(), ids=BAD.keys())
def test_what_cannot_be_trusted_says_why_and_shows_no_figure(
        small: SmallVault, make_text: Callable[[SmallVault], str], kind: str, reader: Reader) -> None:
    """Each way a label can be wrong is its own failure class, the same with the vault and without."""
    read = reader(small, make_text(small))
    assert read.problem is not None and read.problem[0] == kind
    assert (read.record, read.statement, read.seen) == (None, None, None)


def test_each_failure_has_its_own_words(small: SmallVault) -> None:
    """No two failure classes tell the reader the same."""
    told = {}
    for make_text, kind in BAD.values():
        problem = _with_vault(small, make_text(small)).problem
        assert problem is not None
        told.setdefault(problem[1], set()).add(kind)
    assert [kinds for kinds in told.values() if len(kinds) > 1] == []


def test_a_signer_withdrawn_later_does_not_spoil_old_labels(small: SmallVault) -> None:
    """The journal shows that the record came before the withdrawal; the list of signers alone cannot."""
    text = small.label_text("CH-007")
    withdraw_signer(small.desk("authority"), code="I01", reason="left")
    assert _with_vault(small, text).problem is None
    problem = _offline(small, text).problem
    assert problem is not None and problem[0] == "withdrawn-signer"


def test_an_older_list_of_signers_does_not_know_of_a_withdrawal(small: SmallVault) -> None:
    """And says of which size it is."""
    old, text = signer_list(small.open()), small.label_text("CH-007")
    withdraw_signer(small.desk("authority"), code="I01", reason="left")
    [read] = scan([], text=text, vault=None, trust_text=old)
    assert read.problem is None and "list 58" in (read.as_of or "")


@pytest.mark.parametrize("trust", ["", "{}", '{"gearkeep-signers": 1, "statements": [], "size": 1, "checkpoint": null}'])
def test_a_list_of_signers_that_is_none_is_refused(small: SmallVault, trust: str) -> None:
    """Nothing is verified by it."""
    with pytest.raises(VerificationError) as caught:
        scan([], text=small.label_text("CH-007"), vault=None, trust_text=trust)
    assert caught.value.kind == "bad-trust"


def test_an_old_label_of_other_settings_is_not_current(small: SmallVault) -> None:
    """It is verified, older than the newest version, and its settings have changed."""
    text = small.label_text("CH-007")
    revise(small.desk("I01"), small.tags["CH-007"], changes={"channels.1.current_ma": "650"})
    read = _with_vault(small, text)
    assert (read.problem, read.newest, read.newest_version, read.current) == (None, False, 2, False)


def test_an_old_label_of_the_same_settings_is_current(small: SmallVault) -> None:
    """After a swap that matched, the label on the housing still shows what is set."""
    text = small.label_text("CH-007")
    swap(small.desk("T01"), small.tags["CH-007"], change_class=EQUIVALENT, spare="GEN-50-1050", serial=None, readback=readback())
    read = _with_vault(small, text)
    assert (read.problem, read.newest, read.newest_version, read.current) == (None, False, 2, True)


def test_a_record_that_the_vault_lost_is_missed(small: SmallVault) -> None:
    """The file from before a swap is put back: the label printed after it tells on the vault."""
    before = small.copy_file("before.db")
    swap(small.desk("T01"), small.tags["CH-007"], change_class=EQUIVALENT, spare="GEN-50-1050", serial=None, readback=readback())
    text = small.label_text("CH-007")
    small.close()
    shutil.copy(before, small.path)
    read = _with_vault(small, text)
    assert read.problem is not None and read.problem[0] == "not-in-vault" and read.record is None


def test_a_tag_that_the_vault_never_issued_is_not_found(small: SmallVault) -> None:
    """A well-formed tag of another vault, with a good link."""
    read = _with_vault(small, link(HOST, FOREIGN_TAG))
    assert read.problem is not None and read.problem[0] == "not-found"


def test_a_signed_statement_that_is_no_record_shows_nothing(small: SmallVault) -> None:
    """A rating under a luminaire's link."""
    with small.open().reading() as session:
        signed = next(session.statement(seq).signed_bytes for seq in range(session.size())
                      if session.statement(seq).kind is Kind.LINE)
    read = _with_vault(small, _capsule(small, signed))
    assert read.problem is not None and read.problem[0] == "bad-payload" and read.record is None


def test_a_link_label_alone_shows_nothing_offline(small: SmallVault) -> None:
    """There are no settings in it to verify."""
    read = _offline(small, link(HOST, small.tags["CH-007"]))
    assert read.problem is not None and read.problem[0] == "link-only"


def test_one_bad_picture_does_not_hide_the_good_ones(small: SmallVault) -> None:
    """Each source has its own result."""
    good = small.folder / "label.png"
    print_labels(small.desk("I01"), Wanted(texts=[small.tags["CH-007"]]), out=good)
    (small.folder / "no.png").write_bytes(b"not a picture")
    results = scan([str(small.folder / "no.png"), str(good), str(small.folder / "missing.png")], text=None,
                   vault=small.open(), trust_text=None)
    told = {read.source: read.problem and read.problem[0] for read in results}
    assert told == {str(small.folder / "no.png"): "not-a-picture", str(small.folder / "missing.png"): "not-a-picture",
                    str(good): None}


def test_nothing_to_scan_is_wrong_use(small: SmallVault) -> None:
    """Neither picture nor text."""
    with pytest.raises(UsageProblem):
        scan([], text=None, vault=small.open(), trust_text=None)


def test_a_record_with_all_the_same_fields_is_read_whole(small: SmallVault) -> None:
    """Emergency, two-channel and central-battery records come back from their labels as they were signed."""
    for reference in ("ST-N1", "CA-001", "CB1-01", "EX-001", "CV-001"):
        record: Record | None = _offline(small, small.label_text(reference)).record
        assert record == small.seen(reference).record
