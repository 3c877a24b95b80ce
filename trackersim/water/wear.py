"""What years take from a pump, and what part load takes from a motor."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from trackersim.arrays import FloatArray
from trackersim.errors import Fault, InputError
from trackersim.water.helical import HelicalPump, helical_flow_m3_s
from trackersim.water.pump import PumpCurve

_MOST_LOST = 0.9


def _check_lost(**shares: float) -> None:
    wrong = [
        Fault(field=name, value=share, reason="must be 0…0.9.", remedy="Give the share lost since new.")
        for name, share in shares.items()
        if not 0 <= share <= _MOST_LOST
    ]
    if wrong:
        raise InputError(wrong)


def worn(curve: PumpCurve, *, head_lost: float, flow_lost: float) -> PumpCurve:
    """The curve after wear: every point keeps its electrical input and loses a share (0…0.9) of head and of flow.

    Worn wear rings let water back at every head, worn impellers give less head; the motor works on. How the loss
    spreads along the curve is an assumption: all points lose the same shares. Raises `InputError` outside 0…0.9.
    """
    _check_lost(head_lost=head_lost, flow_lost=flow_lost)
    flow, head = curve.flow_m3_s * (1 - flow_lost), curve.head_m * (1 - head_lost)
    for values in (flow, head):
        values.flags.writeable = False
    return replace(curve, flow_m3_s=flow, head_m=head)


def worn_helical(pump: HelicalPump, *, flow_lost: float, head_m: float) -> HelicalPump:
    """The pump with so much more slip that it gives a share `flow_lost` (0…0.9) less at rated speed against `head_m`.

    Stator wear opens the seal between the cavities: slip grows, and with it the loss, in proportion to head; torque
    and friction are kept, which is an assumption (a worn stator also rubs less). `head_m` > 0 is the head at which
    the loss was measured, the pump giving water there. Raises `InputError` outside these.
    """
    _check_lost(flow_lost=flow_lost)
    new_m3_s = float(helical_flow_m3_s(pump, speed=1.0, head_m=head_m))
    if not (0 < head_m < np.inf and new_m3_s > 0):
        raise InputError.of("head", head_m, "is no head at which the new pump gives water.", "Give the measured head.")
    return replace(pump, slip_m3_s_per_m=pump.slip_m3_s_per_m + flow_lost * new_m3_s / head_m)


def motor_input_w(
    shaft_power_w: ArrayLike, *, rated_shaft_w: float, load_share: Sequence[float], efficiency: Sequence[float]
) -> FloatArray:
    """Electrical input [W] for `shaft_power_w` (any shape), from a sheet's efficiency at some loads.

    `load_share` (shaft power over `rated_shaft_w`, rising, > 0) and `efficiency` (0…1, above 0): two or more points.
    Losses and not efficiencies are interpolated, since a motor loses power even at no load, where efficiency says
    nothing. Below the first point the straight line through the first two goes on, at least at 0 and at most at the
    first loss; above the last point the loss grows as load squared, as heat in the winding does. 0 where the shaft
    takes nothing: the motor stands. Raises `InputError` for a table in which more load would mean less input.
    """
    share, part = np.asarray(load_share, dtype=np.float64), np.asarray(efficiency, dtype=np.float64)
    _check_motor(share, part)
    loss = share * (1 / part - 1)
    at_rest = loss[0] - share[0] * (loss[1] - loss[0]) / (share[1] - share[0])
    knots, losses = np.append(0.0, share), np.append(np.clip(at_rest, 0, loss[0]), loss)
    load = np.asarray(shaft_power_w, dtype=np.float64) / rated_shaft_w
    beyond = np.maximum(load / share[-1], 1) ** 2
    taken = rated_shaft_w * (load + np.interp(load, knots, losses) * beyond)
    return np.where(load > 0, taken, 0.0)


def _check_motor(share: FloatArray, part: FloatArray) -> None:
    same_length = share.ndim == 1 and share.shape == part.shape and share.size >= 2
    in_range = same_length and bool(np.all((part > 0) & (part <= 1)) and share[0] > 0 and np.all(np.diff(share) > 0))
    if not in_range:
        shown = [share.tolist(), part.tolist()]
        remedy = "Give two or more loads that rise from above 0, and an efficiency above 0 and at most 1 for each."
        raise InputError.of("motor_efficiency", shown, "is no table of efficiency over load.", remedy)
    if np.any(np.diff(share / part) <= 0):
        remedy = "Check the efficiencies."
        raise InputError.of("motor_efficiency", part.tolist(), "lets input fall as load grows.", remedy)
