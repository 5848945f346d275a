"""What is wrong with the addresses on a line or a central circuit, planned or found."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

from vault.domain.address_items import Fate, Filled, Item, Kind, Placed, Slot, Track, Unplaced
from vault.domain.findings import Finding, Severity
from vault.domain.rules import Sheet, without_repeats

_CENTRAL = "DIN V VDE V 0108-100:2010 4.4.6"
_PRACTICE = "common practice, no source"
NEARLY_FULL_PERCENT = 90
_FEW = 6  # names in a sentence

Use = tuple[Item, Slot, int]


def few(names: Sequence[str]) -> str:
    """Some names as people list them: "A, B and 4 more"."""
    shown = list(dict.fromkeys(names))
    if len(shown) > _FEW:
        return f"{', '.join(shown[:_FEW - 1])} and {len(shown) - _FEW + 1} more"
    return ", ".join(shown)


def clashes(track: Track, uses: Iterable[Use]) -> tuple[set[int], tuple[Finding, ...]]:
    """Addresses that do not exist, and those that stand twice; and what is said of them.

    Two gear of one luminaire under one address are sometimes meant to answer as one: that asks for care.
    """
    sheet = Sheet()
    at: dict[int, list[Use]] = defaultdict(list)
    for use in uses:
        at[use[2]].append(use)
    rule = "address" if track.kind is Kind.LINE else "central-address"
    bad: set[int] = set()
    for address, found in sorted(at.items()):
        names, allowed = few([item.shown for item, _, _ in found]), f"{track.written(track.first)} to {track.written(track.last)}"
        ask = sheet.ask(rule, track.shown)
        if not track.first <= address <= track.last:
            bad.add(address)
            ask.broken(f"{track.said(address)} of {names} does not exist; they run from {allowed}.",
                       found=str(track.written(address)), allowed=allowed)
        elif len({item.key for item, _, _ in found}) > 1:
            bad.add(address)
            ask.broken(f"{track.said(address)} on {track.shown} is set in {names}.", found=str(track.written(address)),
                       allowed="each address once")
        elif len(found) > 1:
            ask.care(f"{track.said(address)} on {track.shown} stands twice in {names}.", found=str(track.written(address)),
                     allowed="each address once")
    return bad, tuple(sheet.findings)


def fullness(filled: Filled) -> tuple[Finding, ...]:
    """A track that holds more than it may, or nearly so much."""
    track, sheet = filled.track, Sheet()
    found, allowed = str(filled.count), f"at most {track.most}"
    if filled.count > track.most:
        says = f"{track.shown} holds {filled.count} {track.counted}; it may hold {track.most}."
        if track.kind is Kind.LINE:
            sheet.ask("line-gear", track.shown).broken(says, found=found, allowed=allowed)
        elif track.ruled:
            sheet.ask("circuit-luminaires", track.shown).broken(says, found=found, allowed=allowed)
        else:
            # No rule of the vault's own: the usual one may not be this building's.
            return (_finding("circuit-luminaires", Severity.CARE, f"{says} The vault has no rule of its own for it.", track.shown,
                             source=_CENTRAL, found=found, allowed=allowed),)
    elif track.kind is Kind.LINE and filled.count * 100 >= track.most * NEARLY_FULL_PERCENT:
        return (_finding("line-nearly-full", Severity.CARE, f"{track.shown} is nearly full: {filled.count} of {track.most} gear.",
                         track.shown, found=found, allowed=allowed),)
    return tuple(sheet.findings)


def unknown_track(track: Track) -> tuple[Finding, ...]:
    """A line or circuit that the vault does not know: how it numbers its addresses is not known either."""
    if track.known:
        return ()
    numbering = f" Its addresses are taken as counted from {track.counts_from}." if track.kind is Kind.LINE else ""
    return (_finding("address-line", Severity.CARE, f"{track.shown} is not known to the vault.{numbering}", track.shown,
                     found="not known", allowed="a line or circuit that the vault holds"),)


def without_address(track: Track, items: Iterable[Item]) -> tuple[Finding, ...]:
    """Gear that needs an address and has none."""
    missing = [item.shown for item in items for slot in item.slots if slot.address is None]
    if not missing:
        return ()
    gear = f"{len(missing)} gear" if track.kind is Kind.LINE else f"{len(missing)} central gear"
    return (_finding("address-missing", Severity.CARE, f"{gear} on {track.shown} {'has' if len(missing) == 1 else 'have'} no "
                     f"address: {few(missing)}.", track.shown, found=str(len(missing)), allowed="an address for each"),)


def astray(items: Iterable[Item], known: Mapping[str, Track]) -> tuple[Finding, ...]:
    """Addresses that are set on another line than the luminaire is to be on."""
    found = []
    for item in items:
        set_at = [slot.address for slot in item.slots if slot.address is not None]
        if item.set_on is None or not _strays(item) or not set_at:
            continue
        other = known.get(item.set_on)
        said = other.said(set_at[0]) if other else f"address {set_at[0]}"
        found.append(_finding("address-other-line", Severity.STOP, f"{said} of {item.shown} is set on line {item.set_on}, "
                              f"and it is to be on {' or '.join(item.lines) or 'no line'}.", item.shown, found=item.set_on,
                              allowed=" or ".join(item.lines) or "a line"))
    return tuple(found)


def _strays(item: Item) -> bool:
    return item.set_on is not None and item.set_on not in item.lines


def no_line(items: Iterable[Item]) -> tuple[Finding, ...]:
    """Gear that needs an address, or has one, where no line is named."""
    loose = [item for item in items if not item.lines and item.slots]
    having = [item.shown for item in loose if any(slot.address is not None for slot in item.slots)]
    lacking = [item.shown for item in loose if item.shown not in having]
    found = []
    if having:
        verb = "has an address" if len(having) == 1 else "have addresses"
        found.append(_finding("address-line", Severity.CARE, f"{few(having)} {verb}, and no line is named for it.",
                              few(having), found=str(len(having)), allowed="a line for each address"))
    if lacking:
        found.append(_finding("address-line", Severity.CARE, f"{few(lacking)} {'needs' if len(lacking) == 1 else 'need'} an "
                              "address, and no line is named for it.", few(lacking), found=str(len(lacking)),
                              allowed="a line for each gear that needs an address"))
    return tuple(found)


def plan_findings(known: Mapping[str, Track], placed: Sequence[Placed], left_out: Sequence[Unplaced],
                  filled: Sequence[Filled], leave_percent: int) -> tuple[set[tuple[str, int]], tuple[Finding, ...]]:
    """(line, address) that clash, and everything that is wrong with a plan."""
    uses: dict[str, list[Use]] = defaultdict(list)
    for one in placed:
        uses[one.track].append((one.item, one.slot, one.address))
    clashing: set[tuple[str, int]] = set()
    findings: list[Finding] = []
    for fill in filled:
        track = fill.track
        bad, said = clashes(track, uses[track.name])
        clashing |= {(track.name, address) for address in bad}
        findings += [*unknown_track(track), *said, *fullness(fill)]
        wanted = track.most * leave_percent // 100
        if fill.spare < wanted and fill.count <= track.most:
            findings.append(_finding(
                "address-spare", Severity.CARE, f"{track.shown} has {fill.spare} of {track.most} {track.counted} to spare; "
                f"{wanted} were asked for.", track.shown, found=str(fill.spare), allowed=f"at least {wanted}", source="--leave"))
    strayed = {one.item.key: one for one in placed if one.fate is Fate.KEPT and _strays(one.item)}
    clashing |= {(one.track, one.address) for one in strayed.values()}
    findings += astray((one.item for one in strayed.values()), known)
    findings += [_finding("address-none-given", Severity.STOP, f"{left.item.shown} gets no address: {left.why}.",
                          left.item.shown, found="no address", allowed="an address for each gear that needs one")
                 for left in left_out]
    return clashing, without_repeats(findings)


def _finding(rule: str, severity: Severity, says: str, where: str, *, found: str, allowed: str,
             source: str = _PRACTICE) -> Finding:
    return Finding(rule=rule, severity=severity, found=found, allowed=allowed, source=source, where=where,
                   says=says[:1].upper() + says[1:])
