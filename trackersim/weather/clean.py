"""From a raw table to `Weather`: the order in which a file is checked, cleaned, filled and centred."""

from __future__ import annotations

import numpy as np

from trackersim.arrays import FloatArray
from trackersim.errors import Notice, counted
from trackersim.quantity_writing import in_both
from trackersim.units import show_both
from trackersim.weather import gaps
from trackersim.weather import quality as checks
from trackersim.weather.file_rows import FileRows
from trackersim.weather.head import check_head
from trackersim.weather.inspection import inspect
from trackersim.weather.light import check_unit, clean_light
from trackersim.weather.raw import LIGHT, RawTable, Row, fault, note
from trackersim.weather.slots import Slots, sky_over, slots_of
from trackersim.weather.weather import Weather

# name -> lowest and highest value met outdoors, their unit, its words, and what a file full of others probably is
_RANGE: dict[str, tuple[float, float, str, str, str]] = {
    "air_c": (-70.0, 60.0, "degC", "air temperature", "Check that air is in °C (a column air_f is read as °F)."),
    "wind_m_s": (
        0.0, 75.0, "m/s", "wind speed", "Check that wind is in m/s (columns wind_mph and wind_km_h are converted)."
    ),
}  # fmt: skip
_MOST_RAIN_MM = 500.0  # in one interval; more is a code for missing data
_ASSUMED_WIND_M_S = 2.0
_TOO_MANY = 0.05
_YEAR_DAYS = 365


def cleaned(
    table: RawTable,
    *,
    site_latitude_deg: float,
    site_longitude_deg: float,
    site_elevation_m: float | None,
    name: str,
    sha256: str,
) -> Weather:
    """Whole days of clean samples at interval centres. Raises `InputError` for what cannot be mended.

    The site stands in for what the table does not say of its place: its height too, since the air over high ground lets
    through beams that no air at the sea does.
    """
    check_head(table)
    remarks_on_place = checks.check_place(table, latitude_deg=site_latitude_deg, longitude_deg=site_longitude_deg)
    remarks_on_place += checks.check_height(table, elevation_m=site_elevation_m)
    place = {
        "latitude_deg": site_latitude_deg if table.latitude_deg is None else table.latitude_deg,
        "longitude_deg": site_longitude_deg if table.longitude_deg is None else table.longitude_deg,
        "elevation_m": next((each for each in (table.elevation_m, site_elevation_m) if each is not None), 0.0),
    }
    table = checks.on_local_clock(table, longitude_deg=place["longitude_deg"])
    slots, remarks = slots_of(table)
    notices = [*table.notices, *remarks_on_place, *remarks]
    sky = sky_over(slots, **place)
    light, more = clean_light({each: slots.columns[each] for each in LIGHT}, sky, slots)
    first, last, dropped = gaps.whole_days(light, sky, slots)
    notices += more + dropped
    part = slice(first * slots.per_day, last * slots.per_day)
    light, slots, sky = {each: values[part] for each, values in light.items()}, slots.days(first, last), sky.cut(part)
    check_unit(light, sky)
    days = slots.count // slots.per_day
    missing = np.asarray(np.isnan([light[each] for each in LIGHT]).any(axis=0))
    if table.typical and days < _YEAR_DAYS:
        text = f"The typical year holds only {days} of its {_YEAR_DAYS} days: it may have been cut off in a download."
        row = Row(
            what="a typical year cut short", many=counted(days, "day"), when=slots.when(~missing), done="used as it is"
        )
        notices.append(note(text, caution=True, row=row))
    light, more = gaps.fill_light(light, sky, slots)
    late_min, clear_days = checks.light_lag_min(light["ghi"], sky, slots)
    notices += more + checks.check_label(late_min, clear_days)
    air = _ranged("air_c", slots, notices)
    wind = _ranged("wind_m_s", slots, notices)
    rows = FileRows(
        slots=slots,
        sky=sky,
        light=light,
        air_c=air,
        wind_m_s=wind,
        latitude_deg=place["latitude_deg"],
        longitude_deg=place["longitude_deg"],
        late_min=late_min if clear_days else None,
    )
    inspection = inspect(rows, filled=missing)
    notices += [finding.remark() for finding in inspection.findings]
    light = gaps.centred_light(light, sky, slots, place=place)
    return Weather(
        times=slots.times(slots.centres_s),
        step_min=slots.step_min,
        ghi_w_m2=light["ghi"],
        dni_w_m2=light["dni"],
        dhi_w_m2=light["dhi"],
        air_c=gaps.centred_air(air, slots),
        wind_m_s=gaps.centred_air(wind, slots),
        wind_from_deg=gaps.fill_direction(slots.columns["wind_from_deg"]),
        rain_mm_by_day=_rain(slots),
        latitude_deg=table.latitude_deg,
        longitude_deg=table.longitude_deg,
        elevation_m=table.elevation_m,
        typical=table.typical,
        cut_by_hills=table.cut_by_hills,
        label=table.label,
        name=name,
        sha256=sha256,
        inspection=inspection,
        notices=tuple(notices),
    )


def _rain(slots: Slots) -> FloatArray | None:
    """Rain of each day (days,); None if the file tells of none at all."""
    rain = slots.columns.get("rain_mm")
    if rain is None or np.isnan(rain).all():
        return None
    sound = np.where((rain >= 0) & (rain < _MOST_RAIN_MM), rain, 0.0)
    return np.asarray(sound.reshape(-1, slots.per_day).sum(axis=1))


def _ranged(name: str, slots: Slots, notices: list[Notice]) -> FloatArray:
    """Air or wind without absurd values and gaps."""
    values = slots.columns[name].copy()
    if name == "wind_m_s" and np.isnan(values).all():
        text = f"The file has no wind: {show_both(_ASSUMED_WIND_M_S, 'speed')} is assumed throughout."
        row = Row(what="no wind", many="all rows", done=f"{_ASSUMED_WIND_M_S:g} m/s assumed")
        notices.append(note(text, caution=True, row=row))
        return np.full(len(values), _ASSUMED_WIND_M_S)
    low, high, unit, words, remedy = _RANGE[name]
    absurd = (values < low) | (values > high)
    if absurd.any():
        # Which unit the file is written in is not known here: both are told.
        most = counted(int(absurd.sum()), "value")
        such = f"{in_both(low, unit)} to {in_both(high, unit)}, such as {in_both(float(values[absurd][0]), unit)}"
        if absurd.sum() > _TOO_MANY * len(values):
            raise fault(f"its column of {words}", f"has {most} outside {such}.", remedy)
        row = Row(what=f"impossible {words}", many=most, when=slots.when(absurd), done="left out")
        notices.append(note(f"{most} of {words} outside {such}, left out.", caution=True, row=row))
        values[absurd] = np.nan
    values, more = gaps.fill_air(name, values, slots)
    notices += more
    return values
