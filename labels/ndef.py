"""A sticker's content: the label's link and what its large code carries, as an NDEF message.

Two records: a URI record (NFC Forum RTD-URI 1.0) with the link alone, so that any phone opens it, and behind it one of an
NFC Forum external type (RTD 1.0) with the capsule's bytes as they are. The external type is "HOST:capsule", HOST being
the link's own host in lower case: RTD 1.0 wants the name of a domain that belongs to whoever defines the type, and the
vault's host is one. A sticker whose type names another domain than its link is refused.
"""

from __future__ import annotations

import io
import re
from dataclasses import dataclass

import ndef

from labels.errors import LabelError

TYPE_NAME = "capsule"
MAX_MESSAGE_BYTES = 4_096  # more than any sticker keeps; bounds what a hostile file makes us read

_URI, _EXTERNAL = "urn:nfc:wkt:U", "urn:nfc:ext:"
_LINK = re.compile(r"https://([a-z0-9](?:[a-z0-9.-]*[a-z0-9])?)/[!-\"$-~]*", re.IGNORECASE)
_AGAIN = "Hold the sticker still and read it again."
_NOT_OURS = "A sticker of this kind holds a link https://HOST/L/TAG and, behind it, at most one record HOST:capsule."


@dataclass(frozen=True, slots=True, kw_only=True)
class StickerText:
    """What a sticker says. link: as it stands there, nothing of it checked but its shape. capsule: None where the sticker
    bears the link alone; never empty.
    """

    link: str
    capsule: bytes | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Capacity:
    """A common sticker. memory_bytes: what it is sold by. message_bytes: the longest NDEF message it holds."""

    memory_bytes: int
    message_bytes: int


# Common practice, no source. What a Type 2 tag needs around a message is taken off already: the TLV's tag byte and its
# length (1 byte up to 254, else 3) and, on the smallest, a lock control TLV of 5 bytes: 144-5-2, 496-4, 872-4 (a tag
# counts its memory in steps of 8). The terminator (1 byte) is left out where a message ends with the memory.
STICKERS = (Capacity(memory_bytes=144, message_bytes=137), Capacity(memory_bytes=504, message_bytes=492),
            Capacity(memory_bytes=888, message_bytes=868))


def capacities_for(size_bytes: int) -> tuple[Capacity, ...]:
    """The common stickers that hold an NDEF message of so many bytes, the smallest first. Counted is the message alone:
    the figures of STICKERS leave room for what stands around it.
    """
    return tuple(one for one in STICKERS if size_bytes <= one.message_bytes)


def external_type_of(link: str) -> str:
    """The external type that belongs to a link: its host in lower case, and ":capsule". Raises LabelError (bad-text)."""
    return f"{_host(link, LabelError(f'{link[:60]!r} is no link for a sticker.', kind='bad-text', hint=_NOT_OURS))}:{TYPE_NAME}"


def message(link: str, external_type: str, capsule: bytes | None) -> bytes:
    """The NDEF message of a link and, unless None, a capsule under an external type "domain:name".

    Raises LabelError: bad-text for a link that is none, an external type of another domain, an empty capsule or one too
    long for any sticker.
    """
    host = external_type_of(link).partition(":")[0]
    if not re.fullmatch(rf"{re.escape(host)}:[a-z0-9._-]+", external_type) or len(external_type) > 255:
        raise LabelError(f"The external type {external_type[:60]!r} does not belong to {host}.", kind="bad-text",
                         hint=f"It reads {host}:NAME, in lower case.")
    records = [ndef.UriRecord(link)]
    if capsule is not None:
        if not capsule:
            raise LabelError("A capsule of no bytes cannot stand on a sticker.", kind="bad-text", hint="Leave it out.")
        records.append(ndef.Record(_EXTERNAL + external_type, data=capsule))
    made = b"".join(ndef.message_encoder(records))
    if len(made) > MAX_MESSAGE_BYTES:
        raise LabelError(f"A message of {len(made)} bytes is longer than any sticker.", kind="bad-text",
                         hint=f"The largest common sticker holds {STICKERS[-1].message_bytes} bytes.")
    return made


def parse_message(data: bytes, external_type: str | None = None) -> StickerText:
    """What an NDEF message says. external_type: "domain:name" that the second record has to be of; None takes the one that
    belongs to the link. Types are compared without regard to case (RTD 1.0).

    Raises LabelError: not-ndef, truncated, foreign-sticker.
    """
    records = _records(data)
    if not records or not isinstance(records[0], ndef.UriRecord):
        raise _foreign("It does not begin with a link." if records and records[0].type else "It is empty.")
    link = str(records[0].iri)
    host = _host(link, _foreign(f"It says {link[:60]!r}."))
    if len(records) == 1:
        return StickerText(link=link, capsule=None)
    wanted = external_type or f"{host}:{TYPE_NAME}"
    found = str(records[1].type)
    if len(records) > 2:
        raise _foreign(f"It holds {len(records)} records.")
    if found.lower() != _EXTERNAL + wanted.lower() or wanted.lower().partition(":")[0] != host:
        raise _foreign(f"Its link is of {host}, the record behind it of the type {found.removeprefix(_EXTERNAL)[:60]!r}.")
    if not records[1].data:
        raise LabelError("The sticker's record holds nothing.", kind="truncated", hint=_AGAIN)
    return StickerText(link=link, capsule=bytes(records[1].data))


def _host(link: str, otherwise: LabelError) -> str:
    found = _LINK.fullmatch(link)
    if not found:
        raise otherwise
    return found[1].lower()


def _foreign(why: str) -> LabelError:
    return LabelError(f"This is no sticker of a luminaire. {why}", kind="foreign-sticker", hint=_NOT_OURS)


class _Stream(io.BytesIO):
    """Remembers whether more was asked for than there was."""

    short = False

    def read(self, size: int | None = -1, /) -> bytes:
        found = super().read(size)
        self.short = self.short or (size is not None and len(found) < size)
        return found


def _records(data: bytes) -> list[ndef.Record]:
    if len(data) > MAX_MESSAGE_BYTES:
        raise LabelError(f"There are {len(data)} bytes, more than any sticker holds.", kind="not-ndef",
                         hint=f"An NDEF message of at most {MAX_MESSAGE_BYTES} bytes is read.")
    stream = _Stream(data)
    try:
        # Of all types only the link's is opened: no other decoder sees what may be hostile.
        records = list(ndef.message_decoder(stream, known_types={_URI: ndef.UriRecord}))
    except (ndef.DecodeError, ValueError, TypeError) as problem:
        if stream.short:
            raise LabelError(f"The message ends in the middle of a record, after {len(data)} bytes.", kind="truncated",
                             hint=_AGAIN) from problem
        raise LabelError("This is no NDEF message.", kind="not-ndef",
                         hint="Give a file made by: gearkeep sticker write.") from problem
    if not data:
        raise LabelError("There is nothing in it: no NDEF message.", kind="not-ndef", hint=_AGAIN)
    if left := stream.read():
        raise LabelError(f"{len(left)} bytes stand behind the end of the NDEF message.", kind="not-ndef",
                         hint="Give the message alone, without what surrounds it in the sticker's memory.")
    return records
