"""The addresses of the places, and where a visitor is led who spells one otherwise: by hand, or by an older link.

The toolkit serves its first place at the root alone, and says "Page not found" at that place's own name.
"""

from __future__ import annotations

from typing import Any

from starlette.responses import RedirectResponse

# The places by the last part of their address; the first is the root.
NAMES = ("answer", "morning", "trees", "decide", "on-site", "sheet", "manual")
FIRST = NAMES[0]


def _letters(text: str) -> str:
    return "".join(filter(str.isalnum, text.casefold()))


_BY_LETTERS = {_letters(name): name for name in NAMES}


def led_to(path: str) -> str | None:
    """The address of the place that a path means by other letters or signs; None for that address, and all others.

    >>> led_to("/answer"), led_to("/On_Site/"), led_to("/on-site"), led_to("/elsewhere")
    ('/', '/on-site', None, None)
    """
    name = _BY_LETTERS.get(_letters(path))
    if name is None:
        return None
    own = "/" if name == FIRST else f"/{name}"
    return None if path == own else own


class PlacesFound:
    """Leads a visitor to the place that an address means, with the state that stands behind it."""

    def __init__(self, app: Any) -> None:
        self._app = app

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        """Answer with the place's own address, or as what stands behind does."""
        own = led_to(scope["path"]) if scope["type"] == "http" else None
        if own is None:
            await self._app(scope, receive, send)
            return
        state = scope["query_string"].decode("latin-1")
        await RedirectResponse(f"{own}?{state}" if state else own)(scope, receive, send)
