"""The view for a person at the rack with a watch and a bucket: should it have turned, is the flow right, tomorrow."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import streamlit as st

from trackersim.analysis.day_ahead import Tomorrow, card_for
from trackersim.analysis.flip_check import FlipCheck, check_flip
from trackersim.analysis.flow_check import FlowCheck, check_flow
from trackersim.analysis.flow_measurement import Measured, Readings
from trackersim.analysis.observed_sky import Seen, Stands
from trackersim.analysis.typed_input import Reading, measured_of, readings_of, seen_of, stands_of
from trackersim.clock import Moment, moment_at, today_at, zone_of
from trackersim.errors import InputError
from trackersim.job.model import Job
from trackersim.page import parts, work
from trackersim.page.blocks import show_answer
from trackersim.page.state import Desk
from trackersim.report.day_ahead import card_text, day_answer
from trackersim.report.flip_check import flip_answer
from trackersim.report.flow_check import flow_answer
from trackersim.units import System

_SKIES = ("unknown", "clear", "haze", "cloud", "overcast")
_WINDS = ("unknown", "calm", "breeze", "windy")
_STANDS = {
    "not looked": None,
    "following the sun": None,
    "at its west stop": "west",
    "level": "level",
    "at its east stop": "east",
}
_FEWEST_FILLS = 3
_HALF_DAY = re.compile(r"(\d{1,2})[:.](\d{2})\s*([ap])\.?m\.?", re.IGNORECASE)
# What the fields of this view are called, for faults.
_LABELS = {
    "at": "Date and clock",
    "air": "Air temperature",
    "volume": "One fill holds",
    "seconds": "Seconds of each fill",
    "flow": "Flow on the meter",
    "light": "Light on the modules",
    "pressure": "Pressure at the gauge",
    "gauge_above": "Gauge above the standing water",
    "voltage": "Voltage at the controller",
    "current": "Current at the controller",
}


def on_site(desk: Desk, system: System) -> None:
    """Three questions, each with what has to be told for it, the answer, and what to be careful of."""
    job = desk.good
    asked = st.radio("Ask", list(_QUESTIONS), key="site_question")
    try:
        _QUESTIONS[asked](job, system)
    except InputError as error:
        st.error("Not answered yet. Please mend:")
        parts.faults(replace(fault, field=_LABELS.get(fault.field, fault.field)) for fault in error.faults)


def _should_it_have_turned(job: Job, system: System) -> None:
    moment, seen, stands = _what_is_seen(job, "flip")
    key = f"{work.key_of(job)}{moment}{seen}{stands}"
    with st.spinner("A dozen mornings …"):
        check: FlipCheck = work.kept("flip", 4).get(key, lambda: check_flip(job, moment, seen=seen, stands=stands))
    show_answer(flip_answer(check, system))


def _is_this_flow_right(job: Job, system: System) -> None:
    moment, seen, stands = _what_is_seen(job, "flow")
    reading = Reading()
    measured = reading.take(lambda: _measured(system), None)
    readings = reading.take(lambda: _readings(job, stands), None)
    reading.done()
    if measured is None or readings is None:
        st.text(f"Give the seconds of {_FEWEST_FILLS} fills or more: their scatter tells how sure the flow is.")
        return
    key = f"{work.key_of(job)}{moment}{seen}{measured}{readings}"
    with st.spinner("A dozen runs of this moment …"):
        bucket: FlowCheck = work.kept("bucket", 4).get(
            key, lambda: check_flow(job, moment, measured, seen=seen, readings=readings)
        )
    show_answer(flow_answer(bucket, system))


def _tomorrow(job: Job, system: System) -> None:
    date = today_at(job.site) + dt.timedelta(days=1)
    with st.spinner("Tomorrow …"):
        card: Tomorrow = work.kept("tomorrow", 4).get(f"{work.key_of(job)}{date}", lambda: card_for(job, date))
    show_answer(day_answer(card, system))
    text = card_text(card, system)
    st.download_button("Save the card", text, "tomorrow.txt", "text/plain", on_click="ignore", key="save_card")


_QUESTIONS: dict[str, Callable[[Job, System], None]] = {
    "Should it have turned?": _should_it_have_turned,
    "Is this flow right?": _is_this_flow_right,
    "What should the owner see tomorrow?": _tomorrow,
}


def _what_is_seen(job: Job, question: str) -> tuple[Moment, Seen, Stands | None]:
    """When, under which sky, and how the rack stands. Raises `InputError` with every fault of these."""
    now = dt.datetime.now(zone_of(job.site))
    left, right = st.columns(2)
    date = left.date_input("Date", now.date(), key="site_date")
    clock = right.text_input("Clock at the site, for example 09:15", f"{now:%H:%M}", key="site_clock")
    left, right = st.columns(2)
    sky, wind = left.selectbox("Sky", _SKIES, key="site_sky"), right.selectbox("Wind", _WINDS, key="site_wind")
    left, right = st.columns(2)
    counts = "" if job.units[0].rack.kind == "thermal" else " (counts for a rack told by its physics)"
    air = left.text_input(f"Air temperature, for example 41 F{counts}", "", key="site_air")
    stands = right.selectbox("The rack stands", list(_STANDS), key=f"site_stands|{question}")
    reading = Reading()
    told: Any = reading.take(lambda: seen_of(sky=sky, wind=wind, air=air.strip() or None), None)
    moment: Any = reading.take(lambda: moment_at(job.site, f"{date} {in_24_hours(clock)}"), None)
    reading.done()
    return moment, told, stands_of(_STANDS[stands])


def in_24_hours(clock: str) -> str:
    """ "2:30 pm" as "14:30"; anything else as it is.

    >>> in_24_hours("2:30 pm"), in_24_hours("12.05 AM"), in_24_hours("09:15")
    ('14:30', '00:05', '09:15')
    """
    found = _HALF_DAY.fullmatch(clock.strip())
    if found is None or not 1 <= int(found[1]) <= 12:
        return clock.strip()
    hour = int(found[1]) % 12 + (12 if found[3].lower() == "p" else 0)
    return f"{hour:02d}:{found[2]}"


def _measured(system: System) -> Measured | None:
    """The flow that was measured; None while nothing is told."""
    by_meter = st.toggle("A flow meter instead of a bucket", key="site_meter")
    if by_meter:
        flow = st.text_input("Flow on the meter", "", key="site_flow", placeholder="28 gpm")
        return measured_of(volume=None, flow=flow) if flow.strip() else None
    volume = st.text_input("One fill holds", "5 gal" if system == "us" else "20 L", key=f"site_volume|{system}")
    seconds = st.text_input("Seconds of each fill", "", key="site_seconds", placeholder="9.8 9.9 10.2")
    measured = measured_of(volume=volume, seconds=[seconds]) if seconds.strip() else None
    return measured if measured is None or measured.fills >= _FEWEST_FILLS else None


def _readings(job: Job, stands: Stands | None) -> Readings:
    """What else was read; nothing need be."""
    if not st.toggle("I read other meters too", key="site_more"):
        return readings_of(stands=stands)
    return readings_of(
        light=_typed("light", "760 W/m2"),
        pressure=_typed("pressure", "35 psi"),
        gauge_above=_typed("gauge_above", "96 ft"),
        voltage=_typed("voltage", "68 V"),
        current=_typed("current", "8.2 A"),
        unit=st.selectbox("Read at", job.unit_names, key="site_unit") if job.unit else None,
        names=job.unit_names,
        stands=stands,
    )


def _typed(field: str, example: str) -> str | None:
    """What is typed into a field that may be left empty."""
    return st.text_input(_LABELS[field], "", key=f"site_{field}", placeholder=example).strip() or None
