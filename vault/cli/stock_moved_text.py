"""What a movement of stock did, in words."""

from __future__ import annotations

from typing import Any

from vault.cli.shell import json_text, say

_MOST_SAID = 12  # models, and notes


def say_moved(moved: Any, as_json: bool) -> None:
    """What was done, what stands now, and what should be heard."""
    if as_json:
        say(json_text({"store": moved.store, "act": moved.act.name.lower(), "did": list(moved.did), "pieces": moved.pieces,
                       "needs_reset": moved.needs_reset, "notes": list(moved.notes)}))
        return
    say(*moved.did)
    for said, what in ((moved.stands, "models: gearkeep stock list"),
                       ([f"note: {note}" for note in moved.notes], "notes: all of them with --json")):
        say(*said[:_MOST_SAID], *([f"and {len(said) - _MOST_SAID} more {what}"] if len(said) > _MOST_SAID else []))
