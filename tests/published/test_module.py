"""Cell temperature, the single-diode fit and ageing against printed values."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pvlib import pvsystem

from trackersim.job.array import Array
from trackersim.power.cell_temperature import cell_temperature_c
from trackersim.power.label_fit import fit_label
from trackersim.power.module_table import best_point, module_table

# De Soto et al., Solar Energy 80 (2006); this module's numbers are those of pvlib's test of its fit.
PUBLISHED_LABEL = Array(
    vmp_v=31.0,
    imp_a=8.71,
    voc_v=38.3,
    isc_a=9.43,
    isc_per_k=0.005658 / 9.43,
    voc_per_k=-0.13788 / 38.3,
    cells=60,
)
PUBLISHED_DARK_A = 3.22460e-10


def faiman_c(light: float, air: float, wind: float) -> float:
    parts = {"plane_w_m2": np.array([light]), "air_c": np.array([air]), "wind_m_s": np.array([wind])}
    return float(cell_temperature_c(**parts, faiman_u0=25.0, faiman_u1=6.84)[0])


def test_faiman_module_temperature() -> None:
    # Faiman, Prog. Photovolt. 16 (2008); the number is in pvlib's test.
    assert faiman_c(900.0, 20.0, 5.0) == pytest.approx(35.203, abs=5e-4)


def test_default_heat_loss_gives_a_normal_operating_temperature() -> None:
    # NOCT conditions (800 W/m², 20 °C, 1 m/s): labels print 45 ± 2 °C.
    array = Array(vmp_v=17.4, imp_a=6.9, voc_v=21.8, isc_a=7.5)
    assert (array.faiman_u0, array.faiman_u1) == (25.0, 6.84)
    assert faiman_c(800.0, 20.0, 1.0) == pytest.approx(45.0, abs=2.0)


def test_the_published_parameters_from_the_label_and_its_coefficient_of_power() -> None:
    """The label's curve is told by the mean change of the published curve's power from −10 to 50 °C: −0.4233 %/K."""
    alpha = PUBLISHED_LABEL.isc_per_k * PUBLISHED_LABEL.isc_a
    published = pvsystem.calcparams_desoto(
        1000, np.array([-10.0, 25.0, 50.0]), alpha, 1.59128, 9.45232, PUBLISHED_DARK_A, 125.798, 0.297814
    )
    cold_w, label_w, warm_w = pvsystem.max_power_point(*published)["p_mp"]
    coefficient = (warm_w - cold_w) / 60 / label_w
    found = fit_label(PUBLISHED_LABEL.model_copy(update={"power_per_k": coefficient}))
    assert found.light_a == pytest.approx(9.45232, rel=1e-4)
    assert found.dark_a == pytest.approx(PUBLISHED_DARK_A, rel=5e-3)
    assert found.slope_v == pytest.approx(1.59128, rel=2e-4)
    assert found.series_ohm == pytest.approx(0.297814, rel=1e-3)
    assert found.shunt_ohm == pytest.approx(125.80, rel=2e-3)
    assert not found.relaxed


def test_power_of_the_published_label_at_standard_conditions() -> None:
    power, voltage = best_point(
        module_table(fit_label(PUBLISHED_LABEL)), absorbed_w_m2=np.array([1000.0]), cell_c=np.array([25.0])
    )
    assert power[0] == pytest.approx(270.01, abs=0.02)
    assert voltage[0] == pytest.approx(31.0, rel=1e-3)


def test_default_ageing_is_the_published_median() -> None:
    # Jordan & Kurtz 2013 and Jordan et al. 2016 (Prog. Photovolt.): median 0.5–0.6 % a year.
    array = Array(vmp_v=17.4, imp_a=6.9, voc_v=21.8, isc_a=7.5)
    assert 0.005 <= array.loss_per_year <= 0.006


@given(age=st.floats(0, 60), loss=st.floats(0, 0.05))
def test_ageing_compounds(age: float, loss: float) -> None:
    array = Array(vmp_v=17.4, imp_a=6.9, voc_v=21.8, isc_a=7.5, age_years=age, loss_per_year=loss)
    assert array.age_share == pytest.approx(np.exp(age * np.log1p(-loss)), rel=1e-12)  # identity
    assert 0 < array.age_share <= 1
