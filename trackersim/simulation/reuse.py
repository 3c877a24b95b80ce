"""What stages have worked out, kept under the inputs that they read."""

from __future__ import annotations

import threading
from collections import Counter, OrderedDict
from collections.abc import Callable, Hashable, Mapping
from concurrent.futures import Future
from dataclasses import dataclass, field, fields, is_dataclass
from typing import Any

import numpy as np
import pandas as pd
from pydantic import BaseModel

from trackersim.arrays import sealed

# Gives what was worked out under a key before, or works it out: (stage, key, work).
Reuse = Callable[[str, Hashable, Callable[[], Any]], Any]


def worked_anew(stage: str, key: Hashable, work: Callable[[], Any]) -> Any:
    """The output of a stage without reuse.

    Parameters
    ----------
    stage : str
        Name of a stage.
    key : Hashable
        What its output depends on.
    work : Callable[[], Any]
        Works it out.

    Returns
    -------
    Any
        What `work` gives.
    """
    return work()


# What is kept by default [bytes]. A year of minutes takes about, in MB: joined light 34, place 47, sky light 11, scene
# 13, axis 8, what watched racks take up 13, tracking 13, generation 19, water 14; a first look at a job, five runs, 260
# in all.
MOST_BYTES = 1_000_000_000


@dataclass
class _Kept:
    """An output, there or to come, and the arrays in it; None until it is there and they are counted."""

    future: Future[Any] = field(default_factory=Future)
    arrays: dict[int, int] | None = None


class StageCache:
    """Outputs by stage and key, the least used forgotten first; several threads may share one.

    What is kept holds at most `most_bytes` of arrays, those that were in an output when it was made; an array that
    several outputs share counts once. An output that two threads want at once is worked out by the first and waited
    for by the second. Nobody may write into an output. What fails is not kept.
    """

    def __init__(self, most_bytes: int = MOST_BYTES) -> None:
        self._most, self._lock = most_bytes, threading.Lock()
        self._kept: OrderedDict[Hashable, _Kept] = OrderedDict()
        self._made: Counter[str] = Counter()
        # How many outputs hold each array, and the bytes of all arrays: counting them all again takes milliseconds.
        self._holders: Counter[int] = Counter()
        self._bytes = 0

    @property
    def made(self) -> Mapping[str, int]:
        """How often each stage was worked out, and not taken from here; 0 for one that never was."""
        with self._lock:
            return Counter(self._made)

    @property
    def held_bytes(self) -> int:
        """Bytes of all arrays that are kept."""
        with self._lock:
            done = [kept.future.result() for kept in self._kept.values() if kept.future.done()]
            return sum(arrays_in(done).values())

    def get(self, stage: str, key: Hashable, work: Callable[[], Any]) -> Any:
        """The output of `stage` under `key`, worked out where it is not kept."""
        while True:
            with self._lock:
                kept, first = self._kept.get((stage, key)), False
                if kept is None:
                    kept, first = _Kept(), True
                    self._kept[stage, key] = kept
                    self._made[stage] += 1
                else:
                    self._kept.move_to_end((stage, key))
            if first:
                return self._worked_out((stage, key), kept, work)
            if kept.future.exception() is None:
                return kept.future.result()
            # Why it failed elsewhere, such as that it was called off there, is no concern of this thread.

    def _worked_out(self, key: Hashable, kept: _Kept, work: Callable[[], Any]) -> Any:
        try:
            output = work()
            arrays = arrays_in(output)
        except BaseException as error:
            with self._lock:
                del self._kept[key]
            kept.future.set_exception(error)
            raise
        with self._lock:
            kept.arrays = arrays
            kept.future.set_result(output)
            for array, size in arrays.items():
                self._bytes += 0 if self._holders[array] else size
                self._holders[array] += 1
            self._forget()
        return output

    def _forget(self) -> None:
        """Let go of what was used longest ago until the rest fits."""
        for key, kept in list(self._kept.items()):
            if self._bytes <= self._most:
                return
            if kept.arrays is None:  # to come
                continue
            del self._kept[key]
            for array, size in kept.arrays.items():
                self._holders[array] -= 1
                if not self._holders[array]:
                    del self._holders[array]
                    self._bytes -= size


def not_to_be_written(output: Any) -> Any:
    """Something as it is, but that nobody can write into its arrays: others share them.

    What is kept stays writable itself, since to numba an array that is not is another type, for which each of its
    functions would be compiled anew.

    Parameters
    ----------
    output : Any
        What is looked through: arrays, mappings, tuples, and the fields of dataclasses.

    Returns
    -------
    Any
        The same with views of the arrays.
    """
    if isinstance(output, np.ndarray):
        return sealed(output)
    if isinstance(output, Mapping):
        return {name: not_to_be_written(each) for name, each in output.items()}
    if isinstance(output, tuple):
        parts = [not_to_be_written(each) for each in output]
        return type(output)(*parts) if hasattr(output, "_fields") else tuple(parts)
    if not is_dataclass(output) or isinstance(output, type):
        return output
    twin = object.__new__(type(output))
    for each in fields(output):
        object.__setattr__(twin, each.name, not_to_be_written(getattr(output, each.name)))
    return twin


def arrays_in(output: Any) -> dict[int, int]:
    """Bytes of every array and table within something. Views count as what they look into.

    Parameters
    ----------
    output : Any
        What is looked through: arrays, tables, mappings, tuples, lists, and the attributes of objects.

    Returns
    -------
    dict[int, int]
        Bytes by the identity of what holds them.
    """
    found: dict[int, int] = {}
    seen: set[int] = set()
    todo = [output]
    while todo:
        each = todo.pop()
        if id(each) in seen:
            continue
        seen.add(id(each))
        if isinstance(each, np.ndarray):
            while isinstance(each.base, np.ndarray):
                each = each.base
            found[id(each)] = each.nbytes
        elif isinstance(each, pd.DataFrame):
            found[id(each)] = int(each.memory_usage().sum())
        elif isinstance(each, pd.Index | pd.Series):
            found[id(each)] = int(each.nbytes)
        elif isinstance(each, Mapping):
            todo += each.values()
        elif isinstance(each, tuple | list):
            todo += each
        elif not isinstance(each, BaseModel | type):
            todo += getattr(each, "__dict__", {}).values()
    return found
