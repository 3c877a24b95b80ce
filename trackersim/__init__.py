"""Water lifted by a solar pump on a fixed, ideal-tracking or late-turning passive rack, behind trees.

    from trackersim import load_job, simulate, compare

Importing this package is light: the engine loads on first use.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from trackersim.errors import Fault, InputError, Notice
    from trackersim.job.files import load_job
    from trackersim.job.model import Job
    from trackersim.simulation.result import Result
    from trackersim.simulation.runner import compare, simulate

__version__ = "0.1.0"
__all__ = ["Fault", "InputError", "Job", "Notice", "Result", "__version__", "compare", "load_job", "simulate"]

_HOMES = {
    "Fault": "trackersim.errors",
    "InputError": "trackersim.errors",
    "Job": "trackersim.job.model",
    "Notice": "trackersim.errors",
    "Result": "trackersim.simulation.result",
    "compare": "trackersim.simulation.runner",
    "load_job": "trackersim.job.files",
    "simulate": "trackersim.simulation.runner",
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'trackersim' has no attribute {name!r}")
    return getattr(import_module(_HOMES[name]), name)
