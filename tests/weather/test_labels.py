"""What a stamp means in each format: on clear days the light must stand symmetric about solar noon."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import makers
import numpy as np
import pytest

from trackersim.errors import InputError
from trackersim.weather.formats import read_weather

# Haze and clouds prefer no half of the day strongly; a label wrong by half an hour gives 30, by an hour 60.
REAL_MIN, INVENTED_MIN = 6.0, 1.5


@pytest.mark.parametrize(
    ("file", "latitude", "longitude", "ghi_kwh", "dni_kwh", "dhi_kwh"),
    [
        # Sums of the files' own GHI, DNI and DHI columns (TMY3: NREL/TP-581-43156; TMY2: NREL 1995), added up
        # outside the reader.
        ("723170TYA.CSV", 36.10, -79.95, 1566.203, 1476.549, 682.223),
        ("703165TY.csv", 55.317, -160.517, 829.243, 819.209, 460.947),
        ("12839.tm2", 25.80, -80.267, 1792.618, 1504.922, 809.504),
    ],
)
def test_real_files_keep_their_sums_and_their_hours(
    file: str, latitude: float, longitude: float, ghi_kwh: float, dni_kwh: float, dhi_kwh: float
) -> None:
    path = makers.PVLIB_DATA / file
    weather = read_weather(path, year=2025, latitude_deg=latitude, longitude_deg=longitude)
    assert weather.typical
    assert (weather.days, weather.step_min) == (365, 60)
    assert str(weather.times[0])[:19] == "2025-01-01 00:30:00"
    assert weather.label == "hour ending, local standard time"
    sums = [light.sum() / 1000 for light in (weather.ghi_w_m2, weather.dni_w_m2, weather.dhi_w_m2)]
    assert sums == pytest.approx([ghi_kwh, dni_kwh, dhi_kwh], rel=1e-6)
    assert abs(makers.centre_lag_min(weather, latitude=latitude, longitude=longitude)) < REAL_MIN
    assert weather.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    makers.said(weather, "different years")


def test_tmy3_values_sit_in_their_hour() -> None:
    # pvlib/data/723170TYA.CSV, row 01/01/1988 02:00: dry bulb 10.0 °C at 01:00 and 02:00, wind 6.2 and 5.2 m/s.
    weather = read_weather(makers.PVLIB_DATA / "723170TYA.CSV", year=2025, latitude_deg=36.1, longitude_deg=-79.95)
    assert weather.utc_offset_h == -5
    assert weather.air_c[1] == pytest.approx(10.0)
    # The centre 01:30 lies midway between the readings at 01:00 and 02:00.
    assert weather.wind_m_s[1] == pytest.approx((6.2 + 5.2) / 2)
    assert (weather.latitude_deg, weather.longitude_deg, weather.elevation_m) == (36.1, -79.95, 273.0)


def test_tm2_reads_tenths() -> None:
    # pvlib/data/12839.tm2, first rows: dry bulb 200, 206 (tenths of °C), wind 67, 57 (tenths of m/s).
    weather = read_weather(makers.PVLIB_DATA / "12839.tm2", year=2025, latitude_deg=25.8, longitude_deg=-80.27)
    assert weather.air_c[1] == pytest.approx((20.0 + 20.6) / 2)
    assert weather.wind_m_s[1] == pytest.approx((6.7 + 5.7) / 2)


@pytest.mark.parametrize("step", [60, 30, 15])
def test_epw_at_each_step(tmp_path: Path, step: int) -> None:
    weather = makers.read(tmp_path, makers.epw(step=step))
    assert (weather.step_min, weather.days, weather.typical) == (step, 365, True)
    assert weather.ghi_w_m2 == pytest.approx(makers.clear_means(step)[0], abs=0.06)
    assert abs(makers.centre_lag_min(weather, latitude=36.1, longitude=-79.95)) < INVENTED_MIN


@pytest.mark.parametrize("offset_h", [0.0, 0.1761, 0.5])
@pytest.mark.parametrize("where", [(45.0, 8.0), (36.1, -79.95), (-25.0, 140.0)])
def test_pvgis_json_is_moved_to_the_local_clock(tmp_path: Path, offset_h: float, where: tuple[float, float]) -> None:
    latitude, longitude = where
    text = makers.pvgis_json(time_offset_h=offset_h, latitude=latitude, longitude=longitude)
    weather = makers.read(tmp_path, text, latitude_deg=latitude, longitude_deg=longitude)
    clock = round(longitude / 15)
    assert weather.utc_offset_h == clock
    assert (weather.days, str(weather.times[0])[:16]) == (365, "2025-01-01 00:30")
    assert abs(makers.centre_lag_min(weather, latitude=latitude, longitude=longitude)) < INVENTED_MIN
    expected = makers.clear_means(offset_h=clock, latitude=latitude, longitude=longitude)
    assert weather.ghi_w_m2.sum() == pytest.approx(expected[0].sum(), rel=0.01)
    assert weather.dni_w_m2.sum() == pytest.approx(expected[1].sum(), rel=0.02)
    # The invented air is 10 + the hour in UTC, read at the full hour.
    noon_utc = (12 + clock) % 24
    assert weather.air_c[24 + noon_utc] == pytest.approx(10 + 12.5, abs=0.01)


def test_pvgis_csv_equals_json(tmp_path: Path) -> None:
    place = {"latitude_deg": 45.0, "longitude_deg": 8.0}
    from_csv = makers.read(tmp_path, makers.pvgis_csv(), **place)
    from_json = makers.read(tmp_path, makers.pvgis_json(), **place)
    np.testing.assert_allclose(from_csv.ghi_w_m2, from_json.ghi_w_m2, atol=1e-9)
    np.testing.assert_allclose(from_csv.air_c, from_json.air_c, atol=1e-9)
    assert from_csv.times.equals(from_json.times)
    assert "11 min" in from_csv.label


def test_pvgis_published_day_is_symmetric(tmp_path: Path) -> None:
    # 4 January of PVGIS 5.3 at 45 N 8 E (pvlib-python tests/data/tmy_45.000_8.000_2005_2023.json), a clear day.
    printed = {
        8: (108.0, 502.58, 37.0),
        9: (236.0, 718.51, 51.0),
        10: (323.0, 770.32, 63.0),
        11: (363.0, 768.73, 74.0),
        12: (354.0, 748.39, 77.0),
        13: (297.0, 711.46, 69.0),
        14: (211.0, 742.34, 40.0),
        15: (36.0, 0.0, 36.0),
    }
    answer = json.loads(makers.pvgis_json())
    for row in answer["outputs"]["tmy_hourly"]:
        ghi, dni, dhi = printed.get(int(row["time(UTC)"][9:11]), (0.0, 0.0, 0.0))
        if row["time(UTC)"][4:8] == "0104":
            row.update({"G(h)": ghi, "Gb(n)": dni, "Gd(h)": dhi})
    weather = makers.read(tmp_path, json.dumps(answer), latitude_deg=45.0, longitude_deg=8.0)
    light = weather.ghi_w_m2[3 * 24 : 4 * 24]
    centre = (light * (np.arange(24) + 0.5)).sum() / light.sum()
    # Solar noon 12:00 + (15 − 8)/15 h + 4.8 min (equation of time on 4 January) = 12:33 at UTC+1. The ridges of
    # this place take the last hour of the afternoon, hence the wide band; ten minutes catch any wrong label.
    assert centre == pytest.approx(12 + 33 / 60, abs=10 / 60)
    assert light.sum() == pytest.approx(sum(values[0] for values in printed.values()), rel=0.03)


def test_pvgis_without_offset_says_so(tmp_path: Path) -> None:
    weather = makers.read(tmp_path, makers.pvgis_json(time_offset_h=None), latitude_deg=45.0, longitude_deg=8.0)
    makers.said(weather, "does not say how many minutes")


@pytest.mark.parametrize("label", ["interval ending", "interval starting", "interval centre", "hour ending"])
@pytest.mark.parametrize("step", [60, 10, 1])
def test_plain_csv_labels_agree(tmp_path: Path, label: str, step: int) -> None:
    weather = makers.read(tmp_path, makers.log(label=label, step=step))
    first = 104 * 1440 // step  # 15 April is day 105
    assert weather.ghi_w_m2 == pytest.approx(makers.clear_means(step)[0][first : first + 1440 // step], abs=0.01)
    assert weather.times[0].second + 60 * weather.times[0].minute == step * 30
    assert (weather.days, weather.step_min) == (1, step)


def test_plain_csv_label_in_the_column_name(tmp_path: Path) -> None:
    text = makers.log(label="interval starting").replace("# label = interval starting\n", "")
    named = makers.read(tmp_path, text.replace("time,", "time_start,"))
    assert named.ghi_w_m2 == pytest.approx(makers.read(tmp_path, makers.log()).ghi_w_m2, abs=0.01)
    with pytest.raises(InputError, match="does not say whether a stamp"):
        makers.read(tmp_path, text)


def test_hourly_instants_become_means(tmp_path: Path) -> None:
    minutes = makers.clear_minutes()
    rows = [f"2025-06-{d:02d} {h:02d}:00," + ",".join(f"{m[((150 + d) * 24 + h) * 60]:.2f}" for m in minutes) + ",20,2"
            for d in range(1, 11) for h in range(24)]  # fmt: skip
    head = "# label = instant\n# utc_offset = -5\ntime,ghi,dni,dhi,air_c,wind_m_s\n"
    weather = makers.read(tmp_path, head + "\n".join(rows))
    assert weather.days == 10
    expected = makers.clear_means()[0][151 * 24 : 161 * 24]
    assert weather.ghi_w_m2 == pytest.approx(expected, abs=12)


def test_wrong_label_is_noticed(tmp_path: Path) -> None:
    right = makers.read(tmp_path, makers.log(days=20, step=60))
    assert not [notice for notice in right.notices if "time label" in notice.text]
    wrong = makers.log(days=20, step=60).replace("interval ending", "interval starting")
    notice = makers.said(makers.read(tmp_path, wrong), "60 minutes after the sun")
    assert notice.level == "caution"


def test_leap_year_repeats_28_february(tmp_path: Path) -> None:
    weather = makers.read(tmp_path, makers.epw(), year=2024)
    assert weather.days == 366
    february = weather.ghi_w_m2.reshape(366, 24)[57:61]
    np.testing.assert_array_equal(february[1], february[2])
    assert not np.array_equal(february[2], february[3])
    makers.said(weather, "28 February is used twice")


def test_leap_day_of_a_stitched_year_is_left_out(tmp_path: Path) -> None:
    path = makers.PVLIB_DATA / "723170TYA.CSV"
    lines = path.read_text().splitlines()
    extra = [line.replace("02/28/", "02/29/").split("/") for line in lines if line.startswith("02/28/")]
    at = next(k for k, line in enumerate(lines) if line.startswith("03/01/"))
    leap = ["/".join(["02", "29", "2000" + row[2][4:], *row[3:]]) for row in extra]
    weather = makers.read(tmp_path, "\n".join(lines[:at] + leap + lines[at:]))
    plain = read_weather(path, year=2025, latitude_deg=36.1, longitude_deg=-79.95)
    np.testing.assert_array_equal(weather.ghi_w_m2, plain.ghi_w_m2)
    makers.said(weather, "29 February")


def test_a_plain_log_that_calls_itself_typical_stands_on_the_year_of_the_job(tmp_path: Path) -> None:
    """Four days of 2024 with a 29 February, read for 2025, which has none."""
    text = makers.log(day="2024-02-27", days=4)
    as_logged = makers.read(tmp_path, text)
    typical = makers.read(tmp_path, "# typical = yes\n" + text, year=2025)
    assert not as_logged.typical
    assert typical.typical
    assert [str(day) for day in dict.fromkeys(typical.times.date)] == ["2025-02-27", "2025-02-28", "2025-03-01"]
    per_day = len(as_logged.air_c) // 4
    kept = np.r_[: 2 * per_day, 3 * per_day : 4 * per_day]
    cut = 15  # the minutes beside the day that is left out are joined to another neighbour
    inside = np.concatenate([np.arange(start + cut, start + per_day - cut) for start in (0, per_day, 2 * per_day)])
    np.testing.assert_allclose(typical.air_c[inside], as_logged.air_c[kept][inside], atol=1e-9)
    makers.said(typical, "29 February (144 rows)")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (makers.log().replace("utc_offset = -5", "utc_offset = 30"), "no UTC offset in hours"),
        (makers.log(columns=("ghi", "ghi")), "two columns"),
        (makers.log(columns=("dhi",)), "neither ghi nor both"),
    ],
)
def test_a_plain_log_whose_head_cannot_be_is_refused(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(InputError) as error:
        makers.read(tmp_path, text)
    assert words in makers.refused(error.value)


@pytest.mark.parametrize("year", [1930, 2150])
def test_a_plain_log_of_a_year_in_which_nobody_knows_the_sun_is_refused(tmp_path: Path, year: int) -> None:
    with pytest.raises(InputError) as error:
        makers.read(tmp_path, makers.log().replace("2025-", f"{year}-"))
    assert f"'{year}-04-15': lies in no year" in makers.refused(error.value)
    assert makers.read(tmp_path, "# typical = yes\n" + makers.log().replace("2025-", f"{year}-"), year=2025).days == 1
