"""The views of the page. Each takes the visitor's desk, shows words first and pictures after; none computes."""

from __future__ import annotations

from typing import Any

import streamlit as st

from trackersim.analysis.hydraulics import water_report
from trackersim.analysis.wiring import wiring_of
from trackersim.constants import MINUTES_A_DAY
from trackersim.errors import InputError
from trackersim.job.model import Job
from trackersim.page import parts, work
from trackersim.page.blocks import show_answer
from trackersim.page.fields import shown_text, with_unit
from trackersim.page.state import Desk, edit
from trackersim.page.trees import draw_trees
from trackersim.report import alt, words
from trackersim.report.comparison import comparison_answer
from trackersim.report.figures import day_figure, months_figure
from trackersim.report.hydraulics import water_answer
from trackersim.report.morning import morning_answer
from trackersim.report.options import volume_words
from trackersim.report.remarks import part_of
from trackersim.report.run import run_answer
from trackersim.report.site_losses import site_words
from trackersim.report.sky_loss import sky_loss_alt, sky_loss_figure
from trackersim.report.tree_shading import shade_answer
from trackersim.report.wiring import wiring_answer
from trackersim.simulation.tracking import axis_of
from trackersim.simulation.watched import ordinary_delay_min
from trackersim.units import System, show

_MOST_DELAY_MIN = 300


def answer(desk: Desk, system: System) -> None:
    """The answer in a sentence, the day's picture and the months."""
    show_answer(comparison_answer(work.comparison_of(desk.good, parts.bar()), system))
    parts.cautions()


def late(desk: Desk, system: System) -> None:
    """The late flip as a slider: minutes of delay or the rack's condition, trees on or off, one day of the year."""
    job = desk.good
    changes = _rack_changes(job)
    if job.trees and st.toggle("Without the trees", key="late_no_trees"):
        changes["trees"] = []
    if job.rack.kind in ("fixed", "ideal"):
        st.text("This job has a rack that does not wait; the slider shows what a late one would give.")
    with st.spinner("A year of minutes …"):
        varied = work.varied(job, changes)
        site, before = work.site_of(varied), work.own_year(job)
    own, ideal, gap = site.own, site.prompt, site.late_m3_per_day
    parts.dangers({own.rack: own})
    change = own.water_m3_per_day - before.water_m3_per_day
    parts.lead(f"This rack lifts {show(own.water_m3_per_day, 'volume_per_day', system)}.")
    costs = f"Against a rack that follows the sun it {'costs' if gap >= 0 else 'gains'}"
    st.text(_with_worth(f"{costs} {show(abs(gap), 'volume_per_day', system)}", gap, job))
    if changes:
        more = "more" if change >= 0 else "less"
        told = f"That is {show(abs(change), 'volume_per_day', system)} {more} than the job as it stands"
        st.text(_with_worth(told, change, job))
    parts.lines([words.flip_words(own)])
    _price(desk, system)
    both = {own.rack: own, "ideal": ideal}
    parts.picture(months_figure(both, system), alt.months_alt(both, system))
    day = parts.day_chosen(own, "late_date")
    if day is not None:
        told = ", ".join(
            f"{words.rack_words(result)} {show(float(result.daily['water_m3'].iloc[day]), 'volume', system)}"
            for result in both.values()
        )
        st.text(f"Water on that day: {told}.")
        parts.picture(day_figure(both, system, day=day), alt.day_alt(both, system, day=day))
    parts.cautions()


def _rack_changes(job: Job) -> dict[str, Any]:
    """What the sliders change: the condition of a thermal rack, else the minutes a rack waits."""
    changes: dict[str, Any] = {}
    if job.rack.kind == "thermal":
        thermal = job.rack.thermal
        for key, label, low, high, now in (
            ("charge", "Refrigerant left", 0.0, 1.2, thermal.charge),
            ("shade_plates", "Shade plates (1 as built, 0 lost)", 0.0, 1.0, thermal.shade_plates),
            ("damper", "Damper (1 as built, more is stiffer)", 0.1, 20.0, min(max(thermal.damper, 0.1), 20.0)),
        ):
            value = st.slider(label, low, high, float(now), key=f"late_{key}|{now}")
            if value != float(now):
                changes[f"rack.thermal.{key}"] = value
        return changes
    now_min = round(ordinary_delay_min(job.units[0], axis_of(job.units[0])))
    most = max(_MOST_DELAY_MIN, now_min)
    delay = st.slider("Minutes of sun until the rack turns east", 0, most, now_min, 5, key=f"late_delay|{now_min}")
    if delay != now_min or job.rack.kind != "delayed":
        changes |= {"rack.kind": "delayed", "rack.flip_delay": float(delay)}
    return changes


def _with_worth(sentence: str, water_m3_per_day: float, job: Job) -> str:
    worth = words.worth_words(water_m3_per_day, job.money)
    return f"{sentence}: {worth}." if worth else f"{sentence}."


def _price(desk: Desk, system: System) -> None:
    """What water is worth, kept in the job."""
    text = shown_text(desk.good.money.price_of_water, "price_of_water", system)

    def took() -> None:
        edit(desk, "money.price_of_water", with_unit(str(st.session_state[key]), text, "price_of_water", system))

    key = f"late_price|{system}|{desk.version}|{text}"
    label = f"What {volume_words(system)} of water are worth, to see it in money"
    st.text_input(label, text, key=key, on_change=took)


def morning(desk: Desk, system: System) -> None:
    """One morning explained."""
    job = desk.good
    own = work.own_year(job)
    day = parts.day_chosen(own, "morning_date")
    if day is None:
        return
    date = own.times[day * MINUTES_A_DAY].date()
    try:
        with st.spinner("That morning …"):
            found = work.morning_of(job, date)
    except InputError as error:
        parts.faults(error.faults)
        return
    show_answer(morning_answer(found, system))


def year(desk: Desk, system: System) -> None:
    """The year month by month, and the water side."""
    result = work.own_year(desk.good)
    show_answer(run_answer(result, system))
    st.subheader("The pump and its water")
    show_answer(part_of(water_answer(water_report(result), system), result))
    st.subheader("Voltage and wire")
    show_answer(part_of(wiring_answer(wiring_of(result), result, system), result))
    parts.cautions()


def trees(desk: Desk, system: System) -> None:
    """The sky as the rack sees it with the table of its trees, and when the sun clears them."""
    job = desk.good
    draw_trees(desk, system)
    own, site = work.own_year(job), work.site_of(job)
    parts.lead(site_words(site, system))
    if st.toggle("Colour the sky by the water lost there", key="trees_loss"):
        with st.spinner("Two years of minutes …"):
            reference = work.own_year(work.varied(job, {"rack.kind": "ideal", "trees": [], "horizon.points": []}))
        parts.picture(sky_loss_figure(own, reference, system), sky_loss_alt(own, reference, system))
    shade = work.shade_report(job, parts.bar())
    show_answer(shade_answer(shade, system))
    parts.cautions()
