"""The shipped typeface on the page: the page's own server gives it, so that nothing is fetched from elsewhere.

`.streamlit/config.toml` names these addresses.
"""

from __future__ import annotations

from starlette.routing import BaseRoute, Mount
from starlette.staticfiles import StaticFiles

from trackersim.report.lettering import FACE_FOLDER


def letters() -> list[BaseRoute]:
    """Where the server keeps its letters."""
    return [Mount("/typeface", StaticFiles(directory=FACE_FOLDER))]
