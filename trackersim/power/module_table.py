"""Best power of one module and its voltage, tabulated over light and cell temperature, at the end of its wire."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from pvlib import pvsystem

from trackersim.arrays import FloatArray, IndexArray, place_on_grid, within_cell
from trackersim.power.diode import Diode

_LIGHT_STEP_W_M2, _LIGHT_TOP_W_M2 = 10.0, 1600.0
_HALVINGS = 48  # of some 20 V
_CELL_LOW_C, _CELL_STEP_C, _CELL_HIGH_C = -50.0, 5.0, 120.0
_LIGHTS, _CELLS = round(_LIGHT_TOP_W_M2 / _LIGHT_STEP_W_M2), round((_CELL_HIGH_C - _CELL_LOW_C) / _CELL_STEP_C)
# Where the tables hold 1000 W/m² and cells of 50 °C.
FULL_SUN_PLACE = (100, 20)


class FarEnd(NamedTuple):
    """Where modules are looked at from: behind so much wire [Ω], held between these voltages, and giving up to this
    current even where the voltage must rise above them for that.
    """

    wire_ohm: float = 0.0
    low_v: float = 0.0
    high_v: float = math.inf
    max_a: float = math.inf

    @property
    def limits(self) -> tuple[float, float, float]:
        """Voltages and current, whatever the wire."""
        return self[1:]


AT_THE_TERMINALS = FarEnd()


class TablePlace(NamedTuple):
    """Where light and cell temperature lie in the tables, which is alike in all of them; arrays of one shape.

    `point` is the one at or before the place, `to_brighter` and `to_warmer` the shares of the way to the next.
    """

    absorbed_w_m2: FloatArray
    point: IndexArray
    to_brighter: FloatArray
    to_warmer: FloatArray


@dataclass(frozen=True, kw_only=True)
class ModuleTable:
    """Best power per light, and its voltage, of one module over light × cell temperature."""

    power_per_light: FloatArray
    vmp_v: FloatArray

    def power_w(self, at: TablePlace) -> FloatArray:
        """Best power of the module [W], of the shape of the place."""
        return within_cell(self.power_per_light, *at[1:]) * at.absorbed_w_m2

    def voltage_v(self, at: TablePlace) -> FloatArray:
        """Its voltage there [V]."""
        return within_cell(self.vmp_v, *at[1:])


def module_table(diode: Diode, far_end: FarEnd = AT_THE_TERMINALS) -> ModuleTable:
    """Tabulate one module: light 0…1600 W/m² by 10, cells −50…120 °C by 5.

    Power and voltage are those at the far end of its share of the wire, at the module's best point as seen from there.
    Held at its own best point, a module on a thin wire would deliver less in more sun. A module that cannot reach the
    low voltage there gives 0.

    Parameters
    ----------
    diode : Diode
        Diode of one module.
    far_end : FarEnd
        Where the power is wanted; by default at the module's own terminals, without limits.

    Returns
    -------
    ModuleTable
        Best power per light and its voltage, over light and cell temperature.
    """
    return _tabulated(diode, far_end)


@lru_cache(maxsize=64)  # racks, trees and days change from run to run; modules seldom, and their table costs more
def _tabulated(diode: Diode, far_end: FarEnd) -> ModuleTable:
    light = np.arange(0.0, _LIGHT_TOP_W_M2 + 1, _LIGHT_STEP_W_M2)
    light[0] = 0.1  # the limit of power per light at no light
    cell = np.arange(_CELL_LOW_C, _CELL_HIGH_C + 1, _CELL_STEP_C)
    grid_light, grid_cell = (grid.ravel() for grid in np.meshgrid(light, cell, indexing="ij"))
    curve = diode.at(grid_light, grid_cell, wire_ohm=far_end.wire_ohm)
    power, voltage = _best_points(curve)
    power, voltage = _within(far_end, curve, power, voltage)
    shape = (len(light), len(cell))
    table = ModuleTable(power_per_light=power.reshape(shape) / light[:, None], vmp_v=voltage.reshape(shape))
    for shared in (table.power_per_light, table.vmp_v):
        shared.setflags(write=False)
    return table


def _best_points(curve: tuple[FloatArray, ...]) -> tuple[FloatArray, FloatArray]:
    """Best power and its voltage of single-diode curves, each part (n,).

    Along the diode's own voltage current and terminal voltage are explicit, and power rises to its best and falls from
    there on, whatever the resistance in series: halving finds it, where Newton's rule may not converge behind a long
    wire. (pvlib's search gives the same power to 1e-12 W in six times the time.)
    """
    light_a, dark_a, series_ohm, shunt_ohm, slope_v = curve
    low, high = np.zeros_like(light_a), slope_v * np.log1p(light_a / dark_a)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        forward = dark_a * np.exp(middle / slope_v)
        current = light_a + dark_a - forward - middle / shunt_ohm
        falls = forward / slope_v + 1 / shunt_ohm
        rising = current * (1 + falls * series_ohm) > (middle - current * series_ohm) * falls
        low, high = np.where(rising, middle, low), np.where(rising, high, middle)
    voltage = middle - current * series_ohm
    return np.maximum(voltage * current, 0.0), np.maximum(voltage, 0.0)


def _within(
    far_end: FarEnd, curve: tuple[FloatArray, ...], power_w: FloatArray, voltage_v: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Best power and its voltage within the limits: power falls to either side of the best point.

    A controller takes no more than its largest current by letting the voltage rise, as it does with power that it does
    not want (Sandia National Laboratories, PV Performance Modeling Collaborative, "Inverter Saturation or Clipping"):
    above the window too, in which it looks for the best point.
    """
    if far_end.limits == AT_THE_TERMINALS.limits:
        return power_w, voltage_v
    power, voltage = power_w.copy(), np.clip(voltage_v, far_end.low_v, far_end.high_v)
    moved = np.flatnonzero(voltage != voltage_v)
    held = pvsystem.i_from_v(voltage[moved], *(part[moved] for part in curve))
    power[moved] = np.maximum(np.nan_to_num(held), 0.0) * voltage[moved]
    current = np.divide(power, voltage, out=np.zeros_like(power), where=voltage > 0)
    over = np.flatnonzero(current > far_end.max_a)
    voltage[over] = pvsystem.v_from_i(far_end.max_a, *(part[over] for part in curve))
    power[over] = far_end.max_a * voltage[over]
    voltage[power <= 0] = 0.0
    return power, voltage


def table_place(*, absorbed_w_m2: FloatArray, cell_c: FloatArray) -> TablePlace:
    """Where light and cell temperature lie in the tables; beyond their ends the end holds.

    Parameters
    ----------
    absorbed_w_m2 : FloatArray
        Any shape. Light that passes the glass [W/m²].
    cell_c : FloatArray
        Of that shape. Temperature of the cells [°C].

    Returns
    -------
    TablePlace
        Of that shape; of use for every module.
    """
    light = np.minimum(np.maximum(absorbed_w_m2 / _LIGHT_STEP_W_M2, 0.0), _LIGHTS)
    warmth = np.minimum(np.maximum((cell_c - _CELL_LOW_C) / _CELL_STEP_C, 0.0), _CELLS)
    row, to_brighter = place_on_grid(light, steps=_LIGHTS)
    column, to_warmer = place_on_grid(warmth, steps=_CELLS)
    return TablePlace(absorbed_w_m2, row * (_CELLS + 1) + column, to_brighter, to_warmer)


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
    return table.power_w(table_place(absorbed_w_m2=absorbed_w_m2, cell_c=cell_c))


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
    at = table_place(absorbed_w_m2=absorbed_w_m2, cell_c=cell_c)
    return table.power_w(at), table.voltage_v(at)
