"""What has to be said before anybody touches the luminaire, and what has to be tested afterwards.

Common practice of the trade, without one source; local rules and competent persons decide.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from vault.domain.means import HAND_WAYS, Way
from vault.domain.rating import ProtectionClass, Rating
from vault.domain.settings import Duty, EmergencySupply, Gear, Protocol, Settings
from vault.domain.units import ma, minutes, mv


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """One caution, numbered for reference."""

    number: int
    text: str


CAUTIONS: tuple[Caution, ...] = tuple(Caution(number=number, text=text) for number, text in enumerate((
    "Only a competent and authorised person may do this work. The local rules decide; where they ask for something "
    "else than this sheet, do what they ask.",
    "Switch the circuit off, lock it off and hang your tag on it. Prove your tester on a live source, prove every pair "
    "of conductors dead, then prove the tester once more.",
    "Look for other sources of supply: a permanent live conductor, a central battery that feeds direct current while "
    "the mains is off, a battery inside the luminaire, a control line that comes from another circuit.",
    "Treat every control conductor as mains. A DALI line is not safety extra-low voltage.",
    "Beware of stored charge: a failed driver may not discharge itself. Wait 5 minutes, then measure its terminals "
    "before you touch them.",
    "Disconnect the battery before you take out anything else, and mind its polarity when you connect it again.",
    "An emergency luminaire goes out of service: tell the responsible person before you begin and when it works again.",
    "Secure yourself, the tools and the parts against falling. Parts may be hot. Do not stare into the light source; "
    "after a wrong setting it may be brighter than you expect.",
    "Discharge yourself before you touch the light source. Connect or disconnect it only while the driver is without "
    "supply: a charged output destroys it.",
    "Set switches, rotary switches, jumpers, plugs and resistors only while the driver is without supply.",
    "Setting over the bus needs the supply on: first close every cover, so that no live part can be touched.",
    "Put back every cover, gasket, cord grip and earth connection before the supply comes on.",
), 1))

_WITH_BATTERY, _WITH_EMERGENCY, _BY_HAND, _BY_BUS = 6, 7, 10, 11
_SET_DEAD = frozenset({*HAND_WAYS, Way.RESISTOR})


def cautions_for(settings: Settings, ways: Collection[Way], supply: EmergencySupply | None) -> tuple[str, ...]:
    """The cautions for a gear with these settings, set by these means, the person and the local rules first.

    supply: where its emergency power comes from; None for gear without an emergency duty. A gear with emergency
    settings counts as one even so.
    """
    emergency = supply is not None or settings.emergency is not None
    battery = supply is EmergencySupply.SELF_CONTAINED or (
        settings.emergency is not None and settings.emergency.supply is EmergencySupply.SELF_CONTAINED)
    apply = {_WITH_BATTERY: battery, _WITH_EMERGENCY: emergency, _BY_HAND: bool(_SET_DEAD & set(ways)),
             _BY_BUS: Way.BUS in ways}
    return tuple(caution.text for caution in CAUTIONS if apply.get(caution.number, True))


def retests_for(gear: Gear, rating: Rating | None = None) -> tuple[str, ...]:
    """What to test after the driver is replaced, in the order in which it is done. Limits of local rules come first.

    rating: of the luminaire's type. Only a known class II or III (IEC 60598-1) drops the earth test: it has no earth.
    """
    settings = gear.settings
    controls = [c for c in (settings.control, *(channel.control for channel in settings.channels)) if c is not None]
    protocols = {control.protocol for control in controls}
    protection = rating.protection_class if rating is not None else None
    tests = ["Earth continuity, with the supply off."] if protection in (None, ProtectionClass.CLASS_I) else []
    tests += [
        "Insulation resistance: at least 1 MΩ at 500 V d.c., on an extra-low-voltage part 0.5 MΩ at 250 V d.c. "
        "Protect the electronics: join line and neutral for the test, or disconnect the driver.",
        "Polarity of supply and light source, then the supply on.",
        "Function: every light source lights, evenly and without flicker.",
    ]
    for number, channel in enumerate(settings.channels, 1):
        where = f"channel {number}" if len(settings.channels) > 1 else "the output"
        if channel.current_ma is not None:
            tests.append(f"Current of {where} at full output: {ma(channel.current_ma)} within the driver's tolerance.")
        if channel.voltage_mv is not None:
            tests.append(f"Voltage of {where}: {mv(channel.voltage_mv)} within the driver's tolerance.")
    if protocols & {Protocol.DALI, Protocol.ANALOGUE_1_10V, Protocol.PHASE_CUT}:
        tests.append("Dimming: from full output to the lowest level and back.")
    if Protocol.DALI in protocols:
        tests.append("Bus: exactly one gear answers at the address, its groups and scenes respond, and the neighbours "
                     "behave as before.")
    if gear.duty is not Duty.GENERAL or settings.emergency is not None:
        tests += _emergency_tests(settings)
    return tuple(tests)


def _emergency_tests(settings: Settings) -> list[str]:
    emergency = settings.emergency
    central = emergency is not None and emergency.supply is EmergencySupply.CENTRAL
    duration = f"of {minutes(emergency.rated_duration_min)}" if emergency is not None else "on record"
    tests = ["Emergency: the luminaire changes over when its supply fails, and back when it returns.",
             "No inhibit is left active."]
    if central:
        tests.append(f"The central system reports the luminaire, and it lights from the battery over the rated "
                     f"duration {duration}.")
    else:
        tests.append(f"Charge the battery for 24 h without a break, then test the full rated duration {duration}.")
    return [*tests, "Write the result into the log book, and tell the responsible person that it works again."]
