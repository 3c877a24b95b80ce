"""What is used of what an array could give, and at what voltage: the pump may be at full speed, or stand still."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from trackersim.arrays import FloatArray
from trackersim.job.model import Job
from trackersim.power.floating import floating_voltage_v, warmer_k
from trackersim.power.module_table import best_power_w
from trackersim.rack.wind import wind_at_height_m_s
from trackersim.simulation.array_power import ArrayPower, absorbed_by_cells
from trackersim.simulation.electrics import controller_input_w, module_end
from trackersim.simulation.generation import Generation
from trackersim.simulation.scene import Scene

# Closer to the best point than this share of it, the array is held there.
_ALL = 1e-4


class ArrayInUse(NamedTuple):
    """Power drawn at the controller's input, voltage there, and temperature of the cells; all (n,)."""

    used_w: FloatArray
    input_v: FloatArray
    cell_c: FloatArray


def used_power_w(unit: Job, *, power: ArrayPower, motor_w: FloatArray) -> FloatArray:
    """What the controller of one unit draws [W], shape (n,).

    Parameters
    ----------
    unit : Job
        A job of one unit.
    power : ArrayPower
        What the array could give.
    motor_w : FloatArray
        Shape (n,). Power that the motor takes [W]; 0 while the pump stands.

    Returns
    -------
    FloatArray
        What the motor asks for. All that could be given, where it is as good as that.
    """
    asked_w = controller_input_w(unit, motor_w)
    return np.where(asked_w < (1 - _ALL) * power.input_w, asked_w, power.input_w)


def array_in_use(unit: Job, scene: Scene, given: Generation, used_w: FloatArray) -> ArrayInUse:
    """The array of one unit from which so much is taken, such as `used_power_w` gives.

    Parameters
    ----------
    unit : Job
        A job of one unit.
    scene : Scene
        Where the sun and the trees stand at every sun-up minute.
    given : Generation
        What the array could give, its cells as warm as they are then.
    used_w : FloatArray
        Shape (n,). What is taken at the controller's input [W], at most what could be given.

    Returns
    -------
    ArrayInUse
        Where less is taken than could be, voltage floats up towards open circuit and the cells are warmer. That warmth
        does not count against what could be given: an array that gives it is cooler.

    Notes
    -----
    An unevenly lit array floats as an evenly lit one of the same best power would.
    """
    array, power = unit.array, given.power
    input_v, cell_c = power.input_v.copy(), given.cell_c.copy()
    spare = np.flatnonzero(used_w < (1 - _ALL) * power.input_w)
    if not spare.size:
        return ArrayInUse(used_w, input_v, cell_c)
    lit = absorbed_by_cells(unit, scene, given.light)[spare]
    evenly_w = best_power_w(given.model.at_controller, absorbed_w_m2=lit, cell_c=cell_c[spare]) * array.module_count
    lit = lit * np.divide(power.input_w[spare], evenly_w, out=np.zeros_like(lit), where=evenly_w > 0)
    cell_c[spare] += warmer_k(
        unused_w_m2=(power.input_w - used_w)[spare] / array.area_m2,
        plane_w_m2=given.light.plane_w_m2[spare],
        best_w_m2=power.array_w[spare] / array.area_m2,
        wind_m_s=wind_at_height_m_s(scene.weather.wind_m_s[scene.up[spare]], height_m=unit.rack.height_m),
        faiman_u0=array.faiman_u0,
        faiman_u1=array.faiman_u1,
    )
    module_v = floating_voltage_v(
        given.model.diode,
        absorbed_w_m2=lit,
        cell_c=cell_c[spare],
        power_w=used_w[spare] / array.module_count,
        wire_ohm=module_end(unit).wire_ohm,
    )
    input_v[spare] = module_v * array.in_series
    return ArrayInUse(used_w, input_v, cell_c)
