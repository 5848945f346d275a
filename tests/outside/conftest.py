"""The demo, run once for every test that looks at what it leaves."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

DEMO = Path(__file__).resolve().parents[2] / "demo"


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder that `python demo/run.py FOLDER` leaves behind."""
    folder = tmp_path_factory.mktemp("demo") / "out"
    done = subprocess.run([sys.executable, str(DEMO / "run.py"), str(folder)], capture_output=True, encoding="utf-8",
                          check=False)
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-3000:]
    (folder / "story.txt").write_text(done.stdout, encoding="utf-8")
    return folder
