"""From the array's terminals to the motor's: wire as each module feels it, the controller, wire to the motor."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from trackersim.arrays import FloatArray

# Current of a centrifugal pump's motor against its power: torque and with it current go as speed², power as speed³.
_CURRENT_POWER = 2 / 3


def module_share_of_wire_ohm(*, loop_ohm: float, in_series: int, in_parallel: int) -> float:
    """Resistance to put in series with each module so that together they feel the wire [Ω].

    A wire of `loop_ohm` carries the current of all strings; a module carries one string's, and has one part in
    `in_series` of the voltage.

    Parameters
    ----------
    loop_ohm : float
        Resistance of the wire out and back [Ω].
    in_series : int
        Modules in one string.
    in_parallel : int
        Strings side by side.

    Returns
    -------
    float
        Resistance [Ω].
    """
    return loop_ohm * in_parallel / in_series


def controller_output_w(
    *,
    input_w: FloatArray,
    efficiency: float,
    own_use_w: float,
    rated_w: float,
    loads: npt.ArrayLike | None = None,
    efficiencies: npt.ArrayLike | None = None,
) -> FloatArray:
    """Power the controller can give the motor: efficiency · (input − own use), at most its rating, never below 0.

    `loads` (shares of `rated_w`, rising) and `efficiencies` at them stand in for the one `efficiency`; below the first
    load the output falls in proportion to what the first allows, above the last the last efficiency holds.

    Parameters
    ----------
    input_w : FloatArray
        Shape (n,). Power at its input [W].
    efficiency : float
        Share of the power that it passes on, 0…1, at any load.
    own_use_w : float
        Power that it needs for itself [W].
    rated_w : float
        Rated power of the controller [W].
    loads : npt.ArrayLike | None
        Loads of the efficiency curve, as shares of `rated_w`, rising; None for none.
    efficiencies : npt.ArrayLike | None
        Efficiency at each of `loads`, 0…1.

    Returns
    -------
    FloatArray
        Shape (n,) [W].
    """
    usable = np.maximum(input_w - own_use_w, 0.0)
    if loads is None or efficiencies is None:
        return np.asarray(np.clip(usable * efficiency, 0.0, rated_w))
    share = np.interp(usable / rated_w, np.asarray(loads, dtype=float), np.asarray(efficiencies, dtype=float))
    return np.asarray(np.clip(usable * share, 0.0, rated_w))


def rated_current_a(*, rated_w: float, voltage_v: float, power_factor: float | None) -> float:
    """Current in each conductor at `rated_w`: direct current, or three-phase where a power factor is given.

    Parameters
    ----------
    rated_w : float
        Rated input of the motor [W].
    voltage_v : float
        Its voltage there [V]; between phases if three-phase.
    power_factor : float | None
        Of a three-phase motor; None for direct current.

    Returns
    -------
    float
        Current [A].
    """
    return rated_w / voltage_v if power_factor is None else rated_w / (math.sqrt(3) * voltage_v * power_factor)


def conductor_loss_w(*, conductor_ohm: float, current_a: float, three_phase: bool) -> float:
    """Heat in a run: two conductors of direct current or three of three-phase, I²R in each.

    Parameters
    ----------
    conductor_ohm : float
        Resistance of one conductor, one way [Ω].
    current_a : float
        Current in each conductor [A].
    three_phase : bool
        Whether there are three conductors instead of two.

    Returns
    -------
    float
        Heat [W].
    """
    return (3 if three_phase else 2) * conductor_ohm * current_a**2


def motor_run_loss_w(output_w: FloatArray, *, rated_loss_w: float, rated_w: float) -> FloatArray:
    """Heat in the wire to the motor at the controller's output (n,), from that at the motor's rated input.

    The motor's voltage follows its speed and its current the torque of a centrifugal pump, I ∝ P^(2/3): an assumption
    that flatters a helical pump, whose current hardly falls. Never more than the output.

    Parameters
    ----------
    output_w : FloatArray
        Shape (n,). Power at the controller's output [W].
    rated_loss_w : float
        Heat in the run at the motor's rated input [W].
    rated_w : float
        Controller's output there: that input and the heat of all runs to the motor [W].

    Returns
    -------
    FloatArray
        Shape (n,) [W].
    """
    share = np.clip(output_w / rated_w, 0.0, None)
    return np.minimum(rated_loss_w * share ** (2 * _CURRENT_POWER), output_w)
