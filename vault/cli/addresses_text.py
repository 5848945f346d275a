"""What `gearkeep addresses` prints."""

from __future__ import annotations

from typing import TYPE_CHECKING

from vault.cli.shell import finding_lines, say, table
from vault.domain.address_check import Run, TrackState
from vault.domain.address_items import Fate, Placed, Track
from vault.domain.units import amps

if TYPE_CHECKING:
    from vault.actions.address_signing import Signed
    from vault.actions.addressing import CheckedSite, Planned

MOST_ROWS = 200
DRIVERS = ("No driver was touched by this: each must be set to its address (gearkeep bus set, or with its own tool), and until "
           "then these records say what is planned. Sign a plan before commissioning only.")


def _row(planned: Planned, track: Track, one: Placed) -> tuple[object, ...]:
    was = planned.was(track, one)
    said = "; ".join(text for text in ("CONFLICT" if one.conflict else "", was, one.item.stays) if text)
    return (one.item.shown, one.item.place, track.name, f"{track.written(one.address)} {track.numbering}", one.slot.duty,
            one.fate.value, said)


def say_plan(planned: Planned, *, show_all: bool) -> None:
    """The plan, what finds no address, how full lines are, and every finding."""
    from vault.actions.address_file import IN_THE_VAULT

    # What the file does not speak of is planned around, and of no interest beside it.
    placed = [pair for pair in planned.placed if pair[1].item.stays != IN_THE_VAULT]
    shown = placed if show_all or len(placed) <= MOST_ROWS else placed[:MOST_ROWS]
    table(("reference", "place", "line", "address", "gear", "plan", ""), [_row(planned, track, one) for track, one in shown])
    if len(shown) < len(placed):
        say(f"… and {len(placed) - len(shown)} more; --all shows every one, --table FILE writes them.")
    for plan in (planned.lines, planned.circuits):
        for fill in plan.filled:
            say(f"{fill.track.shown[:1].upper()}{fill.track.shown[1:]}: {fill.count} of {fill.track.most} {fill.track.counted}, "
                f"addresses counted from {fill.track.counts_from}.")
    if planned.strangers:
        say(f"The order names {len(planned.strangers)} that no luminaire bears: {', '.join(planned.strangers[:10])}.")
    say(*finding_lines(planned.findings))
    without = {left.item.shown for left in planned.unplaced}
    fates = [one.fate for _, one in placed]
    say(f"{fates.count(Fate.KEPT)} addresses kept, {fates.count(Fate.NEW)} new, {fates.count(Fate.MOVED)} moved, "
        f"{len(without)} luminaires without.")


def plan_json(planned: Planned) -> dict[str, object]:
    """The same for other programs. Addresses stand as the site writes them; on_bus is what the gear holds."""
    tags = {one.item.key: planned.tag_of(one.item) for _, one in planned.placed}
    return {
        "addresses": [{
            "reference": one.item.reference or None, "tag": tags[one.item.key], "place": one.item.place,
            track.kind.value: track.name, "address": track.written(one.address), "counted_from": track.counts_from,
            "on_bus": one.address, "gear": one.slot.duty, "plan": one.fate.value, "conflict": one.conflict,
            "before": before[1] if (before := planned.before(track, one)) else None,
            "before_on": before[0].name if before else None} for track, one in planned.placed],
        "without": [{"reference": left.item.reference or None, "place": left.item.place, "why": left.why}
                    for left in planned.unplaced],
        "filled": [{fill.track.kind.value: fill.track.name, "count": fill.count, "most": fill.track.most,
                    "counted_from": fill.track.counts_from} for plan in (planned.lines, planned.circuits)
                   for fill in plan.filled],
        "unknown_in_order": list(planned.strangers), "findings": [finding.as_json() for finding in planned.findings],
    }


def say_signed(signed: Signed) -> None:
    """What was signed, what was left, and that the drivers know nothing of it yet."""
    count = len(signed.versions)
    say(f"Signed: {'1 luminaire has' if count == 1 else f'{count} luminaires have'} a new version with the planned address, as "
        "stated." if count else "There was nothing to sign: no address is new.")
    for key, why in signed.left:
        say(f"Left as it is: {key}: {why}.")
    if signed.versions:
        say(DRIVERS, "Labels printed before show the old address; print them again: gearkeep label TAG… --replace.")


def signed_json(signed: Signed) -> dict[str, object]:
    """The same for other programs."""
    return {"signed": [{"tag": tag, "version": version} for tag, version in signed.versions], "drivers_set": False,
            "left": [{"luminaire": key, "why": why} for key, why in signed.left]}


def _run(track: Track, run: Run | None) -> str:
    if run is None:
        return "none"
    first, last = track.written(run[0]), track.written(run[1])
    return f"{first}" if first == last else f"{first}–{last}"


def _state(state: TrackState) -> tuple[object, ...]:
    track = state.track
    free = "none" if state.first_free is None else track.written(state.first_free)
    return (track.shown, f"{state.count} of {track.most} {track.counted}", f"from {track.counts_from}",
            ", ".join(_run(track, run) for run in _used(state)) or "none", free,
            _run(track, state.largest_free), ", ".join(_run(track, run) for run in state.gaps) or "none", _load(state))


def _used(state: TrackState) -> tuple[Run, ...]:
    from vault.domain.address_check import runs_of

    return runs_of(state.used)


def _load(state: TrackState) -> str:
    if state.load_max_ma is None:
        return ""
    return f"{'unknown' if state.load_ma is None else amps(state.load_ma)} of {amps(state.load_max_ma)}"


def say_check(checked: CheckedSite) -> None:
    """Each line and circuit in a row, then every finding."""
    table(("line", "holds", "counted", "in use", "first free", "largest free", "gaps", "load"), map(_state, checked.states))
    findings = checked.everything
    say(*finding_lines(findings))
    say("Nothing is wrong." if not findings else "One finding." if len(findings) == 1 else f"{len(findings)} findings.")


def check_json(checked: CheckedSite) -> dict[str, object]:
    """The same for other programs."""

    def run(track: Track, one: Run | None) -> list[int] | None:
        return None if one is None else [track.written(one[0]), track.written(one[1])]

    return {
        "lines": [{
            state.track.kind.value: state.track.name, "known": state.track.known, "count": state.count, "most": state.track.most,
            "luminaires": state.luminaires, "counted_from": state.track.counts_from,
            "used": [state.track.written(address) for address in state.used],
            "first_free": None if state.first_free is None else state.track.written(state.first_free),
            "largest_free": run(state.track, state.largest_free), "gaps": [run(state.track, one) for one in state.gaps],
            "without_address": [item.shown for item in state.missing], "load_ma": state.load_ma,
            "load_max_ma": state.load_max_ma} for state in checked.states],
        "findings": [finding.as_json() for finding in checked.everything],
    }
