"""Least ratings against worked examples that others print, and the tables at their edges.

The 9 A module: 9.0 A × 1.25 = 11.25 A and × 1.25 again 14.06 A (a worked example on oregonlrt.com, NEC 690.8). Standard
fuses and the 60 °C column of copper: 240.6(A) and 310.16 as printed (ask-the-electrician.com, voltagelab.com); of
aluminium: 310.16 of 2023 as printed (wiresizes.com, intrysys.com).
"""

from __future__ import annotations

import pytest

from trackersim.job.gauges import AWG_AREA_MM2
from trackersim.power.ratings import (
    BORNE_A,
    bears_current,
    largest_current_a,
    least_rating_a,
    standard_fuse_a,
    strings_fused,
    thinnest_gauge,
)
from trackersim.power.wire import Material


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
    assert BORNE_A["copper"][gauge] == printed
    assert thinnest_gauge(printed) == gauge
    assert thinnest_gauge(printed + 0.1) != gauge


@pytest.mark.parametrize(("gauge", "fuse"), [("14", 15), ("12", 20), ("10", 30)])
def test_thin_copper_bears_no_more_than_its_largest_fuse(gauge: str, fuse: int) -> None:
    """240.4(D); the 60 °C column alone gives 20, 25 and 30 A in older printings, 15, 20 and 30 A in newer ones."""
    assert BORNE_A["copper"][gauge] == fuse


def test_two_strings_need_no_fuse_of_their_own_and_three_do() -> None:
    assert [strings_fused(count) for count in (1, 2, 3)] == [False, False, True]
    assert thinnest_gauge(500) is None


@pytest.mark.parametrize(("gauge", "printed"), [("12", 15), ("10", 25), ("8", 35), ("6", 40), ("2", 75), ("4/0", 150)])
def test_aluminium_at_sixty_degrees(gauge: str, printed: int) -> None:
    assert BORNE_A["aluminium"][gauge] == printed
    assert thinnest_gauge(printed, "aluminium") == gauge
    assert thinnest_gauge(printed + 0.1, "aluminium") != gauge


def test_aluminium_bears_less_than_copper_of_its_gauge() -> None:
    """It has 1.64 times the resistance: as much heat from 1/√1.64 = 0.78 of the current; the table rounds to 5 A."""
    for gauge, ampere in BORNE_A["aluminium"].items():
        assert 0.7 <= ampere / BORNE_A["copper"][gauge] <= 0.9
    for table in BORNE_A.values():
        assert list(table.values()) == sorted(set(table.values()))
        assert [AWG_AREA_MM2[gauge] for gauge in table] == sorted(AWG_AREA_MM2[gauge] for gauge in table)


@pytest.mark.parametrize(
    ("least", "area", "material", "bears"),
    [
        (23.4, 1.5, "copper", False), (15, 2.5, "copper", True), (15.1, 2.5, "copper", False),
        (20, 4, "copper", True), (30, 6, "copper", True), (30, 5.26, "copper", True), (30, 5.1, "copper", False),
        (40, 10, "copper", True), (55, 16, "copper", True), (56, 16, "copper", False), (195, 107, "copper", True),
        (15, 4, "aluminium", True), (25, 6, "aluminium", True), (25.1, 6, "aluminium", False),
        (23.4, 2.08, "aluminium", False),
        # Thinner than the table's thinnest for less than that bears, and thicker than its thickest for more.
        (10, 1.5, "copper", None), (10, 2.08, "aluminium", None), (196, 120, "copper", None),
        (150, 120, "aluminium", True), (196, 107, "copper", False),
    ],
)  # fmt: skip
def test_an_area_counts_as_the_next_gauge(least: float, area: float, material: Material, bears: bool | None) -> None:
    """14, 12, 10, 8 and 6 AWG are 2.08, 3.31, 5.26, 8.37 and 13.3 mm² (ASTM B258), 4/0 is 107 mm²."""
    assert bears_current(least, area_mm2=area, material=material) is bears
