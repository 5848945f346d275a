"""Where a vault lies: a file (SQLite), or a site in a PostgreSQL database."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from vault.errors import UsageProblem

POSTGRESQL = "postgresql+psycopg"
DEFAULT_SITE = "gearkeep"
_SITE = re.compile(r"[a-z][a-z0-9_]{0,39}")
_FORMS = (f"Give a file name, such as vault.db, or {POSTGRESQL}://USER@HOST:5432/DATABASE?site=NAME for a site on a "
          "PostgreSQL server.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Address:
    """url: what SQLAlchemy opens. path: the file, on SQLite. site: the schema that holds the site, on PostgreSQL."""

    url: str
    path: Path | None = None
    site: str | None = None

    def __str__(self) -> str:
        """The address as people may read it: a password is never shown."""
        if self.path is not None:
            return str(self.path)
        shown = re.sub(r"(://[^:@/]*):[^@/]*@", r"\1:***@", self.url)
        return f"{shown}{'&' if '?' in shown else '?'}site={self.site}"


def _bad(vault: str, why: str) -> UsageProblem:
    shown = re.sub(r"(://[^:@/]*):[^@/]*@", r"\1:***@", vault)
    return UsageProblem(f"{shown} is not a vault address that can be opened: {why}.", kind="bad-vault", hint=_FORMS)


def _postgresql(vault: str) -> Address:
    from sqlalchemy.engine import make_url
    from sqlalchemy.exc import ArgumentError

    try:
        url = make_url(vault)
    except (ArgumentError, ValueError) as problem:
        raise _bad(vault, "it cannot be read as a URL") from problem
    if not url.database:
        raise _bad(vault, "it names no database")
    site = url.query.get("site", DEFAULT_SITE)
    if not isinstance(site, str) or not _SITE.fullmatch(site):
        raise _bad(vault, "a site's name is 1 to 40 small letters, digits and underlines and begins with a letter")
    if site in ("public", "information_schema") or site.startswith("pg_"):
        raise _bad(vault, f"PostgreSQL keeps the name {site} for itself")
    kept = url.difference_update_query(["site"])
    return Address(url=kept.render_as_string(hide_password=False), site=site)


def parse_address(vault: str) -> Address:
    """The address that a file name or URL stands for. Raises UsageProblem when it is neither."""
    if not vault.isprintable():
        raise _bad(vault, "it holds characters that cannot be printed")
    scheme, separator, rest = vault.partition("://")
    if not separator:
        return Address(url=f"sqlite:///{Path(vault)}", path=Path(vault))
    if scheme == POSTGRESQL:
        return _postgresql(vault)
    if scheme == "sqlite":
        path = Path(rest.removeprefix("/"))
        return Address(url=f"sqlite:///{path}", path=path)
    raise _bad(vault, f"{scheme} is not served")
