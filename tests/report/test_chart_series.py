"""What pictures show is one description: of the results, with axes that stay, and the same for both that draw it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping

import numpy as np
import pytest

from trackersim import Result, load_job, simulate
from trackersim.analysis.losses import losses_of
from trackersim.report.alt import curves_alt
from trackersim.report.chart_series import day_charts, lit_minutes, months_chart, most_in_a_month, round_up
from trackersim.report.figures import day_figure, months_figure
from trackersim.report.losses import losses_chart, losses_figure, losses_rows

GALLON_M3 = 3.785411784e-3
DAY = 100


@pytest.fixture(scope="module")
def later() -> Result:
    return simulate(load_job("demo", ["rack.flip_delay=180"]))


def test_months_are_the_results_in_the_reader_s_units(demo_year: Mapping[str, Result]) -> None:
    chart = months_chart(demo_year, "us")
    assert [series.look for series in chart.series] == list(demo_year)
    for series, result in zip(chart.series, demo_year.values(), strict=True):
        expected = result.monthly_means["water_m3"].to_numpy() / GALLON_M3
        np.testing.assert_allclose(series.values, expected, rtol=1e-12)
    assert chart.level == ("wanted", pytest.approx(3000, rel=1e-6))
    assert chart.limits[0] == 0
    assert chart.limits[1] >= max(np.max(series.values) for series in chart.series)


def test_axes_of_months_stay_while_the_rack_is_changed(demo_year: Mapping[str, Result], later: Result) -> None:
    own, ideal = demo_year["delayed"], demo_year["ideal"]
    most = most_in_a_month(ideal.daily_water_m3, ideal.times[0].date())
    assert most == pytest.approx(float(ideal.monthly_means["water_m3"].max()))
    now = months_chart({"delayed": later}, "us", before={"delayed": own}, most_m3_per_day=most)
    before = months_chart({"delayed": own}, "us", most_m3_per_day=most)
    assert now.limits == before.limits
    assert now.before is not None
    assert now.before.name != now.series[0].name
    np.testing.assert_array_equal(now.before.values, before.series[0].values)
    assert before.before is None


def test_a_month_that_was_not_simulated_has_no_figure() -> None:
    job = load_job("demo", ["weather.file=", "weather.clear_sky=true"])
    day = dt.date(2025, 3, 20)
    chart = months_chart({"delayed": simulate(job, first_day=day, last_day=day)}, "si")
    assert np.flatnonzero(np.isfinite(chart.series[0].values)).tolist() == [2]


def test_a_day_is_that_of_the_results_and_its_axes_stay(demo_year: Mapping[str, Result], later: Result) -> None:
    own = demo_year["delayed"]
    angle, light, flow = day_charts({"delayed": own}, "si", DAY)
    rack, sun = angle.series
    np.testing.assert_array_equal(rack.values, own.by_day("rotation_deg")[DAY])
    np.testing.assert_array_equal(light.series[0].values, own.by_day("plane_w_m2")[DAY])
    np.testing.assert_allclose(flow.series[0].values, own.by_day("flow_m3_s")[DAY] * 60_000)
    assert np.nanmax(np.abs(sun.values)) <= 90
    first, last = lit_minutes({"delayed": own}, DAY)
    assert light.span_min == (first, last)
    assert not own.by_day("plane_w_m2")[DAY][: first + 44].any()
    changed = day_charts({"delayed": later}, "si", DAY, before={"delayed": own})
    assert [chart.limits for chart in changed] == [chart.limits for chart in (angle, light, flow)]
    assert changed[2].before is not None
    np.testing.assert_array_equal(changed[2].before.values, flow.series[0].values)


def test_steps_hang_from_each_other_and_say_what_the_table_says() -> None:
    losses = losses_of(load_job("demo", ["weather.file=sample:clear-spring-day"]))
    chart = losses_chart(losses, "us", stands_m3_per_day=GALLON_M3 * 5000)
    bars = np.full((len(chart.across), 2), np.nan)
    for series in chart.series:
        there = np.isfinite(series.values)
        assert series.begins is not None
        assert np.isnan(bars[there]).all()  # one bar a row
        bars[there] = np.stack([series.begins, series.values], axis=1)[there]
    assert np.isfinite(bars).all()
    high = bars[0, 1]
    for begin, end in bars[1:-1]:
        assert high in (pytest.approx(begin), pytest.approx(end))
        high = begin if high == pytest.approx(end) else end
    assert high == pytest.approx(bars[-1, 1])
    rows = [row for row in losses_rows(losses, "us") if row[1] != "–"]
    assert chart.across == tuple(row[0] for row in rows)
    assert chart.series[0].told == tuple(row[1] for row in rows)
    assert chart.level is not None
    assert chart.level[1] == pytest.approx(5000)
    drawn = losses_figure(losses, "us").axes[0]
    assert sorted(bar.get_width() for bar in drawn.patches) == pytest.approx(sorted(bars[:, 1] - bars[:, 0]))


def test_both_that_draw_it_draw_the_same(demo_year: Mapping[str, Result]) -> None:
    heights = [bar.get_height() for bar in months_figure(demo_year, "si").axes[0].patches]
    np.testing.assert_array_equal(heights, np.concatenate([s.values for s in months_chart(demo_year, "si").series]))
    for axes, chart in zip(day_figure(demo_year, "si", day=DAY).axes, day_charts(demo_year, "si", DAY), strict=True):
        drawn = {str(line.get_label()): np.asarray(line.get_ydata(), dtype=float) for line in axes.lines}
        assert set(drawn) == {series.name for series in chart.series}
        for series in chart.series:
            np.testing.assert_array_equal(drawn[series.name], series.values)


def test_words_stand_for_the_curves(demo_year: Mapping[str, Result]) -> None:
    _, light, flow = day_charts(demo_year, "us", DAY)
    for chart in (light, flow):
        told = curves_alt(chart)
        assert told.count("from ") == len(demo_year)
        assert chart.unit in told


@pytest.mark.parametrize("value", [0.0037, 0.98, 1.0, 12.1, 3987.2, 4000.0, 123456.0])
def test_an_axis_ends_at_a_round_number_a_little_above(value: float) -> None:
    end = round_up(value)
    assert value <= end * (1 + 1e-12)
    assert end <= value * 1.21
    assert float(f"{end:.2g}") == pytest.approx(end)
