"""`trackersim shade`: when the sun clears the trees, trees grown, strings the other way."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.figure import Figure

from trackersim import Job, load_job
from trackersim.analysis.light_moments import LightDay
from trackersim.analysis.tree_shading import Shade, clearing_days, grown, shade_of, strung_the_other_way
from trackersim.job.files import with_overrides
from trackersim.report import tree_shading as show_shade
from trackersim.report.sheet_figures import small_sky

CLEAR = ["weather.file=", "weather.clear_sky=true"]
ROW = (
    'trees=[{kind="row", bearing=90, distance="30 m", height="10 m", width="400 m", leaf="evergreen", '
    'name="row", yearly_growth="0.3 m"}]'
)


@pytest.fixture(scope="module")
def behind_row() -> tuple[LightDay, ...]:
    return clearing_days(load_job("demo", [*CLEAR, ROW, "rack.height=2 m"]))


def test_without_trees_full_sun_is_first_light() -> None:
    for day in clearing_days(load_job("demo", [*CLEAR, "trees=[]"])):
        assert day.first_module == day.sunrise
        assert day.full_sun == day.first_light
        assert day.shaded_from is None


def test_a_valley_without_trees_is_told_by_its_hills() -> None:
    """Once: "no tree is given, so none stands before the sun" over first light "through the branches" at 10:33."""
    hills = "horizon.points=[[0, 25], [90, 25], [180, 25], [270, 25]]"
    shade = shade_of(load_job("demo", ["weather.file=sample:clear-spring-day", "trees=[]", hills]), years=())
    told = show_shade.shade_sentence(shade)
    waits = [day.full_sun - day.sunrise for day in shade.days if day.full_sun is not None and day.sunrise is not None]
    assert min(waits) > 60
    assert f"{min(waits)} min after sunrise" in told
    assert f"{max(waits)} min after it" in told
    assert "hills" in told
    shown = " ".join([*show_shade.shade_table(shade).header, show_shade.clock_sentence(shade)])
    assert "branches" not in shown
    hillside = {"site.slope": "20 deg", "site.downhill": 270, "horizon.points": []}
    assert "hills" in show_shade.shade_sentence(replace(shade, job=with_overrides(shade.job, hillside)))
    level = replace(shade, job=with_overrides(shade.job, {"horizon.points": [[0, 0], [180, 0]]}))
    assert show_shade.shade_sentence(level).endswith("no tree is given, so none stands before the sun.")
    open_site = replace(shade, job=load_job("demo", ["trees=[]"]))
    assert show_shade.shade_sentence(open_site).endswith("no tree is given, so none stands before the sun.")


def test_the_equinox_sun_clears_a_long_row_at_its_height(behind_row: tuple[LightDay, ...]) -> None:
    """By hand: on 21 March the sun rises due east and climbs along a great circle through the east point. The row's top
    stands 8 m above the axis in the plane x = 30 m: the axis sees the sun over it from tan(elevation) =
    8/30 · sin(azimuth). With sin(elevation) = cos(latitude) · sin(H), H the hour angle from six o'clock, and the level
    part toward the east cos(H), that is cos(36.1°) · tan(H) = 8/30: H = 18.27°, 73 min after six solar hours. The plane
    parked west puts its places up to 1.9 m nearer or lower than the axis."""
    march = behind_row[2]
    assert march.sunrise is not None
    assert march.first_module is not None
    assert march.full_sun is not None
    # Refraction lets the sun appear about 4 min before it is at the level.
    middle = (march.first_module + march.full_sun) / 2 - march.sunrise
    assert middle == pytest.approx(73 + 4, abs=4)
    assert 10 <= march.full_sun - march.first_module <= 25


def test_shade_leaves_the_upper_edge_first(behind_row: tuple[LightDay, ...]) -> None:
    """Parked west, the east edge stands high and clears first; what gets through the trees before comes earlier."""
    for day in behind_row:
        assert day.sunrise is not None
        assert day.first_light is not None
        assert day.first_module is not None
        assert day.full_sun is not None
        assert day.sunrise < day.first_module < day.full_sun
        assert day.sunrise < day.first_light <= day.full_sun


def test_a_row_in_the_west_shades_the_evening_and_not_the_morning() -> None:
    for day in clearing_days(load_job("demo", [*CLEAR, ROW.replace("bearing=90", "bearing=270")])):
        assert day.full_sun == day.first_light
        assert day.shaded_from is not None
        assert day.sunset is not None
        assert 20 < day.sunset - day.shaded_from < 160


def test_polar_night_has_no_sunrise_and_no_clearing() -> None:
    job = load_job(
        "demo", [*CLEAR, ROW, "site.latitude=75", "site.longitude=15", "site.utc_offset=1", "site.timezone="]
    )
    december = clearing_days(job)[11]
    assert (december.sunrise, december.first_module, december.full_sun) == (None, None, None)


def test_trees_grow_by_the_year_and_keep_their_shape() -> None:
    job = load_job("demo")
    old = grown(job, 10)
    oaks, cedar = old.trees
    assert oaks.height_m == pytest.approx(job.trees[0].height_m + 10 * 0.8 * 0.3048)
    assert oaks.width_m == job.trees[0].width_m  # a row grows taller, not longer
    assert cedar.width_m / cedar.height_m == pytest.approx(job.trees[1].width_m / job.trees[1].height_m)
    assert grown(job, 0) == job
    # A horizon of 100 years makes no tree that no job may have.
    assert grown(load_job("demo", ["trees.0.yearly_growth=5 m"]), 100).trees[0].height_m == 120


def test_strung_the_other_way_and_back_is_the_same_job() -> None:
    job = load_job("demo")
    assert strung_the_other_way(job) != job
    assert strung_the_other_way(strung_the_other_way(job)) == job


def test_grown_trees_cost_water_and_the_report_says_so() -> None:
    found = shade_of(load_job("demo", ["weather.file=sample:clear-spring-day", ROW]), years=(10, 30))
    water = [found.own.water_m3, *(result.water_m3 for result in found.by_years.values())]
    assert water[0] > water[1] > water[2] > 0
    words = show_shade.growth_words(found, "us")
    assert "10 years" in words
    assert "30 years" in words
    assert found.summary()["water_m3_per_day_in_years"]["30"] == found.by_years[30].water_m3_per_day
    assert len(show_shade.shade_table(found).rows) == 12
    assert "row" not in show_shade.stringing_words(found) or "rows" in show_shade.stringing_words(found)


def test_months_without_full_sun_are_told_and_so_is_the_dash() -> None:
    """Where the sun is shaded until noon in winter, that is what the customer has to hear; a polar night is none."""
    job = load_job("demo", [*CLEAR, ROW])
    clear = LightDay(
        date=dt.date(2025, 6, 21), sunrise=300, first_light=320, first_module=330, full_sun=340, sunset=1200
    )
    shaded = replace(clear, date=dt.date(2025, 12, 21), full_sun=None)
    for days, months in (([clear, shaded], "December"), ([replace(shaded, date=dt.date(2025, 1, 21)), clear, shaded],
                                                         "January and December")):  # fmt: skip
        shade = Shade(job=job, days=tuple(days), own=None, by_years={}, other_stringing=None)  # type: ignore[arg-type]
        assert show_shade.shade_sentence(shade).endswith(f" In {months} it does not come before noon at all.")
        assert "A dash stands for what does not happen" in show_shade.clock_sentence(shade)
    early = replace(clear, full_sun=320)  # as good as no trees, but for the winter
    shade = Shade(job=job, days=(early, shaded), own=None, by_years={}, other_stringing=None)  # type: ignore[arg-type]
    assert "never stand before" not in show_shade.shade_sentence(shade)
    whole, night = replace(clear, shaded_from=1100), LightDay(date=dt.date(2025, 12, 21))
    shade = Shade(job=job, days=(whole,), own=None, by_years={}, other_stringing=None)  # type: ignore[arg-type]
    assert "dash" not in show_shade.clock_sentence(shade)
    shade = Shade(job=job, days=(whole, night), own=None, by_years={}, other_stringing=None)  # type: ignore[arg-type]
    assert "not come before noon" not in show_shade.shade_sentence(shade)


def test_the_sky_picture_shows_the_trees_where_they_stand() -> None:
    figure = show_shade.sky_figure(load_job("demo", [*CLEAR, ROW]))
    axes = figure.axes[0]
    assert [text.get_text() for text in axes.texts if text.get_text() == "row"] == ["row"]
    low, high = axes.get_xlim()
    assert low < 90 < high
    heights = np.array([text.get_position()[1] for text in axes.texts if text.get_text() == "Jun"])
    assert heights == pytest.approx(90 - 36.1 + 23.44, abs=0.3)


@pytest.mark.parametrize("draw", [show_shade.sky_figure, small_sky])
def test_no_hour_lies_on_a_name_and_no_path_runs_through_a_trees(draw: Callable[[Job], Figure]) -> None:
    figure = draw(load_job("demo"))
    axes = figure.axes[0]
    figure.draw_without_rendering()
    seen = [text for text in axes.texts if text.get_visible()]
    names = [text for text in seen if text.get_text()[0].isalpha()]
    hours = [text.get_window_extent() for text in seen if text.get_text().isdecimal()]
    assert {"oaks on the lane", "cedar", "Jun", "Dec"} <= {name.get_text() for name in names}
    assert len(hours) > 12
    assert not [name.get_text() for name in names if any(name.get_window_extent().overlaps(hour) for hour in hours)]
    trees = [name for name in names if name.get_text() in ("oaks on the lane", "cedar")]
    assert min(tree.get_zorder() for tree in trees) > max(line.get_zorder() for line in axes.lines)


@pytest.mark.parametrize("latitude", [-19.4, 0.0, 36.1])
def test_a_path_runs_in_order_of_time_and_its_name_stands_on_it(latitude: float) -> None:
    """Within the tropics a bearing comes twice in a day and the noon sun crosses the seam of the picture."""
    job = load_job("demo", [*CLEAR, "trees=[]", f"site.latitude={latitude}"])
    axes = show_shade.sky_figure(job).axes[0]
    low, high = axes.get_xlim()
    lines = [line for line in axes.lines if line.get_linestyle() != "None"]
    for line in lines:
        bearing, height = np.asarray(line.get_xdata()), np.asarray(line.get_ydata())
        assert low <= bearing.min()
        assert bearing.max() <= high
        # The sun moves 15° an hour at most, and a height can change no faster.
        assert np.abs(np.diff(height)).max() <= 1.3
    names = [text for text in axes.texts if text.get_text()[0].isalpha()]
    assert len(names) == 7
    for name in names:
        x, y = name.get_position()
        assert min(np.hypot(line.get_xdata() - x, line.get_ydata() - y).min() for line in lines) < 0.1
