"""Learn from what was seen: a few fields of a job adjusted to observations by least squares.

Gaps are counted in standard errors of the observations; that of a turn holds beside the watch's own what the program's
law leaves open. Fields that the observations do not touch, and those that they cannot tell from the ones named before,
are left as they are and named; as far as such a one may be off by the table of uncertain inputs, it widens the
intervals of the others. Where no weather was measured on the days observed, what air that nobody told adds to a
turn in the mean is taken off it, and what it scatters by widens the intervals of 90 % (`field_fit`, `untold_air`).

Of a passive rack watched mornings tell no more than two numbers apart, threshold and dose of `rack/dose.py`, and of one
morning no more than a mixture of them: so these two are held to what they were, loosely.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np
from scipy.stats import chi2

import trackersim
from trackersim.analysis.field_fit import PRIOR_SHARE, Expected, Fit, fitted, intervals, jacobian, step_of, ties
from trackersim.analysis.forward_model import Engine, engine_for
from trackersim.analysis.observations import MOMENTS, Observation, mornings_behind
from trackersim.analysis.sampled_turns import LAW_SD_MIN
from trackersim.analysis.uncertain_inputs import ends_of, sd_about
from trackersim.analysis.untold_air import untold_about, untold_air
from trackersim.arrays import FloatArray
from trackersim.constants import MINUTES_A_DAY
from trackersim.errors import Fault, InputError, Notice, counted
from trackersim.job.files import with_overrides
from trackersim.job.former_names import current_key
from trackersim.job.model import Job
from trackersim.job.overrides import place_in_list
from trackersim.job.ranges import field_at, range_of
from trackersim.simulation.runner import Progress
from trackersim.simulation.watched import flip_dose

MOST_FIELDS = 4
_LEARNABLE = ("rack", "trees", "array", "wire", "controller", "pump", "pipes", "main", "source", "unit")
# A field is untouched if a change of so many steps moves all observations together by less than so many errors.
_MANY_STEPS, _FELT = 5.0, 0.5
# Fields are not told apart if some mixture of their effects, each taken as of size 1, is smaller than this (two fields
# whose effects correlate by 0.97 or more).
_APART, _TAKES_PART = 0.17, 0.3
_UNTOUCHED = "the observations do not touch it"
_MISFIT = 0.01
# Expected so much later than seen, a turn is none: one that does not happen counts as at the end of the day.
NO_TURN_MIN = 300
_MISSED_SD = 3.0
_MINUTE_SD = 1 / np.sqrt(12)  # the spread of a step of a minute in a minute-stepped engine
# What air that nobody told adds hangs on the fields, and they on it: they are taken in turns.
_TURNS = 2


@dataclass(frozen=True, kw_only=True)
class Learned:
    """One field: `was` in the job, `value` now, and its 90 % interval; `held` says why it was left as it was, or "".

    Of a field that was left because it cannot be told from others, `low` and `high` are how far it is taken to be off.
    """

    key: str
    was: float
    value: float
    low: float
    high: float
    held: str = ""

    @property
    def mixed(self) -> bool:
        """Whether it was left because it cannot be told from others, which therefore hang on it."""
        return self.held not in ("", _UNTOUCHED)


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

    @property
    def missed(self) -> tuple[Observation, ...]:
        """The moments that the job as learned misses by more than the errors of watch, minute and rack allow."""
        return _missed(self.observations, self.after)

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
    tell("which fields the observations tell", 0.2)
    held = _held(engine, keys, start, error)
    free = [n for n in range(len(keys)) if n not in held]
    tell("adjusting", 0.4)
    chosen = [keys[n] for n in free]

    def expected(some: FloatArray) -> FloatArray:
        return engine(_with(start, free, some))

    before, fit = engine(start), fitted(expected, values, error, chosen, start[free])
    air = untold_air(job, keys, observations) if free else None
    if air is not None:
        tell("air that nobody told", 0.6)
        before = before + untold_about(air, engine, [start], observations).later_min
        for _ in range(_TURNS):
            points = np.array([_with(start, free, some) for some in fit.points()])
            later, scatter = untold_about(air, engine, points, observations)
            fit = fitted(expected, values - later, error, chosen, start[free], untold=scatter, begin=fit.values)
    after = (values + fit.gaps * error).tolist()
    left = {n: _left_as_is(job, keys[n], float(start[n]), why) for n, why in held.items()}
    fit = fit.beside(_moves(engine, _with(start, free, fit.values), left, error))
    fields = _fields(keys, start, free, fit, intervals(expected, error, fit, start[free]), left)
    tell("done", 1.0)
    misfit = float(chi2.sf(fit.misfit, fit.spare)) if fit.spare > 0 else 1.0
    new = {each.key: each.value for each in fields if not each.held}
    behind = mornings_behind(list(new), observations)
    return Learning(
        job=job, learned_job=with_overrides(job, new | behind) if new else job, fields=fields, mornings=behind,
        correlation=_correlation(fit),
        observations=tuple(observations), before=tuple(before.tolist()),
        after=tuple(after), misfit=misfit,
        notices=_notices(engine, before, misfit, _missed_words(observations, after) if free else ""),
    )  # fmt: skip


def _missed(observations: Sequence[Observation], after: Sequence[float]) -> tuple[Observation, ...]:
    return tuple(
        seen
        for seen, now in zip(observations, after, strict=True)
        if seen.what in MOMENTS and abs(now - seen.value) > _MISSED_SD * _error(seen)
    )


def _missed_words(observations: Sequence[Observation], after: Sequence[float]) -> str:
    """That the fit does not reproduce the moments seen; empty where it does."""
    missed = _missed(observations, after)
    if not missed:
        return ""
    moments = [(abs(now - seen.value), seen) for seen, now in zip(observations, after, strict=True) if seen in missed]
    most, worst = max(moments, key=lambda each: each[0])
    off = f"is still up to {most:.0f} min off what was seen, against an error of {worst.error:g} min"
    if most > NO_TURN_MIN:
        off = "makes no turn where one was seen"
    return (
        f"The fit does not reproduce {len(missed)} of {counted(len(observations), 'observation')}: the rack as learned "
        f"{off}. Check times and clock, trees, and the weather of those mornings."
    )


def _error(seen: Observation) -> float:
    if seen.what not in MOMENTS:
        return seen.error
    return float(np.linalg.norm([seen.error, _MINUTE_SD, LAW_SD_MIN]))


def in_two_numbers(job: Job, keys: Sequence[str]) -> Job:
    """The job with a watched delay told as the threshold and dose that it means, where one of these is asked for."""
    first = job.units[0]
    if first.rack.kind != "delayed" or first.rack.flip_dose_kj_m2 is not None or not set(keys) & set(PRIOR_SHARE):
        return job
    return with_overrides(job, dict(zip(PRIOR_SHARE, flip_dose(first), strict=True)))


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
            entry = place_in_list(part)
            if entry is None and len(place) == 1:
                place = place[0]
            elif entry is not None and entry < len(place):
                place = place[entry]
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


def _held(expected: Expected, keys: Sequence[str], start: FloatArray, error: FloatArray) -> dict[int, str]:
    """The fields to leave as they are, and why."""
    steps = np.array([step_of(key, value) for key, value in zip(keys, start, strict=True)])
    low, high = np.array([range_of(key) for key in keys]).T
    slopes = jacobian(expected, start, steps, low, high, error)
    felt = np.linalg.norm(slopes, axis=0)
    held = {n: _UNTOUCHED for n in range(len(keys)) if felt[n] * _MANY_STEPS < _FELT}
    slopes = np.concatenate([slopes, ties(keys, start) * steps])
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


def _left_as_is(job: Job, key: str, own: float, why: str) -> Learned:
    """A field that stays as it is; in the job at its ends it is as far off as the table of uncertain inputs has it."""
    left = Learned(key=key, was=own, value=own, low=own, high=own, held=why)
    if not left.mixed:
        return left
    ends = [value for end in ends_of(job) if isinstance(value := _value_at(end, key), float)]
    low, high = min([own, *ends]), max([own, *ends])
    return replace(left, low=low, high=high)


def _moves(engine: Engine, values: FloatArray, left: Mapping[int, Learned], error: FloatArray) -> FloatArray:
    """How far one standard deviation of each field left as it is moves the observations, in errors (n, h)."""
    off = {n: sd for n, each in left.items() if (sd := sd_about(each.value, (each.low, each.high))) > 0}
    if not off:
        return np.zeros((len(error), 0))
    numbers = list(off)
    low, high = np.array([range_of(left[n].key) for n in numbers]).T
    return jacobian(
        lambda some: engine(_with(values, numbers, some)),
        values[numbers], np.array(list(off.values())), low, high, error,
    )  # fmt: skip


def _fields(
    keys: Sequence[str],
    start: FloatArray,
    free: Sequence[int],
    fit: Fit,
    spans: Sequence[tuple[float, float]],
    left: Mapping[int, Learned],
) -> tuple[Learned, ...]:
    told = dict(left)
    for place, number in enumerate(free):
        low, high = spans[place]
        value = float(fit.values[place])
        told[number] = Learned(key=keys[number], was=float(start[number]), value=value, low=low, high=high)
    return tuple(told[number] for number in sorted(told))


def _correlation(fit: Fit) -> tuple[tuple[float, ...], ...]:
    size = np.sqrt(np.diag(fit.covariance))
    return tuple(tuple(row) for row in (fit.covariance / np.outer(size, size)).tolist())


def _notices(engine: Engine, before: FloatArray, misfit: float, missed: str) -> tuple[Notice, ...]:
    texts = [missed] if missed else []
    if any(days.runner.scene().weather.typical for days in engine.watched) and not engine.job.weather.clear_sky:
        texts.append("The weather is a typical year, not that of the days observed; take clear ones as cloudless.")
    rows = [
        seen.row
        for days in engine.watched
        for place, _, seen in days.seen
        if seen.what in MOMENTS and before[place] >= MINUTES_A_DAY
    ]
    if rows:
        lines = ", ".join(map(str, sorted(rows)))
        texts.append(f"A turn was seen (line {lines}) on a day on which the job's rack, as it was, makes none.")
    if misfit < _MISFIT:
        texts.append("The gaps left are larger than the stated errors explain; the intervals were widened for it.")
    return tuple(Notice(text=text, level="caution") for text in texts)
