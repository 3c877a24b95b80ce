"""A thermal rack that flips and then stops short of the sun is told in every answer."""

from __future__ import annotations

import pytest

from trackersim.job.files import demo_text, parse_job, with_overrides
from trackersim.simulation.thermal_notices import thermal_notices


def _told(**changes: float) -> str:
    job = with_overrides(parse_job(demo_text()), {"rack.kind": "thermal"})
    thermal = job.rack.thermal.model_copy(update=changes)
    job = job.model_copy(update={"rack": job.rack.model_copy(update={"thermal": thermal})})
    return " ".join(notice.text for notice in thermal_notices(job, None, has_wind_direction=True))


def test_a_sound_rack_has_no_cliff() -> None:
    assert "does not reach the sun" not in _told()


@pytest.mark.parametrize(
    "changes",
    [{"liquid_kg": 4.2}, {"charge": 0.7}, {"lever_m": 0.84}, {"balance_m": 0.052}, {"moving_mass_kg": 195.0}],
    ids=str,
)
def test_thirty_per_cent_less_hold_or_more_weight_is_told(changes: dict[str, float]) -> None:
    assert "flips and then does not reach the sun" in _told(**changes)
