"""The view of the morning as it moves: a day, a rack, the player, and the same frames as a GIF."""

from __future__ import annotations

import streamlit as st

from trackersim.job.model import Job
from trackersim.page import parts, work
from trackersim.page.player import player
from trackersim.page.state import Desk
from trackersim.report.animation.moving import (
    STEP_MIN,
    WHOLE_DAY_STEP_MIN,
    Frame,
    frames_of,
    gif_of,
    morning_minutes,
    turn_words,
)
from trackersim.simulation.result import Result
from trackersim.units import System

_BY_PHYSICS, _AS_WATCHED = "by physics, with what is in its canisters", "as it was watched"
ASSUMED = (
    "What is in the canisters of a late-turning rack is computed here from assumed values; nobody has measured it. "
    "Their liquid is drawn higher than it stands, so that it can be seen to move."
)


def moving_picture(desk: Desk, system: System) -> None:
    """The morning as it moves, to play, pause, drag and step through, and to save."""
    job = desk.good
    own = work.own_year(job)
    left, right = st.columns([2, 3])
    with left:
        day = parts.day_chosen(own, "moving_date")
    with right:
        shown = _rack_chosen(job)
    if day is None:
        return
    whole_day = st.toggle("The whole day", key="moving_whole")
    with st.spinner("A year of minutes …"):
        result = own if shown is job else work.own_year(shown)
    parts.dangers({result.rack: result})
    frames = frames_kept(shown, result, day, system, whole_day=whole_day)
    parts.lead(turn_words(result, day))
    player(frames, key="moving_player")
    every = WHOLE_DAY_STEP_MIN if whole_day else STEP_MIN
    st.caption(f"A picture every {every} minutes, and more of them while the rack turns.")
    if result.canisters is not None:
        st.text(ASSUMED)

    def gif() -> bytes:
        return gif_of(frames)

    st.download_button("Save it as GIF", gif, "morning.gif", "image/gif", on_click="ignore", key="save_gif")
    parts.cautions()


def frames_kept(job: Job, result: Result, day: int, system: System, *, whole_day: bool) -> tuple[Frame, ...]:
    """The frames of day `day` (from 0) of a job's result, drawn under a progress bar the first time."""
    key = f"{work.key_of(job)}|{day}|{system}|{whole_day}"
    found: tuple[Frame, ...] = work.kept("frames", 6).get(
        key,
        lambda: frames_of(
            result, day, morning_minutes(result, day, whole_day=whole_day), system=system, progress=parts.bar()
        ),
    )
    return found


def _rack_chosen(job: Job) -> Job:
    """The job on the rack to show: one as watched tells nothing of its canisters, the physics does."""
    if job.rack.kind != "delayed":
        return job
    rack = st.radio("The rack", [_BY_PHYSICS, _AS_WATCHED], horizontal=True, key="moving_rack")
    return job if rack == _AS_WATCHED else work.varied(job, {"rack.kind": "thermal"})
