"""Which of a thermal rack's assumed numbers matter: its flip and its arrival on four clear days, each number ±30 %.

The four days stand for the seasons at the job's site, its trees and hills included. What a morning with a watch can
tell is the flip alone. Its sensitivities, as columns of a matrix whose rows are the days, say by their singular values
how many mixtures of the numbers flips of a few minutes' error can tell apart, and by their angles which numbers cannot
be told from one another at all.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np

from trackersim.arrays import FloatArray
from trackersim.errors import InputError
from trackersim.job.files import with_overrides
from trackersim.job.model import Job
from trackersim.simulation.racks_side_by_side import Driven, driven_through, mornings_of
from trackersim.simulation.runner import Progress, Runner, on_rack
from trackersim.simulation.scene import Scene
from trackersim.weather.weather import Weather

SHARE = 0.3
# Field of `Thermal`, most it can be. Charge acts as liquid_kg does and the moving mass as balance_m: only their
# products count.
NUMBERS: dict[str, float] = {
    "shade_plates": 1.0,
    "absorptance": 1.0,
    "plate_share_behind": 1.0,
    "liquid_kg": 500.0,
    "canister_diameter_m": 1.0,
    "canister_length_m": 6.0,
    "lever_m": 6.0,
    "balance_m": 0.5,
    "tube_bore_m": 0.05,
    "pivot_friction_nm": 500.0,
    "damping_nms": 1e6,
    "shell_j_k": 1e6,
    "mixing_min": 1440.0,
    "residual_kg": 100.0,
    "diffuse_share": 2.0,
    "plate_angle_deg": 89.0,
}
AIR_K, BEAM = 10.0, 0.8
SKY_VIEW, PLATES_PASS = 0.25, 0.1
# A rack that faces the sun this much later after its flip than it does with all numbers as they are has fallen short.
CLIFF_MIN = 45.0
# What a watched flip is off by, and how far the numbers may be off (natural logarithm): for the singular values.
_FLIP_ERROR_MIN, _PRIOR_LN = 4.0, 0.3
_PARALLEL = 0.995
_WORTH_MIN = 1.0  # numbers that move no flip by so much are told apart by nothing


class Moments(NamedTuple):
    """Flip and arrival (4,), minutes after sunrise; NaN stands only here for what does not happen."""

    flip_min: FloatArray
    arrival_min: FloatArray


class Moved(NamedTuple):
    """A number or a condition: moments with it lower and higher; None where it has no room."""

    lower: Moments | None
    higher: Moments | None


@dataclass(frozen=True, kw_only=True)
class RackNumbers:
    """What each assumed number of a thermal rack does on four clear days, in the order of `dates`.

    `singular`: of the flips' sensitivities over a watch's error. `alike`: numbers that watched flips cannot tell apart.
    `cliff`: numbers and directions with which the rack flips and then does not reach the sun, on how many of the days.
    """

    dates: tuple[dt.date, ...]
    usual: Moments
    moved: Mapping[str, Moved]
    singular: tuple[float, ...]
    alike: tuple[tuple[str, ...], ...]
    cliff: Mapping[tuple[str, str], int]

    def summary(self) -> dict[str, Any]:
        """The answer as plain data: minutes after sunrise, null for what does not happen."""
        return {
            "dates": [date.isoformat() for date in self.dates],
            "usual": _plain(self.usual),
            "moved": {
                name: {side: None if found is None else _plain(found) for side, found in moved._asdict().items()}
                for name, moved in self.moved.items()
            },
            "share": SHARE,
            "singular_values": list(self.singular),
            "told_apart": int(sum(value > 1 for value in self.singular)),
            "alike": [list(names) for names in self.alike],
            "cliff": [{"number": name, "side": side, "days": days} for (name, side), days in self.cliff.items()],
        }


def rack_numbers(job: Job, *, progress: Progress | None = None) -> RackNumbers:
    """Flip and arrival of the job's rack as physics, each assumed number 30 % lower and higher.

    Parameters
    ----------
    job : Job
        A job; of several units the first one's rack, as the thermal rack of its numbers.
    progress : Progress | None
        Hears what is being done and the share that is done; None for nobody.

    Returns
    -------
    RackNumbers
        Four clear days side by side.

    Raises
    ------
    InputError
        For a rack that is stuck, or that does not flip on any of the days.
    """
    tell = progress or (lambda words, share: None)
    tell("four clear days", 0.0)
    unit = on_rack(job, "thermal").units[0]
    if unit.rack.thermal.stuck:
        raise InputError.of("rack.thermal.stuck", True, "leaves nothing to vary.", "Set it to false.")
    dates = tuple(dt.date(job.weather.year, month, 21) for month in (3, 6, 9, 12))
    clear = with_overrides(unit, {"weather.file": "", "weather.clear_sky": True})
    scenes = [Runner(clear, first_day=date, last_day=date).scene() for date in dates]
    (usual,) = _moments([driven_through(clear, scenes)], scenes)
    if np.isnan(usual.flip_min).all():
        raise InputError.of(
            "rack.thermal", "as given", "does not flip on any of four clear days.", "Mend it, then ask what matters."
        )
    tell("all numbers, lower and higher, side by side", 0.2)
    asked = {
        name: tuple(_varied(clear, scenes, name, factor, most) for factor in (1 - SHARE, 1 + SHARE))
        for name, most in NUMBERS.items()
    }
    moved = _all_moved(asked | _conditions(clear, scenes), scenes)
    tell("done", 1.0)
    told = [name for name in NUMBERS if _worth(moved[name])]
    columns = np.array([_per_ln(moved[name], unit, name) for name in told]).reshape(len(told), len(dates))
    scaled = columns * (_PRIOR_LN / _FLIP_ERROR_MIN)
    return RackNumbers(
        dates=dates,
        usual=usual,
        moved=moved,
        singular=tuple(np.linalg.svd(scaled, compute_uv=False).tolist()) if told else (),
        alike=_alike(told, columns),
        cliff=_cliff(moved, usual),
    )


def short_of_sun(found: Moments, usual: Moments) -> int:
    """On how many days a rack flips and then does not reach the sun, or much later than it usually does."""
    wait, own = found.arrival_min - found.flip_min, usual.arrival_min - usual.flip_min
    late = np.isfinite(found.flip_min) & np.isfinite(own) & ~(wait < own + CLIFF_MIN)
    return int(late.sum())


def _all_moved(asked: Mapping[str, tuple[Driven | None, ...]], scenes: Sequence[Scene]) -> dict[str, Moved]:
    """The moments of all cases, marched side by side."""
    found = iter(_moments([case for both in asked.values() for case in both if case is not None], scenes))
    return {name: Moved(*(None if case is None else next(found) for case in both)) for name, both in asked.items()}


def _moments(cases: Sequence[Driven], scenes: Sequence[Scene]) -> list[Moments]:
    """The moments of every case, each with all scenes: every morning begun at rest."""
    sunshine = np.concatenate([scene.beam_w_m2 for scene in scenes])
    rotation, events = mornings_of(cases, scenes, np.tile(sunshine, (len(cases), 1)))
    row, flip = np.arange(len(rotation)), events.flip
    before, after = rotation[row, flip - 1], rotation[row, flip]
    crossed = flip - 1 + before / np.where(before > after, before - after, 1.0)
    flipped = (flip >= 0) & (events.sunrise >= 0)
    flip_min = np.where(flipped, crossed - events.sunrise, np.nan)
    arrival_min = np.where(flipped & (events.arrival >= 0), events.arrival - events.sunrise, np.nan).astype(float)
    by_case = (len(cases), len(scenes))
    return [Moments(*both) for both in zip(flip_min.reshape(by_case), arrival_min.reshape(by_case), strict=True)]


def _varied(clear: Job, scenes: Sequence[Scene], name: str, factor: float, most: float) -> Driven | None:
    """With one number changed, as far as it has room; None where it has none."""
    value = float(getattr(clear.rack.thermal, name))
    changed = min(value * factor, most)
    return None if changed == value else driven_through(_with(clear, name, changed), scenes)


def _with(unit: Job, name: str, value: float) -> Job:
    thermal = unit.rack.thermal.model_copy(update={name: value})
    return unit.model_copy(update={"rack": unit.rack.model_copy(update={"thermal": thermal})})


def _conditions(clear: Job, scenes: Sequence[Scene]) -> dict[str, tuple[Driven | None, ...]]:
    """What the canisters' heat loss and the day itself do: air, wind and haze; sky, dew and plates that pass light."""
    usual = driven_through(clear, scenes)

    def under(change: Callable[[Scene], Scene]) -> Driven:
        return driven_through(clear, [change(scene) for scene in scenes])

    def losing(factor: float) -> Driven:
        return usual._replace(forcing=usual.forcing._replace(loss_w_k=usual.forcing.loss_w_k * factor))

    def air(warmer_k: float) -> Callable[[Scene], Scene]:
        return lambda scene: _in(scene, replace(scene.weather, air_c=scene.weather.air_c + warmer_k))

    def wind(factor: float) -> Callable[[Scene], Scene]:
        return lambda scene: _in(scene, replace(scene.weather, wind_m_s=scene.weather.wind_m_s * factor))

    def hazy(scene: Scene) -> Scene:
        return replace(scene, light=replace(scene.light, beam_w_m2=scene.light.beam_w_m2 * BEAM))

    def given(name: str, value: float) -> Driven:
        return driven_through(_with(clear, name, value), scenes)

    return {
        "heat_loss": (losing(1 - SHARE), losing(1 + SHARE)),
        "air": (under(air(-AIR_K)), under(air(AIR_K))),
        "wind": (under(wind(1 - SHARE)), under(wind(1 + SHARE))),
        "beam": (under(hazy), None),
        "sky_view_difference": tuple(given("sky_view_difference", sky) for sky in (-SKY_VIEW, SKY_VIEW)),
        "dew": (None, given("dew", 1.0)),
        "plates_pass": (None, given("plates_pass", PLATES_PASS)),
    }


def _in(scene: Scene, weather: Weather) -> Scene:
    return replace(scene, place=replace(scene.place, weather=weather))


def _worth(moved: Moved) -> bool:
    """Whether a number moves a flip by a minute or more; false where a day has none with it lower or higher."""
    both = [found.flip_min for found in moved if found is not None]
    if not both or not np.isfinite(both).all():
        return False
    return bool(len(both) > 1 and np.abs(both[-1] - both[0]).max() >= _WORTH_MIN)


def _per_ln(moved: Moved, unit: Job, name: str) -> FloatArray:
    """Minutes of flip (days,) per natural logarithm of a number."""
    assert moved.lower is not None
    assert moved.higher is not None
    value = float(getattr(unit.rack.thermal, name))
    highest = min(value * (1 + SHARE), NUMBERS[name])
    return np.asarray((moved.higher.flip_min - moved.lower.flip_min) / np.log(highest / (value * (1 - SHARE))))


def _alike(names: Sequence[str], columns: FloatArray) -> tuple[tuple[str, ...], ...]:
    """Groups of numbers whose flips change in one proportion from day to day."""
    rest, groups = list(range(len(names))), []
    unit = columns / np.maximum(np.linalg.norm(columns, axis=1, keepdims=True), 1e-12) if len(names) else columns
    while rest:
        head = rest[0]
        group = [other for other in rest if abs(unit[head] @ unit[other]) >= _PARALLEL]
        rest = [other for other in rest if other not in group]
        if len(group) > 1:
            groups.append(tuple(names[other] for other in group))
    return tuple(groups)


def _cliff(moved: Mapping[str, Moved], usual: Moments) -> dict[tuple[str, str], int]:
    sides = ((name, side, found) for name, both in moved.items() for side, found in both._asdict().items())
    counts = {(name, side): short_of_sun(found, usual) for name, side, found in sides if found is not None}
    return {key: days for key, days in counts.items() if days}


def _plain(found: Moments) -> dict[str, list[float | None]]:
    return {
        name: [None if np.isnan(value) else round(float(value), 1) for value in values]
        for name, values in found._asdict().items()
    }
