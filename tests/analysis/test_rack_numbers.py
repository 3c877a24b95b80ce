"""Which of the thermal rack's numbers matter: four clear days, compared with what was worked out apart."""

from __future__ import annotations

import numpy as np
import pytest

from trackersim.analysis import rack_numbers as module
from trackersim.analysis.rack_numbers import Moments, Moved, RackNumbers, rack_numbers, short_of_sun
from trackersim.errors import InputError
from trackersim.job.files import demo_text, parse_job, with_overrides
from trackersim.report.rack_numbers import rack_answer
from trackersim.simulation.runner import Runner
from trackersim.simulation.tracking import track

OPEN = parse_job(demo_text()).model_copy(update={"trees": ()})
FEW = ("shade_plates", "absorptance", "liquid_kg", "balance_m", "plate_angle_deg")


@pytest.fixture(scope="module")
def found() -> RackNumbers:
    """The demo's rack under an open sky, a few of its numbers varied."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(module, "NUMBERS", {name: module.NUMBERS[name] for name in FEW})
        return rack_numbers(OPEN)


@pytest.mark.parametrize(
    ("name", "side", "value"), [("shade_plates", "lower", 0.7), ("dew", "higher", 1.0), ("plates_pass", "higher", 0.1)]
)
def test_a_row_is_what_a_run_of_its_own_gives(found, name, side, value):
    clear = {"weather.file": "", "weather.clear_sky": True, "rack.kind": "thermal", f"rack.thermal.{name}": value}
    job, march = with_overrides(OPEN, clear), found.dates[0]
    morning = track(job, Runner(job, first_day=march, last_day=march).scene()).morning
    moments = getattr(found.moved[name], side)
    # The flip is told between minutes by the rows, and as the minute after by a run.
    assert 0 <= morning.flip[0] - morning.sunrise[0] - moments.flip_min[0] <= 1.05
    assert morning.arrival[0] - morning.sunrise[0] == pytest.approx(moments.arrival_min[0], abs=1)


def test_sky_dew_and_plates_that_pass_light_move_the_flip_as_far_as_told(found):
    """Earlier estimates by the same equations on another rack: 9…11, 14.5 and 4 min later, in March; within half."""
    for name, minutes in (("sky_view_difference", 10.0), ("dew", 14.5), ("plates_pass", 4.0)):
        later = found.moved[name].higher.flip_min[0] - found.usual.flip_min[0]
        assert 0.5 * minutes < later < 1.5 * minutes, name
    lower = found.moved["sky_view_difference"].lower.flip_min[0] - found.usual.flip_min[0]
    assert -20 < lower < -7


def test_numbers_that_let_light_in_move_the_flip_and_the_plate_angle_does_not(found):
    for name in ("shade_plates", "absorptance"):
        assert (found.moved[name].lower.flip_min - found.usual.flip_min > 8).all()
    # Full on the plates: as built they have no more room.
    assert found.moved["shade_plates"].higher is None
    for side in found.moved["plate_angle_deg"]:
        assert np.abs(side.flip_min - found.usual.flip_min).max() < 1.2


def test_less_liquid_flips_sooner_and_then_falls_short_of_the_sun(found):
    lower = found.moved["liquid_kg"].lower
    assert (lower.flip_min < found.usual.flip_min - 5).all()
    assert (lower.arrival_min - found.usual.arrival_min > 60).all()
    assert found.cliff == {("liquid_kg", "lower"): 4, ("balance_m", "higher"): 4}
    # Statics: the liquid holds the rack to atan(m L / M b); 30 % less of it ends 10° short of the stop.
    assert np.degrees(np.arctan(0.7 * 6 * 1.2 / (150 * 0.04))) == pytest.approx(40.0, abs=0.1)


def test_weaker_sun_and_more_heat_loss_are_later(found):
    assert ((found.moved["beam"].lower.flip_min - found.usual.flip_min) > 4).all()
    less, more = found.moved["heat_loss"]
    assert (less.flip_min < found.usual.flip_min).all()
    assert (more.flip_min > found.usual.flip_min).all()


def test_watched_flips_settle_few_mixtures(found):
    assert sum(value > 1 for value in found.singular) == 1
    assert any({"absorptance", "liquid_kg"} <= set(names) for names in found.alike)


def test_the_answer_names_the_cliff_and_its_summary_is_plain(found):
    answer = rack_answer(found)
    words = " ".join(getattr(block, "text", "") for block in answer.blocks)
    assert "does not reach the sun" in words
    assert "liquid, or charge lower" in words
    assert answer.summary["moved"]["shade_plates"]["higher"] is None
    assert "nan" not in str(answer.summary)


def test_a_rack_that_never_arrives_is_short_of_the_sun_and_one_that_never_flips_is_not():
    usual = Moments(np.array([60.0, 60, 60]), np.array([65.0, 65, 65]))
    seen = Moments(np.array([60.0, np.nan, 60]), np.array([np.nan, np.nan, 66]))
    assert short_of_sun(seen, usual) == 1
    assert Moved(seen, None).higher is None


def test_a_stuck_rack_is_refused():
    job = with_overrides(parse_job(demo_text()), {"rack.kind": "thermal", "rack.thermal.stuck": True})
    with pytest.raises(InputError, match="nothing to vary"):
        rack_numbers(job)
