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
