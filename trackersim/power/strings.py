"""Unevenly lit strings in parallel: the whole current–voltage curve of each, and the best point of them together.

A string is a row of substrings, each the cells of one bypass diode. Sorted by light, the k brightest substrings carry
the current that the k-th can bear and the rest are bypassed: the curve has one step, and may have one peak of power,
for each light. Strings share one voltage; none takes current from another (blocking diodes, or a drop too small to
matter).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from trackersim.arrays import FloatArray, IndexArray, check_array
from trackersim.compiled import compiled, kept
from trackersim.power.diode import Diode
from trackersim.power.module_table import AT_THE_TERMINALS, FarEnd, ModuleTable, best_point

BYPASS_V = 0.6  # across a conducting diode (common practice, no source: 0.4 to 0.7 V)
_BLOCKED_V = 1e4  # a substring without a bypass diode holds back any voltage rather than pass more than its own current
# Where each step is sampled: as shares of the current at the step's own best point, and, for the corner at which the
# step begins and the flat top of it, as shares of the most that its substrings can pass.
_OF_BEST = (1.025, 1.0, 0.975, 0.93, 0.8, 0.6, 0.35, 0.12)
_OF_MOST = (1.0005, 0.997, 0.98)
_SAMPLES = len(_OF_BEST) + len(_OF_MOST)
# Lights closer than this share of the brightest count as one.
_ALIKE = 0.01
_MOST_LEVELS = 12
# The error that a step of Newton's rule leaves is at most half the square of the step: 5e-7 of the diode's own slope.
_NEWTON_STEPS, _CLOSE = 20, 1e-3
# What is this near a limit keeps it.
_SLACK = 1 + 1e-9


class BestPoint(NamedTuple):
    """Power [W] and voltage [V] at the far end of the wire, and current [A]; all (m,), zeros where none can be had."""

    power_w: FloatArray
    voltage_v: FloatArray
    current_a: FloatArray


def best_points(
    light_w_m2: FloatArray,
    cell_c: FloatArray,
    *,
    diode: Diode,
    table: ModuleTable,
    substrings_per_module: int,
    bypassed: bool = True,
    far_ends: Sequence[FarEnd] = (AT_THE_TERMINALS,),
) -> list[BestPoint]:
    """Best points of an array whose substrings absorb `light_w_m2`, as seen from some far ends.

    Each module is `substrings_per_module` equal substrings; `bypassed` is false for modules without diodes. A string of
    more than twelve lights is worked with twelve, evenly spaced.

    Parameters
    ----------
    light_w_m2 : FloatArray
        Shape (m, strings, substrings). Light that passes the glass of each substring [W/m²].
    cell_c : FloatArray
        Shape (m,). Temperature of the cells [°C].
    diode : Diode
        Diode of one module.
    table : ModuleTable
        The table of the same diode, at its own terminals.
    substrings_per_module : int
        Substrings in one module.
    bypassed : bool
        Whether modules have bypass diodes.
    far_ends : Sequence[FarEnd]
        Where the power is wanted; by default at the array's own terminals, without limits.

    Returns
    -------
    list[BestPoint]
        For each far end, of m minutes.

    Raises
    ------
    InputError
        For arrays of other shapes, or with what is no finite number.
    """
    check_array("light_w_m2", light_w_m2, ("m", "strings", "substrings"), least=0)
    check_array("cell_c", cell_c, light_w_m2.shape[:1])
    rows, strings, substrings = light_w_m2.shape
    ordered = -np.sort(-light_w_m2.reshape(rows * strings, substrings), axis=1)
    steps = np.zeros((len(ordered), 2, _MOST_LEVELS))
    first = np.zeros(len(ordered) + 1, dtype=np.intp)
    _group(ordered, steps, first)
    at = np.arange(_MOST_LEVELS) < np.diff(first)[:, None]
    light, count = steps[:, 0][at], steps[:, 1][at]
    cell = np.repeat(np.repeat(cell_c, strings), np.diff(first))
    power, at_best_v = best_point(table, absorbed_w_m2=light, cell_c=cell)
    best_a = np.divide(power, at_best_v, out=np.zeros_like(power), where=at_best_v > 0)
    found = np.zeros((len(far_ends), 3, rows))
    _find_best(
        np.stack([count, best_a, *diode.at(light, cell)]), first, strings, float(substrings_per_module),
        BYPASS_V if bypassed else _BLOCKED_V, np.array(far_ends, dtype=float), found,
    )  # fmt: skip
    return [BestPoint(*each) for each in found]


@kept
def _group(ordered: FloatArray, steps: FloatArray, first: IndexArray) -> None:
    """Group each row's lights, brightest first, to steps: the mean light of each, and how many substrings have it.
    `first` becomes the place of each row's first step among those of all rows.
    """
    for row in range(len(ordered)):
        light = ordered[row]
        number = 1
        for n in range(1, len(light)):
            number += light[n - 1] - light[n] > _ALIKE * light[0]
        evenly = number > _MOST_LEVELS
        below = light[0] - light[-1]
        step, place = 0, 0
        for n in range(len(light)):
            if n > 0 and evenly:
                before, place = place, min(int(_MOST_LEVELS * (light[0] - light[n]) / below), _MOST_LEVELS - 1)
                step += place > before  # a place that no light has makes no step
            elif n > 0:
                step += light[n - 1] - light[n] > _ALIKE * light[0]
            steps[row, 0, step] += light[n]
            steps[row, 1, step] += 1
        for n in range(step + 1):
            steps[row, 0, n] /= steps[row, 1, n]
        first[row + 1] = first[row] + step + 1


# Rows of what is known of a step: substrings that have its light, current at its best point, and the diode in it.
_COUNT, _BEST_A, _LIGHT_A, _DARK_A, _SERIES_OHM, _SHUNT_OHM, _SLOPE_V = range(7)


@kept
def _find_best(
    steps: FloatArray,
    first: IndexArray,
    strings: int,
    substrings_per_module: float,
    held_back_v: float,
    far_ends: FloatArray,
    found: FloatArray,
) -> None:
    """Write power, voltage and current (far ends, 3, m) of arrays with these steps, so many strings to each."""
    most = _MOST_LEVELS * _SAMPLES + 1
    volts, amperes, points = np.empty((strings, most)), np.empty((strings, most)), np.empty(strings, dtype=np.intp)
    array_v, array_a = np.empty(strings * most), np.empty(strings * most)
    for m in range(found.shape[2]):
        for string in range(strings):
            begins, ends = first[m * strings + string], first[m * strings + string + 1]
            count = points[string] = _sample(steps, begins, ends, amperes[string])
            volts[string, :count] = 0.0
            for step in range(begins, ends):
                _add_v(steps[:, step], amperes[string, :count], substrings_per_module, held_back_v, volts[string])
            volts[string, :count] = np.maximum(volts[string, :count], 0.0)
        count = _in_parallel(volts, amperes, points, array_v, array_a)
        for n in range(len(far_ends)):
            end = FarEnd(far_ends[n, 0], far_ends[n, 1], far_ends[n, 2], far_ends[n, 3])
            best_w, best_v, best_a = _best_on_curve(array_v[:count], array_a[:count], end)
            found[n, 0, m] = best_w
            if best_w > 0:
                found[n, 1, m], found[n, 2, m] = best_v, best_a


@compiled
def _sample(steps: FloatArray, begins: int, ends: int, amperes: FloatArray) -> int:
    """Write the currents at which a string of these steps is looked at, falling to none; how many they are."""
    count = 0
    for step in range(begins, ends):
        most_a = steps[_LIGHT_A, step] / (1 + steps[_SERIES_OHM, step] / steps[_SHUNT_OHM, step])
        for n in range(_SAMPLES):
            in_most = n - len(_OF_BEST)
            current = most_a * _OF_MOST[in_most] if in_most >= 0 else steps[_BEST_A, step] * _OF_BEST[n]
            place = count
            while place > 0 and amperes[place - 1] < current:
                amperes[place] = amperes[place - 1]
                place -= 1
            amperes[place] = current
            count += 1
    amperes[count] = 0.0
    return count + 1


@compiled
def _add_v(
    step: FloatArray, amperes: FloatArray, substrings_per_module: float, held_back_v: float, volts: FloatArray
) -> None:
    """Add the voltage of a step's substrings at falling currents; they hold back so much beyond their own current.

    With u the diode's own voltage over its slope a: I_o e^u + u a/R_sh = I_L + I_o − I =: y, solved by Newton. The left
    side is convex and rising, so steps from any u above the root come down on it without overshooting. The root of
    the larger current before, or 0, lies below it; the diode's current there gives a beginning above.
    """
    count, light_a, dark_a, slope_v = step[_COUNT], step[_LIGHT_A], step[_DARK_A], step[_SLOPE_V]
    series_ohm, leak_a, log_dark = step[_SERIES_OHM], step[_SLOPE_V] / step[_SHUNT_OHM], math.log(step[_DARK_A])
    root = 0.0
    for point in range(len(amperes)):
        own_v, rest_a = -math.inf, light_a + dark_a - amperes[point]
        if rest_a > dark_a:
            forward_a = rest_a - root * leak_a
            root = math.log(forward_a) - log_dark
            for _ in range(_NEWTON_STEPS):
                beyond = (root * leak_a + forward_a - rest_a) / (forward_a + leak_a)
                root -= beyond
                if beyond < _CLOSE:
                    break
                forward_a = dark_a * math.exp(root)
            own_v = (root * slope_v - amperes[point] * series_ohm) / substrings_per_module
        volts[point] += max(own_v, -held_back_v) * count


@compiled
def _in_parallel(
    volts: FloatArray, amperes: FloatArray, points: IndexArray, array_v: FloatArray, array_a: FloatArray
) -> int:
    """Write the curve of the strings at a common voltage, which rises through all at which one was sampled; its
    points. A string keeps its largest current below its first point, and gives none above its open circuit.
    """
    strings = len(points)
    at = np.zeros(strings, dtype=np.intp)  # the first point of each string that is not yet taken
    count = 0
    while True:
        lowest = math.inf
        for string in range(strings):
            if at[string] < points[string]:
                lowest = min(lowest, volts[string, at[string]])
        if lowest == math.inf:
            return count
        total_a = 0.0
        for string in range(strings):
            while at[string] < points[string] and volts[string, at[string]] <= lowest:
                at[string] += 1
            after = at[string]
            if after == 0:
                total_a += amperes[string, 0]
            elif after < points[string]:
                share = (lowest - volts[string, after - 1]) / (volts[string, after] - volts[string, after - 1])
                total_a += amperes[string, after - 1] + share * (amperes[string, after] - amperes[string, after - 1])
        array_v[count], array_a[count] = lowest, total_a
        count += 1


@compiled
def _best_on_curve(voltage_v: FloatArray, current_a: FloatArray, end: FarEnd) -> tuple[float, float, float]:
    """Best power of a curve at a far end, among its points and where it meets the limits; its voltage and current."""
    best_w = best_v = best_a = 0.0
    before_v = before_a = 0.0
    for point in range(len(voltage_v)):
        after_a = current_a[point]
        after_v = voltage_v[point] - end.wire_ohm * after_a
        for meets in range(4 if point > 0 else 1):
            volts, amperes = after_v, after_a
            if meets == 1 or meets == 2:
                volts = end.low_v if meets == 1 else end.high_v
                if not before_v < volts <= after_v:
                    continue
                amperes = before_a + (volts - before_v) / (after_v - before_v) * (after_a - before_a)
            elif meets == 3:
                amperes = end.max_a
                if not before_a > amperes >= after_a:
                    continue
                volts = before_v + (before_a - amperes) / (before_a - after_a) * (after_v - before_v)
            within = volts > 0 and end.low_v <= volts * _SLACK and (meets == 3 or volts <= end.high_v * _SLACK)
            if within and amperes <= end.max_a * _SLACK and volts * amperes > best_w:
                best_w, best_v, best_a = volts * amperes, volts, amperes
        before_v, before_a = after_v, after_a
    return best_w, best_v, best_a
