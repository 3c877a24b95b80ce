"""Views to decide by: where the water went, the choices, and the sheet that is left with the customer."""

from __future__ import annotations

import datetime as dt

import streamlit as st

from trackersim.page import parts, work
from trackersim.page.blocks import show_answer
from trackersim.page.downloads import download
from trackersim.page.state import Desk
from trackersim.page.strip import ViewState, shown_job
from trackersim.report.comparison import front_answer
from trackersim.report.customer_sheet import sheet_document
from trackersim.report.losses import losses_answer, losses_header, losses_rows
from trackersim.report.options import sheet_rows
from trackersim.report.paper import Document, pdf, usual_paper
from trackersim.report.verdict import first_words
from trackersim.report.visit import Visit
from trackersim.report.web_page import web_page
from trackersim.units import System


def losses(desk: Desk, view: ViewState) -> None:
    """Where the water went."""
    st.text("A dozen years of minutes, one for each cause: some seconds.")
    stands = None if view.as_in_job else work.first_look_of(desk.good).own_m3_per_day
    job = shown_job(desk, view)
    found = work.losses_report(job, parts.bar())
    show_answer(losses_answer(found, view.system, stands_m3_per_day=stands))
    parts.cautions(job)


def sheet(desk: Desk, system: System) -> None:
    """The sheet for the customer, on paper or as a web page."""
    job = desk.good
    found = work.comparison_of(job, parts.bar())
    own, site = found.own, found.site
    shown = {kind: found.racks[kind] for kind in dict.fromkeys((own.rack, "fixed", "ideal"))}
    st.text("One page for the customer, and an appendix for the file. This is what its first lines say:")
    question = st.text_input("The customer's question", "", key="sheet_question", placeholder="How much water?")
    show_answer(front_answer(own, shown, site, system))
    rows, account, verdict = None, None, ""
    if st.toggle("With what to do first, the choices and the losses (a minute)", key="sheet_whole"):
        options, waterfall = work.options_report(job, parts.bar()), work.losses_report(job, parts.bar())
        rows, verdict = sheet_rows(options, system), first_words(options, system)
        parts.lead(verdict)
        account = [losses_header(), *losses_rows(waterfall, system)]

    noted = _visit()

    def document() -> Document:
        return sheet_document(
            own,
            system=system,
            others=shown,
            site=site,
            question=question,
            choices=rows,
            account=account,
            verdict=verdict,
            visit=noted,
        )

    def on_paper() -> bytes:
        return pdf(document(), paper=usual_paper(system))

    with st.container(horizontal=True):
        download("Save the sheet as PDF", on_paper, "sheet.pdf", "application/pdf")
        download("Save it as a web page to send", lambda: web_page(document()), "sheet.html", "text/html")


def _visit() -> Visit:
    """What was found on site, in the visitor's own words; what is left empty leaves a line for the pen."""
    with st.expander("What was found on site"):
        date = st.date_input("Day of the visit", value=None, key="visit_date")
        by = st.text_input("Who looked", "", key="visit_by", max_chars=90)
        noted = [
            st.text_area(label, "", key=key, max_chars=400)
            for label, key in (
                ("Readings taken, one a line", "visit_readings"),
                ("Findings, one a line", "visit_findings"),
                ("Not checked, one a line", "visit_unchecked"),
            )
        ]
    readings, findings, unchecked = (tuple(filter(None, map(str.strip, text.splitlines()))) for text in noted)
    return Visit(
        date=date if isinstance(date, dt.date) else None,
        by=by.strip(),
        readings=readings,
        findings=findings,
        not_checked=unchecked,
    )
