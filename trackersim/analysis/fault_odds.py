"""How likely a fault is after a reading: what the fault would show, times how common it is. Pure functions.

Bayes' rule over causes that each act alone, and one more for "something else, or several at once", so that a reading
that nothing explains is not pressed into the nearest cause. How common a fault is among pumps that give too little (or
too much), and how far it goes, is common practice, no source: `LOW` and `HIGH` hold it all.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
from scipy.special import ndtr

from trackersim.arrays import FloatArray

ODDS_SOURCE = "common practice, no source"
_FINE = 400
_NARROW = 1e-3  # of the standard deviation: less is no width


class Prior(NamedTuple):
    """How common a cause is, relative to the others in its table, and the largest size at which it is believed.

    `most` in the unit of the cause's kind, None where the job or the sky sets it. `small_first`: small sizes are
    commoner than large ones; else all sizes are alike.
    """

    odds: float
    most: float | None = None
    small_first: bool = True


# Too little water. Odds of one cause are shared by the units at which it may be.
LOW: Mapping[str, Prior] = {
    "not running": Prior(0.20),
    "tank empty": Prior(0.12),
    "held": Prior(0.10),
    "store full": Prior(0.06),
    "several not running": Prior(0.04),
    "none running": Prior(0.06),
    "rack": Prior(0.12, small_first=False),
    "dirt": Prior(0.10, 0.35),
    "light": Prior(0.10, 0.40),
    "strings": Prior(0.10),
    # Of a single string; that every one of several lacks a module is so many times rarer.
    "modules": Prior(0.03),
    "pump head": Prior(0.10, 0.35),
    # Of the flow at the last head of its sheet, as in a job: at a lower head a worn helical pump loses less of it.
    "pump flow": Prior(0.10, 0.60),
    "pipe": Prior(0.05, 70.0),
    "valve": Prior(0.05, 10_000.0),
    "shut": Prior(0.05),
    "level": Prior(0.06),
    "leak": Prior(0.05, 0.50),
}
# Too much of it.
HIGH: Mapping[str, Prior] = {
    "light": Prior(0.20, 0.25),
    "dirt": Prior(0.15, 0.20),
    "level": Prior(0.20),
    "pipe": Prior(0.10, 155.0),
    "rack": Prior(0.15, small_first=False),
}
OTHER = "something else"
OTHER_ODDS = 0.05


class Shown(NamedTuple):
    """What a cause would show at each of its sizes (n,): flow [m³/s], voltage [V], current [A] and head [m], by the
    gauge anything from `least_head_m` to `head_m`.

    `runs` (n,) is true where the units that run are those that run without the cause: between two sizes of which one
    stops a pump, nothing lies in between.
    """

    flow_m3_s: FloatArray
    input_v: FloatArray
    input_a: FloatArray
    head_m: FloatArray
    least_head_m: FloatArray
    runs: Sequence[object]


class Read(NamedTuple):
    """A reading with its standard deviation; `value` None for one that was not taken."""

    value: float | None
    sd: float


def finer(shown: Shown, *, count: int = _FINE) -> Shown:
    """What is shown at `count` sizes, evenly spaced as those worked out are.

    Parameters
    ----------
    shown : Shown
        At n ≥ 2 sizes, evenly spaced from the least to the most.
    count : int
        How many sizes to give.

    Returns
    -------
    Shown
        At `count` sizes: in a straight line between two neighbours that run alike, else as at the nearer one.
    """
    known = len(shown.flow_m3_s)
    place = np.linspace(0.0, known - 1.0, count)
    low = np.minimum(place.astype(np.int64), known - 2)
    share = place - low
    alike = np.array([shown.runs[n] == shown.runs[n + 1] for n in range(known - 1)])[low]
    share = np.where(alike, share, np.round(share))

    def between(values: FloatArray) -> FloatArray:
        return np.asarray(values[low] * (1 - share) + values[low + 1] * share)

    return Shown(
        flow_m3_s=between(shown.flow_m3_s),
        input_v=between(shown.input_v),
        input_a=between(shown.input_a),
        head_m=between(shown.head_m),
        least_head_m=between(shown.least_head_m),
        runs=(),
    )


def size_weights(count: int, *, small_first: bool) -> FloatArray:
    """Shares (count,) that add up to 1 of sizes evenly spaced from none to the most that is believed.

    >>> size_weights(3, small_first=True).round(2).tolist()
    [0.56, 0.33, 0.11]
    """
    share = (np.arange(count) + 0.5) / count
    weights = 1 - share if small_first else np.ones(count)
    return np.asarray(weights / weights.sum())


def evidence(shown: Shown, weights: FloatArray, readings: Mapping[str, Read]) -> float:
    """Probability density of what was read if the cause is there, at all its sizes together.

    Parameters
    ----------
    shown : Shown
        What the cause shows at n sizes.
    weights : FloatArray
        Shape (n,). Share of each size; they add up to 1.
    readings : Mapping[str, Read]
        Named as the fields of `Shown`; errors are taken as independent and normal.

    Returns
    -------
    float
        ≥ 0, in one over the units of all readings taken.
    """
    density = np.ones(len(weights))
    for name, read in readings.items():
        if read.value is None:
            continue
        most = np.asarray(getattr(shown, name))
        least = shown.least_head_m if name == "head_m" else most
        density = density * _density(read.value, read.sd, least=least, most=most)
    return float((density * weights).sum())


def _density(value: float, sd: float, *, least: FloatArray, most: FloatArray) -> FloatArray:
    """Density of a reading with a normal error where anything from `least` to `most` may be there, all of it alike."""
    near = np.exp(-0.5 * ((most - value) / sd) ** 2) / (sd * math.sqrt(2 * math.pi))
    width = most - least
    wide = width > _NARROW * sd
    spread = (ndtr((most - value) / sd) - ndtr((least - value) / sd)) / np.where(wide, width, 1.0)
    return np.asarray(np.where(wide, spread, near))


def broad_evidence(readings: Mapping[str, Read], spans: Mapping[str, float]) -> float:
    """The evidence of a cause that predicts nothing: each reading is equally likely from 0 to its span.

    >>> broad_evidence({"flow_m3_s": Read(0.5, 0.1)}, {"flow_m3_s": 2.0})
    0.5
    """
    taken = [name for name, read in readings.items() if read.value is not None]
    return math.prod(1 / spans[name] for name in taken)


def probabilities(weighed: Sequence[float]) -> list[float]:
    """Odds times evidence as probabilities that add up to 1; all 0 if nothing has any.

    >>> probabilities([1.0, 3.0]), probabilities([0.0])
    ([0.25, 0.75], [0.0])
    """
    total = sum(weighed)
    return [one / total if total > 0 else 0.0 for one in weighed]
