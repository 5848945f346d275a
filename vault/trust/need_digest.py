"""What a gear needs of a driver in eight bytes, so that luminaires with the same need are found by grouping (FORMAT.md names
no such digest: it stands in the index alone).
"""

from __future__ import annotations

from dataclasses import replace
from hashlib import sha256

from vault.domain.settings import Control, Settings
from vault.trust import cbor
from vault.trust.mapping import to_plain_cbor

NEED_BYTES = 8

# Luminaires that are alike differ in their addresses, and there are 64 of those: what was seen of late is most of what comes.
_KEPT = 8192
_known: dict[Settings, bytes] = {}


def _no_address(control: Control | None) -> Control | None:
    return None if control is None else replace(control, short_address=None, central_address=None)


def settings_without_address(settings: Settings) -> Settings:
    """The settings with every short and central address left out, of the gear and of its channels."""
    return replace(settings, control=_no_address(settings.control),
                   channels=tuple(replace(channel, control=_no_address(channel.control)) if channel.control else channel
                                  for channel in settings.channels))


def need_digest(settings: Settings) -> bytes:
    """The first 8 bytes of SHA-256 over the deterministic CBOR of the settings without addresses."""
    found = _known.get(settings)
    if found is None:
        if len(_known) >= _KEPT:
            _known.clear()
        bare = to_plain_cbor(settings_without_address(settings))
        found = _known[settings] = sha256(cbor.encode(bare)).digest()[:NEED_BYTES]
    return found


__all__ = ["NEED_BYTES", "need_digest", "settings_without_address"]
