"""Addresses for luminaires in walking order: what is set stays, what is new follows, and what cannot be is told."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from vault.domain.address_balance import Bin, shared_out
from vault.domain.address_findings import plan_findings
from vault.domain.address_items import Fate, Filled, Item, Kind, Placed, Plan, Slot, Track, Unplaced
from vault.domain.address_order import in_walking_order


def plan_addresses(items: Iterable[Item], tracks: Iterable[Track], *, order: Sequence[str] = (), leave_percent: int = 0,
                   renumber: bool = False) -> Plan:
    """A plan over lines, or over central circuits; `tracks` holds every one that an item names.

    order: references in the order of the walk; others follow by place. leave_percent: the share of every line that is left
    free where luminaires may go elsewhere. renumber: addresses that are set may be moved; else none ever is.
    A luminaire that may go on several lines goes where `address_balance.shared_out` puts it.
    """
    known = {track.name: track for track in tracks}
    walk = in_walking_order(items, place=lambda item: item.place, reference=lambda item: item.reference, order=order)
    unplaced: dict[str, Unplaced] = {}
    line_of: dict[str, str] = {}
    pools: dict[tuple[str, ...], list[Item]] = {}
    for item in walk:
        why = _nowhere(item, known, renumber)
        if why:
            unplaced[item.key] = Unplaced(item=item, why=why)
        elif len(item.lines) == 1 or (_is_set(item) and (item.stays or not renumber)):
            line_of[item.key] = item.set_on if item.set_on and item.set_on in item.lines else item.lines[0]
        else:
            pools.setdefault(item.lines, []).append(item)
    held = dict.fromkeys(known, 0)
    for item in walk:
        if item.key in line_of:
            held[line_of[item.key]] += _weight(item, known[line_of[item.key]])
    for lines, pool in pools.items():
        _share(pool, [known[name] for name in lines], held, line_of, unplaced, leave_percent)
    members: dict[str, list[Item]] = {name: [] for name in known}
    for item in walk:
        if item.key in line_of:
            members[line_of[item.key]].append(item)
    placed: list[Placed] = []
    for name, track in known.items():
        done, refused = _number(track, members[name], renumber)
        placed += done
        unplaced |= {one.item.key: one for one in refused}
    at = {item.key: number for number, item in enumerate(walk)}
    placed.sort(key=lambda one: (at[one.item.key], one.slot.gear, one.slot.path))
    # Counted as they hang there: what finds no address on a full line hangs on it all the same.
    filled = tuple(Filled(track=track, count=held[name]) for name, track in known.items())
    left_out = tuple(unplaced[item.key] for item in walk if item.key in unplaced)
    clashing, findings = plan_findings(known, placed, left_out, filled, leave_percent)
    marked = tuple(replace(one, conflict=True) if (one.track, one.address) in clashing else one for one in placed)
    return Plan(tracks=tuple(known.values()), placed=marked, unplaced=left_out, filled=filled, findings=findings)


def _weight(item: Item, track: Track) -> int:
    return len(item.slots) if track.kind is Kind.LINE else 1


def _is_set(item: Item) -> bool:
    return any(slot.address is not None for slot in item.slots)


def _nowhere(item: Item, known: Mapping[str, Track], renumber: bool) -> str:
    """Why an item goes on no line, "" where it goes on one."""
    if not item.lines:
        return "no line is named for it"
    strange = [name for name in item.lines if name not in known]
    if strange:
        return f"nothing is known of {', '.join(strange)}"
    if len(item.lines) > 1 and _is_set(item) and item.set_on is None and (item.stays or not renumber):
        return f"an address is set, and nobody says on which of {', '.join(item.lines)}"
    return ""


def _share(pool: Sequence[Item], tracks: Sequence[Track], held: dict[str, int], line_of: dict[str, str],
           unplaced: dict[str, Unplaced], leave_percent: int) -> None:
    """Put the items of one pool on their lines; with the spare share free where that is possible."""
    weights = [_weight(item, tracks[0]) for item in pool]
    places = [item.place for item in pool]
    least = [Bin(held=held[t.name], most=max(held[t.name], t.most * (100 - leave_percent) // 100)) for t in tracks]
    full = [Bin(held=held[t.name], most=max(held[t.name], t.most)) for t in tracks]
    chosen = shared_out(weights, places, least) or shared_out(weights, places, full)
    count = len(pool)
    if chosen is None:
        fits, never = 0, count
        while never - fits > 1:
            middle = (fits + never) // 2
            fits, never = (fits, middle) if shared_out(weights[:middle], places, full) is None else (middle, never)
        count, chosen = fits, (shared_out(weights[:fits], places, full) or [])
    for item, weight, at in zip(pool, weights, chosen, strict=False):
        line_of[item.key] = tracks[at].name
        held[tracks[at].name] += weight
    for item, weight in zip(pool[count:], weights[count:], strict=True):
        roomy = max(tracks, key=lambda track: track.most - held[track.name])
        if held[roomy.name] + weight <= roomy.most:
            line_of[item.key] = roomy.name
            held[roomy.name] += weight
        else:
            unplaced[item.key] = Unplaced(item=item, why=f"{' and '.join(track.shown for track in tracks)} are full")


def _number(track: Track, members: Sequence[Item], renumber: bool) -> tuple[list[Placed], list[Unplaced]]:
    """Addresses for everything on one track."""
    placed: list[Placed] = []
    new: list[tuple[Item, Slot]] = []
    for item in members:
        for slot in item.slots:
            if slot.address is not None and (item.stays or not renumber):
                placed.append(Placed(item=item, slot=slot, track=track.name, address=slot.address, fate=Fate.KEPT))
            else:
                new.append((item, slot))
    taken = {one.address for one in placed}
    free = [address for address in range(track.first, track.last + 1) if address not in taken]
    admitted, refused = _admitted(track, members, new, len(placed), len(free))
    for item, slots in admitted:
        anchors = [one.address for one in placed if one.item.key == item.key and track.first <= one.address <= track.last]
        if anchors:
            for slot in slots:
                address = min(free, key=lambda one: (abs(one - anchors[0]), one < anchors[0]))
                free.remove(address)
                placed.append(_newly(item, slot, track, address))
    own_anchor = {one.item.key for one in placed}
    fresh = [(item, slots) for item, slots in admitted if item.key not in own_anchor]
    left, at = sum(len(slots) for _, slots in fresh), 0
    for item, slots in fresh:
        left -= len(slots)
        at = _beside(free, at, len(slots), left)
        placed += [_newly(item, slot, track, free[at + number]) for number, slot in enumerate(slots)]
        at += len(slots)
    return placed, refused


def _newly(item: Item, slot: Slot, track: Track, address: int) -> Placed:
    same_line = item.set_on is None or item.set_on == track.name
    fate = Fate.NEW if slot.address is None else Fate.KEPT if same_line and slot.address == address else Fate.MOVED
    return Placed(item=item, slot=slot, track=track.name, address=address, fate=fate)


def _beside(free: Sequence[int], at: int, size: int, left: int) -> int:
    """Where the next run of free addresses begins that holds all gear of a luminaire; the next free one where there is none."""
    for start in range(at, len(free) - size - left + 1):
        if free[start + size - 1] - free[start] == size - 1:
            return start
    return at


def _admitted(track: Track, members: Sequence[Item], new: Sequence[tuple[Item, Slot]], set_already: int,
              free: int) -> tuple[list[tuple[Item, list[Slot]]], list[Unplaced]]:
    """The new gear that finds room, in walking order, and the luminaires that find none."""
    admitted: list[tuple[Item, list[Slot]]] = []
    refused: list[Unplaced] = []
    by_item: dict[str, tuple[Item, list[Slot]]] = {}
    for item, slot in new:
        by_item.setdefault(item.key, (item, []))[1].append(slot)
    # A luminaire counts on its circuit whether or not it gets an address.
    settled = sum(1 for item in members if item.key not in by_item or item.stays)
    count = set_already if track.kind is Kind.LINE else settled
    for item, slots in by_item.values():
        need = len(slots) if track.kind is Kind.LINE else 1
        if item.stays:
            refused.append(Unplaced(item=item, why=item.stays, where=track.name))
        elif count + need > track.most or len(slots) > free:
            refused.append(Unplaced(item=item, where=track.name,
                                    why=f"{track.shown} is full: {count} of {track.most} {track.counted}"))
        else:
            admitted.append((item, slots))
            count, free = count + need, free - len(slots)
    return admitted, refused
