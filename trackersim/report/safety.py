"""Whether the racks of a job may swing, and the care to take on its site."""

from __future__ import annotations

from trackersim.job.files import option_job
from trackersim.job.model import Job

_DC = (
    "High-voltage DC: open and lock the disconnect, then test, before touching the array, wire or pump; panels in "
    "light are live."
)
_SWINGING = (
    "A passive rack can swing without warning: tie it off before working within its reach.",
    "Refrigerant canisters are under pressure: do not heat, drill or open them; charging is licensed work.",
)
# A passive rack with a lock is a fixed one in its job, too: no field tells them apart.
LOCKED = "A rack that is only locked can swing when its lock gives, and its canisters stay under pressure."
_ANYWHERE = (
    "Wells and tanks are confined spaces; pumps, pipe and modules need a safe lift and a second person.",
    "These figures do not replace local codes or licensed practice.",
)


def may_swing(job: Job) -> bool:
    """Whether a rack of the job, or one that an option of its own proposes, may turn while somebody is near.

    Only one that is fixed by intent may not: a stuck one may come free, an ideal one stands for a rack that turns. The
    ready-made driven tracker does not count: it is not there yet, and has a motor.
    """
    options = [option_job(job, number) for number, option in enumerate(job.option) if not option.ready]
    return any(not unit.rack.stands_by_intent for each in (job, *options) for unit in each.units)


def cautions(job: Job) -> tuple[str, ...]:
    """What may hurt somebody on the job's site."""
    return (_DC, *(_SWINGING if may_swing(job) else (LOCKED,)), *_ANYWHERE)
