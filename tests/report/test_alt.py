"""Alt texts say in words and figures what the pictures show."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest

from trackersim import Result, load_job
from trackersim.job.files import with_overrides
from trackersim.report.alt import day_alt, months_alt, sky_alt
from trackersim.report.figures import show_day
from trackersim.report.sky_loss import sky_loss, sky_loss_alt
from trackersim.report.words import MONTHS

CLEAR = ["weather.file=", "weather.clear_sky=true"]


def test_months_give_best_and_worst_month_of_every_rack(demo_year: Mapping[str, Result]) -> None:
    text = months_alt(demo_year, "si")
    for result in demo_year.values():
        per_day = result.monthly_means["water_m3"]
        assert MONTHS[per_day.idxmin() - 1] in text
        assert f"{per_day.max():.1f} m³/day in {MONTHS[per_day.idxmax() - 1]}" in text
    assert text.count("from ") == len(demo_year)
    assert "11.4 m³/day wanted" in text


def test_without_a_demand_no_line_is_spoken_of(demo_year: Mapping[str, Result]) -> None:
    import datetime as dt

    from trackersim import simulate

    job = load_job("demo", [*CLEAR, "store.demand=0"])
    result = simulate(job, first_day=dt.date(2025, 3, 20), last_day=dt.date(2025, 3, 20))
    text = months_alt({"delayed": result}, "us")
    assert "wanted" not in text
    assert "gal/day in March" in text


def test_a_day_gives_hours_water_and_best_flow(demo_year: Mapping[str, Result]) -> None:
    late = demo_year["delayed"]
    day = show_day(late)
    text = day_alt({"delayed": late}, "us")
    flow = late.by_day("flow_m3_s")[day]
    first = int(np.flatnonzero(flow > 0)[0])
    zone = late.times[day * 1440 + first].tz_convert("America/New_York")
    assert f"between {zone:%H:%M}" in text
    assert f"{flow.max() * 60 / 3.785411784e-3:.1f} gpm" in text


def test_a_day_without_water_is_told_so(demo_year: Mapping[str, Result]) -> None:
    late = demo_year["delayed"]
    dry = int(late.daily["water_m3"].to_numpy().argmin())
    assert late.daily["water_m3"].iloc[dry] == 0
    assert "no water on this day" in day_alt({"delayed": late}, "us", day=dry)


def test_the_sky_names_trees_where_they_stand() -> None:
    """By hand: the row's top stands (32 − 8) ft above the axis at 90 ft: atan(24 / 90) = 14.9° high."""
    text = sky_alt(load_job("demo", CLEAR))
    assert "Oaks on the lane: up to 15° high" in text
    assert "Cedar: up to" in text
    clear = sky_alt(load_job("demo", [*CLEAR, "trees=[]"]))
    assert "Nothing stands before the sun" in clear
    hills = with_overrides(load_job("demo", [*CLEAR, "trees=[]"]), {"horizon.points": [[80, 5], [120, 12]]})
    assert "Horizon: up to 12° high at 120°" in sky_alt(hills)


def test_odd_names_are_spoken_as_text() -> None:
    job = with_overrides(load_job("demo", CLEAR), {"trees.0.name": "", "trees.1.name": "<b>\n杉"})
    text = sky_alt(job)
    assert "Tree 1: up to" in text
    assert "<b> □: up to" in text


def test_the_share_of_the_morning_is_that_of_the_water(demo_year: Mapping[str, Result]) -> None:
    late, ideal = demo_year["delayed"], demo_year["ideal"]
    text = sky_loss_alt(late, sky_loss(late, ideal), "si")
    lost = ideal.water_m3 - late.water_m3
    assert f"{lost:.0f} m³ in a year" in text
    share = float(text.split("in a year, ")[1].split(" %")[0])
    before_noon = np.asarray(late.times.hour * 60 + late.times.minute) < 12 * 60 + 20
    gap = (ideal.minutes["flow_m3_s"] - late.minutes["flow_m3_s"]) * 60
    assert share == pytest.approx(100 * gap[before_noon].sum() / lost, abs=3)
