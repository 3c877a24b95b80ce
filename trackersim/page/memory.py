"""Memory that a simulation took and no longer needs goes back to the machine.

The C library of Linux keeps what was freed, for each thread apart, for later: with a dozen visitors that is more than
all that is in use.
"""

from __future__ import annotations

import ctypes
from functools import cache
from typing import Any


def give_back() -> None:
    """Give free memory back; nothing where the C library has no such call (it is glibc's)."""
    trim = _trim()
    if trim is not None:
        trim(0)


@cache
def _trim() -> Any:
    try:
        return getattr(ctypes.CDLL(None), "malloc_trim", None)
    except (OSError, TypeError):  # no such library to be opened: not on Linux
        return None
