"""What has to be confirmed before it is signed is asked on a terminal; elsewhere --yes says so."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import TypeVar

import click

from vault.actions.unsure import Unsure
from vault.cli.shell import say
from vault.errors import GearkeepError
from vault.exchange.complaints import ended

_Done = TypeVar("_Done")


def done_when_sure(act: Callable[[bool], _Done], *, sure: bool, as_json: bool) -> _Done:
    """What act(sure) returns; where it is unsure and somebody at a terminal confirms, act(True).

    Raises Unsure where nobody can be asked, GearkeepError (not-confirmed) where the answer is no.
    """
    try:
        return act(sure)
    except Unsure as unsure:
        if as_json or not sys.stdin.isatty():
            raise
        say(*(ended(f"{one[0].upper()}{one[1:]}") for one in unsure.asked), unsure.hint)
        if not click.confirm("Sign it all the same?", err=True):
            raise GearkeepError("Nothing was changed.", kind="not-confirmed") from None
        return act(True)
