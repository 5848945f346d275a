"""How much a terminal shows at once."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Iterable
from dataclasses import dataclass

from vault.exchange.wrapped import wrapped

WIDEST = 100  # columns: longer lines are hard to read


@dataclass(frozen=True, slots=True, kw_only=True)
class Screen:
    """Columns, and lines with the one for the prompt."""

    columns: int = 80
    lines: int = 24


def folded(lines: Iterable[str], screen: Screen | None) -> list[str]:
    """The lines, those folded that a screen is too narrow for."""
    return list(lines) if screen is None else [part for line in lines for part in wrapped(line, screen.columns)]


def screen_size() -> Screen | None:
    """What the terminal holds; None where the output goes elsewhere, so that no line need be folded."""
    if not sys.stdout.isatty():
        return None
    size = shutil.get_terminal_size()
    return Screen(columns=max(min(size.columns, WIDEST), 40), lines=max(size.lines, 16))
