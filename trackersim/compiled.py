"""Functions of numbers compiled to machine code by numba, for what goes on from step to step and no array can take at
once.

What Python calls is `kept`: its first call on a machine takes some seconds, and what comes of it stays beside the
module, or in the user's cache where that place is not writable, until the module's file changes. numba holds no other
file against what it kept, and reads it before it looks: so the functions that one calls stand in its file, and it takes
arrays and plain tuples only, since a class of ours that a later version renames could not be read. A constant of
another file is kept with it: who changes one must touch the files that compile it.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar, cast

from numba import njit

_Function = TypeVar("_Function", bound=Callable[..., Any])


def compiled(function: _Function) -> _Function:
    """A function that compiled ones call; division by zero gives infinity, as in numpy.

    Parameters
    ----------
    function : Callable
        A function of numbers, arrays and named tuples of them.

    Returns
    -------
    Callable
        It, compiled when it is first called.
    """
    return cast(_Function, njit(function, nogil=True, error_model="numpy"))


def kept(function: _Function) -> _Function:
    """A compiled function that Python calls, and that lets other threads run meanwhile.

    Parameters
    ----------
    function : Callable
        A function of numbers, arrays and plain tuples of them.

    Returns
    -------
    Callable
        It, compiled when it is first called on this machine.
    """
    try:
        return cast(_Function, njit(function, cache=True, nogil=True, error_model="numpy"))
    except RuntimeError:  # nowhere on this machine may it be written
        return compiled(function)
