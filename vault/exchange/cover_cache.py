"""Answers of coverage that were worked out before, in a file of the user's own: one for each vault.

It holds nothing that cannot be worked out again. A file that cannot be read whole, or was changed, is as good as none.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from hashlib import sha256
from pathlib import Path

from vault.domain.findings import Verdict
from vault.errors import GearkeepError
from vault.exchange.files import write_whole
from vault.spares.coverage_answers import ANSWER_BYTES, rules_version
from vault.spares.needs import Answer

_MAGIC = b"gearkeep cover 1\n"


def cache_file(log_id: bytes) -> Path:
    """Where the answers of a vault lie: in XDG_CACHE_HOME, else ~/.cache (XDG Base Directory Specification)."""
    told = os.environ.get("XDG_CACHE_HOME", "")
    folder = Path(told) if told.startswith("/") else Path.home() / ".cache"
    return folder / "gearkeep" / f"cover-{log_id.hex()}.json"


def read_answers(path: Path) -> dict[bytes, Answer]:
    """Remembered answers by digest; none where the file is missing, spoiled, or made under other rules."""
    try:
        magic, digest, body = path.read_bytes().split(b"\n", 2)
        if magic + b"\n" != _MAGIC or sha256(rules_version() + body).hexdigest().encode() != digest:
            return {}
        said, texts = json.loads(body)
        answers = [Answer(verdict=Verdict(verdict), rule=rule, limit=limit) for verdict, rule, limit in texts]
        return {_key(key): answers[number] for key, number in said.items()}
    except (OSError, ValueError, TypeError, AttributeError, LookupError, RecursionError):
        return {}


def _key(said: str) -> bytes:
    key = bytes.fromhex(said)
    if len(key) != ANSWER_BYTES:
        raise ValueError("no digest")
    return key


def write_answers(path: Path, held: Mapping[bytes, Answer]) -> None:
    """Remember answers in place of those before. Where that cannot be done, nothing is said: the next time takes longer."""
    texts: dict[Answer, int] = {}
    said = {key.hex(): texts.setdefault(answer, len(texts)) for key, answer in held.items()}
    body = json.dumps([said, [[one.verdict.value, one.rule, one.limit] for one in texts]], ensure_ascii=False).encode()
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        write_whole(path, _MAGIC + sha256(rules_version() + body).hexdigest().encode() + b"\n" + body)
    except (OSError, GearkeepError):
        return
