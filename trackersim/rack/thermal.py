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

from typing import NamedTuple

import numpy as np

from trackersim.arrays import FloatArray
from trackersim.constants import GRAVITY_M_S2
from trackersim.job.rack import Rack
from trackersim.rack.canister import WEST_EAST
from trackersim.rack.geometry import wrapped_deg
from trackersim.rack.heat_exchange import Relaxation, relaxation
from trackersim.rack.refrigerant import march_properties
from trackersim.rack.shade_plates import lit_share
from trackersim.rack.tube import TURBULENT_POWER

_RADIAN = np.pi / 180
# Rounds in which a step finds the drag of the flow that this drag lets through, and the share of the way in logarithms:
# 1/1.75 is right at once where Δp ∝ ṁ^1.75 alone counts.
_DRAG_ROUNDS, _DRAG_SHARE = 3, 1 / (1 + TURBULENT_POWER)
# Of a rack that runs away from its place a step takes no more than this into account; shorter steps say the rest.
_MOST_RUNAWAY = -1.0


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


def step(rack: Rack, state: State, forcing: Forcing, seconds: float | FloatArray) -> StepResult:
    """One step of `seconds` for n racks side by side; 60 while a rack follows the sun, 15 or less while it swings.

    Parameters
    ----------
    rack : Rack
        A thermal rack in its present condition.
    state : State
        State of n racks at the beginning of the step.
    forcing : Forcing
        What acts on the rack during the step.
    seconds : float or FloatArray
        Length of the step [s]; a number or one for each rack (n,).

    Returns
    -------
    StepResult
        The state of n racks at the end, and the liquid that moved [kg].
    """
    pressure, slope, latent = march_properties(rack.thermal.fluid, state.canister_c)
    lean = _lean(rack, state, forcing, seconds)
    relax = relaxation(rack, west_kg=state.west_kg, loss_w_k=forcing.loss_w_k, seconds=seconds)
    to_wall, to_liquid = _warming_k(rack, state, forcing, relax, lean.middle_deg, seconds)
    # Flow west to east: pressure difference less the lift. The flow itself changes the pressures by evaporation and
    # condensation; what they have become in the mean of a step counts by half or, where that is quick, in full.
    chill = latent * (1 / rack.thermal.shell_j_k)
    per_flow = slope * relax.wall
    warmer = slope * (relax.wall * to_wall + relax.across * to_liquid)
    per_flow *= chill
    given, gap = seconds * (per_flow[0] + per_flow[1]), warmer[0] - warmer[1]
    still_pa = (pressure[0] - pressure[1]) - forcing.lift_pa * lean.sine
    yields = seconds * forcing.lift_pa * lean.yields_kg
    least_kg = state.west_kg - rack.thermal.liquid_now_kg

    def moves_kg(drag: FloatArray) -> FloatArray:
        weight = (3 * drag + given) / (6 * drag + given)
        # However fast the lift gives way, a flow never meets less than a quarter of its drag within one step.
        whole = drag + weight * given
        whole = np.maximum(whole - yields, 0.25 * whole)
        # No more can leave a side than it still holds.
        return np.asarray(np.minimum(np.maximum(seconds * (still_pa + weight * gap) / whole, least_kg), state.west_kg))

    moved = moves_kg(forcing.laminar_pa_s_kg)
    drag = forcing.laminar_pa_s_kg
    for _ in range(_DRAG_ROUNDS):
        turbulent = forcing.turbulent_pa_s_kg * np.abs(moved / seconds) ** TURBULENT_POWER
        if (turbulent <= forcing.laminar_pa_s_kg).all() and drag is forcing.laminar_pa_s_kg:
            break
        drag = drag ** (1 - _DRAG_SHARE) * np.maximum(turbulent, forcing.laminar_pa_s_kg) ** _DRAG_SHARE
        moved = moves_kg(drag)
    # The side that the liquid leaves fills with vapour, the other condenses as much.
    to_wall -= WEST_EAST * (chill * moved)
    canister = state.canister_c + relax.wall * to_wall + relax.across * to_liquid
    liquid = state.liquid_c + relax.liquid * to_liquid + relax.along * to_wall
    west = np.minimum(np.maximum(state.west_kg - moved, 0.0), rack.thermal.liquid_now_kg)
    torque = _less_friction_nm(rack, lean.torque_nm - lean.per_kg_nm * moved)
    rotation = _between_stops_deg(rack, state.rotation_deg + lean.turn_deg_nm * torque)
    return StepResult(State(canister, west, rotation, _mixed_c(rack, liquid, moved, west)), moved)


def absorbed_w(rack: Rack, rotation_deg: FloatArray, forcing: Forcing) -> FloatArray:
    """Light that each canister takes up [W] (2, n).

    Parameters
    ----------
    rack : Rack
        A thermal rack in its present condition.
    rotation_deg : FloatArray
        Shape (n,). Rotation of the rack [degrees], + west.
    forcing : Forcing
        What acts on the rack during the step.

    Returns
    -------
    FloatArray
        Shape (2, n), west then east [W].
    """
    lit = lit_share(rack, wrapped_deg(forcing.sun_rotation_deg - rotation_deg))
    return np.asarray(forcing.beam_w * lit + forcing.diffuse_w)


def gravity_across_m_s2(rack: Rack) -> FloatArray:
    """Gravity at right angles to the axis: all of it that turns the rack, and that liquid is lifted against.

    Parameters
    ----------
    rack : Rack
        A thermal rack, or several as one.

    Returns
    -------
    FloatArray
        A number [m/s²], or one for each rack (n,).
    """
    return np.asarray(GRAVITY_M_S2 * np.cos(rack.axis_tilt_deg * _RADIAN))


def _warming_k(
    rack: Rack,
    state: State,
    forcing: Forcing,
    relax: Relaxation,
    rotation_deg: FloatArray,
    seconds: float | FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """What would warm wall and liquid within a step [K] (2, n) each if neither changed: light, loss, and each other."""
    gap = state.canister_c - state.liquid_c
    to_wall = absorbed_w(rack, rotation_deg, forcing)
    to_wall -= forcing.loss_w_k * (state.canister_c - forcing.air_c)
    to_wall -= WEST_EAST * forcing.sky_w
    to_wall *= seconds / rack.thermal.shell_j_k
    to_wall -= relax.exchange * gap
    return to_wall, relax.settle * gap


def _mixed_c(rack: Rack, liquid_c: FloatArray, moved_kg: FloatArray, west_kg: FloatArray) -> FloatArray:
    """Temperature of the liquid (2, n) once what has moved is stirred into what was there; the source keeps its own."""
    thermal = rack.thermal
    share = moved_kg / (thermal.residual_kg + np.where(moved_kg > 0, thermal.liquid_now_kg - west_kg, west_kg))
    gap = liquid_c[0] - liquid_c[1]
    liquid_c[0] += np.minimum(share, 0.0) * gap
    liquid_c[1] += np.maximum(share, 0.0) * gap
    return liquid_c


def _relaxing(rate: FloatArray) -> FloatArray:
    """(1 − e^−x)/x to third order: the mean, over a step, of what relaxes x times within it. Never unstable."""
    return np.asarray(1 / (1 + rate * (0.5 + rate / 12)))


class _Lean(NamedTuple):
    """The rack within a step; all (n,). Rotation in the middle of it and its sine; torque of weight, balance and wind
    before liquid moves and without friction [N·m], and how much of it a kilogram takes that moves within the step;
    how far a newton metre turns the rack [°/N·m], and how the lift's sine then falls per kilogram.
    """

    middle_deg: FloatArray
    sine: FloatArray
    torque_nm: FloatArray
    per_kg_nm: FloatArray
    turn_deg_nm: FloatArray
    yields_kg: FloatArray


def _lean(rack: Rack, state: State, forcing: Forcing, seconds: float | FloatArray) -> _Lean:
    """The rack at its angle, damped; weight and balance give way as it turns, so that it cannot overshoot its rest.

    Liquid that moves evenly through the step turns it by half of what it would from the start, or in full if the rack
    is quick to follow.
    """
    sine = np.sin(state.rotation_deg * _RADIAN)
    cosine = np.sqrt(1 - sine * sine)  # no rack turns beyond 90°
    gravity = gravity_across_m_s2(rack)
    per_kg_level = 2 * gravity * rack.thermal.lever_m
    per_kg = per_kg_level * cosine
    west = state.west_kg - 0.5 * rack.thermal.liquid_now_kg
    upright = gravity * rack.thermal.moving_mass_kg * rack.thermal.balance_m
    rate = per_kg_level * west * sine
    rate += upright * cosine
    rate -= forcing.wind_moment_nm * (2 - 4 * sine * sine)
    rate *= seconds / rack.thermal.damping_now_nms
    rate = np.maximum(rate, _MOST_RUNAWAY)
    torque = per_kg * west
    torque -= upright * sine
    torque += forcing.wind_moment_nm * (2 * sine * cosine)
    turn = (seconds / rack.thermal.damping_now_nms / _RADIAN) * _relaxing(rate)
    part = (3 + rate) / (6 + rate)
    free = _less_friction_nm(rack, torque)
    middle = _between_stops_deg(rack, state.rotation_deg + 0.5 * turn * free)
    per_kg *= part
    yields = (0.5 * _RADIAN) * turn * part * per_kg * cosine * (free != 0)
    middle_sine = sine + cosine * ((middle - state.rotation_deg) * _RADIAN)
    return _Lean(middle, middle_sine, torque, per_kg, turn, yields)


def _less_friction_nm(rack: Rack, torque_nm: FloatArray) -> FloatArray:
    """What is left of a torque; 0 while friction holds."""
    friction_nm = rack.thermal.pivot_friction_nm
    return np.asarray(torque_nm - np.minimum(np.maximum(torque_nm, -friction_nm), friction_nm))


def _between_stops_deg(rack: Rack, rotation_deg: FloatArray) -> FloatArray:
    return np.asarray(np.minimum(np.maximum(rotation_deg, -rack.max_rotation_deg), rack.max_rotation_deg))


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
