"""From modules to the controller's output."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]


def module_share_of_wire_ohm(*, loop_ohm: float, in_series: int, in_parallel: int, power_share: float) -> float:
    """Resistance to put in series with each module so that together they feel the wire [Ω].

    A wire of `loop_ohm` carries the current of all strings; a module carries one string's, and has one part in
    `in_series` of the voltage. Modules that give `power_share` of their new current drop as much less.
    """
    return loop_ohm * in_parallel / in_series * power_share


def controller_output_w(*, input_w: FloatArray, efficiency: float, own_use_w: float, rated_w: float) -> FloatArray:
    """Power the controller can give the motor: efficiency · (input − own use), at most its rating, never below 0."""
    return np.clip((input_w - own_use_w) * efficiency, 0.0, rated_w)
