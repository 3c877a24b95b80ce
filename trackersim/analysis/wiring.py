"""What the wires take and whether array and controller fit each other: volts, percent, and kilowatt-hours a year."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from trackersim.job.electrics import Wire
from trackersim.job.model import Job
from trackersim.power.array import motor_run_loss_w
from trackersim.power.ratings import (
    bears_current,
    largest_current_a,
    least_rating_a,
    standard_fuse_a,
    strings_fused,
    thinnest_gauge,
)
from trackersim.power.voltage import (
    VoltageVerdict,
    air_at_voltage_c,
    cold_open_circuit_v,
    lacks_record_low,
    voltage_verdict,
)
from trackersim.simulation.electrics import (
    conductor_ohm,
    controller_w,
    motor_current_a,
    rated_output_w,
    run_rated_loss_w,
)
from trackersim.simulation.result import Result

# Cells of a rack in full summer sun (assumption): the lowest voltage at which the array is worked.
_HOT_CELL_C = 65.0
REFERENCE_C = 25.0


@dataclass(frozen=True, kw_only=True)
class RunLoss:
    """One run of wire: drop at rated power in volts and as a share of the voltage there, and heat in the result's days.

    Rated power is the array's by its label, aged, on the array's side, and the motor's input on its own.
    """

    name: str
    side: str
    current_a: float
    drop_v: float
    drop_share: float
    lost_kwh: float


@dataclass(frozen=True, kw_only=True)
class Ratings:
    """What must at least be rated for the array of one unit, as `power.ratings` says.

    `largest_a` is 125 % of the short-circuit current of all its strings, `least_a` 125 % of that: conductor and fuse
    between array and controller; `fuse_a` the standard fuse and `gauge` the thinnest copper conductor of that,
    `aluminium_gauge` the thinnest of aluminium.
    `string_a` is the least rating in one string, `string_fuse_a` its standard fuse, None where strings need none of
    their own. The disconnect bears `open_v`, that of the coldest morning, and `least_a`. `bears` are the runs on
    the array's side and whether each bears `least_a`, None where the table does not tell; `motor_runs` those on the
    motor's side, which are not looked at.
    """

    name: str
    isc_a: float
    in_parallel: int
    largest_a: float
    least_a: float
    fuse_a: int | None
    gauge: str | None
    aluminium_gauge: str | None
    string_a: float
    string_fuse_a: int | None
    open_v: float
    bears: tuple[tuple[str, bool | None], ...]
    motor_runs: tuple[str, ...]

    def runs_that(self, bear: bool | None) -> tuple[str, ...]:
        """Runs on the array's side that bear `least_a` (True), do not (False), or of which the table does not tell."""
        return tuple(name for name, found in self.bears if found is bear)

    def summary(self) -> dict[str, Any]:
        """The ratings as plain data in SI units."""
        found = {"bearing": self.runs_that(True), "thin": self.runs_that(False), "unchecked": self.runs_that(None)}
        plain = {name: value for name, value in vars(self).items() if name not in {"bears", "motor_runs"}}
        return plain | {name: list(runs) for name, runs in (found | {"motor_runs": self.motor_runs}).items()}


@dataclass(frozen=True, kw_only=True)
class Wiring:
    """Voltages of the array against the controller, the losses of every run, and what must be rated for what.

    `cold_v` is open-circuit on the coldest morning (`coldest_c`), `verdict` None where the controller's limit is not
    given; `limit_c` is the air at which the array would reach that limit. `on_record` tells that `coldest_c` is the
    record low that the job gives, and not the coldest air in the weather. `cool_v` and `hot_v` are the best-point
    voltage at 25 °C and with cells at 65 °C.
    """

    job: Job
    days: int
    coldest_c: float
    on_record: bool
    cold_v: float
    limit_c: float | None
    verdict: VoltageVerdict | None
    cool_v: float
    hot_v: float
    runs: tuple[RunLoss, ...]
    ratings: tuple[Ratings, ...]
    used_kwh: float

    @property
    def open_question(self) -> bool:
        """Whether a colder morning than the weather has could reach the controller's limit, and no record is given."""
        if self.limit_c is None or self.verdict == "over":
            return False
        return lacks_record_low(self.coldest_c if self.on_record else None, self.limit_c)

    @property
    def lost_kwh(self) -> float:
        """Heat of all runs together over the result's days."""
        return sum(run.lost_kwh for run in self.runs)

    def summary(self) -> dict[str, Any]:
        """The answer as plain data in SI units."""
        return {
            "job": self.job.site.name,
            "days": self.days,
            "coldest_c": self.coldest_c,
            "coldest_is_on_record": self.on_record,
            "cold_open_circuit_v": self.cold_v,
            "limit_reached_at_c": self.limit_c,
            "verdict": self.verdict,
            "best_point_v": {"25 C": self.cool_v, "65 C": self.hot_v},
            "runs": [dict(vars(run)) for run in self.runs],
            "ratings": [each.summary() for each in self.ratings],
            "lost_kwh": self.lost_kwh,
            "used_kwh": self.used_kwh,
        }


def wiring_of(result: Result) -> Wiring:
    """The wires and voltages of a simulated job; of several units, the wires of all and the highest voltage."""
    worst = max(result.job.units, key=lambda unit: _strain(unit, result.coldest_c))
    array, limit_v = worst.array, worst.controller.max_input_v
    cold_v = cold_open_circuit_v(array, result.coldest_c)
    cool_v = array.in_series * array.vmp_v
    # The best point falls by about as many volts per kelvin as open circuit does (common practice, no source).
    hot_v = cool_v + array.in_series * array.voc_v * array.voc_per_k * (_HOT_CELL_C - REFERENCE_C)
    return Wiring(
        job=worst,
        days=result.days,
        coldest_c=result.coldest_c,
        on_record=result.job.site.design_low_c is not None,
        cold_v=cold_v,
        limit_c=None if limit_v is None else air_at_voltage_c(array, limit_v),
        verdict=None if limit_v is None else voltage_verdict(cold_v, max_v=limit_v),
        cool_v=cool_v,
        hot_v=hot_v,
        runs=tuple(
            _run_loss(result, unit, wire, number)
            for unit in range(len(result.job.units))
            for number, wire in enumerate(result.job.units[unit].wire)
        ),
        ratings=tuple(_ratings(result, number) for number in range(len(result.job.units))),
        used_kwh=sum(float(minutes["used_w"].sum()) for minutes in result.unit_minutes) / 60_000,
    )


def _ratings(result: Result, place: int) -> Ratings:
    unit = result.job.units[place]
    array = unit.array
    least_a = least_rating_a(array.isc_a, in_parallel=array.in_parallel)
    string_a = least_rating_a(array.isc_a, in_parallel=1)
    return Ratings(
        name=_unit_name(result, place),
        isc_a=array.isc_a,
        in_parallel=array.in_parallel,
        largest_a=largest_current_a(array.isc_a, in_parallel=array.in_parallel),
        least_a=least_a,
        fuse_a=standard_fuse_a(least_a),
        gauge=thinnest_gauge(least_a),
        aluminium_gauge=thinnest_gauge(least_a, "aluminium"),
        string_a=string_a,
        string_fuse_a=standard_fuse_a(string_a) if strings_fused(array.in_parallel) else None,
        open_v=cold_open_circuit_v(array, result.coldest_c),
        bears=tuple(
            (_run_name(wire, number), bears_current(least_a, area_mm2=wire.conductor_mm2, material=wire.material))
            for number, wire in enumerate(unit.wire)
            if wire.side == "array"
        ),
        motor_runs=tuple(_run_name(wire, number) for number, wire in enumerate(unit.wire) if wire.side == "motor"),
    )


def _run_name(wire: Wire, number: int) -> str:
    return wire.name or f"run {number + 1}"


def _unit_name(result: Result, place: int) -> str:
    """What a unit is called; "" where there is but one."""
    return result.job.unit[place].name or str(place + 1) if result.job.unit else ""


def _strain(unit: Job, coldest_c: float) -> float:
    """Cold open-circuit voltage as a share of the controller's limit, or in volts where none is given."""
    return cold_open_circuit_v(unit.array, coldest_c) / (unit.controller.max_input_v or 1.0)


def _run_loss(result: Result, place: int, wire: Wire, number: int) -> RunLoss:
    job, minutes = result.job.units[place], result.unit_minutes[place]
    running = result.water.running[place].ravel()
    used_w, input_v = minutes["used_w"][running], minutes["input_v"][running]
    ohm = conductor_ohm(wire)
    if wire.side == "array":
        current = job.array.current_a
        drop, of = 2 * ohm * current, job.array.in_series * job.array.vmp_v
        amperes = np.divide(used_w, input_v, out=np.zeros_like(used_w), where=input_v > 0)
        heat = 2 * ohm * amperes**2
    else:
        current = motor_current_a(job, wire)
        drop = (math.sqrt(3) if wire.current == "three-phase" else 2) * ohm * current
        of = job.controller.motor_voltage_v or math.inf
        rated = run_rated_loss_w(job, wire)
        heat = motor_run_loss_w(controller_w(job, used_w), rated_loss_w=rated, rated_w=rated_output_w(job))
    return RunLoss(
        name=(f"{unit}: " if (unit := _unit_name(result, place)) else "") + _run_name(wire, number),
        side=wire.side,
        current_a=current,
        drop_v=drop,
        drop_share=drop / of,
        lost_kwh=float(heat.sum()) / 60_000,
    )
