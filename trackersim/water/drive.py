"""Speed and electrical input that a pump of either kind takes for a flow at a head: no root to solve."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np

from trackersim.arrays import FloatArray, between, place_on_grid
from trackersim.water.helical import HelicalPump, helical_power_w, helical_speed
from trackersim.water.motor import motor_input_w
from trackersim.water.pump import PumpCurve, pump_head_m, pump_torque_share, runout_flow_m3_s
from trackersim.water.wear import PumpModel

_SPEED_SAMPLES = 4096


class Drive(NamedTuple):
    """What a pump's drive does: speed (share of rated) and electrical input."""

    speed: FloatArray
    power_w: FloatArray


def drive_of(pump: PumpModel, flow_m3_s: FloatArray, head_m: FloatArray) -> Drive:
    """Speed and electrical input that give a flow at a head.

    Parameters
    ----------
    pump : PumpModel
        The pump's laws.
    flow_m3_s : FloatArray
        Any shape. Flow [m³/s], ≥ 0.
    head_m : FloatArray
        Broadcasts with the flow. Head of the pump [m], ≥ 0.

    Returns
    -------
    Drive
        Speed [share of rated] and input [W], of the common shape.
    """
    if isinstance(pump, HelicalPump):
        speed = helical_speed(pump, flow_m3_s=flow_m3_s, head_m=head_m)
        return Drive(speed, helical_power_w(pump, speed=speed, head_m=head_m))
    fit = _speed_fit(pump)
    root = np.sqrt(head_m + fit.bend * flow_m3_s**2)
    at, share = place_on_grid(flow_m3_s / np.maximum(root, 1e-12) * fit.per_step, steps=_SPEED_SAMPLES)
    speed = root * between(fit.inverse_root, at, share)
    torque = speed**2 * between(fit.torque_share, at, share)
    return Drive(speed, motor_input_w(pump.motor, speed=speed, torque_share=torque))


class _SpeedFit(NamedTuple):
    bend: float
    per_step: float
    inverse_root: FloatArray
    torque_share: FloatArray


@lru_cache(maxsize=64)
def _speed_fit(curve: PumpCurve) -> _SpeedFit:
    """1/√(H₁ + c q²) and torque T₁ over q/√(H₁ + c q²), which finds q from any flow and head: no root to solve."""
    runout = runout_flow_m3_s(curve)
    bend = float(curve.head_m[0]) / runout**2
    q = np.linspace(0, runout, 4 * _SPEED_SAMPLES)
    root = np.sqrt(pump_head_m(curve, q) + bend * q**2)
    even = np.linspace(0, 1 / np.sqrt(bend), _SPEED_SAMPLES + 1)
    flow = np.interp(even, q / root, q)
    return _SpeedFit(
        bend=bend,
        per_step=_SPEED_SAMPLES * float(np.sqrt(bend)),
        inverse_root=1 / np.sqrt(pump_head_m(curve, flow) + bend * flow**2),
        torque_share=pump_torque_share(curve, flow),
    )
