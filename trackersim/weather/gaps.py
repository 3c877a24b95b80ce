"""Holes in a file: which may be filled, how, and moving samples onto interval centres."""

from __future__ import annotations

import numpy as np

from trackersim.arrays import BoolArray, FloatArray
from trackersim.errors import Notice, counted
from trackersim.sky.sun import sun_at
from trackersim.weather.clearsky import clear_sky
from trackersim.weather.raw import LIGHT, Row, fault, note
from trackersim.weather.slots import NEGLIGIBLE_S, SkyOver, Slots, sample_seconds
from trackersim.weather.spans import runs

Light = dict[str, FloatArray]

LONGEST_GAP_MIN = 180
_LONGEST_AIR_GAP_MIN = 48 * 60
# Daylight that may be lacking at the very start or end of a log without losing the day.
_EDGE_DAYLIGHT_MIN = 30
# Below these clear-sky values the ratio of light to clear sky says nothing.
_CLEAR_FLOOR = {"ghi": 20.0, "dni": 50.0, "dhi": 10.0}
_HIGHEST_RATIO = 10.0
_CUT = "Fill the gap from a neighbouring station, or cut the file to the days without it."


def whole_days(light: Light, sky: SkyOver, slots: Slots) -> tuple[int, int, list[Notice]]:
    """The days to keep, first and last (exclusive): a day whose light starts late or ends early is dropped."""
    missing = np.isnan(light["ghi"]) | np.isnan(light["dni"]) | np.isnan(light["dhi"])
    lit = sky.clear["ghi"] > 1.0
    per_day, days = slots.per_day, slots.count // slots.per_day
    notices: list[Notice] = []
    first, last = 0, days
    while first < last and _late(missing, lit, slots, slice(first * per_day, (first + 1) * per_day)):
        first += 1
    backward = slice(None, None, -1)
    while last > first and _late(
        missing[backward], lit[backward], slots, slice((days - last) * per_day, (days - last + 1) * per_day)
    ):
        last -= 1
    if first == last:
        remedy = "Use a log that holds at least one day from sunrise to sunset."
        raise fault(counted(days, "incomplete day"), "hold no day that is complete from sunrise to sunset.", remedy)
    if first or last < days:
        dropped = [*range(first), *range(last, days)]
        noons = slots.times(slots.start_s + 86400.0 * np.array(dropped[:5]) + 43200)
        dates = ", ".join(str(noon.date()) for noon in noons)
        many = counted(len(dropped), "day")
        text = f"{counted(len(dropped), 'incomplete day')} at the start or end of the file were left out ({dates})."
        row = Row(what="incomplete days", many=many, when=dates, done="left out")
        notices.append(note(text, caution=True, row=row))
    return first, last, notices


def _late(missing: BoolArray, lit: BoolArray, slots: Slots, day: slice) -> bool:
    """Whether the day's first daylight is missing for more than the tolerance."""
    by_day = missing[day][lit[day]]
    if by_day.size == 0:
        return bool(missing[day].all())
    lacking = int(np.argmin(by_day)) if not by_day.all() else by_day.size
    return lacking * slots.step_min > _EDGE_DAYLIGHT_MIN or bool(by_day.all())


def fill_light(light: Light, sky: SkyOver, slots: Slots) -> tuple[Light, list[Notice]]:
    """Gaps of up to three hours of daylight filled along the clear sky; `InputError` for longer ones."""
    missing = np.isnan(light["ghi"]) | np.isnan(light["dni"]) | np.isnan(light["dhi"])
    if not missing.any():
        return light, []
    holes = runs(missing)
    long = [hole for hole in holes if (hole[1] - hole[0]) * slots.step_min > LONGEST_GAP_MIN]
    if long:
        told = "; ".join(_span(hole, slots) for hole in long[:5]) + ("; …" if len(long) > 5 else "")
        reason = f"have no light for more than {LONGEST_GAP_MIN // 60} h of daylight."
        raise fault(told, reason, _CUT)
    moments = slots.centres_s
    filled = {}
    for name in LIGHT:
        ratio = _ratio(light[name], sky.clear[name], moments, moments, floor=_CLEAR_FLOOR[name])
        filled[name] = np.where(np.isnan(light[name]), ratio * sky.clear[name], light[name])
    told = "; ".join(_span(hole, slots) for hole in holes[:3]) + ("; …" if len(holes) > 3 else "")
    text = (
        f"{counted(len(holes), 'gap')} in the light ({int(missing.sum())} samples: {told}) filled between "
        "their neighbours along the clear sky."
    )
    gaps = counted(len(holes), "gap")
    row = Row(what="gaps in the light", many=gaps, when=slots.when(missing), done="filled")
    return filled, [note(text, caution=True, row=row)]


def fill_air(name: str, values: FloatArray, slots: Slots) -> tuple[FloatArray, list[Notice]]:
    """Air or wind with gaps filled linearly; `InputError` for gaps of more than two days."""
    missing = np.isnan(values)
    if not missing.any():
        return values, []
    words = {"air_c": "air temperature", "wind_m_s": "wind speed"}[name]
    holes = runs(missing)
    long = [hole for hole in holes if (hole[1] - hole[0]) * slots.step_min > _LONGEST_AIR_GAP_MIN]
    if long or missing.all():
        told = "; ".join(_span(hole, slots) for hole in (long or holes)[:5])
        raise fault(told, f"have no {words} for more than two days.", _CUT)
    index = np.arange(len(values))
    filled = np.interp(index, index[~missing], values[~missing])
    longest = max(end - start for start, end in holes) * slots.step_min
    gaps = counted(len(holes), "gap")
    text = f"{int(missing.sum())} samples without {words} ({gaps}) were filled between their neighbours."
    row = Row(what=f"gaps in the {words}", many=gaps, when=slots.when(missing), done="filled")
    return filled, [note(text, caution=longest > LONGEST_GAP_MIN, row=row)]


def fill_direction(values: FloatArray) -> FloatArray | None:
    """Wind direction with gaps filled from the sample before; None when more than half is missing or is no bearing."""
    known = (values >= -360) & (values <= 360)
    if known.mean() <= 0.5:
        return None
    last = np.maximum.accumulate(np.where(known, np.arange(len(values)), -1))
    return np.asarray(values[np.where(last < 0, int(np.argmax(known)), last)] % 360)


def _span(hole: tuple[int, int], slots: Slots) -> str:
    edge = slots.times(slots.start_s + np.array([hole[0], hole[1]]) * slots.step_min * 60.0)
    return f"{edge[0]:%Y-%m-%d %H:%M} to {edge[1]:%Y-%m-%d %H:%M}"


def _ratio(light: FloatArray, clear: FloatArray, at_s: FloatArray, to_s: FloatArray, *, floor: float) -> FloatArray:
    """Light over clear sky, known at `at_s` where the sun is high enough, linear between, at `to_s`."""
    known = ~np.isnan(light) & (clear > floor)
    if not known.any():
        return np.zeros(len(to_s))
    return np.interp(to_s, at_s[known], np.clip(light[known] / clear[known], 0, _HIGHEST_RATIO))


def centred_light(light: Light, sky: SkyOver, slots: Slots, *, place: dict[str, float]) -> Light:
    """Light as means over the slots themselves, when the file gives moments or intervals that lie elsewhere.

    The ratio to the clear sky is taken linear between the file's moments; the clear sky follows the sun.
    """
    if abs(slots.phase_s) <= NEGLIGIBLE_S and not (slots.instant and slots.step_min > 5):
        return light
    samples = max(1, slots.step_min // 10)
    seconds = sample_seconds(slots, samples)
    times = slots.times(seconds)
    clear = clear_sky(times, sun_at(times, **place), **place)
    there = {"ghi": clear.ghi_w_m2, "dni": clear.dni_w_m2, "dhi": clear.dhi_w_m2}
    moments = slots.centres_s + slots.phase_s
    return {
        name: (_ratio(light[name], sky.clear[name], moments, seconds, floor=_CLEAR_FLOOR[name]) * there[name])
        .reshape(-1, samples)
        .mean(axis=1)
        for name in LIGHT
    }


def centred_air(values: FloatArray, slots: Slots) -> FloatArray:
    """Air or wind at the slots' centres, linear between the moments they were read."""
    delay = slots.phase_s + slots.air_delay_s
    if abs(delay) <= NEGLIGIBLE_S:
        return values
    return np.interp(slots.centres_s, slots.centres_s + delay, values)
