"""When the rack turns, in many runs: every sampled morning with a number of watched racks as the job's may be.

What was watched fixes one mixture of threshold and dose, the rest is drawn: how far the delay watched lies from the
usual one, dose over threshold, how the threshold grows with cold and wind, and how a rack strays from day to day.

A rack that was learned from clear mornings was watched in air that nobody told: `learn` takes it as it is in the mean,
and how it lay about that is drawn here, within the ranges from which the morning asked about is drawn. One hazy or
windy morning alone moves what is learned by ten minutes; of several mornings the mean counts.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy.stats import norm

from trackersim.analysis.observed_sky import clear_ranges, season_air, within
from trackersim.analysis.rack_conditions import DAY_TO_DAY_MIN
from trackersim.analysis.sampled_mornings import Run, latin
from trackersim.analysis.uncertain_inputs import range_of_input
from trackersim.arrays import FloatArray, IndexArray
from trackersim.constants import MINUTES_A_DAY
from trackersim.job.model import Job
from trackersim.rack.delayed import delayed_rotation
from trackersim.rack.dose import DOSE_PER_THRESHOLD_MIN, KJ_PER_W_MIN, dose_kj_m2, reached_min
from trackersim.rack.events import morning_events, solar_midnight_min
from trackersim.simulation.canisters import canister_loss
from trackersim.simulation.orientation import orientation_of
from trackersim.simulation.watched import (
    AirOnWatch,
    RisingLight,
    flip_dose,
    flip_doses,
    ordinary_delay_min,
    rising_light,
)

EACH = 16  # racks in each run
LEAST, MOST = 0.05, 0.95  # early and late
_WATCH_MIN = 3.0  # of somebody who times a flip (assumption)
# What a flip may differ by from the law that gives it, as `learn` weighs flips against other observations: on clear
# mornings dose and physics lie 1 to 3 min apart (assumption).
LAW_SD_MIN = 4.0
# The same of a rack whose numbers are right: 100 racks by physics, fitted to 18 mornings of five dates in known air,
# strayed from the law by 1.8 to 4.3 min on each of them.
_OWN_LAW_MIN = 3.0
# Of a rack with threshold and dose of which nobody says from how many mornings they were learned (assumption).
FEWEST_MORNINGS = 1
# Standard deviations: of the logarithm of dose over threshold where one delay is known, and where both numbers are; of
# the exponent on the threshold's growth with cold and wind; and of the logarithm of the threshold on another morning.
# Where one delay is known, counted in sunshine, that is taken to lie a little above the watched one: a canister sees
# less of the sun through trees than the axis does. Numbers learned from flips behind those trees hold that already.
# Chosen on 300 mornings of racks by physics, held against 300 others (see the guide, "watched_rack").
_RATIO_SD, _TOLD_RATIO_SD, _GROWTH_SD, _OTHER_SD, _OTHER_MEAN = 0.5, 0.25, 0.08, 0.12, 0.09
_FARTHEST_SD = 2.5


@dataclass(frozen=True, kw_only=True)
class Turns:
    """Flip and arrival of all runs (n,): minutes of the last day, infinite where they do not happen."""

    flip: FloatArray
    arrival: FloatArray

    @property
    def never(self) -> int:
        """Runs without a flip."""
        return int(np.isinf(self.flip).sum())

    @property
    def last(self) -> int | None:
        """Late flip of the runs that have one, None without any: what is later than that is rare even among them."""
        flips = self.flip[np.isfinite(self.flip)]
        return int(np.quantile(flips, MOST, method="higher")) if flips.size else None


class WatchedRacks(NamedTuple):
    """Racks as the job's may be (racks,): threshold [W/m²] and dose [kJ/m²] in ordinary air and wind, exponent on the
    growth of the threshold in other, minutes later than the law on the day asked for, minutes from stop to stop."""

    threshold_w_m2: FloatArray
    dose_kj_m2: FloatArray
    growth: FloatArray
    strays_min: FloatArray
    turning_min: FloatArray


def turns_of(unit: Job, runs: Sequence[Run]) -> Turns:
    """When the unit's rack turns in the runs; a watched one as `EACH` racks in every run but the likely one."""
    drawn = runs[1:] if unit.rack.kind == "delayed" else ()
    if not drawn:
        return Turns(flip=_minutes([run.flip for run in runs]), arrival=_minutes([run.arrival for run in runs]))
    racks = watched_racks(unit, len(drawn) * EACH)
    return _turned(unit, drawn, racks)


def learned_from(unit: Job) -> int | None:
    """Mornings from which the unit's watched rack was learned; None for one known by a delay alone, or of another kind.

    Where a job has threshold and dose and nobody says from how many, it is `FEWEST_MORNINGS`.
    """
    rack = unit.rack
    if rack.kind != "delayed":
        return None
    return rack.flip_mornings or (None if rack.flip_threshold_w_m2 is None else FEWEST_MORNINGS)


def watched_racks(unit: Job, count: int) -> WatchedRacks:
    """Watched racks as the unit's may be, the same every time."""
    rack, shares = unit.rack, latin(count, 9)
    normal = np.clip(norm.ppf(shares[:, :5]), -_FARTHEST_SD, _FARTHEST_SD).T
    own = flip_dose(unit)
    told = rack.flip_threshold_w_m2 is not None and own.threshold_w_m2 > 0
    ratio = own.dose_kj_m2 / own.threshold_w_m2 / KJ_PER_W_MIN if told else DOSE_PER_THRESHOLD_MIN
    learned = learned_from(unit)
    mornings = learned or 1
    delay = ordinary_delay_min(unit) + math.hypot(_WATCH_MIN, DAY_TO_DAY_MIN) / math.sqrt(mornings) * normal[0]
    needed = flip_doses(
        unit,
        delay_min=np.maximum(delay, 0.0),
        dose_per_threshold_min=ratio * np.exp((_TOLD_RATIO_SD if told else _RATIO_SD) * normal[1]),
        air=_air_on_watch(unit, mornings, shares[:, 6:]) if learned else None,
    )
    other = 0.0 if learned else _OTHER_MEAN + _OTHER_SD * normal[4]
    turning = range_of_input("turning")
    return WatchedRacks(
        threshold_w_m2=needed.threshold_w_m2 * np.exp(other),
        dose_kj_m2=needed.dose_kj_m2,
        growth=1 + _GROWTH_SD * normal[2],
        strays_min=math.hypot(DAY_TO_DAY_MIN, _OWN_LAW_MIN if learned else 0.0) * normal[3],
        turning_min=rack.turning_min * np.array([within(turning, share) for share in shares[:, 5]]),
    )


def _air_on_watch(unit: Job, mornings: int, shares: FloatArray) -> AirOnWatch:
    """The air of so many clear mornings in the mean, against its own mean, which `learn` counts; for shares (racks, 3).

    That of several scatters by the root of their number less.
    """
    day = dt.date.fromisoformat(f"{unit.weather.year}-{unit.rack.watched.on}")
    usual = season_air(unit, day)
    haze, warmer, wind = (
        np.interp(share, (0.0, 0.5, 1.0), one) for one, share in zip(clear_ranges(usual), shares.T, strict=True)
    )
    air_c = np.full(len(wind), unit.rack.watched.air_c)
    loss = canister_loss(unit, wind_m_s=wind, air_c=air_c)

    def in_the_mean(each: FloatArray) -> FloatArray:
        return np.asarray((each - each.mean()) / math.sqrt(mornings))

    return AirOnWatch(in_the_mean(haze), in_the_mean(warmer), np.exp(in_the_mean(np.log(loss))))


def light_of_runs(unit: Job, runs: Sequence[Run]) -> RisingLight:
    """What watched racks take up on the last day of each run: arrays (runs, 1440)."""
    parts = []
    for run in runs:
        one = orientation_of(unit, run.scene)
        parts.append(rising_light(unit, run.scene, one))
    return RisingLight(*(np.stack([values[-1] for values in part]) for part in zip(*parts, strict=True)))


def flip_minutes(light: RisingLight, racks: WatchedRacks) -> FloatArray:
    """When each rack flips (racks,), rack n in run n modulo their number; infinite where it does not."""
    run_of = _run_of(light, racks)
    one_sided, threshold, dose = light.one_sided_w_m2[run_of], light.threshold[run_of], light.dose[run_of]
    taken = dose_kj_m2(one_sided, racks.threshold_w_m2[:, None] * threshold ** racks.growth[:, None])
    flip = reached_min(taken, racks.dose_kj_m2[:, None] * dose) + racks.strays_min
    return np.where(flip < MINUTES_A_DAY, np.maximum(flip, 0.0), np.inf)


def _run_of(light: RisingLight, racks: WatchedRacks) -> IndexArray:
    return np.arange(len(racks.growth)) % len(light.sunny)


def _turned(unit: Job, runs: Sequence[Run], racks: WatchedRacks) -> Turns:
    """Every rack on the last day of its run."""
    light = light_of_runs(unit, runs)
    run_of = _run_of(light, racks)
    sun_rotation = light.sun_rotation_deg[run_of]
    rotation = delayed_rotation(
        sun_rotation,
        light.sunny[run_of],
        flip_minutes(light, racks),
        max_rotation_deg=unit.rack.max_rotation_deg,
        turning_min=racks.turning_min,
        lag_deg=unit.rack.lag_deg,
    )
    scene = runs[0].scene
    elevation = scene.by_day(scene.sun.true_elevation_deg)[-1:]
    beam = np.stack([run.scene.beam_w_m2[-1] for run in runs])[run_of]
    found = morning_events(
        rotation_deg=rotation,
        sun_rotation_deg=sun_rotation,
        true_elevation_deg=np.broadcast_to(elevation, rotation.shape),
        beam_w_m2=beam,
        midnight_min=np.broadcast_to(solar_midnight_min(elevation), (len(rotation),)),
        max_rotation_deg=unit.rack.max_rotation_deg,
    )
    return Turns(
        flip=np.where(found.flip >= 0, found.flip, np.inf).astype(float),
        arrival=np.where(found.arrival >= 0, found.arrival, np.inf).astype(float),
    )


def _minutes(told: Sequence[int | None]) -> FloatArray:
    return np.array([np.inf if minute is None else minute for minute in told])
