"""The head of a file: a place, a height and a clock that exist."""

from __future__ import annotations

from trackersim.errors import Fault, InputError
from trackersim.weather.limits import HEAD
from trackersim.weather.raw import FIELD, RawTable

_REMEDY = "Correct the file's first lines, or leave the line out and the site's own is used."
_LIGHT_REMEDY = "Download the file again."


def check_head(table: RawTable) -> None:
    """`InputError` with every figure of the head that no place on Earth has; NaN is none either."""
    check_figures(
        latitude_deg=table.latitude_deg,
        longitude_deg=table.longitude_deg,
        elevation_m=table.elevation_m,
        offset_h=table.offset_h,
    )


def check_figures(
    *, latitude_deg: float | None, longitude_deg: float | None, elevation_m: float | None, offset_h: float
) -> None:
    """The same for figures that belong to no table yet."""
    faults = [
        *_place_faults(latitude_deg, longitude_deg),
        *_outside("elevation", elevation_m, HEAD["lowest_place"].value, HEAD["highest_place"].value, "m"),
        *_outside("UTC offset", offset_h, HEAD["first_clock"].value, HEAD["last_clock"].value, "h"),
    ]
    if faults:
        raise InputError(faults)


def check_place_exists(latitude_deg: float | None, longitude_deg: float | None) -> None:
    """`InputError` for a latitude or longitude that does not exist."""
    faults = _place_faults(latitude_deg, longitude_deg)
    if faults:
        raise InputError(faults)


def check_light_offset(hours: float | None) -> None:
    """`InputError` for light that PVGIS took further from its stamp than the hour that the stamp is for."""
    most = HEAD["light_offset"].value
    if hours is not None and not -most <= hours <= most:
        reason = f"is the file's irradiance time offset, which lies from −{most:g} to {most:g} h."
        raise InputError.of(FIELD, hours, reason, _LIGHT_REMEDY)


def _place_faults(latitude_deg: float | None, longitude_deg: float | None) -> list[Fault]:
    return [
        *_outside("latitude", latitude_deg, -90, 90, "°"),
        *_outside("longitude", longitude_deg, -180, 180, "°"),
    ]


def _outside(name: str, value: float | None, low: float, high: float, unit: str) -> list[Fault]:
    if value is None or low <= value <= high:
        return []
    ends = f"{low:g} to {high:g} {unit}".replace("-", "−")
    return [Fault(field=FIELD, value=value, reason=f"is the file's {name}, which lies from {ends}.", remedy=_REMEDY)]
