"""Least ratings against worked examples that others print, and the tables at their edges.

The 9 A module: 9.0 A × 1.25 = 11.25 A and × 1.25 again 14.06 A (a worked example on oregonlrt.com, NEC 690.8). Standard
fuses and the 60 °C column of copper: 240.6(A) and 310.16 as printed (ask-the-electrician.com, voltagelab.com).
"""

from __future__ import annotations

import pytest

from trackersim.power.ratings import (
    COPPER_A,
    largest_current_a,
    least_rating_a,
    standard_fuse_a,
    strings_fused,
    thinnest_gauge,
)


def test_the_nine_ampere_module() -> None:
    assert largest_current_a(9.0, in_parallel=1) == pytest.approx(11.25)
    assert least_rating_a(9.0, in_parallel=1) == pytest.approx(14.0625)
    assert standard_fuse_a(14.0625) == 15
    assert thinnest_gauge(14.0625) == "14"


@pytest.mark.parametrize(("least", "fuse"), [(15.0, 15), (15.01, 20), (52, 60), (101, 110), (601, 700), (6001, None)])
def test_the_next_standard_fuse(least: float, fuse: int | None) -> None:
    assert standard_fuse_a(least) == fuse


@pytest.mark.parametrize(("gauge", "printed"), [("8", 40), ("6", 55), ("4", 70), ("1/0", 125), ("4/0", 195)])
def test_copper_at_sixty_degrees(gauge: str, printed: int) -> None:
    assert COPPER_A[gauge] == printed
    assert thinnest_gauge(printed) == gauge
    assert thinnest_gauge(printed + 0.1) != gauge


@pytest.mark.parametrize(("gauge", "fuse"), [("14", 15), ("12", 20), ("10", 30)])
def test_thin_copper_bears_no_more_than_its_largest_fuse(gauge: str, fuse: int) -> None:
    """240.4(D); the 60 °C column alone gives 20, 25 and 30 A in older printings, 15, 20 and 30 A in newer ones."""
    assert COPPER_A[gauge] == fuse


def test_two_strings_need_no_fuse_of_their_own_and_three_do() -> None:
    assert [strings_fused(count) for count in (1, 2, 3)] == [False, False, True]
    assert thinnest_gauge(500) is None
