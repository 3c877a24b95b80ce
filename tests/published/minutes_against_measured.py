"""Minutes made from hours against minutes measured: `python tests/published/minutes_against_measured.py FILE.dat.gz`.

FILE is a station-to-archive file of the Baseline Surface Radiation Network (a month of one-minute means). Its minutes
are averaged to hours, the hours made into minutes again, and the demo's job, moved there, pumps in all three. Printed
are water, array energy and starts of every rack, and statistics of global light. Such a file
(Payerne, June 2016) came with pvlib 0.11.0 as `pvlib/data/bsrn-pay0616.dat.gz`; the constants of `weather/broken_cloud`
are fitted to its days 1 to 15 (`--last 15`), by other seeds than are printed here. No constant was fitted to days 16 to
30 (`--first 16`), but forms of the law were weighed with an eye on them.
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
import pandas as pd
from pvlib.iotools import read_bsrn

from trackersim import Result, load_job
from trackersim.arrays import FloatArray
from trackersim.job.files import with_overrides
from trackersim.job.model import Job
from trackersim.simulation.runner import Runner
from trackersim.sky.sun import sun_at
from trackersim.weather.clearsky import clear_sky

GALLONS = 264.172
# Sun this high (10°): lower down a ratio to the clear sky says little.
_SINE = 0.1736
START_W_M2 = 250.0


def measured(path: str, first: int, last: int) -> tuple[pd.DataFrame, dict[str, float]]:
    """The file's minutes of some days, holes closed, and the station's place."""
    table, about = read_bsrn(path)[:2]
    place = {
        "latitude_deg": float(about["latitude"]),
        "longitude_deg": float(about["longitude"]),
        "elevation_m": float(about["altitude"]),
    }
    sun = sun_at(table.index + pd.Timedelta(seconds=30), **place)
    level = np.maximum(sun.direction[2], 0.0)
    frame = table[["ghi", "dhi", "temp_air"]].interpolate(limit_direction="both")
    closing = np.where(level > 0.03, (frame["ghi"] - frame["dhi"]) / np.maximum(level, 0.03), 0.0)
    frame["dni"] = table["dni"].where(table["dni"].notna(), closing)
    for name in ("ghi", "dni", "dhi"):
        frame[name] = frame[name].clip(lower=0.0).where(sun.is_up, 0.0)
    frame["wind_speed"] = 2.0
    frame = frame[(frame.index.day >= first) & (frame.index.day <= last)]
    frame.attrs["stamp"] = "start"
    return frame, place


def means(minutes: pd.DataFrame, step: int) -> pd.DataFrame:
    """Means of every `step` minutes."""
    table = minutes.resample(f"{step}min").mean()
    table.attrs["stamp"] = "start"
    return table


def statistics(ghi_w_m2: FloatArray, clear_w_m2: FloatArray, high: FloatArray) -> dict[str, float]:
    """Clear-sky index, steps and starts of global light (minutes of whole days)."""
    index = ghi_w_m2[high] / clear_w_m2[high]
    on = ghi_w_m2.reshape(-1, 1440) >= START_W_M2
    found = {f"index {percent} %": float(np.percentile(index, percent)) for percent in (5, 25, 50, 75, 95)}
    return found | {
        "above 1.1, %": 100 * float((index > 1.1).mean()),
        "step, W/m²": float(np.abs(np.diff(ghi_w_m2))[high[1:]].mean()),
        "starts a day at 250 W/m²": float((on[:, 1:] & ~on[:, :-1]).sum(axis=1).mean()),
    }


def figures(results: Mapping[str, Result]) -> FloatArray:
    """Water [gal/day], array [kWh a day] and starts a day of every rack (racks, 3)."""
    return (
        np.array(
            [
                [each.water_m3 * GALLONS, float(each.daily["array_kwh"].sum()), float(each.water.starts.sum())]
                for each in results.values()
            ]
        )
        / next(iter(results.values())).days
    )


def made(job: Job, hours: pd.DataFrame, changes: dict[str, object]) -> tuple[FloatArray, FloatArray]:
    """Figures, and global light by the minute, of the job in those hours."""
    changed = with_overrides(job, changes)
    runner = Runner(changed, weather=hours)
    return figures(runner.racks()), runner.scene(changed).weather.ghi_w_m2


class Compared(NamedTuple):
    """Figures (racks, 3) with measured minutes, with hours joined smoothly and with minutes drawn (seeds, racks, 3);
    statistics of light likewise."""

    days: int
    racks: tuple[str, ...]
    exact: FloatArray
    smooth: FloatArray
    drawn: FloatArray
    light: dict[str, float]
    light_smooth: dict[str, float]
    light_drawn: list[dict[str, float]]


def compared(path: str, first: int, last: int, *, step: int = 60, seeds: int) -> Compared:
    """The demo's job at the station, in measured minutes and in those made of their hours."""
    minutes, place = measured(path, first, last)
    where = {f"site.{name.rsplit('_', 1)[0]}": value for name, value in place.items()}
    job = with_overrides(load_job("demo"), {**where, "site.utc_offset": 0, "site.timezone": ""})
    runner = Runner(job, weather=minutes)
    truth = runner.racks()
    hours = means(minutes, step)
    smooth, smooth_ghi = made(job, hours, {"weather.minutes": "smooth"})
    drawn = [made(job, hours, {"weather.minutes": "broken", "weather.seed": seed}) for seed in range(seeds)]
    sun, times = runner.scene().sun, runner.scene().weather.times
    clear, high = clear_sky(times, sun, **place).ghi_w_m2, sun.direction[2] > _SINE
    return Compared(
        days=runner.scene().days,
        racks=tuple(truth),
        exact=figures(truth),
        smooth=smooth,
        drawn=np.array([each for each, _ in drawn]),
        light=statistics(runner.scene().weather.ghi_w_m2, clear, high),
        light_smooth=statistics(smooth_ghi, clear, high),
        light_drawn=[statistics(ghi, clear, high) for _, ghi in drawn],
    )


def main() -> None:
    """Simulate and print."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("file")
    asked.add_argument("--first", type=int, default=1, help="first day of the month")
    asked.add_argument("--last", type=int, default=31, help="last day of the month")
    asked.add_argument("--step", type=int, default=60, help="minutes of an interval")
    asked.add_argument("--seeds", type=int, default=10)
    told = asked.parse_args()
    found = compared(told.file, told.first, told.last, step=told.step, seeds=told.seeds)

    print(f"{found.days} days, {told.step} min, {told.seeds} seeds; water and array in % of the measured")
    print(f"{'rack':10}{'measured':>10}{'starts':>8} | {'smooth':>8}{'array':>8}{'starts':>8} | ", end="")
    print(f"{'broken':>8}{'array':>8}{'starts':>8}{'one seed ±':>12}")
    for row, kind in enumerate(found.racks):
        exact = found.exact[row]
        print(f"{kind:10}{exact[0]:10.0f}{exact[2]:8.1f} | ", end="")
        for each, end in ((found.smooth[row], " | "), (found.drawn.mean(axis=0)[row], "")):
            water, array = 100 * (each[:2] / exact[:2] - 1)
            print(f"{water:+8.2f}{array:+8.2f}{each[2]:8.1f}", end=end)
        print(f"{100 * found.drawn[:, row, 0].std() / exact[0]:12.2f}")

    print(f"\n{'':26}{'measured':>10}{'smooth':>10}{'broken':>10}")
    for name, value in found.light.items():
        broken = np.mean([each[name] for each in found.light_drawn])
        print(f"{name:26}{value:10.3f}{found.light_smooth[name]:10.3f}{broken:10.3f}")


if __name__ == "__main__":
    main()
