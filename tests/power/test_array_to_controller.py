"""Strings, wire and controller: identities and limits. (Printed wire tables are in tests/published/test_wire.py.)"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trackersim.job.array import Array
from trackersim.job.gauges import AWG_AREA_MM2
from trackersim.power.array import controller_output_w, module_share_of_wire_ohm
from trackersim.power.label_fit import fit_label
from trackersim.power.module_table import FarEnd, best_point, module_table
from trackersim.power.wire import resistance_ohm_per_m

LABEL = Array(vmp_v=17.4, imp_a=6.9, voc_v=21.8, isc_a=7.5, isc_per_k=0.0005, voc_per_k=-0.0034, cells=36)


def through_wire(wire_ohm: float, light_w_m2: list[float], cell_c: float = 25.0) -> np.ndarray:
    light = np.array(light_w_m2)
    table = module_table(fit_label(LABEL), FarEnd(wire_ohm=wire_ohm))
    power, _ = best_point(table, absorbed_w_m2=light, cell_c=np.full_like(light, cell_c))
    return power


def test_a_short_wire_takes_the_square_of_the_current() -> None:
    """I²R at the label's current, but for the second order: the best point moves a little to spare the wire."""
    lost = through_wire(0.0, [1000.0]) - through_wire(0.05, [1000.0])
    assert lost[0] == pytest.approx(6.9**2 * 0.05, rel=0.02)


def test_more_sun_never_delivers_less_however_thin_the_wire() -> None:
    light = np.linspace(0, 1500, 151).tolist()
    for wire_ohm in (0.0, 0.3, 2.0, 10.0, 100.0):
        assert (np.diff(through_wire(wire_ohm, light)) >= -1e-6).all(), wire_ohm


def test_a_hopeless_wire_passes_what_ohm_allows() -> None:
    """Limit: with R far above the module's own resistance the most that gets through is Voc²/4R."""
    wire_ohm = 500.0
    assert through_wire(wire_ohm, [1000.0])[0] == pytest.approx(21.8**2 / (4 * wire_ohm), rel=0.01)


def test_modules_share_the_wire_by_strings() -> None:
    """8 modules of P watts: the drop in each module's share of the wire adds up to I²R of the whole current."""
    for series, parallel in ((8, 1), (4, 2), (2, 4)):
        share = module_share_of_wire_ohm(loop_ohm=0.4, in_series=series, in_parallel=parallel)
        assert 8 * 6.9**2 * share == pytest.approx((6.9 * parallel) ** 2 * 0.4)


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
