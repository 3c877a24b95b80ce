"""Views to decide by: where the water went, the choices, and the sheet that is left with the customer."""

from __future__ import annotations

import streamlit as st

from trackersim.page import parts, work
from trackersim.page.state import Desk
from trackersim.report import customer_sheet as show_report
from trackersim.report import losses as show_losses
from trackersim.report import options as show_options
from trackersim.report import words
from trackersim.units import System


def losses(desk: Desk, system: System) -> None:
    """Where the water went."""
    st.text("A dozen years of minutes, one for each cause: some seconds.")
    found = work.losses_report(desk.good, parts.bar())
    parts.dangers({found.result.rack: found.result})
    parts.lead(show_losses.losses_sentence(found, system))
    parts.picture(show_losses.losses_figure(found, system), show_losses.losses_alt(found, system))
    parts.caption(show_losses.losses_title(found, system))
    parts.table(show_losses.losses_header(), show_losses.losses_rows(found, system))
    parts.lines(
        [show_losses.order_words(found), show_losses.gain_words(found), show_losses.closing_words(found, system)]
    )
    parts.cautions()


def choices(desk: Desk, system: System) -> None:
    """What could be done, and what it buys."""
    st.text("Every choice is a year of minutes; all together take up to a minute.")
    if not st.toggle("Work them out", key="choices_go"):
        return
    found = work.options_report(desk.good, parts.bar())
    parts.dangers({found.own.rack: found.own})
    parts.lead(show_options.options_sentence(found, system))
    parts.caption(show_options.options_title(found, system))
    parts.table(show_options.options_header(found, system), show_options.options_rows(found, system))
    parts.lines(
        [
            show_options.meaning_words(found),
            show_options.tree_words(found, system),
            show_options.refused_words(found),
        ]
    )
    st.warning(show_options.SAFETY)
    st.text(show_options.verdict_words(found, system))


def sheet(desk: Desk, system: System) -> None:
    """The sheet for the customer, as a PDF."""
    job = desk.good
    results = work.compared(job, parts.bar())
    own = results[job.rack.kind]
    parts.dangers(results)
    st.text("One page for the customer, and an appendix for the file. This is what its first lines say:")
    question = st.text_input("The customer's question", "", key="sheet_question", placeholder="How much water?")
    shown = {kind: results[kind] for kind in dict.fromkeys((own.rack, "fixed", "ideal"))}
    open_sky = work.open_sky_year(job)
    parts.lead(words.headline(own, system))
    parts.lines([words.flip_words(own), words.compare_words(shown, own.rack, system, open_sky=open_sky)])
    rows = account = None
    if st.toggle("With choices and losses (a minute)", key="sheet_whole"):
        found, ledger = work.options_report(job, parts.bar()), work.losses_report(job, parts.bar())
        rows = show_options.sheet_rows(found, system)
        account = [show_losses.losses_header(), *show_losses.losses_rows(ledger, system)]

    def written() -> bytes:
        return show_report.report_pdf(
            own, system=system, others=shown, open_sky=open_sky, question=question, choices=rows, account=account
        )

    st.download_button(
        "Save the sheet as PDF", written, "sheet.pdf", "application/pdf", on_click="ignore", key="save_sheet"
    )
