"""The pump as it is today: its sheet, and what years have taken from it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from trackersim.errors import Fault, InputError
from trackersim.job.pump import Pump
from trackersim.water.helical import HelicalPump, helical_flow_m3_s
from trackersim.water.helical_sheet import helical_of
from trackersim.water.pump import PumpCurve, pump_curve

PumpModel = PumpCurve | HelicalPump

_MOST_LOST = 0.9


def pump_model(pump: Pump) -> PumpModel:
    """The laws of a pump as it is today: its sheet, worn as the job says.

    Parameters
    ----------
    pump : Pump
        Its sheet or best point, motor and wear are read.

    Returns
    -------
    PumpModel
        A curve for a centrifugal pump, displacement and slip for a helical one.
    """
    if pump.kind == "helical":
        new = helical_of(pump)
        head = pump.curve_head_m[-1] if pump.curve_head_m else 0.0
        return worn_helical(new, flow_lost=pump.flow_lost, head_m=head) if pump.flow_lost else new
    curve = pump_curve(pump)
    if pump.head_lost or pump.flow_lost:
        return worn(curve, head_lost=pump.head_lost, flow_lost=pump.flow_lost)
    return curve


def _check_lost(**shares: float) -> None:
    wrong = [
        Fault(field=name, value=share, reason="must be 0…0.9.", remedy="Give the share lost since new.")
        for name, share in shares.items()
        if not 0 <= share <= _MOST_LOST
    ]
    if wrong:
        raise InputError(wrong)


def worn(curve: PumpCurve, *, head_lost: float, flow_lost: float) -> PumpCurve:
    """The curve after wear: every point keeps its power at the shaft and loses a share of head and of flow.

    Worn wear rings let water back at every head, worn impellers give less head; the motor works on. How the loss
    spreads along the curve is an assumption: all points lose the same shares.

    Parameters
    ----------
    curve : PumpCurve
        The pump as new.
    head_lost : float
        Share of its head lost, 0…0.9.
    flow_lost : float
        Share of its flow lost, 0…0.9.

    Returns
    -------
    PumpCurve
        The pump as worn.

    Raises
    ------
    InputError
        For shares outside 0…0.9.
    """
    _check_lost(head_lost=head_lost, flow_lost=flow_lost)
    flow, head = curve.flow_m3_s * (1 - flow_lost), curve.head_m * (1 - head_lost)
    for values in (flow, head):
        values.flags.writeable = False
    return replace(curve, flow_m3_s=flow, head_m=head)


def worn_helical(pump: HelicalPump, *, flow_lost: float, head_m: float) -> HelicalPump:
    """The pump with so much more slip that it gives a share less at rated speed against a head.

    Stator wear opens the seal between the cavities: slip grows, and with it the loss, in proportion to head; torque
    and friction are kept, which is an assumption (a worn stator also rubs less).

    Parameters
    ----------
    pump : HelicalPump
        The pump as new.
    flow_lost : float
        Share of its flow lost at that head, 0…0.9.
    head_m : float
        Head at which the loss was measured [m], above 0; the pump gives water there.

    Returns
    -------
    HelicalPump
        The pump as worn.

    Raises
    ------
    InputError
        For values outside these.
    """
    _check_lost(flow_lost=flow_lost)
    new_m3_s = float(helical_flow_m3_s(pump, speed=1.0, head_m=head_m))
    if not (0 < head_m < np.inf and new_m3_s > 0):
        raise InputError.of("head", head_m, "is no head at which the new pump gives water.", "Give the measured head.")
    return replace(pump, slip_m3_s_per_m=pump.slip_m3_s_per_m + flow_lost * new_m3_s / head_m)
