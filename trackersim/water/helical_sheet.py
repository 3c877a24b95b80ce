"""A helical pump from its sheet, and how far the sheet and the pump's laws are apart."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.optimize import least_squares

from trackersim.arrays import FloatArray
from trackersim.job.pump import Pump
from trackersim.water.helical import HelicalPump, helical_flow_m3_s, helical_power_w
from trackersim.water.motor import rated_motor
from trackersim.water.pump import hydraulic_power_w

# Turns a minute matter only with the displacement, of which sheets give the product.
_NOMINAL_RPM = 3000.0
_RATED_RAD_S = 2 * np.pi * _NOMINAL_RPM / 60
# Bounds of what a motor of this size with its drive can be: assumption.
_EFFICIENCIES = (0.2, 0.95)
# A helical pump's drive gives up this far above the last head of its sheet (assumption).
_HEAD_BEYOND_SHEET = 1.25


class SheetMiss(NamedTuple):
    """A value of a sheet, and what the model has at that head and rated speed: input [W] or flow [m³/s]."""

    head_m: float
    given: float
    modelled: float
    is_power: bool

    @property
    def share(self) -> float:
        """The model's value over the sheet's, less 1."""
        return self.modelled / self.given - 1


def helical_of(pump: Pump) -> HelicalPump:
    """Find the helical pump whose flow and input at rated speed come nearest to its sheet.

    Flow is a straight line in head: what it turns less slip · H. The torque of the water follows from that
    displacement; what the sheet's input exceeds it by is friction (the same at every head) and the motor's loss. The
    two are found by least squares of relative misses: exactly, of a sheet with two heads, where both stay within
    their bounds (friction ≥ 0, motor efficiency 0.2…0.95). The motor's rated point is the sheet's last head,
    where its torque is largest.

    Parameters
    ----------
    pump : Pump
        A helical pump of the job with flow and power at two heads or more; `motor_efficiency` is not read.

    Returns
    -------
    HelicalPump
        The pump as new. `worst_miss` says how far it is from the sheet.
    """
    head, flow, power = _sheet(pump)
    slope, still = np.polyfit(head, flow, 1)

    def machine(friction_w: float, efficiency: float) -> HelicalPump:
        shaft_w = float(hydraulic_power_w(still, head[-1])) + friction_w
        return HelicalPump(
            displacement_m3_rev=float(still * 60 / _NOMINAL_RPM),
            rated_rpm=_NOMINAL_RPM,
            slip_m3_s_per_m=float(max(-slope, 0.0)),
            friction_nm=friction_w / _RATED_RAD_S,
            motor=rated_motor(shaft_w=shaft_w, efficiency=efficiency, no_load_share=pump.no_load_share),
            max_head_m=float(_HEAD_BEYOND_SHEET * head[-1]),
        )

    def misses(unknown: FloatArray) -> FloatArray:
        friction_w, efficiency = unknown * scale
        return helical_power_w(machine(float(friction_w), float(efficiency)), speed=1.0, head_m=head) / power - 1

    scale = np.array([power.min(), 1.0])
    low, high = np.array([0.0, _EFFICIENCIES[0]]), np.array([1.0, _EFFICIENCIES[1]])
    found = least_squares(misses, (0.1, 0.7), bounds=(low, high), xtol=1e-15, ftol=1e-15, gtol=1e-15)
    friction_w, efficiency = (found.x * scale).tolist()
    return machine(friction_w, efficiency)


def worst_miss(pump: Pump) -> SheetMiss:
    """The value of a helical pump's sheet that its model misses most.

    Parameters
    ----------
    pump : Pump
        A helical pump of the job.

    Returns
    -------
    SheetMiss
        Flow [m³/s] or input [W] at that head, as the sheet gives it and as `helical_of` has it at rated speed.
    """
    machine = helical_of(pump)
    head, flow, power = _sheet(pump)
    modelled = [
        (helical_flow_m3_s(machine, speed=1.0, head_m=head), flow, False),
        (helical_power_w(machine, speed=1.0, head_m=head), power, True),
    ]
    misses = [
        SheetMiss(*at, is_power)
        for model, sheet, is_power in modelled
        for at in zip(head.tolist(), sheet.tolist(), model.tolist(), strict=True)
    ]
    return max(misses, key=lambda miss: abs(miss.share))


def _sheet(pump: Pump) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Heads, flows and inputs; the model demands all three of a helical pump."""
    head, flow, power = (np.array(v) for v in (pump.curve_head_m, pump.curve_flow_m3_s, pump.curve_power_w))
    return head, flow, power
