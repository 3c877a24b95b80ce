"""Hand calculations of a pump site, in the units of the trade: nothing of the program is used.

Sources: f by Swamee & Jain, J. Hydraulics Div. ASCE 102 (1976) 657 (from memory; 1 % from Colebrook); roughness of
plastic 5e-6 ft (EPANET 2.2 User Manual, table of roughness coefficients), steel 0.00015 ft (printed in the Hydraulic
Institute's data book) and galvanized iron 0.0005 ft (from memory); copper's ohms per 1000 ft at 75 °C and
their change with temperature from NEC Chapter 9 Table 8; bores of Schedule 40 from ASTM D1785. Water of 54 °F: 1.34e-5
ft²/s (common tables, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

FT_M = 0.3048
GPM_M3_S = 6.30902e-5
CFS_PER_GPM = 0.0022280
GAL_M3 = 0.003785412
NU_FT2_S = 1.34e-5
SMOOTH_FT, STEEL_FT, GALVANIZED_FT = 5e-6, 1.5e-4, 5e-4
BORE_IN = {"1-1/4": 1.380, "1-1/2": 1.610, "2": 2.067, "3": 3.068}
OHM_PER_KFT = {"12 AWG": 1.98, "10 AWG": 1.24, "8 AWG": 0.778}


def velocity_ft_s(gpm: float, bore_in: float) -> float:
    """0.4085 q/d²."""
    return 0.4085 * gpm / bore_in**2


def darcy_ft(gpm: float, *, length_ft: float, bore_in: float, roughness_ft: float) -> float:
    """Friction by Darcy–Weisbach, f L/d v²/2g."""
    v, d = velocity_ft_s(gpm, bore_in), bore_in / 12
    reynolds = v * d / NU_FT2_S
    f = 0.25 / math.log10(roughness_ft / d / 3.7 + 5.74 / reynolds**0.9) ** 2
    return f * length_ft / d * v**2 / 64.35


def fittings_ft(gpm: float, *, bore_in: float, k: float) -> float:
    """K v²/2g."""
    return k * velocity_ft_s(gpm, bore_in) ** 2 / 64.35


def crossing(over: Callable[[float], float], low: float, high: float) -> float:
    """Where `over` falls through 0, by halving the span forty times."""
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if over(middle) > 0 else (low, middle)
    return (low + high) / 2


def read_off(x: float, xs: Sequence[float], ys: Sequence[float]) -> float:
    """A sheet read off by straight lines between its points."""
    return float(np.interp(x, xs, ys))


def duty_gpm(sheet_gpm: Sequence[float], sheet_ft: Sequence[float], asks_ft: Callable[[float], float]) -> float:
    """Flow at which the sheet's head at full speed is what the pipe asks."""
    return crossing(lambda q: read_off(q, sheet_gpm, sheet_ft) - asks_ft(q), 0.01, sheet_gpm[-1])


def wire_ohm(gauge: str, length_ft: float, *, conductor_c: float = 40.0) -> float:
    """One conductor, one way."""
    return OHM_PER_KFT[gauge] * length_ft / 1000 * (1 + 0.00323 * (conductor_c - 75))


def controller_w(
    motor_w: float, *, efficiency: float, own_w: float, motor_wire_ohm: float = 0.0, amps: float = 0.0
) -> float:
    """What a controller draws for a motor: the motor, 3 I²R of its wire, the controller's own loss and use."""
    return (motor_w + 3 * motor_wire_ohm * amps**2) / efficiency + own_w


def three_phase_a(watt: float, volts: float, power_factor: float) -> float:
    """Line current of a three-phase motor."""
    return watt / (math.sqrt(3) * volts * power_factor)


class Array:
    """An array by its label: new figures of one module, strings, and what age, mismatch and dirt leave of it."""

    vmp, imp, voc, isc, voc_per_k, power_per_k = 30.6, 8.17, 37.6, 8.72, -0.0032, -0.0043

    def __init__(self, in_series: int, in_parallel: int, *, years: float) -> None:
        self.in_series, self.in_parallel = in_series, in_parallel
        self.left = (1 - 0.006 * years) * (1 - 0.02)  # 0.6 % a year, 2 % mismatch
        self.clean = 0.97

    def best_w(self, light: np.ndarray | float, cell_c: np.ndarray | float) -> np.ndarray:
        """Label × light × clean glass × heat × age."""
        label = self.vmp * self.imp * self.in_series * self.in_parallel
        return np.asarray(
            label
            * np.asarray(light)
            / 1000
            * self.clean
            * (1 + self.power_per_k * (np.asarray(cell_c) - 25))
            * self.left
        )

    def best_v(self, cell_c: float) -> float:
        """Vmp, which falls by about as many volts per kelvin as Voc does (common practice, no source)."""
        return self.in_series * (self.vmp + self.voc * self.voc_per_k * (cell_c - 25))

    def open_v(self, light: float, cell_c: float) -> float:
        """Voc, and the diode's 1.2 kT/q a cell for less light than 1000 W/m² (60 cells)."""
        drop = 60 * 1.2 * 0.0257 * math.log(light * self.clean / 1000)
        return self.in_series * (self.voc * (1 + self.voc_per_k * (cell_c - 25)) + drop)

    def cold_open_v(self, cell_c: float) -> float:
        """As NEC 690.7(A) allows with the maker's coefficient."""
        return self.in_series * self.voc * (1 + self.voc_per_k * (cell_c - 25))

    def floating_v(self, watt: float, light: float, cell_c: float, *, loop_ohm: float = 0.0) -> float:
        """Voltage at the controller, above the best point, at which the array gives `watt` there.

        One diode without a shunt, V = Voc + n N kT/q ln(1 − I/Isc) − I Rs, with n = 1.1 (common for crystalline
        silicon, no source), Rs such that the label's best point lies on it; current scaled by light and age.
        """
        thermal_v = 1.1 * 60 * 0.02569
        series_ohm = (self.voc - self.vmp + thermal_v * math.log(1 - self.imp / self.isc)) / self.imp
        short_a = self.isc * light / 1000 * self.clean * self.left
        heat = (cell_c + 273.15) / 298.15

        def volts(amps: float) -> float:
            module_v = self.open_v(light, cell_c) / self.in_series + thermal_v * heat * math.log(1 - amps / short_a)
            return self.in_series * (module_v - amps * series_ohm) - loop_ohm * amps * self.in_parallel

        best_a = self.imp * short_a / self.isc
        return volts(crossing(lambda amps: watt - volts(amps) * amps * self.in_parallel, 0.0, best_a))


def faiman_cell_c(light: float, air_c: float, wind_m_s: float) -> float:
    """Air + G / (25 + 6.84 v), Faiman, Prog. Photovolt. 16 (2008), of wind told for 10 m and modules at 2.4 m.

    Between the two the wind follows the logarithm of the height over open grass, of roughness 0.03 m (from memory).
    """
    return air_c + light / (25 + 6.84 * wind_m_s * math.log(2.4 / 0.03) / math.log(10 / 0.03))
