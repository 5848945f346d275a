"""Movements and terms that a stolen key signed: who is told, and what answers for them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from click.testing import CliRunner
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from small_vault import NOW_S, SmallVault

from vault.actions.desk import Desk
from vault.actions.hold_asked import HoldAsked
from vault.actions.holding import hold_plan
from vault.actions.reorder import reorder
from vault.actions.setup import add_signer, withdraw_signer
from vault.actions.stock import Said, one_movement
from vault.actions.stock_doubts import stock_doubts
from vault.actions.stock_load import load_stock
from vault.actions.today import today
from vault.actions.weekly import week, week_text
from vault.cli.main import main
from vault.db.audit import run_audit
from vault.db.stock_doubts import doubtful_stock
from vault.domain.stock import Act, Condition, Movement, MovementLine
from vault.domain.terms import ItemTerms, SupplyTerms
from vault.errors import VerificationError
from vault.trust.keys import public_bytes
from vault.trust.statements import Kind, Role

SPARE, OTHER, REFERENCE = "GEN-50-1050", "GEN-25-800", "CH-007"
PRICE = f"model,price,currency,lead_days\n{SPARE},41.50,EUR,28\n"


def moved(small: SmallVault, code: str, act: Act, quantity: int, **line: Any) -> None:
    """One movement of the spare in A1 of MAIN."""
    said = line.pop("said", None) or Said(reason="count")
    one_movement(small.desk(code), act=act, store="MAIN", model=line.pop("model", SPARE), quantity=quantity,
                 bin_name=line.pop("bin_name", "A1"), said=said, **line)


def terms(small: SmallVault, desk: Desk, text: str = PRICE) -> None:
    """A list of terms loaded."""
    path = small.folder / "terms.csv"
    path.write_text(text, encoding="utf-8")
    load_stock(desk, path, store="MAIN", sure=True)


def withdrawn(small: SmallVault, did: Callable[[SmallVault], object], code: str = "S01") -> None:
    """Somebody acts with the key, which is then withdrawn, trusted up to before. Something honest was signed in between, so that
    what the key signed is seen to be behind the last trusted entry.
    """
    last = small.sizes()[0] - 1
    add_signer(small.desk("authority"), code="S02", roles=frozenset({Role.STORES}), public_key=public_bytes(GOOD), name=None)
    did(small)
    withdraw_signer(small.desk("authority"), code=code, reason="stolen", trusted_until=last)


GOOD = Ed25519PrivateKey.from_private_bytes(bytes([11]) * 32)


def good(small: SmallVault) -> Desk:
    """The desk of the signer who comes after."""
    return Desk(vault=small.open(), key_source=lambda: GOOD, now_s=lambda: NOW_S)


def again(small: SmallVault, act: Act, quantity: int, **line: Any) -> None:
    """One movement by the signer who comes after."""
    said = line.pop("said", None) or Said(reason="count")
    one_movement(good(small), act=act, store=line.pop("store", "MAIN"), model=SPARE, quantity=quantity,
                 bin_name=line.pop("bin_name", "A1"), said=said, **line)


def named(small: SmallVault) -> list[str]:
    """What is in doubt."""
    with small.open().reading() as session:
        return [one.what for one in doubtful_stock(session)]


def test_what_a_stolen_key_counted_and_agreed_is_told_everywhere(small: SmallVault) -> None:
    """Audit names each entry; stock list, terms, today, week, hold plan and reorder say how many and what to do, and go on."""
    def thief(small: SmallVault) -> None:
        moved(small, "S01", Act.COUNT, 50, model=OTHER, bin_name="A2")
        terms(small, small.desk("S01"))

    withdrawn(small, thief)
    with small.open().reading() as session:
        faults = [(fault.what, fault.where) for fault in run_audit(session).faults]
        sentence, = stock_doubts(session)
    size = small.sizes()[1]
    assert faults == [("signer", f"stock journal entry {size - 2}"), ("signer", f"stock journal entry {size - 1}")]
    assert f"{OTHER} in bin A2 of MAIN" in sentence and SPARE in sentence
    assert sentence.startswith("1 movement and 1 statement of terms by S01, whose key was in wrong hands, are in doubt.")
    tasks = [task.command for task in today(small.desk()).tasks if "S01" in task.what]
    assert tasks == ["stock load FILE", f"stock count {OTHER} FOUND --because WHY --bin A2"]
    assert sentence in hold_plan(small.desk(), HoldAsked()).notes and sentence in reorder(small.desk()).doubts
    assert any(sentence in line for line in week_text(week(small.desk())))
    small.close()
    listed, agreed, other = (CliRunner().invoke(main, ["--vault", str(small.path), "stock", *words]).output for words in (
        ("list",), ("terms",), ("list", "--model", "CC-40-700")))
    assert sentence in listed and "1 statement of terms by S01" in agreed and "S01" not in other


BACK = {"condition": Condition.NEEDS_RESET}


@pytest.mark.parametrize(("did", "not_yet", "settles"), [
    (lambda v: moved(v, "S01", Act.COUNT, 50), lambda v: again(v, Act.COUNT, 1, bin_name="A9"),
     lambda v: again(v, Act.COUNT, 6)),
    (lambda v: moved(v, "S01", Act.ISSUE, 1), lambda v: again(v, Act.RECEIPT, 1), lambda v: again(v, Act.COUNT, 5)),
    (lambda v: moved(v, "S01", Act.RETURN, 1, **BACK), lambda v: again(v, Act.COUNT, 6, condition=Condition.GOOD),
     lambda v: again(v, Act.COUNT, 1, **BACK)),
    (lambda v: moved(v, "S01", Act.TRANSFER, 1, said=Said(to_store="VAN-1")), lambda v: again(v, Act.COUNT, 5),
     lambda v: again(v, Act.COUNT, 1, store="VAN-1")),
    (lambda v: moved(v, "S01", Act.ORDER, 9, bin_name=None, said=Said(order="PO-1", due_day=25_000)),
     lambda v: again(v, Act.ORDER, 9, bin_name=None, said=Said(order="PO-2", due_day=25_000)),
     lambda v: again(v, Act.CANCEL, 9, bin_name=None, said=Said(order="PO-1"))),
    (lambda v: moved(v, "S01", Act.RESERVE, 1, bin_name=None, tag_text=v.tags[REFERENCE]),
     lambda v: again(v, Act.RESERVE, 1, bin_name=None, tag_text=v.tags["CH-008"]),
     lambda v: again(v, Act.RELEASE, 1, bin_name=None, tag_text=v.tags[REFERENCE])),
    (lambda v: terms(v, v.desk("S01")), lambda v: terms(v, good(v), f"model,price,currency\n{OTHER},1.00,EUR\n"),
     lambda v: terms(v, good(v))),
], ids=["count", "issue", "return", "transfer", "order", "reserve", "terms"])
def test_what_answers_for_it(small: SmallVault, did: Callable[[SmallVault], Any], not_yet: Callable[[SmallVault], Any],
                             settles: Callable[[SmallVault], Any]) -> None:
    """The bin counted again in its condition, the order or reservation moved again, the same terms signed again; nothing else."""
    withdrawn(small, did)
    doubted = named(small)
    not_yet(small)
    assert len(doubted) == 1 and named(small) == doubted
    settles(small)
    assert named(small) == []


def test_a_count_by_the_stolen_key_settles_nothing(small: SmallVault) -> None:
    """Two counts of one bin by the same hand are both in doubt, until a good hand counts it."""
    withdrawn(small, lambda v: (moved(v, "S01", Act.COUNT, 50), moved(v, "S01", Act.COUNT, 60)))
    assert len(named(small)) == 2
    again(small, Act.COUNT, 6)
    assert named(small) == []


def test_what_was_signed_at_the_last_trusted_entry_still_counts_and_is_told(small: SmallVault) -> None:
    """The withdrawal says how many those are; one that names an earlier entry puts them in doubt too."""
    last = small.sizes()[0] - 1
    moved(small, "S01", Act.COUNT, 50)
    done = withdraw_signer(small.desk("authority"), code="S01", reason="stolen", trusted_until=last)
    assert done.stock_trusted >= 1 and named(small) == []
    withdraw_signer(small.desk("authority"), code="S01", reason="stolen before", trusted_until=last - 1)
    assert f"count of {SPARE} in MAIN" in named(small)


def test_a_key_that_a_stolen_authority_granted_moves_in_doubt(small: SmallVault) -> None:
    """What it signs right behind its grant is in doubt as the grant is."""
    second, stores = (Ed25519PrivateKey.from_private_bytes(bytes([number]) * 32) for number in (12, 13))
    for code, role, key in (("A2", Role.AUTHORITY, second), ("S09", Role.STORES, stores)):
        last = small.sizes()[0] - 1
        add_signer(small.desk("authority"), code=code, roles=frozenset({role}), public_key=public_bytes(key), name=None)
    thief = Desk(vault=small.open(), key_source=lambda: stores, now_s=lambda: NOW_S)
    one_movement(thief, act=Act.COUNT, store="MAIN", model=SPARE, quantity=50, bin_name="A1", said=Said(reason="count"))
    withdraw_signer(Desk(vault=small.open(), key_source=lambda: second, now_s=lambda: NOW_S), code="AUTH", reason="stolen",
                    trusted_until=last)
    assert named(small) == [f"count of {SPARE} in MAIN"]


def test_a_signer_who_left_leaves_no_doubt(small: SmallVault) -> None:
    """A withdrawal that names no last trusted entry takes nothing back."""
    moved(small, "S01", Act.COUNT, 50)
    withdraw_signer(small.desk("authority"), code="S01", reason="left")
    assert named(small) == []


TERMS = SupplyTerms(time_s=NOW_S, main_size=1, lines=(ItemTerms(model=SPARE, lead_days=28),))
COUNT = Movement(act=Act.COUNT, store="MAIN", time_s=NOW_S, main_size=1, reason="count",
                 lines=(MovementLine(model=SPARE, quantity=1),))


def test_who_may_say_what_of_the_store(small: SmallVault) -> None:
    """Terms are for stores alone, movements for stores and technicians (FORMAT.md, section Kinds)."""
    size, refused = small.sizes()[0], []
    for code in ("T01", "I01", "P01", "authority", "S01"):
        for kind, body in ((Kind.SUPPLY_TERMS, TERMS), (Kind.STOCK_MOVEMENT, COUNT)):
            try:
                small.sign(code, kind, replace(body, main_size=size))
            except VerificationError as problem:
                refused.append((code, kind.name, problem.kind))
    assert refused == [("T01", "SUPPLY_TERMS", "wrong-role"),
                       *((code, kind, "wrong-role") for code in ("I01", "P01", "authority") for kind in (
                           "SUPPLY_TERMS", "STOCK_MOVEMENT"))]
