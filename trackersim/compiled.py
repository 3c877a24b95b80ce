"""Functions of numbers compiled to machine code by numba, for what goes on from step to step and no array can take at
once, and for what arrays would go through memory for many times over.

What Python calls is `kept`: its first call on a machine takes some seconds, and what comes of it stays beside the
module, or in the user's cache where that place is not writable, until the module's file changes. numba holds no other
file against what it kept, and reads it before it looks: so the functions that one calls stand in its file, and it takes
arrays and plain tuples only, since a class of ours that a later version renames could not be read. A constant of
another file is kept with it: who changes one must touch the files that compile it.

The compiler is loaded at the first call, not with the module.
"""

from __future__ import annotations

import threading
from collections import defaultdict
from collections.abc import Callable
from functools import lru_cache, wraps
from typing import Any, TypeVar, cast

_Function = TypeVar("_Function", bound=Callable[..., Any])

# Of each module the functions that its kept ones call, until one of those is called.
_parts: dict[str, list[Callable[..., Any]]] = defaultdict(list)
_loading = threading.RLock()


def compiled(function: _Function) -> _Function:
    """A function that kept ones of its module call; division by zero gives infinity, as in numpy.

    Parameters
    ----------
    function : Callable
        A function of numbers, arrays and named tuples of them.

    Returns
    -------
    Callable
        It; its name in its module stands for the compiled one as soon as a kept one has been called.
    """
    _parts[function.__module__].append(function)
    return function


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

    @lru_cache(maxsize=1)
    def loaded() -> Callable[..., Any]:
        with _loading:
            for part in _parts.pop(function.__module__, []):
                function.__globals__[part.__name__] = _to_machine_code(part)
            try:
                return _to_machine_code(function, cache=True)
            except RuntimeError:  # nowhere on this machine may it be written
                return _to_machine_code(function)

    @wraps(function)
    def call(*arguments: Any) -> Any:
        return loaded()(*arguments)

    return cast(_Function, call)


def _to_machine_code(function: Callable[..., Any], *, cache: bool = False) -> Callable[..., Any]:
    from numba import njit

    return cast(Callable[..., Any], njit(function, cache=cache, nogil=True, error_model="numpy"))
