"""Do the three measures of light agree? GHI against DNI · cos z + DHI, and what is the likely cause where they do not.

With all three measured one is redundant: a dead, wrongly scaled, leaning or exchanged sensor shows as a gap.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from trackersim.arrays import BoolArray, FloatArray
from trackersim.weather.limits import CLOSURE

Cause = Literal[
    "no_dni", "no_dhi", "no_ghi", "beam_on_level", "swapped_ghi_dhi", "swapped_ghi_dni", "swapped_dni_dhi",
    "scale_dni", "scale_dhi", "scale_ghi", "leans", "unknown",
]  # fmt: skip

_SOUND_FACTOR = 0.015  # a factor this near to 1 is what good sensors have
_LARGEST_FACTOR = 12.0  # assumption; a wrong unit (kWh against Btu, W against kW) is refused before
_MIN_PER_DEG = 4.0  # the sun turns 15° an hour


@dataclass(frozen=True, kw_only=True)
class Components:
    """Light measured in the same n moments, and the sun's direction then.

    `ghi`, `dni`, `dhi` in W/m², finite; `sun` (3, n) is the unit vector to the sun, east, north, up.
    """

    ghi: FloatArray
    dni: FloatArray
    dhi: FloatArray
    sun: FloatArray

    @property
    def sum(self) -> FloatArray:
        """DNI · cos z + DHI, W/m² (n,)."""
        return np.asarray(self.dni * self.sun[2] + self.dhi)

    @property
    def gap(self) -> FloatArray:
        """GHI less DNI · cos z + DHI, W/m² (n,)."""
        return self.ghi - self.sum

    def where(self, mask: BoolArray) -> Components:
        """Only the moments of `mask` (n,)."""
        return Components(ghi=self.ghi[mask], dni=self.dni[mask], dhi=self.dhi[mask], sun=self.sun[:, mask])


@dataclass(frozen=True, kw_only=True)
class Diagnosis:
    """The likely cause of a gap.

    `factor` is what the wrong sensor's values are multiplied by, 1 where scale is not the cause. `lean_deg` is how far
    the global sensor leans and `toward_deg` the bearing it leans toward; `late_min` is by how much the clock would have
    to be late to look the same (the sun turns 15° an hour), None where the lean is none of a clock's.
    """

    cause: Cause
    factor: float = 1.0
    lean_deg: float = 0.0
    toward_deg: float = 0.0
    late_min: float | None = None


def usable(*, up_share: FloatArray, cos_zenith: FloatArray) -> BoolArray:
    """Moments (n,) at which the three can be held against each other: the sun is up throughout and 10° high."""
    return np.asarray((up_share >= 1) & (cos_zenith > CLOSURE["least_sun_cos"].value))


def outside(light: Components) -> BoolArray:
    """Moments (n,) whose gap is larger than good instruments leave: 8 % of the larger side, 15 % below 15° of height.

    Source: Long & Shi, Open Atmospheric Science Journal 2 (2008) 23. Light below 50 W/m² passes.
    """
    larger = np.maximum(light.ghi, light.sum)
    high = light.sun[2] > CLOSURE["high_sun_cos"].value
    most = np.where(high, CLOSURE["slot_high_sun"].value, CLOSURE["slot_low_sun"].value)
    return np.asarray((np.abs(light.gap) > most * larger) & (larger > CLOSURE["least_light"].value))


def unclosed_days(ghi_kwh_m2: FloatArray, sum_kwh_m2: FloatArray) -> BoolArray:
    """Days (days,) whose sums of GHI and of DNI · cos z + DHI over the same usable moments differ by over 8 %."""
    larger = np.maximum(ghi_kwh_m2, sum_kwh_m2)
    gap = np.abs(ghi_kwh_m2 - sum_kwh_m2)
    return np.asarray((gap > CLOSURE["day"].value * larger) & (larger > CLOSURE["least_day"].value))


def diagnose(light: Components, *, latitude_deg: float) -> Diagnosis:
    """The simplest cause that explains the gap, over moments (n,) in which there is one.

    A dead sensor first; then each other cause is a model of the gap, and the one that leaves the least of it is named
    if no more than a third is left. "unknown" otherwise.
    """
    dead = _dead(light)
    if dead is not None:
        return Diagnosis(cause=dead)
    largest = _rms(light.gap)
    if largest == 0:
        return Diagnosis(cause="unknown")
    found: list[tuple[float, Diagnosis]] = [
        (_rms(left), Diagnosis(cause=cause)) for cause, left in _exchanged(light).items()
    ]
    scales = (_scale_dni(light), _scale_dhi(light), _scale_ghi(light))
    found += [each for each in scales if _is_scale(each[1].factor)]
    left, best = min(found, key=lambda each: each[0])
    lean_left, lean = _lean(light, latitude_deg=latitude_deg)
    # The lean has three free numbers where a scale has one: it must be clearly better.
    if lean_left < 0.6 * left and lean.lean_deg > 1.0:
        left, best = lean_left, lean
    return best if left <= CLOSURE["explained"].value * largest else Diagnosis(cause="unknown")


def _dead(light: Components) -> Cause | None:
    """The sensor that reads nothing although the other two leave it something to read."""
    level = light.dni * light.sun[2]
    ghi, beam, dhi = float(light.ghi.sum()), float(level.sum()), float(light.dhi.sum())
    share = CLOSURE["dead"].value
    if ghi <= share * (beam + dhi):
        return "no_ghi"
    if beam <= share * (ghi - dhi):
        return "no_dni"
    return "no_dhi" if dhi <= share * (ghi - beam) else None


def _exchanged(light: Components) -> Mapping[Cause, FloatArray]:
    """What each mix-up of columns would leave of the gap."""
    up = light.sun[2]
    return {
        "beam_on_level": light.ghi - light.dni - light.dhi,
        "swapped_ghi_dhi": light.dhi - light.dni * up - light.ghi,
        "swapped_ghi_dni": light.dni - light.ghi * up - light.dhi,
        "swapped_dni_dhi": light.ghi - light.dhi * up - light.dni,
    }


def _scale_dni(light: Components) -> tuple[float, Diagnosis]:
    level = light.dni * light.sun[2]
    true = _slope(level, light.ghi - light.dhi)
    return _rms(light.ghi - light.dhi - true * level), Diagnosis(cause="scale_dni", factor=_inverse(true))


def _scale_dhi(light: Components) -> tuple[float, Diagnosis]:
    rest = light.ghi - light.dni * light.sun[2]
    true = _slope(light.dhi, rest)
    return _rms(rest - true * light.dhi), Diagnosis(cause="scale_dhi", factor=_inverse(true))


def _scale_ghi(light: Components) -> tuple[float, Diagnosis]:
    factor = _slope(light.sum, light.ghi)
    return _rms(light.ghi - factor * light.sum), Diagnosis(cause="scale_ghi", factor=factor)


def _lean(light: Components, *, latitude_deg: float) -> tuple[float, Diagnosis]:
    """The plane that the global sensor seems to lie in: GHI − DHI = DNI · (sun · normal), by least squares.

    The sun runs about the pole by ω t, so a clock that is late by t looks like a lean whose western part has the sine
    cos(latitude) · sin(ω t). A lean to the south or north is no clock's.
    """
    design = (light.dni * light.sun).T
    target = light.ghi - light.dhi
    normal, *_ = np.linalg.lstsq(design, target, rcond=None)
    east, north, up = (float(part) for part in normal)
    side = float(np.hypot(east, north))
    lean_deg = float(np.degrees(np.arctan2(side, up)))
    clock = abs(east) > 3 * abs(north)
    sine = -east / max(float(np.hypot(side, up)) * np.cos(np.radians(latitude_deg)), 0.05)
    return _rms(target - design @ normal), Diagnosis(
        cause="leans",
        factor=float(np.hypot(side, up)),
        lean_deg=lean_deg,
        toward_deg=float(np.degrees(np.arctan2(east, north)) % 360),
        late_min=float(np.degrees(np.arcsin(np.clip(sine, -1, 1)))) * _MIN_PER_DEG if clock else None,
    )


def _slope(x: FloatArray, y: FloatArray) -> float:
    """The factor k of y = k x by least squares; 0 without any x."""
    square = float(x @ x)
    return float(x @ y) / square if square > 0 else 0.0


def _is_scale(factor: float) -> bool:
    """Whether a sensor may read this many times too much: not 1, and no nonsense."""
    return 1 / _LARGEST_FACTOR < factor < _LARGEST_FACTOR and abs(factor - 1) > _SOUND_FACTOR


def _inverse(factor: float) -> float:
    return 1 / factor if abs(factor) > 1e-6 else 1.0


def _rms(values: FloatArray) -> float:
    return float(np.sqrt(np.mean(values**2))) if values.size else 0.0
