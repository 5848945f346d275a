"""One spare held against one gear of one luminaire: what every fit rule looks at."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from vault.domain.apply_current import CurrentWay, settable
from vault.domain.control_rules import controls_of
from vault.domain.driver import DriverModel
from vault.domain.rating import GearRating, Mounting, Rating
from vault.domain.rules import Sheet
from vault.domain.settings import Control, Duty, EmergencySupply, Gear, Protocol
from vault.domain.site import Circuit, Line
from vault.domain.voltage import coldest_c, hot_and_cold_mv


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

    def ways(self) -> list[CurrentWay | None]:
        """How each channel is set to the current nearest to the recorded one; None where that cannot be told."""
        return [None if c.current_ma is None else settable(self.spare, c.current_ma, number)
                for number, c in enumerate(self.gear.settings.channels, 1)]

    def currents_ma(self) -> list[Fraction | None]:
        """What the spare will be set to on each channel: the settable current nearest to the recorded one."""
        return [None if way is None else way.gives_ma for way in self.ways()]
