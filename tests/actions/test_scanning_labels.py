"""Labels read back: what is verified with the vault, with the list of signers alone, and what is refused and why."""

from __future__ import annotations

import csv
import shutil
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import cbor2
import numpy as np
import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from PIL import Image
from small_vault import DEMO, HOST, NOW_S, SmallVault, readback
from zxingcpp import BarcodeFormat, create_barcode

from labels.content import LabelContent
from labels.layout import lay_out
from labels.media import MEDIA
from labels.raster import raster
from vault.actions.changes import revise
from vault.actions.checkpoint_page import write_checkpoint_page
from vault.actions.keeping import audit, signer_list
from vault.actions.labelling import Wanted, print_labels
from vault.actions.scanning import Scanned, scan, scan_lines
from vault.actions.setup import withdraw_signer
from vault.actions.swap import swap
from vault.domain.record import ChangeClass, Record
from vault.domain.settings import Protocol
from vault.domain.tag import shown
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
    assert (read.newest, read.seen) == (None, None) and "list 63" in (read.as_of or "")


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
    "foreign link": (lambda _: "https://shop.example.org/offer?id=7", "foreign-code"),
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
    assert read.problem is None and "list 63" in (read.as_of or "")


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


def _drawn(link_text: str, capsule: str | None) -> Image.Image:
    """A label with these texts in its codes."""
    label = LabelContent(tag_shown="", link_text=link_text, capsule_text=capsule, big=(), lines=())
    return raster(lay_out(label, MEDIA["60x40"])).convert("L")


def _kept(small: SmallVault, *pictures: Image.Image) -> str:
    """Labels on one sheet, in a row, as a file."""
    paper = Image.new("L", (sum(one.width + 24 for one in pictures), max(one.height for one in pictures) + 24), 255)
    for number, one in enumerate(pictures):
        paper.paste(one, (12 + sum(before.width + 24 for before in pictures[:number]), 12))
    paper.save(small.folder / "photo.png")
    return str(small.folder / "photo.png")


def _seen(small: SmallVault, *pictures: Image.Image) -> list[Scanned]:
    return scan([_kept(small, *pictures)], text=None, vault=small.open(), trust_text=None)


def _label(small: SmallVault, reference: str) -> Image.Image:
    return _drawn(link(HOST, small.tags[reference]), small.label_text(reference))


def _tags_and_kinds(read: list[Scanned]) -> set[tuple[str | None, str | None]]:
    return {(one.tag, one.problem[0] if one.problem else None) for one in read}


def test_two_codes_of_one_label_that_disagree(small: SmallVault) -> None:
    """A link of one luminaire stuck over another's label: neither is believed, both tags are named, no figure is shown."""
    [read] = _seen(small, _drawn(link(HOST, small.tags["CH-007"]), small.label_text("CH-008")))
    assert read.problem is not None and read.problem[0] == "codes-disagree" and read.record is None
    assert all(shown(small.tags[name]) in read.problem[1] for name in ("CH-007", "CH-008"))


def test_two_codes_that_name_two_hosts_disagree(small: SmallVault) -> None:
    """The same tag in another vault's link."""
    [read] = _seen(small, _drawn(link("other.example", small.tags["CH-007"]), small.label_text("CH-007")))
    assert read.problem is not None and read.problem[0] == "codes-disagree" and "OTHER.EXAMPLE" in read.problem[1]


def test_labels_in_one_picture_do_not_get_mixed_up(small: SmallVault) -> None:
    """Two whole labels; and two of which one shows its link alone, the other its capsule alone."""
    whole = [_label(small, "CH-007"), _label(small, "CH-008")]
    half = [picture.copy() for picture in whole]
    half[0].paste(200, (0, 0, 400, 472))
    half[1].paste(200, (420, 200, 709, 472))
    expected = {(small.tags["CH-007"], None), (small.tags["CH-008"], None)}
    assert _tags_and_kinds(_seen(small, *whole)) == expected
    assert _tags_and_kinds(_seen(small, *half)) == expected


def test_an_old_and_a_new_label_of_one_luminaire_are_both_told(small: SmallVault) -> None:
    """Each with its own version."""
    old = _label(small, "CH-007")
    revise(small.desk("I01"), small.tags["CH-007"], changes={"channels.1.current_ma": "650"})
    read = _seen(small, old, _label(small, "CH-007"))
    assert {(one.record.version, one.newest) for one in read if one.record} == {(1, False), (2, True)}


def _code(text: str) -> Image.Image:
    return Image.fromarray(np.array(create_barcode(text, BarcodeFormat.QRCode).to_image(scale=6, add_quiet_zones=True)))


SHOP = "https://shop.example.org/offer?id=7"
OTHERS = [(SHOP, "foreign-code"), ("WIFI:S:guests;;", "foreign-code"), ("Model 4711", "foreign-code"),
          ("HTTPS://LX.EXAMPLE.EU/D/GEN-50-1050", "place-code"), ("HTTPS://LX.EXAMPLE.EU/N/L2-A", "place-code"),
          ("HTTPS://LX.EXAMPLE.EU/S/0/1-8#388", "signers-code"), ("HTTPS://LX.EXAMPLE.EU/L/7K3D9QXW7", "bad-tag")]  # fmt: skip


@pytest.mark.parametrize(("text", "kind"), OTHERS)
def test_codes_that_are_no_luminaires_label(small: SmallVault, text: str, kind: str) -> None:
    """Somebody else's code, a place's, a signer's and a misread one are told apart."""
    [read] = _seen(small, _code(text))
    assert read.problem is not None and read.problem[0] == kind and read.record is None


def test_a_foreign_code_is_named_by_its_beginning(small: SmallVault) -> None:
    """Sixty characters of it at most."""
    [read] = _seen(small, _code("ABC:" + "x" * 200))
    assert read.problem is not None and f"'ABC:{'x' * 56}'" in read.problem[1]


def test_a_makers_code_beside_the_label_does_no_harm(small: SmallVault) -> None:
    """The label is verified, and the other code is noted."""
    [read] = _seen(small, _label(small, "CH-007"), _code(SHOP))
    assert (read.problem, read.tag) == (None, small.tags["CH-007"])
    assert len(read.notes) == 1 and SHOP in read.notes[0]


def test_a_spares_label_tells_what_the_vault_knows(small: SmallVault) -> None:
    """With the vault its output, without it its name alone."""
    with_vault, without = _seen(small, _code(OTHERS[3][0])), scan([_kept(small, _code(OTHERS[3][0]))], text=None, vault=None,
                                                                  trust_text=None)  # fmt: skip
    assert with_vault[0].problem is not None and "GEN-50-1050: " in with_vault[0].problem[1]
    assert without[0].problem is not None and without[0].problem[1].endswith("GEN-50-1050.")


def test_a_checkpoints_page_is_named_for_what_it_is(small: SmallVault) -> None:
    """With the command that wants it, and the file it is in."""
    path = small.folder / "page.pdf"
    write_checkpoint_page(small.desk("I01"), path)
    read = scan([str(path)], text=None, vault=small.open(), trust_text=None)
    told = {one.problem[0]: one.problem[2] for one in read if one.problem}
    assert set(told) == {"checkpoint-code", "signers-code"}
    assert told["checkpoint-code"].endswith(f"gearkeep audit --checkpoint {path}")
    assert audit(small.open(), [path]).faults == ()


def _spoilt(picture: Image.Image, left: int, top: int, right: int, bottom: int) -> Image.Image:
    picture = picture.copy()
    picture.paste(90, (left, top, right, bottom))
    return picture


def test_a_capsule_that_cannot_be_decoded_is_noted_beside_its_link(small: SmallVault) -> None:
    """The vault is asked by the link; the note says that the other code was not read."""
    read = _seen(small, _spoilt(_label(small, "CH-007"), 90, 130, 320, 250))
    assert _tags_and_kinds(read) == {(small.tags["CH-007"], None)} and len(read[0].notes) == 1


def test_a_folder_is_scanned_in_the_order_of_its_names(small: SmallVault) -> None:
    """Pictures alone; a text beside them is left alone, and an unreadable picture is told."""
    folder = small.folder / "photos"
    folder.mkdir()
    for name, reference in (("b.png", "CH-008"), ("a.png", "CH-007")):
        _label(small, reference).save(folder / name)
    (folder / "c.jpg").write_bytes(b"no picture")
    (folder / "notes.txt").write_text("ladder", encoding="utf-8")
    read = scan([str(folder)], text=None, vault=small.open(), trust_text=None)
    assert [(Path(one.source).name, one.tag) for one in read] == [
        ("a.png", small.tags["CH-007"]), ("b.png", small.tags["CH-008"]), ("c.jpg", None)]  # fmt: skip


def test_an_empty_folder_is_told(small: SmallVault) -> None:
    """With the kinds of files that are looked for."""
    (small.folder / "photos").mkdir()
    [read] = scan([str(small.folder / "photos")], text=None, vault=small.open(), trust_text=None)
    assert read.problem is not None and read.problem[0] == "no-pictures" and ".heic" in read.problem[2]


def test_lines_of_a_hand_scanner_are_judged_one_by_one(small: SmallVault) -> None:
    """Each as it comes, the next one not yet asked for."""
    asked: list[str] = []

    def lines() -> Iterator[str]:
        for text in (small.label_text("CH-007"), "nonsense", SHOP):
            asked.append(text)
            yield text

    answers = scan_lines(lines(), vault=small.open(), trust_text=None)
    first = next(answers)
    assert (first.tag, first.problem, len(asked)) == (small.tags["CH-007"], None, 1)
    assert [one.problem and one.problem[0] for one in answers] == ["bad-tag", "foreign-code"]
