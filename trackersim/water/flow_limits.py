"""How much water a pump can give at most: what its drive's largest speed and head allow, and where a hump sets in."""

from __future__ import annotations

import numpy as np

from trackersim.arrays import BoolArray, FloatArray
from trackersim.water.branch import PumpBranch, runout_m3_s
from trackersim.water.helical import HelicalPump
from trackersim.water.wear import PumpModel

_SAMPLES = 800


def sampled_flow_m3_s(unit: PumpBranch) -> FloatArray:
    """Flows from 0 to beyond all that a unit can give, densest near 0.

    Parameters
    ----------
    unit : PumpBranch
        The pump where it stands.

    Returns
    -------
    FloatArray
        Shape (800,), rising [m³/s].
    """
    return np.asarray(1.3 * runout_m3_s(unit, unit.pump.max_speed) * np.linspace(0, 1, _SAMPLES) ** 3)


def largest_flow_m3_s(unit: PumpBranch, flow: FloatArray, needs: FloatArray, speed: FloatArray) -> FloatArray:
    """The largest flow at each head that neither a unit's largest speed nor its largest head forbids.

    Parameters
    ----------
    unit : PumpBranch
        The pump where it stands.
    flow : FloatArray
        Shape (flows,). Rising flows [m³/s].
    needs : FloatArray
        Shape (heads, flows). Head of the pump at each of them [m].
    speed : FloatArray
        Shape (heads, flows). Its speed there, share of rated.

    Returns
    -------
    FloatArray
        Shape (heads,) [m³/s]; 0 where it lifts nothing.
    """
    limit_m = largest_head_m(unit.model)
    full = np.array([np.interp(1.0, row, flow) for row in rising(load_of(unit, needs, speed))])
    shut: BoolArray = (speed[:, 0] >= unit.pump.max_speed * (1 - 1e-12)) | (needs[:, 0] >= limit_m)
    return np.where(shut, 0.0, full)


def load_of(unit: PumpBranch, needs: FloatArray, speed: FloatArray) -> FloatArray:
    """Load of a drive: speed as a share of the largest, or head of the one it can hold, whichever is larger.

    Parameters
    ----------
    unit : PumpBranch
        The pump where it stands.
    needs : FloatArray
        Any shape. Head of the pump [m].
    speed : FloatArray
        Of the same shape. Its speed, share of rated.

    Returns
    -------
    FloatArray
        Of that shape; 1 at the limit.
    """
    return np.maximum(speed / unit.pump.max_speed, needs / largest_head_m(unit.model))


def largest_head_m(pump: PumpModel) -> float:
    """Head that the drive of a helical pump can hold.

    Parameters
    ----------
    pump : PumpModel
        The pump's laws.

    Returns
    -------
    float
        Head [m]; inf for a centrifugal pump, which has no such limit.
    """
    return pump.max_head_m if isinstance(pump, HelicalPump) else np.inf


def jump_of(unit: PumpBranch, flow: FloatArray, speed: FloatArray) -> FloatArray:
    """Flow with which a pump sets in at the speed of its shut-off, at most what the well yields.

    Parameters
    ----------
    unit : PumpBranch
        The pump where it stands.
    flow : FloatArray
        Shape (flows,). Rising flows [m³/s].
    speed : FloatArray
        Shape (heads, flows). Speed at each of them, share of rated.

    Returns
    -------
    FloatArray
        Shape (heads,) [m³/s]; 0 unless the curve humps.
    """
    jump = np.array([np.interp(row[0], row_rising, flow) for row, row_rising in zip(speed, rising(speed), strict=True)])
    within: FloatArray = np.minimum(jump, unit.max_flow_m3_s)
    return within


def rising(values: FloatArray) -> FloatArray:
    """The least of each value and all to its right: its inverse is the largest flow that a limit allows.

    Parameters
    ----------
    values : FloatArray
        Shape (heads, flows).

    Returns
    -------
    FloatArray
        Shape (heads, flows), nowhere falling along a row.
    """
    least: FloatArray = np.minimum.accumulate(values[:, ::-1], axis=1)[:, ::-1]
    return least
