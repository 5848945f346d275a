"""Runs of twelve labels whose codes say their names, and what a test does with them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import pytest
from ipp_peer import Peer
from label_samples import content
from PIL import Image

from labels.drawing import proven
from labels.errors import LabelError
from labels.media import MEDIA, Medium
from labels.print_run import PrintRun
from labels.printing import Patience
from labels.pwg import PixelKind, document

MEDIUM, SMALL = MEDIA["60x40"], MEDIA["50x25"]
QUICK = Patience(poll_s=0.05, busy_s=20, stall_s=20)
NAMES = tuple(f"A-{number:02d}" for number in range(1, 13))  # 12 labels: a job of 10 and one of 2
FIRST, REST = NAMES[:10], NAMES[10:]


@lru_cache
def label(name: str, medium: Medium = MEDIUM) -> Image.Image:
    """A label whose one code says its name."""
    return proven(replace(content(None, lines=()), link_text=link(name)), medium)[1]


def link(name: str) -> str:
    """What the code of that label says."""
    return f"HTTPS://LX.EXAMPLE.EU/L/{name}"


def links(names: Sequence[str]) -> list[str]:
    """What codes say, in order."""
    return [link(name) for name in names]


def begun(peer: Peer, folder: Path, names: Sequence[str] = NAMES, copies: int = 1) -> PrintRun:
    """A run, of which nothing was sent."""
    return PrintRun.begin(folder, peer.uri, ((name, label(name)) for name in names), MEDIUM, copies)


def once(part: str, act: Callable[[], None]) -> Callable[[int, int, str], None]:
    """A progress that acts when the printer is first said to be at something."""
    left = [act]

    def progress(_confirmed: int, _total: int, says: str) -> None:
        if part in says and left:
            left.pop()()

    return progress


def failing(run: PrintRun, kind: str, **options: object) -> LabelError:
    """The error of a send."""
    with pytest.raises(LabelError) as problem:
        run.send(**({"patience": QUICK} | options))  # type: ignore[arg-type]
    assert problem.value.kind == kind
    return problem.value


def other_document(folder: Path) -> Path:
    """What somebody else prints."""
    path = folder / "other.pwg"
    path.write_bytes(b"".join(document([label("OTHER")], dpi=300, kind=PixelKind.SGRAY_8, medium="other")))
    return path
