"""The thermal rack once more, as plainly as its equations are written: explicit steps of half a second, for the tests.

Nothing of `trackersim` is used but the weather that drives it. Pressure, densities, latent heat and viscosity are
CoolProp's, interpolated in tables of 0.1 K; drag, plates, weight, damper and friction are written anew. Columns stand
side by side: each may have another bore, mixing time or day.

Weight by virtual work: a place u west of the axis and n above it on a level rack comes, turned west by θ, to n cos θ −
u sin θ along the normal of the centred rack, which leans by the axis's tilt β from upright. So it stands at a height z
of (n cos θ − u sin θ) cos β over the axis, and a mass m there turns the rack by −m g dz/dθ = m g cos β (n sin θ +
u cos θ).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
G = 9.80665
TABLE_C = np.linspace(-60.0, 100.0, 1601)


@cache
def table(fluid: str) -> dict[str, FloatArray]:
    """CoolProp's saturated fluid at the places of `TABLE_C`."""
    from CoolProp.CoolProp import PropsSI

    kelvin = TABLE_C + 273.15
    liquid, vapour = (np.asarray(PropsSI("D", "T", kelvin, "Q", quality, fluid)) for quality in (0, 1))
    latent = np.asarray(PropsSI("H", "T", kelvin, "Q", 1, fluid)) - np.asarray(PropsSI("H", "T", kelvin, "Q", 0, fluid))
    return {
        "pressure": np.asarray(PropsSI("P", "T", kelvin, "Q", 0, fluid)),
        "per_kg": latent * vapour / liquid,
        "density": liquid,
        "viscosity": np.asarray(PropsSI("V", "T", kelvin, "Q", 0, fluid)),
        "capacity": np.asarray(PropsSI("C", "T", kelvin, "Q", 0, fluid)),
    }


@dataclass(kw_only=True)
class PlainRack:
    """Constants; numbers, or arrays of one entry a column."""

    fluid: str = "R134a"
    bore_m: float | FloatArray = 0.0045
    length_m: float = 5.0
    mass_kg: float = 150.0
    balance_m: float = 0.04
    lever_m: float = 1.2
    liquid_kg: float = 6.0
    residual_kg: float = 0.5
    friction_nm: float = 3.0
    damper_nms: float = 4000.0
    plate_deg: float = 25.0
    behind: float = 1.0
    shell_j_k: float = 2000.0
    mixing_s: float | FloatArray = 1800.0
    stop_deg: float = 50.0
    tilt_deg: float = 20.0
    wind_nm: float | FloatArray = 0.0
    seconds: float = 0.5
    begin_deg: float = 40.0


def drag_pa(rack: PlainRack, flow_kg_s: FloatArray, temperature_c: FloatArray) -> FloatArray:
    """Pressure lost in the tube at a flow [Pa], by the Reynolds number of that flow."""
    found = table(rack.fluid)
    density, viscosity = (np.interp(temperature_c, TABLE_C, found[name]) for name in ("density", "viscosity"))
    speed = np.abs(flow_kg_s) / (density * np.pi / 4 * rack.bore_m**2)
    reynolds = np.maximum(density * speed * rack.bore_m / viscosity, 1e-12)
    friction = np.maximum(64 / reynolds, 0.316 / reynolds**0.25)
    return np.asarray(friction * rack.length_m / rack.bore_m * density * speed**2 / 2)


def flow_by_pressure(rack: PlainRack, temperature_c: FloatArray) -> Callable[[FloatArray], FloatArray]:
    """The flow [kg/s] by what drives it [Pa], solved for the speed of either law: it is the slower of the two."""
    found = table(rack.fluid)
    density, viscosity = (np.interp(temperature_c, TABLE_C, found[name]) for name in ("density", "viscosity"))
    kg_a_metre = density * np.pi / 4 * rack.bore_m**2
    laminar = rack.bore_m**2 / (32 * viscosity * rack.length_m)
    turbulent = 2 * rack.bore_m**1.25 / (0.316 * rack.length_m * density**0.75 * viscosity**0.25)

    def flow(pressure_pa: FloatArray) -> FloatArray:
        size = np.abs(pressure_pa)
        speed = np.minimum(size * laminar, (size * turbulent) ** (4 / 7))
        return np.asarray(np.sign(pressure_pa) * speed * kg_a_metre)

    return flow


def follow(
    rack: PlainRack,
    *,
    air_c: FloatArray,
    sun_deg: FloatArray,
    beam_w: FloatArray,
    sky_w: FloatArray,
    loss_w_k: FloatArray,
    minutes: range,
) -> FloatArray:
    """Rotation [°] (minutes, columns) at the beginning of each minute; what drives it is (minutes of the day, columns).

    It begins near rest in the west, as warm as the air, and comes to rest there by itself.
    """
    found = table(rack.fluid)
    start = air_c[minutes[0]]
    columns = len(start)
    wall, liquid = np.stack([start, start]), np.stack([start, start])
    west = np.full(columns, rack.liquid_kg)
    theta = np.full(columns, np.radians(rack.begin_deg))
    capacity = float(np.interp(20.0, TABLE_C, found["capacity"]))
    stop, dt = np.radians(rack.stop_deg), rack.seconds
    across = G * np.cos(np.radians(rack.tilt_deg))
    turns, flow_at = np.empty((len(minutes), columns)), flow_by_pressure(rack, start)
    for row, minute in enumerate(minutes):
        turns[row] = np.degrees(theta)
        density = np.interp(air_c[minute], TABLE_C, found["density"])
        lift = density * across * 2 * rack.lever_m
        for _ in range(round(60 / dt)):
            off = (sun_deg[minute] - np.degrees(theta) + 180) % 360 - 180
            lean = np.clip(off / rack.plate_deg, -1, 1)
            lean = lean * (1 - (1 - rack.behind) * np.clip((np.abs(off) - 90) / 45, 0, 1))
            lit = np.array([0.5 - lean / 2, 0.5 + lean / 2])
            pressure = np.interp(wall, TABLE_C, found["pressure"])
            flow = flow_at(pressure[0] - pressure[1] - lift * np.sin(theta))
            moved = np.minimum(np.maximum(flow * dt, west - rack.liquid_kg), west)  # west to east
            masses = rack.residual_kg + np.array([west, rack.liquid_kg - west])
            passed = masses * capacity / rack.mixing_s * (wall - liquid)
            heat = beam_w[minute] * lit + sky_w[minute] - loss_w_k[minute] * (wall - air_c[minute]) - passed
            per_kg = np.interp(wall, TABLE_C, found["per_kg"])
            wall = wall + (heat * dt - per_kg * np.array([moved, -moved])) / rack.shell_j_k
            liquid = liquid + dt * (passed / (masses * capacity))
            came = np.array([np.maximum(-moved, 0), np.maximum(moved, 0)])
            west = west - moved
            masses = rack.residual_kg + np.array([west, rack.liquid_kg - west])
            liquid = liquid + came / masses * (liquid[::-1] - liquid)
            east = rack.liquid_kg - west
            moment = across * (west - east) * rack.lever_m * np.cos(theta)  # canisters: n = 0, u = ± lever
            moment = moment - across * rack.mass_kg * rack.balance_m * np.sin(theta)  # the mass: u = 0, n = −balance
            moment = moment + rack.wind_nm * np.sin(2 * theta)
            moment = np.sign(moment) * np.maximum(np.abs(moment) - rack.friction_nm, 0)
            theta = np.clip(theta + dt * moment / rack.damper_nms, -stop, stop)
    return turns
