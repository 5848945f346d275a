"""Attacks on a swap: readbacks and gear that speak of something else, labels on other housings, texts that are markup."""

from __future__ import annotations

from pathlib import Path

import pytest
from guided_bench import ADDRESS, REFERENCE, line_with_spare, neighbour, swap_with
from simulated_faults import Faults
from simulated_gear import SimulatedGear
from small_vault import SmallVault, readback

from vault.actions.changes import move
from vault.actions.labels_life import sight_label
from vault.actions.swap import swap
from vault.actions.work_order import print_sheets
from vault.errors import GearkeepError
from vault.exchange.readback_file import Readback


def _swap(small: SmallVault, held: Readback) -> None:
    swap(small.desk("T01"), small.tags[REFERENCE], spare="GEN-50-1050", serial="X1", readback=held, from_stock=False,
         change_class=None, allow_open=False)


@pytest.mark.parametrize(("reference", "version", "kind"), [("CH-009", 1, "other-luminaire"), (REFERENCE, 3, "other-version")])
def test_a_readback_of_something_else(small: SmallVault, reference: str, version: int, kind: str) -> None:
    """A good readback of another luminaire, or of another version: refused before anything is signed."""
    before = small.sizes()
    with pytest.raises(GearkeepError) as caught:
        _swap(small, Readback(tag=small.tags[reference], version=version, gears=readback()))
    assert caught.value.kind == kind and small.sizes() == before


def test_a_gear_that_answers_otherwise(small: SmallVault) -> None:
    """A spare that reports another level than it was given is never taken for set."""
    line = line_with_spare(spare=SimulatedGear(seed=7, faults=Faults(reports={"max_level": 200})))
    with pytest.raises(GearkeepError) as caught:
        swap_with(small, line=line)
    assert caught.value.kind == "not-taken" and small.seen(REFERENCE).record.version == 1


def test_another_gear_at_the_address(small: SmallVault) -> None:
    """A driver that still answers at the old address: nothing is stored anywhere, nothing signed."""
    there = neighbour(ADDRESS)
    with pytest.raises(GearkeepError) as caught:
        swap_with(small, line=line_with_spare(there))
    assert caught.value.kind == "address-taken" and small.seen(REFERENCE).record.version == 1
    # The search has it draw a random address, which is nothing that anybody set.
    assert there.kept() | {"random_address": 0} == neighbour(ADDRESS).kept() | {"random_address": 0}


def test_a_label_on_another_housing(small: SmallVault) -> None:
    """A label that was hung on another housing freezes its luminaire and the one recorded there."""
    other = small.seen("CH-009").record.place
    sight_label(small.desk("T01"), small.tags[REFERENCE], other, None)
    for reference in (REFERENCE, "CH-009"):
        with pytest.raises(GearkeepError) as caught:
            swap_with(small, reference=reference)
        assert caught.value.kind == "frozen"


@pytest.mark.parametrize("place", ['<img src="http://127.0.0.1:9/x"/>', "</para><b>Bay 1", "&lt;i&gt; & <"])
def test_a_place_that_is_markup(small: SmallVault, place: str) -> None:
    """A place that reads like a page's markup stands on the work order letter by letter, and fetches nothing."""
    import pypdfium2

    move(small.desk("I01"), small.tags[REFERENCE], place=place, line=None, circuit=None, address=None)
    out: Path = small.folder / "sheet.pdf"
    print_sheets(small.desk(), [small.tags[REFERENCE]], out, spare=None, gear=None)
    text = "".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(str(out)))
    assert place in text.replace("\r\n", " ")
