"""The page's server with the demonstration on one clear day: its whole year takes minutes to work out.

Run as `python tests/browser/one_day.py run app.py …`: what comes after are arguments of Streamlit's own command.
"""

from __future__ import annotations

import sys

from streamlit.web.cli import main

from trackersim.job.files import demo_text
from trackersim.page import state

DAY = demo_text().replace("sample:typical-year", "sample:clear-spring-day")


def serve() -> None:
    """Run Streamlit's command with that demonstration."""
    state.demo_text = lambda: DAY
    sys.argv[0] = "streamlit"
    main()


if __name__ == "__main__":
    serve()
