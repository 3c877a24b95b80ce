"""Bayes by hand: what a reading says of causes, and of none of them."""

from __future__ import annotations

import math

import numpy as np
import pytest

from trackersim.analysis.fault_odds import (
    HIGH,
    LOW,
    Read,
    Shown,
    broad_evidence,
    evidence,
    finer,
    probabilities,
    size_weights,
)


def shown(*flows: float, volts: float = 60.0, amps: float = 9.0, runs: tuple[object, ...] | None = None) -> Shown:
    many = np.ones(len(flows))
    return Shown(np.array(flows), volts * many, amps * many, 30 * many, 30 * many, runs=runs or (1,) * len(flows))


def read(flow: float, sd: float = 1.0, **others: Read) -> dict[str, Read]:
    return {"flow_m3_s": Read(flow, sd), **others}


def test_two_causes_and_one_reading_by_hand() -> None:
    # One leaves 23, the other 31; 25 was read with sd 2: exp(−½) and exp(−4½) of the same density; odds 1 to 4.
    one, other = (evidence(shown(flow), np.ones(1), read(25.0, 2.0)) for flow in (23.0, 31.0))
    assert one / other == pytest.approx(math.exp(-0.5) / math.exp(-4.5))
    first, second = probabilities([1 * one, 4 * other])
    assert first == pytest.approx(math.exp(4) / (math.exp(4) + 4))
    assert first + second == pytest.approx(1)


def test_the_evidence_of_a_cause_of_any_size_is_a_density() -> None:
    sizes = finer(shown(*np.linspace(10, 40, 7)))
    weights = size_weights(len(sizes.flow_m3_s), small_first=False)
    readings = np.linspace(0, 50, 501)
    total = sum(evidence(sizes, weights, read(float(flow))) for flow in readings) * 0.1
    assert total == pytest.approx(1, abs=1e-3)
    # Inside the span every flow is as likely as any other: one over its width.
    assert evidence(sizes, weights, read(25.0)) == pytest.approx(1 / 30, rel=0.01)


def test_a_second_reading_that_fits_neither_better_changes_nothing_and_one_that_fits_one_decides() -> None:
    runs, stands = shown(23.0, volts=118, amps=9.7), shown(23.0, volts=131, amps=0.0)

    def chance(**others: Read) -> float:
        weighed = [evidence(each, np.ones(1), read(23.0, **others)) for each in (runs, stands)]
        return probabilities(weighed)[0]

    assert chance() == pytest.approx(0.5)
    assert chance(input_v=Read(124.5, 4.0)) == pytest.approx(0.5)
    assert chance(input_v=Read(130.0, 4.0), input_a=Read(0.1, 0.5)) < 0.01
    assert chance(input_v=Read(None, 4.0)) == pytest.approx(0.5)


def test_a_gauge_that_may_show_anything_between_two_heads_tells_those_alike() -> None:
    standing = shown(0.0)._replace(least_head_m=np.array([10.0]))

    def density(head: float) -> float:
        return evidence(standing, np.ones(1), read(0.0, head_m=Read(head, 0.5))) / evidence(
            standing, np.ones(1), read(0.0)
        )

    assert density(15.0) == pytest.approx(1 / 20)
    assert density(25.0) == pytest.approx(1 / 20)
    assert density(30.0) == pytest.approx(1 / 40)
    assert density(34.0) < 1e-9
    assert density(6.0) < 1e-9
    assert sum(density(float(head)) for head in np.linspace(0, 40, 401)) * 0.1 == pytest.approx(1, abs=1e-3)


def test_between_a_size_that_lifts_and_one_that_does_not_nothing_lies() -> None:
    fine = finer(shown(10.0, 8.0, 0.0, runs=(True, True, False)), count=41)
    assert fine.flow_m3_s[0] == 10.0
    assert fine.flow_m3_s[10] == pytest.approx(9.0)
    assert not ((fine.flow_m3_s > 0.01) & (fine.flow_m3_s < 7.9)).any()


def test_small_sizes_are_commoner_where_it_is_said() -> None:
    for count in (1, 2, 50):
        falling, even = (size_weights(count, small_first=first) for first in (True, False))
        assert falling.sum() == pytest.approx(1)
        assert even.sum() == pytest.approx(1)
        assert (np.diff(falling) < 0).all()
    assert size_weights(1000, small_first=True) @ np.linspace(0, 1, 1000) == pytest.approx(1 / 3, rel=0.01)


def test_what_nothing_explains_is_something_else() -> None:
    readings = read(5.0, 0.5)
    far = evidence(shown(23.0), np.ones(1), readings)
    chances = probabilities([far, 0.05 * broad_evidence(readings, {"flow_m3_s": 60.0})])
    assert chances[1] > 0.999


def test_every_prior_is_a_share_of_the_faults() -> None:
    for table in (LOW, HIGH):
        assert all(0 < prior.odds < 1 for prior in table.values())
    assert max(LOW, key=lambda name: LOW[name].odds) == "not running"
