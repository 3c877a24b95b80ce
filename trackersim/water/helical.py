"""A helical-rotor (progressing cavity) pump: a fixed volume with every turn, less what slips back.

What the torque says: it depends on the head and hardly on the speed, so power at the shaft grows in proportion to
speed. A centrifugal pump must reach the speed of its shut-off head before any water comes; this one lifts water at a
crawl. That is why it starts at less light.

Assumed here: slip grows in proportion to head and does not depend on speed; friction torque is the same at every speed
and head. Fair from about a tenth of rated speed to rated speed, for cold water, in a rotor and stator that fit; real
friction is larger at a crawl. Torque and flow of an ideal displacement pump: any text on hydraulic machines, e.g.
Karassik, Pump Handbook (from memory). The motor's loss is that of `motor`.
Values are taken as valid: finite, ≥ 0, and displacement, speed, motor and largest head above 0.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from trackersim.arrays import FloatArray
from trackersim.constants import GRAVITY_M_S2
from trackersim.water.motor import Motor, motor_input_w
from trackersim.water.pump import WATER_DENSITY_KG_M3

_WEIGHT_N_M3 = WATER_DENSITY_KG_M3 * GRAVITY_M_S2


@dataclass(frozen=True, kw_only=True)
class HelicalPump:
    """What is built in. Speeds elsewhere are shares of `rated_rpm`.

    `slip_m3_s_per_m`: flow lost per metre of head. `friction_nm`: torque of rotor in stator while it turns. `motor`:
    motor and drive, its rated speed `rated_rpm`. Flow is held where the head reaches `max_head_m`, as a torque limit
    would do.
    """

    displacement_m3_rev: float
    rated_rpm: float
    slip_m3_s_per_m: float
    friction_nm: float
    motor: Motor
    max_head_m: float

    @property
    def rated_flow_m3_s(self) -> float:
        """Flow at rated speed without slip."""
        return self.displacement_m3_rev * self.rated_rpm / 60


def helical_flow_m3_s(pump: HelicalPump, *, speed: ArrayLike, head_m: ArrayLike) -> FloatArray:
    """Flow against a head at a speed: D n − slip · H.

    Parameters
    ----------
    pump : HelicalPump
        The pump.
    speed : ArrayLike
        Any shape. Share of rated speed, ≥ 0.
    head_m : ArrayLike
        Broadcasts with the speed. Head [m], ≥ 0.

    Returns
    -------
    FloatArray
        Flow [m³/s], of the common shape, never below 0.
    """
    turned = pump.rated_flow_m3_s * np.asarray(speed, dtype=np.float64)
    slipped = pump.slip_m3_s_per_m * np.asarray(head_m, dtype=np.float64)
    flow: FloatArray = np.maximum(turned - slipped, 0)
    return flow


def helical_speed(pump: HelicalPump, *, flow_m3_s: ArrayLike, head_m: ArrayLike) -> FloatArray:
    """Speed that gives a flow against a head: (Q + slip · H) / D.

    Parameters
    ----------
    pump : HelicalPump
        The pump.
    flow_m3_s : ArrayLike
        Any shape. Flow [m³/s], ≥ 0.
    head_m : ArrayLike
        Broadcasts with the flow. Head [m], ≥ 0.

    Returns
    -------
    FloatArray
        Share of rated speed, of the common shape.
    """
    slipped = pump.slip_m3_s_per_m * np.asarray(head_m, dtype=np.float64)
    return (np.asarray(flow_m3_s, dtype=np.float64) + slipped) / pump.rated_flow_m3_s


def helical_torque_nm(pump: HelicalPump, head_m: ArrayLike) -> FloatArray:
    """Torque at the shaft while it turns against a head: ρ g H D / 2π + friction.

    Parameters
    ----------
    pump : HelicalPump
        The pump.
    head_m : ArrayLike
        Any shape. Head [m], ≥ 0.

    Returns
    -------
    FloatArray
        Torque [N·m], shape of the head.
    """
    head = np.asarray(head_m, dtype=np.float64)
    return _WEIGHT_N_M3 * head * pump.displacement_m3_rev / (2 * np.pi) + pump.friction_nm


def helical_torque_share(pump: HelicalPump, head_m: ArrayLike) -> FloatArray:
    """Torque at the shaft while it turns against a head, relative to the motor.

    Parameters
    ----------
    pump : HelicalPump
        The pump.
    head_m : ArrayLike
        Any shape. Head [m], ≥ 0.

    Returns
    -------
    FloatArray
        Share of the motor's rated torque, shape of the head.
    """
    rated_nm = pump.motor.shaft_w / (2 * np.pi * pump.rated_rpm / 60)
    return helical_torque_nm(pump, head_m) / rated_nm


def helical_power_w(pump: HelicalPump, *, speed: ArrayLike, head_m: ArrayLike) -> FloatArray:
    """Electrical input at a speed against a head: 2π n torque and the motor's loss.

    Parameters
    ----------
    pump : HelicalPump
        The pump.
    speed : ArrayLike
        Any shape. Share of rated speed, ≥ 0.
    head_m : ArrayLike
        Broadcasts with the speed. Head [m], ≥ 0.

    Returns
    -------
    FloatArray
        Input [W], of the common shape. At speed 0 it is what must be offered until it turns at all: copper loss at the
        torque of that head.
    """
    return motor_input_w(pump.motor, speed=speed, torque_share=helical_torque_share(pump, head_m))


def helical_shut_off_head_m(pump: HelicalPump, *, power_w: ArrayLike) -> FloatArray:
    """Head at which all that it turns at an input slips back.

    Root of `motor_input_w` = P with speed = slip · H / D and torque = friction + ρ g H D / 2π, written so that no
    difference of near numbers occurs.

    Parameters
    ----------
    pump : HelicalPump
        The pump.
    power_w : ArrayLike
        Any shape. Electrical input [W], ≥ 0.

    Returns
    -------
    FloatArray
        Head [m], shape of the input, at most `max_head_m`; 0 where the power does not turn it.
    """
    motor, slip = pump.motor, pump.slip_m3_s_per_m / pump.rated_flow_m3_s
    friction = float(helical_torque_share(pump, 0.0))
    per_metre = float(helical_torque_share(pump, 1.0)) - friction
    square = motor.shaft_w * slip * per_metre + motor.copper_w * per_metre**2
    linear = slip * (motor.shaft_w * friction + motor.no_load_w) + 2 * motor.copper_w * per_metre * friction
    spare = np.maximum(np.asarray(power_w, dtype=np.float64) - motor.copper_w * friction**2, 0)
    below = linear + np.sqrt(linear**2 + 4 * square * spare)
    # Without slip and copper nothing limits the head but the drive's torque; the guard sends it beyond that limit.
    head: FloatArray = np.minimum(2 * spare / np.maximum(below, 1e-300), pump.max_head_m)
    return head


def shut_off_head_at_speed_m(pump: HelicalPump, speed: ArrayLike) -> FloatArray:
    """Head at which all that it turns at a speed slips back.

    Parameters
    ----------
    pump : HelicalPump
        The pump.
    speed : ArrayLike
        Any shape. Share of rated speed, ≥ 0.

    Returns
    -------
    FloatArray
        Head [m], shape of the speed, at most `max_head_m`; 0 at standstill.
    """
    turned = pump.rated_flow_m3_s * np.asarray(speed, dtype=np.float64)
    head: FloatArray = np.minimum(turned / max(pump.slip_m3_s_per_m, 1e-300), pump.max_head_m)
    return head


def unheld_shut_off_head_m(pump: HelicalPump, *, power_w: float, speed: float) -> float:
    """Head against a shut valve if no torque limit held the pump: where all slips back that it turns.

    Parameters
    ----------
    pump : HelicalPump
        The pump; its `max_head_m` has no part.
    power_w : float
        Largest electrical input [W], ≥ 0.
    speed : float
        Largest speed, share of rated, ≥ 0.

    Returns
    -------
    float
        Head [m]: the less of what power and speed allow; very large where next to nothing slips.
    """
    free = replace(pump, max_head_m=math.inf)
    return min(float(helical_shut_off_head_m(free, power_w=power_w)), float(shut_off_head_at_speed_m(free, speed)))
