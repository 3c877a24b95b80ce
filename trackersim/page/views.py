"""The views of the page. Each takes a job without faults and shows words first, pictures after; none computes."""

from __future__ import annotations

import datetime as dt
from typing import Any

import streamlit as st
from matplotlib.figure import Figure

from trackersim.errors import InputError
from trackersim.job.model import Job
from trackersim.page import work
from trackersim.page.work import Bar
from trackersim.show import alt, words
from trackersim.show import morning as show_morning
from trackersim.show import shade as show_shade
from trackersim.show import water as show_water
from trackersim.show import wiring as show_wiring
from trackersim.show.figures import day_figure, months_figure
from trackersim.show.sky_loss import sky_loss_figure
from trackersim.study.result import Result
from trackersim.study.water_report import water_report
from trackersim.study.wiring import wiring_of
from trackersim.units import System, show


def bar() -> Bar:
    """A progress bar that goes away when the work is done."""
    place = st.empty()

    def tell(text: str, share: float) -> None:
        if share >= 1:
            place.empty()
        else:
            place.progress(share, text=text)

    return tell


def picture(figure: Figure, alt: str) -> None:
    """A figure with the sentence that stands for it to those who cannot see it."""
    st.pyplot(figure)
    st.caption(alt)


def table(header: tuple[str, ...], rows: list[tuple[str, ...]]) -> None:
    """A table of text."""
    st.table([dict(zip(header, row, strict=True)) for row in rows])


def dangers(results: dict[str, Result]) -> None:
    """Dangers before anything else."""
    for notice in words.all_notices(results):
        if notice.level == "danger":
            st.error("Danger")
            st.text(notice.text)


def answer(job: Job, system: System) -> None:
    """The answer in a sentence, the day's picture and the months."""
    results = work.compared(job, bar())
    own = results[job.rack.kind]
    dangers(results)
    st.text(words.headline(own, system))
    st.text(words.compare_words(results, job.rack.kind, system))
    months, day = st.columns(2)
    with months:
        picture(months_figure(results, system), alt.months_alt(results, system))
    with day:
        picture(day_figure(results, system), alt.day_alt(results, system))
    st.caption(words.compare_title(system))
    table(words.compare_header(), words.compare_rows(results, system))
    _close(results, own)


def late(job: Job, system: System) -> None:
    """The late flip as a slider: minutes of delay or the rack's condition, trees on or off."""
    st.text("Move a slider; the year is simulated again for the rack alone.")
    changes: dict[str, Any] = {}
    if job.rack.kind == "thermal":
        thermal = job.rack.thermal
        for key, label, low, high, now in (
            ("charge", "Refrigerant left", 0.0, 1.2, thermal.charge),
            ("shade_plates", "Shade plates (1 as built, 0 lost)", 0.0, 1.0, thermal.shade_plates),
            ("damper", "Damper (1 as built, more is stiffer)", 0.1, 20.0, min(max(thermal.damper, 0.1), 20.0)),
        ):
            value = st.slider(label, low, high, float(now), key=f"late_{key}")
            if value != float(now):
                changes[f"rack.thermal.{key}"] = value
    else:
        now = int(job.rack.flip_delay_min)
        delay = st.slider("Minutes of sun until the rack turns east", 0, 300, min(now, 300), 5, key="late_delay")
        if delay != now or job.rack.kind != "delayed":
            changes |= {"rack.kind": "delayed", "rack.flip_delay": float(delay)}
    without_trees = bool(job.trees) and st.toggle("Without the trees", key="late_no_trees")
    if without_trees:
        changes["trees"] = []
    if not job.trees and job.rack.kind in ("fixed", "ideal"):
        st.text("This job has a rack that does not wait; the slider shows what a late one would give.")
    varied, ideal = work.varied(job, changes), work.varied(job, {**changes, "rack.kind": "ideal"})
    with st.spinner("A year of minutes …"):
        own = work.rack_only(varied)
        best = work.rack_only(ideal)
        before = work.rack_only(job)
    gap = best.water_m3_per_day - own.water_m3_per_day
    st.text(f"This rack lifts {show(own.water_m3_per_day, 'volume_per_day', system)}; {words.flip_words(own)}")
    st.text(f"Against a rack that follows the sun it costs {show(gap, 'volume_per_day', system)}.")
    change = own.water_m3_per_day - before.water_m3_per_day
    more = "more" if change >= 0 else "less"
    st.text(f"That is {show(abs(change), 'volume_per_day', system)} {more} than the job as it stands.")
    picture(
        months_figure({own.rack: own, "ideal": best}, system), "Bars: water a day by month, this rack and an ideal one."
    )


def morning(job: Job, system: System) -> None:
    """One morning explained."""
    first = dt.date(job.weather.year, 3, 21)
    date = st.date_input("Morning of", first, key="morning_date")
    if not isinstance(date, dt.date):
        return
    try:
        with st.spinner("That morning …"):
            found = work.morning_of(job, date)
    except InputError as error:
        for fault in error.faults:
            st.text(f"⚠ {fault}")
        return
    st.text(show_morning.morning_sentence(found, system))
    table(show_morning.moment_header(), show_morning.moment_rows(found))
    st.text(show_morning.waiting_words(found))
    picture(show_morning.morning_figure(found, system), "Angle of sun and rack, light and flow through that morning.")
    st.warning(show_morning.SAFETY)


def year(job: Job, system: System) -> None:
    """The year month by month, and the water side."""
    result = work.one(job)
    dangers({result.rack: result})
    report = water_report(result)
    st.text(words.headline(result, system))
    table(words.month_header(system), words.month_rows(result, system))
    st.text(show_water.head_words(report, system))
    table(show_water.point_header(system), show_water.point_rows(report, system))
    st.text(show_water.stop_words(report))
    st.text(show_water.balance_words(report, system))
    st.text(show_water.short_words(report, system))
    wiring = wiring_of(result)
    st.text(show_wiring.voltage_words(wiring, system))
    if wiring.runs:
        table(show_wiring.wire_header(), show_wiring.wire_rows(wiring))
    st.text(show_wiring.loss_words(wiring))
    st.warning(show_water.CAUTION)
    st.warning(show_wiring.CAUTION)
    _close({result.rack: result}, result)


def trees(job: Job, system: System) -> None:
    """The sky as the rack sees it, and when the sun clears the trees."""
    picture(
        show_shade.sky_figure(job),
        alt.sky_alt(job),
    )
    if st.toggle("Colour the sky by the water lost there", key="trees_loss"):
        with st.spinner("Two years of minutes …"):
            own = work.rack_only(job)
            reference = work.rack_only(work.varied(job, {"rack.kind": "ideal", "trees": [], "horizon.points": []}))
        picture(sky_loss_figure(own, reference, system), alt.sky_loss_alt(own, reference, system))
    found = work.shade_report(job, bar())
    st.text(show_shade.shade_sentence(found))
    table(show_shade.shade_header(), show_shade.shade_rows(found))
    st.text(show_shade.clock_sentence(found))
    st.text(show_shade.growth_words(found, system))
    st.text(show_shade.stringing_words(found))


def _close(results: dict[str, Result], own: Result) -> None:
    for notice in words.all_notices(results):
        if notice.level != "danger":
            st.text(str(notice))
    st.warning("\n".join(f"- {line}" for line in words.CAUTIONS))
    st.caption(words.provenance_words(own))
