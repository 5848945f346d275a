"""The readback as a form, typed in, checked and proven from the command line."""

from __future__ import annotations

import hashlib
import json
from typing import Any

import pytest
from small_vault import Cli, SmallVault, readback

from vault.exchange.readback_file import Readback, read_readback, write_readback

SIGN = ("--spare", "GEN-50-1050", "--serial", "X1", "--as", "approved-equivalent", "--readback")


def _write(small: SmallVault, name: str, tag: str = "CH-007", version: int = 1, **figures: object) -> str:
    write_readback(small.folder / name, Readback(tag=small.tags[tag], version=version, gears=readback(**figures)))
    return name


def _typed(cli: Cli, monkeypatch: pytest.MonkeyPatch, answers: list[str], *arguments: str) -> Any:
    given = iter(answers)

    def prompt(*_: object, **__: object) -> str:
        try:
            return next(given)
        except StopIteration:
            import click

            raise click.Abort from None

    monkeypatch.setattr("click.prompt", prompt)
    return cli(*arguments)


@pytest.mark.parametrize("name", ["form.json", "form.csv"])
def test_a_form_fed_back_empty_is_one_message(cli: Cli, small: SmallVault, name: str) -> None:
    """It is written once, asks in words, and empty it says that nothing was filled in."""
    assert cli("readback", "form", "@CH-007", "--out", name).exit_code == 0
    assert "Short address, as on the bus, 0 to 63" in (small.folder / name).read_text(encoding="utf-8-sig")
    assert cli("readback", "form", "@CH-007", "--out", name).exit_code == 2
    told = cli("readback", "check", "@CH-007", name)
    assert told.exit_code == 1 and told.stderr.splitlines()[0].endswith("nothing was filled in")


def test_a_form_asks_every_gear_or_one(cli: Cli, small: SmallVault) -> None:
    """The stairs have two gears."""
    cli("readback", "form", "@ST-N1", "--out", "both.json")
    cli("readback", "form", "@ST-N1", "--gear", "emergency-converter", "--out", "one.json")
    forms = [json.loads((small.folder / name).read_text()) for name in ("both.json", "one.json")]
    assert [list(form["gears"]) for form in forms] == [["general", "emergency-converter"], ["emergency-converter"]]
    assert {(form["tag"], form["version"]) for form in forms} == {(small.tags["ST-N1"], 1)}


def test_what_is_typed_is_kept_at_once_and_taken_up_again(cli: Cli, small: SmallVault, monkeypatch: pytest.MonkeyPatch) -> None:
    """The input ends in the middle: what was typed is in the file, and the same command asks only for the rest."""
    (small.folder / "photo.jpg").write_bytes(b"switches")
    command = ("readback", "fill", "@CH-007", "--spare", "GEN-50-1050", "--out", "typed.json", "--photograph", "photo.jpg")
    ended = _typed(cli, monkeypatch, ["7000000", "?", "700 mA", "photograph"], *command)
    assert ended.exit_code == 1 and "typed.json" in ended.stderr
    assert read_readback(small.folder / "typed.json") == Readback(tag=small.tags["CH-007"], version=1, gears={"general": {
        "channels.1.current_ma": 700, "channels.1.current_evidence": "photograph",
        "channels.1.photograph": hashlib.sha256(b"switches").hexdigest()}})
    rest = ["30 V", "44 V", "31 W", "dali", "6", "0", "0:254 1:170", "86", "254", "254", "254", "4", "7", "logarithmic"]
    assert _typed(cli, monkeypatch, [*rest, *[""] * 20], *command).exit_code == 0
    assert read_readback(small.folder / "typed.json").gears["general"]["control.groups"] == 1


def test_piped_answers_are_taken(cli: Cli, small: SmallVault) -> None:
    """Without a terminal the answers come line by line; here there is none at all."""
    ended = cli("readback", "fill", "@CH-007", "--out", "typed.csv")
    assert ended.exit_code == 1 and not (small.folder / "typed.csv").exists()


def test_another_file_is_not_taken_up(cli: Cli, small: SmallVault) -> None:
    """A readback of another luminaire that lies there is left alone."""
    _write(small, "other.json", tag="CH-008")
    before = (small.folder / "other.json").read_bytes()
    assert cli("readback", "fill", "@CH-007", "--out", "other.json").exit_code == 2
    assert (small.folder / "other.json").read_bytes() == before


@pytest.mark.parametrize(("figures", "code", "told"), [
    ({}, 0, "A full match."), ({"current_ma": 500}, 1, "NOT a full match."), ({"short_address": 7}, 1, "DIFFERS")])
def test_a_check_says_what_differs(cli: Cli, small: SmallVault, figures: dict[str, object], code: int, told: str) -> None:
    """Field by field against the newest record, with exit code 0 for a full match alone."""
    done = cli("readback", "check", "@CH-007", _write(small, "r.json", **figures), "--spare", "GEN-50-1050")
    assert (done.exit_code, told in done.stdout) == (code, True)
    as_json = json.loads(cli("readback", "check", "@CH-007", "r.json", "--json").stdout)
    assert (as_json["matched"], list(as_json["gears"])) == (code == 0, ["general"])


def test_a_swap_takes_only_its_own_readback(cli: Cli, small: SmallVault) -> None:
    """One of another luminaire, or of another version, signs nothing."""
    before = small.sizes()
    other, ahead = _write(small, "a.json", tag="CH-008"), _write(small, "b.json", version=2)
    for name, kind in ((other, "other-luminaire"), (ahead, "other-version")):
        told = cli("swap", "@CH-007", *SIGN, name, "--json", key="T01")
        assert (told.exit_code, json.loads(told.stdout)["error"]["kind"]) == (1, kind)
    assert small.sizes() == before
    assert json.loads(cli("readback", "check", "@CH-007", "a.json", "--json").stdout)["error"]["kind"] == "other-luminaire"


def test_the_readback_that_was_signed_for_is_proven(cli: Cli, small: SmallVault) -> None:
    """After the swap the file proves to be the one of version 2; another one, or version 1, does not."""
    assert cli("swap", "@CH-007", *SIGN, _write(small, "good.json"), key="T01").exit_code == 0
    assert cli("readback", "prove", "@CH-007", "good.json").exit_code == 0
    assert cli("readback", "prove", "@CH-007", "good.json", "--version", "1").exit_code == 1
    assert cli("readback", "prove", "@CH-007", _write(small, "other.json", current_ma=701)).exit_code == 1
    assert cli("readback", "prove", "@CH-007", "good.json", "--version", "9").exit_code == 2
    told = json.loads(cli("readback", "prove", "@CH-007", "good.json", "--json").stdout)
    assert (told["version"], [one["same"] for one in told["gears"]]) == (2, [True])


@pytest.mark.parametrize(("arguments", "code"), [
    (("form", "@CH-007", "--out", "form.txt"), 2), (("form", "@CH-007", "--gear", "emergency-converter", "--out", "f.json"), 2),
    (("form", "@CH-007", "--spare", "NO-SUCH", "--out", "f.json"), 2), (("check", "@CH-007", "missing.json"), 1),
    (("fill", "@CH-007", "--photograph", "missing.jpg", "--out", "f.json"), 2)])
def test_wrong_use_writes_nothing(cli: Cli, small: SmallVault, arguments: tuple[str, ...], code: int) -> None:
    """An ending, a gear, a model, a file or a photograph that is none."""
    assert cli("readback", *arguments).exit_code == code
    assert [path.name for path in small.folder.iterdir() if path.name.startswith(("f.", "form."))] == []
