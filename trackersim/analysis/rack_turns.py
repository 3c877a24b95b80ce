"""The morning turn of the racks that wait for the sun, on a day to come, and when a call is due about one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trackersim.analysis.flip_check import Span, spans_of
from trackersim.analysis.sampled_mornings import Run
from trackersim.analysis.sampled_turns import turns_of
from trackersim.job.model import Job
from trackersim.job.rack import Rack
from trackersim.simulation.orientation import orientation_of

WAIT_MIN = 30  # what a call may wait beyond the latest expected time (assumption)
CALL_MORNINGS = 3  # on which a rack that turns on most mornings does not, one after another: worth a call (assumption)


@dataclass(frozen=True, kw_only=True)
class RackTurn:
    """The morning turn of one rack that waits for the sun, or of the equal racks of several units.

    In `never` of `runs` it stays west; `last` is late among those in which it turns. `noon` is the first minute with
    the sun west of the axis: from then on a sound rack faces west as well.
    """

    units: tuple[int, ...]
    flip: Span
    arrival: Span
    never: int
    runs: int
    last: int | None
    noon: int

    @property
    def call(self) -> int | None:
        """When to call if it still faces west; None where a sound one stays west on more than a rare morning."""
        return self._waited(self.flip.late)

    @property
    def call_if_repeated(self) -> int | None:
        """When to call if it still faces west on `CALL_MORNINGS` mornings, where a sound one stays west on some."""
        stays = self.flip.late is None and 2 * self.never < self.runs
        return self._waited(self.last) if stays else None

    def _waited(self, late: int | None) -> int | None:
        """Some time after the late turn and not after noon; None for a turn as late as noon."""
        return None if late is None or late >= self.noon else min(late + WAIT_MIN, self.noon)


def racks_alike(job: Job) -> list[tuple[int, ...]]:
    """Units in groups by their rack, those alone that wait for the morning sun."""
    groups: dict[Rack, list[int]] = {}
    for number, unit in enumerate(job.units):
        if unit.rack.waits:
            groups.setdefault(unit.rack, []).append(number)
    return [tuple(units) for units in groups.values()]


def rack_turn(job: Job, units: tuple[int, ...], runs: Sequence[Run]) -> RackTurn:
    """The turn of the equal racks of `units` in the runs of the first of them."""
    unit, scene = job.units[units[0]], runs[0].scene
    turns = turns_of(unit, runs)
    # Beyond 90° it stands behind the axis: past midnight the sun of a polar day is west there.
    west_deg = np.where(scene.sun.is_up, orientation_of(unit, scene).sun_rotation_deg, 0.0)
    west_deg = scene.by_day(west_deg)[-1]
    in_west = (west_deg > 0) & (west_deg < 90.0)
    return RackTurn(
        units=units,
        **spans_of(turns, runs[0]),
        never=turns.never,
        runs=len(turns.flip),
        last=turns.last,
        noon=int(np.argmax(in_west)),
    )
