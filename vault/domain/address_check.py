"""How the addresses of a line or a central circuit stand: what is used, what is free, what is wrong."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from vault.domain.address_findings import astray, clashes, fullness, no_line, unknown_track, without_address
from vault.domain.address_items import Filled, Item, Kind, Track
from vault.domain.findings import Finding
from vault.domain.rules import without_repeats

Run = tuple[int, int]  # first and last address of neighbours


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackState:
    """One line or circuit. count: what its limit counts. used: every address in use, free: runs of free ones, both as on the
    bus. gaps: free runs below the highest in use. missing: luminaires with gear that has no address. load_ma, load_max_ma: on
    a central circuit, where known.
    """

    track: Track
    luminaires: int
    count: int
    used: tuple[int, ...]
    free: tuple[Run, ...]
    missing: tuple[Item, ...]
    findings: tuple[Finding, ...]
    load_ma: int | None = None
    load_max_ma: int | None = None

    @property
    def gaps(self) -> tuple[Run, ...]:
        """Free runs below the highest address in use."""
        return tuple(run for run in self.free if self.used and run[1] < self.used[-1])

    @property
    def first_free(self) -> int | None:
        """The lowest free address; None where the track is full."""
        return self.free[0][0] if self.free and self.count < self.track.most else None

    @property
    def largest_free(self) -> Run | None:
        """The longest run of free addresses."""
        return max(self.free, key=lambda run: run[1] - run[0], default=None) if self.count < self.track.most else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """Every track, and what belongs to none."""

    states: tuple[TrackState, ...]
    findings: tuple[Finding, ...]


def runs_of(numbers: Iterable[int]) -> tuple[Run, ...]:
    """Numbers in order as runs of neighbours."""
    found = []
    for _, some in groupby(enumerate(sorted(set(numbers))), key=lambda pair: pair[1] - pair[0]):
        run = [number for _, number in some]
        found.append((run[0], run[-1]))
    return tuple(found)


def check_items(items: Iterable[Item], tracks: Iterable[Track], *,
                further: Mapping[str, Sequence[Finding]] | None = None) -> Checked:
    """How every track stands. An item with several lines counts on none. further: findings of a track from elsewhere."""
    known = {track.name: track for track in tracks}
    members: dict[str, list[Item]] = defaultdict(list)
    everything = list(items)
    for item in everything:
        if len(item.lines) == 1:
            members[item.lines[0]].append(item)
    states = []
    for name, track in known.items():
        own = members[name]
        uses = [(item, slot, slot.address) for item in own for slot in item.slots if slot.address is not None]
        count = sum(len(item.slots) for item in own) if track.kind is Kind.LINE else len(own)
        used = {address for _, _, address in uses}
        _, clashing = clashes(track, uses)
        missing = tuple(item for item in own if any(slot.address is None for slot in item.slots))
        found = (*unknown_track(track), *clashing, *fullness(Filled(track=track, count=count)), *without_address(track, own),
                 *(further or {}).get(name, ()))
        states.append(TrackState(track=track, luminaires=len(own), count=count, used=tuple(sorted(used)), missing=missing,
                                 free=runs_of(set(range(track.first, track.last + 1)) - used), findings=without_repeats(found)))
    return Checked(states=tuple(states), findings=without_repeats((*astray(everything, known), *no_line(everything))))
