"""gearkeep access."""

from __future__ import annotations

import click

from vault.cli.shell import command, json_text, open_vault, say


@command(example="gearkeep --vault 'postgresql+psycopg://owner@db.example/lights?site=baths' access technicians")
@click.argument("role")
@click.option("--read-only", is_flag=True, help="For readers: nothing can be signed with this role.")
def access(role: str, read_only: bool, as_json: bool) -> None:
    """Give a role of the PostgreSQL server the rights to work in this site: to read and to add, never to change.

    Run it as the role that owns the site, and again after gearkeep upgrade.
    """
    from vault.db.access import grant_access

    statements = grant_access(open_vault().engine, role, writing=not read_only)
    say(json_text({"role": role, "writing": not read_only, "statements": statements}) if as_json else
        f"{role} may now read{'' if read_only else ' and add to'} this site, and change nothing in it.")
