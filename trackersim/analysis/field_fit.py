"""Least squares over a few fields of a job: values, how far they may be off, and 90 % intervals.

Intervals come from the fit taken as linear about its end (slopes by differences of several minutes or a few per cent,
since the engine steps by minutes), and each end is then moved to where the expected observations are as far off as the
linear fit says: behind trees the flip hangs on the delay by a bent curve. They widen with the gaps that are left, and
with how few they are.

What was not told (`untold_air`) moves observations of one morning together. It widens intervals and judges gaps, but
does not weigh: mornings weigh against what a field is held to by the errors of watch and law alone, for that tie only
decides between fields that mornings cannot tell apart.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import least_squares
from scipy.stats import t

from trackersim.arrays import FloatArray
from trackersim.job.ranges import field_at, range_of

Expected = Callable[[FloatArray], FloatArray]

# Steps of the differences by the ending of a field's name; of other fields a share of the value, or of the range.
_STEPS = {"_min": 4.0, "_deg": 1.0}
_STEP_SHARE = 0.05
_LEVEL = 0.90
_FLAT = 1e-8
# How far (one standard deviation, of its own size) a field may lie from what it was: of 32 thermal racks that differ by
# 20 % in each of twelve parameters, thresholds and doses lie 0.38 and 0.37 apart in logarithms.
PRIOR_SHARE = {"rack.flip_threshold": 0.4, "rack.flip_dose": 0.4}
# The stated errors count as much as so many more gaps of their size (assumption).
_TRUST = 4
# An end of an interval is looked for in so many steps, each at most twice as far out as the one before.
_END_STEPS, _NEAR_END = 4, 0.05
_FARTHEST_STEPS = 5.0


@dataclass(frozen=True, kw_only=True)
class Fit:
    """End of a least-squares fit of the fields `keys`: values (k,), and the gaps left (n,) in standard errors.

    `from_start` are those of fields that are held to what they were, in their own standard deviations. `told` is the
    values' covariance from the errors, `untold` that from what was not told, `held` that from fields that were left as
    they are. `pull` (k, n + m) gives how far the values move with the gaps.
    """

    keys: tuple[str, ...]
    values: FloatArray
    told: FloatArray
    untold: FloatArray
    held: FloatArray
    pull: FloatArray
    gaps: FloatArray
    from_start: FloatArray
    misfit: float

    @property
    def spare(self) -> int:
        """Gaps of both kinds beyond the number of fields."""
        return max(len(self.gaps) + len(self.from_start) - len(self.values), 0)

    @property
    def covariance(self) -> FloatArray:
        """Of the values (k, k)."""
        return np.asarray(self.told + self.untold + self.held)

    def beside(self, moves: FloatArray) -> Fit:
        """The fit, with what its values owe to fields left as they are: `moves` (n, h) is how far one standard
        deviation of each moves the observations, in errors."""
        owed = self.pull[:, : len(moves)] @ moves
        return replace(self, held=owed @ owed.T)

    def inflation(self) -> float:
        """By how much the covariance is to grow, or shrink: the size of the gaps left against that of the errors.

        Posterior mean of the errors' variance in the conjugate form (scaled inverse χ², Gelman et al., Bayesian Data
        Analysis, section 2.6, from memory), with which an interval is that of Student's t.
        """
        return (_TRUST + self.misfit) / (_TRUST + self.spare)

    def reach(self) -> FloatArray:
        """Half the 90 % interval of each value (k,), of a linear fit.

        How well variances are known counts as Welch and Satterthwaite have it (from memory): that of the errors by the
        gaps left, that of what was not told as given. No gap says how far fields left as they are may be off.
        """
        told, untold, held = (np.diag(each) for each in (self.told, self.untold, self.held))
        variance = (told + untold) * self.inflation() + held
        known = (_TRUST + self.spare) * (variance / (told * self.inflation())) ** 2
        return np.asarray(t.ppf((1 + _LEVEL) / 2, known) * np.sqrt(variance))

    def points(self) -> FloatArray:
        """Values that stand for all that the errors leave open (2 k, k): their mean and covariance are the fit's.

        None lies farther from the fit than a few steps of the differences.
        """
        sizes, directions = np.linalg.eigh(self.told)
        apart = directions * np.sqrt(np.maximum(sizes, 0.0) * len(sizes))
        steps = np.array([step_of(key, value) for key, value in zip(self.keys, self.values, strict=True)])
        apart /= np.maximum(np.abs(apart / steps[:, None]).max(axis=0) / _FARTHEST_STEPS, 1.0)
        return np.asarray(self.values + np.concatenate([apart.T, -apart.T]))


def step_of(key: str, value: float) -> float:
    """The step of differences in the field `key` about `value`."""
    found, (low, high) = field_at(key), range_of(key)
    assert found is not None
    for ending, step in _STEPS.items():
        if found.name.endswith(ending):
            return step
    width = high - low
    return max(
        _STEP_SHARE * abs(value), 0.2 * _STEP_SHARE * width if np.isfinite(width) and abs(value) < 1e-9 else 0.0, 1e-9
    )


def fitted(
    expected: Expected,
    observed: FloatArray,
    error: FloatArray,
    keys: Sequence[str],
    start: FloatArray,
    *,
    untold: FloatArray | None = None,
    begin: FloatArray | None = None,
) -> Fit:
    """Least squares over the fields `keys` from `start` within their ranges; no field is no change.

    `untold` (n, n) is the covariance of what was not told of the observations; the search begins at `begin`.
    """
    steps = np.array([step_of(key, value) for key, value in zip(keys, start, strict=True)])
    low, high = np.array([range_of(key) for key in keys]).reshape(-1, 2).T
    tied = ties(keys, start)

    def gaps(scaled: FloatArray) -> FloatArray:
        values = scaled * steps
        return np.hstack([(expected(values) - observed) / error, tied @ (values - start)])

    def slopes_at(scaled: FloatArray) -> FloatArray:
        return np.concatenate([jacobian(expected, scaled * steps, steps, low, high, error), tied * steps])

    scaled = np.zeros(0)
    if keys:
        # A start on the end of its range holds the search there.
        first = start if begin is None else begin
        most = 40 if begin is None else 5
        inside = np.clip(first, np.minimum(low + steps, first + steps), np.maximum(high - steps, first - steps))
        scaled = least_squares(
            gaps, inside / steps, jac=slopes_at, bounds=(low / steps, high / steps), xtol=1e-4, ftol=1e-6, max_nfev=most
        ).x
    left, slopes = gaps(scaled), slopes_at(scaled) if keys else np.zeros((len(observed), 0))
    told = _inverse(slopes)
    pull = told @ slopes.T * steps[:, None]
    beside = np.zeros((len(left), len(left)))  # what was not told, in errors
    if untold is not None:
        beside[: len(observed), : len(observed)] = untold / np.outer(error, error)
    return Fit(
        keys=tuple(keys),
        values=scaled * steps,
        told=told * np.outer(steps, steps),
        untold=pull @ beside @ pull.T,
        held=np.zeros_like(told),
        pull=pull,
        gaps=left[: len(observed)],
        from_start=left[len(observed) :],
        misfit=float(left @ np.linalg.solve(np.eye(len(left)) + beside, left)),
    )


def ties(keys: Sequence[str], start: FloatArray) -> FloatArray:
    """One row for each field that is held to its start: its gap in standard deviations, per unit of every field (m, k).

    A field that starts at 0 has no size to hold it to.
    """
    held = [n for n, key in enumerate(keys) if key in PRIOR_SHARE and start[n] > 0]
    rows = np.zeros((len(held), len(keys)))
    for row, number in zip(rows, held, strict=True):
        row[number] = 1 / (PRIOR_SHARE[keys[number]] * start[number])
    return rows


def _inverse(slopes: FloatArray) -> FloatArray:
    """Covariance (k, k) of a fit with these slopes; very large, not 0, in directions that nothing seen depends on."""
    sizes, directions = np.linalg.eigh(slopes.T @ slopes)
    return np.asarray(directions / np.maximum(sizes, _FLAT) @ directions.T)


def jacobian(
    expected: Expected, values: FloatArray, steps: FloatArray, low: FloatArray, high: FloatArray, error: FloatArray
) -> FloatArray:
    """Change of every observation (n, k), in errors, for a step of each field; one-sided at the ends of its range."""
    columns = []
    for number, step in enumerate(steps):
        up, down = values.copy(), values.copy()
        up[number] = min(values[number] + step, high[number])
        down[number] = max(values[number] - step, low[number])
        columns.append((expected(up) - expected(down)) / error * step / (up[number] - down[number]))
    return np.stack(columns, axis=1)


def intervals(expected: Expected, error: FloatArray, fit: Fit, start: FloatArray) -> list[tuple[float, float]]:
    """The 90 % interval of each field, within its range."""
    found = []
    for number, reach in enumerate(fit.reach()):
        low, high = (_end(expected, error, fit, start, number, away) for away in (-reach, reach))
        found.append((low, high))
    return found


def _end(expected: Expected, error: FloatArray, fit: Fit, start: FloatArray, number: int, away: float) -> float:
    """Where a field lies when expected observations pull it, the others following it, as far away as the linear fit."""
    together = fit.covariance[:, number] / fit.covariance[number, number] * away
    limits, tied, at_fit = range_of(fit.keys[number]), ties(fit.keys, start), expected(fit.values)
    share = 1.0
    for _ in range(_END_STEPS):
        moved = share * together
        gaps = np.hstack([(expected(fit.values + moved) - at_fit) / error, tied @ moved])
        got = float(fit.pull[number] @ gaps) / away
        if abs(got - 1) < _NEAR_END or not limits[0] < fit.values[number] + moved[number] < limits[1]:
            break
        share *= float(np.clip(1 / max(got, 1e-9), 0.5, 2.0))
    return float(np.clip(fit.values[number] + share * away, *limits))
