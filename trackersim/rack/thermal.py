"""The passive rack as physics: two canisters of refrigerant, warmed by the sun past shade plates, and their weight.

State: temperatures of each canister's wall and of its liquid, liquid in the west canister, rotation. The warmer side
evaporates, pushes liquid to the other, and the weight turns the rack against its balance, damper and friction. Weight
and balance turn it by gravity across the axis, g cos(axis tilt), which the lift is made of too. One step is a pure
function that stays stable at a minute: flow is solved implicitly in temperature, the heat of wall and liquid by a
rational form of their common exponential, the damper in rotation.

Pressure is that of the wall and the vapour it wets; the liquid below follows over `mixing_s`. To mix all of it in every
step, as 0 would, is wrong: liquid R-134a at 0 °C conducts 0.092 W/(m·K) and holds 1295 kg/m³ · 1341 J/(kg·K), by
CoolProp; of such a diffusivity, 5.3e-8 m²/s, warmth that lies on top enters by √(α t) = 1.8 mm within the 60 s of a
swing. Conduction alone would take hours through a canister's liquid; what boils at a warm wall and what runs in stirs
it. Where between the two `mixing_s` lies is an assumption.

Range of validity: −40…80 °C. With the job's defaults R-134a follows the sun down to −17 °C and n-butane to −10 °C. In
harder frost the rack hunts from stop to stop: a lift takes more kelvins there, and liquid that has begun to run turns
the rack and so lowers the lift in its own way. That is the equations' doing and not the step's
(`tests/rack/plain_rack.py` integrates them by half seconds). A tube so narrow that the flow takes half an hour prevents
it; stirred liquid brings it on sooner. Whether a real rack hunts is not published.

No measured parameter set of such racks is published: every number of `job.thermal.Thermal` is an assumption.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from trackersim.arrays import FloatArray
from trackersim.constants import GRAVITY_M_S2
from trackersim.job.rack import Rack
from trackersim.rack.refrigerant import liquid_heat_capacity_j_kg_k

# One heat capacity through the year keeps the canisters' heat accounts closed.
_CAPACITY_AT_C = 20.0


class State(NamedTuple):
    """Temperatures of the canisters' walls and of their liquid [°C] (2, n), west then east; liquid in the west canister
    [kg] (n,); rotation [°] (n,).
    """

    canister_c: FloatArray
    west_kg: FloatArray
    rotation_deg: FloatArray
    liquid_c: FloatArray


class Forcing(NamedTuple):
    """What acts on the rack during one step; arrays (n,) unless said otherwise. For whole days (days, minutes).

    `beam_w` (2, n), or (n,) if alike: what a fully lit canister takes up of the direct light, at its own place, on a
    plane at the true-tracking angle. `diffuse_w`: what it takes up of the sky. `loss_w_k`: heat loss of one canister
    per kelvin above the air. `lift_pa`: hydrostatic pressure between the canisters with the rack on edge (it grows with
    the sine of the rotation). `laminar_pa_s_kg`, `turbulent_pa_s_kg`: of the tube between, as `tube_resistances` gives
    them. `wind_moment_nm`: times sin 2θ it turns the rack away from level. `sky_w`: what the west canister loses to the
    cold sky, and the east one does not, by half the difference of their views.
    """

    sun_rotation_deg: FloatArray
    beam_w: FloatArray
    diffuse_w: FloatArray
    air_c: FloatArray
    loss_w_k: FloatArray
    lift_pa: FloatArray
    laminar_pa_s_kg: FloatArray
    turbulent_pa_s_kg: FloatArray
    wind_moment_nm: FloatArray
    sky_w: FloatArray


class StepResult(NamedTuple):
    """The state after a step and the liquid that went from west to east [kg] (n,)."""

    state: State
    moved_kg: FloatArray


@dataclass(frozen=True, kw_only=True)
class ThermalHistory:
    """The rack through its days, at the centres of minutes: rotation [°] and liquid in the west canister [kg] (days,
    minutes), canister temperatures [°C] (2, days, minutes).
    """

    rotation_deg: FloatArray
    west_kg: FloatArray
    canister_c: FloatArray


class Numbers(NamedTuple):
    """What a step asks of a rack, in its present condition.

    `weight_m2_s2` is gravity across the axis times the lever, `upright_nm` the moment of its mass lying on edge;
    `plates` 0…1: how much of a plate's full shade is left, `plates_pass` what it lets through.
    """

    max_rotation_deg: float
    weight_m2_s2: float
    upright_nm: float
    friction_nm: float
    damping_nms: float
    liquid_kg: float
    residual_kg: float
    liquid_j_kg_k: float
    shell_j_k: float
    mixing_s: float
    plates: float
    plates_pass: float
    plate_angle_deg: float
    plate_share_behind: float


class Now(NamedTuple):
    """State of one rack: °C of the canisters' walls, liquid in the west [kg], rotation [°], °C of their liquid."""

    west_c: float
    east_c: float
    west_kg: float
    rotation_deg: float
    west_liquid_c: float
    east_liquid_c: float


class Acting(NamedTuple):
    """What acts on one rack during one step, as `thermal.Forcing` has it for many."""

    sun_rotation_deg: float
    west_beam_w: float
    east_beam_w: float
    diffuse_w: float
    air_c: float
    loss_w_k: float
    lift_pa: float
    laminar_pa_s_kg: float
    turbulent_pa_s_kg: float
    wind_moment_nm: float
    sky_w: float


class Side(NamedTuple):
    """One canister within a step: pressure [Pa] at its beginning, what its wall takes of a kilogram that leaves [K/kg],
    what would warm its wall if neither changed, and how much warmer it is than its liquid as far as that settles [K].

    X is the matrix of the exchange within a step: wall to air, wall to liquid and back. `wall`, `across`, `along` and
    `liquid` are the four elements of (1 − e^−X)/X, the mean over a step of what relaxes in it: wall by what warms it,
    wall by its liquid, liquid by the wall, liquid by itself. `warmer_pa` is what pressure gains by the warming, and
    `answer_pa_kg` what it loses by a kilogram that leaves.
    """

    pressure_pa: float
    chill_k_kg: float
    warming_k: float
    settling_k: float
    wall: float
    across: float
    along: float
    liquid: float
    warmer_pa: float
    answer_pa_kg: float


class Lean(NamedTuple):
    """The rack within a step: rotation in the middle of it and its sine; torque of weight, balance and wind before
    liquid moves and without friction [N·m], and how much of it a kilogram takes that moves within the step; how far a
    newton metre turns the rack [°/N·m], and how the lift's sine then falls per kilogram.
    """

    middle_deg: float
    sine: float
    torque_nm: float
    per_kg_nm: float
    turn_deg_nm: float
    yields_kg: float


def numbers_of(rack: Rack) -> Numbers:
    """What a step asks of a thermal rack.

    Parameters
    ----------
    rack : Rack
        A thermal rack in its present condition.

    Returns
    -------
    Numbers
        Its numbers.
    """
    thermal = rack.thermal
    across_m_s2 = gravity_across_m_s2(rack)
    return Numbers(
        max_rotation_deg=float(rack.max_rotation_deg),
        weight_m2_s2=across_m_s2 * thermal.lever_m,
        upright_nm=across_m_s2 * thermal.moving_mass_kg * thermal.balance_m,
        friction_nm=float(thermal.pivot_friction_nm),
        damping_nms=float(thermal.damping_now_nms),
        liquid_kg=float(thermal.liquid_now_kg),
        residual_kg=float(thermal.residual_kg),
        liquid_j_kg_k=float(liquid_heat_capacity_j_kg_k(thermal.fluid, _CAPACITY_AT_C)),
        shell_j_k=float(thermal.shell_j_k),
        mixing_s=float(thermal.mixing_s),
        plates=float(thermal.shade_plates),
        plates_pass=float(thermal.plates_pass),
        plate_angle_deg=float(thermal.plate_angle_deg),
        plate_share_behind=float(thermal.plate_share_behind),
    )


def gravity_across_m_s2(rack: Rack) -> float:
    """Gravity at right angles to the axis: all of it that turns the rack, and that liquid is lifted against.

    Parameters
    ----------
    rack : Rack
        A thermal rack.

    Returns
    -------
    float
        [m/s²].
    """
    return GRAVITY_M_S2 * math.cos(math.radians(rack.axis_tilt_taken_deg))


def resting_west_deg(rack: Rack) -> float:
    """Where the rack comes to rest in the evening with all its liquid in the west, turning there from the east.

    There weight, balance and friction hold each other: L m cos θ − M h sin θ = M_f / g, g across the axis; at most the
    west stop, and the stop itself if the rack is balanced to flop.

    Parameters
    ----------
    rack : Rack
        A thermal rack in its present condition.

    Returns
    -------
    float
        Rotation [degrees], 0 to the west stop.
    """
    thermal = rack.thermal
    weight, upright = thermal.lever_m * thermal.liquid_now_kg, thermal.moving_mass_kg * thermal.balance_m
    friction = thermal.pivot_friction_nm / gravity_across_m_s2(rack)
    reach = np.hypot(weight, upright)
    if upright < 0:
        return rack.max_rotation_deg if weight > friction else 0.0
    if reach <= friction or weight <= friction:
        return 0.0
    angle = np.degrees(np.arccos(friction / reach) - np.arctan2(upright, weight))
    return float(min(angle, rack.max_rotation_deg))
