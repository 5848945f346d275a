"""Shared test set-up: the vectors script is imported as `make`."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent / "vectors"))
