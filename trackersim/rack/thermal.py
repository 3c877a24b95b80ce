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

from trackersim.rack.geometry import wrapped_deg
from trackersim.rack.refrigerant import Refrigerant, moving_heat_j_kg, pressure_and_slope

FloatArray = npt.NDArray[np.float64]

GRAVITY_M_S2 = 9.80665
_WEST_EAST = np.array([[1.0], [-1.0]])


@dataclass(frozen=True, kw_only=True)
class ThermalRack:
    """A rack's constants in SI units; angles in degrees. West and east canister are alike.

    `plate_state` κ: 1 shade plates as built, 0 lost. `liquid_kg` moves; `residual_kg` stays in each canister.
    `balance_m`: centre of gravity below the pivot; negative racks flop from stop to stop.
    """

    fluid: Refrigerant
    axis_tilt_deg: float
    max_rotation_deg: float
    moving_mass_kg: float
    balance_m: float
    lever_m: float
    liquid_kg: float
    residual_kg: float
    friction_nm: float
    damping_nms: float
    canister_diameter_m: float
    canister_length_m: float
    absorptance: float
    plate_angle_deg: float
    plate_state: float
    diffuse_share: float
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

    `beam_w_m2` (2, n): direct light at each canister's own place on a plane facing the sun's rotation.
    `loss_w_k`: heat loss of one canister per kelvin above the air. `liquid_kg_m3`: density of the liquid.
    """

    sun_rotation_deg: FloatArray
    beam_w_m2: FloatArray
    diffuse_w_m2: FloatArray
    air_c: FloatArray
    loss_w_k: FloatArray
    liquid_kg_m3: FloatArray
    wind_torque_nm: FloatArray


class Step(NamedTuple):
    """The state after a step, the liquid that went west to east [kg] (n,), and the heat each canister took [J] (2, n).

    The heat is all that crossed a canister's wall, and the heat of evaporation it gave or got.
    """

    state: State
    moved_kg: FloatArray
    heat_j: FloatArray


def lit_share(rack: ThermalRack, offset_deg: FloatArray) -> FloatArray:
    """Lit part of the west and the east canister (2, n) with the sun `offset_deg` west of the rack's normal.

    The shade plates let the sun from the east (negative offset) onto the west canister: that swings the rack east.
    Bent or lost plates leave both canisters half lit, however far off the sun stands: they take away contrast.
    """
    lean = np.clip(offset_deg / rack.plate_angle_deg, -1.0, 1.0)
    return np.asarray(0.5 - _WEST_EAST * (0.5 * rack.plate_state * lean))


def step(rack: ThermalRack, state: State, drive: Drive, seconds: float) -> Step:
    """One step of `seconds` (15…60) for n racks side by side."""
    lit = lit_share(rack, wrapped_deg(drive.sun_rotation_deg - state.rotation_deg))
    shadow_m2 = rack.absorptance * rack.canister_diameter_m * rack.canister_length_m
    absorbed_w = shadow_m2 * (drive.beam_w_m2 * lit + rack.diffuse_share * drive.diffuse_w_m2)
    liquid = _liquid_kg(rack, state.west_kg)
    capacity = rack.shell_j_k + rack.liquid_j_kg_k * (liquid + rack.residual_kg)
    latent = moving_heat_j_kg(rack.fluid, state.canister_c)
    flow = _flow_kg_s(rack, state, drive, absorbed_w, capacity, latent, liquid, seconds)
    moved = flow * seconds
    # The liquid carries its heat along; the side it leaves fills with vapour, the other condenses as much.
    carried = rack.liquid_j_kg_k * moved * np.where(flow > 0, state.canister_c[0], state.canister_c[1])
    evaporated = seconds * latent * flow
    before = capacity * state.canister_c - _WEST_EAST * (carried + evaporated)
    after = capacity - _WEST_EAST * rack.liquid_j_kg_k * moved
    warmth = before + seconds * (absorbed_w + drive.loss_w_k * drive.air_c)
    canister = warmth / (after + seconds * drive.loss_w_k)
    heat = seconds * (absorbed_w - drive.loss_w_k * (canister - drive.air_c)) - _WEST_EAST * evaporated
    west = np.clip(state.west_kg - moved, 0.0, rack.liquid_kg)
    rotation = _turned_deg(rack, state.rotation_deg, west, drive.wind_torque_nm, seconds)
    return Step(State(canister, west, rotation), moved, heat)


def _liquid_kg(rack: ThermalRack, west_kg: FloatArray) -> FloatArray:
    return np.stack([west_kg, rack.liquid_kg - west_kg])


def _flow_kg_s(
    rack: ThermalRack,
    state: State,
    drive: Drive,
    absorbed_w: FloatArray,
    capacity_j_k: FloatArray,
    latent_j_kg: FloatArray,
    liquid_kg: FloatArray,
    seconds: float,
) -> FloatArray:
    """Flow west to east [kg/s]: pressure difference less the lift, implicit in the temperatures it changes."""
    pressure, slope = pressure_and_slope(rack.fluid, state.canister_c)
    rise_m = 2 * rack.lever_m * np.sin(np.radians(state.rotation_deg)) * np.cos(np.radians(rack.axis_tilt_deg))
    give = seconds * slope / (capacity_j_k + seconds * drive.loss_w_k)
    net_w = absorbed_w - drive.loss_w_k * (state.canister_c - drive.air_c)
    push = pressure + give * net_w
    drag = rack.flow_resistance_pa_s_kg + (give * latent_j_kg).sum(axis=0)
    flow = (push[0] - push[1] - drive.liquid_kg_m3 * GRAVITY_M_S2 * rise_m) / drag
    return np.asarray(np.clip(flow, -liquid_kg[1] / seconds, liquid_kg[0] / seconds))


def _turned_deg(
    rack: ThermalRack, rotation_deg: FloatArray, west_kg: FloatArray, wind_torque_nm: FloatArray, seconds: float
) -> FloatArray:
    """Rotation after a step: weight against balance, less friction, through the damper, between the stops."""
    rotation = np.radians(rotation_deg)
    sine, cosine = np.sin(rotation), np.cos(rotation)
    weight = GRAVITY_M_S2 * rack.lever_m * (2 * west_kg - rack.liquid_kg)
    upright = GRAVITY_M_S2 * rack.moving_mass_kg * rack.balance_m
    torque = weight * cosine - upright * sine + wind_torque_nm
    net = np.sign(torque) * np.maximum(np.abs(torque) - rack.friction_nm, 0.0)
    stiffness = np.minimum(-weight * sine - upright * cosine, 0.0)
    turned = rotation_deg + np.degrees(seconds * net / (rack.damping_nms - seconds * stiffness))
    return np.asarray(np.clip(turned, -rack.max_rotation_deg, rack.max_rotation_deg))
