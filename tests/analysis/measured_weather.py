"""A job's own cloudless days as a file of measured ones: what is learned on them is learned in air that is known."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pandas as pd

from trackersim import Job
from trackersim.job.files import with_overrides
from trackersim.weather.load import native_weather

COLUMNS = {"ghi": "ghi_w_m2", "dni": "dni_w_m2", "dhi": "dhi_w_m2", "air_c": "air_c", "wind_m_s": "wind_m_s"}


def as_measured(job: Job, folder: Path, first: dt.date, last: dt.date, *, every_min: int = 1) -> Job:
    """The cloudless job with its days from `first` to `last` in a file in `folder`."""
    sky, site = native_weather(job), job.site
    days = (sky.times.date >= first) & (sky.times.date <= last)
    table = pd.DataFrame({name: getattr(sky, field)[days] for name, field in COLUMNS.items()})
    table = table.groupby(table.index // every_min).mean().round(3)
    start = sky.times[days][::every_min] - pd.Timedelta(seconds=30)
    table.insert(0, "time", start.strftime("%Y-%m-%d %H:%M"))
    head = {"label": "interval starting", "utc_offset": site.standard_offset_h, "latitude": site.latitude_deg,
            "longitude": site.longitude_deg, "elevation": site.elevation_m}  # fmt: skip
    path = folder / "measured.csv"
    text = "".join(f"# {key} = {value}\n" for key, value in head.items())
    path.write_text(text + table.to_csv(index=False), encoding="utf-8")
    return with_overrides(job, {"weather.clear_sky": False, "weather.file": str(path), "weather.minutes": "smooth"})
