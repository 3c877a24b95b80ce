"""One pump where it stands, of either kind: the head that it must give, and what it does against a shut valve.

Values are taken as valid, as in `junction`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from trackersim.arrays import FloatArray
from trackersim.job.pipework import Pipe
from trackersim.job.pump import Pump
from trackersim.job.water import Source
from trackersim.water.drive import Drive, drive_of
from trackersim.water.helical import (
    HelicalPump,
    helical_power_w,
    helical_shut_off_head_m,
    helical_speed,
    shut_off_head_at_speed_m,
)
from trackersim.water.motor import motor_input_w, speed_at_input
from trackersim.water.pump import PumpCurve, pump_head_m, pump_power_w, runout_flow_m3_s
from trackersim.water.source import yield_limit_m3_s
from trackersim.water.system import system_head_m
from trackersim.water.wear import PumpModel


@dataclass(frozen=True, kw_only=True, eq=False)
class PumpBranch:
    """One pump where it stands: sections of its unit, and what is computed of them for the months of one lift.

    Computed are `model`, the laws of the pump as worn today (`pump_model`), and `static_head_m`, from its standing
    water up to the end of `pipes`: the junction with the main, or the outlet. Of `pump` only the speeds are read that
    its drive allows; below the least it is off.
    """

    model: PumpModel
    pump: Pump
    source: Source
    pipes: tuple[Pipe, ...]
    static_head_m: float

    @property
    def max_flow_m3_s(self) -> float:
        """The well's yield, at which a level control holds it."""
        return yield_limit_m3_s(self.source)


def pump_needs_m(unit: PumpBranch, flow_m3_s: ArrayLike, *, junction_head_m: ArrayLike) -> FloatArray:
    """Head that a pump must give to send a flow into the junction.

    Parameters
    ----------
    unit : PumpBranch
        The pump where it stands.
    flow_m3_s : ArrayLike
        Any shape. Its flow [m³/s], ≥ 0.
    junction_head_m : ArrayLike
        Broadcasts with the flow. Head of the water above the junction [m].

    Returns
    -------
    FloatArray
        Head [m], of the common shape.
    """
    static_head_m = unit.static_head_m + np.asarray(junction_head_m)
    return system_head_m(flow_m3_s, static_head_m=static_head_m, pipes=unit.pipes, source=unit.source)


def runout_m3_s(unit: PumpBranch, speed: float) -> float:
    """Flow that a pump gives at a speed against no head.

    Parameters
    ----------
    unit : PumpBranch
        The pump where it stands.
    speed : float
        Share of rated speed, ≥ 0.

    Returns
    -------
    float
        Flow [m³/s].
    """
    pump = unit.model
    return speed * (pump.rated_flow_m3_s if isinstance(pump, HelicalPump) else runout_flow_m3_s(pump))


def power_at_speed_w(unit: PumpBranch, speed: ArrayLike, flow: FloatArray, head: FloatArray) -> FloatArray:
    """Input at a speed at or above the one that would do; a unit without flow then turns at its shut-off head.

    Parameters
    ----------
    unit : PumpBranch
        The pump where it stands.
    speed : ArrayLike
        Any shape. Share of rated speed.
    flow : FloatArray
        Broadcasts with the speed. Its flow [m³/s].
    head : FloatArray
        Broadcasts with the speed. Its head [m].

    Returns
    -------
    FloatArray
        Electrical input [W], of the common shape.
    """
    if not isinstance(unit.model, HelicalPump):
        return pump_power_w(unit.model, flow, speed=speed)
    idle_m = shut_off_head_at_speed_m(unit.model, speed)
    return helical_power_w(unit.model, speed=speed, head_m=np.where(flow > 0, head, idle_m))


def at_shut_off(unit: PumpBranch, power_w: FloatArray) -> tuple[FloatArray, Drive]:
    """Head, speed and input of a pump while it gives no water.

    Parameters
    ----------
    unit : PumpBranch
        The pump where it stands.
    power_w : FloatArray
        Any shape. Electrical input offered [W], ≥ 0.

    Returns
    -------
    tuple[FloatArray, Drive]
        Its shut-off head [m], and the speed and input that go with it, of that shape.
    """
    pump = unit.model
    if isinstance(pump, HelicalPump):
        most_m = shut_off_head_at_speed_m(pump, unit.pump.max_speed)
        head = np.minimum(helical_shut_off_head_m(pump, power_w=power_w), most_m)
    else:
        speed = speed_at_input(pump.motor, input_w=power_w, torque_share=_shut_off_torque_share(pump))
        speed = np.minimum(speed, unit.pump.max_speed)
        head = pump_head_m(pump, 0.0, speed=speed)
    return head, drive_of(pump, np.zeros_like(head), head)


def shut_off_head_m(unit: PumpBranch, speed: ArrayLike) -> FloatArray:
    """Head that a pump reaches at a speed without giving water.

    Parameters
    ----------
    unit : PumpBranch
        The pump where it stands.
    speed : ArrayLike
        Any shape. Share of rated speed, ≥ 0.

    Returns
    -------
    FloatArray
        Shape of the speed [m].
    """
    if isinstance(unit.model, HelicalPump):
        return shut_off_head_at_speed_m(unit.model, speed)
    return pump_head_m(unit.model, 0.0, speed=speed)


def shut_off_w(pump: PumpModel, head_m: FloatArray) -> FloatArray:
    """Input at which shut-off reaches a head; exact, since flow just above it rises steeply with power.

    Parameters
    ----------
    pump : PumpModel
        The pump's laws.
    head_m : FloatArray
        Any shape. Head [m], ≥ 0.

    Returns
    -------
    FloatArray
        Of that shape [W].
    """
    if isinstance(pump, HelicalPump):
        return helical_power_w(pump, speed=helical_speed(pump, flow_m3_s=0.0, head_m=head_m), head_m=head_m)
    share = head_m / pump.head_m[0]
    return motor_input_w(pump.motor, speed=np.sqrt(share), torque_share=share * _shut_off_torque_share(pump))


def _shut_off_torque_share(pump: PumpCurve) -> float:
    """Torque at rated speed with the valve shut, as a share of the motor's rated torque."""
    return float(pump.shaft_w[0] / pump.motor.shaft_w)
