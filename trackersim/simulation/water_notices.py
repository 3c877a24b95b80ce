"""What the water side of a result must say: pumps that cannot lift, wells that run short, pipes too narrow or weak."""

from __future__ import annotations

import math

import numpy as np

from trackersim.constants import GRAVITY_M_S2
from trackersim.errors import Notice, counted
from trackersim.job.model import Job
from trackersim.job.pipework import Pipe
from trackersim.job.pump import Pump
from trackersim.simulation.pump_station import PumpStation, all_pipes
from trackersim.simulation.pumping import WaterSide
from trackersim.units import show_both
from trackersim.water.helical_sheet import worst_miss
from trackersim.water.pipes import (
    darcy_weisbach_head_m,
    hazen_williams_head_m,
    velocity_m_s,
    water_viscosity_m2_s,
)
from trackersim.water.pump import WATER_DENSITY_KG_M3, hydraulic_power_w, pump_curve
from trackersim.weather.load import height_m

# More cut-outs a day than this mean that the controller starts a pump that cannot lift yet.
_CUTOUTS_A_DAY = 2.0
_FAST_M_S = 1.52  # 5 ft/s: common practice, no source
_OPINIONS_APART = 0.10
_SHEET_MISSED = 0.05
_MATTERS_M = 0.3
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
    notices = [*_lift_notices(station), *_operation_notices(job, station, water)]
    for number, unit in enumerate(job.units):
        place = f"unit.{number}." if job.unit else ""
        flow = station.full_flow_m3_s[number]
        notices += _sheet_notices(unit.pump, place)
        notices += _pipe_notices(unit, unit.pipes, flow, place)
        notices += _well_notices(unit, flow, place)
        notices += _sump_notices(unit, place)
        notices += _water_quality_notices(unit, place)
    if job.main:
        notices += _pipe_notices(job, job.main.pipes, float(sum(station.full_flow_m3_s)), "main.")
    notices += _pressure_notices(job, station)
    if job.unit and len(job.unit) > 1:
        text = "A check valve at every pump is assumed: none of them runs backward when the others push harder."
        notices.append(Notice(text=text, field="unit"))
    if not water.settled:
        text = "In some minutes it could not be settled which of the pumps run: those minutes are a guess."
        notices.append(Notice(text=text, field="unit", level="caution"))
    return notices


def _sump_notices(job: Job, place: str) -> list[Notice]:
    source = job.source
    if source.kind != "sump":
        return []
    notices = []
    if not source.inflow_m3_per_day and not any(source.inflow_by_month_m3_per_day or ()):
        text = "Nothing runs into the sump (its inflow is 0): the pump lifts what stands in it once, and no more."
        notices.append(Notice(text=text, field=f"{place}source.inflow", level="caution"))
    if source.specific_capacity_m3_s_per_m is not None:
        text = "A specific capacity is given, but a sump is not drawn down like a well: it is left out."
        notices.append(Notice(text=text, field=f"{place}source.specific_capacity"))
    return notices


def _lift_notices(station: PumpStation) -> list[Notice]:
    notices = []
    if not station.can_lift:
        text = "The pump never lifts water here: its shut-off head at full speed does not exceed the lift."
        notices.append(Notice(text=text, field="source.lift", level="danger"))
    elif station.yield_limited:
        text = "The well's yield, not the pump, sets the largest flow; the pump would draw air beyond max_drawdown."
        notices.append(Notice(text=text, field="source.max_drawdown", level="caution"))
    if station.assumed:
        text = "The pump's curve is made from its best point alone; a sheet, or a bucket and a gauge, would be surer."
        notices.append(Notice(text=text, field="pump.rated_flow", level="caution"))
    return notices


def _sheet_notices(pump: Pump, place: str) -> list[Notice]:
    """A sheet that the laws of its pump cannot follow."""
    if pump.kind == "helical":
        miss = worst_miss(pump)
        if abs(miss.share) <= _SHEET_MISSED:
            return []
        given, modelled = (
            f"{value:.0f} W" if miss.is_power else show_both(value, "flow") for value in (miss.given, miss.modelled)
        )
        text = (
            f"No helical pump follows this sheet: at {show_both(miss.head_m, 'length')} it says {given}, the nearest "
            f"pump with a plausible motor, which is used, has {modelled} ({100 * miss.share:+.0f} %). Flow falls with "
            "head in a straight line, and input rises by more than the water gains: check the sheet."
        )
        field = "curve_power" if miss.is_power else "curve_flow"
        return [Notice(text=text, field=f"{place}pump.{field}", level="caution")]
    curve = pump_curve(pump)
    best = float(np.max(hydraulic_power_w(curve.flow_m3_s, curve.head_m) / curve.shaft_w))
    if best < 1:
        return []
    text = (
        f"With a motor of {100 * pump.motor_efficiency:.0f} % the pump itself would have {100 * best:.0f} % at its "
        "best point, which no pump has: check the sheet, and enter the motor's own motor_efficiency."
    )
    return [Notice(text=text, field=f"{place}pump.motor_efficiency", level="caution")]


def _operation_notices(job: Job, station: PumpStation, water: WaterSide) -> list[Notice]:
    table = station.hardest.alone
    if table is None:
        return []
    each_day = float(water.cutouts.mean())
    enough = table.flow_m3_s > job.pump.cutout_flow_m3_s
    if each_day <= _CUTOUTS_A_DAY or not enough.any():
        return []
    control = job.controller
    needed = float(table.power_w[int(np.argmax(enough))]) / control.efficiency + control.own_use_w
    if needed <= control.start_w:
        return []
    text = (
        f"The pump starts and cuts out more than {_CUTOUTS_A_DAY:.0f} times a day without lifting: the start power of "
        f"{control.start_w:.0f} W is below what lifts water here. Raised to about {math.ceil(needed / 10) * 10} W it "
        "spares pump and controller those starts; what it does to the water stands among the options."
    )
    return [Notice(text=text, field="controller.start", level="caution")]


def _pipe_notices(job: Job, pipes: tuple[Pipe, ...], flow_m3_s: float, place: str) -> list[Notice]:
    """Water too fast, and the two friction formulas disagreeing, at the flow of full power."""
    notices = []
    fastest = max((float(velocity_m_s(flow_m3_s, bore_m=pipe.inside_m)) for pipe in pipes), default=0.0)
    if fastest > _FAST_M_S:
        text = (
            f"At full flow the water runs at {show_both(fastest, 'velocity')} in the narrowest pipe: "
            "above 5 ft/s (1.5 m/s) friction and water hammer grow."
        )
        notices.append(Notice(text=text, field=f"{place}pipes", level="caution"))
    one, other = friction_opinions_m(pipes, flow_m3_s=flow_m3_s, water_c=job.source.temperature_c)
    if max(one, other) > _MATTERS_M and abs(one - other) > _OPINIONS_APART * other:
        text = (
            f"Friction at full flow is {show_both(one, 'length')} by Hazen–Williams (used) and "
            f"{show_both(other, 'length')} by Darcy–Weisbach with water of "
            f"{show_both(job.source.temperature_c, 'temperature')}: more than 10 % apart. Check material, age "
            "and c_value."
        )
        notices.append(Notice(text=text, field=f"{place}pipes", level="caution"))
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


def _well_notices(unit: Job, flow_m3_s: float, place: str) -> list[Notice]:
    source, notices = unit.source, []
    capacity, limit = source.yield_m3_s_per_m, source.max_drawdown_m
    if capacity is not None and limit is not None and source.kind == "well":
        left = limit - flow_m3_s / capacity
        if 0 < left < _NEAR_AIR_M and flow_m3_s > 0:
            water = show_both(left, "length")
            text = f"At full flow only {water} of water stand above the pump: it may draw air in a dry spell."
            notices.append(Notice(text=text, field=f"{place}source.max_drawdown", level="caution"))
    if source.suction_m > 0:
        # Air pressure by the standard atmosphere, less vapour pressure of cool water, as metres of water.
        air_pa = 101_325 * (1 - 2.25577e-5 * height_m(unit)) ** 5.25588
        left = (air_pa - 1_700) / (WATER_DENSITY_KG_M3 * GRAVITY_M_S2) - source.suction_m
        if left < _INLET_M:
            text = (
                f"A pump {show_both(source.suction_m, 'length')} above its water at this height above the sea has "
                f"{show_both(left, 'length')} of pressure left at its inlet: it will cavitate or lose its prime. Set "
                "it lower."
            )
            notices.append(Notice(text=text, field=f"{place}source.suction", level="caution"))
    return notices


def _water_quality_notices(unit: Job, place: str) -> list[Notice]:
    if unit.source.quality == "clean":
        return []
    wear = {
        "centrifugal": "A centrifugal pump passes some sand but loses head as its stages wear: enter head_lost.",
        "helical": "A helical pump's rubber stator wears fast in sand and must not run dry: enter flow_lost.",
    }[unit.pump.kind]
    text = f"The water is {unit.source.quality}. {wear}"
    return [Notice(text=text, field=f"{place}source.quality", level="caution")]


def _pressure_notices(job: Job, station: PumpStation) -> list[Notice]:
    """Pipe that must bear the pump's shut-off head, with a valve closed by mistake."""
    weak = []
    for number, unit in enumerate(job.units):
        shut_kpa = station.shut_off_m[number] * WATER_DENSITY_KG_M3 * GRAVITY_M_S2 / 1000
        for pipe in all_pipes(job, unit):
            if pipe.rating_kpa is not None and pipe.rating_kpa < shut_kpa:
                weak.append((pipe, shut_kpa))
    if not weak:
        return []
    pipe, shut_kpa = min(weak, key=lambda pair: pair[0].rating_kpa or 0.0)
    text = (
        f"DANGER OF BURSTING: with its valve shut the pump reaches {show_both(shut_kpa, 'pressure')}; "
        f"the weakest of {counted(len(weak), 'pipe')} too weak for that bears "
        f"{show_both(pipe.rating_kpa or 0.0, 'pressure')}."
    )
    return [Notice(text=text, field="pipes", level="danger")]
