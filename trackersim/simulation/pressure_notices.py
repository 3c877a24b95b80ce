"""What bursts when a valve is shut by mistake: pipes too weak, and helical pumps, which do not give up."""

from __future__ import annotations

from collections.abc import Sequence

from trackersim.constants import GRAVITY_M_S2
from trackersim.errors import Notice
from trackersim.job.model import Job
from trackersim.job.pipework import Pipe
from trackersim.simulation.pump_station import PumpStation
from trackersim.units import show_both
from trackersim.water.helical import HelicalPump, unheld_shut_off_head_m
from trackersim.water.pump import WATER_DENSITY_KG_M3
from trackersim.water.wear import pump_model

# Beyond this head a figure says no more than that nothing holds it.
_NO_LIMIT_M = 2000.0
_OWN = "with its valve shut the pump reaches"


def pressure_notices(job: Job, station: PumpStation) -> list[Notice]:
    """Notices about pressure with a valve shut at full speed.

    Parameters
    ----------
    job : Job
        The whole job.
    station : PumpStation
        Its pumps and pipes.

    Returns
    -------
    list[Notice]
        A danger for pipe that is too weak, a caution for every helical pump.
    """
    shut_m = [_shut_m(unit, held_m) for unit, held_m in zip(job.units, station.shut_off_m, strict=True)]
    return [*_bursting(job, shut_m), *_never_stalling(job, station, shut_m)]


def _shut_m(unit: Job, held_m: float) -> float:
    """Head that a pump reaches against a shut valve; of a helical one without the limit that is assumed."""
    model = pump_model(unit.pump)
    if not isinstance(model, HelicalPump):
        return held_m
    return unheld_shut_off_head_m(model, power_w=unit.controller.rated_w, speed=unit.pump.max_speed)


def _bursting(job: Job, shut_m: Sequence[float]) -> list[Notice]:
    weak: list[tuple[Pipe, float, str]] = []
    for number, unit in enumerate(job.units):
        pushed_m = _pushed_m(job, shut_m, number)
        if pushed_m > shut_m[number]:
            cause = f"with the main shut the other pumps load the pipe of {job.unit_names[number]} with"
            weak += _too_weak(unit.pipes, pushed_m, cause)
        else:
            weak += _too_weak(unit.pipes, shut_m[number], _OWN)
    if job.main:
        weak += _too_weak(job.main.pipes, max(shut_m), _OWN)
    if not weak:
        return []
    pipe, head_m, cause = min(weak, key=lambda each: each[0].rating_kpa or 0.0)
    which = "the pipe" if len(weak) == 1 else f"the weakest of {len(weak)} pipes"
    text = (
        f"DANGER OF BURSTING: {cause} {_pressure_words(head_m)}; {which} too weak for that bears "
        f"{show_both(pipe.rating_kpa or 0.0, 'pressure')}."
    )
    return [Notice(text=text, field="pipes", level="danger")]


def _pushed_m(job: Job, shut_m: Sequence[float], number: int) -> float:
    """Head at the foot of a unit's pipe, against its check valve, that the other pumps make with the main shut."""
    own = job.units[number].source.lifts_m
    return max(
        (
            shut_m[other] - there + here
            for other, unit in enumerate(job.units)
            if other != number
            for there, here in zip(unit.source.lifts_m, own, strict=True)
        ),
        default=0.0,
    )


def _too_weak(pipes: Sequence[Pipe], head_m: float, cause: str) -> list[tuple[Pipe, float, str]]:
    return [(pipe, head_m, cause) for pipe in pipes if pipe.rating_kpa is not None and pipe.rating_kpa < _kpa(head_m)]


def _never_stalling(job: Job, station: PumpStation, shut_m: Sequence[float]) -> list[Notice]:
    notices = []
    for number, unit in enumerate(job.units):
        if unit.pump.kind != "helical":
            continue
        name = f"{job.unit_names[number]}: " if job.unit else ""
        text = name + (
            "RELIEF VALVE: a helical pump does not give up at a shut valve. On the controller's "
            f"{unit.controller.rated_w:.0f} W it would reach {_pressure_words(shut_m[number])} by its own slip; that "
            f"its drive stops it at {_pressure_words(station.shut_off_m[number])} is assumed, and nobody has confirmed "
            "it. It needs a relief valve before the first valve, or a pressure or torque cut-out that is confirmed "
            "(common practice, no source)."
        )
        place = f"unit.{number}." if job.unit else ""
        notices.append(Notice(text=text, field=f"{place}pump.kind", level="caution"))
    return notices


def _pressure_words(head_m: float) -> str:
    return show_both(_kpa(head_m), "pressure") if head_m < _NO_LIMIT_M else "more than any pipe here bears"


def _kpa(head_m: float) -> float:
    return head_m * WATER_DENSITY_KG_M3 * GRAVITY_M_S2 / 1000
