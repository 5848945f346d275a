"""Hours that gear was under power: its time in service, the hours of its circuit, and how warm it hangs."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from vault.db import queries
from vault.db.session import Session
from vault.db.swaps_seen import Served, Span, emergency_of, served
from vault.domain.settings import Duty, Emergency
from vault.spares.arrhenius import ACTIVATION_EV, acceleration, ten_kelvin_rule
from vault.spares.burning_hours import YEAR_H, HoursTable, YearHours, goes_by_circuit, year_hours
from vault.trust.statements import Kind

HOUR_S = 3600


@dataclass(frozen=True, slots=True, kw_only=True)
class Ageing:
    """How a temperature counts: by Arrhenius with an activation energy, or by the rule of thumb of 10 K (None)."""

    activation_ev: float | None = ACTIVATION_EV

    def factor(self, type_ta_c: int, site_ta_c: int) -> float:
        """How many hours at the type's ambient limit one hour at the site's ambient is worth."""
        if self.activation_ev is None:
            return ten_kelvin_rule(type_ta_c, site_ta_c)
        return acceleration(type_ta_c, site_ta_c, self.activation_ev)


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Gear that served alike, with what a year under power comes to. assumed: whether nobody said the hours that
    it burns; factor: by temperature, None where it is not known.
    """

    served: Served
    year: YearHours
    assumed: bool
    factor: float | None

    def part(self, span: int) -> float:
        """Gear-years in service within a span, a year being 8760 h."""
        return self.served.seconds[span] / HOUR_S / YEAR_H

    @property
    def year_exposure_h(self) -> float:
        """Exposure of one such gear in a year."""
        return self.year.powered * (1.0 if self.factor is None else self.factor)


def groups_of(session: Session, spans: Sequence[Span], *, now_s: int, hours: HoursTable, ageing: Ageing | None) -> list[Group]:
    """Every group with its hours. Raises VerificationError."""
    found = served(session, spans, now_s=now_s, by_line=ageing is not None)
    warm = _Ambient(session, found) if ageing is not None else None
    modes: dict[bytes | None, Emergency | None] = {}
    groups = []
    for one in found:
        emergency = None
        if one.duty is not Duty.GENERAL:
            if one.need is None or one.need not in modes:
                modes[one.need] = emergency_of(session, one)
            emergency = modes[one.need]
        year = year_hours(hours, circuit=one.circuit, type_code=one.type_code, duty=one.duty, emergency=emergency)
        known = warm.of(one) if warm is not None else None
        assumed = goes_by_circuit(one.duty, emergency) and hours.is_assumed(one.circuit, one.type_code)
        groups.append(Group(served=one, year=year, assumed=assumed,
                            factor=ageing.factor(*known) if ageing is not None and known is not None else None))
    return groups


def strange_words(hours: HoursTable, groups: Iterable[Group]) -> list[str]:
    """Circuits and types of a list of hours that no gear ever served on, in a sentence: a misspelt name counts nowhere."""
    groups = list(groups)
    sides = (("circuit", set(hours.by_circuit) - {one.served.circuit for one in groups}),
             ("type", set(hours.by_type) - {one.served.type_code for one in groups}))
    return [f"{hours.source or 'The list of hours'} names the {kind} {name}, on which no gear is on record; it counts nowhere."
            if kind == "circuit" else
            f"{hours.source or 'The list of hours'} names the type {name}, of which no gear is on record; it counts nowhere."
            for kind, names in sides for name in sorted(names)]


class _Ambient:
    """Ambient temperatures by the newest revision of each type, line and circuit."""

    def __init__(self, session: Session, found: Iterable[Served]) -> None:
        groups = list(found)
        self._types = _newest(session, Kind.RATING, {one.type_code for one in groups})
        self._lines = _newest(session, Kind.LINE, {one.line for one in groups})
        self._circuits = _newest(session, Kind.CIRCUIT, {one.circuit for one in groups})

    def of(self, one: Served) -> tuple[int, int] | None:
        """Ambient limit of the type and the warmest air known where it hangs, °C; None where either is not known."""
        rating = self._types.get(one.type_code)
        places = (self._lines.get(one.line), self._circuits.get(one.circuit))
        site = [place.site_ta_c for place in places if place is not None and place.site_ta_c is not None]
        return (rating.ta_c, max(site)) if rating is not None and rating.ta_c is not None and site else None


def _newest(session: Session, kind: Kind, names: set[Any]) -> dict[str | None, Any]:
    rows = {row.name: row for row in queries.catalogue(session, kind) if row.name in names}
    return {name: queries.catalogue_body(session, kind, row) for name, row in rows.items()}
