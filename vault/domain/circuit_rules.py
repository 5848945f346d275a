"""What all luminaires of a circuit do to its protective device."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType

from vault.domain.findings import Finding
from vault.domain.rules import Ask, Sheet, without_repeats
from vault.domain.site import Breaker, Circuit
from vault.domain.units import Figure, Show, amps, percent, ua

# Inrush tables are given for 16 A type B. The lower ends of the tripping bands (IEC 60898-1: B 3, C 5, D 10 times the
# rated current) say how much more the others bear.
TABLE_BREAKER_MA = 16_000
TRIPS_AT: Mapping[Breaker, int] = MappingProxyType({Breaker.B: 3, Breaker.C: 5, Breaker.D: 10})


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitMember:
    """One luminaire on a circuit: steady current, how many such one 16 A type B breaker may feed, leakage."""

    tag_shown: str
    load_ma: int | None = None
    inrush_b16: int | None = None
    leakage_ua: int | None = None


def share_limit_ma(circuit: Circuit) -> Fraction | None:
    """The current that the local rule leaves to luminaires: 60 % of 16 A is 9.6 A. None where a figure is missing."""
    if circuit.rated_current_ma is None or circuit.share_max_percent is None:
        return None
    return Fraction(circuit.rated_current_ma * circuit.share_max_percent, 100)


def check_circuit(circuit: Circuit, members: Sequence[CircuitMember]) -> tuple[Finding, ...]:
    """Number of luminaires, load, inrush and leakage of one circuit."""
    sheet, where = Sheet(), f"circuit {circuit.name}"
    if circuit.luminaires_max is not None:
        ask, count = sheet.ask("circuit-luminaires", where), len({member.tag_shown for member in members})
        if count > circuit.luminaires_max:
            ask.broken(f"{where} holds {count} luminaires; the local rule allows {circuit.luminaires_max}.",
                       found=str(count), allowed=f"at most {circuit.luminaires_max}")
    if members:
        _check_load(sheet, circuit, members, where)
        _check_inrush(sheet, circuit, members, where)
        if circuit.leakage_max_ua is not None:
            _check_sum(sheet.ask("circuit-leakage", where), [member.leakage_ua for member in members],
                       circuit.leakage_max_ua, ua, "the leakage of all gear together", "what the circuit may see")
    return without_repeats(sheet.findings)


def _check_load(sheet: Sheet, circuit: Circuit, members: Sequence[CircuitMember], where: str) -> None:
    loads = [member.load_ma for member in members]
    if circuit.share_max_percent is not None:
        limit_is = f"{percent(circuit.share_max_percent)} of the protective device"
        _check_sum(sheet.ask("circuit-share", where), loads, share_limit_ma(circuit), amps,
                   "the load of all luminaires together", limit_is)
    elif circuit.rated_current_ma is not None:
        _check_sum(sheet.ask("circuit-load", where), loads, circuit.rated_current_ma, amps,
                   "the load of all luminaires together", "the rated current of the protective device")


def _check_inrush(sheet: Sheet, circuit: Circuit, members: Sequence[CircuitMember], where: str) -> None:
    """Each member takes 1/n of a breaker that may feed n of its kind; together they take no more than the whole."""
    ask = sheet.ask("circuit-inrush", where)
    rated, breaker = circuit.rated_current_ma, circuit.breaker
    ask.known((rated, "The rated current of the breaker"), (breaker, "The type of the breaker"))
    if rated is None or breaker is None:
        return
    bears = Fraction(rated * TRIPS_AT[breaker], TABLE_BREAKER_MA * TRIPS_AT[Breaker.B])
    shares = [None if member.inrush_b16 is None else Fraction(100, member.inrush_b16) / bears for member in members]
    _check_sum(ask, shares, 100, percent, "the inrush of all gear together", "what the breaker bears at once")


def _check_sum(ask: Ask, parts: Sequence[Figure | None], limit: Figure | None, show: Show, what: str,
               limit_what: str) -> None:
    """The known parts may already be too much; otherwise every part must be known."""
    known = [part for part in parts if part is not None]
    total = sum(known, Fraction(0))
    missing = len(parts) - len(known)
    if missing and (limit is None or total <= limit):
        ask.missing(f"{what[:1].upper()}{what[1:]} ({missing} without a figure)")
    if limit is None or total > limit or not missing:
        ask.at_most(total, limit, show, what, limit_what)
