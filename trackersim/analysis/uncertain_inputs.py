"""What nobody knows exactly about a site, as named distributions, and one draw of all of it.

A draw is a set of factors and additions, not of values: applied to two jobs it changes both by the same, so that they
can be held against each other. Draw number n of a seed is always the same one, however many are drawn.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any, Literal

import numpy as np

from trackersim.analysis.loss_terms import Changes, for_units
from trackersim.arrays import FloatArray
from trackersim.job.files import with_overrides
from trackersim.job.model import Job
from trackersim.job.ranges import clipped
from trackersim.job.species import LEAFY, TYPICAL
from trackersim.quantity_reading import without_unit
from trackersim.simulation.scene import Scene
from trackersim.simulation.watched import flip_dose
from trackersim.sky.irradiance import SkyLight
from trackersim.weather.clearsky import clear_sky
from trackersim.weather.load import where_is

Group = Literal[
    "light", "clouds", "trees", "delayed", "thermal", "modules", "dirt", "label", "lift", "pipe", "pump", "on site"
]  # fmt: skip

_MONTHS = 12
# So many draws share their clouds, since light on every minute is worked out anew for others. Two seeds differ by a
# tenth of a per cent in a year of the demo, in a month by 0.4 to 0.9 %.
_DRAWS_A_SKY = 8
_FARTHEST_SD = 2.5  # a normal draw farther out is brought back to here
# Of the direct light that clouds take in a month, at most this share comes back in a brighter one, and at least that
# share of its direct light is left in a duller one (assumptions); beyond them the sky under the clouds changes.
_MOST_FILLED, _LEAST_KEPT = 0.7, 0.5


@dataclass(frozen=True, kw_only=True)
class Unknown:
    """One thing drawn.

    `how` says what is drawn: "sd", a factor of 1 with the standard deviation `most`; "factor" or "added", which lies
    evenly between `least` and `likely` as often as between `likely` and `most`; "seed", which has no size. `source` is
    a publication, recalled where it says so, or "assumption".
    """

    name: str
    group: Group
    words: str
    how: Literal["sd", "factor", "added", "seed"]
    least: float
    likely: float
    most: float
    source: str


def _light(name: str, words: str, sd: float, source: str) -> Unknown:
    return Unknown(name=name, group="light", words=words, how="sd", least=sd, likely=1.0, most=sd, source=source)


def _factor(
    name: str, group: Group, words: str, least: float, most: float, source: str = "assumption", likely: float = 1.0
) -> Unknown:
    return Unknown(
        name=name, group=group, words=words, how="factor", least=least, likely=likely, most=most, source=source
    )


def _added(name: str, group: Group, words: str, least: float, most: float) -> Unknown:
    return Unknown(
        name=name, group=group, words=words, how="added", least=least, likely=0.0, most=most, source="assumption"
    )


_TREES = "from the densest to the lightest of the species listed, about their median"


def _of_species(name: str, words: str, season: Literal["leaf_on", "leaf_off"]) -> Unknown:
    """Light a crown passes, against what is typical: as far as published species differ."""
    shares, typical = [getattr(crown, season) for crown in LEAFY], getattr(TYPICAL, season)
    return _factor(name, "trees", words, min(shares) / typical, max(shares) / typical, _TREES)


_YEARS = (
    "light: years differ by 3 to 6 % (one standard deviation) at most places (here 4 %, months and year together), "
    "Ineichen, Univ. of Geneva (2011), and Wilcox & Gueymard, ASES (2010), both recalled, not read again"
)
# All that is drawn. What belongs to the rack is told by the job's kind of rack.
UNKNOWNS: tuple[Unknown, ...] = (
    _light("light_of_year", "global light of a year against the usual", 0.03, _YEARS),
    _light("light_of_month", "global light of each month beside that", 0.09, "assumption, see light_of_year"),
    _light("light_of_file", "global light of the file against the place's, all months alike", 0.03, "assumption"),
    Unknown(
        name="clouds", group="clouds", words="minutes of passing cloud in the hours", how="seed", least=0.0, likely=0.0,
        most=0.0, source="minutes: fitted to 15 days of one station (Payerne, June 2016)",
    ),
    _of_species("transmittance_leaf_on", "beam that passes trees in leaf", "leaf_on"),
    _of_species("transmittance_leaf_off", "beam that passes bare trees", "leaf_off"),
    _factor("flip_threshold", "delayed", "beam that just does not turn the rack", 0.7, 1.4),
    _factor("flip_dose", "delayed", "what it must get beyond that until it flips", 0.7, 1.4),
    _factor("turning", "delayed", "minutes from stop to stop", 0.75, 1.3),
    _added("lag", "delayed", "degrees behind the sun", -2.0, 3.0),
    _factor("charge", "thermal", "refrigerant left", 0.9, 1.0),
    _factor("shade_plates", "thermal", "state of the shade plates", 0.85, 1.0),
    _factor("damper", "thermal", "damper", 0.7, 1.4),
    _factor("pivot_friction_nm", "thermal", "friction in the pivot", 0.5, 2.0),
    _added("balance_m", "thermal", "balance, metres below the pivot", -0.01, 0.01),
    _factor("absorptance", "thermal", "light a canister takes up", 0.93, 1.05),
    _factor("tube_bore_m", "thermal", "bore of the tube between the canisters", 0.8, 1.25),
    _factor(
        "loss_per_year", "modules", "power lost per year of age", 0.5, 1.8,
        "age: about the spread of Jordan et al., Prog. Photovolt. 24 (2016)",
    ),
    _factor("c_value", "pipe", "smoothness of the pipe, Hazen–Williams C", 0.92, 1.05),
    _added("pump_wear", "pump", "head and flow the pump has lost, share", -0.03, 0.05),
    # Named last, so that the draws of those before stay what they were.
    _factor("lift_height", "lift", "height from standing water to the outlet", 0.95, 1.05),
    _added("soiling", "dirt", "light lost to dirt, share", -0.02, 0.04),
    _factor("label_power", "label", "power of new modules against their label", 0.96, 1.02),
)  # fmt: skip
# What a question asked at the site varies beside these: a survey's errors, what counts as a sound rack, and how well a
# job's own figures are known on one day (a pump's near what its makers allow themselves).
ON_SITE: tuple[Unknown, ...] = (
    _factor("tree_height", "on site", "height of trees by tape and clinometer", 0.95, 1.05),
    _factor("sound_charge", "on site", "refrigerant in a sound rack", 0.95, 1.0),
    _factor("sound_plates", "on site", "shade plates of a sound rack", 0.9, 1.0),
    _factor("array_power", "on site", "power of the array", 0.94, 1.05),
    _factor("pump_flow", "on site", "flow of the pump", 0.95, 1.05),
    _factor("lift", "on site", "lift", 0.97, 1.03),
    _factor("pipe_c", "on site", "smoothness of the pipe, Hazen–Williams C", 0.93, 1.05),
    _factor("light_meter", "on site", "reading of a light meter", 0.95, 1.05),
)
_BY_NAME: Mapping[str, Unknown] = MappingProxyType({unknown.name: unknown for unknown in (*UNKNOWNS, *ON_SITE)})


def range_of_input(name: str) -> tuple[float, float, float]:
    """Least, likely and most of one uncertain input: a factor, or what is added."""
    found = _BY_NAME[name]
    return found.least, found.likely, found.most


@dataclass(frozen=True, kw_only=True)
class Draw:
    """One draw: `light_by_month` (12,) multiplies global light, `values` the other unknowns by name."""

    number: int
    light_by_month: tuple[float, ...]
    values: Mapping[str, float]

    def summary(self) -> dict[str, Any]:
        """Plain data."""
        return {"light_by_month": list(self.light_by_month), **self.values}


def likely_draw() -> Draw:
    """Draw 0: everything as the job says."""
    values = {unknown.name: unknown.likely for unknown in UNKNOWNS if unknown.how in ("factor", "added")}
    return Draw(number=0, light_by_month=(1.0,) * _MONTHS, values=values)


def draw_of(seed: int, number: int) -> Draw:
    """Draw `number` (1, 2, …) of the stream `seed`; it depends on nothing else."""
    chance = np.random.default_rng([seed, number])
    normal = np.clip(chance.standard_normal(1 + _MONTHS), -_FARTHEST_SD, _FARTHEST_SD)
    year, month = _BY_NAME["light_of_year"].most * normal[0], _BY_NAME["light_of_month"].most * normal[1:]
    values = {
        unknown.name: float(np.interp(chance.random(), (0.0, 0.5, 1.0), (unknown.least, unknown.likely, unknown.most)))
        for unknown in UNKNOWNS
        if unknown.how in ("factor", "added")
    }
    file = _BY_NAME["light_of_file"].most * np.clip(chance.standard_normal(), -_FARTHEST_SD, _FARTHEST_SD)
    return Draw(number=number, light_by_month=tuple((1 + year + month + file).tolist()), values=values)


def _end_draws() -> tuple[Draw, Draw]:
    """All that may be off at its least, and at its most."""
    likely = replace(likely_draw(), number=1)
    least, most = ({name: range_of_input(name)[end] for name in likely.values} for end in (0, 2))
    return replace(likely, values=least), replace(likely, values=most)


def ends_of(job: Job) -> tuple[Job, Job]:
    """The job with all that may be off at its least, and at its most."""
    least, most = _end_draws()
    return varied(job, least), varied(job, most)


def cut_at(job: Job) -> dict[str, float]:
    """Fields that end before the drawn range does, with the value at which the draws are cut."""
    found = {}
    for draw in _end_draws():
        for key, value in _changes(job, draw).items():
            if isinstance(value, float) and (end := clipped(key, value)) != value:
                found[key] = end
    return found


def sd_about(likely: float, ends: tuple[float, float]) -> float:
    """Standard deviation about `likely` of what lies evenly between it and either end, as often on either side.

    >>> round(sd_about(0.0, (-3.0, 3.0)) ** 2, 9), sd_about(1.0, (1.0, 1.0))
    (3.0, 0.0)
    """
    low, high = ends
    return float(np.hypot(low - likely, high - likely) / np.sqrt(6))


def acting(job: Job) -> tuple[Unknown, ...]:
    """The unknowns that can change anything at `job`."""
    kinds = {unit.rack.kind for unit in job.units}
    there = {
        "light": not job.weather.clear_sky,
        "clouds": not job.weather.clear_sky and job.weather.minutes == "broken",
        "trees": bool(job.trees),
        "delayed": "delayed" in kinds,
        "thermal": "thermal" in kinds,
        "dirt": any(unit.array.soiling_per_day is None for unit in job.units),
        "label": True,
        "lift": any(max(unit.source.lifts_m) > 0 for unit in job.units),
        "modules": any(unit.array.age_years * unit.array.loss_per_year > 0 for unit in job.units),
        "pipe": any(pipe.length_m > 0 for unit in job.units for pipe in (*unit.pipes, *job.main_pipes)),
        "pump": True,
    }
    return tuple(unknown for unknown in UNKNOWNS if there[unknown.group])


def varied(job: Job, draw: Draw) -> Job:
    """The job as `draw` has it, every field within its range."""
    if draw.number == 0:
        return job
    changes = _changes(job, draw)
    within = {key: value if isinstance(value, list) else clipped(key, value) for key, value in changes.items()}
    return with_overrides(job, within)


def _changes(job: Job, draw: Draw) -> Changes:
    """What `draw` makes of the fields, which may lie beyond their ranges."""
    changes: Changes = {"weather.seed": job.weather.seed + 1 + (draw.number - 1) // _DRAWS_A_SKY}
    for number, tree in enumerate(job.trees):
        for name in ("transmittance_leaf_on", "transmittance_leaf_off"):
            changes[f"trees.{number}.{name}"] = getattr(tree, name) * draw.values[name]
    for number, pipe in enumerate(job.main_pipes):
        changes[f"main.pipes.{number}.c_value"] = pipe.c_now * draw.values["c_value"]
    return changes | for_units(job, lambda unit: _unit_changes(unit, draw.values))


def _unit_changes(unit: Job, values: Mapping[str, float]) -> Changes:
    pump, rack = unit.pump, unit.rack
    changes: Changes = {
        "array.loss_per_year": unit.array.loss_per_year * values["loss_per_year"],
        "pump.head_lost": pump.head_lost + values["pump_wear"],
        "pump.flow_lost": pump.flow_lost + values["pump_wear"],
    }
    array, months = unit.array, unit.source.lift_by_month_m
    changes["array.mismatch"] = 1 - (1 - array.mismatch) * values["label_power"]
    if array.soiling_per_day is None:
        changes["array.soiling"] = array.soiling + values["soiling"]
    if months is None:
        changes["source.lift"] = unit.source.lift_m * values["lift_height"]
    else:
        changes["source.lift_by_month"] = [lift * values["lift_height"] for lift in months]
    for number, pipe in enumerate(unit.pipes):
        changes[f"pipes.{number}.c_value"] = pipe.c_now * values["c_value"]
    if rack.kind == "delayed":
        needed = flip_dose(unit)
        changes["rack.flip_threshold"] = needed.threshold_w_m2 * values["flip_threshold"]
        changes["rack.flip_dose"] = needed.dose_kj_m2 * values["flip_dose"]
        changes["rack.turning"] = rack.turning_min * values["turning"]
        changes["rack.lag"] = rack.lag_deg + values["lag"]
    if rack.kind == "thermal":
        for unknown in UNKNOWNS:
            if unknown.group == "thermal":
                own, drawn = float(getattr(rack.thermal, unknown.name)), values[unknown.name]
                key = f"rack.thermal.{without_unit(unknown.name)}"
                changes[key] = own + drawn if unknown.how == "added" else own * drawn
    return changes


def room_for_beam(job: Job, scene: Scene) -> FloatArray:
    """How much more direct light a cloudless sky would give in each sun-up minute (n,) [W/m²], 0 on cleaner days."""
    clear = clear_sky(scene.weather.times, scene.sun, **where_is(job)).dni_w_m2[scene.up]
    return np.asarray(np.maximum(clear - scene.light.beam_w_m2, 0.0))


def in_light(scene: Scene, draw: Draw, room_w_m2: FloatArray) -> Scene:
    """The scene in the light of `draw`, each month as bright against the usual as the draw has it.

    What a month has more or less of global light, its direct light has: years of direct light differ about twice as
    much as those of global light. More of it goes where a cloudless sky has room for it (`room_w_m2` of
    `room_for_beam`), less is taken from every minute alike; what is too much for that, the sky has. The order of clear
    and cloudy days stays as in the weather, which years do not keep to.
    """
    if draw.number == 0:
        return scene
    month = scene.month_of_day[scene.up_day] - 1
    level, ghi, dhi = scene.up_direction[2], scene.weather.ghi_w_m2[scene.up], scene.weather.dhi_w_m2[scene.up]
    direct, glow = scene.light.beam_w_m2 * level, scene.light.circumsolar_w_m2 * level
    by_month = [
        np.asarray(np.bincount(month, weights=each, minlength=_MONTHS), dtype=float)
        for each in (ghi, direct, glow, room_w_m2 * level, dhi)
    ]
    added, kept, sky = (factor[month] for factor in _light_factors(np.array(draw.light_by_month), *by_month))
    beam = scene.light.beam_w_m2 * kept + room_w_m2 * added
    # The glow around the sun goes with it, but not with a sun that comes out of a cloud.
    around = np.where(kept < 1, kept, sky)
    diffuse = glow * around + (dhi - glow) * sky
    total = np.maximum(ghi + (beam * level - direct) + (diffuse - dhi), 0.0)
    light = SkyLight(
        beam_w_m2=beam,
        circumsolar_w_m2=scene.light.circumsolar_w_m2 * around,
        isotropic_w_m2=scene.light.isotropic_w_m2 * sky,
        horizon_w_m2=scene.light.horizon_w_m2 * sky,
        ground_w_m2=scene.light.ground_w_m2 * np.divide(total, ghi, out=np.ones_like(total), where=ghi > 0),
    )
    weather = replace(
        scene.weather, ghi_w_m2=scene.spread(total), dni_w_m2=scene.spread(beam), dhi_w_m2=scene.spread(diffuse)
    )
    place = replace(scene.place, weather=weather, key=object())
    return replace(scene, place=place, light=light, key=object())


def _light_factors(
    factor: FloatArray, ghi: FloatArray, beam: FloatArray, glow: FloatArray, room: FloatArray, dhi: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """By month (12,): share of the room for beam that is filled, factors of the sun (beam and glow) and of sky light.

    `ghi`, `beam`, `glow` (of the sky beside the sun), `room` and `dhi` are sums on a level plane; `factor` times `ghi`
    comes out. Only a dull month weakens the glow with the beam; else it is sky light like the rest.
    """
    more, sun = (factor - 1) * ghi, beam + glow
    added = np.clip(more / np.maximum(room, 1e-9), 0.0, _MOST_FILLED)
    kept = np.where(more < 0, np.maximum(1 + more / np.maximum(sun, 1e-9), _LEAST_KEPT), 1.0)
    rest = more - sun * (kept - 1) - room * added
    left = np.where(kept < 1, dhi - glow, dhi)
    return added, kept, np.maximum(1 + rest / np.maximum(left, 1e-9), 0.0)
