"""The single-diode curve of a module from its label: volts, amperes and the change of its power with warmth.

Isc, Voc, Vmp and Imp leave one of the five parameters free, the slope a: a straighter or a rounder knee. The change of
power with temperature decides it, since a rounder knee loses more when it is warm. So the label and this coefficient
both hold; Voc's own coefficient gives way by about a tenth, as it does in the model of the California Energy Commission
(Dobos, J. Sol. Energy Eng. 134, 2012, from memory), with which tests/published/test_module_library.py compares.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from math import exp, expm1, log1p
from typing import NamedTuple

import numpy as np
from scipy.optimize import brentq

from trackersim.errors import InputError
from trackersim.job.array import Array
from trackersim.power.diode import Diode

# The coefficient is the mean over these cells at 1000 W/m², as the Commission's library takes it.
_COLD_C, _LABEL_C, _WARM_C = -10.0, 25.0, 50.0
_FULL_SUN_W_M2 = 1000.0
# Slopes tried, in Voc; silicon of ideality 1 and 0.63 V per cell lies at 0.041.
_LEAST_SLOPE, _MOST_SLOPE = 0.015, 0.12
_HALVINGS = 18
_LEAST_CONDUCTANCE = 1e-7  # in Isc/Voc; no module insulates better, and a division by zero is spared
# A label is doubtful if its curve needs another Vmp than it says by more, or misses its coefficient by more. Of 250
# labels of the Commission's library one moves by more (tests/published/test_module_library.py).
_DOUBTFUL_VMP = 0.025
_DOUBTFUL_PER_K = 0.0003


class _Label(NamedTuple):
    """Volts and amperes at 1000 W/m² and 25 °C, and Isc's change [A/K]."""

    vmp_v: float
    imp_a: float
    voc_v: float
    isc_a: float
    isc_a_per_k: float


def fit_label(array: Array) -> Diode:
    """Single-diode parameters of one new module at reference conditions, from its label.

    Where no curve passes through all four figures and the coefficient, Isc, Voc, the power and the coefficient hold and
    Vmp gives way against Imp; where the coefficient is out of reach too, the nearest one is taken. `relaxed` says that
    this was more than labels are rounded by.

    Parameters
    ----------
    array : Array
        Its label at 1000 W/m² and 25 °C is read: vmp, imp, voc, isc, the changes of Isc and power with temperature.

    Returns
    -------
    Diode
        The diode of one module as new.

    Raises
    ------
    InputError
        If no single-diode curve has the label's Isc, Voc and power.
    """
    label = _Label(array.vmp_v, array.imp_a, array.voc_v, array.isc_a, array.isc_per_k * array.isc_a)
    found = _fitted(label, array.power_change_per_k)
    if found is None:
        raise InputError.of(
            "array.vmp",
            array.vmp_v,
            "and its fellows on the label fit no single-diode curve.",
            "Read vmp, imp, voc and isc from the label again; the fill factor is unusual.",
        )
    return found


@lru_cache(maxsize=64)  # racks, trees and days change from run to run; labels seldom
def _fitted(label: _Label, power_per_k: float) -> Diode | None:
    """The diode whose power changes by `power_per_k`, or the nearest to it.

    The coefficient falls as the slope rises, until the knee is too round for the label's power. That end is no smooth
    root, so the slope is found by halving.
    """
    low, high = _LEAST_SLOPE * label.voc_v, _MOST_SLOPE * label.voc_v
    nearest = _diode(label, low)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        diode = _diode(label, middle)
        if diode is None or _power_per_k(diode) < power_per_k:
            high = middle
        else:
            low, nearest = middle, diode
    if nearest is None:
        return None
    moved = abs(_best_at_label(nearest)[1] / label.vmp_v - 1)
    missed = abs(_power_per_k(nearest) - power_per_k)
    return replace(nearest, relaxed=moved > _DOUBTFUL_VMP or missed > _DOUBTFUL_PER_K)


def _diode(label: _Label, slope_v: float) -> Diode | None:
    """The curve of this slope through Isc and Voc with the label's power, and with its Vmp if resistances allow it.

    Resistances below zero do not: then the one is zero and the other makes the power. None if even without resistances
    the power is less.
    """
    most_ohm = (label.voc_v - label.vmp_v) / label.imp_a * (1 - 1e-9)
    least_s = _LEAST_CONDUCTANCE * label.isc_a / label.voc_v

    def off_top(series_ohm: float) -> float:
        return _off_top(label, slope_v, series_ohm)

    series_ohm, shunt_s = 0.0, -1.0
    if off_top(0.0) * off_top(most_ohm) < 0:
        series_ohm = brentq(off_top, 0.0, most_ohm, xtol=1e-12 * most_ohm)
        shunt_s = _through(label, slope_v, series_ohm)[1]
        if shunt_s >= least_s:
            return _closed(label, slope_v, series_ohm, shunt_s)

    def surplus(series_ohm: float, shunt_s: float) -> float:
        return _best_at_label(_closed(label, slope_v, series_ohm, shunt_s))[0] - label.vmp_v * label.imp_a

    if surplus(0.0, least_s) < 0:
        return None
    if series_ohm > 0:
        series_ohm = brentq(surplus, 0.0, 0.9 * label.voc_v / label.isc_a, args=(least_s,), xtol=1e-9)
        return _closed(label, slope_v, series_ohm, least_s)
    most_s = 0.5 * label.isc_a / label.voc_v
    if surplus(0.0, most_s) > 0:
        return None
    shunt_s = brentq(lambda shunt_s: surplus(0.0, shunt_s), least_s, most_s, xtol=1e-6 * least_s)
    return _closed(label, slope_v, 0.0, shunt_s)


def _through(label: _Label, slope_v: float, series_ohm: float) -> tuple[float, float]:
    """Current of the diode at Voc [A] and conductance of the shunt [S] of the curve through Isc, Voc and (Vmp, Imp)."""
    voc_v, inside_v = label.voc_v, label.vmp_v + label.imp_a * series_ohm  # voltage of the junction, behind Rs
    short_v = label.isc_a * series_ohm
    short, best = 1 - exp((short_v - voc_v) / slope_v), 1 - exp((inside_v - voc_v) / slope_v)
    determinant = short * (voc_v - inside_v) - best * (voc_v - short_v)
    diode_a = (label.isc_a * (voc_v - inside_v) - label.imp_a * (voc_v - short_v)) / determinant
    return diode_a, (short * label.imp_a - best * label.isc_a) / determinant


def _off_top(label: _Label, slope_v: float, series_ohm: float) -> float:
    """Zero if (Vmp, Imp) is the best point of the curve through it: there dI/dV = −Imp/Vmp."""
    diode_a, shunt_s = _through(label, slope_v, series_ohm)
    inside_v = label.vmp_v + label.imp_a * series_ohm
    conductance_s = diode_a / slope_v * exp((inside_v - label.voc_v) / slope_v) + shunt_s
    wanted_s = label.imp_a / label.vmp_v
    return conductance_s * (1 - series_ohm * wanted_s) - wanted_s


def _closed(label: _Label, slope_v: float, series_ohm: float, shunt_s: float) -> Diode:
    """The curve through Isc and Voc with this slope and these resistances."""
    short_v = label.isc_a * series_ohm
    diode_a = (label.isc_a - shunt_s * (label.voc_v - short_v)) / (1 - exp((short_v - label.voc_v) / slope_v))
    dark_a = diode_a * exp(-label.voc_v / slope_v)
    return Diode(
        isc_a_per_k=label.isc_a_per_k,
        light_a=label.isc_a + dark_a * (exp(short_v / slope_v) - 1) + shunt_s * short_v,
        dark_a=dark_a,
        slope_v=slope_v,
        series_ohm=series_ohm,
        shunt_ohm=1 / shunt_s,
        relaxed=False,
    )


def _best_at_label(diode: Diode) -> tuple[float, float]:
    """Power [W] and voltage [V] of the best point at 1000 W/m² and 25 °C, where the parameters stand."""
    return _best_point(diode.light_a, diode.dark_a, diode.series_ohm, diode.shunt_ohm, diode.slope_v)


def _best_point(
    light_a: float, dark_a: float, series_ohm: float, shunt_ohm: float, slope_v: float
) -> tuple[float, float]:
    """Power [W] and voltage [V] of the best point, between Isc and Voc along the junction's voltage.

    One curve at a time in plain floats: a fit asks for fifty of them, and arrays of one take thirty times as long.
    """

    def current_a(junction_v: float) -> float:
        return light_a - dark_a * expm1(junction_v / slope_v) - junction_v / shunt_ohm

    def power_change(junction_v: float) -> float:
        current = current_a(junction_v)
        change_a = -dark_a / slope_v * exp(junction_v / slope_v) - 1 / shunt_ohm
        return (1 - series_ohm * change_a) * current + (junction_v - series_ohm * current) * change_a

    # Where the junction alone takes all light, none is left for current: the best point lies below.
    junction_v = brentq(power_change, 0.0, slope_v * log1p(light_a / dark_a), xtol=1e-12, rtol=1e-14)
    current = current_a(junction_v)
    voltage_v = junction_v - series_ohm * current
    return voltage_v * current, voltage_v


def _power_per_k(diode: Diode) -> float:
    """Mean change of power over the cells' temperatures, of the power at 25 °C [1/K]."""
    cells = np.array([_COLD_C, _LABEL_C, _WARM_C])
    curves = zip(*(values.tolist() for values in diode.at(np.full(3, _FULL_SUN_W_M2), cells)), strict=True)
    cold_w, label_w, warm_w = (_best_point(*curve)[0] for curve in curves)
    return (warm_w - cold_w) / (_WARM_C - _COLD_C) / label_w
