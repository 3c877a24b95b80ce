"""The whole chain on a passive rack against what is published. P printed, M recalled from memory.

Every comparison has its limits: the published rigs' weights, balances and winds are not known, no measured parameter
set exists, and the sky here is cloudless on every day, which flatters tracking. Only ranges are asked for.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

import numpy as np
import pytest

from trackersim import Result, compare, load_job, simulate

CLEAR = ("weather.file=", "weather.clear_sky=true", "trees=[]", "rack.kind=thermal")
# A pump that lifts in weak sun and is full from half of full sun on: three modules, 345 W when new and 30 m of lift.
SATURATING = (
    "array.in_series=3", "array.in_parallel=1", "array.layout.rows=1", "array.layout.columns=3",
    "wire=[]", "controller.rated=170 W", "controller.start=30 W",
    "controller.own_use=0", "pump.curve_flow=0 0.5 1 1.5 2 gpm", "pump.curve_head=300 280 250 190 100 ft",
    "pump.curve_power=120 130 140 150 155 W", "pump.cutout_flow=0", "source.lift=98 ft", "pipes.length=0 ft",
)  # fmt: skip
LOW_LATITUDE = (
    "site.longitude=37", "site.utc_offset=3", "site.timezone=", "weather.coldest=14", "weather.warmest=32",
    "weather.wind=1.5",
)  # fmt: skip


@lru_cache(maxsize=2)  # neighbours in this file share; a dozen years of minutes kept to its end took 2 GB
def racks(*overrides: str) -> Mapping[str, Result]:
    return compare(load_job("demo", [*CLEAR, *overrides]), kinds=["fixed", "thermal", "ideal"])


def light(result: Result) -> float:
    return float(result.daily["plane_kwh_m2"].sum())


def gains(*overrides: str) -> tuple[float, float]:
    """Gain of the passive rack over the fixed one in water and in light."""
    both = racks(*overrides)
    water = both["thermal"].water_m3 / both["fixed"].water_m3 - 1
    return water, light(both["thermal"]) / light(both["fixed"]) - 1


@pytest.mark.parametrize("wind_m_s", [6, 8])
def test_passive_rack_with_a_saturating_pump_on_a_windy_plain(wind_m_s: int) -> None:
    """P: Clark & Vick, ASAE 97-4003 (1997): diaphragm pump at 30 m, 35° N, 1705 → 1864 L/day, +9.3 %; asked: 5…15 %.

    Limits: a steep centrifugal pump held at its rating stands for the diaphragm pump; wind is steady and from the
    west, where theirs was gusty and turned; theirs had cloudy days. Fixed: at the tilt of the latitude.
    """
    place = ("site.latitude=35.2", "rack.axis_tilt=35", "rack.thermal.wind_upset=true", f"weather.wind={wind_m_s}")
    water, more_light = gains(*place, *SATURATING)
    assert 0.05 < water < 0.15
    assert water < more_light  # a pump that is full cannot use what the rack adds


def test_their_pump_saturates_and_starts_early() -> None:
    """The premise of the comparison: full from about half sun on, and water from weak light."""
    flow, plane = (racks("site.latitude=35.2", "rack.axis_tilt=35", "rack.thermal.wind_upset=true", "weather.wind=6",
                         *SATURATING)["ideal"].minutes[name] for name in ("flow_m3_s", "plane_w_m2"))  # fmt: skip
    full = flow.max()
    assert (flow[plane > 650] > 0.98 * full).all()
    assert plane[flow > 0.1 * full].min() < 350


def test_wind_can_push_the_rack_over() -> None:
    """P, in words: Clark & Vick saw gusts flip it. Wind that pushes costs light; wind that only cools costs less."""
    place = ("site.latitude=35.2", "rack.axis_tilt=35", "weather.wind=9")
    _, cooled = gains(*place)
    _, pushed = gains(*place, "rack.thermal.wind_upset=true")
    assert pushed < cooled - 0.02
    storm = racks("site.latitude=35.2", "rack.axis_tilt=35", "weather.wind=15", "rack.thermal.wind_upset=true")
    assert (storm["thermal"].by_day("rotation_deg")[:, 600] > 30).mean() > 0.9  # held in the west, face to the wind


def test_centrifugal_pump_gains_more_water_than_light() -> None:
    """P, sign only: IEEE PVSC paper by Dunlop: a direct-coupled centrifugal pump on a passive rack.

    Limits: the demo's pump, through a drive with a start threshold, under clear sky and under the demo's real weather.
    """
    water, more_light = gains("site.latitude=36.1")
    assert water > more_light > 0
    both = compare(load_job("demo", ["rack.kind=thermal"]), kinds=["fixed", "thermal"])
    assert both["thermal"].water_m3 / both["fixed"].water_m3 > light(both["thermal"]) / light(both["fixed"]) > 1


@pytest.mark.parametrize(("latitude", "elevation_m"), [(12.0, 1000), (15.0, 500), (9.0, 0)])
def test_passive_rack_at_a_sunny_low_latitude(latitude: float, elevation_m: float) -> None:
    """P: Alemayehu & Admasu, Heliyon 9 (2023): 96.4 % of the ideal rack, +24.9 % against fixed; 93–99 %, +18…32 %.

    Limits: theirs turned by bimetal, not by canisters, and under real skies; here all days are clear.
    """
    both = racks(*LOW_LATITUDE, f"site.latitude={latitude}", f"site.elevation={elevation_m}",
                 f"rack.axis_tilt={latitude}")  # fmt: skip
    assert 0.93 < light(both["thermal"]) / light(both["ideal"]) < 0.99
    assert 0.18 < light(both["thermal"]) / light(both["fixed"]) - 1 < 0.32


@pytest.mark.xfail(
    strict=True,
    reason="High up without a cloud all year the gain is 32.4 % at 11.6° N and 1800 m, and more at 9° N and 2300 m, "
    "over the range's 32 %: thin air and a cloudless year flatter tracking. Share of ideal, 98 %, is inside.",
)
@pytest.mark.parametrize(("latitude", "elevation_m"), [(9.0, 2300), (11.6, 1800)])
def test_passive_rack_high_up_without_a_cloud(latitude: float, elevation_m: float) -> None:
    both = racks(*LOW_LATITUDE, f"site.latitude={latitude}", f"site.elevation={elevation_m}",
                 f"rack.axis_tilt={latitude}")  # fmt: skip
    assert 0.93 < light(both["thermal"]) / light(both["ideal"]) < 0.99
    assert 0.18 < light(both["thermal"]) / light(both["fixed"]) - 1 < 0.32


def test_wakes_almost_an_hour_after_sunrise() -> None:
    """M: an encyclopaedia's "almost an hour", recalled from memory; no measurement is published. Asked: 30–90 min."""
    result = simulate(load_job("demo", [*CLEAR]))
    wait = result.daily["flip_after_sunrise_min"].to_numpy()
    assert np.isfinite(wait).all()
    assert wait.min() >= 30
    assert wait.max() <= 90
    assert 45 < np.median(wait) < 75
