"""Coverage: what makes a need class, and the whole fit of a model against one. Pure.

Only what the fit looks at makes a class: groups, scenes, fades and test times are kept and set anew, and no spare fails by
them. A test holds that: leaving them out changes no finding.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from hashlib import blake2b

from vault.domain.driver import DriverModel
from vault.domain.findings import Finding, Severity, Verdict, verdict
from vault.domain.fit import fit_spare
from vault.domain.rating import Rating
from vault.domain.settings import Channel, Control, Emergency, Gear, Settings
from vault.domain.site import Circuit, Line
from vault.spares.needs import Answer, NeedClass
from vault.trust import cbor
from vault.trust.mapping import to_plain_cbor

EXAMPLES = 3  # luminaires named with a class
KEY_BYTES = 8
_GRAVEST_FIRST = (Severity.STOP, Severity.UNKNOWN, Severity.CARE)
FITS = Answer(verdict=Verdict.FITS, rule="", limit="")


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """A class with what else tells on every spare: doubts about its rating, or that the vault lacks it. digest: 32 bytes over
    everything that an answer depends on but the model and the rules.
    """

    of: NeedClass
    besides: tuple[Finding, ...]
    digest: bytes


def _control(control: Control | None) -> Control | None:
    if control is None:
        return None
    return Control(protocol=control.protocol, min_level=control.min_level, curve=control.curve)


def _channel(channel: Channel) -> Channel:
    return replace(channel, voltage_min_mv=None, voltage_max_mv=None, power_max_mw=None, control=_control(channel.control))


def _emergency(emergency: Emergency | None) -> Emergency | None:
    if emergency is None:
        return None
    return replace(emergency, function_test_days=None, duration_test_weeks=None, test_delay_min=None, prolong_s=None,
                   test_timeout_days=None)


def needed_gear(gear: Gear) -> Gear:
    """The gear with nothing but what the fit looks at; no model, serial number or address."""
    settings = gear.settings
    return Gear(duty=gear.duty, settings=Settings(
        output=settings.output, channels=tuple(_channel(channel) for channel in settings.channels),
        control=_control(settings.control), emergency=_emergency(settings.emergency)))


def alike_line(line: Line | None) -> Line | None:
    """What of a line tells on a spare, and its kind."""
    return None if line is None else Line(name="-", revision=1, kind=line.kind, addresses_from=0, site_ta_c=line.site_ta_c)


def alike_circuit(circuit: Circuit | None) -> Circuit | None:
    """What of a circuit tells on a spare. One that tells nothing is as good as none."""
    if circuit is None:
        return None
    alike = Circuit(name="-", revision=1, central=circuit.central or None, battery_min_v=circuit.battery_min_v,
                    battery_max_v=circuit.battery_max_v, luminaires_max=circuit.luminaires_max,
                    leakage_max_ua=circuit.leakage_max_ua, site_ta_c=circuit.site_ta_c)
    return None if alike == Circuit(name="-", revision=1) else alike


def content_digest(*things: object) -> bytes:
    """32 bytes over described dataclasses (or None) in order."""
    return blake2b(cbor.encode([None if thing is None else to_plain_cbor(thing) for thing in things]), digest_size=32).digest()


def need_of(gear: Gear, ratings: tuple[Rating, ...], line: Line | None, circuit: Circuit | None, *, pieces: int,
            tags: Iterable[str], named: tuple[str, int], besides: tuple[Finding, ...] = ()) -> Need:
    """The class of a gear. named: type code and revision that its records name."""
    wanted = needed_gear(gear)
    line, circuit = alike_line(line), alike_circuit(circuit)
    told = "\n".join(f"{finding.rule} {finding.says}" for finding in besides)
    content = content_digest(wanted, line, circuit, *ratings)
    digest = blake2b(content + repr(named).encode() + told.encode(), digest_size=32).digest()
    return Need(of=NeedClass(key=digest[:KEY_BYTES], gear=wanted, ratings=ratings, line=line, circuit=circuit, pieces=pieces,
                             tags=tuple(tags)), besides=besides, digest=digest)


def gravest(findings: Iterable[Finding]) -> Finding | None:
    """What limits most: a stop before an unknown before a care; of those the one furthest beyond its limit, else the first."""
    counted = [finding for finding in findings if finding.severity is not Severity.NOTE]
    return min(counted, default=None, key=lambda finding: (
        _GRAVEST_FIRST.index(finding.severity), 0.0 if finding.margin_percent is None else finding.margin_percent))


def judge(need: Need, model: DriverModel, besides: Iterable[Finding] = ()) -> Answer:
    """One model against one class by the whole fit: both ratings, the worse counts. besides: what else tells on the model."""
    findings = [*besides, *need.besides]
    for rating in need.of.ratings:
        findings += fit_spare(need.of.gear, rating, model, circuit=need.of.circuit, line=need.of.line).findings
    worst = gravest(findings)
    if worst is None:
        return FITS
    return Answer(verdict=verdict(findings), rule=worst.rule, limit=worst.says)
