"""The page's server with one slow field: each new visitor's next field in turn comes seconds late, once.

Run as `python tests/browser/slow_field.py run app.py …`: what comes after are arguments of Streamlit's own command.
"""

from __future__ import annotations

import time
from collections import Counter
from typing import Any

import streamlit as st
from one_day import serve
from streamlit.runtime.scriptrunner import get_script_run_ctx

SLOW_S = 4.0
_FIELDS = ("text_input", "selectbox", "number_input")
_visitors: dict[str, int] = {}
_drawn: Counter[str] = Counter()


def _late(real: Any) -> Any:
    def field(*given: Any, **named: Any) -> Any:
        context = get_script_run_ctx()
        visitor = "" if context is None else context.session_id
        _drawn[visitor] += 1
        if _drawn[visitor] == _visitors.setdefault(visitor, len(_visitors) + 1):
            time.sleep(SLOW_S)
        return real(*given, **named)

    return field


if __name__ == "__main__":
    for _name in _FIELDS:
        setattr(st, _name, _late(getattr(st, _name)))
    serve()
