"""Best power of one module and its voltage, tabulated over light and cell temperature, at the end of its wire."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from pvlib import pvsystem
from scipy.ndimage import map_coordinates

from trackersim.arrays import FloatArray
from trackersim.power.diode import Diode

_LIGHT_STEP_W_M2, _LIGHT_TOP_W_M2 = 10.0, 1600.0
_CELL_LOW_C, _CELL_STEP_C, _CELL_HIGH_C = -50.0, 5.0, 120.0
# Where the tables hold 1000 W/m² and cells of 50 °C.
FULL_SUN_PLACE = (100, 20)


@dataclass(frozen=True, kw_only=True)
class Limits:
    """What lies at the far end of the wire: it works one module between these voltages and up to this current."""

    low_v: float = 0.0
    high_v: float = np.inf
    max_a: float = np.inf


UNLIMITED = Limits()


@dataclass(frozen=True, kw_only=True)
class ModuleTable:
    """Best power per light, and its voltage, of one module over light × cell temperature."""

    power_per_light: FloatArray
    vmp_v: FloatArray


def module_table(diode: Diode, *, wire_ohm: float = 0.0, limits: Limits = UNLIMITED) -> ModuleTable:
    """Tabulate one module: light 0…1600 W/m² by 10, cells −50…120 °C by 5.

    `wire_ohm` is resistance in series with the module, its share of a wire: power and voltage are then those at the
    far end, at the module's best point as seen from there. Held at its own best point, a module on a thin wire would
    deliver less in more sun. `limits` hold at the far end too; a module that cannot reach the low voltage gives 0.

    Parameters
    ----------
    diode : Diode
        Diode of one module.
    wire_ohm : float
        Resistance in series with the module [Ω].
    limits : Limits
        Voltages and current allowed at the far end of the wire.

    Returns
    -------
    ModuleTable
        Best power per light and its voltage, over light and cell temperature.
    """
    return _tabulated(diode, wire_ohm, limits)


@lru_cache(maxsize=64)  # racks, trees and days change from run to run; modules seldom, and their table costs more
def _tabulated(diode: Diode, wire_ohm: float, limits: Limits) -> ModuleTable:
    light = np.arange(0.0, _LIGHT_TOP_W_M2 + 1, _LIGHT_STEP_W_M2)
    light[0] = 0.1  # the limit of power per light at no light
    cell = np.arange(_CELL_LOW_C, _CELL_HIGH_C + 1, _CELL_STEP_C)
    grid_light, grid_cell = (grid.ravel() for grid in np.meshgrid(light, cell, indexing="ij"))
    curve = diode.at(grid_light, grid_cell, wire_ohm=wire_ohm)
    # Newton is quick, but loses its way where the wire and not the module sets the current.
    with np.errstate(all="ignore"):  # overflow on the way to a finite answer
        point = pvsystem.max_power_point(*curve, method="newton") if wire_ohm == 0 else pvsystem.singlediode(*curve)
    power, voltage = (np.maximum(np.nan_to_num(np.asarray(point[key])), 0.0) for key in ("p_mp", "v_mp"))
    power, voltage = _within(limits, curve, power, voltage)
    shape = (len(light), len(cell))
    table = ModuleTable(power_per_light=power.reshape(shape) / light[:, None], vmp_v=voltage.reshape(shape))
    for shared in (table.power_per_light, table.vmp_v):
        shared.setflags(write=False)
    return table


def _within(
    limits: Limits, curve: tuple[FloatArray, ...], power_w: FloatArray, voltage_v: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Best power and its voltage within the limits: power falls to either side of the best point."""
    if limits == UNLIMITED:
        return power_w, voltage_v
    low = np.full_like(voltage_v, limits.low_v)
    current = np.divide(power_w, voltage_v, out=np.zeros_like(power_w), where=voltage_v > 0)
    over = current > limits.max_a
    if over.any():
        low[over] = np.maximum(low[over], pvsystem.v_from_i(limits.max_a, *(part[over] for part in curve)))
    moved = np.flatnonzero((voltage_v < low) | (voltage_v > limits.high_v))
    power, voltage = power_w.copy(), voltage_v.copy()
    voltage[moved] = np.where(low[moved] > limits.high_v, 0.0, np.clip(voltage_v[moved], low[moved], limits.high_v))
    held = pvsystem.i_from_v(voltage[moved], *(part[moved] for part in curve))
    power[moved] = np.maximum(np.nan_to_num(held), 0.0) * voltage[moved]
    voltage[power <= 0] = 0.0
    return power, voltage


def best_power_w(table: ModuleTable, *, absorbed_w_m2: FloatArray, cell_c: FloatArray) -> FloatArray:
    """Best power [W] of one module (n,); beyond the table's ends the end value holds.

    Parameters
    ----------
    table : ModuleTable
        What `module_table` made for the module.
    absorbed_w_m2 : FloatArray
        Shape (n,). Light that passes the glass [W/m²].
    cell_c : FloatArray
        Shape (n,). Temperature of the cells [°C].

    Returns
    -------
    FloatArray
        Shape (n,) [W].
    """
    return _looked_up(table.power_per_light, absorbed_w_m2, cell_c) * absorbed_w_m2


def best_point(table: ModuleTable, *, absorbed_w_m2: FloatArray, cell_c: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Best power [W] and its voltage [V] of one module (n,).

    Parameters
    ----------
    table : ModuleTable
        What `module_table` made for the module.
    absorbed_w_m2 : FloatArray
        Shape (n,). Light that passes the glass [W/m²].
    cell_c : FloatArray
        Shape (n,). Temperature of the cells [°C].

    Returns
    -------
    tuple[FloatArray, FloatArray]
        Power (n,) [W] and voltage (n,) [V].
    """
    power = best_power_w(table, absorbed_w_m2=absorbed_w_m2, cell_c=cell_c)
    return power, _looked_up(table.vmp_v, absorbed_w_m2, cell_c)


def _looked_up(values: FloatArray, absorbed_w_m2: FloatArray, cell_c: FloatArray) -> FloatArray:
    place = np.stack([absorbed_w_m2 / _LIGHT_STEP_W_M2, (cell_c - _CELL_LOW_C) / _CELL_STEP_C])
    return np.asarray(map_coordinates(values, place, order=1, mode="nearest"))
