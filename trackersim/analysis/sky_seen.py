"""The sky as the rack sees it, for pictures: where the sun stands, which way trees lie, how high the horizon is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from trackersim.arrays import BoolArray, FloatArray, IndexArray
from trackersim.job.model import Job
from trackersim.rack.geometry import west_sign
from trackersim.simulation.obstacles import crowns_of, horizon_of
from trackersim.sky.crowns import in_crown
from trackersim.sky.sun import Sun, sun_at
from trackersim.sky.trees import horizon_elevation_deg
from trackersim.weather.load import where_is


@dataclass(frozen=True, kw_only=True)
class CrownSeen:
    """One tree: which of the directions asked for it covers (n,), and the share of beam that it passes each day."""

    covers: BoolArray
    passes_by_day: FloatArray


def sun_over(job: Job, times: pd.DatetimeIndex) -> Sun:
    """The sun over the job's site at `times` (n,)."""
    return sun_at(times, **where_is(job))


def trees_over(job: Job, direction: FloatArray, day_of_year: IndexArray) -> tuple[CrownSeen, ...]:
    """The job's trees, in its order, seen along `direction` (3, n) from the middle of the axis on these days."""
    return tuple(
        CrownSeen(covers=in_crown(direction, crown), passes_by_day=crown.transmittance_by_day)
        for crown in crowns_of(job, day_of_year)
    )


def horizon_over(job: Job, bearing_deg: FloatArray) -> FloatArray:
    """Height of horizon and hillside [°] over true bearings (n,)."""
    return horizon_elevation_deg(bearing_deg, horizon_of(job))


def horizon_summit(job: Job) -> tuple[float, float] | None:
    """Bearing and height [°] of the highest place of the horizon; None where it is level all round."""
    horizon = horizon_of(job)
    if horizon is None:
        return None
    highest = int(np.argmax(horizon.elevation_deg))
    return float(horizon.bearing_deg[highest]) % 360, float(horizon.elevation_deg[highest])


def west_is_right(job: Job) -> float:
    """+1 where somebody who looks along the axis toward its low end has west on the right, else −1."""
    return west_sign(job.axis_azimuth_deg)
