"""Strings, wire and controller: identities and limits. (Printed wire tables are in tests/published/test_wire.py.)"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trackersim.power.array import after_wire_w, array_output, controller_output_w
from trackersim.power.wire import AWG_AREA_MM2, loop_resistance_ohm, resistance_ohm_per_m


def test_strings_add_volts_and_amperes() -> None:
    power, current = array_output(
        module_w=np.array([120.0, 60.0]), module_v=np.array([17.4, 16.8]), in_series=4, in_parallel=2, power_share=1.0
    )
    assert power == pytest.approx([960.0, 480.0])
    assert current == pytest.approx([960 / (4 * 17.4), 480 / (4 * 16.8)])


def test_age_is_taken_from_the_current() -> None:
    power, current = array_output(
        module_w=np.array([120.0]), module_v=np.array([17.4]), in_series=4, in_parallel=2, power_share=0.9
    )
    assert power[0] == pytest.approx(0.9 * 960)
    assert current[0] == pytest.approx(0.9 * 960 / (4 * 17.4))


def test_a_dark_array_carries_no_current() -> None:
    power, current = array_output(
        module_w=np.zeros(2), module_v=np.array([0.0, 17.0]), in_series=1, in_parallel=1, power_share=1.0
    )
    assert power.tolist() == [0.0, 0.0]
    assert current.tolist() == [0.0, 0.0]


def test_wire_takes_the_square_of_the_current() -> None:
    left = after_wire_w(
        power_w=np.array([900.0, 900.0, 1.0]), current_a=np.array([0.0, 10.0, 10.0]), resistance_ohm=0.5
    )
    assert left.tolist() == [900.0, 850.0, 0.0]


def test_more_strings_in_series_lose_less_in_the_wire() -> None:
    lost = []
    for series, parallel in ((1, 8), (4, 2), (8, 1)):
        power, current = array_output(
            module_w=np.array([120.0]), module_v=np.array([17.4]), in_series=series, in_parallel=parallel, power_share=1
        )
        lost.append(float((power - after_wire_w(power_w=power, current_a=current, resistance_ohm=0.2))[0]))
    assert lost[0] > lost[1] > lost[2] > 0
    assert lost[1] == pytest.approx(lost[2] * 4)  # half the volts, four times the loss


def test_controller_uses_some_limits_all_and_never_pays_back() -> None:
    given_w = controller_output_w(
        input_w=np.array([0.0, 5.0, 6.0, 106.0, 5000.0]), efficiency=0.94, own_use_w=6.0, rated_w=900.0
    )
    assert given_w == pytest.approx([0.0, 0.0, 0.0, 94.0, 900.0])


@given(input_w=st.floats(0, 1e5), efficiency=st.floats(0.31, 1), own_use_w=st.floats(0, 500), rated_w=st.floats(1, 1e5))
def test_controller_never_gives_more_than_it_gets(
    input_w: float, efficiency: float, own_use_w: float, rated_w: float
) -> None:
    got = controller_output_w(input_w=np.array([input_w]), efficiency=efficiency, own_use_w=own_use_w, rated_w=rated_w)[
        0
    ]
    assert 0 <= got <= min(input_w, rated_w)


def test_two_wire_drop_of_the_worked_example() -> None:
    # Identity on a printed resistance: 10 AWG 150 ft 8 A → 2.976 V (NEC Chapter 9 Table 8, 1.24 Ω per 1000 ft).
    loop = loop_resistance_ohm(length_m=150 * 0.3048, area_mm2=AWG_AREA_MM2["10"])
    assert 8 * loop == pytest.approx(2.976, rel=0.005)


def test_the_gauge_series_is_the_definition() -> None:
    # Identity, ASTM B258: 36 AWG is 0.005 in, 0000 is 0.46 in; six gauges halve the diameter nearly (92^(6/39)).
    assert AWG_AREA_MM2["4/0"] == pytest.approx(np.pi / 4 * (0.46 * 25.4) ** 2, rel=1e-9)
    assert AWG_AREA_MM2["4"] / AWG_AREA_MM2["10"] == pytest.approx(92 ** (12 / 39), rel=1e-12)
    areas = list(AWG_AREA_MM2.values())
    assert areas == sorted(areas)


def test_resistance_rises_with_heat_and_falls_with_area() -> None:
    cold, hot = (resistance_ohm_per_m(area_mm2=5.26, temperature_c=value) for value in (25.0, 75.0))
    assert hot / cold == pytest.approx(1 / (1 - 0.00323 * 50))
    assert resistance_ohm_per_m(area_mm2=10.52) == pytest.approx(resistance_ohm_per_m(area_mm2=5.26) / 2)
    assert resistance_ohm_per_m(area_mm2=5.26, material="aluminium") > resistance_ohm_per_m(area_mm2=5.26)
