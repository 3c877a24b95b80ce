"""The page's simulations, each kept under one key: the hash of everything it depends on."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Callable
from typing import Any

import streamlit as st

from trackersim.job.files import with_overrides
from trackersim.job.model import Job
from trackersim.study.morning import Morning, explain_morning
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


@st.cache_resource(max_entries=3, show_spinner=False)
def scene_of(key: str, _job: Job) -> Scene:
    """Weather, sun and trees of a job."""
    return prepare(_job)


@st.cache_resource(max_entries=3, show_spinner=False)
def compared(key: str, _job: Job, _bar: Bar) -> dict[str, Result]:
    """The job on every kind of rack. Results are read only, so visitors with the same job may share them."""
    return compare(_job, scene=scene_of(scene_key(_job), _job), progress=_bar)


@st.cache_resource(max_entries=6, show_spinner=False)
def one(key: str, _job: Job) -> Result:
    """The job on its own rack."""
    return simulate(_job, scene=scene_of(scene_key(_job), _job), account=True)


@st.cache_resource(max_entries=4, show_spinner=False)
def morning_of(key: str, date: dt.date, _job: Job) -> Morning:
    """One morning of the job."""
    return explain_morning(_job, date)


@st.cache_resource(max_entries=2, show_spinner=False)
def shade_report(key: str, _job: Job, _bar: Bar) -> Shade:
    """What the job's trees do."""
    return shade_of(_job, progress=_bar)


def varied(job: Job, changes: dict[str, Any]) -> Job:
    """The job with some fields changed."""
    return with_overrides(job, changes) if changes else job
