"""What every action needs: the vault, the signer's key, the time, and chance."""

from __future__ import annotations

import secrets
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from vault.db.session import Vault
from vault.errors import GearkeepError, UsageProblem
from vault.trust.keys import key_id, public_bytes

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

# So many entries are looked at for one that bears a time; parts of the catalogue bear none.
ENTRIES_WITH_A_TIME = 20


def _now() -> int:
    return int(time.time())


@dataclass(slots=True, kw_only=True)
class Desk:
    """An open vault with whoever acts on it. now_s and random_bits are replaced in tests.

    key_source is asked only when something has to be signed, so that reading never asks for a passphrase.
    """

    vault: Vault
    key_source: Callable[[], Ed25519PrivateKey] | None = None
    checkpoint_key_source: Callable[[], Ed25519PrivateKey | None] | None = None
    now_s: Callable[[], int] = field(default=_now)
    random_bits: Callable[[int], int] = field(default=secrets.randbits)
    _key: Ed25519PrivateKey | None = None

    def key(self) -> Ed25519PrivateKey:
        """The signer's private key. Raises UsageProblem when none was given."""
        if self._key is None:
            if self.key_source is None:
                raise UsageProblem("This has to be signed, and no key file was given.", kind="no-key",
                                   hint="Give your key file with --key FILE or GEARKEEP_KEY.")
            self._key = self.key_source()
        return self._key

    @property
    def has_signed(self) -> bool:
        """Whether the signer's key was asked for."""
        return self._key is not None

    def key_id(self) -> bytes:
        """Key id of the signer who acts."""
        return key_id(public_bytes(self.key()))

    def checkpoint_key(self) -> Ed25519PrivateKey | None:
        """The checkpoint key where it is at hand."""
        return self.checkpoint_key_source() if self.checkpoint_key_source else None

    def clock_behind_s(self) -> int:
        """By how many seconds the clock is behind the newest statement that bears a time; 0 when it is not.

        Order is the journal's and a wrong clock changes none of it, but what is signed bears the wrong time.
        """
        try:
            with self.vault.reading() as session:
                size = session.size()
                for place in range(size - 1, max(size - 1 - ENTRIES_WITH_A_TIME, -1), -1):
                    time_s = getattr(session.statement(place).body, "time_s", None)
                    if time_s is not None:
                        return max(0, int(time_s) - self.now_s())
        except GearkeepError:
            # Whatever is wrong there, the act itself says it.
            return 0
        return 0
