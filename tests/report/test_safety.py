"""Racks that may swing are told of on every site that has one, or may get one, and on no other."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from trackersim import Job, load_job
from trackersim.job.files import demo_text, parse_job
from trackersim.report import day_ahead, flip_check, flow_check, morning, options
from trackersim.report.safety import LOCKED, cautions, may_swing

SPRINGS = Path(__file__).parents[1] / "sites" / "two_springs.toml"
FIXED = "rack.kind=fixed"
OTHER_RACK = """
[[option]]
name = "a passive rack"
set = {"rack.kind" = "delayed"}
"""
DRIVEN = """
[[option]]
ready = "driven-tracker"
cost = 4000
"""
TOLD: dict[str, Callable[[Job], str]] = {
    "flip": flip_check.safety_words,
    "bucket": flow_check.safety_words,
    "morning": morning.safety_words,
    "tomorrow": day_ahead.safety_words,
    "card": day_ahead.card_safety_words,
    "options": options.safety_words,
    "sheet": lambda job: " ".join(cautions(job)),
}


def test_a_rack_that_is_fixed_by_intent_is_the_only_one_that_may_not_swing() -> None:
    assert not may_swing(load_job("demo", [FIXED]))
    assert not may_swing(load_job("demo", [FIXED, "rack.fixed_tilt=30", "rack.fixed_azimuth=150"]))
    for passive in ("delayed", "thermal", "ideal"):
        assert may_swing(load_job("demo", [f"rack.kind={passive}"]))
    assert may_swing(load_job("demo", ["rack.kind=thermal", "rack.thermal.stuck=true"]))
    # Stuck at its stop, it may come free.
    assert may_swing(load_job("demo", [FIXED, "rack.fixed_rotation=50"]))


def test_one_rack_of_several_is_enough() -> None:
    still = [f"unit.{number}.rack.kind=fixed" for number in (0, 1)]
    assert may_swing(load_job(SPRINGS, still[:1]))
    assert may_swing(load_job(SPRINGS, still[1:]))
    assert not may_swing(load_job(SPRINGS, still))


def test_a_rack_that_an_option_proposes_counts_and_a_drive_does_not() -> None:
    fixed = demo_text().replace('kind = "delayed"', 'kind = "fixed"')
    assert not may_swing(parse_job(fixed))
    assert may_swing(parse_job(fixed + OTHER_RACK))
    assert not may_swing(parse_job(fixed + DRIVEN))


@pytest.mark.parametrize("words", TOLD.values(), ids=TOLD)
def test_no_answer_warns_of_a_swing_where_no_rack_swings(words: Callable[[Job], str]) -> None:
    """Once wrong: whoever had a fixed rack was told that it swings, and of canisters that it does not have."""
    swinging, fixed = words(load_job("demo")), words(load_job("demo", [FIXED]))
    assert "swing" in swinging or "canister" in swinging
    # That a lock may give is all that is left of it: a locked passive rack is a fixed one in its job, too.
    assert "swing" not in fixed.replace(LOCKED, "")
    assert "canister" not in fixed.replace(LOCKED, "")
    # All the rest is told of both.
    for told in (swinging, fixed):
        assert "DC" in told or "modules in light are live" in told
        assert "codes" in told
    assert "  " not in fixed


@pytest.mark.parametrize("where", ["morning", "card", "sheet"])
def test_where_there_is_room_for_it_a_locked_rack_is_told_of(where: str) -> None:
    assert LOCKED in TOLD[where](load_job("demo", [FIXED]))
    assert LOCKED not in TOLD[where](load_job("demo"))
