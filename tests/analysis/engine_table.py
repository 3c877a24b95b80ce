"""A learning engine's answers on a grid, straight between: what a hundred fits can afford to ask."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import RegularGridInterpolator

from trackersim.arrays import FloatArray
from trackersim.job.model import Job


@dataclass(frozen=True)
class Table:
    """Stands in for an engine of two fields."""

    job: Job
    ask: Callable[[FloatArray], FloatArray]
    watched: tuple[()] = ()

    def __call__(self, values: FloatArray) -> FloatArray:
        return np.asarray(self.ask(values))


def table_of(job: Job, engine: Callable[[FloatArray], FloatArray], first: FloatArray, second: FloatArray) -> Table:
    """The engine's answers at every pair of two fields' values."""
    answers = np.array([[engine(np.array([one, other])) for other in second] for one in first])
    between = RegularGridInterpolator((first, second), answers, bounds_error=False, fill_value=None)
    return Table(job, lambda values: between(values)[0])


def straight_between(ask: Callable[[FloatArray], FloatArray], grid: FloatArray) -> Callable[[FloatArray], FloatArray]:
    """Answers of whatever shape to one field's value, straight between those on the grid."""
    answers = np.array([ask(np.array([one])) for one in grid])

    def between(values: FloatArray) -> FloatArray:
        place = float(np.interp(values[0], grid, np.arange(len(grid))))
        before = min(int(place), len(grid) - 2)
        return np.asarray(answers[before] + (place - before) * (answers[before + 1] - answers[before]))

    return between
