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

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import brentq

from trackersim.arrays import FloatArray
from trackersim.constants import GRAVITY_M_S2
from trackersim.errors import InputError
from trackersim.job.pipework import Pipe
from trackersim.job.water import Source
from trackersim.water.pump import WATER_DENSITY_KG_M3
from trackersim.water.source import yield_limit_m3_s
from trackersim.water.system import OperatingTable, system_head_m

_CHURNING_SPEEDS = 50
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


def helical_operating_table(
    pump: HelicalPump,
    *,
    static_head_m: float,
    pipes: Sequence[Pipe],
    source: Source,
    min_speed: float,
    max_speed: float = 1.0,
    speeds: int = 200,
) -> OperatingTable:
    """Steady running points from `min_speed` to `max_speed`, for `flow_at_power`, as `operating_table` gives.

    Below the speed at which all is slip no water comes and `head_m` is the shut-off head. Flow, speed and power stop
    rising where the well's yield or `max_head_m` is reached. The torque to start is not in the table: a drive off
    below `power_w[0]` still needs `helical_start_power_w` to begin. Static head [m] ≥ 0, else `InputError`.
    """
    if not 0 <= static_head_m < np.inf:
        raise InputError.of("static_head", static_head_m, "must be 0 m or more.", "Give the height of the lift.")

    def needed_m(flow: ArrayLike) -> FloatArray:
        return system_head_m(flow, static_head_m=static_head_m, pipes=pipes, source=source)

    def flow_at(speed: float) -> float:
        def missing(flow: float) -> float:
            return float(helical_flow_m3_s(pump, speed=speed, head_m=needed_m(flow))) - flow

        return float(brentq(missing, 0.0, pump.rated_flow_m3_s * speed, xtol=1e-14))

    full = flow_at(max_speed)
    well_limit = yield_limit_m3_s(source)
    most = min(full, well_limit)
    if needed_m(most) > pump.max_head_m:
        most = _flow_at_head(pump, needed_m, below=most)
    pumping = np.linspace(min(flow_at(min_speed), most), most, speeds + 1 if most > 0 else 0)
    pumping_speed = np.maximum(helical_speed(pump, flow_m3_s=pumping, head_m=needed_m(pumping)), min_speed)
    idle_speed = _idle_speeds(pump, static_head_m=static_head_m, low=min_speed, high=max_speed, lifts=most > 0)
    speed, flow = np.concatenate([idle_speed, pumping_speed]), np.concatenate([np.zeros(len(idle_speed)), pumping])
    head = np.where(flow > 0, needed_m(flow), shut_off_head_at_speed_m(pump, speed))
    return OperatingTable(
        speed=speed,
        power_w=np.maximum.accumulate(helical_power_w(pump, speed=speed, head_m=head)),
        flow_m3_s=flow,
        head_m=head,
        can_lift=most > 0,
        yield_limited=full > well_limit == most,
    )


def _flow_at_head(pump: HelicalPump, needed_m: Callable[[ArrayLike], FloatArray], *, below: float) -> float:
    """The flow at which the system asks for the largest head; 0 if it asks for more even at rest."""
    if needed_m(0.0) >= pump.max_head_m:
        return 0.0
    return float(brentq(lambda flow: float(needed_m(flow)) - pump.max_head_m, 0.0, below, xtol=1e-14))


def shut_off_head_at_speed_m(pump: HelicalPump, speed: ArrayLike) -> FloatArray:
    """Head [m] at which all it turns at `speed` (any shape) slips back, at most `max_head_m`; 0 at standstill."""
    turned = pump.rated_flow_m3_s * np.asarray(speed, dtype=np.float64)
    head: FloatArray = np.minimum(turned / max(pump.slip_m3_s_per_m, 1e-300), pump.max_head_m)
    return head


def _idle_speeds(pump: HelicalPump, *, static_head_m: float, low: float, high: float, lifts: bool) -> FloatArray:
    """Speeds at which it turns without giving water; none if even the lowest gives some."""
    most_m = min(static_head_m, pump.max_head_m)
    threshold = min(float(helical_speed(pump, flow_m3_s=0.0, head_m=most_m)), high)
    if lifts and threshold <= low:
        return np.empty(0)
    return np.linspace(low, max(threshold, low), _CHURNING_SPEEDS, endpoint=not lifts)
