"""The guided swap: from the luminaire to the signature, killed anywhere, and stopped where it has to be."""

from __future__ import annotations

from contextlib import nullcontext

import pytest
from guided_bench import ADDRESS, NEIGHBOURS, REFERENCE, SPARE, Killed, Told, kill_at, line_with_spare, neighbour, swap_with
from simulated_gear import SimulatedGear
from simulated_line import SimulatedLine, SimulatedPort
from small_vault import SmallVault

from vault.actions.changes import approve
from vault.actions.guided_swap import guided_swap
from vault.actions.questions import GivenAnswers
from vault.actions.swap_course import Tools
from vault.domain.record import ChangeClass, Reason
from vault.errors import GearkeepError, VerificationError
from vault.exchange.readback_file import read_readback


def test_a_whole_swap_over_the_bus(small: SmallVault) -> None:
    """Identity, cautions, spare, bus, readback, tests, signature: one version more, one spare less, one gear at the address."""
    line, before = line_with_spare(), small.usable(SPARE)
    done = swap_with(small, line=line)
    assert (done.version, done.matched, done.open_stops, done.serial) == (2, True, frozenset(), "880412")
    record = small.seen(REFERENCE).record
    assert record.reason is Reason.DRIVER_SWAP and record.gears[0].model == SPARE and record.note == "old driver: scrapped"
    assert line.count_by_address() == dict.fromkeys((*NEIGHBOURS, ADDRESS), 1)
    assert small.usable(SPARE) == before - 1


def test_the_readback_that_was_signed_for_is_kept(small: SmallVault) -> None:
    """The file bears the luminaire, the version, how the current is known, each test and the old driver's fate."""
    done = swap_with(small, line=line_with_spare())
    held = read_readback(done.readback)
    values = held.gears["general"]
    assert (held.tag, held.version) == (small.tags[REFERENCE], 1)
    assert values["channels.1.current_evidence"] == "meter" and values["old_driver.fate"] == "scrapped"
    assert values["tests.1"] == "passed" and values["control.short_address"] == ADDRESS


def test_cautions_stand_before_every_step(small: SmallVault) -> None:
    """Nothing is said of the work before the cautions, and the step list begins with its own."""
    told = Told()
    swap_with(small, line=line_with_spare(), told=told)
    first_caution = next(number for number, line in enumerate(told.lines) if line.startswith("Only a competent"))
    first_step = next(number for number, line in enumerate(told.lines) if line.startswith("Photograph the old driver"))
    assert told.lines.index("# Cautions") < first_caution < told.lines.index("# Set the spare") < first_step
    steps = told.lines[told.lines.index("# Set the spare") + 1 : first_step]
    assert steps[2].startswith("Only a competent")


@pytest.mark.parametrize("written", [False, True])
@pytest.mark.parametrize("number", [1, 2, 3, 4, 5, 6, 7, 9, 12, 18, 24, 30, 35, 37, 38, 42, 44, 46, 48, 50, 51])
def test_killed_anywhere_it_goes_on(small: SmallVault, monkeypatch: pytest.MonkeyPatch, number: int, written: bool) -> None:
    """Killed at any note, before or behind it: the next run ends with one version, one spare issued, one gear at the address."""
    line, before = line_with_spare(), small.usable(SPARE)
    with monkeypatch.context() as patch:
        kill_at(patch, number, written=written)
        with pytest.raises(Killed):
            swap_with(small, line=line)
        small.close()
    done = swap_with(small, line=line)
    assert (done.version, done.matched, done.open_stops) == (2, True, frozenset())
    assert small.seen(REFERENCE).record.version == 2 and small.usable(SPARE) == before - 1
    assert line.count_by_address() == dict.fromkeys((*NEIGHBOURS, ADDRESS), 1)


@pytest.mark.parametrize("frames", [1, 20, 60, 100, 150, 200, 300, 400, 500, 700])
def test_a_gateway_lost_anywhere_is_told_and_goes_on(small: SmallVault, frames: int) -> None:
    """The cable comes off: told, nothing signed; with the cable back the swap ends well and the neighbours are as before."""
    line = line_with_spare()
    with pytest.raises(GearkeepError) as caught:
        swap_with(small, line=line, lost_after=frames)
    assert caught.value.kind == "bus-lost" and small.seen(REFERENCE).record.version == 1
    assert swap_with(small, line=line).matched
    assert [gear.kept() for gear in line.gear if gear.read("short_address") in NEIGHBOURS] == [
        neighbour(address).kept() for address in NEIGHBOURS]


@pytest.mark.parametrize(("line", "kind"), [
    (line_with_spare(neighbour(ADDRESS)), "address-taken"),
    (line_with_spare(SimulatedGear(seed=9)), "several-spares"),
    (line_with_spare(spare=SimulatedGear(short_address=20, seed=9)), "no-spare-found"),
])
def test_what_the_bus_shows_stops_the_swap(small: SmallVault, line: object, kind: str) -> None:
    """Gear at the old address, two spares, no spare: named, nothing given an address, nothing signed."""
    before = line.count_by_address()  # type: ignore[attr-defined]
    with pytest.raises(GearkeepError) as caught:
        swap_with(small, line=line)  # type: ignore[arg-type]
    assert caught.value.kind == kind and small.seen(REFERENCE).record.version == 1
    assert line.count_by_address() == before  # type: ignore[attr-defined]


@pytest.mark.parametrize(("at", "alone", "gear"), [
    (20, False, [neighbour(4), SimulatedGear(short_address=20, seed=9)]),
    (None, True, [SimulatedGear(short_address=20, seed=9)]),
])
def test_a_used_spare_is_found_where_it_is(small: SmallVault, at: int | None, alone: bool, gear: list[SimulatedGear]) -> None:
    """At the address that it brought along, or alone on a bench: it gets the record's address and keeps no other."""
    line = SimulatedLine(gear)
    done = swap_with(small, line=line, tools=Tools(bus=lambda: nullcontext(SimulatedPort(line)), at=at, alone=alone))
    assert done.matched and line.count_by_address()[ADDRESS] == 1 and 20 not in line.count_by_address()


@pytest.mark.parametrize(("key", "said", "kind"), [
    ("right_luminaire", "unsure", "not-identified"), ("cautions", "no", "not-acknowledged"), ("hands_done", "no", "not-set"),
    ("sign", "no", "not-signed"),
])
def test_a_no_stops_and_the_next_run_asks_again(small: SmallVault, key: str, said: str, kind: str) -> None:
    """Whoever says no is asked again the next time, and nothing was signed."""
    with pytest.raises(GearkeepError) as caught:
        swap_with(small, line=line_with_spare(), **{key: said})
    assert caught.value.kind == kind and small.seen(REFERENCE).record.version == 1
    assert swap_with(small, line=line_with_spare()).version == 2


@pytest.mark.parametrize(("key", "more"), [("place", {"seen_place": "Somewhere else"}), ("type", {"seen_type": "X9"})])
def test_a_contradiction_is_signed_and_freezes(small: SmallVault, key: str, more: dict[str, str]) -> None:
    """Another place or another type than on record: signed at once, and no swap until somebody settles it."""
    with pytest.raises(GearkeepError) as caught:
        swap_with(small, right_luminaire=key, **more)
    assert caught.value.kind == "contradiction"
    with pytest.raises(GearkeepError) as caught:
        swap_with(small)
    assert caught.value.kind == "frozen" and small.seen(REFERENCE).record.version == 1


def test_without_a_bus_everything_is_typed(small: SmallVault) -> None:
    """A line without a gateway: each field is asked for; what nobody types counts as not read and needs a second signer."""
    with pytest.raises(GearkeepError) as caught:
        swap_with(small, serial="G5-1")
    assert caught.value.kind == "no-answer"
    done = swap_with(small, serial="G5-1", differs="sign")
    assert not done.matched and "readback-not-read" in done.open_stops


def test_a_wrong_value_can_be_read_again(small: SmallVault) -> None:
    """A current that differs: stopped, asked again in the next run, then it agrees."""
    with pytest.raises(GearkeepError) as caught:
        swap_with(small, line=line_with_spare(), differs="stop", **{"channels.1.current_ma": "650"})
    assert caught.value.kind == "differs"
    line = line_with_spare()
    assert swap_with(small, line=line).matched


@pytest.mark.parametrize(("answers", "rule", "stays_open", "note"), [
    ({"tests": "some", "tests_failed": "2"}, "retest-failed", True, "failed: insulation resistance; old driver: scrapped"),
    ({"tests": "some", "tests_to_do": "3 6"}, "retest-to-do", False, "to do: polarity of supply and light source, dimming"),
])
def test_tests_that_are_not_passed_are_told(small: SmallVault, answers: dict[str, str], rule: str, stays_open: bool,
                                            note: str) -> None:
    """A failed test keeps the version provisional; one still to be done asks for care; the record names either."""
    told = Told()
    done = swap_with(small, line=line_with_spare(), told=told, **answers)
    assert (rule in done.open_stops) == stays_open and small.seen(REFERENCE).record.note == note
    assert any(line.startswith(rule) for line in told.lines)


def test_a_modification_waits_for_the_second_signer(small: SmallVault) -> None:
    """Without them it stays open; with their key it is approved in the same act."""
    open_one = swap_with(small, line=line_with_spare(), change_class="modification")
    assert open_one.open_stops == {"modification"}
    tools = Tools(second_key=lambda: small.keys["P01"])
    settled = swap_with(small, tools=tools, approve_because="the module's data were checked")
    assert settled.version == 2 and settled.open_stops == frozenset() and not small.seen(REFERENCE).provisional


def test_a_version_signed_meanwhile_stops_the_swap(small: SmallVault) -> None:
    """Somebody else changes the settings while the technician is on the ladder: told, nothing signed over it."""
    from vault.actions.changes import revise

    with pytest.raises(GearkeepError):
        swap_with(small, line=line_with_spare(), sign="no")
    revise(small.desk("I01"), small.tags[REFERENCE], changes={"control.max_level": "200"})
    with pytest.raises(GearkeepError) as caught:
        swap_with(small, line=line_with_spare())
    assert caught.value.kind == "other-version" and small.seen(REFERENCE).record.version == 2


def test_a_folder_holds_one_swap(small: SmallVault) -> None:
    """The folder of another luminaire's swap is refused."""
    with pytest.raises(GearkeepError):
        swap_with(small, line=line_with_spare(), sign="no")
    with pytest.raises(GearkeepError) as caught:
        swap_with(small, reference="CH-009")
    assert caught.value.kind == "other-swap"


@pytest.mark.parametrize("said", ["stop", "again"])
def test_what_was_not_read_is_asked_again(small: SmallVault, said: str) -> None:
    """A field that stayed empty is asked for once more; read again with the same result, the swap stops and keeps everything."""
    answers = {"channels.1.power_max_mw": "", "differs": said, "serial": "G5-1", "control.protocol": "dali"}
    with pytest.raises(GearkeepError) as caught:
        swap_with(small, **answers)
    assert caught.value.kind == "differs"
    assert swap_with(small, line=line_with_spare()).matched


def test_another_model_is_never_like_for_like(small: SmallVault) -> None:
    """The answer is not offered, and refused when it is given."""
    with pytest.raises(GearkeepError) as caught:
        swap_with(small, line=line_with_spare(), change_class="like-for-like")
    assert caught.value.kind == "bad-answer" and small.seen(REFERENCE).record.version == 1


def test_an_approval_meanwhile_is_seen(small: SmallVault) -> None:
    """The swap of a modification, run once more after the second signer approved elsewhere, has nothing open."""
    assert swap_with(small, line=line_with_spare(), change_class="modification").open_stops == {"modification"}
    approve(small.desk("P01"), small.tags[REFERENCE], accepts=None, change_class=ChangeClass.MODIFICATION, because="checked")
    assert swap_with(small).open_stops == frozenset()


def test_who_may_not_sign_is_told_first(small: SmallVault) -> None:
    """Somebody of the store hears it before the first question, and no folder of notes says that a swap began."""
    told = Told()
    with pytest.raises(VerificationError) as caught:
        guided_swap(small.desk("S01"), small.tags[REFERENCE], small.folder / "swap", tell=told, tools=Tools(),
                    asker=GivenAnswers(answers={}, then=None, show=told.lines.append))
    assert caught.value.kind == "wrong-role" and told.lines == [] and not (small.folder / "swap").exists()


@pytest.mark.parametrize(("spare", "said"), [("GEN-25-800", "does not fit"), ("HX-40-950", "none lies in a store")])
def test_why_a_spare_is_not_offered(small: SmallVault, spare: str, said: str) -> None:
    """A model that does not fit, or of which the store has none: the reason, not that the word is unknown."""
    with pytest.raises(GearkeepError) as caught:
        swap_with(small, spare=spare)
    assert caught.value.kind == "bad-answer" and said in caught.value.what
