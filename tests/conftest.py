"""Helpers shared by all tests: unit vectors to the sun, and property tests that try the same examples every run."""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from types import FrameType
from typing import Any

# Before numpy is loaded. The matrices here are small: a matrix routine's own threads wait for one another and take
# the cores from the workers beside them; the tests of `analysis/calibration` take twice the processor time with two.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import HealthCheck, settings
from rays import Ray

from trackersim import Result, compare, load_job
from trackersim.memory import keep_freed

settings.register_profile(
    "repeatable", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow], database=None
)
settings.load_profile("repeatable")
keep_freed()  # as the command line does: most tests simulate

IN_A_BROWSER = "tests/browser/"
_MAIN = sys.modules["__main__"]  # before any fixture, of whatever scope, has drawn the page


@pytest.hookimpl(optionalhook=True)  # also where the plugin that runs files side by side is not installed
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """A file stays with one worker, and all tests in a browser stay with one: its server works out each job once."""
    if config.getvalue("dist") != "loadfile":
        return None
    from xdist.scheduler import LoadFileScheduling

    class ByFile(LoadFileScheduling):
        def _split_scope(self, nodeid: str) -> str:
            return IN_A_BROWSER if nodeid.startswith(IN_A_BROWSER) else super()._split_scope(nodeid)

    return ByFile(config, log)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Tests in a browser come first: they take one worker most of the time."""
    items.sort(key=lambda item: not item.nodeid.startswith(IN_A_BROWSER))


@pytest.fixture(autouse=True)
def _main_module_again() -> Iterator[None]:
    """`AppTest` leaves the page's script as the main module, which every process started later would run first."""
    yield
    sys.modules["__main__"] = _MAIN


@pytest.fixture(scope="session")
def ray() -> Ray:
    """Unit vectors (3, n), east–north–up, from elevations and compass azimuths in degrees."""

    def made(elevation_deg: npt.ArrayLike, azimuth_deg: npt.ArrayLike) -> npt.NDArray[np.float64]:
        elevation, azimuth = np.radians(np.atleast_1d(elevation_deg)), np.radians(np.atleast_1d(azimuth_deg))
        elevation, azimuth = np.broadcast_arrays(elevation, azimuth)
        level = np.cos(elevation)
        return np.stack([level * np.sin(azimuth), level * np.cos(azimuth), np.sin(elevation)])

    return made


@pytest.fixture(scope="session")
def within_seconds() -> Callable[[int], AbstractContextManager[None]]:
    """A block that fails instead of hanging: `with within_seconds(3): ...` (main thread, POSIX)."""

    @contextmanager
    def block(seconds: int) -> Iterator[None]:
        def give_up(number: int, frame: FrameType | None) -> None:
            pytest.fail(f"still running after {seconds} s")  # not an Exception: no `except Exception` swallows it

        before = signal.signal(signal.SIGALRM, give_up)
        signal.alarm(seconds)
        try:
            yield
        finally:
            signal.alarm(0)
            signal.signal(signal.SIGALRM, before)

    return block


@pytest.fixture(scope="session")
def demo_year() -> dict[str, Result]:
    """The demo's typical year on the three racks; shared, since it takes two seconds."""
    return compare(load_job("demo"))
