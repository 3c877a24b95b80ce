"""Unevenly lit strings in parallel: the whole current–voltage curve of each, and the best point of them together.

A string is a row of substrings, each the cells of one bypass diode. Sorted by light, the k brightest substrings carry
the current that the k-th can bear and the rest are bypassed: the curve has one step, and may have one peak of power,
for each light. Strings share one voltage; none takes current from another (blocking diodes, or a drop too small to
matter).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from trackersim.arrays import BoolArray, FloatArray, IndexArray
from trackersim.power.diode import Diode
from trackersim.power.module_table import ModuleTable, best_point

BYPASS_V = 0.6  # across a conducting diode (common practice, no source: 0.4 to 0.7 V)
_BLOCKED_V = 1e4  # a substring without a bypass diode holds back any voltage rather than pass more than its own current
# Where each step is sampled: as shares of the current at the step's own best point, and, for the corner at which the
# step begins and the flat top of it, as shares of the most that its substrings can pass.
_OF_BEST = np.array([1.025, 1.0, 0.975, 0.93, 0.8, 0.6, 0.35, 0.12])
_OF_MOST = np.array([1.0005, 0.997, 0.98])
_SAMPLES = len(_OF_BEST) + len(_OF_MOST)
# Lights closer than this share of the brightest count as one.
_ALIKE = 0.01
_MOST_LEVELS = 12
_NEWTON_STEPS = 4
# Points times levels of the strings that are worked together.
_CHUNK = 100_000


class BestPoint(NamedTuple):
    """Power [W] and voltage [V] at the far end of the wire, and current [A]; all (m,), zeros where none can be had."""

    power_w: FloatArray
    voltage_v: FloatArray
    current_a: FloatArray


class ArrayCurve(NamedTuple):
    """Points of the array's curve at its terminals, voltage rising along the second axis: both (m, c)."""

    voltage_v: FloatArray
    current_a: FloatArray


def array_curve(
    light_w_m2: FloatArray,
    cell_c: FloatArray,
    *,
    diode: Diode,
    table: ModuleTable,
    substrings_per_module: int,
    bypassed: bool = True,
) -> ArrayCurve:
    """Curve of an array whose substrings absorb `light_w_m2` (m, strings, substrings) with cells at `cell_c` (m,).

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
        The table of the same diode, without wire or limits.
    substrings_per_module : int
        Substrings in one module.
    bypassed : bool
        Whether modules have bypass diodes.

    Returns
    -------
    ArrayCurve
        m curves at the array's terminals.
    """
    rows, strings, substrings = light_w_m2.shape
    light, count = _levels(light_w_m2.reshape(rows * strings, substrings))
    cell = np.repeat(cell_c, strings)
    points = light.shape[1] * _SAMPLES + 1
    current, voltage = np.zeros((rows * strings, points)), np.zeros((rows * strings, points))
    steps = (count > 0).sum(axis=1)
    for number in _found(steps):
        alike = np.flatnonzero(steps == number)
        few, used = light[alike, :number], number * _SAMPLES
        current[alike, :used] = _sampled_a(few, cell[alike], diode, table)
        # Strings last: numpy goes through one long row faster than through many short ones.
        by_point = np.ascontiguousarray(current[alike, : used + 1].T)
        many = count[alike, :number]
        voltage[alike, : used + 1] = _string_v(
            by_point, few.T, many.T, cell[alike], diode, substrings_per_module, bypassed
        ).T
        voltage[alike, used + 1 :] = voltage[alike, used, None]  # open circuit, over and over
    shape = (rows, strings, points)
    return _in_parallel(np.maximum(voltage, 0.0).reshape(shape), current.reshape(shape))


def _sampled_a(light: FloatArray, cell_c: FloatArray, diode: Diode, table: ModuleTable) -> FloatArray:
    """Currents (r, levels · samples) at which strings are looked at, falling."""
    cell = np.broadcast_to(cell_c[:, None], light.shape)
    power, at_best_v = best_point(table, absorbed_w_m2=light, cell_c=cell)
    best_a = np.divide(power, at_best_v, out=np.zeros_like(power), where=at_best_v > 0)
    light_a, _, series_ohm, shunt_ohm, _ = diode.at(light, cell)
    most_a = light_a / (1 + series_ohm / shunt_ohm)
    sampled = np.concatenate([best_a[:, :, None] * _OF_BEST, most_a[:, :, None] * _OF_MOST], axis=2)
    return np.asarray(-np.sort(-sampled.reshape(len(light), -1), axis=1))


def worked_together(light_w_m2: FloatArray) -> Iterator[IndexArray]:
    """Which rows `array_curve` is best asked for at once: with as many lights, since more of them make a longer curve,
    and so few that their curves stay in the processor's cache.

    Parameters
    ----------
    light_w_m2 : FloatArray
        Shape (m, strings, substrings), as `array_curve` takes it [W/m²].

    Returns
    -------
    Iterator[IndexArray]
        Places in m, each once.
    """
    rows, strings, substrings = light_w_m2.shape
    _, level = _ordered(light_w_m2.reshape(rows * strings, substrings))
    lights = level[:, -1].reshape(rows, strings).max(axis=1) + 1
    for number in _found(lights):
        alike = np.flatnonzero(lights == number)
        yield from np.array_split(alike, max(1, alike.size * strings * number**2 * _SAMPLES // _CHUNK))


def _found(counts: IndexArray) -> IndexArray:
    """The small numbers from 0 that are among the counts, rising; `np.unique` takes ten times as long."""
    return np.flatnonzero(np.bincount(counts))


def _ordered(light: FloatArray) -> tuple[FloatArray, IndexArray]:
    """Each row's lights, brightest first, and the level of each, counted from 0: both of its shape."""
    ordered = -np.sort(-light, axis=1)
    level = _steps((ordered[:, :-1] - ordered[:, 1:]) > _ALIKE * ordered[:, :1])
    many = np.flatnonzero(level[:, -1] >= _MOST_LEVELS)
    if many.size:
        below = ordered[many, :1] - ordered[many]
        evenly = np.minimum((_MOST_LEVELS * below / below[:, -1:]).astype(np.intp), _MOST_LEVELS - 1)
        # A level that no substring has is none.
        level[many] = _steps(evenly[:, 1:] > evenly[:, :-1])
    return ordered, level


def _steps(begins: BoolArray) -> IndexArray:
    """How many levels have begun up to each substring but the first, which begins the level 0."""
    level = np.zeros((len(begins), begins.shape[1] + 1), dtype=np.intp)
    np.cumsum(begins, axis=1, out=level[:, 1:])
    return level


def _levels(light: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The lights of each row's substrings, brightest first, with how many substrings have each: both (rows, levels).

    Rows with fewer lights than others end in lights that no substring has.
    """
    ordered, level = _ordered(light)
    levels = int(level.max(initial=0)) + 1
    count = np.stack([(level == number).sum(axis=1) for number in range(levels)], axis=1).astype(np.float64)
    total = np.stack([(ordered * (level == number)).sum(axis=1) for number in range(levels)], axis=1)
    return np.divide(total, count, out=np.zeros_like(total), where=count > 0), count


def _string_v(
    current_a: FloatArray,
    light: FloatArray,
    count: FloatArray,
    cell_c: FloatArray,
    diode: Diode,
    substrings_per_module: int,
    bypassed: bool,
) -> FloatArray:
    """Voltage (c, r) of strings that carry `current_a` (c, r), with lights and counts (levels, r): each substring's
    own, or its diode's drop.
    """
    at_most, total = -(BYPASS_V if bypassed else _BLOCKED_V), np.zeros_like(current_a)
    for level, substrings in zip(light, count, strict=True):
        own = _substring_v(current_a, *diode.at(level, cell_c)) / substrings_per_module
        total += np.maximum(own, at_most) * substrings
    return total


def _substring_v(
    current: FloatArray,
    light_a: FloatArray,
    dark_a: FloatArray,
    series_ohm: FloatArray,
    shunt_ohm: FloatArray,
    slope_v: FloatArray,
) -> FloatArray:
    """Voltage of a module at a current, its explicit inverse by Newton; very negative beyond its photocurrent.

    With u the diode's own voltage over its slope a: I_o e^u + u a/R_sh = I_L + I_o − I =: y. The left side is convex
    and rising, so steps from u = ln(y/I_o), which lies above the root, come down on it without overshooting.
    """
    rest = light_a + dark_a - current
    able = rest > dark_a
    rest = np.where(able, rest, 2 * dark_a)
    leak_a = slope_v / shunt_ohm
    own, forward = np.log(rest / dark_a), rest
    for step in range(_NEWTON_STEPS):
        if step:
            forward = np.exp(own)
            forward *= dark_a
        beyond = own * leak_a
        beyond += forward
        beyond -= rest
        beyond /= forward + leak_a
        own -= beyond
    return np.asarray(np.where(able, own * slope_v - current * series_ohm, -np.inf))


def _in_parallel(voltage_v: FloatArray, current_a: FloatArray) -> ArrayCurve:
    """Curves (m, strings, c) at a common voltage: every string is asked at every voltage that any was sampled at."""
    rows, strings, _ = voltage_v.shape
    together = np.sort(voltage_v.reshape(rows, -1), axis=1)
    if strings == 1:
        return ArrayCurve(voltage_v[:, 0], current_a[:, 0])
    total = np.zeros_like(together)
    # One interpolation for all rows: each has a stretch of the axis to itself, fenced at both ends. A string keeps its
    # largest current below its first point, and gives none above its own open circuit.
    top = float(together.max(initial=0.0)) + 1.0
    stretch = np.arange(rows)[:, None] * (top + 2.0)
    below, above = np.full((rows, 1), -1.0), np.full((rows, 1), top)
    for string in range(strings):
        volts = np.hstack([below, voltage_v[:, string], above])
        amperes = np.hstack([current_a[:, string, :1], current_a[:, string], np.zeros((rows, 1))])
        found = np.interp((together + stretch).ravel(), (volts + stretch).ravel(), amperes.ravel())
        total += found.reshape(together.shape)
    return ArrayCurve(together, np.maximum(total, 0.0))


def best_on_curve(
    curve: ArrayCurve, *, wire_ohm: float = 0.0, low_v: float = 0.0, high_v: float = np.inf, max_a: float = np.inf
) -> BestPoint:
    """Best point of the array as seen through `wire_ohm`, between two voltages there and up to a current.

    Parameters
    ----------
    curve : ArrayCurve
        m curves of the array at its terminals.
    wire_ohm : float
        Resistance of the wire out and back [Ω].
    low_v : float
        Least voltage at the far end [V].
    high_v : float
        Largest voltage there [V].
    max_a : float
        Largest current [A].

    Returns
    -------
    BestPoint
        Power, voltage and current (m,) at the far end.
    """
    far_v, current = curve.voltage_v - wire_ohm * curve.current_a, curve.current_a
    slack = 1 + 1e-9

    def within(volts: FloatArray, amperes: FloatArray) -> FloatArray:
        """Power within the limits, 0 beyond them and where there is no point."""
        allowed = (volts * slack >= low_v) & (volts <= high_v * slack) & (amperes <= max_a * slack) & (volts > 0)
        return np.where(allowed, volts * amperes, 0.0)

    power = within(far_v, current)
    best = np.arange(len(far_v)) * far_v.shape[1] + power.argmax(axis=1)
    best_w, best_v, best_a = power.take(best), far_v.take(best), current.take(best)
    # The curve where it meets each limit, beside its own points.
    limits = [(np.full_like(best_w, volt), _at(far_v, current, volt)) for volt in (low_v, high_v) if 0 < volt < np.inf]
    if max_a < np.inf:
        limits.append((_at(-current, far_v, -max_a), np.full_like(best_w, max_a)))
    for volts, amperes in limits:
        watts = within(volts, amperes)
        better = watts > best_w
        best_w, best_v, best_a = (
            np.where(better, new, old) for new, old in ((watts, best_w), (volts, best_v), (amperes, best_a))
        )
    return BestPoint(best_w, np.where(best_w > 0, best_v, 0.0), np.where(best_w > 0, best_a, 0.0))


def _at(rising: FloatArray, values: FloatArray, limit: float) -> FloatArray:
    """`values` (m, c) where `rising` (m, c) passes `limit`, by a straight line; NaN where it does not pass it."""
    rows, points = rising.shape
    upper = np.count_nonzero(rising < limit, axis=1)
    inside = (upper > 0) & (upper < points)
    upper = np.arange(rows) * points + np.clip(upper, 1, points - 1)
    (x0, x1), (y0, y1) = ((curve.take(upper - 1), curve.take(upper)) for curve in (rising, values))
    share = np.divide(limit - x0, x1 - x0, out=np.zeros_like(x0), where=x1 > x0)
    return np.where(inside, y0 + share * (y1 - y0), np.nan)
