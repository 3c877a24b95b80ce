"""Pipe friction against printed tables and general-purpose libraries. P printed, I identity, C computed."""

from __future__ import annotations

import fluids
import fluids.friction
import numpy as np
import pytest

from trackersim.quantity_reading import read_quantity
from trackersim.water.pipes import (
    colebrook_friction_factor,
    darcy_weisbach_head_m,
    fittings_head_m,
    friction_factor,
    hazen_williams_head_m,
    velocity_m_s,
    water_viscosity_m2_s,
)

# ASTM D1785 minimum-wall bores, Schedule 40 [in].
BORE_IN = {"1.25": 1.380, "1.5": 1.610, "2": 2.067, "3": 3.068, "4": 4.026, "6": 6.065}


def gpm(flow: float) -> float:
    return read_quantity(f"{flow} gpm", "m**3/s")


def inch(length: float) -> float:
    return read_quantity(f"{length} in", "m")


def feet(length: float) -> float:
    return read_quantity(f"{length} ft", "m")


# P: Illinois Administrative Code 77, Part 906, Appendix A: C 150, ft per 100 ft.
@pytest.mark.parametrize(
    ("pipe", "flow_gpm", "loss_ft"),
    [
        ("1.25", 10, 1.46),
        ("1.25", 20, 5.23),
        ("1.5", 20, 2.46),
        ("1.5", 30, 5.22),
        ("2", 30, 1.54),
        ("2", 50, 3.98),
        ("3", 100, 2.09),
        ("4", 60, 0.21),
        ("4", 150, 1.17),
        ("6", 300, 0.58),
    ],
)
def test_hazen_williams_table_of_plastic_pipe(pipe: str, flow_gpm: float, loss_ft: float) -> None:
    head = hazen_williams_head_m(gpm(flow_gpm), bore_m=inch(BORE_IN[pipe]), length_m=feet(100), c_value=150)
    tolerance_ft = 0.01 if loss_ft < 1 else 0.015 * loss_ft
    assert head / feet(1) == pytest.approx(loss_ft, abs=tolerance_ft)


def test_hazen_williams_constant_is_the_epanet_one() -> None:
    # I: 4.727 (EPANET 2.2 User Manual, chapter 3; feet and cubic feet a second) turned into metres.
    cubic_foot = feet(1) ** 3
    head = hazen_williams_head_m(cubic_foot, bore_m=feet(1), length_m=feet(1), c_value=1) / feet(1)
    assert head == pytest.approx(4.727, rel=1e-4)


# I: C ratio to the power 1.852, to three decimals.
@pytest.mark.parametrize(("new", "old", "ratio"), [(150, 140, 1.136), (150, 100, 2.119)])
def test_older_pipe_loses_more(new: float, old: float, ratio: float) -> None:
    heads = [hazen_williams_head_m(0.001, bore_m=0.04, length_m=50, c_value=c) for c in (new, old)]
    assert heads[1] / heads[0] == pytest.approx(ratio, abs=6e-4)


# P: Hydraulic Institute data book, new steel Schedule 40, ε 0.00015 ft, water at 60 °F, ft per 100 ft.
@pytest.mark.parametrize(
    ("pipe", "flow_gpm", "loss_ft"),
    [("1.25", 10, 1.77), ("1.25", 20, 6.34), ("1.25", 30, 13.6), ("1.25", 50, 36.0), ("1.5", 50, 16.4)],
)
def test_darcy_weisbach_table_of_steel_pipe(pipe: str, flow_gpm: float, loss_ft: float) -> None:
    head = darcy_weisbach_head_m(
        gpm(flow_gpm),
        bore_m=inch(BORE_IN[pipe]),
        length_m=feet(100),
        roughness_m=feet(0.00015),
        kinematic_viscosity_m2_s=float(water_viscosity_m2_s(read_quantity("60 F", "degC"))),
    )
    assert head / feet(1) == pytest.approx(loss_ft, rel=0.005)


def test_colebrook_at_one_published_point() -> None:
    # C: fluids, Re 1e5, ε/D 1e-4.
    assert colebrook_friction_factor(1e5, relative_roughness=1e-4) == pytest.approx(0.018514, abs=5e-7)


def test_colebrook_equals_fluids_over_its_whole_range() -> None:
    # C: fluids.friction.Colebrook.
    for rough in (0.0, 1e-6, 1e-4, 1e-2, 0.05):
        reynolds = np.geomspace(4000, 1e7, 40)
        expected = [fluids.friction.Colebrook(Re=re, eD=rough) for re in reynolds.tolist()]
        np.testing.assert_allclose(colebrook_friction_factor(reynolds, relative_roughness=rough), expected, rtol=1e-9)


def test_darcy_weisbach_equals_fluids() -> None:
    # C: fluids.one_phase_dP with the Colebrook factor, turbulent; pressure over ρ g is head.
    flow, bore, rough, nu, rho = 0.0015, 0.035, 4.6e-5, 1.1e-6, 999.0
    mass_flow = flow * rho
    drop_pa = fluids.one_phase_dP(m=mass_flow, rho=rho, mu=nu * rho, D=bore, roughness=rough, L=80, Method="Colebrook")
    head = darcy_weisbach_head_m(flow, bore_m=bore, length_m=80, roughness_m=rough, kinematic_viscosity_m2_s=nu)
    assert head == pytest.approx(drop_pa / (rho * 9.80665), rel=1e-9)


def test_laminar_factor() -> None:
    # I: Hagen–Poiseuille, f = 64/Re.
    assert friction_factor([100.0, 1999.0], relative_roughness=0.01) == pytest.approx([0.64, 64 / 1999])


def test_velocity_of_30_gpm() -> None:
    # I: 0.4085 q/d² with gpm and inches.
    assert velocity_m_s(gpm(30), bore_m=inch(1.380)) / feet(1) == pytest.approx(6.435, abs=0.001)


def test_fittings_equal_fluids() -> None:
    # C: fluids.dP_from_K.
    speed = float(velocity_m_s(0.002, bore_m=0.04))
    drop_pa = fluids.dP_from_K(K=6.5, rho=1000, V=speed)
    assert fittings_head_m(0.002, bore_m=0.04, k_sum=6.5) == pytest.approx(drop_pa / 9806.65, rel=1e-9)


@pytest.mark.parametrize("temperature_c", [1.0, 10.0, 20.0, 35.0, 60.0])
def test_viscosity_equals_coolprop(temperature_c: float) -> None:
    # C: CoolProp (IAPWS viscosity and density), 0.101325 MPa.
    from CoolProp.CoolProp import PropsSI

    mu, rho = (PropsSI(what, "T", temperature_c + 273.15, "P", 101325, "Water") for what in ("V", "D"))
    assert water_viscosity_m2_s(temperature_c) == pytest.approx(mu / rho, rel=0.003)
