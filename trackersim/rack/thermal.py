"""The passive rack as physics: two canisters of refrigerant, warmed by the sun past shade plates, and their weight.

State: canister temperatures, liquid in the west canister, rotation. The warmer side evaporates, pushes liquid to the
other, and the weight turns the rack against its balance, damper and friction. One step is a pure function that stays
stable at a minute: flow is solved implicitly in temperature, heat loss in temperature, the damper in rotation.

No measured parameter set of such racks is published: every number of `ThermalRack` is an assumption.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from trackersim.constants import GRAVITY_M_S2
from trackersim.rack.geometry import wrapped_deg
from trackersim.rack.refrigerant import Refrigerant, march_properties

FloatArray = npt.NDArray[np.float64]

_WEST_EAST = np.array([[1.0], [-1.0]])


@dataclass(frozen=True, kw_only=True)
class ThermalRack:
    """A rack's constants in SI units; angles in degrees. West and east canister are alike.

    `plate_state` κ: 1 shade plates as built, 0 lost. `liquid_kg` moves; `residual_kg` stays in each canister.
    `balance_m`: centre of gravity below the pivot; negative racks flop from stop to stop.
    """

    fluid: Refrigerant
    max_rotation_deg: float
    moving_mass_kg: float
    balance_m: float
    lever_m: float
    liquid_kg: float
    residual_kg: float
    friction_nm: float
    damping_nms: float
    plate_angle_deg: float
    plate_state: float
    flow_resistance_pa_s_kg: float
    shell_j_k: float
    liquid_j_kg_k: float


class State(NamedTuple):
    """Canister temperatures [°C] (2, n), west then east; liquid in the west canister [kg] (n,); rotation [°] (n,)."""

    canister_c: FloatArray
    west_kg: FloatArray
    rotation_deg: FloatArray


class Drive(NamedTuple):
    """What acts on the rack during one step; arrays (n,) unless said otherwise.

    `beam_w` (2, n), or (n,) if alike: what a fully lit canister takes up of the direct light, at its own place, on a
    plane facing the sun's rotation. `diffuse_w`: what it takes up of the sky. `loss_w_k`: heat loss of one canister
    per kelvin above the air. `lift_pa`: pressure that lifts liquid from one canister to the other with the rack on
    edge (it grows with the sine of the rotation). `wind_torque_nm`: + turns west.
    """

    sun_rotation_deg: FloatArray
    beam_w: FloatArray
    diffuse_w: FloatArray
    air_c: FloatArray
    loss_w_k: FloatArray
    lift_pa: FloatArray
    wind_torque_nm: FloatArray


class Step(NamedTuple):
    """The state after a step and the liquid that went from west to east [kg] (n,)."""

    state: State
    moved_kg: FloatArray


def lit_share(rack: ThermalRack, offset_deg: FloatArray) -> FloatArray:
    """Lit part of the west and the east canister (2, n) with the sun `offset_deg` west of the rack's normal.

    The shade plates let the sun from the east (negative offset) onto the west canister: that swings the rack east.
    Bent or lost plates leave both canisters half lit, however far off the sun stands: they take away contrast.
    """
    lean = np.minimum(np.maximum(offset_deg / rack.plate_angle_deg, -1.0), 1.0)
    return np.asarray(0.5 - _WEST_EAST * (0.5 * rack.plate_state * lean))


def step(rack: ThermalRack, state: State, drive: Drive, seconds: float) -> Step:
    """One step of `seconds` (15…60 by day) for n racks side by side."""
    absorbed = absorbed_w(rack, state, drive)
    capacity = capacity_j_k(rack, state)
    pressure, slope, latent = march_properties(rack.fluid, state.canister_c)
    lean = _lean(rack, state, seconds)
    # Flow west to east: pressure difference less the lift, implicit in the temperatures that the flow itself changes
    # by evaporation, condensation, and the warmth of the liquid that arrives.
    effect = _relaxing(seconds * drive.loss_w_k / capacity)
    heat = seconds * effect * (absorbed - drive.loss_w_k * (state.canister_c - drive.air_c))
    per_heat = slope / capacity
    push = pressure + per_heat * heat
    give = seconds * effect * per_heat
    drive_pa = push[0] - push[1] - drive.lift_pa * lean.sine
    warmer = np.where(drive_pa > 0, give[1], -give[0]) * (state.canister_c[0] - state.canister_c[1])
    drag = rack.flow_resistance_pa_s_kg + (give * latent).sum(axis=0) + rack.liquid_j_kg_k * np.maximum(warmer, 0.0)
    # However fast the lift gives way, a flow never meets less than a quarter of its drag within one step.
    drag = np.maximum(drag - _giving_way(rack, state, drive, lean, seconds), 0.25 * drag)
    # No more can leave a side than it still holds.
    moved = np.minimum(np.maximum(seconds * drive_pa / drag, state.west_kg - rack.liquid_kg), state.west_kg)
    canister = _warmed_c(rack, state, capacity, heat, latent, moved)
    west = np.minimum(np.maximum(state.west_kg - moved, 0.0), rack.liquid_kg)
    turned = state.rotation_deg + lean.turn_deg_nm * _net_torque_nm(rack, west, lean, drive)
    rotation = np.minimum(np.maximum(turned, -rack.max_rotation_deg), rack.max_rotation_deg)
    return Step(State(canister, west, rotation), moved)


def absorbed_w(rack: ThermalRack, state: State, drive: Drive) -> FloatArray:
    """Light that each canister takes up [W] (2, n)."""
    lit = lit_share(rack, wrapped_deg(drive.sun_rotation_deg - state.rotation_deg))
    return np.asarray(drive.beam_w * lit + drive.diffuse_w)


def heat_taken_j(rack: ThermalRack, before: State, drive: Drive, after: Step, seconds: float) -> FloatArray:
    """Heat [J] (2, n) that crossed each canister's wall in a step, and that evaporation took or condensation gave.

    Together the two canisters change by it the heat they hold; what the moving liquid carries stays between them.
    """
    latent = march_properties(rack.fluid, before.canister_c)[2]
    effect = _relaxing(seconds * drive.loss_w_k / capacity_j_k(rack, before))
    wall = absorbed_w(rack, before, drive) - drive.loss_w_k * (before.canister_c - drive.air_c)
    return np.asarray(seconds * effect * wall - _WEST_EAST * latent * after.moved_kg)


def heat_held_j(rack: ThermalRack, state: State) -> FloatArray:
    """Heat each canister holds above 0 °C [J] (2, n)."""
    return capacity_j_k(rack, state) * state.canister_c


def capacity_j_k(rack: ThermalRack, state: State) -> FloatArray:
    """Heat each canister holds per kelvin [J/K] (2, n)."""
    liquid = np.array([state.west_kg, rack.liquid_kg - state.west_kg])
    return np.asarray(rack.shell_j_k + rack.liquid_j_kg_k * (liquid + rack.residual_kg))


def _relaxing(rate: FloatArray) -> FloatArray:
    """(1 − e^−x)/x to third order: the mean, over a step, of what relaxes x times within it. Never unstable."""
    return np.asarray(1 / (1 + rate * (0.5 + rate / 12)))


class _Lean(NamedTuple):
    """Sine and cosine of the rotation, and how far a newton metre turns the rack within a step [°/N·m]; all (n,)."""

    sine: FloatArray
    cosine: FloatArray
    turn_deg_nm: FloatArray


def _lean(rack: ThermalRack, state: State, seconds: float) -> _Lean:
    """The rack at its angle, damped; weight and balance give way as it turns, so that it cannot overshoot its rest."""
    rotation = np.radians(state.rotation_deg)
    sine, cosine = np.sin(rotation), np.cos(rotation)
    weight = GRAVITY_M_S2 * rack.lever_m * (2 * state.west_kg - rack.liquid_kg)
    upright = GRAVITY_M_S2 * rack.moving_mass_kg * rack.balance_m
    stiffness = np.maximum(weight * sine + upright * cosine, 0.0)
    rate = seconds / rack.damping_nms
    return _Lean(sine, cosine, np.degrees(rate) * _relaxing(rate * stiffness))


def _net_torque_nm(rack: ThermalRack, west_kg: FloatArray, lean: _Lean, drive: Drive) -> FloatArray:
    """Weight against balance and wind, less friction; 0 while friction holds."""
    weight = GRAVITY_M_S2 * rack.lever_m * (2 * west_kg - rack.liquid_kg)
    upright = GRAVITY_M_S2 * rack.moving_mass_kg * rack.balance_m
    torque = weight * lean.cosine - upright * lean.sine + drive.wind_torque_nm
    held = np.minimum(np.maximum(torque, -rack.friction_nm), rack.friction_nm)
    return np.asarray(torque - held)


def _giving_way(rack: ThermalRack, state: State, drive: Drive, lean: _Lean, seconds: float) -> FloatArray:
    """How much the lift falls within a step per flow [Pa·s/kg], since a moving rack turns as its liquid moves.

    Half a step's worth, as by the trapezoidal rule: without it a step of a minute turns the rack half a minute late.
    """
    turning = _net_torque_nm(rack, state.west_kg, lean, drive) != 0
    turn_per_kg = np.radians(2 * GRAVITY_M_S2 * rack.lever_m) * lean.turn_deg_nm
    return np.asarray((0.5 * seconds) * drive.lift_pa * turn_per_kg * lean.cosine**2 * turning)


def _warmed_c(
    rack: ThermalRack,
    state: State,
    capacity_j_k: FloatArray,
    heat_j: FloatArray,
    latent_j_kg: FloatArray,
    moved_kg: FloatArray,
) -> FloatArray:
    """Canister temperatures after a step in which `heat_j` crossed the walls.

    The liquid carries its heat along; the side it leaves fills with vapour, the other condenses as much.
    """
    leaving_c = np.where(moved_kg > 0, state.canister_c[0], state.canister_c[1])
    carried = moved_kg * (rack.liquid_j_kg_k * leaving_c + latent_j_kg)
    warmth = capacity_j_k * state.canister_c - _WEST_EAST * carried + heat_j
    return np.asarray(warmth / (capacity_j_k - _WEST_EAST * (rack.liquid_j_kg_k * moved_kg)))


def resting_west_deg(rack: ThermalRack) -> float:
    """Where the rack comes to rest in the evening with all its liquid in the west, turning there from the east.

    There weight, balance and friction hold each other: L m cos θ − M h sin θ = M_f / g; at most the west stop, and the
    stop itself if the rack is balanced to flop.
    """
    weight, upright = rack.lever_m * rack.liquid_kg, rack.moving_mass_kg * rack.balance_m
    friction = rack.friction_nm / GRAVITY_M_S2
    reach = np.hypot(weight, upright)
    if upright < 0:
        return rack.max_rotation_deg if weight > friction else 0.0
    if reach <= friction or weight <= friction:
        return 0.0
    angle = np.degrees(np.arccos(friction / reach) - np.arctan2(upright, weight))
    return float(min(angle, rack.max_rotation_deg))
