"""What volts and amps at a controller's input say of its array: held at its best point, floating, or standing open.

A controller draws only what the motor takes. Short of power it holds the array at its best point; with power to spare
(pump at full speed, or controller at its rating) voltage floats up towards open circuit and current falls.
"""

from __future__ import annotations

from typing import Literal

ArrayReading = Literal["no voltage", "open circuit", "floating", "best point", "below best point"]

# How far the best point of an array may lie from the one told, for its cells' temperature and its label (assumption).
_NEAR_SHARE = 0.06
_DEAD_SHARE = 0.10
# With less current than this share of that at the best point, nothing is drawn to speak of.
_IDLE_SHARE = 0.04
_OPEN_SHARE = 0.97


def array_reading(
    voltage_v: float, current_a: float | None, *, best_v: float, best_a: float, open_v: float
) -> ArrayReading:
    """Where on its curve an array is worked.

    Parameters
    ----------
    voltage_v : float
        Read at the controller's input [V], ≥ 0.
    current_a : float or None
        Read there [A], ≥ 0; None if it was not.
    best_v, best_a : float
        Voltage and current at the best point in this light, > 0.
    open_v : float
        Open-circuit voltage in this light, above `best_v`.

    Returns
    -------
    ArrayReading
        "best point" within 6 % of its voltage. Without a current, "open circuit" from 97 % of that voltage.

    >>> array_reading(58.0, 11.6, best_v=58.0, best_a=11.7, open_v=74.0)
    'best point'
    >>> array_reading(67.0, 8.9, best_v=58.0, best_a=15.0, open_v=74.0)
    'floating'
    >>> array_reading(73.0, 0.1, best_v=58.0, best_a=15.0, open_v=74.0)
    'open circuit'
    """
    if voltage_v < _DEAD_SHARE * best_v:
        return "no voltage"
    idle = voltage_v >= _OPEN_SHARE * open_v if current_a is None else current_a < _IDLE_SHARE * best_a
    if idle and voltage_v > best_v:
        return "open circuit"
    if voltage_v > (1 + _NEAR_SHARE) * best_v:
        return "floating"
    return "best point" if voltage_v >= (1 - _NEAR_SHARE) * best_v else "below best point"
