"""What a result must say beside its figures: what was assumed, capped or unusual."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from trackersim.clock import offset_words
from trackersim.errors import Notice
from trackersim.job.electrics import Controller
from trackersim.job.model import Job
from trackersim.power.module_table import FULL_SUN_PLACE, FarEnd, module_table
from trackersim.power.voltage import air_at_voltage_c, cold_open_circuit_v, lacks_record_low, voltage_verdict
from trackersim.simulation.array_power import ArrayModel, ArrayPower
from trackersim.simulation.electrics import module_end
from trackersim.simulation.generation import Generation
from trackersim.simulation.obstacles import obstacle_notices
from trackersim.simulation.orientation import axis_of
from trackersim.simulation.pump_station import PumpStation
from trackersim.simulation.pumping import WaterSide
from trackersim.simulation.result import Stages
from trackersim.simulation.scene import Scene
from trackersim.simulation.thermal_notices import thermal_notices
from trackersim.simulation.water_notices import water_notices
from trackersim.units import show_both

_NOTABLE_LOSS = 0.08
_CLOCK_GAP_H = 1.0  # daylight saving


def result_notices(job: Job, stages: Stages, station: PumpStation, water: WaterSide) -> tuple[Notice, ...]:
    """All notices of one run.

    Parameters
    ----------
    job : Job
        The job simulated.
    stages : Stages
        Its scene, and what each unit's rack and array did.
    station : PumpStation
        Its pumps and pipes.
    water : WaterSide
        What they lifted.

    Returns
    -------
    tuple[Notice, ...]
        The gravest first, then those about trees and weather.
    """
    scene, trackings, generations = stages
    by_unit = [
        [
            *_voltage_notices(own, scene),
            *_window_notices(own, given.power),
            *_model_notices(own, given),
            *_array_notices(own, scene),
            *_axis_notices(own),
            *_ground_notices(own),
        ]
        for own, given in zip(job.units, generations, strict=True)
    ]
    notices = [*_of_units(job, by_unit), *water_notices(job, station, water), *_clock_notices(job, scene)]
    if job.rack.kind == "delayed":
        text = "The rack's delay, turning time and lag are as watched or assumed; no measurement is published."
        notices.append(Notice(text=text, field="rack.flip_delay"))
    if job.rack.kind == "thermal":
        has_direction = scene.weather.wind_from_deg is not None
        notices += thermal_notices(job, trackings[0].history, has_wind_direction=has_direction)
    return (*notices, *obstacle_notices(job, cut_by_hills=scene.weather.cut_by_hills), *scene.weather.notices)


def _of_units(job: Job, by_unit: Sequence[Sequence[Notice]]) -> list[Notice]:
    """The notices of every unit under its name; what is alike of several is said once, at the first of them."""
    if not job.unit:
        return [notice for notices in by_unit for notice in notices]
    units: dict[Notice, list[int]] = {}
    for number, notices in enumerate(by_unit):
        for notice in notices:
            units.setdefault(notice, []).append(number)
    told = []
    for notice, numbers in units.items():
        names = "every unit" if len(numbers) == len(job.unit) > 1 else ", ".join(job.unit_names[n] for n in numbers)
        told.append(replace(notice, text=f"{names}: {notice.text}", field=f"unit.{numbers[0]}.{notice.field}"))
    return told


def _axis_notices(job: Job) -> list[Notice]:
    """That the tilt of the axis was not given."""
    rack = job.rack
    if rack.kind == "fixed" or rack.axis_tilt_deg is not None:
        return []
    how = f"to lean {rack.axis_tilt_taken_deg:g}°, as the fixed plane does" if rack.axis_tilt_taken_deg else "as level"
    text = f"The axis that the rack turns on is taken {how}: its tilt is not given (rack.axis_tilt)."
    return [Notice(text=text, field="rack.axis_tilt", level="caution")]


def _ground_notices(job: Job) -> list[Notice]:
    """That the array would reach into the ground, level about the rack, so that no such rack stands there."""
    rack, out, tilt = job.rack, job.array.laid_out, np.radians(axis_of(job).tilt_deg)
    turned = np.radians(abs(rack.fixed_rotation_deg) if rack.kind == "fixed" else rack.max_rotation_deg)
    aside_m, along_m = out.width_m / 2 * np.sin(turned), out.height_m / 2
    below_m = float((aside_m - out.above_axis_m * np.cos(turned)) * np.cos(tilt) + along_m * np.sin(tilt))
    if below_m <= rack.height_m:
        return []
    where = "As it stands" if rack.kind == "fixed" else "At its stops"
    text = (
        f"{where} the array would reach {show_both(below_m - rack.height_m, 'length')} into level ground: its lowest "
        f"edge lies {show_both(below_m, 'length')} below the axis, which is taken as "
        f"{show_both(rack.height_m, 'length')} above the ground. Measure rack.height, or correct array.layout: the "
        "shade of trees is worked out for that place."
    )
    return [Notice(text=text, field="rack.height", level="caution")]


def _voltage_notices(job: Job, scene: Scene) -> list[Notice]:
    """The array's voltage on the coldest morning; over the controller's limit it stands before everything else."""
    given = job.site.design_low_c
    coldest_c = given if given is not None else scene.coldest_c
    array, limit_v = job.array, job.controller.max_input_v
    cold_v = cold_open_circuit_v(array, coldest_c)
    origin = "design low" if given is not None else "coldest air in the weather, not a record"
    cold = show_both(coldest_c, "temperature", digits=2)
    reaches = f"the array's open-circuit voltage reaches {cold_v:.0f} V in first light at {cold}, {origin}"
    decide = "Local code and a licensed person decide."
    if limit_v is None:
        text = f"The controller's largest input voltage is not given: {reaches}. Hold that against its label. {decide}"
        return [Notice(text=text, field="controller.max_input", level="caution")]
    verdict = voltage_verdict(cold_v, max_v=limit_v)
    if verdict == "over":
        text = (
            f"DANGER OF HIGH VOLTAGE: {reaches}, above the controller's {limit_v:.0f} V. Do not connect it so. {decide}"
        )
        return [Notice(text=text, field="controller.max_input", level="danger")]
    if verdict == "close":
        text = f"Close to the limit: {reaches}; the controller stands {limit_v:.0f} V. {decide}"
        return [Notice(text=text, field="controller.max_input", level="caution")]
    limit_c = air_at_voltage_c(array, limit_v)
    if lacks_record_low(given, limit_c):
        text = (
            f"Coldest air on record here is not given: below {show_both(limit_c, 'temperature', digits=2)} the array's "
            f"open-circuit voltage is above the controller's {limit_v:.0f} V. Give it. {decide}"
        )
        return [Notice(text=text, field="site.design_low", level="caution")]
    return []


def _window_notices(job: Job, power: ArrayPower) -> list[Notice]:
    """A controller whose voltages the array never reaches."""
    if power.input_w.any() or not power.array_w.any():
        return []
    array, control = job.array, job.controller
    text = (
        f"The pump never starts: the controller works the array {_window_words(control)}, and a string of "
        f"{array.in_series} modules gives {array.in_series * array.vmp_v:.0f} V at its best point by the label "
        f"({array.in_series * array.voc_v:.0f} V open)."
    )
    return [Notice(text=text, field="array.in_series", level="danger")]


def _array_notices(job: Job, scene: Scene) -> list[Notice]:
    array, notices = job.array, []
    if array.laid_out.assumed and job.trees:
        out = array.laid_out
        text = (
            f"How the modules lie is assumed: {out.rows} × {out.columns} of {out.module_height_m:.2f} by "
            f"{out.module_width_m:.2f} m. Measure them for the shade that crosses them (array.layout)."
        )
        notices.append(Notice(text=text, field="array.layout"))
    if array.module_class:
        text = f"The label of the modules is the generic one of class {array.module_class}: invented round values."
        notices.append(Notice(text=text, field="array.module_class", level="caution"))
    if array.soiling_per_day is not None and scene.weather.rain_mm_by_day is None:
        text = f"The weather has no rain: dirt is taken as {100 * array.soiling:g} % all year, not as it settles."
        notices.append(Notice(text=text, field="array.soiling_per_day", level="caution"))
    return notices


def _model_notices(job: Job, given: Generation) -> list[Notice]:
    notices = _lost_notices(job, given.model) if given.power.input_w.any() else []
    if given.model.diode.relaxed:
        text = "No module has all the figures on this label; the nearest of the same power was used. Read it again."
        notices.append(Notice(text=text, field="array.vmp", level="caution"))
    return notices


def _lost_notices(job: Job, model: ArrayModel) -> list[Notice]:
    """What wire and controller each take of the array in full sun: a thicker wire mends no window."""
    full, given = (float(table.power_per_light[FULL_SUN_PLACE]) for table in (model.module, model.at_controller))
    if 1 - given / full <= _NOTABLE_LOSS:
        return []
    notices = []
    behind_wire = module_table(model.diode, FarEnd(wire_ohm=module_end(job).wire_ohm))
    arrives = float(behind_wire.power_per_light[FULL_SUN_PLACE])
    if (lost := 1 - arrives / full) > _NOTABLE_LOSS:
        text = f"In full sun {100 * lost:.0f} % of the array's power is lost in the wire."
        notices.append(Notice(text=text, field="wire.gauge", level="caution"))
    if (lost := 1 - given / arrives) > _NOTABLE_LOSS:
        text = f"In full sun the controller leaves {100 * lost:.0f} % of the array's power: it works the array "
        text += f"{_window_words(job.controller)}. Other modules in series or in parallel may suit it better."
        notices.append(Notice(text=text, field="controller.track_high", level="caution"))
    return notices


def _window_words(control: Controller) -> str:
    top = f" to {control.highest_v:.0f}" if control.highest_v is not None else ""
    most = control.max_input_current_a
    return f"from {control.lowest_v:.0f}{top} V" + ("" if most is None else f", with no more than {most:g} A")


def _clock_notices(job: Job, scene: Scene) -> list[Notice]:
    given, used, zone = job.site.utc_offset_h, scene.weather.utc_offset_h, job.site.timezone
    notices = []
    if given is not None and given != used:
        text = (
            f"The weather's clock, {offset_words(used)}, is used; site.utc_offset says {given:+g} h. Mend it, or the "
            "offset in the weather file, whichever is wrong."
        )
        notices.append(Notice(text=text, field="site.utc_offset", level="caution"))
    if zone:
        shown = (scene.weather.times[0].tz_convert(zone).utcoffset() or dt.timedelta()).total_seconds() / 3600
        if abs(shown - used) > _CLOCK_GAP_H:
            text = (
                f"Clock times are told in {zone}, {shown - used:+g} h from the site's standard time. Is it the site's?"
            )
            notices.append(Notice(text=text, field="site.timezone", level="caution"))
    return notices
