"""The rules and the sheet that a check is written on.

Each rule says once what it protects and where it comes from. A rule that `hurts` guards a person, equipment or a
safety duty: broken it is a stop, and a missing figure is unknown. Any other rule guards against nuisance: broken or
without its figure, it asks for care.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType

from vault.domain.findings import Finding, Severity
from vault.domain.units import Figure, Show

_PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """name: kebab-case. hurts: see above. source: standard with clause, or common practice. title: what is asked."""

    name: str
    hurts: bool
    source: str
    title: str

    @property
    def when_broken(self) -> Severity:
        """stop or care."""
        return Severity.STOP if self.hurts else Severity.CARE

    @property
    def when_missing(self) -> Severity:
        """unknown or care."""
        return Severity.UNKNOWN if self.hurts else Severity.CARE


_ROWS: tuple[tuple[str, bool, str, str], ...] = (
    # name, hurts, source, title
    ("hazard", True, _PRACTICE, "Explosive atmosphere, medical use or rail"),
    ("duty", True, _PRACTICE, "Gear for every duty of the type"),
    ("output", True, _PRACTICE, "Constant current or constant voltage"),
    ("channels", True, _PRACTICE, "Number of output channels"),
    ("colour-order", True, _PRACTICE, "Order of the channel colours"),
    ("current-permitted", True, "the fixture type's rating", "Current within the permitted range"),
    ("current-tolerance", True, "IEC 62384:2020 7.1 (output within ±10 %)", "Current with tolerance under the maximum"),
    ("current-match", True, _PRACTICE, "The recorded current can be set"),
    ("voltage-window", True, _PRACTICE, "Set voltage window covers the light source"),
    ("voltage-stated", False, _PRACTICE, "Voltage window is on record"),
    ("constant-voltage", True, _PRACTICE, "Nominal output voltage"),
    ("power", True, "IEC 60598-1 (rated power)", "Power within the rated power"),
    ("window", True, _PRACTICE, "Light source within the operating window"),
    ("dimming-window", False, _PRACTICE, "Light source within the dimming window"),
    ("dc-window", True, "IEC 61347-2-13 Annex J", "Light source within the d.c. window"),
    ("total-power", True, _PRACTICE, "Power of all channels together"),
    ("isolation", True, "IEC 61347-1 (isolation), IEC 60598-1:2008 8.2.3", "Isolation between supply and output"),
    ("touchable-voltage", True, "IEC 60598-1:2008 8.2.3 c)", "Output voltage on parts that can be touched"),
    ("selv-voltage", True, "IEC 61558-1 and IEC 61140 (SELV band)", "Output voltage of a SELV output"),
    ("insulation-voltage", True, _PRACTICE, "Output voltage and the insulation of the light source"),
    ("protection-class", True, "IEC 60598-1 (protection classes)", "Class of protection against electric shock"),
    ("mounting", True, "IEC 61347-1 (independent control gear)", "Built-in or independent"),
    ("case-temperature", True, "IEC 61347-1 (tc)", "Limit of the case temperature"),
    ("heat", True, _PRACTICE, "Heat given off inside the luminaire"),
    ("ambient", True, "IEC 60598-1 (ta)", "Ambient temperature"),
    ("supply-ac", True, "IEC 62384 (rated supply)", "Mains voltage range"),
    ("supply-dc", True, "IEC 61347-2-13 Annex J; 4 % cable drop is common practice", "D.c. voltage range"),
    ("protocol", True, "IEC 62386 and IEC 60929 Annex E", "Control protocol"),
    ("device-type", True, "IEC 62386-102", "DALI device type"),
    ("dimming-floor", False, _PRACTICE, "Lowest dimming level"),
    ("levels", False, "IEC 62386-102", "Levels in order"),
    ("emergency-settings", True, "IEC 60598-2-22", "Emergency settings are on record"),
    ("emergency-mode", True, "IEC 60598-2-22", "Emergency switching mode"),
    ("emergency-supply", True, "IEC 60598-2-22", "Emergency supply"),
    ("emergency-duration", True, "IEC 60598-2-22", "Rated duration"),
    ("emergency-current", True, "IEC 61347-2-7", "Current in emergency"),
    ("emergency-power", True, "IEC 61347-2-7", "Power in emergency"),
    ("battery", True, "IEC 61347-2-7", "Battery"),
    ("size", True, _PRACTICE, "Size of the gear"),
    ("inrush", False, "IEC 60898-1 (tripping bands)", "Inrush current and the breaker"),
    ("leakage", False, _PRACTICE, "Leakage current"),
    ("essentials", False, _PRACTICE, "Figures that a later replacement will need"),
    ("rating-superseded", False, "the fixture type's rating", "Newer revision of the rating"),
    ("address", True, "IEC 62386-102 (short addresses 0 to 63)", "Bus address"),
    ("address-line", False, _PRACTICE, "Line of the address"),
    ("line-gear", True, "IEC 62386-101 (64 control gear on a line)", "Number of gear on the line"),
    ("central-address", True, _PRACTICE, "Address in the central battery system"),
    ("circuit-luminaires", True, "the vault's local rule, e.g. DIN V VDE V 0108-100:2010 4.4.6",
     "Number of luminaires on a central circuit"),
    ("circuit-share", True, "the vault's local rule, e.g. DIN V VDE V 0108-100:2010 4.4.6",
     "Load as a share of the protective device"),
    ("circuit-load", False, _PRACTICE, "Load of the circuit"),
    ("circuit-inrush", False, "IEC 60898-1 (tripping bands)", "Inrush of all gear on one breaker"),
    ("circuit-leakage", False, _PRACTICE, "Leakage of all gear on one circuit"),
    ("label-two-places", False, _PRACTICE, "Labels of one luminaire hang in one place"),
    ("label-elsewhere", False, _PRACTICE, "A label hangs where its luminaire hangs"),
    ("label-housing", True, _PRACTICE, "A label hangs on the housing of its own luminaire"),
    ("label-type", True, _PRACTICE, "The housing that bears a label is of the recorded type"),
    ("label-of-another", True, _PRACTICE, "No label of another luminaire hangs where this one hangs"),
    ("label-near", False, _PRACTICE, "No label of another luminaire hangs among those of one place"),
    ("label-outdated", False, _PRACTICE, "The label on the housing shows the newest settings"),
)

RULES: Mapping[str, Rule] = MappingProxyType(
    {name: Rule(name=name, hurts=hurts, source=source, title=title) for name, hurts, source, title in _ROWS})


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """One rule asked at one place; what it finds is written on its sheet."""

    rule: Rule
    where: str
    sheet: Sheet

    def _write(self, severity: Severity, says: str, found: str, allowed: str, margin: Figure | float | None,
               unit: str) -> None:
        self.sheet.findings.append(Finding(
            rule=self.rule.name, severity=severity, source=self.rule.source, where=self.where,
            says=says[:1].upper() + says[1:], unit=unit,
            found=found.replace(f" {unit}", "") if unit else found,
            allowed=allowed.replace(f" {unit}", "") if unit else allowed,
            margin_percent=None if margin is None else round(float(margin), 1)))

    def broken(self, says: str, *, found: str, allowed: str, unit: str = "",
               margin: Figure | float | None = None) -> None:
        """The rule is broken: stop or care, as the table says. Units are taken out of found and allowed."""
        self._write(self.rule.when_broken, says, found, allowed, margin, unit)

    def care(self, says: str, *, found: str, allowed: str, unit: str = "",
             margin: Figure | float | None = None) -> None:
        """It works, but somebody must decide."""
        self._write(Severity.CARE, says, found, allowed, margin, unit)

    def note(self, says: str, *, found: str, allowed: str, unit: str = "",
             margin: Figure | float | None = None) -> None:
        """Worth knowing; never counts."""
        self._write(Severity.NOTE, says, found, allowed, margin, unit)

    def missing(self, what: str) -> None:
        """A figure is not known: unknown or care, as the table says."""
        self._write(self.rule.when_missing, f"{what} is not known.", "not known", "a known figure", None, "")

    def known(self, *figures: tuple[object, str]) -> bool:
        """Whether all (figure, what it is) are known; writes down each that is not."""
        for figure, what in figures:
            if figure is None:
                self.missing(what)
        return all(figure is not None for figure, _ in figures)

    def at_most(self, value: Figure | None, limit: Figure | None, show: Show, what: str, limit_what: str) -> None:
        """`value` may not exceed `limit`. Sentence: "<what> is <value>, but <limit_what> is <limit>."."""
        self._compare(value, limit, show, what, limit_what, above=False)

    def at_least(self, value: Figure | None, limit: Figure | None, show: Show, what: str, limit_what: str) -> None:
        """`value` may not fall below `limit`."""
        self._compare(value, limit, show, what, limit_what, above=True)

    def _compare(self, value: Figure | None, limit: Figure | None, show: Show, what: str, limit_what: str, *,
                 above: bool) -> None:
        self.known((value, what), (limit, limit_what))
        if value is None or limit is None:
            return
        if value < limit if above else value > limit:
            self.broken(f"{what} is {show(value)}, but {limit_what} is {show(limit)}.", found=show(value),
                        allowed=f"at {'least' if above else 'most'} {show(limit)}", unit=show(limit).partition(" ")[2],
                        margin=margin_percent(value, limit, above=above))


class Sheet:
    """Findings in the order they were made, and the rules that were asked."""

    __slots__ = ("_asked", "findings")

    def __init__(self) -> None:
        self.findings: list[Finding] = []
        self._asked: dict[str, None] = {}

    def ask(self, name: str, where: str = "") -> Ask:
        """Ask a rule of the table. Raises KeyError for a name that is not in it."""
        self._asked[name] = None
        return Ask(rule=RULES[name], where=where, sheet=self)

    @property
    def checked(self) -> tuple[str, ...]:
        """Names of the rules that were asked, in order."""
        return tuple(self._asked)


def margin_percent(value: Figure, limit: Figure, *, above: bool) -> Fraction | None:
    """How far `value` lies on the good side of `limit`, in per cent of the limit; None for a limit of nought."""
    if not limit:
        return None
    return Fraction(value - limit if above else limit - value) / limit * 100


def without_repeats(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """The findings in order, each once."""
    return tuple(dict.fromkeys(findings))
