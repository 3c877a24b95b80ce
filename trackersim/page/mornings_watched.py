"""What ails the rack, on site: watched mornings in fields for a thumb, as the columns of the command line's file.

A diagnosis takes some seconds, so it is asked for with a button: what is typed later waits for the next asking.
"""

from __future__ import annotations

import csv
import dataclasses
import datetime as dt
import io
import math
from collections.abc import Mapping, Sequence
from typing import get_args

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from trackersim.analysis.diagnosis import RackDiagnosis, check_turns, diagnose
from trackersim.analysis.rack_as_watched import job_as_watched
from trackersim.analysis.rack_conditions import SIGNS
from trackersim.analysis.watched_mornings import COLUMNS, NOT_BY, typed_mornings
from trackersim.clock import day_written, today_at
from trackersim.errors import Fault, InputError
from trackersim.job.model import Job
from trackersim.page import parts, work
from trackersim.page.downloads import download
from trackersim.page.numbers import number_field
from trackersim.page.site_fields import SKIES, WINDS, pinned, show_pinned, to_mend, word
from trackersim.report.diagnosis import diagnosis_answer
from trackersim.units import System, unit_label

Row = dict[str, str]

MOST_ROWS = 10
_COUNT, _TYPED = "site_mornings", "site_mornings_typed"
_PRESSED, _ASKED = "site_mornings_pressed", "site_mornings_asked"
_MOST_LETTERS = 5_000
_MOST_YEARS = 9  # before or after this one that a date field shows
# What is typed of a moment before its clock.
_HOW = {"not looked": "", "at": "", "not yet by": NOT_BY}
_LOOKED = {"": "not looked", "yes": "yes", "no": "no"}
# What the columns are called here, for fields and faults.
_LABELS = {
    "date": "date",
    "flip": "it passed its centre",
    "facing": "it faced the sun",
    "east": "angle reached, east of centre",
    "air": "air temperature",
    "sky": "sky",
    "wind": "wind",
}


def diagnosis(job: Job, system: System) -> None:
    """Rows of watched mornings, the button, and what ails the rack by the mornings that were asked about."""
    name = st.selectbox("Which rack", job.unit_names, key="site_rack") if job.unit else None
    place = 0 if name is None else job.unit_names.index(name)
    try:
        check_turns(job.alone(place))
    except InputError as error:
        parts.faults(error.faults)
        pinned("This rack cannot be diagnosed.")
        return
    rows, spots = _rows(job, system)
    st.session_state[_TYPED] = _csv(rows) if rows else ""
    key = f"{work.key_of(job)}{name}{rows}"
    st.button("Diagnose the rack", key="site_diagnose", type="primary", on_click=_press, disabled=not rows)
    # Asked about are the rows of this run: what was typed last may be newer than those that the button stood beside.
    if st.session_state.pop(_PRESSED, False):
        st.session_state[_ASKED] = key
    if not rows:
        pinned("Tell of one morning or more when it passed its centre, faced the sun, or how far it went.")
    elif st.session_state.get(_ASKED) != key:
        pinned("Press “Diagnose the rack” when all that was seen is told.")
    else:
        _answered(job, place, rows, spots, system, key)
    if rows:
        text = st.session_state[_TYPED]
        download("Save these mornings", lambda: text, "mornings.csv", "text/csv")


def _press() -> None:
    st.session_state[_PRESSED] = True


def _answered(
    job: Job, place: int, rows: Mapping[int, Row], spots: Mapping[int, DeltaGenerator], system: System, key: str
) -> None:
    alone = job.alone(place)
    try:
        mornings = typed_mornings([*rows.items()], alone, row_word="Morning", whole="Mornings")
    except InputError as error:
        pinned(to_mend(_told(error.faults, spots)))
        return

    def found() -> RackDiagnosis:
        bar = parts.bar()
        try:
            with work.asked():
                return diagnose(alone, mornings, progress=lambda words, share: bar(f"Trying {words} …", share))
        finally:
            bar("", 1.0)

    with st.spinner("Some hundred racks are tried on these mornings: some seconds …"):
        diagnosed = work.kept("diagnosis", 8).get(key, found)
    with st.spinner("What a repair would win …"):
        as_seen = job_as_watched(job, place, diagnosed.watched)
        site = work.kept("site losses", 8).get(work.key_of(as_seen), lambda: work.site_of(as_seen))
    show_pinned(diagnosis_answer(diagnosed, system, site=site))


def _told(faults: Sequence[Fault], spots: Mapping[int, DeltaGenerator]) -> list[Fault]:
    """The faults under the names of their fields, each told beside its morning."""
    shown = []
    for fault in faults:
        place, _, column = fault.field.partition(", ")
        label = f"{place}, {_LABELS.get(column, column)}" if column else place
        shown.append(dataclasses.replace(fault, field=label))
        number = place.rpartition(" ")[2]
        with spots[int(number)] if number.isdigit() else st.container():
            parts.faults(shown[-1:])
    return shown


def _rows(job: Job, system: System) -> tuple[dict[int, Row], dict[int, DeltaGenerator]]:
    """What is typed of each morning of which anything is, by its number, and where its faults are told."""
    count = st.session_state.setdefault(_COUNT, 1)
    rows, spots = {}, {}
    for number in range(1, count + 1):
        with st.container(border=True):
            rows[number] = _row(number, job, system)
            spots[number] = st.container()
    with st.container(horizontal=True):
        st.button(
            "One morning more", key="site_more_mornings", on_click=_count_by, args=(1,), disabled=count >= MOST_ROWS
        )
        st.button("One less", key="site_less_mornings", on_click=_count_by, args=(-1,), disabled=count == 1)
    rows[1] |= _signs()
    return {number: row for number, row in rows.items() if any(row[name] for name in row if name != "date")}, spots


def _count_by(change: int) -> None:
    st.session_state[_COUNT] += change


def _row(number: int, job: Job, system: System) -> Row:
    """The fields of one morning, as text."""
    st.header(f"Morning {number}")

    def label(column: str) -> str:
        return f"Morning {number}, {_LABELS[column]}"

    # The first is most often today's; what another's date is nobody can guess.
    first = today_at(job.site) if number == 1 else None
    date = st.date_input(label("date"), first, key=f"site_seen_date|{number}", persist_state="session")
    row = {"date": date.isoformat() if isinstance(date, dt.date) else ""}
    for column in ("flip", "facing"):
        row[column] = _moment(label(column), f"site_seen_{column}|{number}")
    unit = unit_label("temperature", system)
    east = number_field(f"{label('east')} (°, minus if west)", f"site_seen_east|{number}", None, kept=True)
    air = number_field(f"{label('air')} ({unit})", f"site_seen_air|{number}|{system}", None, kept=True)
    row["east"] = "" if east is None else f"{east:g} deg"
    row["air"] = "" if air is None else f"{air:g} {unit}"
    for column, words in (("sky", SKIES), ("wind", WINDS)):
        said = word(label(column), f"site_seen_{column}|{number}", words)
        row[column] = "" if said == "unknown" else said
    return row


def _moment(label: str, key: str) -> str:
    """A clock time, "not by" one, or nothing; what was chosen without a time is no clock time, and is told so."""
    how = word(label, f"{key}|how", {each: each for each in _HOW})
    if how == "not looked":
        return ""
    clock = st.time_input(
        f"{label} {how}", None, step=60, format="localized", key=f"{key}|clock", persist_state="session"
    )
    return f"{_HOW[how]}{clock:%H:%M}" if clock is not None else how


def _signs() -> Row:
    """What was looked for on the rack itself; it belongs to no one morning."""
    if not st.toggle("I looked at the rack itself too", key="site_signs", persist_state="session"):
        return {}
    return {name: word(_question(name), f"site_sign|{name}", _LOOKED) for name in SIGNS}


def _question(name: str) -> str:
    asks = SIGNS[name].question
    return f"{asks[:1].upper()}{asks[1:]}"


def _csv(rows: Mapping[int, Row]) -> str:
    """The mornings as the file that the command line reads."""
    out = io.StringIO()
    table = csv.DictWriter(out, COLUMNS, restval="", lineterminator="\n")
    table.writeheader()
    table.writerows(rows.values())
    return out.getvalue()


def typed() -> str | None:
    """The mornings as they are typed, as such a file, "" for none; None while nobody has looked at them."""
    text: str | None = st.session_state.get(_TYPED)
    return text


def restore(text: str) -> None:
    """Put mornings that were typed before into the fields; what is none is left out, and nothing is believed of it."""
    if len(text) > _MOST_LETTERS:
        return
    rows = list(csv.DictReader(io.StringIO(text), restval=""))[:MOST_ROWS]
    state = st.session_state
    state[_COUNT] = max(len(rows), 1)
    for number, row in enumerate(rows, start=1):
        told = {column: row.get(column) or "" for column in COLUMNS}
        state[f"site_seen_date|{number}"] = _date(told["date"])
        for column in ("flip", "facing"):
            _restore_moment(f"site_seen_{column}|{number}", told[column])
        for column, words in (("sky", SKIES), ("wind", WINDS)):
            state[f"site_seen_{column}|{number}"] = told[column] if told[column] in words else "unknown"
        state[f"site_seen_east|{number}"] = _number(told["east"])
        for system in get_args(System):
            own = told["air"].endswith(unit_label("temperature", system))
            state[f"site_seen_air|{number}|{system}"] = _number(told["air"]) if own else None
        for name in SIGNS:
            if told[name] in ("yes", "no"):
                state["site_signs"], state[f"site_sign|{name}"] = True, told[name]


def _restore_moment(key: str, text: str) -> None:
    how = "not looked" if not text else "not yet by" if text.startswith(("not yet by", NOT_BY)) else "at"
    st.session_state[f"{key}|how"] = how
    try:
        clock = dt.datetime.strptime(text.removeprefix(NOT_BY), "%H:%M").time()
    except ValueError:
        return
    st.session_state[f"{key}|clock"] = clock


def _date(text: str) -> dt.date | None:
    """A day that the field can show."""
    read = day_written(text)
    near = read is not None and abs(read.year - dt.date.today().year) < _MOST_YEARS
    return read.date() if read is not None and near else None


def _number(text: str) -> float | None:
    try:
        value = float(text.partition(" ")[0])
    except ValueError:
        return None
    return value if math.isfinite(value) else None
