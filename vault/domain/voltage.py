"""Forward voltage of a light source at its hottest and coldest."""

from __future__ import annotations

from vault.domain.rating import Module, Rating

# Millivolts per kelvin and junction. The textbook figure is 3, the known range 2 to 4; the worst case counts.
FALL_MV_PER_K = 4
BINNING_C = 25
# The formula is no better than its 4 mV/K; its results are rounded outward to a tenth of a volt.
STEP_MV = 100


def coldest_c(rating: Rating) -> int:
    """The lowest ambient of the type in deg C; 0 where the rating names none below zero."""
    return -(rating.ambient_min_below_zero_c or 0)


def hot_and_cold_mv(module: Module, *, ambient_min_c: int) -> tuple[int | None, int | None]:
    """(Vlo, Vhi): lowest voltage at the hottest junction, highest at the lowest ambient, in mV.

    Vhi = Vmax25 + n·k·(25 - Tmin); Vlo = Vmin25 - n·k·(Tjmax - 25), with k = 4 mV/K. Without the junction count (or,
    for Vlo, the junction temperature) the figures of the binning stand as they are. None where no figure is known.
    """
    low, high, junctions = module.voltage_low_mv, module.voltage_high_mv, module.junctions
    if junctions is not None and low is not None and module.tj_max_c is not None:
        fallen = low - junctions * FALL_MV_PER_K * max(0, module.tj_max_c - BINNING_C)
        low = max(0, fallen // STEP_MV * STEP_MV)
    if junctions is not None and high is not None:
        risen = high + junctions * FALL_MV_PER_K * max(0, BINNING_C - ambient_min_c)
        high = -(-risen // STEP_MV) * STEP_MV
    return low, high
