"""Interrupted print runs on a real printer: no label is lost, none is printed twice unasked."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from ipp_peer import Peer, attribute_values, peer
from lossy_way import lossy_way
from print_samples import FIRST, MEDIUM, NAMES, QUICK, REST, begun, failing, label, links, once, other_document

from labels.errors import LabelError
from labels.print_run import Outcome, PrintRun

__all__ = ["peer"]

HERE = Path(__file__).parent


# Notes of a send: job 1 intent, number, end; job 2 intent, number, end. Before note 2 the job was sent, but its number is
# not noted; before note 3 it is completed, but that is not.
@pytest.mark.parametrize("notes", range(6))
def test_killed_and_resumed(peer: Peer, tmp_path: Path, notes: int) -> None:
    """A client killed before any of its notes: resumed, each label is printed exactly once, and none is in doubt."""
    run = begun(peer, tmp_path / "run")
    died = subprocess.run([sys.executable, HERE / "print_and_die.py", tmp_path / "run", str(notes)], check=False,
                          env={"PYTHONPATH": str(HERE.parent.parent)}, timeout=60)
    assert died.returncode == 9
    assert run.send(patience=QUICK) == Outcome(confirmed=NAMES, doubtful=(), waiting=())
    assert peer.printed_codes() == links(NAMES)


def test_torn_note(peer: Peer, tmp_path: Path) -> None:
    """A note half on the disk at a power cut is cut off, however long; the printer is asked instead."""
    run = begun(peer, tmp_path / "run")
    run.send(patience=QUICK)
    log = tmp_path / "run" / "run.jsonl"
    log.write_bytes(log.read_bytes()[:-4] + b"x" * 200)
    assert PrintRun.open(tmp_path / "run").outcome().doubtful == REST
    assert run.send(patience=QUICK).confirmed == NAMES
    assert [json.loads(line) for line in log.read_text().splitlines()][-1] == {"job": 2, "end": "completed"}
    assert peer.printed_codes() == links(NAMES)


def test_aborted_job(peer: Peer, tmp_path: Path) -> None:
    """A job that the printer aborts leaves exactly its labels in doubt and stops the run; they are printed again only when
    asked for.
    """
    run = begun(peer, tmp_path / "run")
    peer.fail(True)
    assert run.send(patience=QUICK) == Outcome(confirmed=(), doubtful=FIRST, waiting=REST, reason="job 1 was aborted")
    peer.fail(False)
    assert run.send(patience=QUICK) == Outcome(confirmed=REST, doubtful=FIRST, waiting=(), reason="job 1 was aborted")
    assert peer.printed_codes() == links(REST)
    assert run.send(patience=QUICK, reprint_doubtful=True) == Outcome(confirmed=NAMES, doubtful=(), waiting=())
    assert peer.printed_codes() == links(REST + FIRST)


def test_canceled_job(peer: Peer, tmp_path: Path) -> None:
    """So does a job that somebody cancels at the printer."""
    run = begun(peer, tmp_path / "run")
    peer.hold()
    outcome = run.send(once("processing", lambda: (peer.cancel(1), peer.release())[1]), patience=QUICK)
    assert outcome == Outcome(confirmed=(), doubtful=FIRST, waiting=REST, reason="job 1 was canceled")


def test_printer_gone_between_jobs(peer: Peer, tmp_path: Path) -> None:
    """A printer that is switched off before a job has got nothing; later everything is printed once."""
    run = begun(peer, tmp_path / "run")
    problem = failing(run, "no-printer", progress=once("job 1 is completed", peer.stop))
    assert problem.what == f"The printer {peer.uri} cannot be reached: Connection refused."
    assert run.outcome() == Outcome(confirmed=FIRST, doubtful=(), waiting=REST)
    peer.start()
    assert run.send(patience=QUICK) == Outcome(confirmed=NAMES, doubtful=(), waiting=())
    assert peer.printed_codes() == links(NAMES)


def test_printer_gone_within_a_job(peer: Peer, tmp_path: Path) -> None:
    """A printer switched off at a job forgets it, and gives its number to another: the labels stay in doubt, and are not
    taken for the other job's.
    """
    run = begun(peer, tmp_path / "run")
    peer.hold()
    failing(run, "no-printer", progress=once("processing", peer.stop))
    peer.start()
    peer.other_job(other_document(tmp_path))
    peer.release()
    doubt = Outcome(confirmed=REST, doubtful=FIRST, waiting=(), reason="job 1 has no known end")
    assert run.send(patience=QUICK) == doubt
    assert PrintRun.open(tmp_path / "run").outcome() == doubt
    assert run.send(patience=QUICK, reprint_doubtful=True).confirmed == NAMES
    sent = [name for name in attribute_values(peer.log, "Print-Job", "job-name") if name.startswith("gearkeep")]
    assert sent == [f"gearkeep {run.head.run} {number}" for number in (1, 2, 3)]


@pytest.mark.parametrize(("arrives", "outcome"), [
    (True, Outcome(confirmed=FIRST, doubtful=(), waiting=())),
    (False, Outcome(confirmed=(), doubtful=FIRST, waiting=(), reason="a job that the printer did not answer has no known end")),
])
def test_no_answer_to_a_job(peer: Peer, tmp_path: Path, arrives: bool, outcome: Outcome) -> None:
    """Where the answer to a job gets lost, the printer is asked for it by name: known there, it is followed and not sent
    again; not known, its labels are in doubt.
    """
    with lossy_way(peer.port, request_arrives=arrives) as uri:
        run = PrintRun.begin(tmp_path / "run", uri, [(name, label(name)) for name in FIRST], MEDIUM)
        assert run.send(patience=QUICK) == outcome
        assert run.send(patience=QUICK) == outcome
    assert peer.printed_codes() == links(outcome.confirmed)


def test_two_at_once(peer: Peer, tmp_path: Path) -> None:
    """A run that is being printed is not printed by a second process too."""
    run = begun(peer, tmp_path / "run", FIRST)
    second = PrintRun.open(tmp_path / "run")
    kinds: list[str] = []
    peer.hold()
    run.send(once("processing", lambda: (kinds.append(failing(second, "run-busy").kind), peer.release())[1]), patience=QUICK)
    assert (kinds, peer.printed_codes()) == (["run-busy"], links(FIRST))


@pytest.mark.parametrize(("spoil", "kind", "says"), [
    (lambda folder: (folder / "run.jsonl").unlink(), "no-run", "There is no print run in"),
    (lambda folder: (folder / "run.jsonl").write_bytes(b""), "bad-run", "line 1 says nothing"),
    (lambda folder: (folder / "run.jsonl").write_bytes(b'{"form":2}\n'), "bad-run", "line 1 says nothing"),
    (lambda folder: (folder / "run.jsonl").write_bytes(b"\xff\n"), "bad-run", "line 1 is not a note"),
    (lambda folder: (folder / "run.jsonl").open("ab").write(b'{"job":7,"end":"completed"}\n'), "bad-run", "line 3 says nothing"),
    (lambda folder: (folder / "run.jsonl").open("ab").write(b"{\n"), "bad-run", "line 3 is not a note"),
    (lambda folder: (folder / "label-00001.png").write_bytes(b"\x89PNG"), "bad-run", "The label A-01 cannot be read"),
    (lambda folder: (folder / "label-00001.png").unlink(), "bad-run", "The label A-01 cannot be read"),
])
def test_damaged_folder(peer: Peer, tmp_path: Path, spoil: Callable[[Path], object], kind: str, says: str) -> None:
    """A folder that was changed is named with the line or label, and nothing is printed."""
    begun(peer, tmp_path / "run", NAMES[:1])
    spoil(tmp_path / "run")
    with pytest.raises(LabelError) as problem:
        PrintRun.open(tmp_path / "run").send(patience=QUICK)
    assert problem.value.kind == kind
    assert says in problem.value.what
    assert peer.printed() == []
