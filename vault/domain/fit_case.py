"""One spare held against one gear of one luminaire: what every fit rule looks at."""

from __future__ import annotations

from dataclasses import dataclass

from vault.domain.control_rules import controls_of
from vault.domain.driver import DriverModel, Holds, Way
from vault.domain.rating import GearRating, Mounting, Rating
from vault.domain.rules import Sheet
from vault.domain.settings import Control, Duty, EmergencySupply, Gear, Protocol
from vault.domain.site import Circuit, Line
from vault.domain.voltage import coldest_c, hot_and_cold_mv

_RANGED = (Way.BUS, Way.NFC)


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A spare, the gear it shall replace, the type's limits for that gear, and where it hangs."""

    sheet: Sheet
    gear: Gear
    rating: Rating
    position: GearRating
    spare: DriverModel
    circuit: Circuit | None
    line: Line | None

    @property
    def approved_model(self) -> bool:
        """Whether the spare is of the very model that the type was approved with."""
        return self.position.original is not None and self.position.original.model == self.spare.model

    @property
    def built_in(self) -> bool:
        """Whether the gear sits inside the luminaire; so it is taken where the type does not say."""
        return self.position.mounting is not Mounting.INDEPENDENT

    @property
    def emergency(self) -> bool:
        """Whether the gear has an emergency duty."""
        return self.gear.duty is not Duty.GENERAL

    @property
    def central(self) -> bool:
        """Whether a central battery may feed it."""
        settings = self.gear.settings.emergency
        return bool(self.circuit and self.circuit.central) or (
            settings is not None and settings.supply is EmergencySupply.CENTRAL)

    @property
    def controls(self) -> tuple[Control, ...]:
        """Control data on record."""
        return controls_of(self.gear.settings)

    @property
    def uses_dali(self) -> bool:
        """Whether it is controlled over DALI, by the record or, where that is silent, perhaps by the type."""
        if self.controls:
            return any(control.protocol is Protocol.DALI for control in self.controls)
        return self.position.protocols is None or Protocol.DALI in self.position.protocols

    def voltages_mv(self) -> list[tuple[int | None, int | None]]:
        """(Vlo, Vhi) of each channel's light source."""
        return [hot_and_cold_mv(m, ambient_min_c=coldest_c(self.rating)) for m in self.position.modules]

    def currents_ma(self) -> list[int | None]:
        """What the spare will be set to on each channel: the settable current nearest to the recorded one."""
        return [None if c.current_ma is None else settable_ma(self.spare, c.current_ma)
                for c in self.gear.settings.channels]


def settable_ma(spare: DriverModel, wanted_ma: int) -> int | None:
    """The current nearest to the wanted one that the spare can be set to; the lower of two as near.

    None where that cannot be told: no range, no step, or no means that sets a current.
    """
    least, most = spare.current_min_ma, spare.current_max_ma
    ways = [means for means in spare.means if Holds.CURRENT in means.holds]
    options = [current for means in ways for _, current in means.positions or ()]
    if least is not None and most is not None:
        smooth = any(means.way is Way.RESISTOR for means in ways)
        if least == most:
            options.append(least)
        elif smooth or not spare.means or any(means.way in _RANGED for means in ways):
            if least < wanted_ma < most and spare.current_step_ma is None and not smooth:
                return wanted_ma if wanted_ma in options else None
            options += _on_grid(wanted_ma, least, most, 1 if smooth else spare.current_step_ma or 1)
    return min(options, key=lambda current: (abs(current - wanted_ma), current), default=None)


def _on_grid(wanted: int, least: int, most: int, step: int) -> list[int]:
    """The two grid points about the wanted one, or the end beyond which it lies."""
    if not least < wanted < most:
        return [max(least, min(most, wanted))]
    below = least + (wanted - least) // step * step
    return [below, min(most, below + step)]
