"""Figures as they are shown, in either system of units."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trackersim.quantity_writing import in_both
from trackersim.units import held_value, own_first, rounded, show, show_both, shown_value, unit_label

KINDS = [
    "length", "bore", "volume", "volume_per_day", "flow", "speed", "velocity", "temperature", "power", "energy",
    "light_sum", "light", "angle",
]  # fmt: skip


@given(value=st.floats(-1e9, 1e9), kind=st.sampled_from(KINDS), system=st.sampled_from(["us", "si"]))
def test_shown_values_come_back(value: float, kind: str, system: str) -> None:
    assert held_value(shown_value(value, kind, system), kind, system) == pytest.approx(value, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize(
    ("value", "kind", "system", "text"),
    [
        (16.764, "length", "us", "55 ft"),
        (16.764, "length", "si", "16.8 m"),
        (10 * 3.785411784e-3 / 60, "flow", "us", "10 gpm"),
        (1e-3, "flow", "si", "60 L/min"),
        (5.0, "temperature", "us", "41 °F"),
        (-20.0, "temperature", "si", "−20 °C"),
        (9.387, "volume_per_day", "us", "2,480 gal/day"),
        (0.03175, "bore", "us", "1.25 in"),
        (12.34, "angle", "us", "12.3°"),
        (0.0, "power", "si", "0 W"),
    ],
)
def test_values_as_printed(value: float, kind: str, system: str, text: str) -> None:
    printed = show(value, kind, system).replace("-", "−")
    number, label = text.rstrip("°").partition(" ")[::2]
    assert printed.startswith(number)
    assert printed.endswith(label or "°")
    assert unit_label(kind, system) in printed


@given(number=st.floats(-1e12, 1e12).filter(lambda number: abs(number) > 1e-9))
def test_rounding_keeps_three_digits(number: float) -> None:
    assert float(rounded(number).replace(",", "")) == pytest.approx(number, rel=5.1e-3)


def test_words_for_every_reader_begin_with_us_units() -> None:
    assert show_both(-3.2, "temperature", digits=2) == "26 °F (-3.2 °C)"
    assert show_both(3.0, "difference", digits=1) == "5 °F (3 K)"


@pytest.mark.parametrize("kind", ["length", "bore", "flow", "speed", "velocity", "temperature", "pressure", "surface"])
def test_whoever_chose_metric_units_reads_these_first(kind: str) -> None:
    """Whatever the figure's sign and size, in the midst of words and beside others."""
    for value in (-12.3, 0.0456, 1234.5):
        text = f"At ±{show_both(value, kind)} to {in_both(2000, 'm')}; 3 (of 4) m."
        us, si = show(value, kind, "us"), show(value, kind, "si")
        assert own_first(text, "us") == text
        assert own_first(text, "si") == f"At ±{si} ({us}) to 2000 m (6,562 ft); 3 (of 4) m.".replace("2000", "2,000")
