"""gearkeep find, found, reissue and what says FROZEN, on the command line."""

from __future__ import annotations

import json

import pytest
from small_vault import Cli, SmallVault


@pytest.mark.parametrize(("words", "code", "said"), [
    (["find", "row 7"], 0, "CH-007"), (["find", "--line", "D2", "--address", "1"], 0, "PH-001"),
    (["find", "--near", "@CH-007", "--place", "row 8"], 0, "the next address above on line D1, address 7"),
    (["find", "--line", "D1", "--answering", "0-3,5-7,24,25"], 0, "CH-009"),
    (["find", "coridor"], 1, "The nearest places are: Corridor, bay 1"), (["find", "50%"], 1, "No luminaire is known"),
    (["find", "--type", "T77"], 1, "There is no type T77"),
])
def test_find(cli: Cli, words: list[str], code: int, said: str) -> None:
    """Found, or what comes closest."""
    result = cli(*words)
    assert (result.exit_code, said in result.stdout) == (code, True), result.output


@pytest.mark.parametrize("words", [
    ["find"], ["find", "--address", "3"], ["find", "--line", "D1", "--address", "256"], ["find", "--answering", "3"],
    ["find", "--line", "D1", "--answering", "6-3"], ["find", "--line", "D1", "--answering", "a"],
    ["find", "--line", "D1", "--answering", "1-2-3"], ["find", "--line", "D1", "--answering", "65"]])
def test_wrong_use(cli: Cli, words: list[str]) -> None:
    """Exit 2, and what to give instead."""
    result = cli(*words)
    assert result.exit_code == 2 and ("hint:" in result.stderr or "Error:" in result.stderr)


def test_json(cli: Cli, small: SmallVault) -> None:
    """The keys that other programs rely on; empty with what is offered where nothing is found."""
    assert json.loads(cli("find", "CH-007", "--json").stdout) == {"offered": None, "found": [{
        "tag": small.tags["CH-007"], "reference": "CH-007", "place": "Changing room women, row 7", "line": "D1", "addresses": [6],
        "circuit": "L1", "type": "T1", "version": 1, "states": [], "apart": None, "taken": None}]}
    result = cli("find", "coridor", "--json")
    held = json.loads(result.stdout)
    assert (result.exit_code, held["found"]) == (1, []) and held["offered"].startswith("The nearest places are:")


def test_a_frozen_luminaire_is_said_to_be_frozen(cli: Cli) -> None:
    """show, history, find and labels work; printing does not; settling it ends it."""
    cli("label", "@CH-007", "--out", "one.png", key="I01")
    cli("label", "@CH-007", "--reprint", "--out", "two.png", key="I01")
    found = cli("found", "@CH-007", "--at", "Changing room women, row 8", "--copy", "2", "--hanging", key="T01")
    assert found.exit_code == 0 and "FROZEN" in found.stdout
    for words, code in ((("show", "@CH-007"), 1), (("history", "@CH-008"), 0), (("find", "CH-008"), 0),
                        (("labels", "@CH-007"), 1)):
        shown = cli(*words)
        assert (shown.exit_code, "FROZEN" in shown.stdout) == (code, True), words
    assert json.loads(cli("show", "@CH-008", "--json").stdout)["frozen"] is True
    refused = cli("label", "@CH-008", "--out", "three.png", "--json", key="I01")
    assert (refused.exit_code, json.loads(refused.stdout)["error"]["kind"]) == (1, "frozen")
    loose = cli("found", "@CH-007", "--at", "Changing room women, row 8", "--copy", "2", "--loose", "--json", key="T01")
    assert json.loads(loose.stdout)["frozen"] is False
    assert "FROZEN" not in cli("show", "@CH-008").stdout


def test_reissue(cli: Cli, small: SmallVault) -> None:
    """The new copy and what was withdrawn, in words and as JSON; an existing file is not replaced."""
    cli("label", "@CH-007", "--out", "one.png", key="I01")
    result = cli("reissue", "@CH-007", "--because", "label gone", "--out", "new.png", key="T01")
    assert result.exit_code == 0 and "Label copy 2 of" in result.stdout and "Withdrawn: copy 1." in result.stdout
    again = cli("reissue", "@CH-007", "--because", "burnt", "--out", "new.png", key="T01")
    assert (again.exit_code, "new.png is there already" in again.stderr) == (2, True)
    told = cli("reissue", "@CH-007", "--because", "burnt", "--out", "newer.png", "--json", key="T01")
    assert json.loads(told.stdout) == {"tag": small.tags["CH-007"], "file": "newer.png", "copy": 3, "withdrawn": [2],
                                       "without_settings": False}


@pytest.mark.parametrize(("words", "key", "code"), [
    (["reissue", "@CH-007", "--out", "x.png"], "T01", 2), (["reissue", "@CH-007", "--because", "gone"], "T01", 2),
    (["reissue", "@CH-007", "--because", "gone", "--out", "x.png"], None, 2),
    (["reissue", "@CH-007", "--because", "gone", "--out", "x.png"], "P01", 1),
    (["reissue", "@CH-007", "--because", "gone", "--out", "x.doc"], "T01", 2),
    (["reissue", "7K3D9QXW6", "--because", "gone", "--out", "x.png"], "T01", 1),
    (["found", "@CH-007", "--at", "Attic", "--type", "T1", "--loose"], "T01", 2),
])
def test_exit_codes(cli: Cli, words: list[str], key: str | None, code: int) -> None:
    """2 for wrong use, 1 for what is refused."""
    assert cli(*words, key=key).exit_code == code
