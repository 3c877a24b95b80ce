"""Morning: one morning played on the job's own rack, beside the one that would have turned at once; then its clock."""

from __future__ import annotations

import streamlit as st

from trackersim.analysis.losses import LATE, rack_cause
from trackersim.errors import InputError
from trackersim.job.files import with_overrides
from trackersim.job.model import Job
from trackersim.page import parts, work
from trackersim.page.blocks import show_answer
from trackersim.page.downloads import download
from trackersim.page.figures_shown import steps_in, told
from trackersim.page.player import player
from trackersim.page.state import Desk
from trackersim.page.strip import ViewState, shown_job
from trackersim.report.animation.moving import (
    STEP_MIN,
    WHOLE_DAY_STEP_MIN,
    Frame,
    frames_of,
    gif_of,
    morning_minutes,
    turn_words,
)
from trackersim.report.morning import chosen_words, morning_answer
from trackersim.report.site_losses import added_up
from trackersim.simulation.result import Result
from trackersim.units import System

_AS_WATCHED, _BY_PHYSICS = "as it was watched", "by physics, with what is in its canisters"
ASSUMED = (
    "What is in the canisters of a late-turning rack is computed here from assumed values; nobody has measured it. "
    "Their liquid is drawn higher than it stands, so that it can be seen to move."
)


def draw(desk: Desk, view: ViewState) -> None:
    """The morning of the day that is looked at, or of one that explains the loss."""
    job, system = shown_job(desk, view), view.system
    look = work.first_look_of(job)
    date = look.day_shown(view.day)
    day = (date - look.first_day).days
    words = st.container()
    left, right = st.columns([5, 6], gap="large")
    picture, choices = left.container(), left.container()
    with choices:
        shown = _rack_chosen(job)
        whole_day = st.toggle("The whole day", key="morning_whole")
    with picture, st.spinner("A year of minutes …"):
        result = work.own_year(shown)
        prompt = None if shown.rack.kind == "ideal" else work.ideal_year(shown)
    with words:
        parts.lead(turn_words(result, day))
        if view.day != date:
            st.text(f"{chosen_words(look)} Another day is chosen above.")
        if prompt is not None:
            whole = look.lost_m3[day] if job.trees and shown == job else None
            st.text(_lost_words(result, prompt, day, system, rack_and_trees_m3=whole))
    with picture:
        frames = frames_kept(shown, result, prompt, day, system, whole_day=whole_day)
        player(frames, key="morning_player")
    with choices:
        _below(frames, result, whole_day=whole_day)
    with right:
        st.header("The clock of that morning")
        try:
            with st.spinner("That morning …"):
                found = work.morning_of(job, date)
        except InputError as error:
            parts.faults(error.faults)
            return
        show_answer(morning_answer(found, system))


def _lost_words(
    result: Result, prompt: Result, day: int, system: System, *, rack_and_trees_m3: float | None = None
) -> str:
    """The water of that day, and of the same day on the rack that turned at once, in whole steps that add up.

    `rack_and_trees_m3` is what the calendar of the first screen shows for that day, named beside the lesser figure.
    """
    steps = steps_in(system)
    own, at_once = (float(each.daily_water_m3[day]) for each in (result, prompt))
    whole, lifted, gap = added_up((own, at_once - own), step=steps.m3)
    late = rack_cause(result.job) == LATE
    prompt_words = "had it turned at once" if late else "on a rack that follows the sun"
    lost = f"{told(gap, steps)} lost{' to the late flip' if late else ''}"
    if gap < 0:
        lost = f"{told(-gap, steps)} less than it did"
    trees = ", its trees left standing" if result.job.trees else ""
    also = (
        ""
        if rack_and_trees_m3 is None
        else f" Rack and trees together: {told(round(rack_and_trees_m3 / steps.m3), steps)}."
    )
    return f"That day it lifted {told(lifted, steps)}; {prompt_words}{trees}, {told(whole, steps)}: {lost}.{also}"


def _rack_chosen(job: Job) -> Job:
    """The job on the rack to show: one as watched tells nothing of its canisters, the physics does."""
    if job.rack.kind != "delayed":
        return job
    rack = st.radio("The rack", [_AS_WATCHED, _BY_PHYSICS], horizontal=True, key="morning_rack")
    return job if rack == _AS_WATCHED else with_overrides(job, {"rack.kind": "thermal"})


def _below(frames: tuple[Frame, ...], result: Result, *, whole_day: bool) -> None:
    every = WHOLE_DAY_STEP_MIN if whole_day else STEP_MIN
    st.caption(f"A picture every {every} minutes, and more of them while the rack turns.")
    if result.canisters is not None:
        st.text(ASSUMED)
    download("Save it as GIF", lambda: gif_of(frames), "morning.gif", "image/gif")


def frames_kept(
    job: Job, result: Result, prompt: Result | None, day: int, system: System, *, whole_day: bool
) -> tuple[Frame, ...]:
    """The frames of day `day` (from 0) of a job's result, drawn under a progress bar the first time."""
    key = f"{work.key_of(job)}|{day}|{system}|{whole_day}"

    def drawn() -> tuple[Frame, ...]:
        minutes = morning_minutes(result, day, whole_day=whole_day)
        return frames_of(result, day, minutes, system=system, prompt=prompt, progress=parts.bar())

    found: tuple[Frame, ...] = work.kept("frames", 6).get(key, drawn)
    return found
