"""Whole processes: what a person waits for who types a command."""

from __future__ import annotations

import sys

from vault.bench.measure import Figure, alternate, run_process

GEARKEEP = (sys.executable, "-m", "vault.cli.main")


def _figure(name: str, command: tuple[str, ...], imports: str, target: float, turns: int) -> Figure:
    run_process(command)  # compiles what was never run
    work, limit, ratio = alternate(lambda: run_process(command).wall_s,
                                   lambda: run_process((sys.executable, "-c", f"import {imports}")).wall_s, turns)
    return Figure(name=name, value=work * 1000, unit="ms", limit=limit * 1000, beside=f"python -c 'import {imports}'",
                  ratio=ratio, target=target, sense="at most")


def help_figure(turns: int) -> Figure:
    """gearkeep --help."""
    return _figure("help", (*GEARKEEP, "--help"), "click", 1.3, turns)


def show_figure(address: str, tag: str, turns: int) -> Figure:
    """gearkeep show TAG."""
    return _figure("show", (*GEARKEEP, "--vault", address, "show", tag), "sqlalchemy, nacl.bindings", 1.4, turns)
