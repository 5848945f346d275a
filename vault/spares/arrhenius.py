"""How much faster something ages at another temperature."""

from __future__ import annotations

import math

BOLTZMANN_EV_PER_K = 8.617e-5
ZERO_C_IN_K = 273.15
# Activation energy where none is known (common practice, no source).
ACTIVATION_EV = 0.7


def acceleration(from_c: float, to_c: float, activation_ev: float = ACTIVATION_EV) -> float:
    """How many times faster failures come at `to_c` than at `from_c`: exp(Ea/k · (1/T1 - 1/T2)), T in kelvin (Arrhenius)."""
    return math.exp(activation_ev / BOLTZMANN_EV_PER_K * (1 / (from_c + ZERO_C_IN_K) - 1 / (to_c + ZERO_C_IN_K)))


def ten_kelvin_rule(from_c: float, to_c: float) -> float:
    """The rule of thumb that life halves with every 10 K more (common practice, no source)."""
    return float(2 ** ((to_c - from_c) / 10))
