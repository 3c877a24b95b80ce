"""A helical-rotor (progressing cavity) pump: a fixed volume with every turn, less what slips back.

What the torque says: it depends on the head and hardly on the speed, so electrical power grows in proportion to speed.
A centrifugal pump must reach the speed of its shut-off head before any water comes; this one lifts water at a crawl.
That is why it starts at less light.

Assumed here: slip grows in proportion to head and does not depend on speed; friction torque and motor efficiency are
the same at every speed and head. Fair from about a tenth of rated speed to rated speed, for cold water, in a rotor and
stator that fit; real friction is larger at a crawl and real motors are poorer there. Torque and flow of an ideal
displacement pump: any text on hydraulic machines, e.g. Karassik, Pump Handbook (from memory).
Values are taken as valid: finite, ≥ 0, and displacement, speed, motor efficiency and largest head above 0.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from trackersim.arrays import FloatArray
from trackersim.constants import GRAVITY_M_S2
from trackersim.water.pump import WATER_DENSITY_KG_M3

_WEIGHT_N_M3 = WATER_DENSITY_KG_M3 * GRAVITY_M_S2


@dataclass(frozen=True, kw_only=True)
class HelicalPump:
    """What is built in. Speeds elsewhere are shares of `rated_rpm`.

    `slip_m3_s_per_m`: flow lost per metre of head. `friction_nm`: torque of rotor in stator while it turns;
    `start_torque_nm`: torque that breaks it loose from standstill. `motor_efficiency`: shaft power over electrical
    input, drive included. Flow is held where the head reaches `max_head_m`, as a torque limit would do.
    """

    displacement_m3_rev: float
    rated_rpm: float
    slip_m3_s_per_m: float
    friction_nm: float
    start_torque_nm: float
    motor_efficiency: float
    max_head_m: float

    @property
    def rated_flow_m3_s(self) -> float:
        """Flow at rated speed without slip."""
        return self.displacement_m3_rev * self.rated_rpm / 60


def helical_flow_m3_s(pump: HelicalPump, *, speed: ArrayLike, head_m: ArrayLike) -> FloatArray:
    """Flow [m³/s] at `speed` ≥ 0 against `head_m` ≥ 0 (shapes broadcast): D n − slip · H, never below 0."""
    turned = pump.rated_flow_m3_s * np.asarray(speed, dtype=np.float64)
    slipped = pump.slip_m3_s_per_m * np.asarray(head_m, dtype=np.float64)
    flow: FloatArray = np.maximum(turned - slipped, 0)
    return flow


def helical_speed(pump: HelicalPump, *, flow_m3_s: ArrayLike, head_m: ArrayLike) -> FloatArray:
    """Speed (share of rated) that gives `flow_m3_s` against `head_m` (shapes broadcast): (Q + slip · H) / D."""
    slipped = pump.slip_m3_s_per_m * np.asarray(head_m, dtype=np.float64)
    return (np.asarray(flow_m3_s, dtype=np.float64) + slipped) / pump.rated_flow_m3_s


def helical_torque_nm(pump: HelicalPump, head_m: ArrayLike) -> FloatArray:
    """Torque at the shaft [N·m] while it turns against `head_m` (any shape): ρ g H D / 2π + friction."""
    head = np.asarray(head_m, dtype=np.float64)
    return _WEIGHT_N_M3 * head * pump.displacement_m3_rev / (2 * np.pi) + pump.friction_nm


def helical_power_w(pump: HelicalPump, *, speed: ArrayLike, head_m: ArrayLike) -> FloatArray:
    """Electrical input [W] at `speed` against `head_m` (shapes broadcast): 2π n torque / motor efficiency."""
    turns_a_second = np.asarray(speed, dtype=np.float64) * pump.rated_rpm / 60
    return 2 * np.pi * turns_a_second * helical_torque_nm(pump, head_m) / pump.motor_efficiency


def helical_start_power_w(pump: HelicalPump, *, head_m: ArrayLike, min_speed: float) -> FloatArray:
    """Input [W] that must be offered to start at `min_speed` against `head_m` (any shape), for a start threshold.

    The larger of running and breakaway torque at that speed. Assumed: the drive can turn all its power at `min_speed`
    into torque, and a full pipe stands on the pump, as a check valve holds it.
    """
    torque_nm = np.maximum(helical_torque_nm(pump, head_m), pump.start_torque_nm)
    return 2 * np.pi * min_speed * pump.rated_rpm / 60 * torque_nm / pump.motor_efficiency


def helical_shut_off_head_m(pump: HelicalPump, *, power_w: ArrayLike) -> FloatArray:
    """Head [m] at which all it turns slips back, at an input of `power_w` ≥ 0 (any shape); at most `max_head_m`.

    Root of P η D = slip · H · (ρ g H D + 2π friction), written so that no difference of near numbers occurs.
    """
    slip, displacement = pump.slip_m3_s_per_m, pump.displacement_m3_rev
    square, linear = slip * _WEIGHT_N_M3 * displacement, 2 * np.pi * slip * pump.friction_nm
    input_term = np.asarray(power_w, dtype=np.float64) * pump.motor_efficiency * displacement
    below = linear + np.sqrt(linear**2 + 4 * square * input_term)
    # Without slip nothing limits the head but the drive's torque; the guard sends the quotient beyond that limit.
    head: FloatArray = np.minimum(2 * input_term / np.maximum(below, 1e-300), pump.max_head_m)
    return head


def shut_off_head_at_speed_m(pump: HelicalPump, speed: ArrayLike) -> FloatArray:
    """Head [m] at which all it turns at `speed` (any shape) slips back, at most `max_head_m`; 0 at standstill."""
    turned = pump.rated_flow_m3_s * np.asarray(speed, dtype=np.float64)
    head: FloatArray = np.minimum(turned / max(pump.slip_m3_s_per_m, 1e-300), pump.max_head_m)
    return head
