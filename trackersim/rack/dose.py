"""When a passive rack flips, in two numbers: a dose of light above a threshold.

To hold liquid up against the lift, the west canister must be warmer than the east one by ΔT = ρ g h / p′(T), which
costs U ΔT of heat; only what it gets beyond that moves liquid. So with G the direct light that falls square on the west
canister more than on the east one,

    dX/dt = max(G − G_thr, 0) − X/τ,      G_thr = G₀ · U/U₀ · p′₀/p′ · ρ/ρ₀,
    flip where X ≥ D · (1 − v + v λ/λ₀).

U is a canister's heat loss per kelvin (wind), p′ the slope of the refrigerant's vapour pressure, ρ the liquid's density
and λ the heat that fills with vapour the room of one kilogram of liquid that leaves; index 0 means air of 10 °C and
2 m/s of wind at the rack. G₀ [W/m²] and D [kJ/m²] belong to the rack: they hold its paint, plates, charge, lever,
weight and friction, which watched mornings cannot tell apart.

Since they are all that mornings tell, `learn` fits these two.

τ and v are not the rack's: with 30 min and a third the flips of four different thermal racks (`rack/thermal.py`) on 365
clear mornings with scattered air, wind and haze are met within 0.6 to 0.9 min rms (tests/simulation/clear_mornings.py);
constant minutes of sun miss them by 7 to 11. τ is that of the liquid, which takes warmth from the wall; a third of the
dose makes vapour, the rest warms wall and liquid. That physics is no measurement: none is published. Left out are
diffuse light, the sky's cold, dew, wind that pushes, what the evening left, and whether a rack that flips also comes
round to the sun.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from trackersim.arrays import FloatArray
from trackersim.job.rack import Rack
from trackersim.rack.geometry import wrapped_deg
from trackersim.rack.refrigerant import Refrigerant, heat_per_liquid_moved_j_kg, liquid_density_kg_m3, march_properties
from trackersim.rack.shade_plates import plate_contrast

ORDINARY_AIR_C, ORDINARY_WIND_M_S = 10.0, 2.0
# Of a rack of which one watched delay alone is known, dose and threshold stand in this ratio [min]: that of the default
# thermal rack, and of any rack that differs from it in how much of the light it takes up.
DOSE_PER_THRESHOLD_MIN = 20.0
# The default thermal rack as built, fitted on clear mornings (tests/simulation/clear_mornings.py) [W/m², kJ/m²].
SOUND_THRESHOLD_W_M2, SOUND_DOSE_KJ_M2 = 90.0, 110.0
LEAK_MIN = 30.0
_VAPOUR_SHARE = 1 / 3
KJ_PER_W_MIN = 0.06


def one_sided_beam_w_m2(
    rack: Rack, beam_w_m2: FloatArray, *, sun_rotation_deg: FloatArray, reach: FloatArray
) -> FloatArray:
    """Direct light square on the west canister less that on the east one [W/m²], of a rack at its west stop.

    Parameters
    ----------
    rack : Rack
        Its stops and its plates are read.
    beam_w_m2 : FloatArray
        Any shape. Direct light past trees [W/m²].
    sun_rotation_deg : FloatArray
        Same shape. True-tracking angle of the sun [degrees], + west.
    reach : FloatArray
        Same shape. Cosine of incidence at that angle: on a canister along the axis the beam falls as squarely.

    Returns
    -------
    FloatArray
        Same shape [W/m²]; 0 while the sun is west of the stop.
    """
    offset, thermal = wrapped_deg(sun_rotation_deg - rack.max_rotation_deg), rack.thermal
    contrast = plate_contrast(offset, plate_angle_deg=thermal.plate_angle_deg, share_behind=thermal.plate_share_behind)
    return np.asarray(beam_w_m2 * reach * np.maximum(-contrast, 0.0))


def threshold_factor(fluid: Refrigerant, *, air_c: npt.ArrayLike, loss_share: npt.ArrayLike) -> FloatArray:
    """G_thr/G₀: what the threshold is of that in ordinary air and wind. Shapes broadcast.

    Parameters
    ----------
    fluid : Refrigerant
        The refrigerant.
    air_c : npt.ArrayLike
        Temperature of the air [°C]; −40…80 °C.
    loss_share : npt.ArrayLike
        A canister's heat loss per kelvin over that in ordinary air and wind.

    Returns
    -------
    FloatArray
        Common shape.
    """
    rise_k = _kelvins_of_lift(fluid, air_c) / _kelvins_of_lift(fluid, ORDINARY_AIR_C)
    return np.asarray(np.asarray(loss_share) * rise_k)


def _kelvins_of_lift(fluid: Refrigerant, air_c: npt.ArrayLike) -> FloatArray:
    """ρ/p′ [kg/m³ · K/Pa]: as the kelvins that hold a lift."""
    return np.asarray(liquid_density_kg_m3(fluid, air_c) / march_properties(fluid, air_c)[1])


def dose_factor(fluid: Refrigerant, air_c: npt.ArrayLike) -> FloatArray:
    """What the dose that flips the rack is of that at 10 °C: the heat of a lighter vapour is less.

    Parameters
    ----------
    fluid : Refrigerant
        The refrigerant.
    air_c : npt.ArrayLike
        Any shape. Temperature of the air [°C]; −40…80 °C.

    Returns
    -------
    FloatArray
        Shape of the temperature.
    """
    vapour = heat_per_liquid_moved_j_kg(fluid, air_c) / heat_per_liquid_moved_j_kg(fluid, ORDINARY_AIR_C)
    return np.asarray(1 - _VAPOUR_SHARE + _VAPOUR_SHARE * vapour)


def dose_kj_m2(one_sided_w_m2: FloatArray, threshold_w_m2: FloatArray, *, step_min: float = 1.0) -> FloatArray:
    """The dose at the end of each step; it leaks over 30 min.

    Parameters
    ----------
    one_sided_w_m2 : FloatArray
        Shape (days, minutes). As `one_sided_beam_w_m2` gives it; every day begins without a dose.
    threshold_w_m2 : FloatArray
        Shape (days, minutes), or one that broadcasts to it [W/m²].
    step_min : float
        Time between columns [min].

    Returns
    -------
    FloatArray
        Shape (days, minutes) [kJ/m²], 0 or more.
    """
    kept = float(np.exp(-step_min / LEAK_MIN))
    gained = np.maximum(one_sided_w_m2 - threshold_w_m2, 0.0)
    # What came later has leaked less: weighted by that, a sum up to each step is the dose there over its own weight,
    # which is e⁴⁸ after a day. (scipy.signal takes half a second to come, and every answer would wait.)
    weight = np.exp(np.arange(gained.shape[1]) * (step_min / LEAK_MIN))
    gained *= LEAK_MIN * (1 - kept) * KJ_PER_W_MIN * weight
    dose = np.cumsum(gained, axis=1, out=gained)
    dose /= weight
    return dose


def reached_min(dose: FloatArray, needed: FloatArray, *, step_min: float = 1.0) -> FloatArray:
    """Minute of each day at which the dose first comes to what is needed, with its fraction; infinite where never.

    Parameters
    ----------
    dose : FloatArray
        Shape (days, minutes). At the end of each step.
    needed : FloatArray
        Shape (days, minutes), or one that broadcasts to it; in the unit of the dose.
    step_min : float
        Time between columns [min].

    Returns
    -------
    FloatArray
        Shape (days,) [min] from the beginning of the first column.
    """
    lacking = needed - dose
    enough = lacking <= 0
    day, first = np.arange(len(dose)), enough.argmax(axis=1)
    now = lacking[day, first]
    before = np.where(first > 0, lacking[day, first - 1], np.broadcast_to(needed, dose.shape)[:, 0])
    fall = before - now
    share = np.divide(before, fall, out=np.zeros_like(fall), where=fall > 0)
    return np.where(enough.any(axis=1), (first + share) * step_min, np.inf)
