"""The views of the page. Each takes the visitor's desk, shows words first and pictures after; none computes."""

from __future__ import annotations

import streamlit as st

from trackersim.analysis.hydraulics import water_report
from trackersim.analysis.wiring import wiring_of
from trackersim.job.model import Job
from trackersim.page import parts, work
from trackersim.page.blocks import show_answer, show_block
from trackersim.page.charts import show_charts
from trackersim.page.field_text import shown_text, with_unit
from trackersim.page.state import Desk, edit
from trackersim.page.strip import CONDITION, ViewState, go_to, shown_job
from trackersim.report import alt, words
from trackersim.report.chart_series import day_charts, most_in_a_month
from trackersim.report.choice_words import volume_words
from trackersim.report.comparison import comparison_answer
from trackersim.report.hydraulics import water_answer
from trackersim.report.remarks import part_of
from trackersim.report.run import months_picture, run_answer
from trackersim.report.wiring import wiring_answer
from trackersim.simulation.result import Result
from trackersim.units import System, show


def racks(desk: Desk, view: ViewState) -> None:
    """The answer in a sentence, the day's picture, the months and every kind of rack."""
    job = shown_job(desk, view)
    found = work.comparison_of(job, parts.bar())
    most, day = _most(desk), _day(job, view)
    show_answer(comparison_answer(found, view.system, stands=_stands(desk, view), most_m3_per_day=most, day=day))
    parts.cautions(job)


def _stands(desk: Desk, view: ViewState) -> Result | None:
    """The job as it stands, where something is supposed: what it is looked at beside."""
    return None if view.as_in_job else work.own_year(desk.good)


def _day(job: Job, view: ViewState) -> int:
    """The day that the strip shows, counted from 0."""
    look = work.first_look_of(job)
    return (look.day_shown(view.day) - look.first_day).days


def _most(desk: Desk) -> float:
    """The most water a day of a month that the job could lift: on a rack that follows the sun, in the open."""
    (days,) = work.days_given([desk.good])
    return most_in_a_month(days.water_m3 + work.first_look_of(desk.good).lost_m3, days.first_day)


def late(desk: Desk, view: ViewState) -> None:
    """Month by month and through one day: what is looked at beside a rack that follows the sun at once."""
    job, system = shown_job(desk, view), view.system
    _condition(desk, view)
    with st.spinner("A year of minutes …"):
        own, ideal, before = work.own_year(job), work.ideal_year(job), work.first_look_of(desk.good)
    gap = work.first_look_of(job).late_m3_per_day
    parts.lead(f"This rack lifts {show(own.water_m3_per_day, 'volume_per_day', system)}.")
    costs = f"Against a rack that follows the sun it {'costs' if gap >= 0 else 'gains'}"
    st.text(_with_worth(f"{costs} {show(abs(gap), 'volume_per_day', system)}", gap, job))
    if not view.as_in_job:
        change = own.water_m3_per_day - before.own_m3_per_day
        more = "more" if change >= 0 else "less"
        told = f"That is {show(abs(change), 'volume_per_day', system)} {more} than the job as it stands"
        st.text(_with_worth(told, change, job))
    parts.lines([words.flip_words(own)])
    _price(desk, system)
    both = {own.rack: own, "ideal": ideal}
    stands = _stands(desk, view)
    show_block(months_picture(both, system, own.rack, stands, _most(desk)))
    day = _day(job, view)
    told = ", ".join(
        f"{words.rack_words(result)} {show(float(result.daily_water_m3[day]), 'volume', system)}"
        for result in both.values()
    )
    st.text(f"Water on that day: {told}.")
    show_charts(
        day_charts(both, system, day, before=None if stands is None else {own.rack: stands}),
        alt.day_alt(both, system, day=day),
    )
    parts.cautions(job)


def _condition(desk: Desk, view: ViewState) -> None:
    """What the strip has no room for of a thermal rack's condition."""
    if desk.good.rack.kind != "thermal":
        return
    thermal = desk.good.rack.thermal
    labels = {"shade_plates": "Shade plates (1 as built, 0 lost)", "damper": "Damper (1 as built, more is stiffer)"}
    for name, label in labels.items():
        least, most = CONDITION[name]
        own = min(max(float(getattr(thermal, name)), least), most)
        supposed = getattr(view, name)
        key = f"late_{name}|{own}|{supposed}"

        def took(name: str = name, key: str = key, own: float = own) -> None:
            value = float(st.session_state[key])
            go_to(**{name: None if value == own else value})

        st.slider(label, least, most, own if supposed is None else supposed, key=key, on_change=took)


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


def year(desk: Desk, view: ViewState) -> None:
    """The year month by month, and the water side."""
    system = view.system
    job = shown_job(desk, view)
    result = work.own_year(job)
    show_answer(run_answer(result, system, stands=_stands(desk, view), most_m3_per_day=_most(desk)))
    st.subheader("The pump and its water")
    show_answer(part_of(water_answer(water_report(result), system), result, system))
    st.subheader("Voltage and wire")
    show_answer(part_of(wiring_answer(wiring_of(result), result, system), result, system))
    parts.cautions(job)
