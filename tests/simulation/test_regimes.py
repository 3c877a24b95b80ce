"""The whole chain in its regimes: night, order of racks, no trees, mirror, hemispheres, polar day, new year."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping

import numpy as np
import pytest

from trackersim import Result, compare, load_job, simulate
from trackersim.job.files import demo_text, parse_job, with_overrides

US_GPM = 3.785411784e-3 / 60
CLEAR = ["weather.file=", "weather.clear_sky=true"]
SPRING = {"first_day": dt.date(2025, 3, 20), "last_day": dt.date(2025, 3, 22)}


def test_night_is_zeros_and_the_rack_has_an_angle(demo_year: Mapping[str, Result]) -> None:
    for result in demo_year.values():
        series = result.series
        night = series["plane_w_m2"].to_numpy() == 0
        assert 0.4 < night.mean() < 0.6
        for name in ("array_w", "flow_m3_s", "head_m"):
            assert (series[name].to_numpy()[night] == 0).all()
        assert np.isfinite(series.to_numpy()).all()
        assert np.abs(series["rotation_deg"]).max() <= 50


def test_more_tracking_never_gives_less_energy_on_the_demo(demo_year: Mapping[str, Result]) -> None:
    stuck = simulate(load_job("demo", ["rack.kind=fixed", "rack.fixed_rotation=50"]))
    ideal, late = (demo_year[kind].daily["array_kwh"].sum() for kind in ("ideal", "delayed"))
    assert ideal > late > stuck.daily["array_kwh"].sum() > 0
    assert demo_year["ideal"].water_m3 > demo_year["delayed"].water_m3 > stuck.water_m3 > 0


def test_the_demo_is_believable_to_a_pump_man(demo_year: Mapping[str, Result]) -> None:
    """Common practice, no source: performance ratio 0.7–0.9, wire-to-water 20–50 %, moving racks gain 15–35 % light."""
    late, ideal, fixed = (demo_year[kind] for kind in ("delayed", "ideal", "fixed"))
    ratio = late.daily["array_kwh"].sum() / (late.job.array.rated_w / 1000 * late.daily["plane_kwh_m2"].sum())
    assert 0.7 < ratio < 0.9
    hydraulic_kwh = (late.minutes["flow_m3_s"] * late.minutes["head_m"]).sum() * 60 * 1000 * 9.81 / 3.6e6
    assert 0.20 < hydraulic_kwh / late.daily["array_kwh"].sum() < 0.50
    assert 1.15 < ideal.daily["plane_kwh_m2"].sum() / fixed.daily["plane_kwh_m2"].sum() < 1.35
    summer, winter = late.monthly_means["water_m3"].loc[[6, 12]]
    assert 1.3 < summer / winter < 3


def test_energy_of_days_and_months_is_that_of_the_minutes(demo_year: Mapping[str, Result]) -> None:
    result = demo_year["delayed"]
    whole_kwh = result.minutes["array_w"].sum() / 60_000
    assert result.daily["array_kwh"].sum() == pytest.approx(whole_kwh, rel=1e-12)
    assert result.monthly["array_kwh"].sum() == pytest.approx(whole_kwh, rel=1e-12)
    assert result.monthly["days"].tolist() == [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]


def test_without_trees_the_horizon_is_exactly_open() -> None:
    bare = load_job("demo", [*CLEAR, "trees=[]"])
    glassy = load_job("demo", [*CLEAR, *(f"trees.{n}.beam_{s}=1" for n in (0, 1) for s in ("in_leaf", "bare"))])
    for kind, open_site in compare(bare, **SPRING).items():
        assert (open_site.minutes["beam_share"][open_site.minutes["plane_w_m2"] > 0] == 1).all()
        through_glass = compare(glassy, kinds=[kind], **SPRING)[kind]
        for name, values in open_site.minutes.items():
            np.testing.assert_array_equal(values, through_glass.minutes[name])


def test_a_tree_never_adds_energy() -> None:
    with_trees, without = (compare(load_job("demo", [*CLEAR, *more]), **SPRING) for more in ([], ["trees=[]"]))
    for kind in ("fixed", "ideal", "delayed"):
        assert (with_trees[kind].minutes["plane_w_m2"] <= without[kind].minutes["plane_w_m2"] + 1e-9).all() or (
            kind == "delayed"  # its trees change when it turns, so single minutes may gain; the day may not
        )
        assert with_trees[kind].daily["array_kwh"].sum() < without[kind].daily["array_kwh"].sum()


def test_morning_and_afternoon_are_mirror_images_on_a_clear_day() -> None:
    """Noon falls between two minutes, so the halves may differ by a minute's change of light (7 W/m²).

    Where the Perez model steps from one clearness bin to the next, the two halves may do so a minute apart (1.3 %).
    """
    job = load_job("demo", [*CLEAR, "trees=[]", "rack.kind=ideal", "site.longitude=-75", "weather.daily_swing=0"])
    result = simulate(job, first_day=dt.date(2025, 6, 21), last_day=dt.date(2025, 6, 21))
    light, rotation = result.minutes["plane_w_m2"], result.minutes["rotation_deg"]
    noon = int(np.argmin(np.abs(result.minutes["sun_rotation_deg"])))
    reach = min(noon, len(light) - noon) - 1
    before, after = light[noon - reach : noon][::-1], light[noon + 1 : noon + reach + 1]
    high = before > 100
    assert high.sum() > 300
    gap = np.abs(before[high] - after[high])
    assert (gap > 7 + 0.003 * after[high]).sum() <= 4
    assert (gap <= 7 + 0.02 * after[high]).all()
    np.testing.assert_allclose(
        rotation[noon - reach : noon][::-1][high], -rotation[noon + 1 : noon + reach + 1][high], atol=0.6
    )


def test_trees_mirrored_east_to_west_shade_the_mirrored_hours() -> None:
    """A fixed level plane: the same row in the west costs in the evening what it costs in the east in the morning."""
    base = [*CLEAR, "rack.kind=fixed", "rack.axis_tilt=0", "site.longitude=-75", "weather.daily_swing=0"]
    sums = []
    for bearing in (90, 270):
        row = f'trees=[{{kind="row", bearing={bearing}, distance=20, height=12, width=40, leaf="evergreen"}}]'
        job = load_job("demo", [*base, row])
        sums.append(
            simulate(job, first_day=dt.date(2025, 6, 20), last_day=dt.date(2025, 6, 22)).minutes["plane_w_m2"].sum()
        )
    assert sums[0] == pytest.approx(sums[1], rel=0.002)


def test_the_southern_summer_is_in_january() -> None:
    job = load_job("demo", [*CLEAR, "site.latitude=-36.1", "trees=[]"])
    results = compare(job)
    assert job.axis_azimuth_deg == 0
    for kind, result in results.items():
        light = result.monthly["plane_kwh_m2"]
        assert light.loc[1] > 1.2 * light.loc[6], kind
    north = compare(load_job("demo", [*CLEAR, "trees=[]"]))
    for kind, result in results.items():
        # Same sun half a year apart; the air's turbidity and the earth's distance differ by a few per cent.
        ratio = result.daily["plane_kwh_m2"].sum() / north[kind].daily["plane_kwh_m2"].sum()
        assert 0.9 < ratio < 1.1, kind
    rotation = results["ideal"].by_day("rotation_deg")[0]
    assert rotation[8 * 60] < 0 < rotation[17 * 60]  # east in the morning, south of the equator too


@pytest.mark.parametrize("latitude", [78.0, -78.0])
def test_polar_day_and_night(latitude: float) -> None:
    job = load_job("demo", [*CLEAR, f"site.latitude={latitude}", "site.longitude=15", "site.utc_offset=1", "trees=[]",
                            "weather.coldest=-25", "weather.warmest=6"])  # fmt: skip
    for kind, result in compare(job).items():
        dark = result.monthly["plane_kwh_m2"].loc[12 if latitude > 0 else 6]
        bright = result.by_day("plane_w_m2")[171 if latitude > 0 else 355]
        assert dark == 0, kind
        assert (bright > 0).all(), kind
        assert np.isfinite(result.series.to_numpy()).all(), kind


def test_dates_on_both_sides_of_new_year() -> None:
    """The first and last days of the year are neighbours of each other: no jump, no missing day."""
    job = load_job("demo", [*CLEAR, "trees=[]", "rack.kind=ideal"])
    result = simulate(job)
    light = result.daily["plane_kwh_m2"].to_numpy()
    assert abs(light[0] - light[-1]) < 0.05
    assert result.times[0].strftime("%m-%d %H:%M:%S") == "01-01 00:00:30"
    assert result.times[-1].strftime("%m-%d %H:%M:%S") == "12-31 23:59:30"


def test_a_pump_that_cannot_lift_says_so_first() -> None:
    result = simulate(load_job("demo", [*CLEAR, "source.lift=260 ft"]), **SPRING)
    assert result.water_m3 == 0
    assert result.notices[0].level == "danger"
    assert "never lifts" in result.notices[0].text


def test_a_small_well_caps_the_flow() -> None:
    job = load_job("demo", [*CLEAR, "source.specific_capacity=0.2 gpm/ft", "source.max_drawdown=20 ft"])
    result = simulate(job, **SPRING)
    assert result.minutes["flow_m3_s"].max() == pytest.approx(4 * US_GPM, rel=1e-3)
    assert any("yield" in notice.text for notice in result.notices)


def test_water_balance_of_the_operating_point() -> None:
    """At every pumping minute the head is what lift, drawdown and pipe ask for at that flow (to the table's 0.2 %)."""
    from trackersim.water.system import system_head_m

    job = load_job("demo", CLEAR)
    result = simulate(job, **SPRING)
    flow, head = result.minutes["flow_m3_s"], result.minutes["head_m"]
    pumping = flow > 1e-5
    assert pumping.sum() > 600
    needed = system_head_m(flow[pumping], static_head_m=job.source.lift_m, pipes=job.pipes, source=job.source)
    np.testing.assert_allclose(head[pumping], needed, rtol=2e-3)


def test_the_delay_moves_the_flip_minute_for_minute_on_a_morning_like_the_watched_one() -> None:
    flips = []
    for delay in (20, 50):
        result = simulate(load_job("demo", [*CLEAR, "trees=[]", f"rack.flip_delay={delay}"]), **SPRING)
        assert result.events is not None
        flips.append(result.events.flip)
    np.testing.assert_allclose(flips[1] - flips[0], 30, atol=1)


def test_days_outside_the_weather_are_refused() -> None:
    from trackersim import InputError

    with pytest.raises(InputError, match="holds no day"):
        simulate(load_job("demo", ["weather.file=sample:clear-spring-day"]), first_day=dt.date(2031, 1, 1))


def test_a_typical_year_answers_for_any_year() -> None:
    job = load_job("demo")
    days = [simulate(job, first_day=dt.date(year, 2, 28), last_day=dt.date(year, 2, 28)) for year in (2025, 2028)]
    assert days[0].water_m3 == days[1].water_m3 > 0
    leap = simulate(job, first_day=dt.date(2028, 2, 29), last_day=dt.date(2028, 2, 29))
    assert leap.water_m3 == days[0].water_m3


@pytest.mark.parametrize(
    ("latitude", "longitude", "offset"), [(64.1, -21.9, 0), (64.5, -165.4, -9), (60.0, 20.0, 4), (36.1, -79.95, -5)]
)
def test_sunrise_is_this_morning_s_even_where_the_sun_sets_after_midnight(
    latitude: float, longitude: float, offset: float
) -> None:
    place = [f"site.latitude={latitude}", f"site.longitude={longitude}", f"site.utc_offset={offset}"]
    job = load_job("demo", [*CLEAR, "trees=[]", *place])
    result = simulate(job, first_day=dt.date(2025, 6, 20), last_day=dt.date(2025, 6, 22))
    flip = result.flip_summary()
    assert flip["days_flipped"] == 3
    assert (result.morning.sunrise > 60).all()
    # Sixty minutes of sun on a day in March; far north, where the sun climbs slowly, it takes as much as twice that.
    assert 60 <= flip["median_min_after_first_beam"] <= 140
    assert 0 <= flip["median_min_after_sunrise"] - flip["median_min_after_first_beam"] <= 100


def test_where_the_sun_never_sets_there_is_no_minute_after_sunrise() -> None:
    place = ["site.latitude=75", "site.longitude=19", "site.utc_offset=1"]
    result = simulate(
        load_job("demo", [*CLEAR, "trees=[]", *place]), first_day=dt.date(2025, 6, 20), last_day=dt.date(2025, 6, 22)
    )
    assert (result.morning.sunrise == -1).all()
    assert result.flip_summary()["median_min_after_sunrise"] is None


def test_an_eastern_ridge_does_not_shade_the_evening() -> None:
    ridge = "horizon.points=[[60, 4], [90, 9], [120, 5]]"
    base = [*CLEAR, "trees=[]", "rack.kind=ideal"]
    with_ridge, without = (simulate(load_job("demo", [*base, *more]), **SPRING) for more in ([ridge], []))
    afternoon = np.tile(np.arange(1440) > 800, 3)
    late_beam = afternoon & (without.minutes["plane_w_m2"] > 0)
    np.testing.assert_array_equal(with_ridge.minutes["beam_share"][late_beam], 1.0)
    morning = ~afternoon & (without.minutes["plane_w_m2"] > 0)
    assert (with_ridge.minutes["beam_share"][morning] == 0).sum() > 60
    assert any("taken as level" in notice.text for notice in with_ridge.notices)


def test_a_start_power_too_low_to_lift_is_told_with_a_better_one() -> None:
    low = simulate(load_job("demo", [*CLEAR, "controller.start=60 W", "pump.cutout_retry=5 min"]), **SPRING)
    notice = next(notice for notice in low.notices if notice.field == "controller.start")
    watts = int(notice.text.rsplit("about ", 1)[1].split(" ")[0])
    mended = simulate(load_job("demo", [*CLEAR, f"controller.start={watts} W", "pump.cutout_retry=5 min"]), **SPRING)
    assert low.water.cutouts.mean() > 2 > mended.water.cutouts.mean()
    assert all(notice.field != "controller.start" for notice in mended.notices)
    ideal = simulate(with_overrides(low.job, {"rack.kind": "ideal"}), **SPRING)
    assert ideal.water.cutouts.mean() != low.water.cutouts.mean()
    assert notice in ideal.notices  # the same words of every rack, so that an answer on several says it once


def test_the_demo_s_own_controller_is_set_well(demo_year: Mapping[str, Result]) -> None:
    graver = {notice.field for result in demo_year.values() for notice in result.notices if notice.level != "note"}
    assert graver <= {"rack.thermal"}  # which hunts on the hardest day of frost
    assert demo_year["delayed"].water.cutouts.mean() < 4  # passing clouds among them


def test_long_thin_wire_is_told_and_costs_water_but_never_by_more_sun() -> None:
    thin = simulate(load_job("demo", [*CLEAR, "trees=[]", "wire.0.gauge=14", "wire.0.length=500 ft"]), **SPRING)
    thick = simulate(load_job("demo", [*CLEAR, "trees=[]", "wire.0.gauge=2", "wire.0.length=500 ft"]), **SPRING)
    assert thin.water_m3 < 0.7 * thick.water_m3
    assert any("lost in the wire" in notice.text for notice in thin.notices)
    assert all("lost in the wire" not in notice.text for notice in thick.notices)
    noon = thin.by_day("plane_w_m2").argmax(axis=1)
    assert (thin.by_day("flow_m3_s")[[0, 1, 2], noon] > 0.9 * thin.by_day("flow_m3_s").max(axis=1)).all()


def test_a_pump_known_by_its_best_point_alone_is_told() -> None:
    job = load_job("demo", [*CLEAR, 'pump={rated_flow="12 gpm", rated_head="178 ft"}'])
    result = simulate(job, **SPRING)
    assert any("best point alone" in notice.text for notice in result.notices)
    assert result.water_m3 > 0


def test_another_clock_than_the_weather_s_is_told() -> None:
    result = simulate(load_job("demo", ["site.utc_offset=-6"]), **SPRING)
    assert any("clock" in notice.text for notice in result.notices)


def test_clear_skies_without_a_climate_take_one_from_the_place_and_say_so() -> None:
    warm, cold = (
        simulate(load_job("demo", [*CLEAR, "trees=[]", f"site.latitude={latitude}"]), **SPRING) for latitude in (2, 60)
    )
    assert warm.minutes["cell_c"].min() > 15
    assert cold.minutes["cell_c"].min() < 0
    (told,) = [notice.text for notice in cold.notices if "assumed from the place" in notice.text]
    assert re.search(r"from -?\d+(\.\d+)? °F \(-?\d+(\.\d+)? °C\) on winter mornings", told, re.IGNORECASE)
    assert "rightly to about 5 °F (3 K)" in told


@pytest.mark.parametrize(
    ("limit", "level", "words"),
    [("90 V", "danger", "HIGH VOLTAGE"), ("100 V", "caution", "Close to the limit"), ("150 V", None, "")],
)
def test_cold_voltage_over_the_controller_s_limit_is_said_first(limit: str, level: str | None, words: str) -> None:
    """Demo: 4 × 21.8 V · (1 + 0.0034 · 40) = 99.06 V at −15 °C."""
    job = load_job(
        "demo", [*CLEAR, f"controller.max_input={limit}", "controller.track_high=85 V", "site.design_low=-15 C"]
    )
    first = simulate(job, **SPRING).notices[0]
    if level is None:
        assert first.field != "controller.max_input"
    else:
        assert (first.level, first.field) == (level, "controller.max_input")
        assert words in first.text
        assert "99 V" in first.text
        assert "licensed person" in first.text


def test_a_controller_without_a_limit_is_never_silent_about_voltage() -> None:
    text = demo_text().replace('max_input = "150 V"', "")
    result = simulate(parse_job(text), first_day=dt.date(2025, 1, 1), last_day=dt.date(2025, 1, 2))
    assert "open-circuit voltage" in result.notices[0].text


def test_the_voltage_warning_stands_whatever_days_are_run() -> None:
    job = load_job("demo", ["controller.max_input=95 V", "controller.track_high=85 V"])
    for first in (dt.date(2025, 1, 1), dt.date(2025, 7, 1)):
        result = simulate(job, first_day=first, last_day=first)
        assert result.notices[0].level == "danger"


def test_a_zone_far_from_the_site_is_told() -> None:
    job = load_job("demo", [*CLEAR, "site.timezone=Asia/Tokyo"])
    assert any(notice.field == "site.timezone" for notice in simulate(job, **SPRING).notices)
    job = load_job("demo", CLEAR)
    assert all(notice.field != "site.timezone" for notice in simulate(job, **SPRING).notices)
