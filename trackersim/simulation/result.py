"""`Result`: what one simulation found, minute by minute."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, fields
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

import trackersim
from trackersim.arrays import FloatArray, sealed
from trackersim.constants import MINUTES_A_DAY
from trackersim.errors import Notice
from trackersim.job.model import Job
from trackersim.rack.thermal import ThermalHistory
from trackersim.simulation.day_figures import DayFigures, Provenance, Sums
from trackersim.simulation.generation import Generation
from trackersim.simulation.in_use import ArrayInUse, array_in_use, used_power_w
from trackersim.simulation.pumping import WaterSide
from trackersim.simulation.reuse import not_to_be_written
from trackersim.simulation.scene import Scene
from trackersim.simulation.tracking import Tracking
from trackersim.water.unit_state import minutes_in
from trackersim.weather.weather import Weather

_KILO_HOURS = 1 / 60_000  # energy of a watt in a minute [kWh]


class Stages(NamedTuple):
    """What a result is made of beside its water: the scene, and of each unit its rack's and its array's minutes."""

    scene: Scene
    trackings: tuple[Tracking, ...]
    generations: tuple[Generation, ...]


class MinuteArrays(Mapping[str, FloatArray]):
    """Minute arrays by name, each worked out when it is first asked for. Nobody can write into them."""

    def __init__(self, works: Mapping[str, Callable[[], FloatArray]]) -> None:
        self._works = works
        self._found: dict[str, FloatArray] = {}

    def __getitem__(self, name: str) -> FloatArray:
        if name not in self._found:
            self._found[name] = sealed(self._works[name]())
        return self._found[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._works)

    def __len__(self) -> int:
        return len(self._works)

    def __repr__(self) -> str:
        return f"<minute arrays {', '.join(self)}>"


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Result(DayFigures):
    """One job on one rack over whole days of minutes.

    Minute by minute only the water is worked out at once; of the rest each array when somebody first asks for it, since
    most answers ask a result for its water alone.

    `minutes` holds the arrays (days · 1440,) named as the columns of `series`, of several units the first one's
    angles and voltage and the sums of power and flow. `array_w` is the best power at the array's terminals and
    `input_w` the best at the controller's input: what could be given; `used_w` is what the controller draws, at
    `input_v`; `unit_minutes` what each unit does for itself. `times` are the centres of the minutes at the
    weather's fixed UTC offset, which in a file need not be the site's. `canisters` is None for racks without any.
    """

    times: pd.DatetimeIndex
    stages: Stages
    water: WaterSide
    canisters: ThermalHistory | None = None

    def __getstate__(self) -> dict[str, Any]:
        """What goes to another process or a file: what minutes are worked out of, and not what was worked out."""
        return {each.name: getattr(self, each.name) for each in fields(self)}

    @cached_property
    def unit_minutes(self) -> tuple[Mapping[str, FloatArray], ...]:
        """Minute arrays of each unit."""
        return tuple(self._of_unit(number) for number in range(len(self.stages.generations)))

    def _of_unit(self, number: int) -> MinuteArrays:
        """What one unit does for itself."""
        scene, _, generations = self.stages
        return MinuteArrays(
            {
                "input_w": lambda: scene.spread(generations[number].power.input_w),
                "used_w": lambda: scene.spread(self._in_use[number].used_w),
                "input_v": lambda: scene.spread(self._in_use[number].input_v),
                "flow_m3_s": lambda: self.water.flow_m3_s[number],
                "head_m": lambda: self.water.head_m[number],
            }
        )

    @cached_property
    def minutes(self) -> Mapping[str, FloatArray]:
        """Minute arrays of the whole job: angles and voltage of its first unit, light on the mean module, sums of the
        rest.
        """
        scene, (tracking, *_), generations = self.stages
        units, first = self.unit_minutes, generations[0]

        def total(name: str) -> FloatArray:
            # One unit's own array, and no copy of it: results of a year are large.
            return units[0][name] if len(units) == 1 else np.sum([unit[name] for unit in units], axis=0)

        return MinuteArrays(
            {
                "rotation_deg": lambda: tracking.rotation_deg.ravel(),
                "sun_rotation_deg": lambda: tracking.orientation.sun_rotation_deg,
                "beam_share": lambda: scene.spread(first.shade.over(scene.beam_share)),
                "plane_w_m2": lambda: _plane_w_m2(self.stages, self.job),
                "cell_c": lambda: _cell_c(scene, self._in_use[0]),
                "array_w": lambda: scene.spread(np.asarray(sum(given.power.array_w for given in generations))),
                "input_w": lambda: total("input_w"),
                "used_w": lambda: total("used_w"),
                "input_v": lambda: units[0]["input_v"],
                "flow_m3_s": lambda: total("flow_m3_s"),
                "head_m": lambda: units[0]["head_m"],
            }
        )

    @cached_property
    def _in_use(self) -> tuple[ArrayInUse, ...]:
        scene, _, generations = self.stages
        return tuple(
            array_in_use(unit, scene, given, used_w)
            for unit, given, used_w in zip(self.job.units, generations, self._used_w, strict=True)
        )

    @cached_property
    def _used_w(self) -> tuple[FloatArray, ...]:
        """What each unit's controller draws of its array in sun-up minutes (n,)."""
        scene, _, generations = self.stages
        return tuple(
            used_power_w(unit, power=given.power, motor_w=_by_the_sun(self.water, number)[scene.up])
            for number, (unit, given) in enumerate(zip(self.job.units, generations, strict=True))
        )

    @cached_property
    def daily_water_m3(self) -> FloatArray:
        """Water lifted on each day (days,)."""
        return sealed(self.flow_by_day_m3_s.sum(axis=1) * 60)

    @cached_property
    def flow_by_day_m3_s(self) -> FloatArray:
        """Flow of all units (days, 1440): that of `minutes`, without working out the others."""
        flow = self.water.flow_m3_s
        total: FloatArray = flow[0] if len(flow) == 1 else np.sum(list(flow), axis=0)
        return sealed(total.reshape(self.days, MINUTES_A_DAY))

    def _daily_kwh(self, power_w: Iterable[FloatArray]) -> FloatArray:
        """Energy of each day (days,) from the power of each unit at sun-up minutes (n,)."""
        scene = self.stages.scene
        return np.asarray(scene.by_day(scene.spread(np.asarray(sum(power_w)))).sum(axis=1) * _KILO_HOURS)

    @cached_property
    def daily_light_kwh_m2(self) -> FloatArray:
        """Light on the mean module's plane on each day (days,)."""
        return sealed(self.by_day("plane_w_m2").sum(axis=1) * _KILO_HOURS)

    @property
    def series(self) -> pd.DataFrame:
        """One row a minute: the arrays of `minutes`, from rotation_deg to head_m. Columns may be added to it.

        Its numbers are those of `minutes`; who wants to write into them takes a `copy()`.
        """
        return pd.DataFrame(dict(self.minutes), index=self.times, copy=False)

    def by_day(self, name: str) -> FloatArray:
        """A minute array as (days, 1440)."""
        return self.minutes[name].reshape(self.days, MINUTES_A_DAY)

    @cached_property
    def _days(self) -> pd.DataFrame:
        """What `daily` gives."""
        generations = self.stages.generations
        table: dict[str, Any] = {
            "water_m3": self.daily_water_m3,
            "array_kwh": self._daily_kwh(given.power.array_w for given in generations),
            "input_kwh": self._daily_kwh(given.power.input_w for given in generations),
            "used_kwh": self._daily_kwh(self._used_w),
            "plane_kwh_m2": self.daily_light_kwh_m2,
            "flow_min": (self.flow_by_day_m3_s > 0).sum(axis=1),
            "starts": self.water.starts,
            "cutouts": self.water.cutouts,
        }
        if (store := self.water.store) is not None:
            table["delivered_m3"] = store.delivered_m3
            table["overflow_m3"] = store.overflow_m3
            table["shortfall_m3"] = store.shortfall_m3
            table["stored_m3"] = store.volume_m3[:, -1]
        if (bought_w := self.water.bought_w) is not None:
            table["bought_kwh"] = bought_w.sum(axis=0).reshape(self.days, MINUTES_A_DAY).sum(axis=1) * _KILO_HOURS
        if self.events is not None:
            flip = self.events.flip.astype(float)
            table["flip_after_sunrise_min"] = _gap(flip, self.events.sunrise)
            table["flip_after_first_beam_min"] = _gap(flip, self.events.first_beam)
        return pd.DataFrame(table, index=self.dates.rename("day"))

    @property
    def dates(self) -> pd.DatetimeIndex:
        """The days, without a time zone."""
        return pd.DatetimeIndex(self.times[::MINUTES_A_DAY]).tz_localize(None).normalize()

    @property
    def shortfall_m3(self) -> FloatArray | None:
        """Water that the store lacked on each day (days,); None where it is not followed."""
        return None if self.water.store is None else self.water.store.shortfall_m3

    @cached_property
    def sums(self) -> Sums:
        """What is told beside the days."""
        could, bought_w = self.water.could_m3, self.water.bought_w
        return Sums(
            could_m3_per_day=self.water_m3_per_day if could is None else float(could.mean()),
            unit_water_m3_per_day=tuple(float(flow.sum()) * 60 / self.days for flow in self.water.flow_m3_s),
            unit_state_minutes=tuple(minutes_in(state) for state in self.water.state),
            bought_kwh=None if bought_w is None else float(bought_w.sum()) / 60_000,
        )


def _gap(later: FloatArray, earlier: npt.NDArray[np.int64]) -> FloatArray:
    """Minutes from one event to another, NaN (a blank in the table) where either is missing."""
    return np.where((later >= 0) & (earlier >= 0), later - earlier, np.nan)


def result_of(job: Job, stages: Stages, water: WaterSide, notices: tuple[Notice, ...]) -> Result:
    """The outputs of all stages as one result.

    Parameters
    ----------
    job : Job
        The job simulated.
    stages : Stages
        Its scene, and what each unit's rack and array did.
    water : WaterSide
        What the pumps lifted.
    notices : tuple[Notice, ...]
        What is to be said beside the figures.

    Returns
    -------
    Result
        One job on its racks over whole days of minutes.
    """
    scene, first = stages.scene, stages.trackings[0]
    return Result(
        job=job,
        rack=job.rack.kind,
        times=scene.weather.times,
        stages=not_to_be_written(stages),
        morning=not_to_be_written(first.morning),
        water=not_to_be_written(water),
        notices=notices,
        coldest_c=scene.coldest_c if job.site.design_low_c is None else job.site.design_low_c,
        canisters=not_to_be_written(first.history),
        provenance=_provenance(job, scene.weather),
    )


def _provenance(job: Job, weather: Weather) -> Provenance:
    return Provenance(
        version=trackersim.__version__,
        job_sha256=job.sha256(),
        weather_name=weather.name,
        weather_sha256=weather.sha256,
        first_day=str(weather.times[0].date()),
        last_day=str(weather.times[-1].date()),
    )


def _by_the_sun(water: WaterSide, number: int) -> FloatArray:
    """What the motor of a unit takes while the sun drives it (days · 1440,)."""
    motor_w: FloatArray = water.motor_w[number]
    return motor_w if water.bought_w is None else np.where(water.bought_w[number] > 0, 0.0, motor_w)


def _cell_c(scene: Scene, in_use: ArrayInUse) -> FloatArray:
    """Temperature of the cells (days · 1440,), that of the air at night."""
    cell_c = scene.weather.air_c.copy()
    cell_c[scene.up] = in_use.cell_c
    return cell_c


def _plane_w_m2(stages: Stages, job: Job) -> FloatArray:
    """Light on the mean module's plane (days · 1440,)."""
    modules = np.array([unit.array.module_count for unit in job.units], dtype=float)
    shares = zip(stages.generations, modules / modules.sum(), strict=True)
    return stages.scene.spread(np.asarray(sum(given.light.plane_w_m2 * share for given, share in shares)))
