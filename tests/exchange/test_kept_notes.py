"""Notes of a long piece of work: added to, never lost, never written by two at once."""

from __future__ import annotations

import multiprocessing
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vault.errors import GearkeepError
from vault.exchange.kept_notes import held_notes


def test_notes_are_there_the_next_time(tmp_path: Path) -> None:
    """What was added stands in the file in its order, with everything that was said."""
    path = tmp_path / "work" / "notes.jsonl"
    with held_notes(path) as notes:
        notes.add("begun", tag="7K3D9QXW6")
        notes.add("answer", key="place", said="Büro 2")
    with held_notes(path) as notes:
        assert list(notes) == [{"step": "begun", "tag": "7K3D9QXW6"}, {"step": "answer", "key": "place", "said": "Büro 2"}]


def test_the_newest_note_of_a_step_counts(tmp_path: Path) -> None:
    """last gives the newest of a step, of gives all, and None where there is none."""
    with held_notes(tmp_path / "notes.jsonl") as notes:
        notes.add("read", value=1)
        notes.add("read", value=2)
        assert notes.last("read") == {"step": "read", "value": 2}
        assert [note["value"] for note in notes.of("read")] == [1, 2]
        assert notes.last("signed") is None


@given(cut=st.integers(min_value=1, max_value=40))
def test_a_note_cut_short_is_dropped(tmp_path_factory: pytest.TempPathFactory, cut: int) -> None:
    """A power cut while the last line was written leaves every line before it."""
    path = tmp_path_factory.mktemp("cut") / "notes.jsonl"
    with held_notes(path) as notes:
        notes.add("begun", tag="7K3D9QXW6")
        notes.add("answer", key="place", said="a text long enough to be cut anywhere in it")
    path.write_bytes(path.read_bytes()[:-cut])
    with held_notes(path) as notes:
        assert [note["step"] for note in notes] == ["begun"]
        notes.add("answer", key="place", said="again")
    with held_notes(path) as notes:
        assert [note["step"] for note in notes] == ["begun", "answer"]


@pytest.mark.parametrize("line", ["not JSON", "[1]", '{"no": "step"}', '{"step": 3}'])
def test_a_changed_file_is_told(tmp_path: Path, line: str) -> None:
    """A whole line that this program never writes is named by its number, and nothing is added behind it."""
    path = tmp_path / "notes.jsonl"
    path.write_text('{"step":"begun"}\n' + line + "\n", encoding="utf-8")
    with pytest.raises(GearkeepError) as caught, held_notes(path):
        raise AssertionError("it was opened")
    assert caught.value.kind == "bad-notes" and "line 2" in caught.value.what


def _try(path: Path, answer: multiprocessing.Queue[str]) -> None:
    try:
        with held_notes(path):
            answer.put("opened")
    except GearkeepError as problem:
        answer.put(problem.kind)


def test_two_processes_never_write_one_file(tmp_path: Path) -> None:
    """The second is told so, and may go on when the first has ended."""
    path, context = tmp_path / "notes.jsonl", multiprocessing.get_context("spawn")
    answer: multiprocessing.Queue[str] = context.Queue()
    with held_notes(path):
        other = context.Process(target=_try, args=(path, answer))
        other.start()
        other.join()
        assert answer.get() == "notes-busy"
    with held_notes(path) as notes:
        assert list(notes) == []


def test_a_folder_that_takes_no_file_is_told(tmp_path: Path) -> None:
    """A file where the folder should be: named, with what to do."""
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(GearkeepError) as caught, held_notes(tmp_path / "file" / "notes.jsonl"):
        raise AssertionError("it was opened")
    assert caught.value.kind == "unwritable-file"
