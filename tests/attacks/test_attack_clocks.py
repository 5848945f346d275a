"""Attacks by dates, version numbers and made-up pasts, by somebody who holds a good key. Rows of the table in DEVELOPERS.md."""

from __future__ import annotations

import json
import time
from dataclasses import replace
from typing import Any

import pytest
from attackers import checkpoint_of, journal_of, refused, resigned, words_of_audit, write_journal
from click.testing import CliRunner
from small_vault import NOW_S, SmallVault

from vault.actions.changes import move
from vault.actions.dating import dated_ahead
from vault.actions.keeping import signer_list
from vault.actions.setup import withdraw_signer
from vault.cli.main import main
from vault.domain.record import ChangeClass, Reason
from vault.trust.statements import Approval, Kind

DAY_S = 86_400


def _next(small: SmallVault, **changes: Any) -> Any:
    seen = small.seen("CH-007")
    fields = {"version": 2, "predecessors": seen.statement.digest[:16], "reason": Reason.SETTINGS_CHANGED, "time_s": NOW_S}
    return replace(seen.record, **{**fields, **changes})


def _gearkeep(small: SmallVault, *words: str) -> str:
    small.close()
    return CliRunner().invoke(main, ["--vault", str(small.path), *words]).stdout


def test_a_statement_dated_ahead(small: SmallVault) -> None:
    """A version dated years from now: taken in, for clocks are wrong, and named by show and by scan with and without a vault."""
    ahead = _next(small, time_s=int(time.time()) + 4000 * DAY_S)
    small.open().append_signed(resigned(small, Kind.RECORD, ahead, small.keys["T01"]))
    label, lists = small.label_text("CH-007"), small.folder / "signers.json"
    lists.write_text(signer_list(small.open()), encoding="utf-8")
    told = json.loads(_gearkeep(small, "show", small.tags["CH-007"], "--json"))
    assert {finding["rule"]: finding["severity"] for finding in told["findings"]}["dated-ahead"] == "care"
    for words in (("show", small.tags["CH-007"]), ("scan", "--text", label), ("scan", "--text", label, "--trust", str(lists))):
        assert " days ahead; allowed no later than today" in _gearkeep(small, *words)
    assert words_of_audit(small) == set()


@pytest.mark.parametrize(("ahead_s", "rules"), [
    (-DAY_S, []), (DAY_S, []), (DAY_S + 1, ["dated-ahead"]), (2**40 - NOW_S, ["dated-ahead"])])
def test_a_date_within_a_day(small: SmallVault, ahead_s: int, rules: list[str]) -> None:
    """A wrong time zone is no attack: only what lies more than a day ahead is named."""
    record = replace(small.seen("CH-007").record, time_s=NOW_S + ahead_s)
    assert [finding.rule for finding in dated_ahead(record, NOW_S)] == rules


def test_an_honest_signature_that_comes_late(small: SmallVault) -> None:
    """Signed on a ladder without a network and journaled six days later, behind a newer entry: nothing is found wrong with it."""
    move(small.desk("I01"), small.tags["CH-007"], place="Here", line=None, circuit=None, address=None)
    seen = small.seen("CH-007")
    late = replace(seen.record, version=3, predecessors=seen.statement.digest[:16], time_s=NOW_S - 6 * DAY_S)
    small.open().append_signed(resigned(small, Kind.RECORD, late, small.keys["T01"]))
    assert not {"dated-back", "dated-ahead"} & {finding.rule for finding in small.seen("CH-007").findings}
    assert words_of_audit(small) == set()


@pytest.mark.parametrize("version", [3, 60_000, 1, 0])
def test_a_version_number_far_ahead(small: SmallVault, version: int) -> None:
    """Fast-forward: a version counts one more than those it follows, so nobody makes honest ones look old."""
    body = _next(small, version=version)
    assert refused(lambda: small.open().append_signed(resigned(small, Kind.RECORD, body, small.keys["T01"]))) in (
        "bad-chain", "bad-payload")


def test_a_past_that_is_made_up(small: SmallVault) -> None:
    """Another first version, dated before the real one, and a version behind nothing: the tag was used, the chain is broken."""
    first = replace(small.seen("CH-007").record, time_s=NOW_S - 900 * DAY_S, place="Elsewhere")
    signed = resigned(small, Kind.RECORD, first, small.keys["I01"])
    assert refused(lambda: small.open().append_signed(signed)) == "tag-in-use"
    second = _next(small, predecessors=b"x" * 16)
    assert refused(lambda: small.open().append_signed(resigned(small, Kind.RECORD, second, small.keys["T01"]))) == "bad-chain"


def test_a_past_that_is_made_up_in_the_tables(small: SmallVault) -> None:
    """The same put into the journal with hashes that fit: the audit names it as what nobody accepted, and a checkpoint from
    before sees a fork.
    """
    kept, before = checkpoint_of(small), journal_of(small)
    seen = small.seen("CH-007")
    first = resigned(small, Kind.RECORD, replace(seen.record, time_s=NOW_S - 900 * DAY_S, place="Elsewhere"), small.keys["I01"])
    write_journal(small, [*before[:-5], first, *before[-5:]])
    assert {"not-accepted", "fork"} <= words_of_audit(small, kept)


def test_a_withdrawn_key_in_the_tables(small: SmallVault) -> None:
    """What a withdrawn key signs and somebody puts into the journal: named, and shown by nobody."""
    signed = resigned(small, Kind.RECORD, _next(small), small.keys["T01"])
    withdraw_signer(small.desk("authority"), code="T01", reason="left")
    write_journal(small, [*journal_of(small), signed])
    assert "withdrawn-signer" in words_of_audit(small)
    assert refused(lambda: small.seen("CH-007")) == "withdrawn-signer"


def test_an_approval_of_another_record(small: SmallVault) -> None:
    """An approval names one record by its digest: repeated for a later one it lifts nothing."""
    signed = resigned(small, Kind.RECORD, _next(small, open_stops="fit"), small.keys["T01"])
    digest = small.open().append_signed(signed).digest
    body = Approval(record_digest=digest, accepts="fit", change_class=ChangeClass.MODIFICATION, because="seen", time_s=NOW_S)
    small.open().append_signed(resigned(small, Kind.APPROVAL, body, small.keys["P01"]))
    assert not small.seen("CH-007").provisional
    later = replace(_next(small), version=3, predecessors=digest[:16], open_stops="fit")
    small.open().append_signed(resigned(small, Kind.RECORD, later, small.keys["T01"]))
    assert small.seen("CH-007").open_stops == {"fit"}
