"""gearkeep import and adopt as they are typed."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from small_pack import authority_of, build_ours, copy_of_ours, write_pack
from small_vault import HOST, PASSPHRASE, SmallVault

from vault.cli.main import main

Run = Callable[..., Result]


@pytest.fixture
def here(small: SmallVault, tmp_path: Path, tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> Run:
    """Runs a command in a folder with our vault and a pack of the small one. key: whose key file is used."""
    ours = copy_of_ours(build_ours(tmp_path_factory.getbasetemp() / "our-vault"), tmp_path / "ours")
    write_pack(small, ours.folder / "pack", upto=60)
    write_pack(small, ours.folder / "newer")
    small.close()
    monkeypatch.chdir(ours.folder)

    def run(*words: str, key: str | None = None, asked: str | None = None) -> Result:
        options = ["--vault", "vault.db", *(["--key", str(ours.keys_folder / f"{key}.key")] if key else [])]
        return CliRunner(env={"GEARKEEP_PASSPHRASE": PASSPHRASE}).invoke(main, [*options, *words], input=asked)

    return run


def test_a_pack_is_imported_listed_shown_and_adopted(here: Run, small: SmallVault) -> None:
    """The whole way: import, a newer one, the same again, list, find, show, history, adopt, show the new one."""
    words = ("--authority", authority_of(small))
    first = here("import", "pack", *words, key="authority")
    assert first.exit_code == 0 and "60 entries verified; 60 came in" in first.stdout
    newer = here("import", "newer", *words, key="authority")
    assert "the first 60 of them the same as imported before; 3 came in" in newer.stdout
    assert "Nothing new" in here("import", "newer", *words, key="authority").stdout
    (listed,) = json.loads(here("import", "--list", "--json").stdout)["logs"]
    assert (listed["site"], listed["size"], listed["luminaires"], listed["adopted"]) == ("Test Baths", 63, 19, 0)
    tag = small.tags["CH-007"]
    assert "Test Baths (log " in here("find", "CH-007").stdout
    shown = here("show", f"{tag}@{HOST}")
    assert shown.exit_code == 0 and "not adopted: shown read-only" in shown.stdout and "700 mA" in shown.stdout
    assert json.loads(here("history", tag, "--json").stdout)["taken"]["site"] == "Test Baths"
    assert json.loads(here("fit", tag, "--json").stdout)["taken"]["host"] == HOST.upper()
    refused = here("move", tag, "--place", "Attic", key="I01")
    assert refused.exit_code == 1 and "gearkeep adopt" in refused.stderr
    done = json.loads(here("adopt", tag, "--json", key="I01").stdout)
    new = done["adopted"][0]["tag"]
    assert "Adopted from" in here("show", new).stdout and "adopted here as" in here("scan", "--text", tag).stdout
    assert json.loads(here("show", new, "--json").stdout)["adopted_from"]["verified"] is True
    again = here("adopt", tag, key="I01")
    assert again.exit_code == 0 and "skipped" in again.stdout and "0 adopted, 1 adopted before, 0 refused." in again.stdout


def test_a_pack_that_contradicts_the_one_before_leaves_evidence(here: Run, small: SmallVault) -> None:
    """An older pack after a newer one: refused, both notes kept."""
    words = ("--authority", authority_of(small))
    here("import", "newer", *words, key="authority")
    result = here("import", "pack", *words, key="authority")
    assert result.exit_code == 1 and "kept in evidence" in result.stderr
    assert len(list(Path("evidence").iterdir())) == 3


@pytest.mark.parametrize(("words", "key", "code", "said"), [
    (["import"], "authority", 2, "Which pack"), (["import", "--list", "pack"], None, 2, "--list reads no pack"),
    (["import", "pack"], "authority", 2, "which authority"), (["import", "nowhere", "--authority", "0" * 32], "authority", 2,
                                                              "no pack at"),
    (["import", "pack", "--authority", "0" * 32], "authority", 1, "not of the authority that was named"),
    (["import", "pack", "--authority", "none"], "authority", 2, "neither the authority's public key"),
    (["import", "pack", "--authority", "0" * 32], None, 2, "no key file was given"),
    (["import", "pack", "--authority", "0" * 32], "I01", 1, "may not sign this: take over"),
    (["adopt"], "I01", 2, "was not said"), (["adopt", "--all", "28T5CY4G7@0001"], "I01", 2, "every one already"),
    (["adopt", "--all"], "I01", 2, "Nothing was taken over"),
])
def test_wrong_use_says_what_to_do(here: Run, words: list[str], key: str | None, code: int, said: str) -> None:
    """Exit codes and words."""
    result = here(*words, key=key)
    assert result.exit_code == code and said in result.stderr and "hint:" in result.stderr


@pytest.mark.parametrize(("answer", "code"), [("y\n", 0), ("n\n", 1)])
def test_at_a_terminal_the_fingerprint_is_asked_for(here: Run, small: SmallVault, monkeypatch: pytest.MonkeyPatch, answer: str,
                                                    code: int) -> None:
    """It is shown, and nothing comes in without a yes."""
    monkeypatch.setattr("vault.cli.take_over._at_a_terminal", lambda: True)
    result = here("import", "pack", key="authority", asked=answer)
    assert result.exit_code == code and authority_of(small) in result.stderr
    assert len(json.loads(here("import", "--list", "--json").stdout)["logs"]) == 1 - code


def test_many_adopted_are_told_in_short(here: Run, small: SmallVault) -> None:
    """Ten one by one, the others as a number; all of them in the journal."""
    here("import", "pack", "--authority", authority_of(small), key="authority")
    done = here("adopt", "--all", key="I01")
    assert done.stdout.count("adopted from") == 10 and "and 6 more adopted without a remark" in done.stdout
    assert "16 adopted, 0 adopted before" in done.stdout
