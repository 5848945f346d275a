"""Stickers of luminaires: what they carry, and that they are judged like labels."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from types import SimpleNamespace

import pytest
from small_vault import HOST, SmallVault

from labels.errors import LabelError
from labels.ndef import external_type_of, message, parse_message
from vault.actions.changes import retire, revise
from vault.actions.keeping import signer_list
from vault.actions.sticker import Sticker, read_sticker, sticker_of, write_sticker
from vault.errors import GearkeepError

LAMP, OTHER = "CH-007", "CH-008"


@dataclass
class Field:
    """A reader with one sticker in its field."""

    tag: SimpleNamespace

    @contextlib.contextmanager
    def __call__(self) -> Iterator[SimpleNamespace]:
        yield self.tag


def _reader(capacity: int = 868) -> Field:
    return Field(SimpleNamespace(ndef=SimpleNamespace(octets=b"", capacity=capacity, is_writeable=True, has_changed=False)))


def _made(small: SmallVault, reference: str = LAMP, **wish: object) -> Sticker:
    return sticker_of(small.desk(), small.tags[reference], **wish)  # type: ignore[arg-type]


def _file(small: SmallVault, capsule: bytes | None, *, reference: str = LAMP, host: str = HOST) -> Path:
    """A sticker's file put together by hand."""
    link = f"https://{host}/L/{small.tags[reference]}"
    path = small.folder / "hand.ndef"
    path.write_bytes(message(link, external_type_of(link), capsule))
    return path


def test_a_sticker_says_what_the_label_s_code_says(small: SmallVault) -> None:
    """The same link, and one byte of format version with the signed record as it is."""
    made = _made(small)
    said = parse_message(made.data, f"{HOST}:capsule")
    signed = small.seen(LAMP).statement.signed_bytes
    assert (said.link, said.capsule) == (f"https://{HOST}/L/{small.tags[LAMP]}", b"\x01" + signed)
    assert (made.record_bytes, made.version, made.provisional) == (len(signed), 1, False)


def test_a_link_alone_fits_the_smallest_sticker(small: SmallVault) -> None:
    """137 bytes of message (common practice, no source)."""
    made = _made(small, link_only=True, capacity_bytes=137)
    assert (parse_message(made.data).capsule, [one.memory_bytes for one in made.held_by]) == (None, [144, 504, 888])


@pytest.mark.parametrize("reader", [False, True])
def test_a_sticker_is_read_as_verified(small: SmallVault, reader: bool) -> None:
    """From a file as from a reader, with the vault and with a list of signers alone."""
    target = _reader() if reader else small.folder / "one.ndef"
    write_sticker(_made(small), target)
    held = read_sticker(target, vault=small.open(), trust_text=None)
    offline = read_sticker(target, vault=None, trust_text=signer_list(small.open()))
    record = small.seen(LAMP).record
    assert (held.problem, held.tag, held.newest, held.record) == (None, small.tags[LAMP], True, record)
    assert (offline.problem, offline.newest, offline.record) == (None, None, record)


def test_a_sticker_grows_old(small: SmallVault) -> None:
    """After a revision it reads as an earlier version with other settings."""
    write_sticker(_made(small), small.folder / "one.ndef")
    revise(small.desk("I01"), small.tags[LAMP], changes={"channels.1.current_ma": "650"})
    held = read_sticker(small.folder / "one.ndef", vault=small.open(), trust_text=None)
    assert (held.newest, held.newest_version, held.current) == (False, 2, False)


def test_a_link_alone_leads_to_the_vault_s_record(small: SmallVault) -> None:
    """As the label's small code does; without a vault there is nothing to show."""
    write_sticker(_made(small, link_only=True), small.folder / "one.ndef")
    held = read_sticker(small.folder / "one.ndef", vault=small.open(), trust_text=None)
    offline = read_sticker(small.folder / "one.ndef", vault=None, trust_text=signer_list(small.open()))
    assert (held.record, offline.record, offline.problem and offline.problem[0]) == (small.seen(LAMP).record, None, "link-only")


def test_a_changed_byte_is_noticed_anywhere_in_the_record(small: SmallVault) -> None:
    """No figure is shown of it: the record does not verify, or is no record any more."""
    signed = small.seen(LAMP).statement.signed_bytes
    files = [_file(small, b"\x01" + signed[:at] + bytes([signed[at] ^ 1]) + signed[at + 1:]).read_bytes()
             for at in range(0, len(signed), 7)]
    read = []
    for data in files:
        (small.folder / "hand.ndef").write_bytes(data)
        read.append(read_sticker(small.folder / "hand.ndef", vault=small.open(), trust_text=None))
    assert [one.record for one in read] == [None] * len(files)
    assert all(one.problem for one in read)


@pytest.mark.parametrize(("reference", "host", "kind"), [(OTHER, HOST, "bad-tag"), (LAMP, "lx.example.org", "other-vault")])
def test_a_record_under_another_link_is_not_trusted(small: SmallVault, reference: str, host: str, kind: str) -> None:
    """Another luminaire's tag, another vault's host."""
    signed = small.seen(LAMP).statement.signed_bytes
    held = read_sticker(_file(small, b"\x01" + signed, reference=reference, host=host), vault=small.open(), trust_text=None)
    assert (held.record, held.problem and held.problem[0]) == (None, kind)


@pytest.mark.parametrize(("capsule", "kind"), [(b"\x02\xd2", "future-version"), (b"\x00\x01\xd2", "future-version"),
                                               (b"\x01" + bytes(1201), "too-large")])
def test_a_capsule_that_is_none_is_refused(small: SmallVault, capsule: bytes, kind: str) -> None:
    """A later format, zero bytes in front, more than a capsule holds (vault/FORMAT.md)."""
    with pytest.raises(GearkeepError) as refused:
        read_sticker(_file(small, capsule), vault=small.open(), trust_text=None)
    assert refused.value.kind == kind


def test_a_sticker_too_small_offers_the_link_alone(small: SmallVault) -> None:
    """Said before anything is written, with both lengths."""
    with pytest.raises(GearkeepError) as refused:
        _made(small, capacity_bytes=137)
    assert (refused.value.kind, "--link-only" in refused.value.hint) == ("sticker-too-small", True)
    with pytest.raises(GearkeepError) as refused:
        _made(small, capacity_bytes=20)
    assert (refused.value.kind, "--link-only" in refused.value.hint) == ("sticker-too-small", False)


def test_the_sticker_at_the_reader_may_be_too_small_too(small: SmallVault) -> None:
    """What the reader says counts, and the sticker stays as it is."""
    reader = _reader(capacity=137)
    with pytest.raises(LabelError) as refused:
        write_sticker(_made(small), reader)
    assert (refused.value.kind, reader.tag.ndef.octets) == ("sticker-too-small", b"")


def test_a_retired_luminaire_gets_no_sticker(small: SmallVault) -> None:
    """Nor does it get a label."""
    retire(small.desk("I01"), small.tags[LAMP], because="taken down")
    with pytest.raises(GearkeepError) as refused:
        _made(small)
    assert refused.value.kind == "retired"


def test_stickers_sign_nothing(small: SmallVault) -> None:
    """The journals are as long as before."""
    before = small.sizes()
    write_sticker(_made(small), small.folder / "one.ndef")
    read_sticker(small.folder / "one.ndef", vault=small.open(), trust_text=None)
    assert small.sizes() == before
