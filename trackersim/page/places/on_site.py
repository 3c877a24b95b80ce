"""On site: one column for one hand. Should it have turned, is the flow right, what ails the rack, what will
tomorrow be."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TypeVar

import streamlit as st

from trackersim.analysis.day_ahead import Tomorrow, card_for
from trackersim.analysis.flip_check import FlipCheck, check_flip
from trackersim.analysis.flow_check import FlowCheck, check_flow
from trackersim.analysis.flow_measurement import Measured, Readings
from trackersim.analysis.observed_sky import Seen, Stands
from trackersim.analysis.typed_input import measured_of, readings_of, seen_of, stands_of
from trackersim.clock import Moment, moment_at, today_at, zone_of
from trackersim.errors import Fault, InputError
from trackersim.job.model import Job
from trackersim.page import parts, work
from trackersim.page.downloads import download
from trackersim.page.mornings_watched import diagnosis
from trackersim.page.numbers import large_fields, number_field
from trackersim.page.site_fields import SKIES, WINDS, pinned, show_pinned, to_mend, word
from trackersim.page.state import Desk
from trackersim.page.strip import ViewState, shown_job
from trackersim.report.blocks import Answer
from trackersim.report.day_ahead import card_text, day_answer
from trackersim.report.flip_check import flip_answer
from trackersim.report.flow_check import flow_answer
from trackersim.units import System, unit_label

T = TypeVar("T")

FLIP, FLOW, TOMORROW = "Should it have turned?", "Is this flow right?", "What of tomorrow?"
AILS = "What ails the rack?"
_NOW, _OTHER = "now", "another time"
_STANDS = {
    "not looked": None,
    "following the sun": None,
    "at its west stop": "west",
    "level": "level",
    "at its east stop": "east",
}
_FEWEST_FILLS, _MOST_FILLS = 3, 6
_FULL = {"us": 5.0, "si": 20.0}  # gallons and litres of a usual bucket
# What the fields of this place are called, for faults.
_LABELS = {
    "at": "Clock at the site",
    "sky": "Sky",
    "wind": "Wind",
    "air": "Air temperature",
    "volume": "One fill holds",
    "seconds": "Seconds of each fill",
    "flow": "Flow on the meter",
    "light": "Light on the modules",
    "pressure": "Pressure at the gauge",
    "gauge_above": "Gauge above the job's standing water",
    "voltage": "Voltage at the controller",
    "current": "Current at the controller",
    "at_unit": "Read at",
}
# One column within a thumb's reach; the answer stays in view above the places while fields are filled in.
_STYLE = """
<style>
.st-key-on_site { max-width: 44rem; }
[data-testid="stLayoutWrapper"]:has(> .st-key-on_site_result) { position: sticky; bottom: 0; z-index: 40; }
.st-key-on_site_result { padding: 0.5rem 0.75rem; border: 2px solid currentColor; border-radius: 0.5rem;
  background: var(--st-background-color, Canvas); }
@media (max-width: 640px) {
  [data-testid="stLayoutWrapper"]:has(> .st-key-on_site_result) { bottom: 3.6rem; }
  .st-key-on_site_result .lead { font-size: 1rem; max-height: 30vh; overflow-y: auto; }
}
</style>
"""


@dataclass
class _Typed:
    """What is wrong among the fields: told beside each, and none of them keeps another from being drawn."""

    wrong: list[Fault] = field(default_factory=list)

    def take(self, read: Callable[[], T]) -> T | None:
        """What `read` gives; None after its faults are told here, under the names of their fields."""
        try:
            return read()
        except InputError as error:
            told = [dataclasses.replace(fault, field=_LABELS.get(fault.field, fault.field)) for fault in error.faults]
            parts.faults(told)
            self.wrong += told
            return None


def draw(desk: Desk, view: ViewState) -> None:
    """One of four questions, what has to be told for it, and the answer."""
    job, system = shown_job(desk, view), view.system
    st.html(_STYLE)
    large_fields("on_site")
    with st.container(key="on_site"):
        asked = st.pills(
            "Ask",
            [FLIP, FLOW, AILS, TOMORROW],
            default=FLIP,
            key="site_question",
            required=True,
            persist_state="session",
        )
        if not view.as_in_job:
            st.text("Asked of the job with what is supposed above, not as it stands.")
        if asked == FLOW:
            _flow(job, system)
        elif asked == AILS:
            diagnosis(job, system)
        elif asked == TOMORROW:
            _tomorrow(job, system)
        else:
            _flip(job, system)


def _flip(job: Job, system: System) -> None:
    typed = _Typed()
    moment = _when(job, typed)
    # Air does not enter a rack told by its watched delay.
    seen = _sky(system, typed, air=job.units[0].rack.kind == "thermal")
    stands = _stands("flip")
    _answered(typed, lambda: flip_answer(_flip_check(job, moment, seen, stands), system), "A dozen mornings …")


def _flip_check(job: Job, moment: Moment | None, seen: Seen | None, stands: Stands | None) -> FlipCheck:
    assert moment is not None
    assert seen is not None
    key = f"{work.key_of(job)}{moment}{seen}{stands}"
    found: FlipCheck = work.kept("flip", 4).get(key, lambda: check_flip(job, moment, seen=seen, stands=stands))
    return found


def _flow(job: Job, system: System) -> None:
    typed = _Typed()
    measured = _measured(system, typed)
    stands = _stands("flow")
    readings = _readings(job, stands, system, typed)
    moment, seen = _when(job, typed), _sky(system, typed, air=True)
    if measured is None and not typed.wrong:
        pinned(f"Give the seconds of {_FEWEST_FILLS} fills or more: their scatter tells how sure the flow is.")
        return
    _answered(
        typed,
        lambda: flow_answer(_flow_check(job, moment, measured, seen, readings), system),
        "A dozen runs of this moment …",
    )


def _flow_check(
    job: Job, moment: Moment | None, measured: Measured | None, seen: Seen | None, readings: Readings | None
) -> FlowCheck:
    assert moment is not None
    assert measured is not None
    key = f"{work.key_of(job)}{moment}{seen}{measured}{readings}"
    found: FlowCheck = work.kept("bucket", 4).get(
        key, lambda: check_flow(job, moment, measured, seen=seen, readings=readings)
    )
    return found


def _tomorrow(job: Job, system: System) -> None:
    date = today_at(job.site) + dt.timedelta(days=1)
    with st.spinner("Tomorrow …"):
        card: Tomorrow = work.kept("tomorrow", 4).get(f"{work.key_of(job)}{date}", lambda: card_for(job, date))
    show_pinned(day_answer(card, system))
    download("Save the card", lambda: card_text(card, system), "tomorrow.txt", "text/plain")


def _answered(typed: _Typed, answer: Callable[[], Answer], doing: str) -> None:
    """The answer, pinned; or what has to be mended first."""
    if not typed.wrong:
        with st.spinner(doing):
            found = typed.take(answer)
        if found is not None:
            show_pinned(found)
            return
    pinned(to_mend(typed.wrong))


def _when(job: Job, typed: _Typed) -> Moment | None:
    """Now, as somebody who stands at the rack means it; or another day and clock."""
    now = dt.datetime.now(zone_of(job.site))
    chosen = st.pills(
        "When", [_NOW, _OTHER], default=_NOW, key="site_when", required=True, persist_state="session",
        format_func=lambda word: f"now, {now:%H:%M}" if word == _NOW else word,
    )  # fmt: skip
    if chosen == _NOW:
        return typed.take(lambda: moment_at(job.site, f"{now:%Y-%m-%d %H:%M}"))
    date = st.date_input("Date", now.date(), key="site_date")
    clock = st.time_input("Clock at the site", now.time(), step=60, format="localized", key="site_clock")
    return typed.take(lambda: _moment(job, date, clock))


def _moment(job: Job, date: object, clock: dt.time | None) -> Moment:
    if not isinstance(date, dt.date) or clock is None:
        raise InputError.of("at", None, "is empty.", "Give the day and the time of your watch.")
    return moment_at(job.site, f"{date} {clock:%H:%M}")


def _sky(system: System, typed: _Typed, *, air: bool) -> Seen | None:
    """The sky as it is seen, and with `air` how warm it is."""
    sky = word("Sky", "site_sky", SKIES)
    wind = word("Wind", "site_wind", WINDS)
    unit = unit_label("temperature", system)
    warmth = (
        number_field(f"Air temperature ({unit}), if you know it", f"site_air|{system}", None, kept=True)
        if air
        else None
    )
    return typed.take(lambda: seen_of(sky=sky, wind=wind, air=None if warmth is None else f"{warmth:g} {unit}"))


def _stands(question: str) -> Stands | None:
    """How the rack stands; what is known while a flow is measured is no answer to whether it should have turned."""
    stands = st.pills(
        "The rack stands", list(_STANDS), default="not looked", key=f"site_stands|{question}", required=True
    )
    return stands_of(_STANDS[stands])


def _measured(system: System, typed: _Typed) -> Measured | None:
    """The flow that was measured; None while nothing, or too little, is told."""
    if st.toggle("A flow meter instead of a bucket", key="site_meter", persist_state="session"):
        unit = unit_label("flow", system)
        flow = number_field(f"Flow on the meter ({unit})", f"site_flow|{system}", None, kept=True)
        return None if flow is None else typed.take(lambda: measured_of(volume=None, flow=f"{flow:g} {unit}"))
    unit = "gal" if system == "us" else "L"
    volume = number_field(f"One fill holds ({unit})", f"site_volume|{system}", _FULL[system], kept=True)
    seconds: list[float] = []
    # A fill more than were timed is asked for, so that there is always one to go on with.
    while len(seconds) < _MOST_FILLS:
        number = len(seconds) + 1
        timed = number_field(f"Fill {number} took (s)", f"site_seconds|{number}", None, kept=True)
        if timed is None:
            break
        seconds.append(timed)
    if not seconds:
        return None
    words = None if volume is None else f"{volume:g} {unit}"
    measured = typed.take(lambda: measured_of(volume=words, seconds=[f"{each:g}" for each in seconds]))
    return measured if measured is None or measured.fills >= _FEWEST_FILLS else None


def _readings(job: Job, stands: Stands | None, system: System, typed: _Typed) -> Readings | None:
    """What else was read; nothing need be."""
    if not st.toggle("I read other meters too", key="site_more", persist_state="session"):
        return readings_of(stands=stands)
    labels = _LABELS | ({"gauge_above": "Gauge above where the pipes meet"} if job.unit else {})
    units = {
        "light": unit_label("light", "si"),
        "pressure": unit_label("pressure", system),
        "gauge_above": unit_label("length", system),
        "voltage": "V",
        "current": "A",
    }
    told = {}
    for name, unit in units.items():
        read = number_field(f"{labels[name]} ({unit})", f"site_{name}|{system}", None, kept=True)
        told[name] = None if read is None else f"{read:g} {unit}"
    at = st.selectbox(_LABELS["at_unit"], job.unit_names, key="site_unit") if job.unit else None
    return typed.take(lambda: readings_of(**told, unit=at, names=job.unit_names, stands=stands))
