"""What stages have worked out, kept under the inputs that they read."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable, Mapping
from concurrent.futures import Future
from typing import Any

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


# How many outputs of a stage are kept. A year of minutes takes about, in MB: place 70, sky light 15, scene 5, axis 8,
# sun 30, thermal tracking 30, generation 20, water 12.
LIMITS: Mapping[str, int] = {
    "sun": 2,
    "place": 3,
    "sky light": 2,
    "scene": 4,
    "axis": 6,
    "sky view": 12,
    "ideal rack": 4,
    "watched morning": 8,
    "tracking": 8,
    "modules": 8,
    "generation": 8,
    "pump station": 16,
    "water": 8,
}


class StageCache:
    """Outputs of stages by stage and key, the least used forgotten first; several threads may share one.

    An output that two threads want at once is worked out by the first and waited for by the second. Nobody may write
    into an output. What fails is not kept.
    """

    def __init__(self, limits: Mapping[str, int] = LIMITS) -> None:
        self._limits, self._lock = dict(limits), threading.Lock()
        self._kept: dict[str, OrderedDict[Hashable, Future[Any]]] = {stage: OrderedDict() for stage in self._limits}
        self._made: dict[str, int] = dict.fromkeys(self._limits, 0)

    @property
    def made(self) -> dict[str, int]:
        """How often each stage was worked out, and not taken from here."""
        with self._lock:
            return dict(self._made)

    def get(self, stage: str, key: Hashable, work: Callable[[], Any]) -> Any:
        """The output of `stage` under `key`, worked out where it is not kept."""
        with self._lock:
            kept = self._kept[stage]
            future, first = kept.get(key), False
            if future is None:
                future, first = Future(), True
                kept[key] = future
                self._made[stage] += 1
                while len(kept) > self._limits[stage]:
                    kept.popitem(last=False)
            else:
                kept.move_to_end(key)
        if not first:
            return future.result()
        try:
            future.set_result(work())
        except BaseException as error:
            with self._lock:
                if kept.get(key) is future:
                    del kept[key]
            future.set_exception(error)
            raise
        return future.result()
