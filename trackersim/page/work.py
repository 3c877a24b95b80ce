"""The page's simulations, each kept under one key: the hash of everything it depends on."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections import OrderedDict
from collections.abc import Callable
from threading import Lock
from typing import Any

import streamlit as st

from trackersim.job.files import with_overrides
from trackersim.job.model import Job
from trackersim.study.ledger import Ledger, losses_of
from trackersim.study.morning import Morning, explain_morning
from trackersim.study.options import Options, options_of
from trackersim.study.result import Result
from trackersim.study.scene import Scene
from trackersim.study.shade import Shade, shade_of
from trackersim.study.simulate import compare, prepare, simulate

Bar = Callable[[str, float], None]

# What a scene depends on; everything else of a job may change without looking at sun, weather and trees again.
_SCENE_SECTIONS = ("site", "weather", "horizon", "trees")


def scene_key(job: Job) -> str:
    """The key of the job's scene."""
    data = job.model_dump(mode="json", include=set(_SCENE_SECTIONS))
    text = json.dumps([data, job.rack.height_m, str(job.folder)], sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()


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
    """The store of one kind of answer."""
    return Kept(most)


def scene_of(job: Job) -> Scene:
    """Weather, sun and trees of a job."""
    scene: Scene = kept("scene", 3).get(scene_key(job), lambda: prepare(job))
    return scene


def compared(job: Job, bar: Bar) -> dict[str, Result]:
    """The job on every kind of rack."""
    results: dict[str, Result] = kept("compared", 3).get(
        job.sha256(), lambda: compare(job, scene=scene_of(job), progress=bar)
    )
    return results


def one(job: Job) -> Result:
    """The job on its own rack."""
    result: Result = kept("one", 6).get(job.sha256(), lambda: simulate(job, scene=scene_of(job), account=True))
    return result


def rack_only(job: Job) -> Result:
    """The job on its own rack, without the account of stops: the quickest answer to a change of the rack."""
    result: Result = kept("rack", 8).get(job.sha256(), lambda: simulate(job, scene=scene_of(job)))
    return result


def morning_of(job: Job, date: dt.date) -> Morning:
    """One morning of the job."""
    morning: Morning = kept("morning", 4).get(job.sha256() + date.isoformat(), lambda: explain_morning(job, date))
    return morning


def shade_report(job: Job, bar: Bar) -> Shade:
    """What the job's trees do."""
    shade: Shade = kept("shade", 2).get(job.sha256(), lambda: shade_of(job, progress=bar))
    return shade


def losses_report(job: Job, bar: Bar) -> Ledger:
    """Where the job's water went."""
    found: Ledger = kept("losses", 2).get(job.sha256(), lambda: losses_of(job, progress=bar))
    return found


def options_report(job: Job, bar: Bar) -> Options:
    """What could be done about the job."""
    found: Options = kept("options", 2).get(job.sha256(), lambda: options_of(job, progress=bar))
    return found


def varied(job: Job, changes: dict[str, Any]) -> Job:
    """The job with some fields changed."""
    return with_overrides(job, changes) if changes else job
