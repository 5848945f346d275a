"""A byte turned over in each page of a vault's file is told, or changes nothing that anybody reads.

The long form is tests/bench/flipped_bytes.py.
"""

from __future__ import annotations

import shutil
import sqlite3
from pathlib import Path

import pytest
from crash_places import Places
from page_flips import FOUND, NAME, audit_look, flip, flips, reading_look, whole_vault
from small_vault import SmallVault

from vault.actions.luminaire import view
from vault.db.session import Vault
from vault.errors import GearkeepError


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> SmallVault:
    """A small vault."""
    return Places(tmp_path_factory.mktemp("flips")).today()


@pytest.fixture(scope="module")
def whole(place: SmallVault) -> Path:
    """Its file, with every table filled that a small vault fills."""
    return whole_vault(place)


@pytest.mark.parametrize("seed", [1])
def test_no_flipped_byte_is_accepted_in_silence(whole: Path, seed: int) -> None:
    """A byte of every page: found by audit, refused on opening, or nothing that can be read is another."""
    done = flips(whole, audit_look(whole), per_page=1, seed=seed)
    assert done.bad == [] and done.outcomes.total() == done.pages


def test_no_flipped_byte_shows_another_luminaires_settings(place: SmallVault, whole: Path) -> None:
    """Whoever looks without an audit sees what was signed for that luminaire, or a plain refusal."""
    tags = [place.tags[reference] for reference in ("CH-001", "ST-N1", "CV-001")]
    assert flips(whole, reading_look(tags), per_page=1, seed=3).bad == []


@pytest.mark.parametrize(("said", "outcome"), [
    (b"the journal is append-only", FOUND),  # the text of a trigger
    (b"Changing room women, row 7", FOUND),  # signed, or the index of it
    (b"MB24050", FOUND),
    (b"Ada Invented", NAME),  # beside the journal so that it can be erased; nobody signs it
])
def test_a_flipped_letter(whole: Path, said: bytes, outcome: str) -> None:
    """A letter in what a user reads, in a rule of the file itself, and in the one thing that is not signed."""
    content = whole.read_bytes()
    at = content.index(said)
    one = flip(content, whole.with_name("letter.db"), at + 2, 0x01, 4096, audit_look(whole))
    assert one.outcome == outcome


def test_every_table_that_holds_rows_is_among_them(whole: Path) -> None:
    """The flips meet the journal, the index, checkpoints, names and the schema's number."""
    with sqlite3.connect(whole) as raw:
        tables = [name for name, in raw.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        filled = {name for name in tables if raw.execute(f"SELECT count(*) FROM {name}").fetchone()[0]}
    raw.close()
    assert filled >= {"journal", "checkpoint", "signer", "catalogue", "record", "gear", "label", "label_event", "movement",
                      "signer_name", "alembic_version"}


def test_an_index_that_points_to_another_entry_is_refused(place: SmallVault, tmp_path: Path) -> None:
    """Two luminaires' rows with their tags exchanged: nothing is shown, and the message says how to mend it."""
    path = Path(shutil.copy(place.path, tmp_path / "vault.db"))
    one, other = place.tags["CH-001"], place.tags["CV-001"]
    with sqlite3.connect(path) as raw:
        raw.execute("UPDATE record SET tag = iif(tag = :one, :other, :one) WHERE tag IN (:one, :other)",
                    {"one": one, "other": other})
    raw.close()
    vault = Vault(str(path))
    with pytest.raises(GearkeepError) as problem, vault.reading() as session:
        view(session, one)
    vault.close()
    assert problem.value.kind == "bad-index" and "rebuild" in problem.value.hint
