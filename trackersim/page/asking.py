"""Views that ask back: where the water went, the choices, the check on site, the moving picture, the sheet."""

from __future__ import annotations

import datetime as dt
from typing import Literal

import streamlit as st

from trackersim.errors import InputError
from trackersim.job.model import Job
from trackersim.page import work
from trackersim.page.views import bar, dangers, picture, table
from trackersim.show import alt, moving
from trackersim.show import bucket as show_bucket
from trackersim.show import flip_check as show_flip
from trackersim.show import losses as show_losses
from trackersim.show import options as show_options
from trackersim.show import report as show_report
from trackersim.show import tomorrow as show_tomorrow
from trackersim.show.figures import show_day
from trackersim.study.asked import Reading, measured_of, readings_of, seen_of
from trackersim.study.bucket import check_bucket
from trackersim.study.clock import moment_at, today_at
from trackersim.study.flip_check import check_flip
from trackersim.study.tomorrow import card_for
from trackersim.units import System

_SKIES = ("unknown", "clear", "haze", "cloud", "overcast")
_WINDS = ("unknown", "calm", "breeze", "windy")
_STANDS: dict[str, Literal["west", "level", "east"] | None] = {
    "not looked": None,
    "west": "west",
    "level": "level",
    "east": "east",
}
_MORNING_MIN = (300, 780)


def losses(job: Job, system: System) -> None:
    """Where the water went."""
    st.text("A dozen years of minutes, one for each cause: some seconds.")
    found = work.losses_report(job, bar())
    dangers({found.result.rack: found.result})
    st.text(show_losses.losses_sentence(found, system))
    picture(show_losses.losses_figure(found, system), show_losses.losses_alt(found, system))
    st.caption(show_losses.losses_title(found, system))
    table(show_losses.losses_header(), show_losses.losses_rows(found, system))
    st.text(show_losses.order_words(found))
    st.text(show_losses.gain_words(found))
    st.text(show_losses.closing_words(found, system))


def choices(job: Job, system: System) -> None:
    """What could be done, and what it buys."""
    st.text("Every choice is a year of minutes; all together take up to a minute.")
    if not st.toggle("Work them out", key="choices_go"):
        return
    found = work.options_report(job, bar())
    dangers({found.own.rack: found.own})
    st.text(show_options.options_sentence(found, system))
    st.caption(show_options.options_title(found, system))
    table(show_options.options_header(found, system), show_options.options_rows(found, system))
    st.text(show_options.meaning_words(found))
    st.text(show_options.tree_words(found, system))
    st.text(show_options.refused_words(found))
    st.warning(show_options.SAFETY)
    st.text(show_options.verdict_words(found, system))


def on_site(job: Job, system: System) -> None:
    """With a watch and a bucket: should it have turned, is the flow right, what should the owner see tomorrow."""
    question = st.radio("Ask", ["Should it have turned?", "Is this flow right?", "Tomorrow"], key="site_question")
    if question == "Tomorrow":
        _tomorrow(job, system)
        return
    at = st.text_input("At (local clock)", f"{today_at(job.site)} 09:15", key="site_at")
    sky, wind = st.selectbox("Sky", _SKIES, key="site_sky"), st.selectbox("Wind", _WINDS, key="site_wind")
    air = st.text_input("Air temperature, for example 41 F", "", key="site_air")
    seen_standing = _STANDS[st.selectbox("The rack stands", list(_STANDS), key="site_stands")]
    reading = Reading()
    seen = reading.take(lambda: seen_of(sky=sky, wind=wind, air=air or None), None)
    moment = reading.take(lambda: moment_at(job.site, at), None)
    try:
        if question == "Should it have turned?":
            reading.done()
            assert moment is not None
            with st.spinner("A dozen mornings …"):
                check = check_flip(job, moment, seen=seen, stands=seen_standing)
            st.text(show_flip.flip_sentence(check))
            table(show_flip.moment_header(), show_flip.moment_rows(check))
            st.text(show_flip.standing_words(check))
            for number, line in enumerate(show_flip.look_words(check), start=1):
                st.text(f"{number}. {line}")
            st.warning(show_flip.SAFETY)
            for note in show_flip.note_words(check, system):
                st.text(note)
            st.text(show_flip.last_words(check))
            return
        volume = st.text_input("One fill holds", "5 gal" if system == "us" else "20 L", key="site_volume")
        seconds = st.text_input("Seconds of each fill", "", key="site_seconds", help="for example 9.8 9.9 10.2")
        if not seconds.strip():
            st.text("Give the seconds of three fills or more.")
            return
        measured = reading.take(lambda: measured_of(volume=volume, seconds=[seconds], flow=None, flow_error=None), None)
        readings = reading.take(
            lambda: readings_of(
                light=None, pressure=None, gauge_above=None, voltage=None, stands=seen_standing, rotation_deg=None
            ),
            None,
        )
        reading.done()
        assert moment is not None
        assert measured is not None
        with st.spinner("A dozen runs of this moment …"):
            bucket = check_bucket(job, moment, measured, seen=seen, readings=readings)
        st.text(show_bucket.bucket_sentence(bucket, system))
        st.text(show_bucket.moment_words(bucket, system))
        if rows := show_bucket.cause_rows(bucket, system):
            table(show_bucket.cause_header(bucket), rows)
        st.text(show_bucket.look_words(bucket))
        st.warning(show_bucket.SAFETY_WORDS)
        st.text(show_bucket.last_words(bucket, system))
    except InputError as error:
        for fault in error.faults:
            st.text(f"⚠ {fault}")


def _tomorrow(job: Job, system: System) -> None:
    with st.spinner("Tomorrow …"):
        card = card_for(job, None)
    st.text(show_tomorrow.card_sentence(card, system))
    st.text(show_tomorrow.total_words(card, system))
    table(show_tomorrow.moment_header(), show_tomorrow.moment_rows(card))
    table(show_tomorrow.hour_header(system), show_tomorrow.hour_rows(card, system))
    for line in show_tomorrow.call_words(card, system):
        st.text(line)
    st.warning(show_tomorrow.SAFETY)
    text = show_tomorrow.card_text(card, system)
    st.download_button("Save the card", text, "tomorrow.txt", "text/plain", on_click="ignore", key="save_card")
    st.text(show_tomorrow.last_words(card))


def moving_picture(job: Job, system: System) -> None:
    """The morning as it moves: drag the minute, or save it as a moving picture."""
    result = work.one(job)
    first = result.times[0].date()
    usual = first + dt.timedelta(days=show_day(result))
    last = first + dt.timedelta(days=result.days - 1)
    date = st.date_input("Day", usual, min_value=first, max_value=last, key="moving_date")
    if not isinstance(date, dt.date):
        return
    day = (date - first).days
    minute = st.slider("Minutes after midnight, standard time", 0, 1435, 480, 5, key="moving_minute")
    picture(moving.morning_frame(result, day, minute, system), moving.frame_alt_text(result, day, minute, system))
    if st.button("Make the moving picture (about ten seconds)", key="moving_make"):
        low, high = _MORNING_MIN
        st.session_state.moving_gif = moving.morning_gif(
            result, day, first_min=low, last_min=high, step_min=5, system=system, progress=bar()
        )
    gif = st.session_state.get("moving_gif")
    if gif:
        st.image(gif, caption="The morning, five minutes a picture; it plays by itself.")
        st.download_button("Save it as GIF", gif, "morning.gif", "image/gif", on_click="ignore", key="save_gif")


def sheet(job: Job, system: System) -> None:
    """The sheet for the customer, as a PDF."""
    results = work.compared(job, bar())
    own = work.one(job)
    dangers(results)
    st.text("One page for the customer, and an appendix for the file.")
    question = st.text_input("The customer's question", "", key="sheet_question")
    others = {kind: results[kind] for kind in ("fixed", "ideal") if kind != own.rack}
    rows = account = None
    if st.toggle("With the choices and the account of losses (up to a minute)", key="sheet_whole"):
        found, ledger = work.options_report(job, bar()), work.losses_report(job, bar())
        rows = show_options.sheet_rows(found, system)
        account = [show_losses.losses_header(), *show_losses.losses_rows(ledger, system)]
    pdf = show_report.report_pdf(
        own, system=system, others={own.rack: own, **others}, question=question, choices=rows, account=account
    )
    st.download_button(
        "Save the sheet as PDF", pdf, "sheet.pdf", "application/pdf", on_click="ignore", key="save_sheet"
    )
    st.text(alt.months_alt({own.rack: own, **others}, system))
