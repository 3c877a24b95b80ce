"""Figures hold the simulated numbers, with units on their axes."""

from __future__ import annotations

from collections.abc import Mapping
from io import BytesIO

import numpy as np
import pytest

from trackersim import Result
from trackersim.report.figures import day_figure, months_figure, show_day


def test_months_figure_draws_each_month_of_each_rack(demo_year: Mapping[str, Result]) -> None:
    axes = months_figure(demo_year, "us").axes[0]
    heights = [bar.get_height() for bar in axes.patches]
    assert len(heights) == 12 * len(demo_year)
    expected = demo_year["fixed"].monthly_means["water_m3"].to_numpy() / 3.785411784e-3
    np.testing.assert_allclose(heights[:12], expected, rtol=1e-12)
    assert axes.get_ylabel() == "Water, gal/day"


def test_day_figure_shows_the_day_asked_for(demo_year: Mapping[str, Result]) -> None:
    figure = day_figure(demo_year, "si", day=100)
    angle, light, flow = figure.axes
    drawn = {line.get_label(): np.asarray(line.get_ydata(), dtype=float) for line in light.lines}
    for result in demo_year.values():
        assert any(np.array_equal(line, result.by_day("plane_w_m2")[100]) for line in drawn.values())
    assert "11 April 2025" in angle.get_title(loc="left")
    assert "L/min" in flow.get_ylabel()


def test_shown_day_is_a_sunny_one_near_an_equinox(demo_year: Mapping[str, Result]) -> None:
    result = demo_year["delayed"]
    day = show_day(result)
    assert min(abs(day - 79), abs(day - 265)) <= 31
    assert result.daily["plane_kwh_m2"].iloc[day] > 1.5 * result.daily["plane_kwh_m2"].mean()


@pytest.mark.parametrize("name", ["$x^", "a_b\\frac{", "<script>alert(1)</script>", "农场 ★"])
def test_names_are_text_whatever_they_hold(name: str) -> None:
    import datetime as dt

    from trackersim import load_job, simulate
    from trackersim.job.files import with_overrides

    job = load_job("demo", ["weather.file=", "weather.clear_sky=true"])
    job = with_overrides(job, {"site.name": name})
    result = simulate(job, first_day=dt.date(2025, 3, 20), last_day=dt.date(2025, 3, 20))
    for figure in (months_figure({"delayed": result}, "us"), day_figure({"delayed": result}, "us")):
        buffer = BytesIO()
        figure.savefig(buffer, format="png")
        assert buffer.getvalue().startswith(b"\x89PNG")
