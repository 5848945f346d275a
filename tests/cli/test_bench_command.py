"""gearkeep bench: every figure by its name, with a limit from the same run."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner
from postgres_server import Server

from vault.cli.main import main

NAMES = {"audit", "handover", "bulk", "lookup", "append", "growth", "proof", "show", "help", "audit_memory", "handover_memory"}


@pytest.fixture(scope="module")
def figures(server: Server) -> dict[str, dict[str, object]]:
    """The least run that there is, with a server; whether targets are met is no matter of a test."""
    done = CliRunner().invoke(main, ["bench", "--luminaires", "100", "--versions", "1", "--rows", "100", "--turns", "1",
                                     "--server", server.url("sites"), "--json"])
    assert done.exit_code in (0, 1), done.output
    found: dict[str, dict[str, object]] = json.loads(done.stdout)
    return found


def test_every_figure_is_named(figures: dict[str, dict[str, object]]) -> None:
    """The names that others rely on."""
    assert set(figures) == NAMES | {"append_postgres", "append_postgres_four_logs"}


@pytest.mark.parametrize("key", ["value", "unit", "limit", "ratio", "target", "met", "beside"])
def test_every_figure_says_what_it_is(figures: dict[str, dict[str, object]], key: str) -> None:
    """A value with its unit, what stands beside it, their ratio, and what it shall reach."""
    assert all(key in figure for figure in figures.values())


def test_nothing_is_left_behind(figures: dict[str, dict[str, object]], server: Server) -> None:
    """The bench's own sites are gone."""
    assert figures and server.sql("SELECT count(*) FROM pg_namespace WHERE nspname LIKE 'bench%'", "sites") == "0"
