"""Each kind of dirt in a file: filled and told, or refused in words that help."""

from __future__ import annotations

from pathlib import Path

import makers
import numpy as np
import pytest

from trackersim.errors import InputError
from trackersim.weather.formats import read_weather
from trackersim.weather.quality import distance_km

# Rows of a ten-minute log of one day: 72 starts at noon.
NOON = 72


def clean_day(tmp_path: Path) -> np.ndarray:
    return makers.read(tmp_path, makers.log()).ghi_w_m2


def test_clean_log_has_no_remarks(tmp_path: Path) -> None:
    weather = makers.read(tmp_path, makers.log())
    assert weather.notices == ()
    assert not weather.typical
    assert str(weather.times[0]) == "2025-04-15 00:05:00-05:00"


@pytest.mark.parametrize("hole", ["", "NaN", "9999", "-9900", "-9999"])
def test_short_gap_follows_the_clear_sky(tmp_path: Path, hole: str) -> None:
    edit = {(name, NOON + k): hole for name in ("ghi", "dni", "dhi") for k in range(12)}
    weather = makers.read(tmp_path, makers.log(edit=edit))
    # Missing two hours about noon: a straight line between neighbours would lie 5 % below.
    assert weather.ghi_w_m2 == pytest.approx(clean_day(tmp_path), rel=0.005, abs=0.5)
    assert (
        makers.said(weather, "1 gap in the light (12 samples: 2025-04-15 12:00 to 2025-04-15 14:00)").level == "caution"
    )


def test_missing_rows_are_a_gap_too(tmp_path: Path) -> None:
    lines = makers.log().splitlines()
    weather = makers.read(tmp_path, "\n".join(lines[:60] + lines[70:]))
    assert weather.ghi_w_m2 == pytest.approx(clean_day(tmp_path), rel=0.01, abs=0.5)
    makers.said(weather, "1 gap in the light (10 samples")
    makers.said(weather, "10 samples without air temperature")


def test_long_gap_by_day_is_refused_with_its_times(tmp_path: Path) -> None:
    lines = makers.log(days=3).splitlines()
    at = 3 + 144 + 60
    with pytest.raises(InputError, match="2025-04-16 10:00 to 2025-04-16 13:20") as caught:
        makers.read(tmp_path, "\n".join(lines[:at] + lines[at + 20 :]))
    assert "more than 3 h" in makers.refused(caught.value)


def test_gap_by_night_is_dark(tmp_path: Path) -> None:
    lines = makers.log(days=2).splitlines()
    at = 3 + 120  # 20:00 to 04:00
    weather = makers.read(tmp_path, "\n".join(lines[:at] + lines[at + 48 :]))
    assert weather.days == 2
    assert (weather.ghi_w_m2[120:168] == 0).all()
    assert not [notice for notice in weather.notices if "gaps in the light" in notice.text]
    # The air is linear across the gap.
    assert np.diff(weather.air_c[119:169]) == pytest.approx(np.diff(weather.air_c[119:169])[0], abs=0.02)
    makers.said(weather, "48 samples without air temperature")


def test_doubled_stamps_keep_the_first(tmp_path: Path) -> None:
    lines = makers.log().splitlines()
    spoiled = lines[3 + NOON].split(",")
    spoiled[1] = "1.0"
    weather = makers.read(tmp_path, "\n".join([*lines, ",".join(spoiled)]))
    assert weather.ghi_w_m2[NOON] == pytest.approx(clean_day(tmp_path)[NOON])
    makers.said(weather, "1 rows repeat a time")


def test_rows_in_any_order(tmp_path: Path) -> None:
    lines = makers.log().splitlines()
    weather = makers.read(tmp_path, "\n".join(lines[:3] + lines[:2:-1]))
    np.testing.assert_array_equal(weather.ghi_w_m2, clean_day(tmp_path))


def test_midnight_as_24(tmp_path: Path) -> None:
    text = makers.log().replace("2025-04-16 00:00:00", "2025-04-15 24:00:00")
    weather = makers.read(tmp_path, text)
    np.testing.assert_array_equal(weather.ghi_w_m2, clean_day(tmp_path))
    makers.said(weather, "1 stamps of 24:00")


def test_negative_light_is_zero(tmp_path: Path) -> None:
    edit: dict[tuple[str, int], object] = {("ghi", k): "-3.5" for k in range(20)}
    edit[("dni", NOON)] = "-2.0"
    weather = makers.read(tmp_path, makers.log(edit=edit))
    assert min(part.min() for part in (weather.ghi_w_m2, weather.dni_w_m2, weather.dhi_w_m2)) == 0
    # Offsets of a pyranometer by night are zeroed with the night; only the one by day is worth a remark.
    makers.said(weather, "1 negative values of light by day, down to -2.0")


def test_impossible_beam_is_clipped(tmp_path: Path) -> None:
    weather = makers.read(tmp_path, makers.log(edit={("dni", NOON): "1500", ("dni", NOON + 3): "1300"}))
    assert 1000 < weather.dni_w_m2[NOON] < 1150
    makers.said(weather, "2 values of direct light lie above what is possible")


def test_light_by_night_is_dropped(tmp_path: Path) -> None:
    weather = makers.read(tmp_path, makers.log(edit={("ghi", 6): "250", ("ghi", 7): "200"}))
    assert weather.ghi_w_m2[6] == 0
    makers.said(weather, "2 samples have light while the sun is below the horizon")


def test_single_absurd_air_is_left_out_and_many_are_refused(tmp_path: Path) -> None:
    weather = makers.read(tmp_path, makers.log(edit={("air_c", 30): "85", ("wind_m_s", 31): "-4"}))
    assert weather.air_c[30] == pytest.approx((weather.air_c[29] + weather.air_c[31]) / 2)
    makers.said(weather, "1 value of air temperature outside -94 °F (-70 °C) to 140 °F (60 °C)")
    makers.said(weather, "1 value of wind speed outside")
    with pytest.raises(InputError, match="air_f is read as °F") as caught:
        makers.read(tmp_path, makers.log(edit={("air_c", k): "68" for k in range(40)}))
    makers.refused(caught.value)


def test_air_in_fahrenheit_and_wind_in_mph(tmp_path: Path) -> None:
    edit: dict[tuple[str, int], object] = {("air_c", k): "50" for k in range(144)}
    edit |= {("wind_m_s", k): "10" for k in range(144)}
    text = makers.log(edit=edit).replace("air_c,wind_m_s", "Air (°F),Wind [mph]")
    weather = makers.read(tmp_path, text)
    assert weather.air_c == pytest.approx(10.0)
    assert weather.wind_m_s == pytest.approx(4.4704)


def test_kilowatts_are_refused(tmp_path: Path) -> None:
    lines = makers.log().splitlines()
    rows = [row.split(",") for row in lines[3:]]
    small = [",".join([row[0], *(f"{float(x) / 1000:.4f}" for x in row[1:4]), *row[4:]]) for row in rows]
    with pytest.raises(InputError, match="not kW/m²"):
        makers.read(tmp_path, "\n".join(lines[:3] + small))
    large = [",".join([row[0], *(f"{float(x) * 3.6:.4f}" for x in row[1:4]), *row[4:]]) for row in rows]
    with pytest.raises(InputError, match="above what the sun can give"):
        makers.read(tmp_path, "\n".join(lines[:3] + large))


def test_global_light_alone_is_split(tmp_path: Path) -> None:
    # The real TMY3 year with its DNI and DHI taken out, against what it had.
    path = makers.PVLIB_DATA / "723170TYA.CSV"
    lines = [line.split(",") for line in path.read_text().splitlines()]
    bare = [",".join([*row[:7], "-9900", *row[8:10], "-9900", *row[11:]]) for row in lines[2:]]
    whole = read_weather(path, year=2025, latitude_deg=36.1, longitude_deg=-79.95)
    weather = makers.read(tmp_path, "\n".join([",".join(lines[0]), ",".join(lines[1]), *bare]))
    assert makers.said(weather, "split into direct and diffuse").level == "caution"
    np.testing.assert_array_equal(weather.ghi_w_m2, whole.ghi_w_m2)
    assert weather.dni_w_m2.sum() == pytest.approx(whole.dni_w_m2.sum(), rel=0.05)
    assert weather.dhi_w_m2.sum() == pytest.approx(whole.dhi_w_m2.sum(), rel=0.10)
    up = whole.ghi_w_m2 > 0
    assert np.sqrt(((weather.dni_w_m2 - whole.dni_w_m2)[up] ** 2).mean()) < 75


@pytest.mark.parametrize("present", [("dni", "dhi"), ("ghi", "dni"), ("ghi", "dhi")])
def test_the_third_is_computed(tmp_path: Path, present: tuple[str, str]) -> None:
    whole = makers.read(tmp_path, makers.log())
    weather = makers.read(tmp_path, makers.log(columns=present))
    makers.said(weather, "computed from the other two")
    for name in ("ghi_w_m2", "dni_w_m2", "dhi_w_m2"):
        assert getattr(weather, name).sum() == pytest.approx(getattr(whole, name).sum(), rel=0.01)


def test_epw_without_global_light(tmp_path: Path) -> None:
    whole = makers.epw()
    head, rows = whole.splitlines()[:8], [row.split(",") for row in whole.splitlines()[8:]]
    bare = [",".join([*row[:13], "9999", *row[14:]]) for row in rows]
    weather = makers.read(tmp_path, "\n".join(head + bare))
    assert weather.ghi_w_m2.sum() == pytest.approx(makers.clear_means()[0].sum(), rel=0.01)
    makers.said(weather, "values of global light are missing and were computed")


def test_incomplete_days_at_the_ends(tmp_path: Path) -> None:
    # From noon of the first day to noon of the third: one complete day in the middle.
    weather = makers.read(tmp_path, makers.log(days=3, keep=slice(72, 360)))
    assert (weather.days, str(weather.times[0].date())) == (1, "2025-04-16")
    assert makers.said(weather, "2 incomplete days").text.endswith("(2025-04-15, 2025-04-17).")
    with pytest.raises(InputError, match="no day that is complete") as caught:
        makers.read(tmp_path, makers.log(days=2, keep=slice(72, 200)))
    makers.refused(caught.value)


def test_daylight_only_log_gets_its_nights(tmp_path: Path) -> None:
    weather = makers.read(tmp_path, makers.log(keep=slice(30, 120)))  # 05:00 to 20:00
    assert weather.ghi_w_m2 == pytest.approx(clean_day(tmp_path), abs=0.01)
    makers.said(weather, "54 samples without air temperature")


def test_offsets_that_change_with_daylight_saving(tmp_path: Path) -> None:
    # 8 and 9 March 2025: New York's clocks change; the same moments written with changing offsets.
    steady = makers.log(day="2025-03-08", days=2, offset_text="-05:00")
    lines = steady.splitlines()
    changed = []
    for line in lines:
        if line.startswith("2025-03-09") and line[11:13] >= "02":
            hour = int(line[11:13]) + 1
            line = f"2025-03-09 {hour:02d}{line[13:19]}-04:00{line[25:]}" if hour < 24 else ""
        changed.append(line)
    weather = makers.read(tmp_path, "\n".join(line for line in changed if line))
    plain = makers.read(tmp_path, steady)
    assert weather.utc_offset_h == -5
    np.testing.assert_array_equal(weather.ghi_w_m2, plain.ghi_w_m2)
    makers.said(weather, "daylight saving")


def test_log_kept_in_utc(tmp_path: Path) -> None:
    local = makers.log(days=3)
    lines = local.splitlines()
    moved = [str(np.datetime64(line[:19].replace(" ", "T")) + np.timedelta64(5, "h")) + line[19:] for line in lines[3:]]
    text = "\n".join([*lines[:3], *moved]).replace("utc_offset = -5", "utc_offset = 0")
    weather = makers.read(tmp_path, text)
    plain = makers.read(tmp_path, local)
    assert weather.times.equals(plain.times)
    np.testing.assert_array_equal(weather.ghi_w_m2, plain.ghi_w_m2)
    makers.said(weather, "was moved to UTC−5")


def test_semicolons_and_decimal_commas(tmp_path: Path) -> None:
    text = "\n".join(
        line if line.startswith("#") else line.replace(",", ";").replace(".", ",") for line in makers.log().splitlines()
    )
    assert makers.read(tmp_path, text).ghi_w_m2 == pytest.approx(clean_day(tmp_path))


def test_every_fault_of_a_head_at_once(tmp_path: Path) -> None:
    text = "time,ghi\n2025-04-15 00:10,0\n2025-04-15 00:20,0\n"
    with pytest.raises(InputError) as caught:
        makers.read(tmp_path, text)
    told = makers.refused(caught.value)
    assert len(caught.value.faults) == 3
    assert "# label" in told
    assert "# utc_offset" in told
    assert "air_c" in told


def test_wind_direction_and_missing_wind(tmp_path: Path) -> None:
    lines = makers.log().splitlines()
    with_direction = [
        *lines[:2],
        lines[2] + ",wind_from_deg",
        *(f"{row},{200 + k % 7}" for k, row in enumerate(lines[3:])),
    ]
    weather = makers.read(tmp_path, "\n".join(with_direction))
    assert weather.wind_from_deg is not None
    assert weather.wind_from_deg[:8].tolist() == [200, 201, 202, 203, 204, 205, 206, 200]
    bare = [line if line.startswith("#") else line.rpartition(",")[0] for line in lines]
    weather = makers.read(tmp_path, "\n".join(bare))
    assert weather.wind_m_s.tolist() == [2.0] * 144
    makers.said(weather, "has no wind")


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "is empty"),
        (b"  \n\n", "is empty"),
        (b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 20, "is not a text file"),
        (b"<html><body>Not found</body></html>", "in no format this program knows"),
        (b'{"message": "Location over the sea.", "status": 400}', "not a whole PVGIS typical year"),
        (b"name,price\napples,3\n", "in no format this program knows"),
        (b"time,ghi,air_c\n", "no rows"),
        (b"# label = end\n# utc_offset = -5\ntime,ghi,air_c\nyesterday,3,4\n", "is no date and time, in line 4"),
        (b"# label = end\ntime,ghi,air_c\n2025-01-01 00:10-05:00,3,4\n2025-01+05:00,3,4\n", "carries no UTC offset"),
        (b"# label = end\n# utc_offset = 0\ntime,ghi,air_c\n2025-01-01 00:10,3,4\n2025-01+05:00,3,4\n", "1 row|time"),
        (
            b"# label = end\n# utc_offset = 0\ntime,ghi,air_c\n,3,4\n2025-01-01 00:10,3,4\n",
            "is no date and time, in line 4",
        ),
        (b"# label = end\n# utc_offset = x\ntime,ghi,air_c\n2025-01-01 00:10,3,4\n", "is no number"),
        (
            b"# label = end\n# utc_offset = -5\ntime,ghi,air_c\n2025-01-01 00:07,3,4\n2025-01-01 00:14,3,4\n",
            "divide an hour",
        ),
        (b"# label = end\n# utc_offset = -5\ntime,ghi,air_c\n2025-01-01 00:10,3,4\n", "1 row"),
        (b"LOCATION,a,b,c,d,e,1,2,3,4\nbroken", "looks like a EPW file"),
        (b"1,A,B,-5,36,-79,2\nDate (MM/DD/YYYY),Time (HH:MM)\n01/01/1988,99", "line 3 of the file"),
        (b"Latitude (decimal degrees): 45\nLongitude (decimal degrees): 8\nG(i)\n", "not a typical year"),
        ("Ünïcode in latin\n".encode("latin-1"), "in no format"),
    ],
)
def test_files_that_are_no_weather(tmp_path: Path, content: bytes, words: str) -> None:
    with pytest.raises(InputError, match=words) as caught:
        makers.read(tmp_path, content)
    makers.refused(caught.value)


def test_paths_that_are_no_file(tmp_path: Path) -> None:
    for path, words in [
        (tmp_path, "is a folder"),
        (tmp_path / "nowhere.csv", "cannot be opened"),
        (Path("a\0b"), "is no file name"),
    ]:
        with pytest.raises(InputError, match=words) as caught:
            read_weather(path, year=2025, latitude_deg=36, longitude_deg=-80)
        makers.refused(caught.value)


@pytest.mark.parametrize("cut", [0.2, 0.5, 0.9])
@pytest.mark.parametrize("maker", ["tmy3", "tm2", "epw", "pvgis csv", "pvgis json"])
def test_files_cut_off_are_never_a_crash(tmp_path: Path, maker: str, cut: float) -> None:
    whole = {
        "tmy3": lambda: (makers.PVLIB_DATA / "723170TYA.CSV").read_text(),
        "tm2": lambda: (makers.PVLIB_DATA / "12839.tm2").read_text(),
        "epw": makers.epw,
        "pvgis csv": makers.pvgis_csv,
        "pvgis json": makers.pvgis_json,
    }[maker]()
    part = whole[: int(len(whole) * cut) + 3]
    place = {
        "tm2": {"latitude_deg": 25.8, "longitude_deg": -80.27},
        "pvgis csv": {"latitude_deg": 45.0, "longitude_deg": 8.0},
        "pvgis json": {"latitude_deg": 45.0, "longitude_deg": 8.0},
    }.get(maker, {})
    try:
        weather = makers.read(tmp_path, part, **place)
    except InputError as error:
        makers.refused(error)
    else:
        # Whole days up to the cut are a valid weather of fewer days.
        assert 0 < weather.days < 365
        makers.said(weather, f"only {weather.days} of its 365 days")
        assert np.isfinite(weather.ghi_w_m2).all()


def test_hemisphere_and_distance(tmp_path: Path) -> None:
    text = makers.epw()
    with pytest.raises(InputError, match="other side of the equator") as caught:
        makers.read(tmp_path, text, latitude_deg=-36.1)
    told = makers.refused(caught.value)
    assert "sign of the latitude" in told
    assert "clear_sky = true" in told
    with pytest.raises(InputError, match="sign of the longitude") as caught:
        makers.read(tmp_path, text, longitude_deg=79.95)
    assert "clear_sky = true" in makers.refused(caught.value)
    far = makers.read(tmp_path, text, latitude_deg=38.1)
    assert "222 km" in makers.said(far, "Take a nearer file").text
    near = makers.read(tmp_path, text, latitude_deg=37.1)
    assert not [notice for notice in near.notices if "nearer file" in notice.text]


def test_clock_that_contradicts_the_longitude(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be at longitude"):
        makers.read(tmp_path, makers.epw().replace(",-5,273.0", ",5,273.0"))


def test_distance_is_a_great_circle() -> None:
    # A quarter of a meridian of a sphere of 6371 km is 10 007.5 km, one degree 111.19 km (identity).
    assert distance_km(0, 10, 90, 10) == pytest.approx(10007.5, abs=0.1)
    assert distance_km(50, 179.5, 50, -179.5) == pytest.approx(111.19 * np.cos(np.radians(50)), rel=1e-3)
