"""The page: pick the demo or open a job, see the answer in one sentence and two charts. No physics, no unit factors."""

from __future__ import annotations

import streamlit as st

from trackersim.errors import InputError
from trackersim.job.files import demo_text, parse_job
from trackersim.job.model import Job
from trackersim.show import words
from trackersim.show.figures import day_figure, months_figure
from trackersim.study.result import Result
from trackersim.study.simulate import compare
from trackersim.units import System


@st.cache_data(max_entries=4, show_spinner="Simulating a year of minutes …")
def compared(key: str, _job: Job) -> dict[str, Result]:
    """The racks side by side; cached on the job's hash alone, since hashing a year of minutes would only sample it."""
    return compare(_job)


def opened() -> Job | None:
    """The job the visitor chose, or None with its faults shown in words."""
    upload = st.file_uploader("Open a job file, or stay with the demonstration", type=["toml"], key="job_file")
    try:
        text = upload.getvalue().decode("utf-8-sig") if upload else demo_text()
        job = parse_job(text)
        if job.weather.file and not job.weather.file.startswith("sample:"):
            remedy = 'Here use file = "sample:typical-year" or clear_sky = true; the command line reads files.'
            raise InputError.of("weather.file", job.weather.file, "cannot be read by the page.", remedy)
        return job
    except UnicodeDecodeError:
        st.error("This file is not text in UTF-8.")
    except InputError as error:
        show_faults(error)
    return None


def show_faults(error: InputError) -> None:
    """Every fault, as text."""
    st.error("Nothing was simulated. To mend:")
    for fault in error.faults:
        st.text(f"• {fault}")


def main() -> None:
    """Draw the page."""
    st.set_page_config(page_title="Water behind a late rack", layout="wide")
    st.title("What does a late rack cost in water?")
    system: System = "si" if st.radio("Units", ["US", "metric"], horizontal=True, key="units") == "metric" else "us"
    job = opened()
    if job is None:
        return
    try:
        results = compared(job.sha256(), job)
    except InputError as error:
        show_faults(error)
        return
    for notice in words.all_notices(results):
        if notice.level == "danger":
            st.error("Danger")
            st.text(notice.text)
    st.text(words.headline(results[job.rack.kind], system))
    st.text(words.compare_words(results, job.rack.kind, system))
    months, day = st.columns(2)
    months.pyplot(months_figure(results, system))
    months.caption("Bars: mean water a day in each month, for each kind of rack.")
    day.pyplot(day_figure(results, system))
    day.caption("One sunny day: where sun and rack point, light on the modules, and flow.")
    st.caption(words.compare_title(system))
    st.table([dict(zip(words.compare_header(), row, strict=True)) for row in words.compare_rows(results, system)])
    for notice in words.all_notices(results):
        st.text(str(notice))
    st.warning("\n".join(f"- {line}" for line in words.CAUTIONS))
    st.caption(words.provenance_words(results[job.rack.kind]))


main()
