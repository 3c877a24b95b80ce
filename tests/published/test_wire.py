"""Wire against the printed table of NEC Chapter 9. P printed, I identity. Facts for a check, not advice."""

from __future__ import annotations

import math

import pytest

from trackersim.job.gauges import AWG_AREA_MM2
from trackersim.power.wire import resistance_ohm_per_m
from trackersim.quantity_reading import read_quantity

# P: NEC Chapter 9 Table 8, uncoated stranded copper, dc at 75 °C, Ω per 1000 ft.
TABLE_8 = {"14": 3.14, "12": 1.98, "10": 1.24, "8": 0.778, "6": 0.491, "4": 0.308, "3": 0.245, "2": 0.194}


def feet(length: float) -> float:
    return read_quantity(f"{length} ft", "m")


@pytest.mark.parametrize(("gauge", "printed"), TABLE_8.items())
def test_table_8(gauge: str, printed: float) -> None:
    per_1000_ft = resistance_ohm_per_m(area_mm2=AWG_AREA_MM2[gauge]) * feet(1000)
    assert per_1000_ft == pytest.approx(printed, rel=0.005)


@pytest.mark.parametrize("temperature_c", [-20.0, 25.0, 60.0, 90.0])
def test_temperature_correction(temperature_c: float) -> None:
    # P: R₂ = R₁ (1 + 0.00323 (T₂ − 75)), printed under that table for copper.
    hot = resistance_ohm_per_m(area_mm2=5.0)
    ratio = resistance_ohm_per_m(area_mm2=5.0, temperature_c=temperature_c) / hot
    assert ratio == pytest.approx(1 + 0.00323 * (temperature_c - 75), rel=1e-9)


def test_two_wire_drop() -> None:
    # I: 2 · 150 ft · 1.24 Ω/1000 ft · 8 A, with the table's rounding.
    resistance = 2 * feet(150) * resistance_ohm_per_m(area_mm2=AWG_AREA_MM2["10"])
    assert 8 * resistance == pytest.approx(2.976, rel=0.005)


def test_three_phase_drop() -> None:
    # I: √3 · 200 ft · 0.778 Ω/1000 ft · 20 A.
    one_way = feet(200) * resistance_ohm_per_m(area_mm2=AWG_AREA_MM2["8"])
    assert math.sqrt(3) * 20 * one_way == pytest.approx(5.390, rel=0.005)
