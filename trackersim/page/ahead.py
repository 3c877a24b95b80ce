"""Answers worked out before anybody asks: water at thirteen positions of the strip's dial, under each of its skies.

One thread for all visitors works on them, the job looked at last first, and rests while somebody waits for an answer or
nobody looks. Only what the first screen shows of each is kept.
"""

from __future__ import annotations

import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, field
from itertools import product
from typing import Any

from trackersim.analysis.first_look import DaysOf, FirstLook, days_of, first_look
from trackersim.analysis.options import TreeRank, ranked_trees
from trackersim.errors import InputError
from trackersim.job.model import Job
from trackersim.memory import give_back
from trackersim.page.strip import CONDITION, TreesShown, ViewState, moved, own_delay_min, supposed
from trackersim.simulation.reuse import StageCache
from trackersim.simulation.runner import QUEUE, CancelledError, Runner
from trackersim.simulation.tickets import Rank, holding

_DELAYS_MIN = (0.0, 15.0, 30.0, 45.0, 60.0, 80.0, 100.0, 120.0, 150.0, 180.0, 220.0, 260.0, 300.0)
_CHARGES = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.1, CONDITION["charge"][1])
# Stages that depend on the rack, of which the visitors' own outputs are to stay kept.
_OF_THE_RACK = ("tracking", "generation", "water", "ideal rack")
# Of these it keeps its own, for the positions of one job [bytes].
_OWN_BYTES = 100_000_000
# More than visitors at once: a table that was let go is begun again with whatever its visitor does next.
MOST_TABLES = 60
# A table is left as it is once nobody has asked for it for so long [s]; browsers ask more often. A whole one takes most
# of a minute of the processor: it is not worked out for pages that are closed, or for jobs that were changed since.
_LEFT_AFTER_S = 4.0


@dataclass(frozen=True, kw_only=True)
class Dial:
    """What the strip's slider changes: the field of `ViewState`, where it may stand, and where the job has it."""

    name: str
    label: str
    unit: str
    step: float
    points: tuple[float, ...]
    own: float


def dial_of(job: Job) -> Dial | None:
    """The dial of a job: the minutes its rack waits, or the refrigerant left in one told by its physics."""
    if job.rack.kind == "logged" or job.unit:
        return None
    if job.rack.kind == "thermal":
        own = job.rack.thermal.charge
        points = tuple(sorted({*_CHARGES, own}))
        return Dial(name="charge", label="Refrigerant left", unit="of 1", step=0.05, points=points, own=own)
    own = 0.0 if job.rack.kind in ("ideal", "fixed") else own_delay_min(job)
    points = tuple(sorted({*_DELAYS_MIN, own}))
    return Dial(name="delay_min", label="Turns after", unit="min of sun", step=5.0, points=points, own=own)


def trees_of(job: Job) -> tuple[TreesShown, ...]:
    """The ways in which the trees of a job can be looked at."""
    if not job.trees:
        return ("as they are",)
    grow = any(tree.yearly_growth_m > 0 for tree in job.trees)
    return ("as they are", "none", *(("in ten years",) if grow else ()))


@dataclass
class DialTable:
    """What is known of a job so far, by trees and position; `ranks` are its trees by what felling each gains."""

    job: Job
    cells: dict[tuple[TreesShown, float], FirstLook] = field(default_factory=dict)
    ranks: tuple[TreeRank, ...] | None = None
    runs: dict[str, DaysOf] = field(default_factory=dict)
    done: bool = False
    asked_s: float = 0.0

    @property
    def whole(self) -> bool:
        """Whether nothing more will come."""
        return self.done or dial_of(self.job) is None

    @property
    def wanted(self) -> bool:
        """Whether somebody looks at its job and it can be filled further."""
        return not self.done and time.monotonic() - self.asked_s <= _LEFT_AFTER_S


class Ahead:
    """The thread that fills tables while they are asked for: one to its end, then the one asked for last.

    `shared` are the stages of the visitors' answers.
    """

    def __init__(self, shared: StageCache, *, busy: Callable[[], bool]) -> None:
        self._stages, self._busy = _Sparing(shared), busy
        self._tables: OrderedDict[str, DialTable] = OrderedDict()
        self._change = threading.Condition()
        self._thread: threading.Thread | None = None
        self._at: DialTable | None = None

    def table(self, key: str, job: Job) -> DialTable:
        """The table of a job, as far as it is known; the rest is worked on while it is asked for."""
        with self._change:
            table = self._tables.setdefault(key, DialTable(job))
            self._tables.move_to_end(key)
            table.asked_s = time.monotonic()
            while len(self._tables) > MOST_TABLES:
                self._tables.popitem(last=False)
            if not table.done and (self._thread is None or not self._thread.is_alive()):
                self._thread = threading.Thread(target=self._work, name="ahead", daemon=True)
                self._thread.start()
            self._change.notify()
        return table

    def known(self, key: str) -> DialTable | None:
        """The table under a key that was asked for before, which goes on to be filled; None where it was let go."""
        with self._change:
            table = self._tables.get(key)
        return None if table is None else self.table(key, table.job)

    def _work(self) -> None:
        """Fill tables until there is nothing to do for a while."""
        while True:
            with self._change:
                table = self._next()
                if table is None and not self._change.wait(timeout=5.0):
                    self._thread = None
                    return
            if table is None:
                continue
            while self._busy():
                threading.Event().wait(0.1)
            try:
                with holding(QUEUE.new(Rank.AHEAD)):
                    self._fill_one(table)
                give_back()
            except CancelledError:
                continue
            except InputError:
                table.done = True  # what is asked for itself tells its faults

    def _next(self) -> DialTable | None:
        if self._at is None or not self._at.wanted:
            self._at = next((table for table in reversed(self._tables.values()) if table.wanted), None)
        return self._at

    def _fill_one(self, table: DialTable) -> None:
        runner = Runner(table.job, cache=self._stages, cancelled=self._busy)
        if table.ranks is None:
            here = runner.run().water_m3_per_day
            table.ranks = ranked_trees(table.job, runner, here) if table.job.trees else ()
            return
        dial = dial_of(table.job)
        wanted = product(_nearest_first(dial), trees_of(table.job)) if dial else ()
        todo = next(((trees, value) for value, trees in wanted if (trees, value) not in table.cells), None)
        if todo is None or dial is None:
            table.done, table.runs = True, {}
            return
        trees, value = todo
        view = moved(ViewState(trees=trees), {dial.name: None if value == dial.own else value})

        def run(jobs: Sequence[Job]) -> list[DaysOf]:
            missing = {job.sha256(): job for job in jobs if job.sha256() not in table.runs}
            # One after the other, so that the minutes of each go before those of the next come.
            for key, job in missing.items():
                table.runs[key] = days_of(runner.run(job))
            return [table.runs[job.sha256()] for job in jobs]

        table.cells = {**table.cells, todo: first_look(supposed(table.job, view), run)}


def _nearest_first(dial: Dial) -> list[float]:
    return sorted(dial.points, key=lambda value: abs(value - dial.own))


class _Sparing(StageCache):
    """Stages kept elsewhere, without pushing out anything that depends on a rack."""

    def __init__(self, shared: StageCache) -> None:
        super().__init__(_OWN_BYTES)
        self._other = shared

    def get(self, stage: str, key: Hashable, work: Callable[[], Any]) -> Any:
        """The output of a stage."""
        if stage in _OF_THE_RACK:
            return super().get(stage, key, work)
        return self._other.get(stage, key, work)
