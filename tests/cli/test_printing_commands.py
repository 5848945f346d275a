"""gearkeep label and gearkeep mark as they are typed."""

from __future__ import annotations

import json

import pytest
from small_vault import Cli, SmallVault

OWN = ("[[medium]]\nname='70x45'\nwidth_mm=70\nheight_mm=45\n[[sheet]]\nname='two'\nwidth_mm=200\nheight_mm=100\n"
       "columns=2\nrows=1\nleft_mm=10\ntop_mm=10\nacross_mm=80\ndown_mm=60\n")


@pytest.mark.parametrize(
    "words",
    [
        ("--out", "one.svg"), ("--out", "one.pdf", "--sheet", "a4"), ("--out", "one.png", "--medium", "102x51", "--dpi", "203"),
        ("--out", "one.pdf", "--medium", "70x45", "--media", "own.toml", "--sheet", "two"),
        ("--out", "one.png", "--medium", "50x25", "--dpi", "203", "--link-only"), ("--out", "one.png", "--replace"),
    ],
)  # fmt: skip
def test_a_label_is_printed_as_asked(cli: Cli, ready: SmallVault, words: tuple[str, ...]) -> None:
    """Every kind of file, size, printer and sheet, and the user's own."""
    (ready.folder / "own.toml").write_text(OWN, encoding="utf-8")
    result = cli("label", "@CH-007", *words, key="I01")
    assert result.exit_code == 0, result.output
    assert "1 label in one." in result.output


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--medium", "61x40"), "There is: 60x40, 50x25, 76x51, 102x51"),
        (("--sheet", "a5"), "There is: a4, letter"),
        (("--media", "none.toml"), "none.toml cannot be read"),
        (("--reprint", "--replace"), "opposite things"),
    ],
)
def test_a_wrong_wish_says_what_there_is(cli: Cli, words: tuple[str, ...], said: str) -> None:
    """An unknown size, sheet or file is refused with those that are known."""
    result = cli("label", "@CH-007", "--out", "one.pdf", *words, key="I01")
    assert result.exit_code != 0
    assert said in result.output + result.stderr


def test_a_record_too_big_for_its_label_names_the_sizes_that_do(cli: Cli) -> None:
    """And how to go on without the settings in the code."""
    result = cli("label", "@CH-007", "--out", "one.png", "--medium", "50x25", "--dpi", "203", key="I01")
    assert result.exit_code == 1
    assert "It finds room on: 60x40" in result.stderr


@pytest.mark.parametrize(
    "words", [("bin", "MAIN", "A1"), ("spare", "GEN-50-1050", "--serial", "G5-0412"), ("line", "D1", "--medium", "102x51")]
)
def test_other_labels_are_drawn_without_a_key(cli: Cli, words: tuple[str, ...]) -> None:
    """They carry nothing signed, so nobody has to sign."""
    result = cli("mark", *words, "--out", "mark.png", "--json")
    assert result.exit_code == 0, result.output
    assert json.loads(result.stdout)["left_off"] == []
    assert cli("mark", *words, "--out", "mark.png").exit_code == 2  # it is there already
