"""NFC stickers at a reader. nfcpy is an extra and is imported when a reader is opened; all else works on any tag object."""

from __future__ import annotations

import contextlib
import logging
import time
from collections.abc import Iterator
from typing import Any, Protocol

from labels.errors import LabelError

WAIT_S = 30
_BLANK = (b"", b"\xd0\x00\x00")  # nothing, or one empty record (NDEF 1.0, 3.2.6)


class NdefArea(Protocol):
    """The part of a tag that holds an NDEF message, as nfcpy has it. capacity: the longest message in bytes. Assigning to
    octets writes; asking has_changed reads the tag again.
    """

    octets: bytes

    @property
    def capacity(self) -> int: ...

    @property
    def is_writeable(self) -> bool: ...

    @property
    def has_changed(self) -> bool: ...


class Tag(Protocol):
    """A sticker in the reader's field. ndef: None where it is not formatted for NDEF or went away."""

    @property
    def ndef(self) -> NdefArea | None: ...


@contextlib.contextmanager
def open_sticker(path: str = "usb", *, wait_s: int = WAIT_S) -> Iterator[Tag]:
    """The first sticker that comes into the field of the reader at an nfcpy path ("usb", "tty:USB0:pn532").

    Raises LabelError: no-nfc without nfcpy, no-reader, no-sticker after wait_s seconds, sticker-lost when the sticker goes
    away while it is worked on.
    """
    nfc = nfc_library()
    reader = nfc.ContactlessFrontend()
    try:
        why = "" if reader.open(path) else "nothing answered"
    except (OSError, ValueError) as problem:
        # The list of files that were looked for in vain helps nobody.
        why = str(getattr(problem, "strerror", None) or problem).partition(":")[0]
    if why:
        raise LabelError(f"No NFC reader was found at {path!r}: {why}.", kind="no-reader",
                         hint="Plug a reader in and see that you may use it (libusb 1.0, rights to the device), or do it "
                              "with a file.")
    with contextlib.closing(reader):
        until = time.monotonic() + wait_s
        tag = reader.connect(rdwr={"on-connect": lambda _tag: False, "iterations": 2},
                             terminate=lambda: time.monotonic() > until)
        if not tag:
            raise LabelError(f"No sticker came near the reader within {wait_s} s.", kind="no-sticker",
                             hint="Lay the sticker flat on the reader and start again.")
        try:
            yield tag
        except (nfc.tag.TagCommandError, nfc.clf.Error, OSError) as problem:
            raise LabelError(f"The sticker went away or did not answer ({problem}). What it holds now is not known.",
                             kind="sticker-lost", hint="Hold it still on the reader and do it again.") from problem


def read_octets(tag: Tag) -> bytes:
    """The NDEF message on a sticker. Raises LabelError (not-formatted)."""
    return bytes(_area(tag).octets)


def write_octets(tag: Tag, data: bytes, *, overwrite: bool = False) -> None:
    """Write an NDEF message and read it back. overwrite: whether another message there may be replaced.

    Raises LabelError before anything is written: not-formatted, read-only, sticker-too-small, sticker-in-use; and after:
    not-as-written.
    """
    area = _area(tag)
    if not area.is_writeable:
        raise LabelError("The sticker is locked and cannot be written.", kind="read-only", hint="Take another sticker.")
    if len(data) > area.capacity:
        raise LabelError(f"The sticker holds {area.capacity} bytes, the message has {len(data)}.", kind="sticker-too-small",
                         hint="Take a larger sticker, or write the link alone with --link-only.")
    held = bytes(area.octets)
    if held not in _BLANK and held != data and not overwrite:
        raise LabelError(f"The sticker holds another message of {len(held)} bytes.", kind="sticker-in-use",
                         hint="Take a blank sticker, or replace what it holds with --overwrite.")
    area.octets = data
    # A tag object answers from what was assigned until it is asked whether the sticker has changed.
    _ = area.has_changed
    again = tag.ndef
    if again is None or bytes(again.octets) != data:
        raise LabelError("The sticker does not hold what was written.", kind="not-as-written",
                         hint="Hold it still and write it again with --overwrite, or take another sticker.")


def _area(tag: Tag) -> NdefArea:
    area = tag.ndef
    if area is None:
        raise LabelError("The sticker is not formatted for NDEF.", kind="not-formatted",
                         hint="Hold it still and try again, or take a sticker sold as formatted for NDEF.")
    return area


def nfc_library() -> Any:
    """The package that talks to readers. Raises LabelError (no-nfc) where it is not installed."""
    try:
        import nfc
    except ImportError as problem:
        raise LabelError("NFC readers need the package nfcpy.", kind="no-nfc",
                         hint="Install it with: pip install 'gearkeep[nfc]', or do it with a file.") from problem
    # Its messages would stand between ours: without a handler the logging module prints them itself.
    logging.getLogger("nfc").addHandler(logging.NullHandler())
    return nfc
