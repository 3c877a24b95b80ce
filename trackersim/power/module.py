"""From light on a module to its best power: Faiman temperature and a De Soto single-diode model from the label."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from pvlib import pvsystem
from pvlib.ivtools import sdm
from scipy import constants
from scipy.ndimage import map_coordinates

from trackersim.arrays import FloatArray
from trackersim.errors import InputError
from trackersim.job.array import Array

_LIGHT_STEP_W_M2, _LIGHT_TOP_W_M2 = 10.0, 1600.0
_CELL_LOW_C, _CELL_STEP_C, _CELL_HIGH_C = -50.0, 5.0, 120.0
# Where the tables hold 1000 W/m² and cells of 50 °C.
FULL_SUN_PLACE = (100, 20)
# How far a label that contradicts itself may give way: Vmp against Imp at the same power, then Voc's coefficient.
_VMP_RELAXED = (1.0, 1.01, 0.99, 1.02, 0.98, 1.04, 0.96)
_VOC_PER_K_RELAXED = (1.0, 0.95, 1.05, 0.9, 1.1, 0.8, 1.2, 0.7, 1.3)
# Silicon, as in De Soto et al., Solar Energy 80 (2006).
_BAND_GAP_EV, _BAND_GAP_PER_K = 1.121, -0.0002677
_REFERENCE_K = 298.15
_THERMAL_V = constants.k * _REFERENCE_K / constants.e
# Starting points for the fit, likeliest first: series and shunt resistance in units of Voc/Isc.
_GUESSES = ((0.03, 30.0), (0.06, 20.0), (0.01, 100.0), (0.1, 10.0), (0.002, 400.0))


@dataclass(frozen=True, kw_only=True)
class Diode:
    """The single-diode model of one module: fitted to its label, as new, or `degraded`.

    `isc_a_per_k` is the change of the photocurrent with temperature. `relaxed` is true if the label contradicts itself
    and the nearest possible curve stands in for it.
    """

    isc_a_per_k: float
    light_a: float
    dark_a: float
    slope_v: float
    series_ohm: float
    shunt_ohm: float
    relaxed: bool

    def degraded(self, power_share: float) -> Diode:
        """The same module when it gives `power_share` of its power: that share of every current at the same voltages.

        Age and mismatch are taken from the current alone, an assumption: I(V) scales if both current parameters are
        multiplied and both resistances divided by the share.
        """
        return replace(
            self,
            isc_a_per_k=self.isc_a_per_k * power_share,
            light_a=self.light_a * power_share,
            dark_a=self.dark_a * power_share,
            series_ohm=self.series_ohm / power_share,
            shunt_ohm=self.shunt_ohm / power_share,
        )

    def at(self, absorbed_w_m2: FloatArray, cell_c: FloatArray, *, wire_ohm: float = 0.0) -> tuple[FloatArray, ...]:
        """Photocurrent [A], dark current [A], series and shunt resistance [Ω] and slope a [V]; shapes broadcast.

        De Soto et al. (2006); `wire_ohm` is added to the series resistance.
        """
        light, cell = np.broadcast_arrays(absorbed_w_m2, cell_c)
        values = pvsystem.calcparams_desoto(
            light,
            cell,
            self.isc_a_per_k,
            self.slope_v,
            self.light_a,
            self.dark_a,
            self.shunt_ohm,
            self.series_ohm + wire_ohm,
            EgRef=_BAND_GAP_EV,
            dEgdT=_BAND_GAP_PER_K,
        )
        return tuple(np.broadcast_to(np.asarray(value, dtype=float), light.shape) for value in values)


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


def cell_temperature_c(
    *, plane_w_m2: FloatArray, air_c: FloatArray, wind_m_s: FloatArray, faiman_u0: float, faiman_u1: float
) -> FloatArray:
    """Faiman's model (Prog. Photovolt. 16, 2008): air + light / (u0 + u1 · wind). All (n,).

    Parameters
    ----------
    plane_w_m2 : FloatArray
        Shape (n,). Light on the module plane [W/m²].
    air_c : FloatArray
        Shape (n,). Temperature of the air [°C].
    wind_m_s : FloatArray
        Shape (n,). Wind speed [m/s].
    faiman_u0 : float
        Heat loss factor [W/(m²·K)].
    faiman_u1 : float
        Heat loss factor with wind [W/(m²·K) per m/s].

    Returns
    -------
    FloatArray
        Shape (n,) [°C].
    """
    return air_c + plane_w_m2 / (faiman_u0 + faiman_u1 * wind_m_s)


def fit_label(array: Array) -> Diode:
    """Single-diode parameters of one new module at reference conditions (De Soto et al. 2006), from its label.

    Faded or rounded labels may contradict themselves. If no curve passes through all of a label's figures, Voc's
    temperature coefficient gives way in steps, up to 30 %, and after it Vmp against Imp, up to 4 % at the same power.
    Raises `InputError` when that does not help either.

    Parameters
    ----------
    array : Array
        Its label at 1000 W/m² and 25 °C is read: vmp, imp, voc, isc, their changes with temperature, cells.

    Returns
    -------
    Diode
        The diode of one module as new.

    Raises
    ------
    InputError
        If no curve passes near the label even with its figures relaxed.
    """
    for shift in _VMP_RELAXED:
        for factor in _VOC_PER_K_RELAXED:
            for guess in _GUESSES:
                found = _fit(array, array.vmp_v * shift, array.imp_a / shift, array.voc_per_k * factor, guess)
                if found is not None:
                    return Diode(
                        isc_a_per_k=array.isc_per_k * array.isc_a,
                        light_a=found["I_L_ref"],
                        dark_a=found["I_o_ref"],
                        slope_v=found["a_ref"],
                        series_ohm=found["R_s"],
                        shunt_ohm=found["R_sh_ref"],
                        relaxed=(shift, factor) != (1.0, 1.0),
                    )
    raise InputError.of(
        "array.vmp",
        array.vmp_v,
        "and its fellows on the label fit no single-diode curve.",
        "Read vmp, imp, voc, isc and cells from the label again; the fill factor or voc_per_k is unusual.",
    )


def _fit(
    array: Array, vmp_v: float, imp_a: float, voc_per_k: float, guess: tuple[float, float]
) -> dict[str, float] | None:
    """One attempt, begun from the junction whose Voc changes so with temperature: V ≈ n (E_g + 3kT) − T · dV/dT."""
    unit = array.voc_v / array.isc_a
    volt_per_cell = array.voc_v / array.cells
    ideality = volt_per_cell * (1 - _REFERENCE_K * voc_per_k) / (_BAND_GAP_EV + 3 * _THERMAL_V)
    slope_v = ideality * array.cells * _THERMAL_V
    start = {
        "IL_0": array.isc_a,
        "Io_0": array.isc_a * float(np.exp(-array.voc_v / slope_v)),
        "a_0": slope_v,
        "Rs_0": guess[0] * unit,
        "Rsh_0": guess[1] * unit,
    }
    try:
        with np.errstate(all="ignore"):
            found, _ = sdm.fit_desoto(
                v_mp=vmp_v,
                i_mp=imp_a,
                v_oc=array.voc_v,
                i_sc=array.isc_a,
                alpha_sc=array.isc_per_k * array.isc_a,
                beta_voc=voc_per_k * array.voc_v,
                cells_in_series=array.cells,
                EgRef=_BAND_GAP_EV,
                dEgdT=_BAND_GAP_PER_K,
                init_guess=start,
            )
    except RuntimeError:  # pvlib's word for a root search that did not converge
        return None
    if not min(found[key] for key in ("I_L_ref", "I_o_ref", "R_s", "R_sh_ref", "a_ref")) > 0:
        return None
    return {key: float(value) for key, value in found.items()}


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
