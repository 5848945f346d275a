"""Audit against checkpoints kept outside the vault."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
import qrcode
from PIL import Image
from small_vault import SmallVault

from vault.actions.changes import revise
from vault.actions.checkpoint_page import write_checkpoint_page
from vault.actions.keeping import audit, rebuild_index, sign_checkpoints
from vault.errors import UsageProblem


def _kept(small: SmallVault, name: str = "kept.txt") -> Path:
    path = small.folder / name
    path.write_text(sign_checkpoints(small.desk())[0].note, encoding="utf-8")
    return path


def _whys(small: SmallVault, *files: Path) -> list[str]:
    return [fault.why.split(":")[0] for fault in audit(small.open(), files).faults]


def _change(small: SmallVault, current_ma: int = 650) -> None:
    revise(small.desk("I01"), small.tags["CH-001"], changes={"channels.1.current_ma": str(current_ma)})


def test_a_sound_vault_agrees_with_its_checkpoints(small: SmallVault) -> None:
    """One of now and one from before three more changes."""
    old = _kept(small)
    _change(small)
    assert _whys(small, old, _kept(small, "new.txt")) == []


def test_every_statement_is_counted(small: SmallVault) -> None:
    """Both journals are verified whole."""
    assert audit(small.open()).statements == sum(small.sizes())


def test_a_rolled_back_vault_is_found(small: SmallVault) -> None:
    """An old copy put back verifies in itself; the checkpoint from the binder tells."""
    before = small.copy_file("before.db")
    _change(small)
    kept = _kept(small)
    small.close()
    shutil.copy(before, small.path)
    assert _whys(small) == [] and _whys(small, kept) == ["rollback"]


def test_a_forked_vault_is_found(small: SmallVault) -> None:
    """The same number of entries, other ones."""
    before = small.copy_file("before.db")
    _change(small)
    kept = _kept(small)
    small.close()
    shutil.copy(before, small.path)
    _change(small, 640)
    assert _whys(small, kept) == ["fork"]


def test_a_photograph_of_the_code_is_a_checkpoint(small: SmallVault) -> None:
    """The note in a code, as it stands on the printed page."""
    note = _kept(small).read_text(encoding="utf-8")
    qrcode.make(note).save(small.folder / "photo.png")
    assert _whys(small, small.folder / "photo.png") == []


@pytest.mark.parametrize(("old", "new"), [("\n63\n", "\n62\n"), ("\n63\n", "\n99\n")])
def test_a_forged_checkpoint_is_a_fault(small: SmallVault, old: str, new: str) -> None:
    """A figure changed by hand no longer has a good signature."""
    path = _kept(small)
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")
    assert _whys(small, path) == ["bad-signature"]


@pytest.mark.parametrize("content", [None, b"", b"hello\n", b"63\n", b"\x89PNG broken", b"\xff\xfe\x00\x00"])
def test_a_file_that_is_no_checkpoint_is_wrong_use(small: SmallVault, content: bytes | None) -> None:
    """A missing, empty, other or broken file is not a fault of the vault."""
    path = small.folder / "other.txt"
    path.write_bytes(content or b"")
    path.unlink() if content is None else None
    with pytest.raises(UsageProblem) as caught:
        audit(small.open(), [path])
    assert caught.value.kind == "bad-note"


@pytest.mark.parametrize("says", [None, "hello", "HTTPS://LX.EXAMPLE.EU/L/7K3D9QXW6"])
def test_a_picture_without_a_checkpoint_is_wrong_use(small: SmallVault, says: str | None) -> None:
    """A blank picture, any other code, and a luminaire's label."""
    path = small.folder / "photo.png"
    picture = Image.new("L", (200, 200), 255) if says is None else qrcode.make(says)
    picture.save(path)
    with pytest.raises(UsageProblem) as caught:
        audit(small.open(), [path])
    assert caught.value.kind == "bad-note"


def test_a_rebuilt_index_passes_the_audit(small: SmallVault) -> None:
    """Every table made anew from the journal is what it was."""
    before = small.seen("CH-007")
    assert rebuild_index(small.open()) > 0
    assert _whys(small) == [] and small.seen("CH-007") == before


def test_a_checkpoint_needs_its_own_key(small: SmallVault) -> None:
    """Another key, and none."""
    desk = small.desk()
    desk.checkpoint_key_source = lambda: small.keys["I01"]
    with pytest.raises(UsageProblem) as caught:
        sign_checkpoints(desk)
    assert caught.value.kind == "bad-key"
    desk.checkpoint_key_source = None
    with pytest.raises(UsageProblem) as caught:
        sign_checkpoints(desk)
    assert caught.value.kind == "no-key" and write_checkpoint_page(desk, small.folder / "page.pdf") is None


def test_the_page_is_a_pdf(small: SmallVault) -> None:
    """Both journals' checkpoints on one page."""
    page = write_checkpoint_page(small.desk(), small.folder / "page.pdf")
    assert page is not None and page.read_bytes().startswith(b"%PDF-")
