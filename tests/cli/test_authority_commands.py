"""The authority's commands as people type them: rotate, request, endorse, appoint; signers that end; co-signed checkpoints."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from small_vault import PASSPHRASE, Cli

from vault.cli.main import main


def typed(*words: str, paper: str | None = None) -> Result:
    """A command in this folder."""
    return CliRunner(env={"GEARKEEP_PASSPHRASE": PASSPHRASE}).invoke(main, list(words), input=paper)


@pytest.fixture
def papers(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """A new vault in this folder with two of three recovery keys; their papers."""
    monkeypatch.chdir(tmp_path)
    for name in ("VAULT", "KEY", "CHECKPOINT_KEY", "PASSPHRASE"):
        monkeypatch.delenv(f"GEARKEEP_{name}", raising=False)
    made = typed("init", "--host", "lx.example.eu", "--site", "Baths", "--recovery", "2of3", "--json")
    found: list[str] = json.loads(made.stdout)["recovery_keys"]
    return found


def answer(*words: str, **others: Any) -> Any:
    """The JSON that a command prints."""
    return json.loads(typed(*words, "--json", **others).stdout)


def test_the_whole_way_from_a_lost_key_to_a_new_authority(papers: list[str]) -> None:
    """A request, two endorsements made elsewhere from a list of signers, the appointment; then the new key grants."""
    typed("signer", "export", "signers.json")
    assert typed("authority", "request", "AUTH2", "--new-key", "new.key", "--end-others", "--out", "request.txt").exit_code == 0
    for number in (1, 3):
        done = typed("--vault", "nowhere.db", "authority", "endorse", "request.txt", "--trust", "signers.json", "--yes",
                     "--paper", "-", "--out", f"e{number}.txt", paper=papers[number - 1])
        assert done.exit_code == 0 and "The vault is Baths." in done.output and papers[number - 1][:4] not in done.output
    few = typed("--key", "new.key", "authority", "appoint", "request.txt", "e1.txt")
    assert few.exit_code == 1 and "it takes 2" in few.output
    whole = typed("--key", "new.key", "authority", "appoint", "request.txt", "e1.txt", "e3.txt")
    assert whole.exit_code == 0 and "Every authority before it ended" in whole.output
    assert [one["code"] for one in answer("authority", "show")["authorities"]] == ["AUTH2"]
    assert typed("--key", "new.key", "signer", "add", "T01", "--role", "technician", "--new-key", "t.key").exit_code == 0
    assert typed("audit").exit_code == 0


@pytest.mark.usefixtures("papers")
def test_rotation_in_one_command() -> None:
    """The old key ends, the new one is there."""
    done = answer("--key", "keys/authority.key", "authority", "rotate", "AUTH2", "--new-key", "new.key")
    assert (done["old"], done["new"], done["granted_at"], done["withdrawn_at"]) == ("AUTH", "AUTH2", 1, 2)
    again = typed("--key", "keys/authority.key", "authority", "rotate", "AUTH3", "--new-key", "third.key")
    assert again.exit_code == 1 and not Path("third.key").exists()


def test_init_and_show_name_the_recovery_keys_alike(papers: list[str]) -> None:
    """Fingerprints of the public halves, never the papers."""
    shown = typed("authority", "show").output
    marks = answer("authority", "show")["recovery_fingerprints"]
    assert len(marks) == 3 and all(mark in shown for mark in marks) and papers[0].splitlines()[0] not in shown


@pytest.mark.usefixtures("papers")
@pytest.mark.parametrize(("words", "paper", "kind"), [
    (["--yes", "--paper", "-"], "nonsense", "bad-key"),
    (["--paper", "-"], None, "not-confirmed"),
    (["--yes", "--paper", "no-such-file"], None, "cannot-open"),
], ids=["a paper that is none", "nobody to ask", "no file"])
def test_what_is_not_endorsed(words: list[str], paper: str | None, kind: str) -> None:
    """Each says why."""
    typed("authority", "request", "AUTH2", "--new-key", "new.key", "--out", "request.txt")
    assert answer("authority", "endorse", "request.txt", *words, paper=paper)["error"]["kind"] == kind


@pytest.mark.usefixtures("papers")
@pytest.mark.parametrize("command", ["endorse", "appoint"])
def test_a_file_that_is_no_request(command: str) -> None:
    """Another file's text is refused by name."""
    Path("x.txt").write_text("hello", encoding="utf-8")
    assert answer("authority", command, "x.txt", *(["x.txt"] if command == "appoint" else []))["error"]["kind"] == "not-a-request"


# --- signers that end, and keys in doubt ---


@pytest.mark.usefixtures("papers")
def test_a_signer_that_ends_is_listed_with_its_day() -> None:
    """The list says until when, and warns where that is near; a day that is none is refused."""
    add = ["--key", "keys/authority.key", "signer", "add", "T01", "--role", "technician", "--new-key", "t.key", "--until"]
    assert answer(*add, "2031-13-01")["error"]["kind"] == "bad-date"
    assert answer(*add, "2020-01-01")["error"]["kind"] == "bad-date" and not Path("t.key").exists()
    assert answer(*add, "2199-12-31")["until"] == "2199-12-31"
    listed = answer("signer", "list")
    assert [one["until"] for one in listed["signers"]] == [None, "2199-12-31"] and listed["ending"] == []


def test_a_stolen_key_is_said_so(cli: Cli) -> None:
    """What was signed behind the last trusted entry is in doubt, and show says so and fails."""
    done = cli("signer", "withdraw", "I01", "--because", "stolen", "--trusted-until", "20", key="authority")
    assert done.exit_code == 0 and "behind entry 20 is in doubt" in done.output
    seen = cli("show", "@CH-007")
    assert seen.exit_code == 1 and "whose key was in wrong hands" in seen.output


# --- co-signed checkpoints ---


@pytest.mark.usefixtures("papers")
def test_a_checkpoint_with_two_signatures() -> None:
    """The second is checked by its own public file; the audit takes the note as before; a changed one is refused."""
    typed("--checkpoint-key", "keys/checkpoint.key", "checkpoint", "--out", "c.txt")
    assert typed("cosign", "key", "far.key").exit_code == 0
    assert typed("cosign", "add", "c.txt", "--cosign-key", "far.key", "--out", "both.txt").exit_code == 0
    assert answer("cosign", "check", "both.txt", "--cosigner", "far.key.pub")["size"] == 1
    assert typed("audit", "--checkpoint", "both.txt").exit_code == 0
    assert answer("cosign", "check", "c.txt", "--cosigner", "far.key.pub")["error"]["kind"] == "unknown-signer"
    Path("changed.txt").write_text(Path("both.txt").read_text(encoding="utf-8").replace("\n1\n", "\n2\n"), encoding="utf-8")
    assert answer("cosign", "check", "changed.txt", "--cosigner", "far.key.pub")["error"]["kind"] == "bad-signature"
    refused = answer("cosign", "add", "c.txt", "--cosign-key", "keys/authority.key", "--out", "x.txt")
    assert refused["error"]["kind"] == "bad-key" and not Path("x.txt").exists()
