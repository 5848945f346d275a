"""Reading a TOML file, with errors that say where."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from vault.errors import GearkeepError


def read_toml(path: Path) -> dict[str, Any]:
    """A TOML file's tables. Raises GearkeepError (unreadable-file) with the parser's line and column."""
    try:
        return tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    except OSError as error:
        raise GearkeepError(f"{path} cannot be read: {error.strerror}", hint="check the file's name and rights",
                            kind="unreadable-file") from error
    except UnicodeDecodeError as error:
        raise GearkeepError(f"{path.name} is not text in UTF-8", hint="save it as UTF-8",
                            kind="unreadable-file") from error
    except (ValueError, RecursionError) as error:
        # Beside its own errors the parser lets Python's through, for a number or a nesting beyond all reason.
        why = f": {error}" if isinstance(error, tomllib.TOMLDecodeError) else ", or holds a number or a nesting beyond all reason"
        raise GearkeepError(f"{path.name} is not TOML{why}", hint="look at the line named" if why[0] == ":" else
                            "give a file of plain tables", kind="unreadable-file") from error
