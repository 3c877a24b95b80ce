"""A module from which less is taken than it could give, held against pvlib's own curve."""

from __future__ import annotations

import numpy as np
import pytest
from pvlib import pvsystem

from trackersim.job.files import load_job
from trackersim.power.diode import Diode
from trackersim.power.floating import floating_voltage_v, warmer_k
from trackersim.power.label_fit import fit_label

WIRE_OHM = 0.12


@pytest.fixture(scope="module")
def diode() -> Diode:
    return fit_label(load_job("demo").array).degraded(0.9)


def lit(count: int = 400) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Light from dusk to a bright cloud's edge, cells from frost to full sun, shares of the best power from 0 to 1."""
    rng = np.random.default_rng(3)
    return rng.uniform(1, 1300, count), rng.uniform(-20, 75, count), rng.uniform(0, 1, count)


@pytest.mark.parametrize("wire_ohm", [0.0, WIRE_OHM])
def test_the_voltage_gives_the_power_asked_for(diode: Diode, wire_ohm: float) -> None:
    # pvlib's i_from_v (Lambert's W) on the same five parameters, and its maximum-power point.
    light, cell, share = lit()
    curve = diode.at(light, cell, wire_ohm=wire_ohm)
    best = pvsystem.singlediode(*curve)
    found = floating_voltage_v(diode, absorbed_w_m2=light, cell_c=cell, power_w=share * best["p_mp"], wire_ohm=wire_ohm)
    np.testing.assert_allclose(pvsystem.i_from_v(found, *curve) * found, share * best["p_mp"], atol=1e-3, rtol=1e-3)
    assert (found >= best["v_mp"] - 5e-3).all()
    assert (found <= best["v_oc"] + 1e-9).all()


def test_open_circuit_when_nothing_is_taken(diode: Diode) -> None:
    light, cell, _ = lit()
    found = floating_voltage_v(diode, absorbed_w_m2=light, cell_c=cell, power_w=np.zeros_like(light))
    np.testing.assert_allclose(found, pvsystem.singlediode(*diode.at(light, cell))["v_oc"], atol=1e-6)


def test_no_volts_without_light(diode: Diode) -> None:
    nothing = np.zeros(3)
    assert not floating_voltage_v(diode, absorbed_w_m2=nothing, cell_c=nothing, power_w=nothing).any()


def test_a_module_left_alone_is_as_warm_as_its_heat() -> None:
    # Without wind 1000 W/m², of which 90 % stay and 150 W leave as current, warm it by 1000/25 = 40 K. If the 150 W
    # stay too, by 40 · 900/750 = 48 K. Open-circuited modules are reported 3 to 7 K warmer outdoors (from memory).
    warmer = warmer_k(
        unused_w_m2=np.array([150.0, 0.0]),
        plane_w_m2=np.full(2, 1000.0),
        best_w_m2=np.full(2, 150.0),
        wind_m_s=np.zeros(2),
        faiman_u0=25.0,
        faiman_u1=6.84,
    )
    assert warmer.tolist() == pytest.approx([8.0, 0.0])
