"""What holds of every command: help with an example, JSON, and no passphrase on the command line."""

from __future__ import annotations

import shlex
from collections.abc import Iterator

import click
import pytest
from click.testing import CliRunner

from vault.cli.main import COMMANDS, main


def _walk(command: click.Command, words: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], click.Command]]:
    yield words, command
    if isinstance(command, click.Group):
        context = click.Context(command)
        for name in command.list_commands(context):
            below = command.get_command(context, name)
            assert below is not None
            yield from _walk(below, (*words, name))


ALL = list(_walk(main, ()))
LEAVES = [(words, command) for words, command in ALL if not isinstance(command, click.Group)]
NAMES = [" ".join(words) for words, _ in LEAVES]
ALL_NAMES = [" ".join(words) or "gearkeep" for words, _ in ALL]
EVERY = pytest.mark.parametrize(("words", "command"), ALL, ids=ALL_NAMES)
LEAF = pytest.mark.parametrize(("words", "command"), LEAVES, ids=NAMES)
LEAF_COMMAND = pytest.mark.parametrize("command", [command for _, command in LEAVES], ids=NAMES)
ANY_COMMAND = pytest.mark.parametrize("command", [command for _, command in ALL], ids=ALL_NAMES)


@EVERY
def test_help_runs_and_shows_an_example(words: tuple[str, ...], command: click.Command) -> None:
    """Every command and group explains itself in a sentence and shows how it is typed."""
    result = CliRunner().invoke(main, [*words, "--help"])
    assert result.exit_code == 0 and "Example: gearkeep" in result.output
    assert command.help and command.help.strip().partition("\n")[0].rstrip().endswith((".", ":", ","))


@LEAF_COMMAND
def test_every_command_prints_json_when_asked(command: click.Command) -> None:
    """--json is an option of each."""
    assert "--json" in [name for parameter in command.params for name in parameter.opts]


@LEAF_COMMAND
def test_every_option_says_what_it_is_for(command: click.Command) -> None:
    """No option without a word of help."""
    options = [p for p in command.params if isinstance(p, click.Option)]
    assert [option.name for option in options if not option.help] == []


@LEAF
def test_the_example_is_of_this_command_and_its_options_exist(words: tuple[str, ...], command: click.Command) -> None:
    """What the example types is what the command takes."""
    typed = shlex.split((command.epilog or "").removeprefix("Example: gearkeep "))
    known = {name for parameter in (*command.params, *main.params) for name in (*parameter.opts, *parameter.secondary_opts)}
    assert " ".join(words) in " ".join(typed)
    assert {word for word in typed if word.startswith("--")} <= known


@ANY_COMMAND
def test_a_passphrase_is_never_an_argument(command: click.Command) -> None:
    """The one option about it names a file descriptor by its number: arguments are seen by everybody on the machine."""
    named = [p for p in command.params if "pass" in (p.name or "") or any("pass" in name for name in p.opts)]
    assert [(p.name, p.type) for p in named if p.name != "passphrase_fd" or p.type is not click.INT] == []


@pytest.mark.parametrize("option", ["--passphrase", "--password", "--passphrase-fd"])
def test_a_passphrase_typed_on_the_command_line_is_refused(option: str) -> None:
    """Whatever it is called."""
    result = CliRunner().invoke(main, [option, "wet feet", "audit"])
    assert result.exit_code == 2


def test_the_overview_names_every_command() -> None:
    """Each with the line that the table gives it."""
    overview = CliRunner().invoke(main, ["--help"]).output
    assert [name for name in COMMANDS if f"\n  {name} " not in overview] == []


def test_an_unknown_command_is_wrong_use() -> None:
    """Exit code 2."""
    assert CliRunner().invoke(main, ["frobnicate"]).exit_code == 2
