"""The pack's list of escape lighting, with the tests that it needs and room to write when they were done."""

from __future__ import annotations

from vault.actions.pack_gather import AsBuilt, BuiltGear
from vault.actions.pack_schedule import loud_rows
from vault.domain.fields import value_words
from vault.domain.schema import NOT_SET, words
from vault.domain.settings import Emergency, EmergencySupply
from vault.domain.units import ma, minutes, permille
from vault.exchange.pack_paper import PaperSection, PaperTable

# EN 50172:2004 7.2 as quoted in emergency lighting guides.
USUAL_TESTS = ("Usual intervals (EN 50172:2004 7.2, as quoted; the local rule counts): a function test every month, a test over "
               "the full rated duration every year, the indicators of a central supply every day.")
_BLANK = "Write the day into the last two columns and the result into the log book of the premises."
_HEADINGS = ("Luminaire", "Place", "Line, address", "Driver", "Mode", "Duration and supply", "Emergency output", "Tests as set",
             "Function test due / done", "Duration test due / done")
_WIDTHS = (60, 82, 36, 58, 62, 58, 54, 70, 50, 50)


def emergency(built: AsBuilt) -> PaperSection:
    """Every gear with an emergency duty."""
    some = [one for one in built.gears if one.emergency]
    if not some:
        return PaperSection(key="emergency", title="Emergency lighting", paragraphs=(
            "No luminaire on record has an emergency duty.",))
    many = len({one.seen.tag for one in some})
    return PaperSection(
        key="emergency", title="Emergency lighting",
        paragraphs=(f"{many} {'luminaire' if many == 1 else 'luminaires'}.", USUAL_TESTS, _BLANK),
        tables=(PaperTable(headings=_HEADINGS, widths=_WIDTHS, rows=[_row(one) for one in some], loud=loud_rows(some)),))


def _row(one: BuiltGear) -> tuple[str, ...]:
    held = one.gear.settings.emergency
    supply = "" if held is None else "own battery" if held.supply is EmergencySupply.SELF_CONTAINED else words(held.supply)
    says = ("not recorded",) * 4 if held is None else (
        value_words("mode", "", held.mode), f"{minutes(held.rated_duration_min)}, {supply}", _output(held),
        _tests(held))
    return (f"{one.reference}\n{one.tag}".lstrip("\n"), one.record.place, f"{one.record.line or ''} {one.address}".strip() or "–",
            one.gear.model or "not recorded", *says, "", "")


def _output(held: Emergency) -> str:
    said = []
    if held.emergency_current_ma is not None:
        said.append(ma(held.emergency_current_ma))
    for name, level in (("", held.emergency_level_permille), ("d.c. ", held.dc_level_permille)):
        if isinstance(level, int):
            said.append(f"{name}{permille(level)}")
    return ", ".join(said) or "not recorded"


def _tests(held: Emergency) -> str:
    said = [_interval(name, value, unit) for name, value, unit in (
        ("function", held.function_test_days, "days"), ("duration", held.duration_test_weeks, "weeks")) if value is not None]
    if said:
        return "; ".join(said)
    return "by the central system" if held.supply is EmergencySupply.CENTRAL else "not recorded"


def _interval(name: str, value: object, unit: str) -> str:
    if value is NOT_SET:
        return f"{name}: as the driver has it"
    # IEC 62386-202: 0 switches the automatic test off (from memory).
    return f"{name} every {value} {unit}" if value else f"{name}: not automatic"
