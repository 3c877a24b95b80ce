"""The job's controller and wires between array and pump."""

from __future__ import annotations

import numpy as np

from trackersim.arrays import FloatArray
from trackersim.job.electrics import Wire
from trackersim.job.model import Job
from trackersim.power.array import (
    conductor_loss_w,
    controller_output_w,
    module_share_of_wire_ohm,
    motor_run_loss_w,
    rated_current_a,
)
from trackersim.power.module_table import FarEnd
from trackersim.power.wire import resistance_ohm_per_m
from trackersim.water.pump import rated_input_w

# So many times its rating are more than a controller can use.
_AMPLE = 4.0

_INVERSE_POINTS = 20_001


def conductor_ohm(wire: Wire) -> float:
    """Resistance of one conductor of a run, one way.

    Parameters
    ----------
    wire : Wire
        A run of the job.

    Returns
    -------
    float
        Resistance [Ω].
    """
    per_m = resistance_ohm_per_m(area_mm2=wire.conductor_mm2, temperature_c=wire.temperature_c, material=wire.material)
    return wire.length_m * per_m


def array_side_ohm(job: Job) -> float:
    """Resistance of all runs between array and controller, out and back.

    Parameters
    ----------
    job : Job
        A job of one unit.

    Returns
    -------
    float
        Resistance [Ω].
    """
    return sum(2 * conductor_ohm(wire) for wire in job.wire if wire.side == "array")


def controller_end(job: Job) -> FarEnd:
    """The controller's end of the wire, as the whole array meets it.

    Parameters
    ----------
    job : Job
        A job of one unit.

    Returns
    -------
    FarEnd
        Wire of all runs [Ω], and the controller's voltages [V] and largest current [A].
    """
    control = job.controller
    return FarEnd(
        wire_ohm=array_side_ohm(job),
        low_v=control.lowest_v,
        high_v=np.inf if control.highest_v is None else control.highest_v,
        max_a=np.inf if control.max_input_current_a is None else control.max_input_current_a,
    )


def module_end(job: Job) -> FarEnd:
    """The controller's end of the wire, as one module of an evenly lit array meets it.

    Parameters
    ----------
    job : Job
        A job of one unit.

    Returns
    -------
    FarEnd
        Wire to put in series with each module [Ω], voltages [V] and current [A] of one module.
    """
    array, end = job.array, controller_end(job)
    return FarEnd(
        wire_ohm=module_share_of_wire_ohm(
            loop_ohm=end.wire_ohm, in_series=array.in_series, in_parallel=array.in_parallel
        ),
        low_v=end.low_v / array.in_series,
        high_v=end.high_v / array.in_series,
        max_a=end.max_a / array.in_parallel,
    )


def motor_current_a(job: Job, wire: Wire) -> float:
    """Current in each conductor of a run on the motor's side at the motor's rated input and voltage.

    The controller's rating has no part in it: a larger one pushes no more current into the same motor.

    Parameters
    ----------
    job : Job
        A job of one unit.
    wire : Wire
        A run on the motor's side.

    Returns
    -------
    float
        Current [A].
    """
    control = job.controller
    assert control.motor_voltage_v is not None  # the job demands it for such runs
    factor = control.motor_power_factor if wire.current == "three-phase" else None
    return rated_current_a(rated_w=rated_input_w(job.pump), voltage_v=control.motor_voltage_v, power_factor=factor)


def run_rated_loss_w(job: Job, wire: Wire) -> float:
    """Heat in a run on the motor's side at the motor's rated input.

    Parameters
    ----------
    job : Job
        A job of one unit.
    wire : Wire
        A run on the motor's side.

    Returns
    -------
    float
        Heat [W].
    """
    return conductor_loss_w(
        conductor_ohm=conductor_ohm(wire),
        current_a=motor_current_a(job, wire),
        three_phase=wire.current == "three-phase",
    )


def rated_output_w(job: Job) -> float:
    """Power at the controller's output that gives the motor its rated input through the wire.

    Parameters
    ----------
    job : Job
        A job of one unit.

    Returns
    -------
    float
        Power [W].
    """
    return rated_input_w(job.pump) + _rated_loss_w(job)


def _rated_loss_w(job: Job) -> float:
    """Heat of all runs on the motor's side at its rated input."""
    return sum(run_rated_loss_w(job, wire) for wire in job.wire if wire.side == "motor")


def motor_side_loss_w(job: Job, output_w: FloatArray) -> FloatArray:
    """Heat in all runs on the motor's side.

    Parameters
    ----------
    job : Job
        A job of one unit.
    output_w : FloatArray
        Shape (n,). Power at the controller's output [W].

    Returns
    -------
    FloatArray
        Shape (n,) [W].
    """
    return motor_run_loss_w(output_w, rated_loss_w=_rated_loss_w(job), rated_w=rated_output_w(job))


def controller_w(job: Job, input_w: FloatArray) -> FloatArray:
    """Power at the controller's output for power at its input.

    Parameters
    ----------
    job : Job
        A job of one unit.
    input_w : FloatArray
        Shape (n,). Power at the controller's input [W], ≥ 0.

    Returns
    -------
    FloatArray
        Shape (n,) [W].
    """
    control = job.controller
    return controller_output_w(
        input_w=input_w,
        efficiency=control.efficiency,
        own_use_w=control.own_use_w,
        rated_w=control.rated_w,
        loads=control.efficiency_load,
        efficiencies=control.efficiency_curve,
    )


def controller_input_w(job: Job, motor_power_w: FloatArray) -> FloatArray:
    """Power at the controller's input for power that the motor takes: the inverse of `motor_w`.

    Parameters
    ----------
    job : Job
        A job of one unit.
    motor_power_w : FloatArray
        Shape (n,). Power that the motor takes [W], ≥ 0.

    Returns
    -------
    FloatArray
        Shape (n,) [W]; 0 for 0.
    """
    most_w = float(motor_power_w.max(initial=0.0))
    if most_w <= 0:
        return np.zeros_like(motor_power_w)
    inputs = np.linspace(0.0, 4 * job.controller.rated_w, _INVERSE_POINTS)
    reached = motor_w(job, inputs)
    # Where the output stands still, at 0 and at the rating, the least input that gives it counts.
    rises = np.flatnonzero(np.diff(reached, prepend=-1.0) > 0)
    return np.where(motor_power_w > 0, np.interp(motor_power_w, reached[rises], inputs[rises]), 0.0)


def motor_w(job: Job, input_w: FloatArray) -> FloatArray:
    """Power at the motor for power at the controller's input.

    Parameters
    ----------
    job : Job
        A job of one unit.
    input_w : FloatArray
        Shape (n,). Power at the controller's input [W], ≥ 0.

    Returns
    -------
    FloatArray
        Shape (n,) [W].
    """
    output_w = controller_w(job, input_w)
    return output_w - motor_side_loss_w(job, output_w)


def most_motor_w(job: Job) -> float:
    """What the rating of the controller leaves at the motor, behind the wire.

    Parameters
    ----------
    job : Job
        A job of one unit.

    Returns
    -------
    float
        Power [W].
    """
    return float(motor_w(job, np.array([_AMPLE * job.controller.rated_w]))[0])
