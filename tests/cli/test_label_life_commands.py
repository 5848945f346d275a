"""found, labels and withdraw-label on the command line, and what show says of labels."""

from __future__ import annotations

import json
from typing import Any

import pytest
from small_vault import NOW_S, Cli, SmallVault

from vault.domain.tag import shown, to_bytes
from vault.trust.statements import IssuedLabel, IssueReason, Kind, LabelIssue


@pytest.fixture
def printed(small: SmallVault, cli: Cli) -> Cli:
    """CH-007 with two label copies, the second a reprint; copy 1 is on the housing."""
    seen = small.seen("CH-007")
    for copy, why in ((1, IssueReason.FIRST), (2, IssueReason.REPRINT)):
        small.sign("I01", Kind.LABEL_ISSUE, LabelIssue(time_s=NOW_S, medium="60x40", why=why, labels=(IssuedLabel(
            tag=to_bytes(seen.tag), record_digest=seen.statement.digest[:8], copy=copy, carries_settings=True),)))
    small.close()
    return cli


def _labels(cli: Cli) -> tuple[int, Any]:
    result = cli("labels", "@CH-007", "--json")
    return result.exit_code, json.loads(result.stdout)


def test_labels_lists_every_copy_with_its_state(printed: Cli) -> None:
    """Nothing is wrong, so the exit code is 0."""
    result = printed("labels", "@CH-007")
    assert result.exit_code == 0
    assert [line.split()[:3] for line in result.stdout.splitlines()[2:]] == [["1", "issued", "yes"], ["2", "issued", "yes"]]


def test_labels_of_a_luminaire_without_any(cli: Cli) -> None:
    """It says so, and nothing is wrong with that."""
    result = cli("labels", "@CH-007")
    assert result.exit_code == 0 and "No label was ever printed" in result.stdout


def test_a_found_label_fails_the_list_until_it_is_withdrawn(printed: Cli) -> None:
    """found is signed and done (0); labels and its finding then fail (1); withdraw-label puts it right."""
    found = printed("found", "@CH-007", "--at", "Store room", "--copy", "2", key="T01")
    assert found.exit_code == 0 and "Label copy 2 was found at Store room" in found.stdout
    code, listed = _labels(printed)
    assert code == 1 and [one["rule"] for one in listed["findings"]] == ["label-elsewhere"]
    gone = printed("withdraw-label", "@CH-007", "--copy", "2", "--because", "wrong housing", key="T01")
    assert (gone.exit_code, gone.stdout) == (0, "Label copy 2 no longer counts.\n")
    code, listed = _labels(printed)
    assert (code, listed["findings"]) == (0, [])
    assert [(one["copy"], one["state"], one["current"], one["because"]) for one in listed["labels"]] == [
        (1, "issued", True, None), (2, "withdrawn", False, "wrong housing")]


def test_show_lists_current_copies_and_findings(printed: Cli) -> None:
    """A label in two places stands among the findings; show itself does not fail for it."""
    printed("placed", "@CH-007", key="T01")
    printed("found", "@CH-007", "--at", "Store room", "--copy", "1", key="T01")
    result = printed("show", "@CH-007")
    assert result.exit_code == 0 and "label-two-places" in result.stdout and "label-elsewhere" in result.stdout
    assert "Label copy 1 of this version, last seen at Store room." in result.stdout
    assert "Label copy 2 of this version, seen on the housing." in result.stdout
    held = json.loads(printed("show", "@CH-007", "--json").stdout)["labels"]
    assert [(one["copy"], one["state"], one["elsewhere"]) for one in held] == [(1, "issued", "Store room"), (2, "placed", None)]


def test_show_asks_for_a_label_that_counts(printed: Cli) -> None:
    """After everything was withdrawn."""
    printed("withdraw-label", "@CH-007", "--because", "housing replaced", key="T01")
    assert "No label that counts shows the newest settings. Print one." in printed("show", "@CH-007").stdout


def test_json_names_what_was_withdrawn(printed: Cli, small: SmallVault) -> None:
    """The tag without blanks and the copies' numbers."""
    result = printed("withdraw-label", "@CH-007", "--because", "torn", "--json", key="T01")
    assert json.loads(result.stdout) == {"tag": small.tags["CH-007"], "withdrawn": [1, 2]}


@pytest.mark.parametrize(("words", "key", "code"), [
    ("found @CH-007 --at Attic", None, 2), ("found @CH-007", "T01", 2), ("found @CH-007 --at Attic --copy 9", "T01", 2),
    ("found @CH-007 --at Attic --copy 0", "T01", 2), ("found @CH-007 --at Attic", "S01", 1),
    ("found 7K3D9QXW6 --at Attic", "T01", 1), ("labels 7K3D9QXW6", None, 1), ("labels nonsense", None, 1),
    ("withdraw-label @CH-007", "T01", 2), ("withdraw-label @CH-007 --copy 9 --because torn", "T01", 2),
    ("withdraw-label @CH-001 --because torn", "T01", 2), ("withdraw-label @CH-007 --because torn", "S01", 1),
])
def test_exit_codes(printed: Cli, words: str, key: str | None, code: int) -> None:
    """2 for wrong use, 1 for what is not found or may not be signed; each with a hint or click's own usage."""
    result = printed(*words.split(" "), key=key)
    assert result.exit_code == code and ("hint:" in result.stderr or "Error:" in result.stderr)


def test_every_luminaire_that_cannot_be_labelled_is_named(cli: Cli, small: SmallVault) -> None:
    """Two of three are frozen: both are named, and no file is made."""
    for reference, place in (("@CH-007", "Foyer"), ("@CH-009", "Attic")):
        assert cli("found", reference, "--at", place, "--hanging", key="I01").exit_code == 0
    done = cli("label", "@CH-006", "@CH-007", "@CH-009", "--sheet", "a4", "--out", "l.pdf", key="I01")
    assert done.exit_code == 1 and "2 of 3" in done.stderr and not (small.folder / "l.pdf").exists()
    assert all(shown(small.tags[reference]) in done.stderr for reference in ("CH-007", "CH-009"))
