"""Can the job's weather be true? What its checks found, and its light hour by hour with the doubtful hours marked."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

import trackersim
from trackersim.arrays import BoolArray, FloatArray
from trackersim.job.model import Job
from trackersim.weather.findings import WHAT
from trackersim.weather.load import native_weather
from trackersim.weather.raw import Remark, Row
from trackersim.weather.weather import Weather

_HOURS = 24


@dataclass(frozen=True, kw_only=True)
class WeatherCheck:
    """The weather of a job and what was found in it.

    `rows` is the table: what, how many, when, what was done; `looked_at` and `unable` name what could be checked and
    what the file gives no ground for. `ghi_w_m2` (days, 24) is the mean global light of each hour; `doubtful` and
    `filled` (days, 24) mark hours with a row that a check holds in doubt, and with a row whose light the file lacks.
    """

    job: Job
    weather: Weather
    rows: tuple[Row, ...]
    looked_at: tuple[str, ...]
    unable: tuple[str, ...]
    ghi_w_m2: FloatArray
    doubtful: BoolArray
    filled: BoolArray

    def summary(self) -> dict[str, Any]:
        """Plain data in SI, as the command line's JSON prints it."""
        weather = self.weather
        inspection = weather.inspection
        return {
            "job": self.job.site.name,
            "weather": weather.name,
            "weather_sha256": weather.sha256,
            "first_day": str(weather.times[0].date()),
            "days": weather.days,
            "step_min": weather.step_min,
            "rows": [asdict(row) for row in self.rows],
            "findings": [
                {"check": each.check, "level": each.level, "days": each.days, "share_of_light": each.share}
                for each in (inspection.findings if inspection else ())
            ],
            "notices": [{"level": notice.level, "text": notice.text} for notice in weather.notices],
            "unable": list(self.unable),
            "doubtful_hours": int(self.doubtful.sum()),
            "filled_hours": int(self.filled.sum()),
            "version": trackersim.__version__,
        }


def check_weather(job: Job) -> WeatherCheck:
    """Read the job's weather as a simulation does, and gather what its checks say. Raises `InputError` as that does."""
    weather = native_weather(job)
    found = weather.inspection
    hours = (weather.days, _HOURS, -1)
    none = np.zeros(len(weather.times), dtype=bool)
    return WeatherCheck(
        job=job,
        weather=weather,
        rows=tuple(each.row for each in weather.notices if isinstance(each, Remark) and each.row is not None),
        looked_at=tuple(words for name, words in WHAT.items() if found and name not in found.unable),
        unable=tuple(WHAT[name] for name in found.unable) if found else (),
        ghi_w_m2=weather.ghi_w_m2.reshape(hours).mean(axis=2),
        doubtful=np.asarray((found.doubtful if found else none).reshape(hours).any(axis=2)),
        filled=np.asarray((found.filled if found else none).reshape(hours).any(axis=2)),
    )
