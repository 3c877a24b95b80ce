"""What the water side of a result must say: pumps that cannot lift, wells that run short, pipes too narrow or weak."""

from __future__ import annotations

import calendar
import math
from dataclasses import replace

import numpy as np

from trackersim.constants import GRAVITY_M_S2
from trackersim.errors import Notice
from trackersim.job.model import Job
from trackersim.job.pipework import Pipe
from trackersim.job.water import Store
from trackersim.simulation.electrics import controller_input_w
from trackersim.simulation.pressure_notices import pressure_notices
from trackersim.simulation.pump_station import PumpStation
from trackersim.simulation.pumping import WaterSide
from trackersim.simulation.sheet_notices import sheet_notices
from trackersim.units import show_both
from trackersim.water.pipes import (
    darcy_weisbach_head_m,
    hazen_williams_head_m,
    velocity_m_s,
    water_viscosity_m2_s,
)
from trackersim.water.pump import WATER_DENSITY_KG_M3
from trackersim.water.unit_state import STATES, UnitState
from trackersim.weather.load import height_m

# More cut-outs a day than this mean that the controller starts a pump that cannot lift yet.
_CUTOUTS_A_DAY = 2.0
# So near to what lifts water the start power is set well: the sun rises past the rest in a few minutes.
_NEAR_START = 0.95
_FAST_M_S = 1.52  # 5 ft/s: common practice, no source
_OPINIONS_APART = 0.10
_MONTHS = 12
_MATTERS_M, _MATTERS = 0.1, 0.01  # friction by two formulas so far apart, and by this share of the lift, is said
_NEAR_AIR_M = 1.0
# A surface pump needs about this much pressure left at its inlet (common practice, no source).
_INLET_M = 3.0


def water_notices(job: Job, station: PumpStation, water: WaterSide) -> list[Notice]:
    """Notices about pumps, pipes, wells and stores.

    Parameters
    ----------
    job : Job
        The job simulated.
    station : PumpStation
        Its pumps and pipes.
    water : WaterSide
        What they lifted.

    Returns
    -------
    list[Notice]
        Dangers first.
    """
    notices = [*_lift_notices(job, station), *_operation_notices(job, station, water)]
    for number, unit in enumerate(job.units):
        place = f"unit.{number}." if job.unit else ""
        flow = station.full_flow_m3_s[number]
        name = f"{job.unit_names[number]}: " if job.unit else ""
        own = f" in the own pipe of {job.unit_names[number]}" if job.unit else ""
        of_unit = [
            *(replace(notice, text=name + notice.text) for notice in sheet_notices(unit.pump, station, number)),
            *_pipe_notices(unit, unit.pipes, flow, own),
            *_well_notices(unit, flow),
            *_sump_notices(unit),
            *_water_quality_notices(unit),
        ]
        notices += [replace(notice, field=place + notice.field) for notice in of_unit]
    notices += _store_notices(job.store)
    if job.main:
        of_main = _pipe_notices(job, job.main.pipes, float(sum(station.full_flow_m3_s)), " in the main")
        notices += [replace(notice, field=f"main.{notice.field}") for notice in of_main]
    notices += _drawdown_notices(job)
    notices += pressure_notices(job, station)
    if job.unit and len(job.unit) > 1:
        text = "A check valve at every pump is assumed: none of them runs backward when the others push harder."
        notices.append(Notice(text=text, field="unit"))
    if not water.settled:
        text = "In some minutes it could not be settled which of the pumps run: those minutes are a guess."
        notices.append(Notice(text=text, field="unit", level="caution"))
    return notices


def _sump_notices(job: Job) -> list[Notice]:
    source = job.source
    if source.kind != "sump":
        return []
    notices = []
    if not source.inflow_m3_per_day and not any(source.inflow_by_month_m3_per_day or ()):
        text = "Nothing runs into the sump (its inflow is 0): the pump lifts what stands in it once, and no more."
        notices.append(Notice(text=text, field="source.inflow", level="caution"))
    if source.specific_capacity_m3_s_per_m is not None:
        text = "A specific capacity is given, but a sump is not drawn down like a well: it is left out."
        notices.append(Notice(text=text, field="source.specific_capacity"))
    return notices


def _drawdown_notices(job: Job) -> list[Notice]:
    """Wells whose level is taken to stay, told once for all; the job has no kind for a pond, whose level does stay."""
    places = [f"unit.{number}." for number in range(len(job.unit))] or [""]
    untold = [
        place
        for place, unit in zip(places, job.units, strict=True)
        if unit.source.kind == "well" and unit.source.yield_m3_s_per_m is None
    ]
    if not untold:
        return []
    text = (
        "No drawdown is counted where the specific capacity is not given (source.specific_capacity). A pond or a "
        "stream hardly has any; from a well less water comes than told here. Dip the well with the pump at rest and "
        "again while it runs; the flow divided by the fall is the specific capacity."
    )
    return [Notice(text=text, field=f"{untold[0]}source.specific_capacity", level="caution")]


def _lift_notices(job: Job, station: PumpStation) -> list[Notice]:
    notices = []
    for number, name in enumerate(job.unit_names):
        field, of = (f"unit.{number}.source.lift", f" of {name}") if job.unit else ("source.lift", "")
        if dry := station.months_dry(number):
            lift_m = max(job.units[number].source.lifts_m[month - 1] for month in dry) + job.main_lift_m
            why = "its shut-off head at full speed does not exceed the lift"
            if station.shut_off_m[number] > lift_m:
                why = "the rating of its controller does not bring it to the speed that lifts"
            text = f"The pump{of} {_lifts_none(dry)}: {why}."
            notices.append(Notice(text=text, field=field, level="danger"))
        if shut := station.months_held_shut(number):
            text = (
                f"While all pumps are at full power that{of} {_lifts_none(shut)}: the others press harder on the main "
                "than it can. It lifts only while they stand or lack light."
            )
            notices.append(Notice(text=text, field=field, level="caution"))
    if station.yield_limited and sum(station.full_flow_m3_s) > 0:
        text = (
            "The well's yield, not the pump, sets the largest flow. These figures take it that a level control holds "
            "the pump there; without one it would draw air beyond max_drawdown."
        )
        notices.append(Notice(text=text, field="source.max_drawdown", level="caution"))
    if station.assumed:
        text = "The pump's curve is made from its best point alone; a sheet, or a bucket and a gauge, would be surer."
        notices.append(Notice(text=text, field="pump.rated_flow", level="caution"))
    return notices


def _lifts_none(months: tuple[int, ...]) -> str:
    if len(months) == _MONTHS:
        return "never lifts water here"
    return f"lifts no water in {', '.join(calendar.month_name[month] for month in months)}"


def _operation_notices(job: Job, station: PumpStation, water: WaterSide) -> list[Notice]:
    """Starts on too little power, pump by pump: one that the others hold shut cuts out too, and is no such case."""
    notices = []
    for number, unit in enumerate(job.units):
        control = unit.controller
        runs, waits = (water.state[number] == STATES.index(kind) for kind in (UnitState.RUNNING, UnitState.CUT_OUT))
        each_day = float((runs[:, :-1] & waits[:, 1:]).sum(axis=1).mean())
        if each_day <= _CUTOUTS_A_DAY:
            continue
        needed_w = start_that_lifts_w(unit, station, number)
        if control.start_w >= _NEAR_START * needed_w:
            continue
        place, of = (f"unit.{number}.", f" of {job.unit_names[number]}") if job.unit else ("", "")
        text = (
            f"The pump{of} starts and cuts out more than {_CUTOUTS_A_DAY:.0f} times a day without lifting: the start "
            f"power of {control.start_w:.0f} W is below what lifts water here. Raised to about "
            f"{in_tens_w(needed_w)} W it spares pump and controller those starts; what it does to the water "
            "stands among the options."
        )
        notices.append(Notice(text=text, field=f"{place}controller.start", level="caution"))
    return notices


def start_that_lifts_w(unit: Job, station: PumpStation, number: int) -> float:
    """Array power from which a unit by itself lifts more than its cut-out asks for, against the hardest lift.

    Parameters
    ----------
    unit : Job
        Its pump's cut-out, its wires and its controller are read.
    station : PumpStation
        The pumps of the job that it is a unit of.
    number : int
        Its place among them, from 0.

    Returns
    -------
    float
        Power [W]; 0 if none lifts that much.
    """
    lifting_w = station.lifting_power_w(number, unit.pump.cutout_flow_m3_s)
    return 0.0 if lifting_w is None else float(controller_input_w(unit, np.array([lifting_w]))[0])


def in_tens_w(power_w: float) -> int:
    """A power as it is set at a controller, in tens of watts.

    Parameters
    ----------
    power_w : float
        What is needed [W].

    Returns
    -------
    int
        The next ten above [W].
    """
    return math.ceil(power_w / 10) * 10


def _store_notices(store: Store) -> list[Notice]:
    if store.evaporation_by_month_m is None or store.capacity_m3 is not None:
        return []
    text = (
        "The pond's evaporation is left out, because what the pond holds is not given (store.capacity): all that is "
        "lifted counts as water gained."
    )
    return [Notice(text=text, field="store.evaporation_by_month", level="caution")]


def _pipe_notices(job: Job, pipes: tuple[Pipe, ...], flow_m3_s: float, where: str) -> list[Notice]:
    """Water too fast, and the two friction formulas disagreeing, at full power's flow; `where`, if there are others."""
    notices = []
    fastest = max((float(velocity_m_s(flow_m3_s, bore_m=pipe.inside_m)) for pipe in pipes), default=0.0)
    if fastest > _FAST_M_S:
        text = (
            f"At full flow the water{where} runs at {show_both(fastest, 'velocity')} where the pipe is narrowest: "
            "above 5 ft/s (1.5 m/s) friction and water hammer grow."
        )
        notices.append(Notice(text=text, field="pipes", level="caution"))
    one, other = friction_opinions_m(pipes, flow_m3_s=flow_m3_s, water_c=job.source.temperature_c)
    matters_m = max(_MATTERS_M, _MATTERS * (job.source.highest_lift_m + job.main_lift_m))
    if abs(one - other) > max(matters_m, _OPINIONS_APART * other):
        text = (
            f"Friction{where} at full flow is {show_both(one, 'length')} by Hazen–Williams (used) and "
            f"{show_both(other, 'length')} by Darcy–Weisbach with water of "
            f"{show_both(job.source.temperature_c, 'temperature')}: more than 10 % apart. Check material, age "
            "and c_value."
        )
        notices.append(Notice(text=text, field="pipes", level="caution"))
    return notices


def friction_opinions_m(pipes: tuple[Pipe, ...], *, flow_m3_s: float, water_c: float) -> tuple[float, float]:
    """Friction in pipes without their fittings, by two formulas.

    Parameters
    ----------
    pipes : tuple[Pipe, ...]
        Pipes that the flow passes one after the other.
    flow_m3_s : float
        Flow [m³/s].
    water_c : float
        Temperature of the water [°C], 0…60.

    Returns
    -------
    tuple[float, float]
        Friction [m] by Hazen–Williams, and by Darcy–Weisbach as the second opinion.
    """
    viscosity = float(water_viscosity_m2_s(water_c))
    one = other = 0.0
    for pipe in pipes:
        size = {"bore_m": pipe.inside_m, "length_m": pipe.length_m}
        one += float(hazen_williams_head_m(flow_m3_s, c_value=pipe.c_now, **size))
        other += float(
            darcy_weisbach_head_m(
                flow_m3_s,
                roughness_m=min(pipe.roughness_m, pipe.inside_m / 20),
                kinematic_viscosity_m2_s=viscosity,
                **size,
            )
        )
    return one, other


def _well_notices(unit: Job, flow_m3_s: float) -> list[Notice]:
    source, notices = unit.source, []
    capacity, limit = source.yield_m3_s_per_m, source.max_drawdown_m
    if capacity is not None and limit is not None and source.kind == "well":
        left = limit - flow_m3_s / capacity
        if 0 < left < _NEAR_AIR_M and flow_m3_s > 0:
            water = show_both(left, "length")
            text = f"At full flow only {water} of water stand above the pump: it may draw air in a dry spell."
            notices.append(Notice(text=text, field="source.max_drawdown", level="caution"))
    if source.suction_m > 0:
        # Air pressure by the standard atmosphere, less the water's vapour pressure (FAO 56, equation 11), as metres of
        # water.
        air_pa = 101_325 * (1 - 2.25577e-5 * height_m(unit)) ** 5.25588
        vapour_pa = 610.8 * math.exp(17.27 * source.temperature_c / (source.temperature_c + 237.3))
        left = (air_pa - vapour_pa) / (WATER_DENSITY_KG_M3 * GRAVITY_M_S2) - source.suction_m
        if left < _INLET_M:
            text = (
                f"A pump {show_both(source.suction_m, 'length')} above its water at this height above the sea has "
                f"{show_both(left, 'length')} of pressure left at its inlet: it will cavitate or lose its prime. Set "
                "it lower."
            )
            notices.append(Notice(text=text, field="source.suction", level="caution"))
    return notices


def _water_quality_notices(unit: Job) -> list[Notice]:
    if unit.source.quality == "clean":
        return []
    wear = {
        "centrifugal": "A centrifugal pump passes some sand but loses head as its stages wear: enter head_lost.",
        "helical": "A helical pump's rubber stator wears fast in sand and must not run dry: enter flow_lost.",
    }[unit.pump.kind]
    text = f"The water is {unit.source.quality}. {wear}"
    return [Notice(text=text, field="source.quality", level="caution")]
