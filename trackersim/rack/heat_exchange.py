"""Heat between a canister's wall, its liquid and the air: what a step leaves of it, as a rational form of their common
exponential.
"""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

import numpy as np

from trackersim.arrays import FloatArray
from trackersim.job.rack import Rack
from trackersim.rack.refrigerant import REFRIGERANTS, RefrigerantName, liquid_heat_capacity_j_kg_k

# One heat capacity through the year keeps the canisters' heat accounts closed.
_CAPACITY_AT_C = 20.0


class Relaxation(NamedTuple):
    """How wall and liquid of each canister answer, by the end of a step, to what would warm them; all (2, n) or scalar.

    X is the matrix of the exchange within a step: wall to air, wall to liquid and back, with `exchange` and `settle` as
    its parts between the two. `wall`, `across`, `along` and `liquid` are the four elements of (1 − e^−X)/X, the mean
    over a step of what relaxes in it, approximated as even − uneven · X.
    """

    exchange: FloatArray
    settle: float | FloatArray
    wall: FloatArray
    across: FloatArray
    along: FloatArray
    liquid: FloatArray


def relaxation(rack: Rack, *, west_kg: FloatArray, loss_w_k: FloatArray, seconds: float | FloatArray) -> Relaxation:
    """How wall and liquid answer within a step, whatever its length.

    The matrix function by (1 + X/6)/(1 + 2X/3 + X²/6): right to the third order and never unstable, since 1 − X times
    it is a Padé approximant of e^−X that fades at large X. Sum and product of X's roots are all it needs.

    Parameters
    ----------
    rack : Rack
        A thermal rack in its present condition.
    west_kg : FloatArray
        Shape (n,). Liquid that moves, as far as it is in the west [kg].
    loss_w_k : FloatArray
        Shape (n,). Heat loss of one canister per kelvin above the air [W/K].
    seconds : float or FloatArray
        Length of the step [s]; a number or one for each rack (n,).

    Returns
    -------
    Relaxation
        Its elements, (2, n), west then east.
    """
    settle = seconds / rack.thermal.mixing_s
    exchange = liquid_in_kg(rack, west_kg)
    exchange *= settle * liquid_j_kg_k(rack.thermal.refrigerant) / rack.thermal.shell_j_k
    loss = loss_w_k * (seconds / rack.thermal.shell_j_k)
    product = loss * settle
    leaving = exchange + loss
    six = (leaving + settle) * 6  # times the sum of X's roots
    uneven = six + (18 + product)
    inverse = six + (24 + 4 * product)
    inverse *= six
    inverse += 6 * (36 + product * (4 + product))
    np.divide(6, inverse, out=inverse)
    uneven *= inverse
    six *= 0.5
    six += 6 + product
    six *= product
    six *= inverse
    even = np.subtract(1, six, out=six)
    along = uneven * settle
    return Relaxation(exchange, settle, even - uneven * leaving, uneven * exchange, along, even - along)


def liquid_in_kg(rack: Rack, west_kg: FloatArray) -> FloatArray:
    """Liquid in the west and the east canister, with what stays there [kg] (2, n).

    Parameters
    ----------
    rack : Rack
        A thermal rack in its present condition.
    west_kg : FloatArray
        Shape (n,). Liquid that moves, as far as it is in the west [kg].

    Returns
    -------
    FloatArray
        Shape (2, n), west then east [kg].
    """
    held = np.empty((2, *west_kg.shape))
    np.add(west_kg, rack.thermal.residual_kg, out=held[0])
    np.subtract(rack.thermal.liquid_now_kg + rack.thermal.residual_kg, west_kg, out=held[1])
    return held


@cache
def liquid_j_kg_k(refrigerant: RefrigerantName) -> float:
    """Heat capacity of the liquid, one through the year.

    Parameters
    ----------
    refrigerant : RefrigerantName
        What fills the canisters.

    Returns
    -------
    float
        Heat capacity [J/(kg·K)].
    """
    return float(liquid_heat_capacity_j_kg_k(REFRIGERANTS[refrigerant], _CAPACITY_AT_C))
