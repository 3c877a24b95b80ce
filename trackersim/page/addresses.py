"""What the page's server answers to beside the page itself, for either file that Streamlit is run with."""

from __future__ import annotations

from starlette.routing import BaseRoute

from trackersim.page.downloads import saves
from trackersim.page.runs import ears
from trackersim.page.table_address import tables
from trackersim.page.typeface import letters


def addresses() -> list[BaseRoute]:
    """Letters, tables, files to take away, and where a browser tells what it has drawn."""
    return [*letters(), *tables(), *saves(), *ears()]
