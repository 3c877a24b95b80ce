"""Learn from what was seen: a few fields of a job adjusted to observations by least squares.

Gaps are counted in standard errors of the observations; that of a turn holds beside the watch's own what the program's
law leaves open. Fields that the observations do not touch, and those that they cannot tell from the ones named before,
are left as they are and named. Intervals of 90 % come from the fit taken as linear about its end (slopes by differences
of several minutes or a few per cent, since the engine steps by minutes); they widen with the gaps that are left, and
with how few they are.

Of a passive rack watched mornings tell no more than two numbers apart, threshold and dose of `rack/dose.py`, and of one
morning no more than a mixture of them: so these two are held to what they were, loosely.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from scipy.optimize import least_squares
from scipy.stats import chi2, t

import trackersim
from trackersim.analysis.forward_model import Engine, engine_for
from trackersim.analysis.observations import Observation, mornings_behind
from trackersim.analysis.sampled_turns import LAW_SD_MIN
from trackersim.arrays import FloatArray
from trackersim.constants import MINUTES_A_DAY
from trackersim.errors import Fault, InputError, Notice
from trackersim.job.files import with_overrides
from trackersim.job.former_names import current_key
from trackersim.job.model import Job
from trackersim.job.ranges import field_at, range_of
from trackersim.simulation.runner import Progress
from trackersim.simulation.tracking import axis_of
from trackersim.simulation.watched import flip_dose

Expected = Callable[[FloatArray], FloatArray]

MOST_FIELDS = 4
_LEARNABLE = ("rack", "trees", "array", "wire", "controller", "pump", "pipes", "main", "source", "unit")
# Steps of the differences by the ending of a field's name; of other fields a share of the value, or of the range.
_STEPS = {"_min": 4.0, "_deg": 1.0}
_STEP_SHARE = 0.05
# A field is untouched if a change of so many steps moves all observations together by less than so many errors.
_MANY_STEPS, _FELT = 5.0, 0.5
# Fields are not told apart if some mixture of their effects, each taken as of size 1, is smaller than this (two fields
# whose effects correlate by 0.97 or more).
_APART, _TAKES_PART = 0.17, 0.3
_LEVEL = 0.90
_FLAT = 1e-8
_MISFIT = 0.01
_MINUTE_SD = 1 / np.sqrt(12)  # the spread of a step of a minute in a minute-stepped engine
# How far (one standard deviation, of its own size) a field may lie from what it was: of 32 thermal racks that differ by
# 20 % in each of twelve parameters, thresholds and doses lie 0.38 and 0.37 apart in logarithms.
_PRIOR_SHARE = {"rack.flip_threshold": 0.4, "rack.flip_dose": 0.4}
# The stated errors count as much as so many more gaps of their size (assumption).
_TRUST = 4


@dataclass(frozen=True, kw_only=True)
class Learned:
    """One field: `was` in the job, `value` now, and its 90 % interval; `held` says why it was left as it was, or ""."""

    key: str
    was: float
    value: float
    low: float
    high: float
    held: str = ""


@dataclass(frozen=True, kw_only=True)
class Fit:
    """End of a least-squares fit: values, their covariance, and the gaps left (n,) in standard errors.

    `from_start` are those of fields that are held to what they were, in their own standard deviations.
    """

    values: FloatArray
    covariance: FloatArray
    gaps: FloatArray
    from_start: FloatArray

    @property
    def spare(self) -> int:
        """Gaps of both kinds beyond the number of fields."""
        return max(len(self.gaps) + len(self.from_start) - len(self.values), 0)

    @property
    def misfit(self) -> float:
        """Sum of the squares of all gaps."""
        return float(self.gaps @ self.gaps + self.from_start @ self.from_start)


@dataclass(frozen=True, kw_only=True)
class Learning:
    """What was learned: the fields, the job with them, and expected observations before and after.

    `mornings` is `flip_mornings` of each rack whose flip was learned, by its key.
    `misfit` is the chance of gaps as large as are left if job and stated errors were right.
    """

    job: Job
    learned_job: Job
    fields: tuple[Learned, ...]
    mornings: Mapping[str, int]
    correlation: tuple[tuple[float, ...], ...]
    observations: tuple[Observation, ...]
    before: tuple[float, ...]
    after: tuple[float, ...]
    misfit: float
    notices: tuple[Notice, ...]

    @property
    def fitted(self) -> tuple[Learned, ...]:
        """The fields that were adjusted."""
        return tuple(each for each in self.fields if not each.held)

    def summary(self) -> dict[str, Any]:
        """Plain data, as `learn --json` prints it (SI)."""
        return {
            "job": self.job.site.name,
            "fields": [asdict(each) for each in self.fields],
            "flip_mornings": max(self.mornings.values(), default=0),
            "correlation": [list(row) for row in self.correlation],
            "observations": [
                {"line": seen.row, "what": seen.what, "at": seen.moment.wall.isoformat(), "value": seen.value,
                 "error": seen.error, "before": before, "after": after}
                for seen, before, after in zip(self.observations, self.before, self.after, strict=True)
            ],
            "chance_of_such_gaps": self.misfit,
            "notices": [str(notice) for notice in self.notices],
            "version": trackersim.__version__,
            "job_sha256": self.job.sha256(),
        }  # fmt: skip


def learn(
    job: Job, observations: Sequence[Observation], keys: Sequence[str], *, progress: Progress | None = None
) -> Learning:
    """Adjust the fields `keys` ("rack.flip_delay") of `job` to the observations. Raises `InputError` for other keys."""
    tell = progress or (lambda words, share: None)
    job = in_two_numbers(job, keys)
    start = np.array(start_values(job, keys))
    tell("sun, weather and trees", 0.0)
    engine = engine_for(job, keys, observations)
    values = np.array([seen.value for seen in observations])
    error = np.array([_error(seen) for seen in observations])
    before = engine(start)
    tell("which fields the observations tell", 0.2)
    held = _held(engine, keys, start, error)
    free = [n for n in range(len(keys)) if n not in held]
    tell("adjusting", 0.4)
    fit = fitted(lambda some: engine(_with(start, free, some)), values, error, [keys[n] for n in free], start[free])
    fields = _fields(keys, start, free, fit, held)
    tell("done", 1.0)
    misfit = _chance(fit)
    new = {each.key: each.value for each in fields if not each.held}
    behind = mornings_behind(list(new), observations)
    return Learning(
        job=job, learned_job=with_overrides(job, new | behind) if new else job, fields=fields, mornings=behind,
        correlation=_correlation(fit),
        observations=tuple(observations), before=tuple(before.tolist()),
        after=tuple((values + fit.gaps * error).tolist()), misfit=misfit,
        notices=_notices(engine, before, misfit),
    )  # fmt: skip


def _error(seen: Observation) -> float:
    if seen.what not in ("flip", "arrival"):
        return seen.error
    return float(np.linalg.norm([seen.error, _MINUTE_SD, LAW_SD_MIN]))


def in_two_numbers(job: Job, keys: Sequence[str]) -> Job:
    """The job with a watched delay told as the threshold and dose that it means, where one of these is asked for."""
    first = job.units[0]
    if first.rack.kind != "delayed" or first.rack.flip_dose_kj_m2 is not None or not set(keys) & set(_PRIOR_SHARE):
        return job
    return with_overrides(job, dict(zip(_PRIOR_SHARE, flip_dose(first, axis_of(first)), strict=True)))


def _with(start: FloatArray, free: Sequence[int], some: FloatArray) -> FloatArray:
    values = start.copy()
    values[list(free)] = some
    return values


def start_values(job: Job, keys: Sequence[str]) -> list[float]:
    """The job's own values of `keys`, in SI; one `InputError` for every key that cannot be learned."""
    faults, values = [], []
    if not 1 <= len(keys) <= MOST_FIELDS or len(set(keys)) != len(keys):
        reason, remedy = f"must be one to {MOST_FIELDS} different fields.", "Name them like rack.flip_delay,rack.lag."
        faults.append(Fault(field="fit", value=",".join(keys), reason=reason, remedy=remedy))
    for key in keys:
        try:
            values.append(_own_value(job, key))
        except InputError as error:
            faults += error.faults
    if faults:
        raise InputError(faults)
    return values


def _own_value(job: Job, key: str) -> float:
    remedy = "Name a field that holds a number, such as rack.flip_delay or trees.0.transmittance_leaf_off."
    found, value = field_at(key), _value_at(job, key)
    if found is None or key.split(".")[0] not in _LEARNABLE:
        raise InputError.of("fit", key, "is no field that can be learned.", remedy)
    if isinstance(value, bool) or not isinstance(value, float):
        reason = "has no value in the job yet." if value is None else "holds no number with a fraction."
        raise InputError.of("fit", key, reason, "Give it a first guess in the job." if value is None else remedy)
    return value


def _value_at(job: Job, key: str) -> object:
    place: Any = job
    for part in current_key(key).split("."):
        if isinstance(place, tuple):
            if not part.isdigit() and len(place) == 1:
                place = place[0]
            elif part.isdigit() and int(part) < len(place):
                place = place[int(part)]
                continue
            else:
                return None
        fields = getattr(type(place), "model_fields", {})
        name = next((name for name, info in fields.items() if part in (name, info.alias)), None)
        if name is None:
            return None
        place = getattr(place, name)
    found: object = place
    return found


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


def fitted(expected: Expected, observed: FloatArray, error: FloatArray, keys: Sequence[str], start: FloatArray) -> Fit:
    """Least squares over the fields `keys` from `start` within their ranges; no field is no change."""
    if not keys:
        left = (expected(start) - observed) / error
        return Fit(values=start, covariance=np.zeros((0, 0)), gaps=left, from_start=np.zeros(0))
    steps = np.array([step_of(key, value) for key, value in zip(keys, start, strict=True)])
    low, high = np.array([range_of(key) for key in keys]).T
    tied = _ties(keys, start)

    def gaps(scaled: FloatArray) -> FloatArray:
        values = scaled * steps
        return np.hstack([(expected(values) - observed) / error, tied @ (values - start)])

    def slopes_at(scaled: FloatArray) -> FloatArray:
        return np.concatenate([jacobian(expected, scaled * steps, steps, low, high, error), tied * steps])

    # A start on the end of its range holds the search there.
    inside = np.clip(start, np.minimum(low + steps, start + steps), np.maximum(high - steps, start - steps))
    found = least_squares(
        gaps, inside / steps, jac=slopes_at, bounds=(low / steps, high / steps), xtol=1e-4, ftol=1e-6, max_nfev=40
    )
    values = np.asarray(found.x * steps)
    covariance = _inverse(slopes_at(values / steps)) * np.outer(steps, steps)
    seen, from_start = np.split(np.asarray(found.fun), [len(observed)])
    return Fit(values=values, covariance=covariance, gaps=seen, from_start=from_start)


def _ties(keys: Sequence[str], start: FloatArray) -> FloatArray:
    """One row for each field that is held to its start: its gap in standard deviations, per unit of every field (m, k).

    A field that starts at 0 has no size to hold it to.
    """
    held = [n for n, key in enumerate(keys) if key in _PRIOR_SHARE and start[n] > 0]
    rows = np.zeros((len(held), len(keys)))
    for row, number in zip(rows, held, strict=True):
        row[number] = 1 / (_PRIOR_SHARE[keys[number]] * start[number])
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


def _held(expected: Expected, keys: Sequence[str], start: FloatArray, error: FloatArray) -> dict[int, str]:
    """The fields to leave as they are, and why."""
    steps = np.array([step_of(key, value) for key, value in zip(keys, start, strict=True)])
    low, high = np.array([range_of(key) for key in keys]).T
    slopes = jacobian(expected, start, steps, low, high, error)
    felt = np.linalg.norm(slopes, axis=0)
    held = {n: "the observations do not touch it" for n in range(len(keys)) if felt[n] * _MANY_STEPS < _FELT}
    slopes = np.concatenate([slopes, _ties(keys, start) * steps])
    size = np.linalg.norm(slopes, axis=0)
    while len(free := [n for n in range(len(keys)) if n not in held]) > 1:
        alike = slopes[:, free] / size[free]
        sizes, mixtures = np.linalg.eigh(alike.T @ alike)
        if np.sqrt(max(sizes[0], 0.0)) >= _APART:
            break
        mixed = [n for n, weight in zip(free, mixtures[:, 0], strict=True) if abs(weight) > _TAKES_PART]
        others = " and ".join(keys[n] for n in mixed[:-1])
        held[mixed[-1]] = f"the observations cannot tell it from {others}"
    return held


def _fields(
    keys: Sequence[str], start: FloatArray, free: Sequence[int], fit: Fit, held: dict[int, str]
) -> tuple[Learned, ...]:
    reach = t.ppf((1 + _LEVEL) / 2, _TRUST + fit.spare) * np.sqrt(np.diag(fit.covariance) * inflation(fit))
    told = {}
    for place, number in enumerate(free):
        low, high = range_of(keys[number])
        value, by = float(fit.values[place]), float(reach[place])
        told[number] = Learned(
            key=keys[number],
            was=float(start[number]),
            value=value,
            low=max(value - by, low),
            high=min(value + by, high),
        )
    for number, why in held.items():
        own = float(start[number])
        told[number] = Learned(key=keys[number], was=own, value=own, low=own, high=own, held=why)
    return tuple(told[number] for number in sorted(told))


def inflation(fit: Fit) -> float:
    """By how much the covariance is to grow, or shrink: the size of the gaps left against that of the stated errors.

    Posterior mean of the errors' variance in the conjugate form (scaled inverse χ², Gelman et al., Bayesian Data
    Analysis, section 2.6, from memory), with which an interval is that of Student's t.
    """
    return (_TRUST + fit.misfit) / (_TRUST + fit.spare)


def _chance(fit: Fit) -> float:
    return float(chi2.sf(fit.misfit, fit.spare)) if fit.spare > 0 else 1.0


def _correlation(fit: Fit) -> tuple[tuple[float, ...], ...]:
    size = np.sqrt(np.diag(fit.covariance))
    return tuple(tuple(row) for row in (fit.covariance / np.outer(size, size)).tolist())


def _notices(engine: Engine, before: FloatArray, misfit: float) -> tuple[Notice, ...]:
    texts = []
    if any(days.runner.scene().weather.typical for days in engine.watched) and not engine.job.weather.clear_sky:
        texts.append("The weather is a typical year, not that of the days observed; take clear ones as cloudless.")
    rows = [
        seen.row
        for days in engine.watched
        for place, _, seen in days.seen
        if seen.what in ("flip", "arrival") and before[place] >= MINUTES_A_DAY
    ]
    if rows:
        lines = ", ".join(map(str, sorted(rows)))
        texts.append(f"A turn was seen (line {lines}) on a day on which the job's rack, as it was, makes none.")
    if misfit < _MISFIT:
        texts.append("The gaps left are larger than the stated errors explain; the intervals were widened for it.")
    return tuple(Notice(text=text, level="caution") for text in texts)
