"""The authority of this vault vouches for another vault's journal up to a size (FORMAT.md, section Take-over)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from vault.domain.schema import Problem, raw, text, whole
from vault.errors import GearkeepError
from vault.trust.note import Checkpoint, parse_checkpoint

MOST_NOTE_BYTES = 16_000


def origin_of(host: str, log_id: bytes) -> str:
    """The origin line of a log's checkpoints: HOST/log id in hexadecimal."""
    return f"{host.lower()}/{log_id.hex()}"


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeOver:
    """Entries of another vault's main log were taken over, up to the size that a checkpoint of that log names.

    authority_key: the key that the other log's genesis names. checkpoint: the signed note whole, in UTF-8; size and root
    stand there alone, so that nothing can contradict them.
    """

    FORM: ClassVar[str] = "map"
    log_id: bytes = raw(1, 16, 16, required=True)
    host: str = text(2, 30, required=True)
    site: str = text(3, 60, required=True)
    authority_key: bytes = raw(4, 32, 32, required=True)
    checkpoint: bytes = raw(5, 1, MOST_NOTE_BYTES, required=True)
    time_s: int = whole(6, 0, 2**40, "s", required=True)

    @property
    def note(self) -> str:
        """The checkpoint's text with its signature lines."""
        return self.checkpoint.decode()

    @property
    def said(self) -> Checkpoint:
        """What the checkpoint says. Raises GearkeepError (bad-note); never of a statement that verified."""
        return parse_checkpoint(self.note.rpartition("\n\n")[0] + "\n")

    def further_problems(self, path: str) -> Iterator[Problem]:
        """The checkpoint is one of that log, over one entry at least. Whose signature it bears, the genesis taken over tells."""
        if not isinstance(self.checkpoint, bytes) or not isinstance(self.log_id, bytes) or not isinstance(self.host, str):
            return
        due = origin_of(self.host, self.log_id)
        try:
            said = self.said
            good = said.origin == due and said.size > 0 and "\n\n" in self.note
        except (GearkeepError, UnicodeDecodeError):
            good = False
        if not good:
            yield Problem(path=f"{path}.checkpoint" if path else "checkpoint", found="something else",
                          allowed=f"a signed checkpoint of {due} over one entry or more")
