"""What is worked out ahead, at an address of its own: browsers ask for it every 1.5 s.

It is no run of the page. As one, a fragment, it could still draw into the place that its visitor had just left, and the
toolkit's browser part then went blank.
"""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute, Route


def tables() -> list[BaseRoute]:
    """Where the server tells a table by the key of its job, to who knows that."""
    return [Route("/ahead/{key}", told)]


def told(request: Request) -> Response:
    """A table in the units asked for, as far as it is known."""
    from trackersim.page import work
    from trackersim.page.figures_shown import ahead_shown

    key = request.path_params["key"]
    table = work.ahead().known(key)
    if table is None:
        return Response(status_code=404)
    shown = ahead_shown(key, table, "si" if request.query_params.get("units") == "si" else "us")
    return JSONResponse(shown, headers={"Cache-Control": "no-store"})
