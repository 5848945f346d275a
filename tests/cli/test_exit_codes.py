"""Exit codes and the words of errors: 0 good, 1 stop or not found or not verified, 2 wrong use."""

from __future__ import annotations

import json
import os
from pathlib import Path
from unittest.mock import Mock

import click
import pytest
from small_vault import PASSPHRASE, Cli, SmallVault

GOOD = [
    (None, "show @CH-007"), (None, "history @CH-007"), (None, "fit @CH-007"), (None, "fit @CH-007 --in-stock"),
    (None, "fit @CH-007 --spare CC-40-700 --plot fit.svg"), (None, "fit @ST-N1 --gear emergency-converter"),
    (None, "swap @CH-007 --spare GEN-50-1050 --form form.json"), (None, "scan --text @CH-007"),
    ("I01", "label @CH-007 --out l.pwg"), ("I01", "label @CH-007 --out l.svg"),
    (None, "stock list"), (None, "stock list --model GEN-50-1050"), (None, "audit"), (None, "checkpoint --out c.txt"),
    (None, "checkpoint --out c.pdf"), (None, "rebuild"), (None, "upgrade"), (None, "signer list"),
    (None, "signer export s.json"), (None, "signer forget I01"), (None, "type list"), (None, "type show T1"),
    (None, "driver show GEN-50-1050"), (None, "circuit show L1"), (None, "line show D1"), (None, "signer key mine.key"),
    ("authority", "type load types.toml"), ("authority", "signer add X1 --role stores --new-key x.key"),
    ("authority", "signer withdraw T02 --because left"),
    ("authority", "driver add CC-50 --title Spare --current-ma 250:1200:25 --voltage-v 15:56 --power-w 50"),
    (None, "handover new.csv --preview"), ("I01", "handover new.csv"), ("I01", "handover schedule.csv"),
    ("I01", "revise @CH-007 --set channels.1.current_ma=650"), ("I01", "move @CH-007 --place Attic"),
    ("I01", "retire @CH-007 --because gone"), ("I01", "label @CH-007 --out l.png"),
    ("T01", "swap @CH-007 --spare GEN-50-1050 --serial X1 --as approved-equivalent "
        "--readback good.json"), ("S01", "stock load stock.csv"),
    ("S01", "stock receive GEN-50-1050 2 --bin A1"), ("S01", "stock issue GEN-50-1050 2 --bin A1"),
    ("S01", "stock return GEN-50-1050 2 --bin A1"), ("S01", "stock count GEN-50-1050 0 --bin A1 --because counted"),
    ("S01", "stock scrap GEN-50-1050 2 --bin A1 --because wet"), (None, "labels @CH-007"), ("I01", "found @CH-007 --at Attic"),
    (None, "mark bin MAIN A1 --out b.png"), (None, "stock list --sheet sheet.xlsx"),
    ("S01", "stock batch back.csv --as return"), ("S01", "stock batch back.csv --as count --because yearly"),
]
FAILED = [
    ("I01", "label @CH-007 --printer ipp://127.0.0.1:9/ipp/print"), (None, "printer show ipp://127.0.0.1:9/ipp/print"),
    ("I01", "printer resume no-such-folder"), ("I01", "label @CH-007 --printer nonsense"),
    (None, "fit @CH-007 --spare GEN-25-800"), (None, "swap @CH-007 --spare GEN-25-800"),
    (None, "show 7K3D9QXW6"), (None, "history 00000001Y"), (None, "show nonsense"), (None, "scan --text 00000001Y"),
    (None, "scan --text https://shop.example.org/"), (None, "scan missing.png"), (None, "stock list --model NO-SUCH"),
    (None, "type show T99"), (None, "handover faulty.csv --preview"), ("I01", "handover faulty.csv"),
    ("I01", "revise @CH-007 --set channels.1.current_ma=1050"),
    ("I01", "revise @CH-007 --set channels.1.current_ma=1050 --provisional"),
    ("T01", "swap @CH-007 --spare GEN-25-800 --serial X1 --as approved-equivalent --readback good.json"),
    ("T01", "swap @CH-007 --spare GEN-50-1050 --serial X1 --as approved-equivalent --readback wrong.json"),
    ("T01", "swap @CH-007 --spare GEN-50-1050 --serial X1 --as approved-equivalent "
        "--readback garbage.txt"), ("S01", "handover new.csv"),
    ("S01", "stock issue GEN-50-1050 99 --bin A1"), ("T01", "type load types.toml --json"),
    ("authority", "signer withdraw NOBODY --because left"), ("I01", "revise @CH-007 --set control.colour_of_case=1"),
]
WRONG_USE = [
    (None, "revise @CH-007 --set channels.1.current_ma=650"), (None, "handover new.csv"), (None, "show"),
    ("I01", "revise @CH-007"), ("I01", "revise @CH-007 --set nonsense"), ("I01", "placed @CH-007"),
    ("I01", "label --out l.png"), ("I01", "label @CH-007 --out l.gif"), ("I01", "label @CH-007 --out l.pdf --medium 1x1"),
    ("I01", "label @CH-007 @CH-008 --out l.png"), ("P01", "approve @CH-007 --as like-for-like --because fine"),
    ("P01", "approve @CH-007 --because fine"), ("S01", "stock issue GEN-50-1050 0"), ("S01", "stock issue NO-SUCH 1"),
    ("S01", "stock scrap GEN-50-1050 1"), (None, "audit --checkpoint missing.txt"), (None, "audit --checkpoint garbage.txt"),
    (None, "scan"), (None, "scan --text x --trust missing.json"), (None, "fit @CH-007 --spare NO-SUCH"),
    (None, "fit @CH-007 --gear spotlight"), ("authority", "signer add X1 --role stores"),
    ("authority", "signer add X1 --role stores --public-key nonsense"), ("authority", "signer withdraw AUTH --because left"),
    ("authority", "driver add CC-50 --title Spare --current-ma many --voltage-v 15:56"), (None, "show @CH-007 --passphrase x"),
    ("I01", "withdraw-label @CH-007 --because torn"), ("I01", "placed @CH-007 --copy 3"), (None, "mark bin MAIN Z9 --out b.png"),
    ("I01", "label @CH-007"), ("I01", "label @CH-007 --out l.pdf --printer ipp://127.0.0.1:9/"),
    ("I01", "label @CH-007 --out l.pdf --copies 2"),
    ("S01", "stock batch back.csv --as count"), ("S01", "stock batch back.csv --as scrap --because wet --to VAN-1"),
    ("S01", "stock batch back.csv --as transfer"), (None, "stock list --sheet stock.csv"), (None, "stock list --sheet sheet.pdf"),
    (None, "init --host lx.example.eu --site Again"), (None, "init --host x --site Bad --keys k"),
]


@pytest.mark.parametrize(
    ("expected", "key", "typed"),
    [(code, key, typed) for code, table in enumerate((GOOD, FAILED, WRONG_USE)) for key, typed in table],
    ids=[f"{code} {typed}" for code, table in enumerate((GOOD, FAILED, WRONG_USE)) for _, typed in table])
def test_exit_codes(cli: Cli, expected: int, key: str | None, typed: str) -> None:
    """Each invocation ends with its code, never with a traceback."""
    result = cli(*typed.split(" "), key=key)
    assert result.exit_code == expected, result.output
    assert isinstance(result.exception, SystemExit | None)


@pytest.mark.parametrize(
    ("key", "typed", "kind"),
    [
        (None, "show 7K3D9QXW6", "not-found"),
        (None, "revise @CH-007 --set channels.1.current_ma=650", "no-key"),
        ("nobody", "revise @CH-007 --set channels.1.current_ma=650", "bad-key"),
        ("I01", "revise @CH-007 --set channels.1.current_ma=1050", "stop"),
        ("S01", "stock issue GEN-50-1050 99 --bin A1", "stock-short"),
        ("T01", "swap @CH-007 --spare NO-SUCH --serial X1 --as approved-equivalent --readback good.json", "not-found"),
        (None, "audit --checkpoint garbage.txt", "bad-note"),
        ("I01", "placed @CH-007", "no-label"),
        (None, "fit @CV-001 --plot fit.svg", "cannot-draw"),
        (None, "init --host lx.example.eu --site Again --keys k", "exists"),
    ],
)
def test_an_error_says_what_and_what_next(cli: Cli, key: str | None, typed: str, kind: str) -> None:
    """Two lines on standard error, nothing on standard output; the same as JSON on standard output."""
    plain = cli(*typed.split(" "), key=key)
    lines = plain.stderr.splitlines()
    assert [line.split(" ")[0] for line in lines] == ["error:", "hint:"] and plain.stdout == ""
    as_json = cli(*typed.split(" "), "--json", key=key)
    said = json.loads(as_json.stdout)["error"]
    assert (said["kind"], [f"error: {said['what']}", f"hint: {said['hint']}"]) == (kind, lines)
    assert as_json.exit_code == plain.exit_code


def test_a_vault_that_is_not_there_is_wrong_use(cli: Cli) -> None:
    """And the hint says how to name one."""
    result = cli("show", "@CH-007", vault="missing.db")
    assert (result.exit_code, "--vault" in result.stderr) == (2, True)


def test_a_file_that_is_no_vault_is_told(cli: Cli) -> None:
    """Any other file."""
    result = cli("show", "@CH-007", vault="garbage.txt")
    assert result.exit_code in (1, 2) and result.stderr.startswith("error: ")


@pytest.mark.parametrize("wrong", ["wet feet", "", "dry socks 12 "])
def test_a_wrong_passphrase_opens_nothing(cli: Cli, small: SmallVault, wrong: str) -> None:
    """Another one, none, and one with a space too many."""
    result = cli("revise", "@CH-007", "--set", "channels.1.current_ma=650", key="I01", passphrase=wrong)
    assert result.exit_code == 1 and "passphrase" in result.stderr
    assert small.seen("CH-007").record.version == 1


def test_without_a_terminal_a_missing_passphrase_is_wrong_use(cli: Cli) -> None:
    """Nobody can be asked, and the hint says where to put it."""
    result = cli("revise", "@CH-007", "--set", "channels.1.current_ma=650", key="I01", passphrase=None)
    assert result.exit_code == 2 and "GEARKEEP_PASSPHRASE" in result.stderr


@pytest.mark.parametrize("line", [PASSPHRASE, f"{PASSPHRASE}\n", f"{PASSPHRASE}\r\nmore"])
def test_a_passphrase_through_a_file_descriptor(cli: Cli, small: SmallVault, line: str) -> None:
    """The first line of what it holds; the environment is not asked."""
    (small.folder / "secret").write_bytes(line.encode())
    number = os.open(small.folder / "secret", os.O_RDONLY)
    try:
        result = cli("--passphrase-fd", str(number), "move", "@CH-007", "--place", "Attic", key="I01", passphrase="wrong")
    finally:
        os.close(number)
    assert result.exit_code == 0 and small.seen("CH-007").record.place == "Attic"


def test_a_file_descriptor_that_is_closed_is_wrong_use(cli: Cli) -> None:
    """Nothing is open under that number."""
    result = cli("--passphrase-fd", "987", "move", "@CH-007", "--place", "Attic", key="I01")
    assert result.exit_code == 2 and "987" in result.stderr


def test_reading_asks_for_no_passphrase(cli: Cli) -> None:
    """A key file that is named and not needed stays closed."""
    assert cli("show", "@CH-007", key="nobody", passphrase=None).exit_code == 0


@pytest.mark.parametrize(
    ("swap", "offered"),
    [
        (lambda tag: tag[1] + tag[0] + tag[2:], True),
        (lambda tag: tag[:-1] + ("0" if tag[-1] != "0" else "1"), True),
        (lambda tag: tag[:4], False),
    ],
    ids=["swapped pair", "wrong last character", "half a tag"],
)
def test_a_mistyped_tag_offers_the_one_that_was_meant(cli: Cli, small: SmallVault, swap: object, offered: bool) -> None:
    """Tags of the vault that lie one mistake away, never the vault's other tags."""
    tag = small.tags["CH-007"]
    result = cli("show", swap(tag))  # type: ignore[operator]
    assert result.exit_code == 1
    assert (f"Did you mean {tag[:4]} {tag[4:8]} {tag[8:]}?" in result.stderr) is offered


@pytest.mark.parametrize("typed", ["{0} {1} {2}", "{0}-{1}-{2}"])
def test_a_tag_may_be_typed_as_it_is_printed(cli: Cli, small: SmallVault, typed: str) -> None:
    """In groups, with hyphens, in small letters."""
    tag = small.tags["CH-007"]
    assert cli("show", typed.format(tag[:4], tag[4:8], tag[8:]).lower()).exit_code == 0


def test_a_failed_command_leaves_no_file(cli: Cli) -> None:
    """A refused label and a refused signer leave neither picture nor key file."""
    assert cli("label", "@CH-007", "7K3D9QXW6", "--out", "l.pdf", key="I01").exit_code == 1
    assert cli("signer", "add", "X1", "--role", "stores", "--new-key", "x.key", key="I01").exit_code == 1
    assert not Path("l.pdf").exists() and not Path("x.key").exists()


@pytest.mark.parametrize("stop", [KeyboardInterrupt, click.Abort])
@pytest.mark.parametrize("options", [(), ("--json",)])
def test_stopping_by_hand_says_what_stands(cli: Cli, monkeypatch: pytest.MonkeyPatch, stop: type[BaseException],
                                           options: tuple[str, ...]) -> None:
    """Ctrl-C at work or at a question: exit code 1, and that nothing but what was told is signed."""
    monkeypatch.setattr("vault.actions.handover.hand_over", Mock(side_effect=stop))
    result = cli("handover", "new.csv", *options, key="I01")
    assert result.exit_code == 1 and "nothing else was signed" in result.output


def test_a_label_is_not_issued_under_a_wrong_checkpoint_key(cli: Cli, ready: SmallVault) -> None:
    """The checkpoint beside the labels is signed last; its key is tried before anything is drawn or signed."""
    before = ready.sizes()
    result = cli("--checkpoint-key", str(ready.keys_folder / "I01.key"), "label", "@CH-007", "--out", "l.png", key="I01")
    assert (result.exit_code, Path("l.png").exists(), ready.sizes()) == (2, False, before)
    assert "not this vault's checkpoint key" in result.stderr
