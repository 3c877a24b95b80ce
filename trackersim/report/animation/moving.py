"""The moving picture of a morning: sky, rack along its axis, canisters, clock and pipe, drawn from a simulated day.

The rack is seen along its axis toward its low end, so that east and west lie as in the sky above it. The same frames
serve the page's player and the GIF.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from PIL import Image

from trackersim.arrays import BoolArray, FloatArray
from trackersim.constants import MINUTES_A_DAY
from trackersim.report.animation.inks import flattened
from trackersim.report.animation.stage import Stage
from trackersim.report.chart_series import wall_times
from trackersim.report.moment import ghost_words, moment_words
from trackersim.report.words import first_rack_words
from trackersim.simulation.result import Result
from trackersim.units import System

Progress = Callable[[str, float], None]

FRAME_MS = 200
_GIF_LAST_MS = 2500
# Minutes between pictures, and around what they show.
STEP_MIN, WHOLE_DAY_STEP_MIN = 10, 20
_BEFORE_SUNRISE_MIN, _AFTER_SUNSET_MIN, _AFTER_TURN_MIN, _LEAST_MIN = 60, 60, 120, 240
_AFTERNOON_H = 13
# The rack turns, and does not only follow the sun, where it moves faster than this; liquid in shares of the whole.
_TURNS_DEG_MIN, _FLOWS_SHARE_MIN = 0.75, 0.01
_MOST_CLOSE = 40


@dataclass(frozen=True, kw_only=True)
class Frame:
    """One picture: its minute of the standard day, PNG, the clock on the wall, and the sentence that stands for it."""

    minute: int
    png: bytes
    clock: str
    alt: str


def morning_minutes(result: Result, day: int, *, whole_day: bool = False) -> tuple[int, ...]:
    """The minutes to show of day `day` (from 0), in order.

    From an hour before the sun is up until two hours after the rack has turned east; of a rack that does not turn that
    day until early afternoon. Every ten minutes, of the whole day until an hour after sunset every twenty; and minute
    by minute while the rack turns or liquid runs, less often on a day that is full of it.
    """
    every = WHOLE_DAY_STEP_MIN if whole_day else STEP_MIN
    first, last = _whole_span(result, day) if whole_day else _morning_span(result, day)
    close = np.flatnonzero(_turning(result, day)[first : last + 1]) + first
    step = max(-(-len(close) // _MOST_CLOSE), 1)
    chosen = {first, *range(-(-first // every) * every, last + 1, every), last, *close[::step].tolist()}
    flip = _flip(result, day)
    return tuple(sorted(chosen | {flip} if flip is not None and first <= flip <= last else chosen))


def _flip(result: Result, day: int) -> int | None:
    events = result.events
    return int(events.flip[day]) if events is not None and events.flip[day] >= 0 else None


def _first_light(result: Result, day: int) -> tuple[int, int] | None:
    """Sunrise, or the first minute with light where the sun does not rise, and the last minute with light."""
    lit = np.flatnonzero(result.by_day("plane_w_m2")[day] > 0)
    if not len(lit):
        return None
    sunrise = int(result.morning.sunrise[day])
    return sunrise if sunrise >= 0 else int(lit[0]), int(lit[-1])


def _morning_span(result: Result, day: int) -> tuple[int, int]:
    hours = np.asarray(wall_times(result, slice(day * MINUTES_A_DAY, (day + 1) * MINUTES_A_DAY)).hour)
    afternoon = int(np.argmax(hours >= _AFTERNOON_H))  # 0 on a clock that has none in this day
    light = _first_light(result, day)
    first = max((light[0] if light else afternoon // 2) - _BEFORE_SUNRISE_MIN, 0)
    flip = _flip(result, day)
    last = flip + _AFTER_TURN_MIN if flip is not None else max(afternoon, first + _LEAST_MIN)
    return first, min(last, MINUTES_A_DAY - 1)


def _whole_span(result: Result, day: int) -> tuple[int, int]:
    light = _first_light(result, day)
    if light is None:
        return 0, MINUTES_A_DAY - 1
    return max(light[0] - _BEFORE_SUNRISE_MIN, 0), min(light[1] + _AFTER_SUNSET_MIN, MINUTES_A_DAY - 1)


def _turning(result: Result, day: int) -> BoolArray:
    """Minutes (1440,) in which the rack turns faster than the sun, or liquid runs between the canisters."""
    turning = _change(result.by_day("rotation_deg")[day]) > _TURNS_DEG_MIN
    if result.canisters is not None:
        west_kg = result.canisters.west_kg[day]
        turning |= _change(west_kg) > _FLOWS_SHARE_MIN * result.job.units[0].rack.thermal.liquid_kg
    return turning


def _change(values: FloatArray) -> FloatArray:
    """Change into or out of each minute, whichever is larger."""
    steps = np.abs(np.diff(values))
    return np.asarray(np.maximum(np.append(steps, 0.0), np.insert(steps, 0, 0.0)))


def frames_of(
    result: Result,
    day: int,
    minutes: Sequence[int],
    *,
    system: System,
    prompt: Result | None = None,
    progress: Progress | None = None,
) -> tuple[Frame, ...]:
    """The pictures of these minutes of day `day` (all from 0), with the ghost of a rack that turns at once (`prompt`).

    Raises `ValueError` outside the result.
    """
    stage = Stage(result, day, system, prompt)
    frames = []
    for number, minute in enumerate(minutes):
        if progress:
            progress("drawing the morning", number / len(minutes))
        now = stage.moment(minute)
        png = io.BytesIO()
        flattened(stage.picture(minute)).save(png, format="PNG")
        alt = moment_words(now, result.rack, system)
        if (ghost := stage.ghost(minute)) is not None:
            alt = f"{alt} {ghost_words(ghost, system)}"
        frames.append(Frame(minute=minute, png=png.getvalue(), clock=now.clock, alt=alt))
    if progress:
        progress("done", 1.0)
    return tuple(frames)


def gif_of(frames: Sequence[Frame]) -> bytes:
    """The frames as an endless GIF. Raises `ValueError` without any."""
    if not frames:
        raise ValueError("no frames.")
    pictures = [Image.open(io.BytesIO(frame.png)) for frame in frames]
    waits = [FRAME_MS] * (len(pictures) - 1) + [_GIF_LAST_MS]
    buffer = io.BytesIO()
    pictures[0].save(
        buffer, format="GIF", save_all=True, append_images=pictures[1:], duration=waits, loop=0, optimize=False
    )
    return buffer.getvalue()


def turn_words(result: Result, day: int) -> str:
    """A sentence on when the rack turns east on day `day` (from 0)."""
    rack, flip = first_rack_words(result), _flip(result, day)
    if result.events is None:
        return f"The {rack} does not wait for the morning sun."
    rack += "," if "," in rack else ""
    if flip is None:
        return f"On this day the {rack} does not turn from west to east."
    place = day * MINUTES_A_DAY + flip
    clock = wall_times(result, slice(place, place + 1))[0]
    sunrise = int(result.morning.sunrise[day])
    after = f", {flip - sunrise} min after sunrise" if sunrise >= 0 else ""
    return f"On this day the {rack} turns east at {clock:%H:%M}{after}."
