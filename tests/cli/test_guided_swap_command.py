"""The guided swap at the command line: from a label's picture to the signature, typed, scripted, killed."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from guided_bench import ADDRESS, ANSWERS, NEIGHBOURS, line_with_spare
from line_server import frame_clock, serving
from simulated_line import SimulatedLine
from small_vault import PASSPHRASE, Cli, SmallVault

from vault.cli.main import main

GATEWAY = ("--gateway", "daliserver.DaliServer", "--gateway-set", "host=127.0.0.1")
# A spare whose current is set by switches: nothing but the current has to be typed.
BY_SWITCHES = ("--spare", "SW-30-750", "--no-stock", "--as", "approved-equivalent")


@pytest.fixture
def line() -> SimulatedLine:
    """Neighbours and the spare."""
    return line_with_spare()


@pytest.fixture
def gateway(line: SimulatedLine) -> Iterator[tuple[str, ...]]:
    """Options that name the gateway to it."""
    with serving(line, clock=frame_clock()) as port:
        yield (*GATEWAY, "--gateway-set", f"port={port}")


@pytest.fixture
def picture(cli: Cli, ready: SmallVault) -> str:
    """The label of CH-007 as a picture."""
    assert cli("label", "@CH-007", "--out", "label.png", key="I01").exit_code == 0
    ready.close()
    return "label.png"


def _typed(ready: SmallVault, *words: str, typed: str) -> Result:
    options = ["--vault", "vault.db", "--key", str(ready.keys_folder / "T01.key")]
    return CliRunner(env={"GEARKEEP_PASSPHRASE": PASSPHRASE}).invoke(main, [*options, *words], input=typed)


def _answers(folder: Path, **more: str) -> str:
    lines = [f'"{key}" = "{value}"' for key, value in (ANSWERS | more).items()]
    (folder / "answers.toml").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return "answers.toml"


def test_from_a_picture_with_nothing_typed_but_confirmations_and_the_current(
        ready: SmallVault, picture: str, gateway: tuple[str, ...], line: SimulatedLine) -> None:
    """Right luminaire, cautions, set by hand, over the bus, the current and how it is known, tests, old driver, signature."""
    typed = "\n".join(["yes", "yes", "yes", "yes", "700", "photograph", "", "", "all", "scrapped", "yes"]) + "\n"
    done = _typed(ready, "swap", picture, *BY_SWITCHES, *gateway, typed=typed)
    assert done.exit_code == 0, done.output
    assert ready.seen("CH-007").record.version == 2 and not ready.seen("CH-007").provisional
    assert line.count_by_address() == dict.fromkeys((*NEIGHBOURS, ADDRESS), 1)


def test_the_words_of_a_guided_swap(ready: SmallVault, picture: str, gateway: tuple[str, ...]) -> None:
    """Every part has its heading in order, a question mark shows what may be answered, the end says what to keep."""
    typed = "\n".join(["?", "yes", "yes", "yes", "yes", "700", "photograph", "", "", "all", "scrapped", "yes"]) + "\n"
    output = _typed(ready, "swap", picture, *BY_SWITCHES, *gateway, typed=typed).output
    places = [output.index(f"── {title}") for title in (
        "Is it the right luminaire?", "Cautions", "Set the spare", "Over the bus", "Type in what the new driver reads",
        "What was read", "Test again", "What the change amounts to", "The old driver", "Signature")]
    assert places == sorted(places) and "Keep swap-" in output
    assert "Allowed: yes, place, type, unsure." in output


def test_a_script_answers_by_key(cli: Cli, ready: SmallVault, gateway: tuple[str, ...]) -> None:
    """With a file of answers nothing is asked, and --json prints one object."""
    done = cli("swap", "@CH-007", "--answers", _answers(ready.folder), *gateway, "--json", key="T01")
    held = json.loads(done.output)
    assert done.exit_code == 0 and (held["version"], held["signed"], held["matched"]) == (2, True, True)


@pytest.mark.parametrize(("content", "kind"), [
    ('"right-luminaire" = "perhaps"\n', "bad-answer"), ("", "no-answer"), ("nonsense", "bad-answers"),
    ("sign = true\n", "bad-answers"), ('sing = "yes"\n', "bad-answers"),
])
def test_answers_that_cannot_be_used(cli: Cli, ready: SmallVault, content: str, kind: str) -> None:
    """A wrong word, a missing answer, no TOML, a value of another kind: named, exit code 2."""
    (ready.folder / "answers.toml").write_text(content, encoding="utf-8")
    done = cli("swap", "@CH-007", "--answers", "answers.toml", "--json", key="T01")
    assert (done.exit_code, json.loads(done.output)["error"]["kind"]) == (2, kind)


def test_an_end_of_the_input_keeps_what_was_answered(ready: SmallVault, picture: str, gateway: tuple[str, ...]) -> None:
    """The terminal closes in the middle; the same command goes on with the questions that are left."""
    begun = _typed(ready, "swap", picture, *BY_SWITCHES, *gateway, typed="yes\nyes\nyes\nyes\n700\n")
    assert begun.exit_code == 2 and "is kept" in begun.output
    ready.close()
    rest = _typed(ready, "swap", picture, *BY_SWITCHES, *gateway, typed="yes\nyes\nphotograph\n\n\nall\nscrapped\nyes\n")
    assert rest.exit_code == 0, rest.output
    assert ready.seen("CH-007").record.version == 2


@pytest.mark.parametrize("words", [
    ("swap", "@CH-007"), ("swap", "@CH-007", "--gateway-set", "host=1", "--spare", "SW-30-750", "--folder", "f")])
def test_a_guided_swap_without_its_means_is_wrong_use(cli: Cli, words: tuple[str, ...]) -> None:
    """Without a key it says so before anything is asked; settings of a gateway without its name are refused."""
    assert cli(*words).exit_code == 2


@pytest.mark.parametrize("lines", [2, 12, 36])
def test_a_killed_process_goes_on(ready: SmallVault, tmp_path: Path, lines: int) -> None:
    """kill -9 once so many notes stand in its folder; the next process ends the swap with one gear at the address."""
    gear = [{"short_address": address, "seed": 100 + address} for address in NEIGHBOURS]
    spec = {"gear": [*gear, {"seed": 7, "serial": 880412}]}
    (tmp_path / "spec.json").write_text(json.dumps(spec), encoding="utf-8")
    server = Path(__file__).resolve().parents[1] / "bus" / "line_server.py"
    ready.close()
    with subprocess.Popen([sys.executable, str(server), "--spec", str(tmp_path / "spec.json")], stdout=subprocess.PIPE,
                          text=True) as gateway:
        try:
            assert gateway.stdout is not None
            port = gateway.stdout.readline().strip()
            words = [sys.executable, "-m", "vault.cli.main", "--vault", "vault.db", "--key", str(ready.keys_folder / "T01.key"),
                     "swap", ready.tags["CH-007"], "--answers", _answers(ready.folder), "--folder", "work", *GATEWAY,
                     "--gateway-set",
                     f"port={port}", "--json"]
            first = subprocess.Popen(words, cwd=ready.folder, env=_env(), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            _kill_when(first, ready.folder / "work", lines)
            done = subprocess.run(words, cwd=ready.folder, env=_env(), capture_output=True, text=True, check=False)
        finally:
            gateway.send_signal(signal.SIGTERM)
            gateway.wait()
    assert done.returncode == 0, done.stdout + done.stderr
    assert ready.seen("CH-007").record.version == 2 and ready.sizes()[1] == 2


def _env() -> dict[str, str]:
    return {**os.environ, "GEARKEEP_PASSPHRASE": PASSPHRASE, "PYTHONPATH": str(Path(__file__).resolve().parents[2])}


def _kill_when(process: subprocess.Popen[bytes], folder: Path, lines: int) -> None:
    """Kill it when its notes have so many lines, or let it end where it has fewer."""
    while process.poll() is None:
        if sum(path.read_bytes().count(b"\n") for path in folder.glob("*.jsonl")) >= lines:
            process.kill()
        time.sleep(0.005)
