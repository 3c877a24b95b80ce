"""What pictures of an answer show, as plain data: matplotlib draws it for files and paper, the page for the pointer."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
import pandas as pd

from trackersim.arrays import FloatArray
from trackersim.clock import on_clock
from trackersim.constants import MINUTES_A_DAY
from trackersim.report.words import MONTHS, rack_words, water_per_day_by_month
from trackersim.simulation.result import Result
from trackersim.units import System, rounded, shown_value, unit_label

# Light that no clear sky exceeds [W/m²]; the edge of a cloud may.
_USUAL_LIGHT_W_M2 = 1200.0


@dataclass(frozen=True, kw_only=True)
class Series:
    """Figures in the reader's unit, one for each place across, NaN where there is none.

    `look` is the kind of rack, "sun", or what a step is. `begins` is where the bar of a step begins; `told` are the
    figures as a table beside the picture prints them, where that is not to three digits.
    """

    name: str
    look: str
    values: FloatArray
    begins: FloatArray | None = None
    told: tuple[str, ...] = ()

    def words(self, place: int) -> str:
        """One of the figures as it is printed."""
        return self.told[place] if self.told else rounded(float(self.values[place]))


@dataclass(frozen=True, kw_only=True)
class Chart:
    """One picture: bars over months, curves over the wall clock's minutes, or steps going down from cause to cause.

    `across` are the months or causes, `times` the minutes of curves, `span_min` the first and last of them to show,
    `marks` moments by name among them.
    `axis` is what is counted, in `unit`. `limits` stay where they are when the job is changed, so that before and after
    can be compared. `level` is a line across; `before` is the job as it stands, of the rack that has the same look.
    """

    kind: Literal["bars", "curves", "steps"]
    title: str
    axis: str
    unit: str
    across: tuple[str, ...] = ()
    times: pd.DatetimeIndex | None = None
    span_min: tuple[int, int] = (0, 0)
    marks: Mapping[str, int] = field(default_factory=dict)
    series: tuple[Series, ...]
    limits: tuple[float, float]
    level: tuple[str, float] | None = None
    before: Series | None = None


def months_chart(
    results: Mapping[str, Result],
    system: System,
    *,
    before: Mapping[str, Result] | None = None,
    most_m3_per_day: float = 0.0,
) -> Chart:
    """Water a day by month on each rack.

    `before` is the job as it stands, under the kind of rack that it is compared with; `most_m3_per_day` the most that
    any change of it could lift in a month.
    """
    first = next(iter(results.values()))
    series = tuple(_months(result, kind, system) for kind, result in results.items())
    ghost = next((_ghost(_months(result, kind, system)) for kind, result in (before or {}).items()), None)
    unit = unit_label("volume_per_day", system)
    demands = first.job.store.demands_m3_per_day
    demand = float(shown_value(max(demands), "volume_per_day", system))
    most = float(shown_value(most_m3_per_day, "volume_per_day", system))
    shown = [float(np.nanmax(each.values)) for each in (*series, *([ghost] if ghost else []))]
    return Chart(
        kind="bars",
        title=f"{first.job.site.name}: water a day, by month",
        axis=f"Water, {unit}",
        unit=unit,
        across=MONTHS,
        series=series,
        limits=(0.0, round_up(max(most, demand, *shown))),
        level=("wanted", demand) if demand > 0 and len(set(demands)) == 1 else None,  # one line stands for one demand
        before=ghost,
    )


def _ghost(series: Series) -> Series:
    return replace(series, name="the job as it stands")


def _months(result: Result, look: str, system: System) -> Series:
    per_day = water_per_day_by_month(result)
    water = np.array([per_day.get(month, np.nan) for month in range(1, len(MONTHS) + 1)])
    return Series(name=rack_words(result), look=look, values=shown_value(water, "volume_per_day", system))


def most_in_a_month(water_m3: FloatArray, first_day: dt.date) -> float:
    """The most water a day [m³/day] in a month, from that of each day [m³]."""
    months = pd.date_range(first_day, periods=len(water_m3), freq="D").month
    return float(pd.Series(water_m3).groupby(months).mean().max())


def day_charts(
    results: Mapping[str, Result],
    system: System,
    day: int,
    *,
    before: Mapping[str, Result] | None = None,
    marks: Mapping[str, int] | None = None,
    span_min: tuple[int, int] | None = None,
) -> tuple[Chart, Chart, Chart]:
    """One day (from 0), minute by minute: where sun and racks point, the light on the modules, and the flow.

    `marks` are moments by name, as minutes of the day; `span_min` the minutes to show, by default those with light.
    """
    first = next(iter(results.values()))
    window = slice(day * MINUTES_A_DAY, (day + 1) * MINUTES_A_DAY)
    times = wall_times(first, window)
    sun = first.minutes["sun_rotation_deg"][window]
    up = Series(name="sun", look="sun", values=np.where(np.abs(sun) <= 90, sun, np.nan))

    def chart(name: str, title: str, axis: str, unit: str, limits: tuple[float, float]) -> Chart:
        def of(result: Result, look: str) -> Series:
            minutes = np.asarray(result.minutes[name][window])
            values = shown_value(minutes, "flow", system) if name == "flow_m3_s" else minutes
            return Series(name=rack_words(result), look=look, values=values)

        return Chart(
            kind="curves",
            title=title,
            axis=axis,
            unit=unit,
            times=times,
            span_min=span_min or lit_minutes(results, day),
            marks=marks or {},
            series=tuple(of(result, kind) for kind, result in results.items()),
            limits=limits,
            before=next((_ghost(of(result, kind)) for kind, result in (before or {}).items()), None),
        )

    flow = unit_label("flow", system)
    everyone = (*results.values(), *(before or {}).values())
    light, most = (max(float(each.minutes[name].max()) for each in everyone) for name in ("plane_w_m2", "flow_m3_s"))
    angle = chart(
        "rotation_deg",
        f"{first.job.site.name}: {first.times[window.start]:%d %B %Y}",
        "Angle from centre, °\n(east −, west +)",
        "°",
        (-90.0, 90.0),
    )
    return (
        replace(angle, series=(*angle.series, up)),
        chart("plane_w_m2", "", "Light on modules,\nW/m²", "W/m²", (0.0, max(_USUAL_LIGHT_W_M2, round_up(light)))),
        chart("flow_m3_s", "", f"Flow, {flow}", flow, (0.0, round_up(float(shown_value(most, "flow", system))))),
    )


def lit_minutes(results: Mapping[str, Result], day: int) -> tuple[int, int]:
    """First and last minute to show of a day (from 0): those with light on the first rack, and 45 around."""
    plane = next(iter(results.values())).minutes["plane_w_m2"][day * MINUTES_A_DAY : (day + 1) * MINUTES_A_DAY]
    lit = np.flatnonzero(plane > 0)
    span = (int(lit[0]) - 45, int(lit[-1]) + 45) if len(lit) else (0, MINUTES_A_DAY)
    return max(span[0], 0), min(span[1], MINUTES_A_DAY - 1)


def wall_times(result: Result, window: slice) -> pd.DatetimeIndex:
    """Times of a window as the clock on the wall shows them, if the job names its zone; else standard time."""
    return on_clock(result.job.site, result.times[window]).tz_localize(None)


def round_up(value: float) -> float:
    """A round number at or above `value`, for the end of an axis.

    >>> round_up(3612.0), round_up(17.2), round_up(0.0)
    (3800.0, 18.0, 1.0)
    """
    if value <= 0:
        return 1.0
    step = 10.0 ** math.floor(math.log10(value)) / 5
    return math.ceil(round(value / step, 9)) * step
