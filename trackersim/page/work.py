"""The page's simulations, each kept under one key: the hash of everything it depends on."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import replace
from threading import Lock
from typing import Any

import streamlit as st

from trackersim.analysis.losses import Ledger, losses_of
from trackersim.analysis.morning import Morning, explain_morning
from trackersim.analysis.options import Options, options_of
from trackersim.analysis.tree_shading import Shade, shade_of
from trackersim.errors import InputError
from trackersim.job.economics import Money
from trackersim.job.files import with_overrides
from trackersim.job.folders import path_in
from trackersim.job.model import Job
from trackersim.simulation.outlook import behind
from trackersim.simulation.result import Result
from trackersim.simulation.runner import RACKS, compare, prepare, simulate
from trackersim.simulation.scene import Scene

Bar = Callable[[str, float], None]


class Kept:
    """The last few answers under their keys, shared by all visitors; they are read only.

    Streamlit's own caches record what is drawn while they fill, so a progress bar could not be told anything there.
    """

    def __init__(self, most: int) -> None:
        self._most, self._lock = most, Lock()
        self._answers: OrderedDict[str, Any] = OrderedDict()

    def get(self, key: str, work: Callable[[], Any]) -> Any:
        """The answer under `key`, worked out if it is not there."""
        with self._lock:
            if key in self._answers:
                self._answers.move_to_end(key)
                return self._answers[key]
        answer = work()
        with self._lock:
            self._answers[key] = answer
            while len(self._answers) > self._most:
                self._answers.popitem(last=False)
        return answer


@st.cache_resource
def kept(kind: str, most: int) -> Kept:
    """The store of one kind of answer. A year of minutes on one rack is 65 MB (an answer on trees holds four)."""
    return Kept(most)


def key_of(job: Job) -> str:
    """The key of all that is told of a job: its canonical text, and the bytes of a weather file it names.

    Two visitors may bring different files of the same name.
    """
    return hashlib.sha256((job.canonical_text() + _weather_hash(job)).encode()).hexdigest()


def _year_key(job: Job) -> str:
    """The key of a simulated year, on which neither options nor money have any bearing."""
    return key_of(job.model_copy(update={"option": (), "money": Money()}).in_folder(job.folder))


def _for(job: Job, result: Result) -> Result:
    """A kept result as one of `job`, which may differ in its money and options and lie in another folder."""
    if result.job is job:
        return result
    return replace(result, job=job, provenance=replace(result.provenance, job_sha256=job.sha256()))


def _weather_hash(job: Job) -> str:
    name = job.weather.file
    if not name or name.startswith("sample:"):
        return ""
    path = path_in(job.folder, name)
    try:
        return hashlib.sha256(path.read_bytes() if path else b"").hexdigest()
    except OSError:
        raise InputError.of("weather.file", name, "is gone.", 'Bring it again under "Files".') from None


def _under(job: Job, *sections: str) -> str:
    """The key of what depends on these sections of a job alone."""
    data = job.model_dump(mode="json", include=set(sections))
    return hashlib.sha256((json.dumps(data, sort_keys=True) + _weather_hash(job)).encode()).hexdigest()


def scene_of(job: Job) -> Scene:
    """Weather, sun and trees of a job. Other trees or hills do not read the weather or follow the sun again."""
    place = _under(job, "site", "weather")
    things = _under(job, "site", "weather", "trees", "horizon") + f"{job.rack.height_m:.12g}"
    some_scene: Scene = kept("place", 2).get(place, lambda: prepare(job))
    scene: Scene = kept("scene", 4).get(things, lambda: behind(some_scene, job))
    return scene


def own_year(job: Job) -> Result:
    """The job on its own rack."""
    result: Result = kept("own", 5).get(_year_key(job), lambda: simulate(job, scene=scene_of(job)))
    return _for(job, result)


def compared(job: Job, bar: Bar) -> dict[str, Result]:
    """The job on every kind of rack."""
    own = own_year(job)
    others: dict[str, Result] = kept("others", 1).get(
        _year_key(job),
        lambda: compare(
            job, kinds=[kind for kind in RACKS if kind != job.rack.kind], scene=scene_of(job), progress=bar
        ),
    )
    return {
        kind: own if kind == job.rack.kind else _for(varied(job, {"rack.kind": kind}), others[kind]) for kind in RACKS
    }


def ideal_year(job: Job) -> Result:
    """The job on a rack that follows the sun at once."""
    return own_year(varied(job, {"rack.kind": "ideal"}))


def open_sky_year(job: Job) -> Result | None:
    """The job on its own rack without its trees; None if it has none."""
    return own_year(varied(job, {"trees": []})) if job.trees else None


def morning_of(job: Job, date: dt.date) -> Morning:
    """One morning of the job."""
    morning: Morning = kept("morning", 4).get(key_of(job) + date.isoformat(), lambda: explain_morning(job, date))
    return morning


def shade_report(job: Job, bar: Bar) -> Shade:
    """What the job's trees do."""
    shade: Shade = kept("shade", 1).get(key_of(job), lambda: _to_the_end(bar, lambda: shade_of(job, progress=bar)))
    return shade


def losses_report(job: Job, bar: Bar) -> Ledger:
    """Where the job's water went."""
    found: Ledger = kept("losses", 1).get(key_of(job), lambda: _to_the_end(bar, lambda: losses_of(job, progress=bar)))
    return found


def options_report(job: Job, bar: Bar) -> Options:
    """What could be done about the job."""
    found: Options = kept("options", 1).get(
        key_of(job), lambda: _to_the_end(bar, lambda: options_of(job, progress=bar))
    )
    return found


def _to_the_end(bar: Bar, work: Callable[[], Any]) -> Any:
    """What `work` gives; the bar is gone whether it is told the end or not."""
    try:
        return work()
    finally:
        bar("done", 1.0)


def varied(job: Job, changes: dict[str, Any]) -> Job:
    """The job with some fields changed."""
    return with_overrides(job, changes) if changes else job
