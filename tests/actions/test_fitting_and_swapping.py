"""Spares judged, and a driver replaced by one of them."""

from __future__ import annotations

from typing import Any

import pytest
from small_vault import SmallVault, readback

from vault.actions.changes import approve
from vault.actions.fitting import Judged, fit, plot
from vault.actions.stock import one_movement
from vault.actions.swap import prepare, swap
from vault.domain.findings import Severity, Verdict
from vault.domain.record import Basis, ChangeClass, Reason
from vault.domain.schema import flatten
from vault.domain.stock import Act
from vault.domain.tag import shown
from vault.errors import GearkeepError

EQUIVALENT = ChangeClass.APPROVED_EQUIVALENT

SPARE, SMALL_SPARE, ORIGINAL = "GEN-50-1050", "GEN-25-800", "CC-40-700"


@pytest.fixture
def small(small_on: SmallVault) -> SmallVault:
    """The small vault, on each engine in turn."""
    return small_on


@pytest.mark.parametrize(
    ("reference", "spare", "expected"),
    [
        ("CH-007", ORIGINAL, Verdict.FITS),
        ("CH-007", SPARE, Verdict.FITS),
        ("CH-007", SMALL_SPARE, Verdict.DOES_NOT_FIT),
        ("CB1-01", "CB-30-500", Verdict.FITS),
        ("CV-001", "CV-24-60", Verdict.FITS),
        ("CV-001", SPARE, Verdict.DOES_NOT_FIT),  # constant current for a 24 V tape
        ("EX-001", "EM-6-180", Verdict.FITS),
        ("EX-001", SPARE, Verdict.DOES_NOT_FIT),  # no emergency function
        ("CA-001", "TW-2X20", Verdict.FITS),
        ("CA-001", SPARE, Verdict.DOES_NOT_FIT),  # one channel of two
    ],
)
def test_the_original_fits_and_what_cannot_do_the_job_does_not(
        small: SmallVault, reference: str, spare: str, expected: Verdict) -> None:
    """Each luminaire of the demo against its own driver and against one that lacks something."""
    assert fit(small.desk(), small.tags[reference], model=spare).spares[0].fit.verdict is expected


def test_a_spare_too_small_says_by_how_much(small: SmallVault) -> None:
    """The voltage that its window gives at 700 mA and the power it can give, beside what is needed.

    25 W at 0.7 A leave 35.71 V; the module takes 700 mA · 41.6 V = 29.12 W (figures of demo/types.toml, drivers.toml).
    """
    findings = fit(small.desk(), small.tags["CH-007"], model=SMALL_SPARE).spares[0].fit.findings
    told = {f.rule: (f.severity, f.found, f.allowed, f.unit) for f in findings}
    assert told["window"] == (Severity.STOP, "32.6 to 41.6", "10.0 to 35.71", "V")
    assert told["total-power"] == (Severity.STOP, "29.12", "at most 25.0", "W")


def test_all_spares_are_ranked_with_those_that_fit_first(small: SmallVault) -> None:
    """Every driver model is judged once, the good before the bad, each with what lies in stock."""
    result = fit(small.desk(), small.tags["CH-007"])
    assert len(result.spares) == 13  # demo/drivers.toml
    assert [one.fit.model for one in result.spares[:3]] == [ORIGINAL, SPARE, "HX-40-950"]
    assert {one.fit.model for one in result.spares[3:5]} == {"GEN-45-900", "SW-30-750"}
    assert {one.fit.verdict for one in result.spares[5:]} == {Verdict.DOES_NOT_FIT}
    assert {one.fit.model: one.in_stock for one in result.spares}[SPARE] == 6


@pytest.mark.parametrize(("in_stock", "kept_here", "kept", "says"), [
    (3, 0, {}, "3 in stock"), (0, 1, {"1EX9RH4Y7": 1}, "0 in stock"),
    (1, 0, {"1EX9RH4Y7": 1}, "1 in stock, kept for 1EX9 RH4Y 7"), (1, 1, {}, "1 in stock, kept for this luminaire"),
    (2, 0, {"1EX9RH4Y7": 2}, "2 in stock, all kept for 1EX9 RH4Y 7"),
    (3, 0, {"1EX9RH4Y7": 1, "3Q7658AZ6": 1}, "3 in stock, 2 kept for 2 other luminaires"),
    (6, 2, {"1EX9RH4Y7": 1}, "6 in stock, 2 kept for this luminaire, 1 for 1EX9 RH4Y 7"),
])
def test_a_spare_that_is_kept_says_for_whom(in_stock: int, kept_here: int, kept: dict[str, int], says: str) -> None:
    """Its own luminaire, another, or several."""
    nothing: Any = None
    judged = Judged(fit=nothing, plan=nothing, spare=nothing, in_stock=in_stock, kept=kept, kept_here=kept_here)
    assert judged.stock_words == says


def test_fit_says_whom_a_spare_is_kept_for(small: SmallVault) -> None:
    """Asked for that luminaire and for another."""
    for reference in ("CH-007", "CH-008"):
        one_movement(small.desk("S01"), act=Act.RESERVE, store="MAIN", model=SPARE, quantity=2, tag_text=small.tags[reference],
                     sure=True)
    (one,) = fit(small.desk(), small.tags["CH-007"], model=SPARE).spares
    assert one.stock_words == f"6 in stock, 2 kept for this luminaire, 2 for {shown(small.tags['CH-008'])}"


def test_in_stock_leaves_out_what_no_store_holds(small: SmallVault) -> None:
    """CB-30-500 is known and not in stock (demo/stock.csv)."""
    result = fit(small.desk(), small.tags["CB1-01"], in_stock_only=True)
    assert "CB-30-500" not in [one.fit.model for one in result.spares] and result.spares[0].fit.model == SMALL_SPARE


@pytest.mark.parametrize(("gear", "fits"), [(None, ORIGINAL), ("general", ORIGINAL), ("emergency-converter", "EM-6-180")])
def test_each_gear_is_judged_by_itself(small: SmallVault, gear: str | None, fits: str) -> None:
    """The stairs' general gear and its emergency converter take different drivers."""
    assert fit(small.desk(), small.tags["ST-N1"], gear=gear).spares[0].fit.model == fits


def test_a_plot_is_drawn_where_there_is_a_window(small: SmallVault) -> None:
    """A picture for a constant-current gear, a refusal for a constant-voltage one."""
    plot(fit(small.desk(), small.tags["CH-007"]), SMALL_SPARE, small.folder / "fit.svg")
    assert (small.folder / "fit.svg").read_bytes().startswith(b"<")
    with pytest.raises(GearkeepError) as caught:
        plot(fit(small.desk(), small.tags["CV-001"]), None, small.folder / "tape.svg")
    assert caught.value.kind == "cannot-draw" and not (small.folder / "tape.svg").exists()


def test_preparing_signs_nothing(small: SmallVault) -> None:
    """Steps, cautions and the empty form, without a key and without a statement."""
    before = small.sizes()
    ready = prepare(small.desk(), small.tags["CH-007"], spare=SPARE)
    assert ready.judged.plan.steps and ready.judged.plan.cautions
    assert set(ready.form) >= {"channels.1.current_ma", "control.short_address"} and set(ready.form.values()) == {None}
    assert small.sizes() == before


def test_a_full_match_is_the_next_version(small: SmallVault) -> None:
    """Version 2 bears the new driver and the readback's digest; nothing is open; one piece left the store."""
    done = swap(small.desk("T01"), small.tags["CH-007"], change_class=EQUIVALENT,
             spare=SPARE, serial="G5-0412", readback=readback())
    record, gear = small.seen("CH-007").record, small.seen("CH-007").record.gears[0]
    assert (done.matched, done.changed.version, done.changed.open_stops, done.stock_left) == (True, 2, frozenset(), 5)
    assert (record.reason, record.basis, record.change_class) == (Reason.DRIVER_SWAP, Basis.READ,
                                                                  ChangeClass.APPROVED_EQUIVALENT)
    assert (gear.model, gear.serial, len(gear.readback_digest or b"")) == (SPARE, "G5-0412", 8)
    assert small.usable(SPARE) == 5


def test_the_same_model_is_like_for_like(small: SmallVault) -> None:
    """A CC-40-700 for a CC-40-700."""
    done = swap(small.desk("T01"), small.tags["CH-007"], spare=ORIGINAL, serial=None, readback=readback())
    assert done.change_class is ChangeClass.LIKE_FOR_LIKE


@pytest.mark.parametrize(("figures", "read"), [({"current_ma": 500}, "500"), ({"short_address": 8}, "8")])
def test_a_wrong_readback_leaves_a_provisional_record(small: SmallVault, figures: dict[str, int], read: str) -> None:
    """The record keeps what was meant, notes what was read, and is open until another signer approves."""
    done = swap(small.desk("T01"), small.tags["CH-007"], change_class=EQUIVALENT,
             spare=SPARE, serial=None, readback=readback(**figures))
    seen = small.seen("CH-007")
    assert not done.matched and seen.open_stops == {"readback-differs"}
    assert seen.record.gears[0].settings.channels[0].current_ma == 700 and read in (seen.record.note or "")
    approve(small.desk("P01"), small.tags["CH-007"], accepts=None, change_class=ChangeClass.APPROVED_EQUIVALENT,
            because="measured and accepted")
    assert not small.seen("CH-007").provisional


def test_a_field_that_was_not_read_is_no_match(small: SmallVault) -> None:
    """A current that nobody read is unknown, and unknown never passes as good."""
    said = readback()
    del said["general"]["channels.1.current_ma"]
    done = swap(small.desk("T01"), small.tags["CH-007"], change_class=EQUIVALENT, spare=SPARE, serial=None, readback=said)
    assert (done.matched, done.changed.open_stops) == (False, {"readback-not-read"})


REFUSED = [
    ({"spare": SMALL_SPARE}, "stop"),
    ({"spare": "CV-24-60"}, "stop"),
    ({"spare": "NO-SUCH"}, "not-found"),
    ({"spare": SPARE, "store": "VAN-2"}, "stock-short"),
    ({"spare": SPARE, "bin_name": "Z9"}, "stock-short"),
    ({"spare": SPARE, "gear": "emergency-converter"}, "no-gear"),
    ({"spare": SPARE, "readback": {"emergency-converter": {"output": "constant-current"}}}, "no-readback"),
]


@pytest.mark.parametrize(("options", "kind"), REFUSED)
def test_what_is_refused_signs_nothing_and_takes_nothing(
        small: SmallVault, options: dict[str, object], kind: str) -> None:
    """A spare that does not fit or is not there: both journals and the shelf stay as they were."""
    before, pieces = small.sizes(), small.shelves()
    with pytest.raises(GearkeepError) as caught:
        swap(small.desk("T01"), small.tags["CH-007"], **{"serial": None, "readback": readback(), **options})  # type: ignore[arg-type]
    assert caught.value.kind == kind
    assert (small.sizes(), small.shelves()) == (before, pieces)


def test_an_empty_shelf_is_refused(small: SmallVault) -> None:
    """The one CC-40-700 goes to CH-007; for CH-008 none is left, unless the driver came from elsewhere."""
    swap(small.desk("T01"), small.tags["CH-007"], spare=ORIGINAL, serial=None, readback=readback())
    before = small.sizes()
    with pytest.raises(GearkeepError) as caught:
        swap(small.desk("T01"), small.tags["CH-008"], spare=ORIGINAL, serial=None, readback=readback(short_address=7))
    assert caught.value.kind == "stock-short" and small.sizes() == before
    done = swap(small.desk("T01"), small.tags["CH-008"], spare=ORIGINAL, serial=None, readback=readback(short_address=7),
                from_stock=False)
    assert (done.changed.version, done.stock_left, small.sizes()[1]) == (2, None, before[1])


def test_a_spare_that_does_not_fit_may_go_in_as_provisional(small: SmallVault) -> None:
    """Asked for so, it is signed with its stops open and taken from stock."""
    done = swap(small.desk("T01"), small.tags["CH-007"], change_class=EQUIVALENT,
             spare=SMALL_SPARE, serial=None, readback=readback(), allow_open=True)
    assert done.changed.open_stops == small.seen("CH-007").open_stops == {"window", "total-power", "size"}
    assert small.usable(SMALL_SPARE) == 3


def test_a_modification_needs_an_approver(small: SmallVault) -> None:
    """However well it matches, a modification is open until a second signer answers for it."""
    done = swap(small.desk("T01"), small.tags["CH-007"], spare=SPARE, serial=None, readback=readback(),
                change_class=ChangeClass.MODIFICATION)
    assert (done.matched, done.changed.open_stops) == (True, {"modification"})
    approve(small.desk("P01"), small.tags["CH-007"], accepts=frozenset({"modification"}),
            change_class=ChangeClass.MODIFICATION, because="answered for")
    assert not small.seen("CH-007").provisional


def test_the_spare_comes_from_the_store_that_is_named(small: SmallVault) -> None:
    """A van's piece is taken from the van."""
    one_movement(small.desk("S01"), act=Act.RECEIPT, store="VAN-2", model=SPARE, quantity=2, bin_name=None, serial=None,
                 reason=None)
    done = swap(small.desk("T01"), small.tags["CH-007"], change_class=EQUIVALENT,
             spare=SPARE, serial=None, readback=readback(), store="VAN-2")
    assert (done.store, done.stock_left) == ("VAN-2", 1)


def test_a_swap_of_one_gear_leaves_the_other(small: SmallVault) -> None:
    """The converter on the stairs is replaced; the general gear keeps its driver and its settings."""
    general, converter = small.seen("ST-N1").record.gears
    ready = prepare(small.desk(), small.tags["ST-N1"], spare="EM-6-180", gear="emergency-converter")
    said = {"emergency-converter": {name: flatten(ready.gear.settings)[name] for name in ready.form}}
    done = swap(small.desk("T01"), small.tags["ST-N1"], spare="EM-6-180", serial="E9", readback=said, gear="emergency-converter")
    after = small.seen("ST-N1").record.gears
    assert done.matched and after[0] == general
    assert (after[1].serial, after[1].settings) == ("E9", converter.settings)


def test_what_the_driver_reads_is_judged_as_well(small: SmallVault) -> None:
    """A driver that reads more than the light source bears leaves that stop open, by name, beside the difference."""
    done = swap(small.desk("T01"), small.tags["CH-007"], change_class=EQUIVALENT, spare=SPARE, serial="G9",
                readback=readback(current_ma=1050))
    assert done.changed.open_stops == {"readback-differs", "current-permitted", "current-tolerance", "power"}
    assert "driver-reads" in {finding.rule for finding in small.seen("CH-007").findings}


@pytest.mark.parametrize("reference", ["CH-007", "CH-008"])
def test_a_serial_number_is_fitted_once(small: SmallVault, reference: str) -> None:
    """The same driver is not taken for a second swap, neither in the same luminaire nor in another."""
    said = readback() if reference == "CH-007" else readback(short_address=7)
    swap(small.desk("T01"), small.tags["CH-007"], change_class=EQUIVALENT, spare=SPARE, serial="G9", readback=readback())
    with pytest.raises(GearkeepError) as caught:
        swap(small.desk("T01"), small.tags[reference], change_class=EQUIVALENT, spare=SPARE, serial="G9", readback=said)
    assert caught.value.kind == "serial-in-use" and small.usable(SPARE) == 5


def test_another_model_needs_its_class_said(small: SmallVault) -> None:
    """Nobody's default calls another model approved."""
    with pytest.raises(GearkeepError) as caught:
        swap(small.desk("T01"), small.tags["CH-007"], spare=SPARE, serial="G9", readback=readback())
    assert caught.value.kind == "no-class" and small.seen("CH-007").record.version == 1


@pytest.mark.parametrize("figures", [{"current_ma": "700"}, {"current_ma": "700,0"}])
def test_a_figure_that_is_a_text_is_not_signed(small: SmallVault, figures: dict[str, object]) -> None:
    """A readback whose figure is a text is wrong use, not a difference of the driver."""
    with pytest.raises(GearkeepError) as caught:
        swap(small.desk("T01"), small.tags["CH-007"], change_class=EQUIVALENT, spare=SPARE, serial="G9",
             readback=readback(**figures))
    assert caught.value.kind == "bad-readback" and small.seen("CH-007").record.version == 1


def test_the_very_piece_leaves_the_store(small: SmallVault) -> None:
    """The piece whose serial number is fitted goes from where it lies; it may not be taken from another store's shelf."""
    one_movement(small.desk("S01"), act=Act.RECEIPT, store="VAN-2", model=SPARE, quantity=1, bin_name="V1", serial="G9-1")
    with pytest.raises(GearkeepError) as problem:
        swap(small.desk("T01"), small.tags["CH-007"], change_class=EQUIVALENT, spare=SPARE, serial="G9-1", readback=readback(),
             store="MAIN")
    assert problem.value.kind == "stock-short" and "VAN-2" in problem.value.what
    swap(small.desk("T01"), small.tags["CH-007"], change_class=EQUIVALENT, spare=SPARE, serial="G9-1", readback=readback())
    assert small.usable(SPARE, "VAN-2") == 0
