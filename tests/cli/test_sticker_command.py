"""gearkeep sticker as it is typed."""

from __future__ import annotations

import contextlib
import json
from collections.abc import Iterator
from types import SimpleNamespace

import pytest
from click.testing import CliRunner
from small_vault import HOST, Cli, SmallVault

from labels import nfc_reader
from vault.cli.sticker import sticker


@pytest.fixture
def tag(monkeypatch: pytest.MonkeyPatch) -> SimpleNamespace:
    """A blank sticker of 888 bytes on the reader that --reader opens."""
    held = SimpleNamespace(ndef=SimpleNamespace(octets=b"", capacity=868, is_writeable=True, has_changed=False))

    @contextlib.contextmanager
    def opened(_path: str) -> Iterator[SimpleNamespace]:
        yield held

    monkeypatch.setattr(nfc_reader, "open_sticker", opened)
    monkeypatch.setattr(nfc_reader, "nfc_library", lambda: None)  # the tests need no nfcpy
    return held


def test_a_file_is_written_and_read_back(cli: Cli) -> None:
    """The size and the stickers that hold it come first, then the file, then that it grows old."""
    result = cli("sticker", "write", "@CH-007", "--out", "one.ndef")
    assert result.exit_code == 0, result.output
    said = result.output
    assert 0 <= said.index("make a message of") < said.index("888 bytes (messages up to 868)") < said.index("It is in one.ndef")
    assert "grows old" in said
    again = cli("sticker", "read", "one.ndef")
    assert (again.exit_code, "VERIFIED" in again.output, "700 mA" in again.output) == (0, True, True)


def test_a_sticker_is_written_and_read_at_a_reader(cli: Cli, tag: SimpleNamespace) -> None:
    """It is waited for, written, read back; a file beside it holds the same."""
    result = cli("sticker", "write", "@CH-007", "--reader", "usb", "--out", "one.ndef")
    assert (result.exit_code, "read back, it says the same" in result.output) == (0, True)
    assert "Hold the sticker on the reader" in result.stderr
    assert cli("sticker", "read", "--reader", "usb").exit_code == 0
    assert cli("sticker", "read", "one.ndef").exit_code == 0
    assert len(tag.ndef.octets) > 137


def test_json_says_what_was_written_and_read(cli: Cli, ready: SmallVault) -> None:
    """One object each."""
    written = json.loads(cli("sticker", "write", "@CH-007", "--out", "one.ndef", "--link-only", "--json").stdout)
    assert (written["link"], written["link_only"], written["record_bytes"], len(written["held_by"])) == (
        f"https://{HOST}/L/{ready.tags['CH-007']}", True, 0, 3)
    assert written["message_bytes"] == (ready.folder / "one.ndef").stat().st_size
    read = json.loads(cli("sticker", "read", "one.ndef", "--json").stdout)
    assert (read["source"], read["verified"], read["newest"]) == ("one.ndef", True, True)


def test_with_a_list_of_signers_no_vault_is_needed(cli: Cli) -> None:
    """As scan does."""
    assert cli("signer", "export", "signers.txt").exit_code == 0
    assert cli("sticker", "write", "@CH-007", "--out", "one.ndef").exit_code == 0
    result = cli("sticker", "read", "one.ndef", "--trust", "signers.txt", vault="none.db")
    assert (result.exit_code, "signer valid as of list" in result.output) == (0, True)


@pytest.mark.parametrize(("words", "code", "said"), [
    (("write", "@CH-007"), 2, "nothing to write to"),
    (("write", "@CH-007", "--out", "garbage.txt"), 2, "is there already"),
    (("write", "@CH-007", "--out", "one.ndef", "--capacity", "137"), 1, "--link-only"),
    (("write", "7K3D9QXW7", "--out", "one.ndef"), 1, "check character"),
    (("write", "@CH-007", "--out", "nowhere/one.ndef"), 1, "cannot be written"),
    (("read",), 2, "One sticker is read at a time"),
    (("read", "garbage.txt", "--reader", "usb"), 2, "One sticker is read at a time"),
    (("read", "none.ndef"), 1, "none.ndef cannot be read"),
    (("read", "garbage.txt"), 1, "error: garbage.txt: "),
    (("read", "garbage.txt", "--trust", "none.txt"), 2, "none.txt cannot be read"),
])
def test_what_cannot_be_done_is_said(cli: Cli, ready: SmallVault, words: tuple[str, ...], code: int, said: str) -> None:
    """With exit code 2 for wrong use; no file is left."""
    result = cli("sticker", *words)
    assert (result.exit_code, said in result.stderr) == (code, True), result.stderr
    assert not (ready.folder / "one.ndef").exists()


def test_a_sticker_in_use_is_replaced_only_when_asked(cli: Cli, tag: SimpleNamespace) -> None:
    """Another luminaire's sticker is not lost in silence."""
    assert cli("sticker", "write", "@CH-008", "--reader", "usb").exit_code == 0
    refused = cli("sticker", "write", "@CH-007", "--reader", "usb")
    assert (refused.exit_code, "--overwrite" in refused.stderr) == (1, True)
    assert cli("sticker", "write", "@CH-007", "--reader", "usb", "--overwrite").exit_code == 0
    assert tag.ndef.octets


def test_an_old_sticker_fails_as_an_old_label_does(cli: Cli) -> None:
    """Exit code 1 once other settings are signed."""
    assert cli("sticker", "write", "@CH-007", "--out", "one.ndef").exit_code == 0
    assert cli("revise", "@CH-007", "--set", "channels.1.current_ma=650", key="I01").exit_code == 0
    result = cli("sticker", "read", "one.ndef")
    assert (result.exit_code, "ITS SETTINGS HAVE CHANGED" in result.output) == (1, True)


@pytest.mark.parametrize("words", [(), ("write",), ("read",)])
def test_help_shows_an_example(words: tuple[str, ...]) -> None:
    """Of the group and of each command."""
    assert "Example: gearkeep sticker" in CliRunner().invoke(sticker, [*words, "--help"]).output
