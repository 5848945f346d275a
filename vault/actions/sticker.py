"""NFC stickers: a copy of the label's link and signed record, written to a file or a sticker and judged like a label."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from pathlib import Path

from labels import ndef
from labels.errors import LabelError
from labels.nfc_reader import Tag, read_octets, write_octets
from vault.actions.desk import Desk
from vault.actions.luminaire import find_tag, require_settled, view
from vault.actions.scanning import Scanned, scan
from vault.db.session import Vault
from vault.domain.tag import shown
from vault.errors import GearkeepError, VerificationError
from vault.exchange.files import read_bytes, write_whole
from vault.trust.capsule import FORMAT_VERSION, capsule_text, link

# Opens the reader and waits for a sticker: labels.nfc_reader.open_sticker, or a plain object in tests.
Connect = Callable[[], AbstractContextManager[Tag]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sticker:
    """What goes on a sticker. data: the NDEF message. record_bytes: 0 where it bears the link alone. provisional: a stop of
    this version is still open. held_by: the common stickers that hold it.
    """

    tag: str
    version: int
    link: str
    data: bytes
    record_bytes: int
    provisional: bool
    held_by: tuple[ndef.Capacity, ...]


def sticker_of(desk: Desk, tag: str, *, link_only: bool = False, capacity_bytes: int | None = None) -> Sticker:
    """The sticker of a luminaire's newest version. capacity_bytes: the longest message of the sticker at hand, where known.

    Raises GearkeepError: bad-tag, not-found, conflict, retired, sticker-too-small.
    """
    with desk.vault.reading() as session:
        seen = view(session, find_tag(session, tag))
        require_settled(seen)
        address = _link(session.genesis.host, seen.tag)
    own_type = ndef.external_type_of(address)
    alone = ndef.message(address, own_type, None)
    signed = b"" if link_only else seen.statement.signed_bytes
    data = ndef.message(address, own_type, bytes([FORMAT_VERSION]) + signed) if signed else alone
    if capacity_bytes is not None and len(data) > capacity_bytes:
        raise GearkeepError(
            f"The sticker of {shown(seen.tag)} needs {len(data)} bytes, the one at hand holds {capacity_bytes}.",
            kind="sticker-too-small", hint="Take a larger sticker" + (
                f", or write the link alone with --link-only ({len(alone)} bytes)." if len(alone) <= capacity_bytes and signed
                else "."))
    return Sticker(tag=seen.tag, version=seen.record.version, link=address, data=data, record_bytes=len(signed),
                   provisional=seen.provisional, held_by=ndef.capacities_for(len(data)))


def _link(host: str, tag: str) -> str:
    # RFC 3986, 6.2.2.1: scheme and host are the same in either case, and RTD-URI abbreviates "https://" in lower case alone.
    scheme, _, rest = link(host, tag).partition("://")
    name, _, path = rest.partition("/")
    return f"{scheme.lower()}://{name.lower()}/{path}"


def write_sticker(made: Sticker, target: Path | Connect, *, overwrite: bool = False) -> None:
    """Write a sticker's message to a file, or to a sticker at a reader and read it back.

    overwrite: whether another message on the sticker may be replaced; whether a file may be is for the caller to ask.
    Raises LabelError (see labels.nfc_reader) or GearkeepError (unwritable-file).
    """
    if isinstance(target, Path):
        write_whole(target, made.data)
        return
    with target() as found:
        write_octets(found, made.data, overwrite=overwrite)


def read_sticker(source: Path | Connect, *, vault: Vault | None, trust_text: str | None) -> Scanned:
    """Read a sticker, or a file of its message, and verify it as a label is verified.

    Raises LabelError where it is no sticker of this kind, VerificationError (future-version, too-large) where its capsule is
    none; everything else that is wrong with it stands in the result, as for a label.
    """
    if isinstance(source, Path):
        data, name = read_bytes(source), str(source)
    else:
        with source() as found:
            data, name = read_octets(found), "the sticker"
    try:
        said = ndef.parse_message(data)
    except LabelError as problem:
        raise LabelError(f"{name}: {problem.what}", hint=problem.hint, kind=problem.kind) from problem
    [result] = scan([], text=_label_text(said), vault=vault, trust_text=trust_text)
    return replace(result, source=name)


def _label_text(said: ndef.StickerText) -> str:
    if said.capsule is None:
        return said.link
    version, record = said.capsule[0], said.capsule[1:]
    if version != FORMAT_VERSION:
        raise VerificationError(f"The sticker is of format {version}; this program reads format {FORMAT_VERSION}.",
                                kind="future-version",
                                hint="Read it again; if it says the same, a newer gearkeep may read it.")
    return capsule_text(said.link, record)
