"""What a motor with its drive takes for the torque and the speed it gives: the only place that knows the motor's law.

The loss is split in two: iron and friction, in proportion to speed, and copper, in proportion to torque squared. Iron
loss by hysteresis is proportional to frequency, eddy currents to its square; friction in water lies between the two
(textbooks on machines). One straight line in speed stands for all of them, which is an assumption. Copper that warms
up, magnets that saturate and a drive that switches are left out. Held against a motor measured from a tenth of its
load to 1.2 times its load in `tests/published/test_motor_losses.py`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from trackersim.arrays import FloatArray

# From an upper bound that is at most three times the root, Newton's steps on these convex curves reach rounding in six.
_STEPS = 8
_TINY = 1e-300


@dataclass(frozen=True, kw_only=True)
class Motor:
    """A motor by its rated point: rated speed, and the torque that makes `shaft_w` there.

    `loss_w`: what it and its drive lose at that point. `no_load_share` (0…1): part of it that is iron and friction and
    goes with speed; the rest is copper and goes with torque squared.
    """

    shaft_w: float
    loss_w: float
    no_load_share: float

    @property
    def no_load_w(self) -> float:
        """Iron and friction at rated speed."""
        return self.loss_w * self.no_load_share

    @property
    def copper_w(self) -> float:
        """Copper at rated torque."""
        return self.loss_w * (1 - self.no_load_share)


def rated_motor(*, shaft_w: float, efficiency: float, no_load_share: float) -> Motor:
    """Describe a motor by its efficiency at the rated point.

    Parameters
    ----------
    shaft_w : float
        Shaft power at the rated point [W], above 0.
    efficiency : float
        Shaft power over electrical input there, above 0 and at most 1.
    no_load_share : float
        Share of the loss there that goes with speed, 0…1.

    Returns
    -------
    Motor
        The motor that loses `shaft_w` · (1/`efficiency` − 1) at its rated point.
    """
    return Motor(shaft_w=shaft_w, loss_w=shaft_w * (1 / efficiency - 1), no_load_share=no_load_share)


def motor_input_w(motor: Motor, *, speed: ArrayLike, torque_share: ArrayLike) -> FloatArray:
    """Electrical input: shaft power, iron and friction, and copper.

    Parameters
    ----------
    motor : Motor
        The motor.
    speed : array_like
        Share of rated speed, ≥ 0, any shape.
    torque_share : array_like
        Torque at the shaft as a share of the rated one, ≥ 0; broadcasts with `speed`.

    Returns
    -------
    ndarray
        P = P_shaft · s · t + L · (ν · s + (1 − ν) · t²) [W], of the common shape: 0 without speed and torque. At
        speed 0 with a torque to hold it is the limit from above, the copper loss that must be offered to turn at all.
    """
    s, t = np.asarray(speed, dtype=np.float64), np.asarray(torque_share, dtype=np.float64)
    taken: FloatArray = s * (motor.shaft_w * t + motor.no_load_w) + motor.copper_w * t**2
    return taken


def torque_share_at_rated_speed(motor: Motor, input_w: ArrayLike) -> FloatArray:
    """Torque that takes `input_w` at rated speed: undoes `motor_input_w` for a sheet that gives inputs.

    Parameters
    ----------
    motor : Motor
        The motor.
    input_w : array_like
        Electrical input at rated speed [W], any shape.

    Returns
    -------
    ndarray
        Torque as a share of the rated one, of that shape; 0 where the input is no more than the loss at no load.
    """
    left = np.maximum(np.asarray(input_w, dtype=np.float64) - motor.no_load_w, 0)
    # Root of copper · t² + shaft · t = left, written so that no difference of near numbers occurs.
    torque: FloatArray = 2 * left / (motor.shaft_w + np.sqrt(motor.shaft_w**2 + 4 * motor.copper_w * left))
    return torque


def speed_at_input(motor: Motor, *, input_w: ArrayLike, torque_share: float) -> FloatArray:
    """Speed that an input reaches where torque goes with speed squared, as of a centrifugal pump with its valve shut.

    Parameters
    ----------
    motor : Motor
        The motor.
    input_w : array_like
        Electrical input [W], ≥ 0, any shape.
    torque_share : float
        Torque at rated speed as a share of the motor's rated one, above 0.

    Returns
    -------
    ndarray
        Share of rated speed, of that shape, to rounding.
    """
    power = np.asarray(input_w, dtype=np.float64)
    linear, cubic, quartic = motor.no_load_w, motor.shaft_w * torque_share, motor.copper_w * torque_share**2
    # Each of the three terms alone reaches the input at a speed that is not below the one sought.
    speed: FloatArray = np.minimum(np.cbrt(power / max(cubic, _TINY)), power / max(linear, _TINY))
    speed = np.minimum(speed, np.sqrt(np.sqrt(power / max(quartic, _TINY))))
    for _ in range(_STEPS):
        gives = speed * (linear + speed**2 * (cubic + quartic * speed))
        slope = linear + speed**2 * (3 * cubic + 4 * quartic * speed)
        speed = speed - (gives - power) / np.maximum(slope, _TINY)
    return np.maximum(speed, 0)
