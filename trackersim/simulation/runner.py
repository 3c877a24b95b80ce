"""The order of the chain, and the only module that knows it: scene → tracking → generation → water.

Every stage is kept under the sections of the job that it reads and under the stages before it, so that a changed job
works out anew only what the change can touch: another delay leaves sun, weather, trees and the ideal rack as they are,
another price leaves everything.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from typing import Any, TypeVar

import pandas as pd

from trackersim.arrays import FloatArray
from trackersim.errors import InputError
from trackersim.job.files import with_overrides
from trackersim.job.folders import path_in
from trackersim.job.model import Job
from trackersim.simulation.backup import pump_with_backup
from trackersim.simulation.generation import Generation, generate
from trackersim.simulation.notices import result_notices
from trackersim.simulation.orientation import axis_of
from trackersim.simulation.processes import cores
from trackersim.simulation.pump_station import PumpStation, pump_station
from trackersim.simulation.pumping import WaterSide, pump
from trackersim.simulation.result import Result, Stages, result_of
from trackersim.simulation.reuse import StageCache
from trackersim.simulation.scene import Place, Scene, native_of, place_of, scene_at
from trackersim.simulation.tickets import Queue, current_ticket
from trackersim.simulation.tracking import Tracking, track
from trackersim.weather.load import where_is
from trackersim.weather.weather import Weather

T = TypeVar("T")
Progress = Callable[[str, float], None]

RACKS: tuple[str, ...] = ("fixed", "delayed", "thermal", "ideal")

# Simulations of this process that work at once, whoever asks: each needs memory, and more than there are cores is no
# faster.
QUEUE = Queue(max(cores(), 1))


class CancelledError(Exception):
    """The simulation was called off."""


class Runner:
    """Simulates a job and changed versions of it over the same days.

    `weather` stands in for the job's own, as in `make_scene`. `cache` may be shared between runners. `cancelled` is
    asked between stages: once it says true, runs end with `CancelledError`. `threads` bounds the runs that `run_all`
    works on side by side; None for the cores at hand. Its simulations wait with the ticket of the question that its
    thread works on (`tickets.holding`).
    """

    def __init__(
        self,
        job: Job,
        *,
        first_day: dt.date | None = None,
        last_day: dt.date | None = None,
        weather: Weather | pd.DataFrame | None = None,
        cache: StageCache | None = None,
        cancelled: Callable[[], bool] | None = None,
        threads: int | None = None,
    ) -> None:
        self.job = _checked_job(job)
        self._threads = cores() if threads is None else threads
        self._days = (first_day, last_day)
        self._weather = None if weather is None else native_of(job, weather)
        self._cache = StageCache() if cache is None else cache
        self._cancelled = cancelled or (lambda: False)
        self._ticket = current_ticket() or QUEUE.new()

    @property
    def made(self) -> Mapping[str, int]:
        """How often each stage was worked out."""
        return self._cache.made

    def run(
        self, job: Job | None = None, *, scene: Scene | None = None, rotation_deg: FloatArray | None = None
    ) -> Result:
        """The result of a job, this runner's own by default. Raises `InputError` as `make_scene` does.

        `scene` stands in for the job's own, at the same site; `rotation_deg` (days, 1440) for what its racks would do
        by themselves.
        """
        job = self.job if job is None else _checked_job(job)
        with self._slot():
            scene = self._scene(job) if scene is None else _checked_scene(scene, job)
            trackings, generations, keys = [], [], []
            for unit in job.units:
                self._check()
                tracking, key = self._tracking(unit, scene, rotation_deg)
                trackings.append(tracking)
                self._check()
                given, key = self._generation(unit, scene, tracking, key)
                generations.append(given)
                keys.append(key)
            self._check()
            water = self._water(job, scene, generations, keys)
            stages = Stages(scene, tuple(trackings), tuple(generations))
            return result_of(job, stages, water, result_notices(job, stages, self._station(job), water))

    def run_all(self, jobs: Sequence[Job], *, each: Callable[[float], None] | None = None) -> list[Result]:
        """The results of several jobs, worked out side by side; `each` hears the share that is done."""
        return self.of_each(jobs, lambda result: result, each=each)

    def of_each(
        self, jobs: Sequence[Job], take: Callable[[Result], T], *, each: Callable[[float], None] | None = None
    ) -> list[T]:
        """What `take` gives of the result of each job, so that the minutes of all are never there at once."""
        # Thermal racks take longest: begun first, they have nobody wait for them in the end.
        order = sorted(range(len(jobs)), key=lambda number: jobs[number].rack.kind != "thermal")
        taken: dict[int, T] = {}
        with ThreadPoolExecutor(max_workers=max(min(len(jobs), self._threads), 1)) as pool:
            found = pool.map(lambda number: take(self.run(jobs[number])), order)
            for number, one in zip(order, found, strict=True):
                taken[number] = one
                if each is not None:
                    each(len(taken) / len(jobs))
        return [taken[number] for number in range(len(jobs))]

    def racks(self, kinds: Sequence[str] | None = None, *, progress: Progress | None = None) -> dict[str, Result]:
        """The job on each kind of rack, by default `kinds_of` it; on its own kind as it stands, units on theirs."""
        kinds = kinds_of(self.job) if kinds is None else [kinds] if isinstance(kinds, str) else kinds
        if not isinstance(kinds, Sequence):
            raise InputError.of("kinds", kinds, "is no list of kinds of rack.", 'Write ["fixed", "ideal"].')
        return dict(zip(kinds, self.worked(jobs_on(self.job, kinds), progress), strict=True))

    def worked(self, jobs: Sequence[Job], progress: Progress | None) -> list[Result]:
        """The results of several jobs that share much of the scene of this runner's own; `progress` hears of them."""
        tell = progress or (lambda words, share: None)
        tell("weather, sun and trees", 0.0)
        self.scene(self.job)
        found = self.run_all(jobs, each=lambda share: tell("one rack after the other", 0.2 + 0.8 * share))
        tell("done", 1.0)
        return found

    def pumped(self, job: Job, input_w: Sequence[FloatArray]) -> WaterSide:
        """Water of a job whose arrays give its controllers `input_w`, one array (n,) a unit, whatever its racks do."""
        with self._slot():
            return self._pumped(job, self._scene(job), input_w)

    def scene(self, job: Job | None = None) -> Scene:
        """The scene of a job."""
        with self._slot():
            return self._scene(self.job if job is None else job)

    def _scene(self, job: Job) -> Scene:
        place, site = self._place(job), job.site
        view = (job.trees, job.horizon, job.rack.height_m)
        ground = (site.slope_deg, site.downhill_deg, site.magnetic_declination_deg, site.ground_albedo)
        key = (place.key, view, ground)
        found: Scene = self._get("scene", key, lambda: scene_at(job, place, key=key, reuse=self._get))
        return found

    def tracking(self, job: Job | None = None) -> Tracking:
        """What the rack of a job does (of several units the first), without light on it or water."""
        job = self.job if job is None else job
        with self._slot():
            return self._tracking(job.units[0], self._scene(job), None)[0]

    def _place(self, job: Job) -> Place:
        native = native_of(job) if self._weather is None else self._weather
        site = job.site
        # Where a height comes from is told beside the weather: a height left out is another key than the same height.
        file = (native.sha256, native.name, str(native.times[0]), native.step_min)
        cloudless = job.weather.model_copy(update={"seed": 0, "minutes": "smooth"})
        where = (*where_is(job).values(), site.elevation_m, site.utc_offset_h, *self._days)
        key, without_clouds = (file, job.weather, where), (file, cloudless, where)
        first, last = self._days

        def made() -> Place:
            keys = {"key": key, "key_without_clouds": without_clouds}
            return place_of(job, native, first_day=first, last_day=last, **keys, reuse=self._get)

        place: Place = self._get("place", key, made)
        return place

    def _tracking(self, unit: Job, scene: Scene, rotation_deg: FloatArray | None) -> tuple[Tracking, Hashable]:
        if rotation_deg is not None:
            return track(unit, scene, rotation_deg=rotation_deg, reuse=self._get), object()
        # Of the array a thermal rack in the wind reads the size.
        sail = unit.array if unit.rack.kind == "thermal" and unit.rack.thermal.wind_upset else None
        key = (scene.key, axis_of(unit), unit.rack.turned_by, sail, _log_stamp(unit))
        found: Tracking = self._get("tracking", key, lambda: track(unit, scene, reuse=self._get))
        return found, key

    def _generation(
        self, unit: Job, scene: Scene, tracking: Tracking, tracking_key: Hashable
    ) -> tuple[Generation, Hashable]:
        key = (tracking_key, unit.rack.height_m, unit.array, unit.wire, unit.controller)
        found: Generation = self._get("generation", key, lambda: generate(unit, scene, tracking, reuse=self._get))
        return found, key

    def _station(self, job: Job) -> PumpStation:
        found: PumpStation = self._get("pump station", _station_key(job), lambda: pump_station(job))
        return found

    def _water(self, job: Job, scene: Scene, generations: Sequence[Generation], keys: Sequence[Hashable]) -> WaterSide:
        key = (tuple(keys), _station_key(job), job.store, job.backup)
        input_w = [given.power.input_w for given in generations]
        found: WaterSide = self._get("water", key, lambda: self._pumped(job, scene, input_w))
        return found

    def _pumped(self, job: Job, scene: Scene, input_w: Sequence[FloatArray]) -> WaterSide:
        pumped = pump if job.backup is None else pump_with_backup
        return pumped(job, scene, input_w, station=self._station(job))

    def _get(self, stage: str, key: Hashable, work: Callable[[], Any]) -> Any:
        return self._cache.get(stage, key, work)

    def _check(self) -> None:
        if self._cancelled():
            raise CancelledError

    @contextmanager
    def _slot(self) -> Iterator[None]:
        """A place among the simulations that run at once."""
        with QUEUE.place(self._ticket, self._check):
            yield


def _checked_job(job: Job) -> Job:
    if not isinstance(job, Job):
        raise InputError.of("job", job, "is no job.", "Read it: load_job(FILE).")
    return job


def _checked_scene(scene: Scene, job: Job) -> Scene:
    """The scene, if it is one and of the job's site. Weather and trees may be others on purpose: skies as somebody saw
    them, and trees as they may be, are asked about in this way.
    """
    if not isinstance(scene, Scene):
        raise InputError.of("scene", scene, "is no scene.", "Make it: make_scene(job).")
    if scene.site is None:
        return scene
    for name in ("latitude_deg", "longitude_deg", "elevation_m", "standard_offset_h"):
        own, its = getattr(job.site, name), getattr(scene.site, name)
        if its != own:
            reason = f"is of another site: its {name} is {its}, and the job's is {own}."
            raise InputError.of("scene", None, reason, "Make it for this job: make_scene(job).")
    return scene


def kinds_of(job: Job) -> tuple[str, ...]:
    """The kinds of rack that a job is compared on: all that need no log, and its own.

    Parameters
    ----------
    job : Job
        A job.

    Returns
    -------
    tuple[str, ...]
        `RACKS`, before them a logged rack where the job has one.
    """
    return RACKS if job.rack.kind in RACKS else (job.rack.kind, *RACKS)


def jobs_on(job: Job, kinds: Sequence[str]) -> list[Job]:
    """A job on each kind of rack.

    Parameters
    ----------
    job : Job
        A job.
    kinds : Sequence[str]
        Kinds of rack.

    Returns
    -------
    list[Job]
        On its own kind the job as it stands, with units on racks of their own.
    """
    return [job if kind == job.rack.kind else on_rack(job, kind) for kind in kinds]


def on_rack(job: Job, kind: str) -> Job:
    """The job with every rack of this kind.

    Parameters
    ----------
    job : Job
        A job.
    kind : str
        Kind of rack.

    Returns
    -------
    Job
        The same job where it has one rack of this kind already.
    """
    return job if job.rack.kind == kind and not job.unit else with_overrides(job, {"rack.kind": kind})


def simulate(
    job: Job,
    *,
    weather: Weather | pd.DataFrame | None = None,
    first_day: dt.date | None = None,
    last_day: dt.date | None = None,
    scene: Scene | None = None,
    rotation_deg: FloatArray | None = None,
) -> Result:
    """Simulate a job on its own rack.

    Parameters
    ----------
    job : Job
        As `load_job` gives it.
    weather : Weather | pd.DataFrame | None
        In place of the job's own: a `Weather`, or a table with pvlib's column names, a time-zone-aware index and
        `attrs["stamp"]` that says what its times mean (`weather.frame.weather_from_frame`); None for the job's.
    first_day : dt.date | None
        First day of the weather to simulate; None for the first there is.
    last_day : dt.date | None
        Last day to simulate, itself included; None for the last there is.
    scene : Scene | None
        In place of the job's own, with its own weather, trees and days, at the same site; None for that.
    rotation_deg : FloatArray | None
        Shape (days, 1440) [degrees], + west, within the stops and finite at night too, in place of what the rack would
        do by itself; None for that.

    Returns
    -------
    Result
        What was found, minute by minute, with notices and provenance.

    Raises
    ------
    InputError
        For input that shows itself impossible only now, such as a weather file of another hemisphere, and for the scene
        of another site.
    """
    if scene is not None and not (weather is None and first_day is None and last_day is None):
        remedy = "Leave weather, first_day and last_day out, or give them to make_scene."
        raise InputError.of("scene", None, "has its own weather and days; others were given beside it.", remedy)
    runner = Runner(job, first_day=first_day, last_day=last_day, weather=weather)
    return runner.run(scene=scene, rotation_deg=rotation_deg)


def compare(
    job: Job,
    *,
    kinds: Sequence[str] | None = None,
    weather: Weather | pd.DataFrame | None = None,
    first_day: dt.date | None = None,
    last_day: dt.date | None = None,
    progress: Progress | None = None,
) -> dict[str, Result]:
    """Simulate a job on each kind of rack.

    Parameters
    ----------
    job : Job
        As `load_job` gives it.
    kinds : Sequence[str] | None
        Kinds of rack, each simulated; None for fixed, delayed, thermal and ideal, and a logged one that the job has.
    weather : Weather | pd.DataFrame | None
        In place of the job's own: a `Weather`, or a table with pvlib's column names, a time-zone-aware index and
        `attrs["stamp"]` that says what its times mean (`weather.frame.weather_from_frame`); None for the job's.
    first_day : dt.date | None
        First day of the weather to simulate; None for the first there is.
    last_day : dt.date | None
        Last day to simulate, itself included; None for the last there is.
    progress : Progress | None
        Hears what is being done and the share that is done; None for nobody.

    Returns
    -------
    dict[str, Result]
        A result for each kind.

    Raises
    ------
    InputError
        As `simulate` does.
    """
    runner = Runner(job, first_day=first_day, last_day=last_day, weather=weather)
    return runner.racks(kinds, progress=progress)


def _log_stamp(unit: Job) -> Hashable:
    """What tells the file of a rack's angles from another, and from what it held before."""
    path = path_in(unit.folder, unit.rack.log) if unit.rack.kind == "logged" else None
    try:
        stat = path.stat() if path else None
    except OSError:  # the stage says what is wrong with it
        stat = None
    return (path, stat.st_ino, stat.st_size, stat.st_mtime_ns) if stat else None


def _station_key(job: Job) -> Hashable:
    """What pumps and pipes are made of, and what decides when they run."""
    return job.main, tuple((u.controller, u.wire, u.pump, u.pipes, u.source) for u in job.units)
