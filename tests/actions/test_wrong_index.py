"""An index that somebody changed, or that a disk damaged, never shows one luminaire's settings as another's."""

from __future__ import annotations

import pytest
from small_vault import SmallVault
from stored import tamper

from vault.actions.fitting import fit
from vault.actions.history import history
from vault.errors import GearkeepError


@pytest.fixture
def small(small_on: SmallVault) -> SmallVault:
    """The small vault, on each engine in turn."""
    return small_on


SWAPPED = ("UPDATE record SET tag = 'x' WHERE tag = :one", "UPDATE record SET tag = :one WHERE tag = :two",
           "UPDATE record SET tag = :two WHERE tag = 'x'")
ANOTHER_SEQ = "UPDATE record SET seq = 9000 WHERE tag = :one"


@pytest.mark.parametrize("statements", [
    SWAPPED, ("UPDATE record SET version = 7 WHERE tag = :one",), ("UPDATE record SET digest = :nought WHERE tag = :one",),
    ("INSERT INTO record_predecessor (seq, number, prefix) SELECT seq, 9, prefix FROM record WHERE tag = :one",),
    ("UPDATE catalogue SET digest = :nought WHERE kind = 7",),
])
def test_a_wrong_index_is_refused(small: SmallVault, statements: tuple[str, ...]) -> None:
    """Exchanged tags, a wrong version or digest, a head hidden, another rating: bad-index, and what to run."""
    tamper(small.address, *statements, one=small.tags["CH-001"], two=small.tags["CV-001"], nought=bytes(32))
    with pytest.raises(GearkeepError) as problem:
        small.seen("CH-001")
    assert problem.value.kind == "bad-index" and "gearkeep audit" in problem.value.hint


def test_nothing_is_judged_or_listed_from_a_wrong_index(small: SmallVault) -> None:
    """What is not shown is not used for a fit or a history either."""
    tamper(small.address, *SWAPPED, one=small.tags["CH-001"], two=small.tags["CV-001"])
    with pytest.raises(GearkeepError) as judged:
        fit(small.desk(), small.tags["CH-001"])
    with pytest.raises(GearkeepError) as listed:
        history(small.open(), small.tags["CH-001"])
    assert judged.value.kind == listed.value.kind == "bad-index"


def test_an_entry_that_is_not_there_is_named(small: SmallVault) -> None:
    """A row of the index that points nowhere leaves no luminaire with figures."""
    tamper(small.address, ANOTHER_SEQ, one=small.tags["CH-001"])
    with pytest.raises(GearkeepError) as problem:
        small.seen("CH-001")
    assert problem.value.kind == "bad-index"
