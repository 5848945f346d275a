"""Labels on a real printer of the tests: signed for when confirmed, once, and resumed behind the last one confirmed."""

from __future__ import annotations

import shutil

import pytest
from ipp_peer import Peer, peer
from small_vault import HOST, SmallVault

from labels.errors import LabelError
from labels.media import MEDIA
from vault.actions.labelling import Wanted
from vault.actions.print_on import OnPrinter, print_on, resume
from vault.trust.statements import IssueReason

__all__ = ["peer"]

MEDIUM = MEDIA["60x40"]


def _print(small: SmallVault, peer: Peer, *references: str, copies: int = 1) -> OnPrinter:
    wanted = Wanted(texts=[small.tags[reference] for reference in references])
    return print_on(small.desk("I01"), wanted, printer=peer.uri, folder=small.folder / "run", medium=MEDIUM, copies=copies)


def _links(peer: Peer) -> list[str]:
    return [text for text in peer.printed_codes() if "#" not in text]


def test_what_is_confirmed_is_signed_for(small: SmallVault, peer: Peer) -> None:
    """Two labels come out of the printer, each is confirmed, and the journal says that its first copy was issued."""
    done = _print(small, peer, "CH-007", "CO-001")
    tags = tuple(small.tags[reference] for reference in ("CH-007", "CO-001"))
    assert (done.confirmed, done.doubtful, done.waiting, done.trouble) == (tags, (), (), None)
    assert _links(peer) == [f"HTTPS://{HOST.upper()}/L/{tag}" for tag in tags]
    assert [(copy.copy, copy.current) for copy in small.seen("CH-007").labels] == [(1, True)]


def test_copies_are_printed_and_numbered(small: SmallVault, peer: Peer) -> None:
    """Three copies of a label are three pages and three numbers."""
    _print(small, peer, "CH-007", copies=3)
    assert len(_links(peer)) == 3
    assert [copy.copy for copy in small.seen("CH-007").labels] == [1, 2, 3]


def test_a_failed_job_is_in_doubt_and_nothing_is_signed_for_it(small: SmallVault, peer: Peer) -> None:
    """The printer gave the job up: nobody knows what came out, so it is not signed for; resumed, it stays in doubt."""
    before = small.sizes()
    peer.fail(True)
    done = _print(small, peer, "CH-007")
    assert (done.confirmed, done.doubtful, small.sizes()) == ((), (small.tags["CH-007"],), before)
    peer.fail(False)
    again = resume(small.desk("I01"), small.folder / "run")
    assert (again.doubtful, _links(peer)) == ((small.tags["CH-007"],), [])


def test_what_is_in_doubt_is_printed_again_when_asked_for(small: SmallVault, peer: Peer) -> None:
    """Then it comes out and is signed for."""
    peer.fail(True)
    _print(small, peer, "CH-007")
    peer.fail(False)
    done = resume(small.desk("I01"), small.folder / "run", reprint_doubtful=True)
    assert (done.confirmed, len(_links(peer))) == ((small.tags["CH-007"],), 1)
    assert [copy.copy for copy in small.seen("CH-007").labels] == [1]


def test_resuming_a_finished_run_prints_and_signs_nothing(small: SmallVault, peer: Peer) -> None:
    """However often it is asked."""
    _print(small, peer, "CH-007")
    before = small.sizes()
    resume(small.desk("I01"), small.folder / "run")
    assert (small.sizes(), len(_links(peer))) == (before, 1)


def test_a_crash_between_the_note_and_the_signature_signs_once(small: SmallVault, peer: Peer) -> None:
    """The vault is put back to before the signature: resumed, it signs the very statement that was noted."""
    kept = small.copy_file("before.db")
    _print(small, peer, "CH-007")
    small.close()
    for leftover in small.folder.glob("vault.db-*"):
        leftover.unlink()
    shutil.copy(kept, small.path)
    resume(small.desk("I01"), small.folder / "run")
    resume(small.desk("I01"), small.folder / "run")
    assert ([copy.copy for copy in small.seen("CH-007").labels], len(_links(peer))) == ([1], 1)


def test_the_reason_of_a_copy_goes_with_the_run(small: SmallVault, peer: Peer) -> None:
    """A label printed to replace the others says so in the journal."""
    wanted = Wanted(texts=[small.tags["CH-007"]], why=IssueReason.REPLACEMENT)
    print_on(small.desk("I01"), wanted, printer=peer.uri, folder=small.folder / "run", medium=MEDIUM)
    print_on(small.desk("I01"), wanted, printer=peer.uri, folder=small.folder / "again", medium=MEDIUM)
    assert [copy.state.value for copy in small.seen("CH-007").labels] == ["replaced", "issued"]


def test_a_size_that_the_printer_lacks_is_refused_before_anything(small: SmallVault, peer: Peer) -> None:
    """The refusal names what the printer has; nothing is kept, printed or signed."""
    before = small.sizes()
    with pytest.raises(LabelError, match=r"101\.6 × 50\.8 mm") as caught:
        print_on(small.desk("I01"), Wanted(texts=[small.tags["CH-007"]]), printer=peer.uri, folder=small.folder / "run",
                 medium=MEDIA["102x51"])
    assert (caught.value.kind, small.sizes(), (small.folder / "run").exists()) == ("no-medium", before, False)
