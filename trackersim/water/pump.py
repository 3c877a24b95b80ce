"""A centrifugal pump at any speed: its curve at rated speed and the affinity laws."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike
from scipy.interpolate import PchipInterpolator

from trackersim.arrays import FloatArray
from trackersim.constants import GRAVITY_M_S2
from trackersim.job.pump import Pump
from trackersim.water.motor import Motor, motor_input_w, rated_motor, torque_share_at_rated_speed

WATER_DENSITY_KG_M3 = 1000.0

# Shut-off power of radial pumps is about 40–60 % of the largest on common sheets (from memory); an extrapolation that
# falls below 30 % comes from a steep first stretch of the efficiency curve, not from the pump.
_LEAST_SHUT_OFF_SHARE = 0.3
# A first efficiency rounded down to 1 % would otherwise make the shut-off power as large as you like.
_MOST_SHUT_OFF_RISE = 1.5
_ONE_POINT_SAMPLES = 41


@dataclass(frozen=True, kw_only=True, eq=False)
class PumpCurve:
    """What the pump does at rated speed. Three arrays of equal length, flow rising from 0.

    `shaft_w` is the power at its shaft, `motor` what turns that into electrical input. `assumed` is True when the
    curve was drawn through the best point alone: the result then deserves a notice.
    """

    flow_m3_s: FloatArray
    head_m: FloatArray
    shaft_w: FloatArray
    motor: Motor
    assumed: bool = False

    @property
    def power_w(self) -> FloatArray:
        """Electrical input at rated speed, at each flow."""
        return motor_input_w(self.motor, speed=1.0, torque_share=self.shaft_w / self.motor.shaft_w)


def hydraulic_power_w(flow_m3_s: ArrayLike, head_m: ArrayLike) -> FloatArray:
    """Power that lifts a flow to a head: ρ g Q H with ρ 1000 kg/m³.

    Parameters
    ----------
    flow_m3_s : ArrayLike
        Any shape. Flow [m³/s].
    head_m : ArrayLike
        Broadcasts with the flow. Head [m].

    Returns
    -------
    FloatArray
        Power [W], of the common shape.
    """
    flow, head = np.asarray(flow_m3_s, dtype=np.float64), np.asarray(head_m, dtype=np.float64)
    return WATER_DENSITY_KG_M3 * GRAVITY_M_S2 * flow * head


def pump_curve(pump: Pump) -> PumpCurve:
    """The curve at rated speed from the sheet's points, or from the best point if there is no sheet.

    The motor's rated point is the pump's best point: there it has `motor_efficiency`. From input powers, the motor's
    law gives the power at the shaft, so that the sheet comes back at rated speed. With efficiencies, the power at the
    shaft is ρ g Q H / η_pump, and `shut_off_power_w` stands in at zero flow, where 0/0 says nothing.

    Parameters
    ----------
    pump : Pump
        A centrifugal pump; its sheet or best point, and its motor, are read.

    Returns
    -------
    PumpCurve
        The pump as new.
    """
    if pump.curve_flow_m3_s is None or pump.curve_head_m is None:
        return _one_point_curve(pump)
    flow = np.array(pump.curve_flow_m3_s)
    head = np.array(pump.curve_head_m)
    if pump.curve_power_w is not None:
        power = np.array(pump.curve_power_w)
        best = int(np.argmax(hydraulic_power_w(flow, head) / power))
        motor = _motor(pump, float(power[best]) * pump.motor_efficiency)
        shaft = motor.shaft_w * torque_share_at_rated_speed(motor, power)
    else:
        assert pump.curve_efficiency is not None  # the model demands one of the two
        efficiency = np.array(pump.curve_efficiency)
        shaft = _shaft_from_efficiency(flow, head, efficiency)
        motor = _motor(pump, float(shaft[np.argmax(np.where(head > 0, efficiency, 0))]))
    return _curve(flow, head, shaft, motor, assumed=False)


def rated_input_w(pump: Pump) -> float:
    """The motor's rated input, which it takes at its rated voltage: the most that the sheet asks at rated speed.

    Parameters
    ----------
    pump : Pump
        Of either kind; its sheet or best point, and its motor, are read.

    Returns
    -------
    float
        Input [W]; of a pump whose best point alone is known, the input there.
    """
    if pump.curve_power_w is not None:
        return max(pump.curve_power_w)
    curve = pump_curve(pump)
    return curve.motor.shaft_w + curve.motor.loss_w if curve.assumed else float(curve.power_w.max())


def _motor(pump: Pump, shaft_w: float) -> Motor:
    return rated_motor(shaft_w=shaft_w, efficiency=pump.motor_efficiency, no_load_share=pump.no_load_share)


def _curve(flow: FloatArray, head: FloatArray, shaft: FloatArray, motor: Motor, *, assumed: bool) -> PumpCurve:
    for values in (flow, head, shaft):
        values.flags.writeable = False
    return PumpCurve(flow_m3_s=flow, head_m=head, shaft_w=shaft, motor=motor, assumed=assumed)


def _shaft_from_efficiency(flow: FloatArray, head: FloatArray, efficiency: FloatArray) -> FloatArray:
    power = np.empty_like(flow)
    power[1:] = hydraulic_power_w(flow[1:], head[1:]) / efficiency[1:]
    if head[-1] == 0:
        # At zero head the true efficiency is 0 and the quotient says nothing; the pump still works as just before.
        power[-1] = power[-2]
    power[0] = shut_off_power_w(flow[1:], power[1:])
    return power


def shut_off_power_w(flow_m3_s: ArrayLike, power_w: ArrayLike) -> float:
    """Power at the shaft at zero flow, guessed from that at rising flows.

    The straight line through the first two points, kept between 30 % of the largest power (or the first, if that is
    less) and 1.5 times the first. An assumption: an efficiency curve says nothing about shut-off.

    Parameters
    ----------
    flow_m3_s : ArrayLike
        Shape (points,). Two or more rising flows [m³/s], above 0.
    power_w : ArrayLike
        Shape (points,). Power at the shaft there [W].

    Returns
    -------
    float
        Power at the shaft at zero flow [W].
    """
    flow, power = np.asarray(flow_m3_s, dtype=np.float64), np.asarray(power_w, dtype=np.float64)
    straight = power[0] - (power[1] - power[0]) / (flow[1] - flow[0]) * flow[0]
    least = min(_LEAST_SHUT_OFF_SHARE * power.max(), power[0])
    return float(np.clip(straight, least, _MOST_SHUT_OFF_RISE * power[0]))


def _one_point_curve(pump: Pump) -> PumpCurve:
    """EPANET's curve through one point and an efficiency parabola that is 0 at both ends and best at that point.

    With x = Q/Q_r: H = H_r (4 − x²)/3 (EPANET 2.2 User Manual, chapter 3, pump curves); η = η_r x (2 − x) is assumed.
    The shaft's ρ g Q H/η then shrinks to P_r (2 + x)/3: two thirds of the rated power at shut-off.
    """
    assert pump.rated_flow_m3_s is not None  # the model demands the best point when there is no sheet
    assert pump.rated_head_m is not None
    x = np.linspace(0, 2, _ONE_POINT_SAMPLES)
    rated_w = float(hydraulic_power_w(pump.rated_flow_m3_s, pump.rated_head_m)) / pump.rated_efficiency
    head = pump.rated_head_m * (4 - x**2) / 3
    return _curve(pump.rated_flow_m3_s * x, head, rated_w * (2 + x) / 3, _motor(pump, rated_w), assumed=True)


class _Fit(NamedTuple):
    head: PchipInterpolator
    shaft: PchipInterpolator
    end_slope: float
    runout_m3_s: float


@lru_cache(maxsize=64)
def _fit(curve: PumpCurve) -> _Fit:
    """Shape-preserving cubics (Fritsch and Butland, SIAM J. Sci. Stat. Comput. 5 (1984)): no false humps."""
    flow, head = curve.flow_m3_s, curve.head_m
    fit = PchipInterpolator(flow, head)
    # The cubic may end flatter than the sheet falls: the steeper slope gives the smaller flow beyond the sheet.
    slope = min(float(fit(flow[-1], 1)), float((head[-1] - head[-2]) / (flow[-1] - flow[-2])))
    runout = float(flow[-1] - head[-1] / slope)
    return _Fit(fit, PchipInterpolator(flow, curve.shaft_w), slope, runout)


def runout_flow_m3_s(curve: PumpCurve) -> float:
    """Flow at which the head at rated speed reaches zero.

    Parameters
    ----------
    curve : PumpCurve
        The pump at rated speed.

    Returns
    -------
    float
        Flow [m³/s].
    """
    return _fit(curve).runout_m3_s


def pump_head_m(curve: PumpCurve, flow_m3_s: ArrayLike, *, speed: ArrayLike = 1.0) -> FloatArray:
    """Head at a flow and a speed: s² H₁(Q/s).

    The affinity laws hold for speeds of about 0.5…1.5 (Karassik, Pump Handbook); lower down they flatter the pump.

    Parameters
    ----------
    curve : PumpCurve
        The pump at rated speed.
    flow_m3_s : ArrayLike
        Any shape. Flow [m³/s], ≥ 0.
    speed : ArrayLike
        Share of rated speed, ≥ 0; broadcasts with the flow.

    Returns
    -------
    FloatArray
        Head [m], of the common shape; beyond the last point it falls on along its last slope to zero. 0 at standstill.
    """
    fit = _fit(curve)
    last = curve.flow_m3_s[-1]
    s = np.asarray(speed, dtype=np.float64)
    flow = _flow_at_rated_speed(flow_m3_s, s)
    head = fit.head(np.minimum(flow, last)) + fit.end_slope * np.maximum(flow - last, 0)
    scaled: FloatArray = s**2 * np.maximum(head, 0)
    return scaled


def pump_torque_share(curve: PumpCurve, flow_m3_s: ArrayLike, *, speed: ArrayLike = 1.0) -> FloatArray:
    """Torque at the shaft at a flow and a speed: s² T₁(Q/s).

    Parameters
    ----------
    curve : PumpCurve
        The pump at rated speed.
    flow_m3_s : ArrayLike
        Any shape. Flow [m³/s], ≥ 0.
    speed : ArrayLike
        Share of rated speed, ≥ 0; broadcasts with the flow.

    Returns
    -------
    FloatArray
        Share of the motor's rated torque, of the common shape; beyond the last point it stays at its last value. 0 at
        standstill.
    """
    s = np.asarray(speed, dtype=np.float64)
    flow = np.minimum(_flow_at_rated_speed(flow_m3_s, s), curve.flow_m3_s[-1])
    torque: FloatArray = s**2 * _fit(curve).shaft(flow) / curve.motor.shaft_w
    return torque


def pump_power_w(curve: PumpCurve, flow_m3_s: ArrayLike, *, speed: ArrayLike = 1.0) -> FloatArray:
    """Electrical input at a flow and a speed: s³ P₁(Q/s) at the shaft by the affinity laws, and the motor's loss.

    Parameters
    ----------
    curve : PumpCurve
        The pump at rated speed.
    flow_m3_s : ArrayLike
        Any shape. Flow [m³/s], ≥ 0.
    speed : ArrayLike
        Share of rated speed, ≥ 0; broadcasts with the flow.

    Returns
    -------
    FloatArray
        Electrical input [W], of the common shape; 0 at standstill.
    """
    return motor_input_w(curve.motor, speed=speed, torque_share=pump_torque_share(curve, flow_m3_s, speed=speed))


def _flow_at_rated_speed(flow_m3_s: ArrayLike, speed: FloatArray) -> FloatArray:
    # Guarding the division keeps standstill finite: s² and s³ make the answer 0 there.
    flow = np.asarray(flow_m3_s, dtype=np.float64) / np.maximum(speed, 1e-9)
    return np.maximum(flow, 0)
