"""From one module to the controller's output: strings, age, mismatch, wire, controller."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]


def array_output(
    *,
    module_w: FloatArray,
    module_v: FloatArray,
    in_series: int,
    in_parallel: int,
    power_share: float,
) -> tuple[FloatArray, FloatArray]:
    """Power [W] and current [A] of evenly lit strings (n,), each module giving `power_share` of its new power.

    Ageing and mismatch are taken from the current: the voltage at best power hardly changes with either.
    """
    power = module_w * (in_series * in_parallel * power_share)
    voltage = module_v * in_series
    return power, np.divide(power, voltage, out=np.zeros_like(power), where=voltage > 1e-6)


def after_wire_w(*, power_w: FloatArray, current_a: FloatArray, resistance_ohm: float) -> FloatArray:
    """Power left at the end of a wire of loop resistance `resistance_ohm`: P − I²R, never below 0."""
    return np.maximum(power_w - current_a**2 * resistance_ohm, 0.0)


def controller_output_w(*, input_w: FloatArray, efficiency: float, own_use_w: float, rated_w: float) -> FloatArray:
    """Power the controller can give the motor: efficiency · (input − own use), at most its rating, never below 0."""
    return np.clip((input_w - own_use_w) * efficiency, 0.0, rated_w)
