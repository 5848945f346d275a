"""gearkeep scan: folders, films, PDFs, a camera, and a hand scanner that types."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import cv2
import numpy as np
import pytest
from click.testing import CliRunner, Result
from PIL import Image
from small_vault import Cli, SmallVault

from vault.cli.main import main
from vault.cli.scan_input import MAX_LINE_BYTES

SHOP = "https://shop.example.org/"


@pytest.fixture
def photos(cli: Cli, ready: SmallVault) -> Path:
    """A folder with a label as a picture, as a page of a PDF and as a film."""
    folder = ready.folder / "photos"
    folder.mkdir()
    assert cli("label", "@CH-007", "--out", "photos/a.png", key="I01").exit_code == 0
    assert cli("label", "@CH-007", "@CH-008", "--out", "photos/b.pdf", "--reprint", key="I01").exit_code in (0, 1)
    for page in folder.glob("*-checkpoint.pdf"):
        page.unlink()
    drawn = np.asarray(Image.open(folder / "a.png").convert("RGB"))
    writer = cv2.VideoWriter(str(folder / "c.avi"), cv2.VideoWriter_fourcc(*"MJPG"), 8, (800, 600))
    for top in (10, 60, 110):
        frame = np.full((600, 800, 3), 128, np.uint8)
        frame[top : top + drawn.shape[0], 40 : 40 + drawn.shape[1]] = drawn
        writer.write(frame)
    writer.release()
    return folder


def told(result: Result) -> list[tuple[str, str | None, bool]]:
    """Source, tag and whether it was verified, of every label in the JSON."""
    held = json.loads(result.output)
    return [(Path(one["source"]).name, one["tag"], one["verified"]) for one in held.get("labels", [held])]


def test_a_folder_of_everything(cli: Cli, ready: SmallVault, photos: Path) -> None:
    """Picture, PDF and film in the order of their names, all verified."""
    result = cli("scan", str(photos), "--json")
    seven, eight = ready.tags["CH-007"], ready.tags["CH-008"]
    assert told(result) == [("a.png", seven, True), ("b.pdf, page 1", seven, True), ("b.pdf, page 2", eight, True),
                            ("c.avi", seven, True)]  # fmt: skip
    assert result.exit_code == 0


def test_what_holds_nothing_is_told_and_fails(cli: Cli, photos: Path) -> None:
    """A blank picture beside good ones: the good ones are told, the exit code says that not all is well."""
    Image.new("L", (400, 300), 255).save(photos / "d.png")
    result = cli("scan", str(photos / "a.png"), str(photos / "d.png"))
    assert result.exit_code == 1
    assert "VERIFIED: signature" in result.output and "[no-code]" in result.output


def test_a_missing_camera(cli: Cli, monkeypatch: pytest.MonkeyPatch) -> None:
    """Is told by its number."""
    class Nothing:
        def isOpened(self) -> bool:
            return False

        def release(self) -> None:
            return None

    monkeypatch.setattr(cv2, "VideoCapture", lambda _: Nothing())
    result = cli("scan", "--camera", "3")
    assert result.exit_code == 1 and "camera 3" in result.output and "[no-camera]" in result.output


@pytest.mark.parametrize("words", [["a.png"], ["--text", "7K3D9QXW6"], ["--camera", "0"]])
def test_a_hand_scanner_is_read_alone(cli: Cli, words: list[str]) -> None:
    """--stdin beside another source is wrong use."""
    assert cli("scan", "--stdin", *words).exit_code == 2


def typed(ready: SmallVault, data: bytes, *words: str) -> Result:
    """What the command answers to what was typed."""
    ready.close()
    return CliRunner().invoke(main, ["--vault", str(ready.path), "scan", "--stdin", *words], input=data)


@pytest.mark.parametrize("end", [b"\r", b"\n", b"\r\n", b"\n\r\n"])
@pytest.mark.usefixtures("cli")
def test_every_line_end_of_a_hand_scanner(ready: SmallVault, end: bytes) -> None:
    """CR, LF, both and blank lines between; each label one line of JSON."""
    lines = [ready.label_text("CH-007"), ready.tags["CH-008"], SHOP]
    result = typed(ready, end.join(line.encode() for line in lines) + end, "--json")
    answers = [json.loads(line) for line in result.output.splitlines()]
    assert [(one["source"], one["tag"]) for one in answers] == [
        ("line 1", ready.tags["CH-007"]), ("line 2", ready.tags["CH-008"]), ("line 3", None)]  # fmt: skip
    assert answers[2]["problem"]["kind"] == "foreign-code" and result.exit_code == 1


@pytest.mark.usefixtures("cli")
def test_the_last_line_needs_no_end(ready: SmallVault) -> None:
    """And all good ones give exit code 0."""
    result = typed(ready, ready.label_text("CH-007").encode())
    assert result.exit_code == 0 and result.output.startswith("VERIFIED")


@pytest.mark.parametrize("data", [b"", b"\r\n\r\n", b"   \r"])
@pytest.mark.usefixtures("cli")
def test_nothing_typed_is_nothing_found(ready: SmallVault, data: bytes) -> None:
    """Blank input answers nothing and fails."""
    result = typed(ready, data)
    assert (result.output, result.exit_code) == ("", 1)


@pytest.mark.parametrize("data", [b"\xff\xfe\x00\r", b"A" * (3 * MAX_LINE_BYTES) + b"\r", "Grüße\r".encode()])
@pytest.mark.usefixtures("cli")
def test_rubbish_from_a_hand_scanner_is_answered(ready: SmallVault, data: bytes) -> None:
    """Bytes that are no text, an endless line and other letters: refused, each in words, and the next line is read."""
    result = typed(ready, data + ready.label_text("CH-007").encode() + b"\r")
    assert "NOT VERIFIED" in result.output and "VERIFIED: signature" in result.output and result.exit_code == 1


@pytest.mark.usefixtures("cli")
def test_each_line_is_answered_before_the_next_one_comes(ready: SmallVault) -> None:
    """A scanner that ends its lines with CR alone: the answer is there while the input is still open."""
    text = ready.label_text("CH-007")
    ready.close()
    command = [sys.executable, "-m", "vault.cli.main", "--vault", str(ready.path), "scan", "--stdin", "--json"]
    root = Path(__file__).resolve().parents[2]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, cwd=root,
                          env={**os.environ, "PYTHONPATH": str(root)}) as process:  # fmt: skip
        assert process.stdin is not None and process.stdout is not None
        for reference in ("CH-007", "CH-007"):
            process.stdin.write(text.encode() + b"\r")
            process.stdin.flush()
            assert json.loads(process.stdout.readline())["tag"] == ready.tags[reference]
        process.stdin.close()
        assert process.wait(timeout=30) == 0
