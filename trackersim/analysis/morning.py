"""One morning explained: when the sun rose, reached the rack, turned it, and what the wait cost."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np

from trackersim.analysis.light_moments import light_of_day
from trackersim.clock import iso, on_clock
from trackersim.constants import MINUTES_A_DAY
from trackersim.errors import InputError
from trackersim.job.model import Job
from trackersim.rack.delayed import SUNSHINE_W_M2
from trackersim.simulation.result import Result
from trackersim.simulation.runner import Progress, Runner
from trackersim.simulation.scene import Scene
from trackersim.weather.calendar import DAYS_FIELD, date_of, in_year
from trackersim.weather.load import native_weather

# Days run before the one asked for, so that it begins as the evenings before left the rack.
_DAYS_BEFORE = 3
# Below this height a sunless minute waits for light, above it for the clouds.
_LOW_SUN_DEG = 8.0
_STARTED_DEG = 1.0
# Beam share below which leaves, and not bare branches, stand before the sun.
_LEAFY_SHARE = 0.25
MOMENTS = ("sunrise", "first_beam", "flip", "arrival")
LIGHT = ("first_light", "full_sun")


@dataclass(frozen=True, kw_only=True)
class Morning:
    """A morning of the job's rack beside an ideal one.

    `moments` holds the minute of the day of sunrise, first_beam, flip and arrival, and of first_light and full_sun as
    a cloudless morning has them (`light_moments`); None where it does not happen.
    `waited_min` are the minutes from sunrise to the flip (or the whole day, if there is none) spent waiting for light,
    cloud, trees and warmth; `waited_for` is the largest of them, "" for racks that wait for nothing. Canister
    temperatures are pairs west, east [°C] at sunrise, at the start of the swing and at the flip, None without
    canisters. Losses count from sunrise to arrival against an ideal rack on this morning; of the water,
    `caught_up_m3` is made good later the same day, by a sump that has kept it or a tank that has room for it.
    """

    own: Result
    ideal: Result
    day: int
    moments: Mapping[str, int | None]
    waited_min: Mapping[str, int]
    waited_for: str
    canister_c: Mapping[str, tuple[float, float] | None]
    air_at_sunrise_c: float | None
    water_lost_m3: float
    caught_up_m3: float
    energy_lost_kwh: float

    @property
    def date(self) -> dt.date:
        """The day explained, in the weather's own calendar."""
        date: dt.date = self.own.times[self.day * MINUTES_A_DAY].date()
        return date

    def moment(self, name: str) -> dt.datetime | None:
        """A moment as a time of the site's clock: its zone if the job names one, else standard time."""
        minute = self.moments[name]
        if minute is None:
            return None
        # The minute counts from its beginning; its sample stands at its centre.
        time = self.own.times[self.day * MINUTES_A_DAY + minute].floor("min")
        stamp: dt.datetime = on_clock(self.own.job.site, time).to_pydatetime()
        return stamp

    @property
    def began_east(self) -> bool:
        """Whether the evening before left the rack east of centre, so that it has no turn to wait for."""
        return _began_east(self.own, self.day, self.moments)

    def between(self, earlier: str, later: str) -> int | None:
        """Minutes from one moment to a later one; None if either is missing or they come the other way round."""
        first, second = self.moments[earlier], self.moments[later]
        if first is None or second is None or second < first:
            return None  # a rack that the sky alone has warmed may turn before the sun reaches it
        return second - first

    def summary(self) -> dict[str, Any]:
        """The answer as plain data in SI units."""
        stamps = {name: iso(self.moment(name)) for name in (*MOMENTS, *LIGHT)}
        steps = [("sunrise", "first_beam"), ("first_beam", "flip"), ("flip", "arrival")]
        return {
            "date": self.date.isoformat(),
            **stamps,
            "minutes": {f"{a}_to_{b}": self.between(a, b) for a, b in steps},
            "waited_for": self.waited_for or None,
            "waited_min": dict(self.waited_min),
            "canister_c": {name: list(pair) if pair else None for name, pair in self.canister_c.items()},
            "water_lost_m3": self.water_lost_m3,
            "caught_up_m3": self.caught_up_m3,
            "energy_lost_kwh": self.energy_lost_kwh,
            "rack": self.own.rack,
            "notices": [str(notice) for notice in self.own.notices],
            "provenance": dict(vars(self.own.provenance)),
        }


def explain_morning(job: Job, date: dt.date, *, progress: Progress | None = None) -> Morning:
    """Explain the morning of `date` at the job's rack.

    Typical years and clear skies stand on the calendar year of the job's weather: any year may be asked for. Raises
    `InputError` if the weather does not cover the day.
    """
    runner = _runner_of(job, date_of(date, "date"))
    scene = runner.scene()
    results = runner.racks([job.rack.kind, "ideal"], progress=progress)
    own, ideal = results[job.rack.kind], results["ideal"]
    day = own.days - 1
    moments = _moments(own, day)
    waited = _waited_min(own, scene, day, moments)
    until = _until(own, day, moments)
    window = slice(day * MINUTES_A_DAY + (moments["sunrise"] or 0), day * MINUTES_A_DAY + until)
    energy_lost = float((ideal.minutes["array_w"] - own.minutes["array_w"])[window].sum()) / 60_000
    water_lost_m3, caught_up_m3 = _water_lost(runner, own, ideal, window)
    midnight = own.times[day * MINUTES_A_DAY]
    light = light_of_day(job, midnight.date(), midnight.tzinfo)  # a file's clock need not be the site's
    longest = max(waited, key=waited.__getitem__)
    sunrise = moments["sunrise"]
    return Morning(
        own=own,
        ideal=ideal,
        day=day,
        moments={**moments, "first_light": light.first_light, "full_sun": light.full_sun},
        waited_min=MappingProxyType(waited),
        waited_for=longest if waited[longest] > 0 else "",
        canister_c={
            "sunrise": _canisters(own, day, moments["sunrise"]),
            "swing": _canisters(own, day, _swing_min(own, day, moments)),
            "flip": _canisters(own, day, moments["flip"]),
        },
        air_at_sunrise_c=None if sunrise is None else float(scene.by_day(scene.weather.air_c)[day, sunrise]),
        water_lost_m3=water_lost_m3,
        caught_up_m3=caught_up_m3,
        energy_lost_kwh=energy_lost,
    )


def _water_lost(runner: Runner, own: Result, ideal: Result, window: slice) -> tuple[float, float]:
    """Water lost in the minutes of `window` [m³], and how much of it comes later the same day.

    Held against each other are two days that begin alike, so that sump and tank do: one on which the rack follows at
    once, and one on which it does so after the window. What lag the rack has after its turn is no loss of the morning.
    """
    if window.start >= window.stop:
        return 0.0, 0.0
    if own.job.unit:  # racks that differ have no one path
        prompt, after = ideal, own
    else:
        prompt, after = (_following(runner, own, ideal, slice(start, None)) for start in (window.start, window.stop))
    missing = prompt.minutes["flow_m3_s"] - after.minutes["flow_m3_s"]
    lost_m3 = float(missing[window].sum()) * 60
    return lost_m3, lost_m3 - float(missing[window.start :].sum()) * 60


def _following(runner: Runner, own: Result, ideal: Result, minutes: slice) -> Result:
    """The own rack's days with these minutes of the last as an ideal rack has them."""
    path = own.minutes["rotation_deg"].copy()
    path[minutes] = ideal.minutes["rotation_deg"][minutes]
    return runner.run(rotation_deg=path.reshape(own.days, MINUTES_A_DAY))


def day_of(result: Result, date: dt.date) -> int:
    """The day (from 0) of `date` in a result; typical years and clear skies stand for any year.

    Raises `InputError` if the result does not hold it.
    """
    days = [stamp.date() for stamp in result.times[::MINUTES_A_DAY]]
    asked = date = date_of(date, "date")
    if date not in days and native_weather(result.job).typical:
        asked = in_year(date, days[0].year)
    if asked not in days:
        raise InputError.of("date", str(date), "is not in the weather.", f"It covers {days[0]} to {days[-1]}.")
    return days.index(asked)


def _runner_of(job: Job, date: dt.date) -> Runner:
    """The day and those before it that there are, within one calendar year: a typical year has no year before."""
    first = dt.date.fromordinal(max(date.toordinal() - _DAYS_BEFORE, date.replace(month=1, day=1).toordinal()))
    weather = native_weather(job)
    begin = weather.times[0].date()
    if not weather.typical and date >= begin:
        first = max(first, begin)
    remedy = "Give a day that the weather file covers; a typical year or a clear sky covers any."
    try:
        runner = Runner(job, first_day=first, last_day=date)
        scene = runner.scene()
    except InputError as error:
        if error.faults[0].field != DAYS_FIELD:
            raise
        covers = error.faults[0].remedy.split(";")[0]
        raise InputError.of("date", str(date), "is not in the weather.", f"{covers}. {remedy}") from None
    last = scene.weather.times[-1].date()
    if last != in_year(date, last.year):
        raise InputError.of("date", str(date), f"is not in the weather, which ends on {last}.", remedy)
    return runner


def _moments(result: Result, day: int) -> dict[str, int | None]:
    turning = () if result.events is None else ("flip", "arrival")
    found = {name: int(getattr(result.morning, name)[day]) for name in ("sunrise", "first_beam", *turning)}
    return {name: (found[name] if found.get(name, -1) >= 0 else None) for name in MOMENTS}


def _swing_min(result: Result, day: int, moments: Mapping[str, int | None]) -> int | None:
    """Minute in which the rack leaves its rest for the turn east; None on days without a flip."""
    sunrise, flip = moments["sunrise"], moments["flip"]
    if sunrise is None or flip is None:
        return None
    path = result.by_day("rotation_deg")[day, sunrise : flip + 1]
    return sunrise + int(np.flatnonzero(path >= path[0] - _STARTED_DEG)[-1])


def _until(result: Result, day: int, moments: Mapping[str, int | None]) -> int:
    """The minute at which the wait is over: arrival, else the day's last light; sunrise for racks that never wait."""
    if result.events is None or _began_east(result, day, moments):
        return moments["sunrise"] or 0
    arrival = moments["arrival"]
    if arrival is not None:
        return arrival
    light = np.flatnonzero(result.by_day("plane_w_m2")[day] > 0)
    return int(light[-1]) + 1 if len(light) else 0


def _began_east(result: Result, day: int, moments: Mapping[str, int | None]) -> bool:
    """Whether the evening before left the rack east of centre, so that it has no turn to wait for."""
    sunrise = moments["sunrise"]
    return sunrise is not None and bool(result.by_day("rotation_deg")[day, sunrise] <= 0)


def _waited_min(result: Result, scene: Scene, day: int, moments: Mapping[str, int | None]) -> dict[str, int]:
    """Minutes from sunrise to the flip spent waiting for each thing."""
    start = moments["sunrise"]
    thermal = result.job.rack.thermal
    stuck = result.rack == "thermal" and thermal.stuck
    if start is None or result.events is None or stuck or _began_east(result, day, moments):
        return {"light": 0, "cloud": 0, "trees": 0, "warmth": 0}
    flip = moments["flip"]
    window = slice(start, flip if flip is not None else _until(result, day, moments))
    open_beam = scene.by_day(scene.weather.dni_w_m2)[day, window]
    share = result.by_day("beam_share")[day, window]
    sunny, on_rack = open_beam >= SUNSHINE_W_M2, open_beam * share >= SUNSHINE_W_M2
    low = scene.by_day(scene.sun.true_elevation_deg)[day, window] < _LOW_SUN_DEG
    # A low sun behind leaves or a hill waits for those, however dim it still is; bare branches let it through. So does
    # a high one: what leaves let through of it may pass for sunshine, but it warms no canister to a turn. In the first
    # minutes of a sunrise the sun's centre is still down and nothing has a share: they are no tree's.
    leafy = (share < _LEAFY_SHARE) & scene.by_day(scene.sun.is_up)[day, window]
    trees = (sunny & (leafy | ~on_rack)) | (low & leafy)
    return {
        "light": int((~sunny & low & ~trees).sum()),
        "cloud": int((~sunny & ~low).sum()),
        "trees": int(trees.sum()),
        "warmth": int((on_rack & ~trees).sum()),
    }


def _canisters(result: Result, day: int, minute: int | None) -> tuple[float, float] | None:
    if result.canisters is None or minute is None:
        return None
    west, east = result.canisters.canister_c[:, day, minute].tolist()
    return west, east
