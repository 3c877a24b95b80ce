"""Memory that a simulation took and no longer needs goes back to the machine.

The C library of Linux keeps what was freed, for each thread apart, for later: with a dozen visitors that is more than
all that is in use. And the toolkit looks for garbage after every run of the page, through all objects that Python has:
a fifth of a second for the 300,000 of the libraries, in which no visitor is served.
"""

from __future__ import annotations

import ctypes
import gc
from functools import cache
from typing import Any


def give_back() -> None:
    """Give free memory back as far as the C library can, which only glibc's has a call for."""
    _leave_out_what_is_loaded()
    trim = _trim()
    if trim is not None:
        trim(0)


@cache
def _leave_out_what_is_loaded() -> None:
    """From now on garbage is not looked for among the objects that there are."""
    gc.collect()
    gc.freeze()


@cache
def _trim() -> Any:
    try:
        return getattr(ctypes.CDLL(None), "malloc_trim", None)
    except (OSError, TypeError):  # no such library to be opened: not on Linux
        return None
