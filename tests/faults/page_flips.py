"""A byte of a vault's file turned over, and whether anybody is told.

SQLite keeps no checksum of a page. So each flip has to be found by an audit, refused on opening, or change nothing that
anybody can read: every row of every table, read through every index, and the text of the schema are the same.
"""

from __future__ import annotations

import random
import sqlite3
import traceback
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from small_vault import SmallVault

from vault.actions.keeping import sign_checkpoints
from vault.actions.luminaire import view
from vault.db import queries
from vault.db.audit import run_audit
from vault.db.session import Vault
from vault.domain.tag import to_bytes
from vault.errors import GearkeepError

# A person's name stands beside the journal, unsigned, so that it can be erased: nothing can tell a wrong one.
UNSIGNED = "signer_name"
FOUND, REFUSED, NOTHING, UNTOLD, NAME, TRACEBACK = (
    "found by audit", "refused", "nothing readable changed", "UNTOLD", "a person's name, unsigned", "TRACEBACK")
SHOWN, OTHERS = "shown as signed", "ANOTHER'S SETTINGS SHOWN"
BAD = (UNTOLD, TRACEBACK, OTHERS)
# Bits that are turned over: one alone, the lowest, the highest, all.
MASKS = (0x01, 0x80, 0x20, 0xFF)


@dataclass(frozen=True, slots=True, kw_only=True)
class Flip:
    """One byte: where, which bits, what came of it and what was said."""

    page: int
    offset: int
    mask: int
    outcome: str
    said: str


@dataclass(slots=True)
class Flips:
    """What many flips came to."""

    page_size: int = 0
    pages: int = 0
    outcomes: Counter[str] = field(default_factory=Counter)
    bad: list[Flip] = field(default_factory=list)


def whole_vault(small: SmallVault) -> Path:
    """The small vault with persons' names and checkpoints of both logs, in one file without a WAL beside it."""
    sign_checkpoints(small.desk())
    with small.open().writing() as session:
        queries.set_signer_name(session, "I01", "Ada Invented")
        queries.set_signer_name(session, "T01", "Ben Invented")
    return small.copy_file("whole.db")


def readable(path: Path) -> dict[str, Any]:
    """Everything that SQL can read from a file: its schema's text and every row of every table, as bytes."""
    raw = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
    raw.text_factory = bytes
    try:
        schema = raw.execute("SELECT type, name, tbl_name, sql FROM sqlite_master ORDER BY 1, 2").fetchall()
        found: dict[str, Any] = {"schema": schema}
        for name in (name.decode() for kind, name, _, _ in schema if kind == b"table"):
            columns = [row[1].decode() for row in raw.execute(f"PRAGMA table_info({name})")]
            kinds = ", ".join(f"typeof({column}), {column}" for column in columns)
            # The same bytes as text or as a blob are read as the same.
            found[name] = [tuple(b"text" if value == b"blob" else value for value in row)
                           for row in raw.execute(f"SELECT {kinds} FROM {name} ORDER BY rowid")]
        return found
    finally:
        raw.close()


def differing(before: dict[str, Any], path: Path) -> set[str]:
    """The tables (or "schema") that say something else than before."""
    try:
        now = readable(path)
    except (sqlite3.DatabaseError, UnicodeDecodeError):
        return {"unreadable"}
    return {name for name in before.keys() | now.keys() if before.get(name) != now.get(name)}


def _audited(path: Path) -> tuple[str, str]:
    try:
        vault = Vault(str(path))
        try:
            with vault.reading() as session:
                faults = run_audit(session).faults
        finally:
            vault.close()
    except GearkeepError as problem:
        return REFUSED, f"{problem.kind}: {problem.what}"
    except Exception:
        return TRACEBACK, traceback.format_exc()
    return (FOUND, f"{faults[0].what}: {faults[0].where}: {faults[0].why}") if faults else (NOTHING, "")


def _shown(path: Path, tags: Iterable[str]) -> tuple[str, str]:
    """What somebody sees who reads without an audit: a record that was signed for that very luminaire, or a refusal."""
    try:
        vault = Vault(str(path))
        try:
            for tag in tags:
                with vault.reading() as session:
                    seen = view(session, tag)
                if seen.record.tag != to_bytes(tag):
                    return OTHERS, f"{tag} shows what was signed for another"
        finally:
            vault.close()
    except GearkeepError as problem:
        return REFUSED, f"{problem.kind}: {problem.what}"
    except Exception:
        return TRACEBACK, traceback.format_exc()
    return SHOWN, ""


# Looks at a file that has one byte turned over: what came of it and what was said.
Look = Callable[[Path], tuple[str, str]]


def audit_look(whole: Path) -> Look:
    """An audit, and whether anything readable changed that it did not tell."""
    before = readable(whole)

    def look(path: Path) -> tuple[str, str]:
        # Read before the vault is opened: opening may well mend a file's header.
        differs = differing(before, path)
        outcome, said = _audited(path)
        if outcome == NOTHING and differs:
            return (NAME if differs == {UNSIGNED} else UNTOLD), ", ".join(sorted(differs))
        return outcome, said

    return look


def reading_look(tags: Iterable[str]) -> Look:
    """Some luminaires looked at, without an audit."""
    wanted = list(tags)
    return lambda path: _shown(path, wanted)


def flip(content: bytes, path: Path, offset: int, mask: int, page_size: int, look: Look) -> Flip:
    """Write the file with one byte turned over and look at it."""
    for end in ("-wal", "-shm"):
        path.with_name(path.name + end).unlink(missing_ok=True)
    changed = bytearray(content)
    changed[offset] ^= mask
    path.write_bytes(changed)
    outcome, said = look(path)
    return Flip(page=offset // page_size + 1, offset=offset % page_size, mask=mask, outcome=outcome, said=said)


def offsets(content: bytes, page_size: int, per_page: int, chance: random.Random) -> Iterable[int]:
    """So many places in every page, three quarters of them where something is written."""
    for start in range(0, len(content), page_size):
        written = [at for at in range(start, start + page_size) if content[at]]
        for number in range(per_page):
            yield chance.choice(written) if written and number % 4 < 3 else chance.randrange(start, start + page_size)


def flips(whole: Path, look: Look, *, per_page: int, seed: int) -> Flips:
    """Turn over bytes of every page of a vault's file, one at a time."""
    content, chance = whole.read_bytes(), random.Random(seed)
    page_size = int.from_bytes(content[16:18], "big")
    told = Flips(page_size, len(content) // page_size)
    for offset in offsets(content, page_size, per_page, chance):
        one = flip(content, whole.with_name("flipped.db"), offset, chance.choice(MASKS), page_size, look)
        told.outcomes[one.outcome] += 1
        if one.outcome in BAD:
            told.bad.append(one)
    return told
