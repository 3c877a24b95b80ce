"""Dirt that settles on dry days and rain that washes it off; rain read from weather files."""

from __future__ import annotations

import datetime as dt
import importlib.util
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trackersim import load_job, simulate
from trackersim.power.soiling import soiling_by_day
from trackersim.simulation.array_power import soiling_share
from trackersim.simulation.scene import make_scene
from trackersim.weather.weather import Weather

# What the code takes from the Kimber model (Kimber et al., IEEE WCPEC 2006): 6 mm washes, 30 % is the most; three days
# of damp ground are its own choice.
WASHES_MM, CAP, DAMP_DAYS = 6.0, 0.30, 3


@pytest.fixture(scope="module")
def makers() -> ModuleType:
    """The makers of weather files beside the tests of weather."""
    path = Path(__file__).parents[1] / "weather" / "makers.py"
    spec = importlib.util.spec_from_file_location("weather_makers", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_dry_days_lose_more_and_more_and_rain_resets() -> None:
    """By hand, 1 % a day, rain on days 2 and 12 of 20: it and two damp days after it are clean, then a per cent a
    day; the first days go on where the last leave off."""
    rain = np.zeros(20)
    rain[[2, 12]] = 10.0
    lost = soiling_by_day(rain, lost_per_dry_day=0.01)
    by_hand = [6, 7, 0, 0, 0, 1, 2, 3, 4, 5, 6, 7, 0, 0, 0, 1, 2, 3, 4, 5]
    assert lost == pytest.approx(np.array(by_hand) / 100, abs=1e-12)


@pytest.mark.parametrize(("mm", "washed"), [(0.5, False), (6.0, False), (6.1, True), (40.0, True)])
def test_only_enough_rain_washes(mm: float, washed: bool) -> None:
    rain = np.zeros(30)
    rain[0] = 20.0
    rain[15] = mm
    lost = soiling_by_day(rain, lost_per_dry_day=0.002)
    assert (lost[15] == 0) == washed
    assert lost[14] > 0


def test_without_rain_it_grows_to_the_cap_and_no_further() -> None:
    lost = soiling_by_day(np.zeros(365), lost_per_dry_day=0.002)
    assert lost.max() == pytest.approx(CAP)
    assert lost[-1] == pytest.approx(CAP)


@given(
    rain=st.lists(st.sampled_from([0.0, 0.0, 0.0, 3.0, 8.0, 30.0]), min_size=1, max_size=120),
    rate=st.floats(0, 0.05),
)
def test_never_below_none_nor_above_the_cap_and_clean_while_damp(rain: list[float], rate: float) -> None:
    lost = soiling_by_day(np.array(rain), lost_per_dry_day=rate)
    assert lost.shape == (len(rain),)
    assert np.isfinite(lost).all()
    assert (lost >= -1e-12).all()
    assert (lost <= CAP + 1e-12).all()
    for day, mm in enumerate(rain):
        if mm > WASHES_MM:
            assert lost[day : day + DAMP_DAYS] == pytest.approx(0.0, abs=1e-9)


@given(rain=st.lists(st.sampled_from([0.0, 0.0, 8.0]), min_size=2, max_size=60), day=st.integers(0, 59))
def test_more_rain_is_never_more_dirt(rain: list[float], day: int) -> None:
    before = soiling_by_day(np.array(rain), lost_per_dry_day=0.01)
    rain[day % len(rain)] = 20.0
    assert (soiling_by_day(np.array(rain), lost_per_dry_day=0.01) <= before + 1e-12).all()


# --- Rain in weather files -------------------------------------------------------------------------------------------


def with_rain(text: str, wet: dict[int, float]) -> str:
    """A plain log with a column of rain: `wet` gives the rain of row k (of the data)."""
    head, _, body = text.partition("air_c,wind_m_s\n")
    rows = [f"{line},{wet.get(k, 0.0)}" for k, line in enumerate(body.splitlines())]
    return head + "air_c,wind_m_s,rain_mm\n" + "\n".join(rows) + "\n"


def test_rain_of_a_plain_log_by_day(makers: ModuleType, tmp_path: Path) -> None:
    """Rows of ten minutes that end at their stamps: row 144 is the first of the second day."""
    text = with_rain(makers.log(days=4), {143: 1.5, 144: 2.0, 145: 4.5, 3 * 144 + 70: 0.2})
    weather: Weather = makers.read(tmp_path, text)
    assert weather.rain_mm_by_day == pytest.approx([1.5, 6.5, 0.0, 0.2])


def test_a_log_without_rain_says_nothing_of_it(makers: ModuleType, tmp_path: Path) -> None:
    assert makers.read(tmp_path, makers.log(days=2)).rain_mm_by_day is None


def test_gaps_and_codes_are_no_rain(makers: ModuleType, tmp_path: Path) -> None:
    text = with_rain(makers.log(days=2), {3: 9999.0, 9: -9900.0, 20: 3.0, 150: 5000.0, 160: -1.0})
    assert makers.read(tmp_path, text).rain_mm_by_day == pytest.approx([3.0, 0.0])


def test_rain_of_an_energy_plus_year(makers: ModuleType, tmp_path: Path) -> None:
    """The last field but one is the hour's rain, 999 for missing (EnergyPlus auxiliary programs manual)."""
    lines = makers.epw().splitlines()
    for row, mm in {0: 2.0, 23: 1.0, 24: 4.0, 40: 999.0, 8759: 7.0}.items():
        fields = lines[8 + row].split(",")
        fields[-2] = f"{mm:g}"
        lines[8 + row] = ",".join(fields)
    rain = makers.read(tmp_path, "\n".join(lines) + "\n").rain_mm_by_day
    assert rain.shape == (365,)
    assert rain[[0, 1, 364]] == pytest.approx([3.0, 4.0, 7.0])
    assert rain.sum() == pytest.approx(14.0)


def test_rain_of_a_tmy3_year(makers: ModuleType, tmp_path: Path) -> None:
    """pvlib's bundled TMY3 file of Greensboro, its own column summed here without a reader of weather.

    The column is headed mm but holds tenths: its values 3, 5, 8, 10, 13, 15 … are gauge clicks of 0.01 in = 0.254 mm,
    and its sum of 8345 is 0.83 m of rain a year, not 8.3 m (the place has about 1.1 m, recalled)."""
    content = (makers.PVLIB_DATA / "723170TYA.CSV").read_text()
    lines = content.splitlines()
    place = lines[1].split(",").index("Lprecip depth (mm)")
    tenths = np.array([float(line.split(",")[place]) for line in lines[2:]])
    clicks = np.round(np.arange(1, 9) * 2.54)
    assert np.isin(tenths[(tenths > 0) & (tenths < 21)], clicks).mean() > 0.98
    # A row's stamp is the end of its hour, so rows 0…23 are the first day.
    rain = makers.read(tmp_path, content).rain_mm_by_day
    assert rain == pytest.approx(tenths.reshape(365, 24).sum(axis=1) / 10)
    assert 600 < rain.sum() < 1600


# --- In the chain ----------------------------------------------------------------------------------------------------


def test_dirt_costs_its_share_of_the_energy_and_rain_gives_it_back(makers: ModuleType, tmp_path: Path) -> None:
    """Ten clear days alike but for the sun's small change; 2 % a day, rain in the evening of the fifth."""
    (tmp_path / "rain.csv").write_text(with_rain(makers.log(days=10), {4 * 144 + 125: 12.0}))
    base = ["weather.clear_sky=false", "trees=[]", "rack.kind=fixed"]
    job = load_job("demo", [*base, f"weather.file={tmp_path / 'rain.csv'}", "array.soiling_per_day=2 %"])
    clean = load_job("demo", [*base, f"weather.file={tmp_path / 'rain.csv'}", "array.soiling=0 %"])
    scene = make_scene(job)
    share = soiling_share(job, scene)
    # The record goes round: after the wash on day 4 and two damp days, day 7 has 2 %, and day 3 the most.
    assert share == pytest.approx([0.08, 0.10, 0.12, 0.14, 0, 0, 0, 0.02, 0.04, 0.06])
    # Days cut out of it are as dirty as within it: the rain before them counts.
    days = [time.date() for time in scene.weather.times[::1440]]
    part = make_scene(job, first_day=days[5], last_day=days[8])
    assert soiling_share(job, part) == pytest.approx(share[5:9])
    with_dirt, without = (simulate(each, scene=scene).daily["array_kwh"].to_numpy() for each in (job, clean))
    # Power falls a little faster than light: voltage with its logarithm.
    ratio = with_dirt / without
    assert ratio[4:7] == pytest.approx(1.0, rel=1e-12)
    assert ((ratio <= 1 - share + 0.004) & (ratio >= 1 - 1.15 * share)).all()


def test_weather_without_rain_falls_back_to_steady_dirt_and_says_so() -> None:
    days = {"first_day": dt.date(2025, 4, 1), "last_day": dt.date(2025, 4, 1)}
    clear = ["weather.file=", "weather.clear_sky=true", "trees=[]"]
    with_rate = simulate(load_job("demo", [*clear, "array.soiling_per_day=0.5 %"]), **days)
    steady = simulate(load_job("demo", clear), **days)
    np.testing.assert_array_equal(with_rate.minutes["array_w"], steady.minutes["array_w"])
    assert any("no rain" in notice.text for notice in with_rate.notices)
    assert not any("no rain" in notice.text for notice in steady.notices)
