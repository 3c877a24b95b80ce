"""Memory that one array after another takes: kept between them, given back after the last.

A simulation takes and frees some hundred arrays of a few megabytes. The C library of Linux hands such memory back to
the machine at once and asks for it anew, and the machine clears every page of it: a fifth of a simulation's time. What
it does keep it keeps for each thread apart: with a dozen visitors of the page more than all that is in use.

Python looks for garbage through all objects that there are: after every few hundred new ones, once more as it ends,
and on the page after every run. With the 300,000 of the libraries that takes a command a second and more, and a run a
fifth of a second, in which no visitor is served.
"""

from __future__ import annotations

import ctypes
import gc
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from typing import Any

# Numbers of glibc's malloc.h, and what is set: bytes free at the end of the heap before any go back, size of an array
# that has pages of its own (the most that can be set), and how many heaps there are for all threads.
_TRIM_THRESHOLD, _MMAP_THRESHOLD, _ARENA_MAX = -1, -3, -8
_SETTINGS = {_TRIM_THRESHOLD: 1_000_000_000, _MMAP_THRESHOLD: 32 * 1024**2, _ARENA_MAX: 1}

_NEW_OBJECTS = 50_000  # after so many garbage is looked for


@contextmanager
def little_looking_for_garbage() -> Iterator[None]:
    """A command of which the most is loading: garbage is looked for seldom, and not as it ends."""
    gc.set_threshold(_NEW_OBJECTS)
    try:
        yield
    finally:
        gc.freeze()  # what there is goes with the process


@cache
def leave_out_what_is_loaded() -> None:
    """From now on garbage is not looked for among the objects that there are."""
    gc.collect()
    gc.freeze()


@cache
def keep_freed() -> None:
    """Keep what arrays free for those that come after them, in a process of this program's own; glibc's can be told."""
    tell = _of_the_c_library("mallopt")
    for setting, value in _SETTINGS.items() if tell else ():
        tell(setting, value)


def give_back() -> None:
    """Give free memory back to the machine; glibc's has a call for it."""
    trim = _of_the_c_library("malloc_trim")
    if trim is not None:
        trim(0)


@cache
def _of_the_c_library(name: str) -> Any:
    try:
        return getattr(ctypes.CDLL(None), name, None)
    except (OSError, TypeError):  # no such library to be opened: not on Linux
        return None
