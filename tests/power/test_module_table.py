"""The tabulated module over light and temperature: limits, trends, and pvlib's curve at points off the grid."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pvlib import pvsystem

from trackersim.job.array import Array
from trackersim.power.cell_temperature import cell_temperature_c
from trackersim.power.label_fit import fit_label
from trackersim.power.module_table import FarEnd, ModuleTable, best_point, module_table

# The De Soto label of tests/published/test_module.py.
LABEL = Array(vmp_v=31.0, imp_a=8.71, voc_v=38.3, isc_a=9.43, isc_per_k=0.0006, voc_per_k=-0.0036, cells=60)


@cache
def table() -> ModuleTable:
    return module_table(fit_label(LABEL))


def power(light: float, cell: float) -> float:
    return float(best_point(table(), absorbed_w_m2=np.array([light]), cell_c=np.array([cell]))[0][0])


def test_no_light_no_power() -> None:
    assert power(0.0, 25.0) == 0.0


@pytest.mark.parametrize(("light", "cell"), [(37.0, 3.3), (203.0, 12.0), (555.0, 41.7), (813.0, 58.2), (1204.0, -22.5)])
def test_between_the_grid_it_follows_the_full_curve(light: float, cell: float) -> None:
    # Computed with pvlib: the single-diode curve at exactly these conditions.
    found = fit_label(LABEL)
    curve = pvsystem.calcparams_desoto(
        light,
        cell,
        LABEL.isc_per_k * LABEL.isc_a,
        found.slope_v,
        found.light_a,
        found.dark_a,
        found.shunt_ohm,
        found.series_ohm,
        EgRef=1.121,
        dEgdT=-0.0002677,
    )
    point = pvsystem.singlediode(*curve)
    got, voltage = best_point(table(), absorbed_w_m2=np.array([light]), cell_c=np.array([cell]))
    assert got[0] == pytest.approx(point["p_mp"], rel=2e-3)
    assert voltage[0] == pytest.approx(point["v_mp"], rel=5e-3)


def test_low_light_gives_less_than_its_share_but_not_nothing() -> None:
    # Identity of the model: the voltage falls with the logarithm of the light; 20 % of light gives 90–100 % of 20 %.
    assert 0.90 < power(200.0, 25.0) / (0.2 * power(1000.0, 25.0)) < 1.01
    assert 0.3 < power(20.0, 25.0) / (0.02 * power(1000.0, 25.0)) < 1.0


def test_heat_costs_about_four_tenths_of_a_percent_per_kelvin() -> None:
    # Common range of crystalline silicon, −0.35…−0.55 %/K.
    slope = (power(1000.0, 45.0) / power(1000.0, 25.0) - 1) / 20
    assert -0.0055 < slope < -0.0035


@given(light=st.floats(0, 1600), more=st.floats(0, 300), cell=st.floats(-50, 120))
def test_more_light_is_never_less_power(light: float, more: float, cell: float) -> None:
    assert power(min(light + more, 1600.0), cell) >= power(light, cell) - 1e-9


@given(light=st.floats(0, 3000), cell=st.floats(-120, 200))
def test_any_weather_gives_finite_power_and_voltage(light: float, cell: float) -> None:
    watts, volts = best_point(table(), absorbed_w_m2=np.array([light]), cell_c=np.array([cell]))
    assert np.isfinite(watts).all()
    assert np.isfinite(volts).all()
    assert watts[0] >= 0
    assert volts[0] >= 0


def test_cells_are_as_warm_as_air_in_the_dark_and_cooler_in_wind() -> None:
    light, air = np.array([0.0, 800.0, 800.0]), np.full(3, 15.0)
    cell = cell_temperature_c(
        plane_w_m2=light, air_c=air, wind_m_s=np.array([3.0, 1.0, 8.0]), faiman_u0=25.0, faiman_u1=6.84
    )
    assert cell[0] == 15.0
    assert cell[1] > cell[2] > 15.0


@pytest.mark.parametrize("share", [0.6, 0.9])
def test_a_degraded_module_gives_its_share_of_current_at_the_same_voltages(share: float) -> None:
    """By pvlib's explicit curve, at other light and warmth too; behind its own wire, a share of the power."""
    light, cell = np.array([1000.0, 250.0]), np.array([25.0, 61.0])
    new = fit_label(LABEL)
    volts = np.array([[0.0, 12.0, 28.0, 31.0, 33.0]]).T
    curves = [pvsystem.i_from_v(volts, *diode.at(light, cell)) for diode in (new, new.degraded(share))]
    np.testing.assert_allclose(curves[1], share * curves[0], rtol=1e-9, atol=1e-9)
    watts = [
        best_point(module_table(diode, FarEnd(wire_ohm=ohm)), absorbed_w_m2=light, cell_c=cell)[0]
        for diode, ohm in ((new, 0.4 * share), (new.degraded(share), 0.4))
    ]
    np.testing.assert_allclose(watts[1], share * watts[0], rtol=1e-6)
