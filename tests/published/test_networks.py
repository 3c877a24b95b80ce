"""Networks of several pumps against EPANET and a closed form. C computed, I identity. All networks are invented.

EPANET (2.2, through wntr's own copy of its library) solves heads and flows of the whole network by Todini and Pilati's
gradient method; here nothing but the junction's head is sought. The two share the Hazen–Williams formula and the
pump's points, between which EPANET draws straight lines. EPANET knows speeds, not powers: the answer at powers is
held against it by offering each pump what it takes at its speed.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest
from fixed_speed import at_speeds, branch_of, fixed_speed_flows, well

from trackersim.job.pipework import Pipe
from trackersim.job.pump import Pump
from trackersim.job.water import Main
from trackersim.quantity_reading import read_quantity
from trackersim.water.branch import PumpBranch
from trackersim.water.helical import HelicalPump, helical_flow_m3_s, shut_off_head_at_speed_m
from trackersim.water.junction import junction_flows
from trackersim.water.motor import rated_motor
from trackersim.water.pump import PumpCurve, pump_curve, pump_head_m, runout_flow_m3_s
from trackersim.water.unit_table import unit_table

SHEET = pump_curve(
    Pump(
        curve_flow_m3_s=(0, 0.0005, 0.001, 0.0015, 0.002),
        curve_head_m=(60, 58, 52, 42, 28),
        curve_power_w=(500, 700, 880, 1000, 1050),
    )
)
SMALL = pump_curve(Pump(rated_flow_m3_s=0.0009, rated_head_m=30))
BIG = pump_curve(Pump(rated_flow_m3_s=0.003, rated_head_m=36))
STEEP = pump_curve(
    Pump(
        curve_flow_m3_s=(0, 0.0004, 0.0008, 0.0012),
        curve_head_m=(90, 70, 45, 12),
        curve_efficiency=(0, 0.3, 0.45, 0.3),
    )
)
HELICAL = HelicalPump(
    displacement_m3_rev=4e-5,
    rated_rpm=1500,
    slip_m3_s_per_m=2e-6,
    friction_nm=0.5,
    motor=rated_motor(shaft_w=600.0, efficiency=0.75, no_load_share=0.4),
    max_head_m=400.0,
)


class Network(NamedTuple):
    units: tuple[PumpBranch, ...]
    speeds: tuple[float, ...]
    main: Main


def pipe(length_m: float, bore_m: float, c_value: float = 140.0, fittings: float = 0.0) -> Pipe:
    return Pipe(length_m=length_m, bore_m=bore_m, c_value=c_value, fittings=fittings)


NARROW, WIDE = pipe(80, 0.035, 130, 8), pipe(25, 0.05, 150, 3)
LONG_MAIN = Main(lift_m=14, pipes=(pipe(350, 0.06, 120, 6),))
NETWORKS = {
    "one": Network((branch_of(SHEET, 9, (NARROW,)),), (0.93,), LONG_MAIN),
    "two alike": Network((branch_of(BIG, 6, (WIDE,)),) * 2, (1.0, 1.0), LONG_MAIN),
    "two, one slow": Network(
        (
            branch_of(BIG, 6, (WIDE,)),
            branch_of(SHEET, 2, (NARROW,)),
        ),
        (1.0, 0.82),
        LONG_MAIN,
    ),
    "three, wells that fall": Network(
        (
            branch_of(SHEET, 9, (NARROW,), source=well(2e-4)),
            branch_of(SMALL, 4, (WIDE,), source=well(1e-3)),
            branch_of(STEEP, 15, (NARROW, WIDE), source=well(8e-5)),
        ),
        (1.0, 0.95, 1.1),
        Main(lift_m=10, pipes=(pipe(120, 0.06), pipe(300, 0.075, 110, 9))),
    ),
    "three, one held shut": Network(
        (
            branch_of(BIG, 0, (WIDE,)),
            branch_of(SMALL, 18, (NARROW,)),
            branch_of(SHEET, 5, (NARROW,)),
        ),
        (1.0, 0.9, 0.9),
        LONG_MAIN,
    ),
    "helical beside centrifugal": Network(
        (
            branch_of(HELICAL, 25, (NARROW,)),
            branch_of(BIG, 5, (WIDE,)),
        ),
        (0.7, 1.0),
        LONG_MAIN,
    ),
    "four of all kinds": Network(
        (
            branch_of(HELICAL, 40, (NARROW,)),
            branch_of(STEEP, 12, (NARROW, WIDE)),
            branch_of(SMALL, -3, (WIDE,)),
            branch_of(SHEET, 7, (WIDE, NARROW), source=well(3e-4)),
        ),
        (0.45, 0.9, 0.97, 1.0),
        Main(lift_m=11, pipes=(pipe(60, 0.05, 150, 2), pipe(200, 0.06, 100, 12))),
    ),
    "four alike on a tight main": Network(
        (branch_of(SMALL, 3, (WIDE,)),) * 4,
        (1.0, 0.98, 0.96, 0.94),
        Main(lift_m=8, pipes=(pipe(100, 0.04, 140, 5),)),
    ),
}


# ---- EPANET -----------------------------------------------------------------------------------------------------


def points(unit: PumpBranch, speed: float) -> list[tuple[float, float]]:
    """The pump at its speed less the fall of its well, densely: EPANET has no helical pumps and no wells that fall."""
    if isinstance(unit.model, HelicalPump):
        most = unit.model.rated_flow_m3_s * speed
        flow = np.linspace(0, most, 60)
        head = (most - flow) / unit.model.slip_m3_s_per_m
        np.testing.assert_allclose(helical_flow_m3_s(unit.model, speed=speed, head_m=head), flow, atol=1e-12)
        assert head[0] <= shut_off_head_at_speed_m(unit.model, speed)
    else:
        flow = np.linspace(0, speed * runout_flow_m3_s(unit.model), 120)
        head = pump_head_m(unit.model, flow, speed=speed)
    if unit.source.specific_capacity_m3_s_per_m is not None:
        head = head - flow / unit.source.specific_capacity_m3_s_per_m
    keep = head >= 0
    return list(zip(flow[keep].tolist(), head[keep].tolist(), strict=True))


def epanet(network: Network, folder: Path) -> tuple[np.ndarray, float]:
    """Flows of the units and the junction's head."""
    # wntr 1.5 imports `six` without declaring it; an ImportError of it skips, anything else of it fails.
    wntr = pytest.importorskip("wntr", exc_type=ImportError)
    model = wntr.network.WaterNetworkModel()
    model.options.hydraulic.inpfile_units = "LPS"
    model.options.hydraulic.accuracy = 1e-8
    model.options.hydraulic.trials = 500
    model.options.time.duration = 0
    model.add_reservoir("outlet", base_head=network.main.lift_m)
    model.add_junction("join", base_demand=0.0, elevation=0.0)
    for number, (unit, speed) in enumerate(zip(network.units, network.speeds, strict=True)):
        model.add_reservoir(f"well{number}", base_head=-unit.static_head_m)
        model.add_junction(f"foot{number}", base_demand=0.0, elevation=0.0)
        add_pump(model, number, unit, speed)
        add_pipes(model, f"branch{number}", unit.pipes, f"foot{number}", "join", check_valve=True)
    add_pipes(model, "main", network.main.pipes, "join", "outlet", check_valve=False)
    results = wntr.sim.EpanetSimulator(model).run_sim(file_prefix=str(folder / "net"))
    flow = [float(results.link["flowrate"].loc[0, f"pump{k}"]) for k in range(len(network.units))]
    return np.array(flow), float(results.node["head"].loc[0, "join"])


def add_pump(model: Any, number: int, unit: PumpBranch, speed: float) -> None:
    """With its own points and EPANET's affinity laws where that is possible, else with the points at its speed."""
    plain = isinstance(unit.model, PumpCurve) and unit.source.specific_capacity_m3_s_per_m is None
    model.add_curve(f"points{number}", "HEAD", points(unit, 1.0 if plain else speed))
    ends = f"pump{number}", f"well{number}", f"foot{number}"
    model.add_pump(*ends, pump_type="HEAD", pump_parameter=f"points{number}", speed=speed if plain else 1.0)


def add_pipes(model: Any, name: str, segments: tuple[Pipe, ...], start: str, end: str, *, check_valve: bool) -> None:
    nodes = [start, *(f"{name}knee{k}" for k in range(1, len(segments))), end]
    for knee in nodes[1:-1]:
        model.add_junction(knee, base_demand=0.0, elevation=0.0)
    for k, part in enumerate(segments):
        model.add_pipe(
            f"{name}pipe{k}",
            nodes[k],
            nodes[k + 1],
            length=part.length_m,
            diameter=part.bore_m,
            roughness=part.c_now,
            minor_loss=part.fittings,
            check_valve=check_valve and k == 0,
        )


@pytest.mark.parametrize("name", NETWORKS)
def test_network_equals_epanet(name: str, tmp_path: Path) -> None:
    network = NETWORKS[name]
    flow, head = epanet(network, tmp_path)
    ours = fixed_speed_flows(network.units, network.main, np.array(network.speeds)[:, None])
    # EPANET leaves some 1e-5 L/s in a closed pipe.
    np.testing.assert_allclose(ours.flow_m3_s[:, 0], flow, rtol=2e-4, atol=1e-7)
    assert ours.junction_head_m[0] == pytest.approx(head, rel=2e-4)
    assert (ours.flow_m3_s[:, 0] == 0).sum() == (name == "three, one held shut")


@pytest.mark.parametrize("name", NETWORKS)
def test_network_at_powers_equals_epanet(name: str, tmp_path: Path) -> None:
    network = NETWORKS[name]
    flow, head = epanet(network, tmp_path)
    taken = fixed_speed_flows(network.units, network.main, np.array(network.speeds)[:, None]).power_used_w
    units = [at_speeds(unit, max_speed=1.2) for unit in network.units]
    tables = [unit_table(unit, lowest_head_m=network.main.lift_m) for unit in units]
    ours = junction_flows(tables, network.main, taken)
    np.testing.assert_allclose(ours.flow_m3_s[:, 0], flow, rtol=2e-4, atol=1e-7)
    np.testing.assert_allclose(ours.speed[:, 0], network.speeds, rtol=1e-4)
    assert ours.junction_head_m[0] == pytest.approx(head, rel=2e-4)


# ---- closed form ------------------------------------------------------------------------------------------------


def feet(length: float) -> float:
    return read_quantity(f"{length} ft", "m")


CFS = feet(1) ** 3


# C: closed form of pumps H = 365 − 20 Q² (ft, cfs) against 290 ft of lift, each with a 10 in suction line, f 0.022,
# 90 ft, on an 8 in main, f 0.028, 4900 ft: Q² = 75/(20/n² + k_main + k_suction/n²), k = 8 f L/(π² g d⁵). One pump gives
# 1.272 cfs as handed down; two give 1.5485, where 1.547 was handed down: that takes one suction line for both.
@pytest.mark.parametrize(("pumps", "printed_cfs"), [(1, 1.272), (2, 1.5485)])
@pytest.mark.parametrize("solve", ["powers", "speeds"])
def test_pumps_side_by_side(pumps: int, printed_cfs: float, solve: str) -> None:
    each = np.linspace(0, 4.2, 60)
    curve = pump_curve(
        Pump(
            curve_flow_m3_s=tuple(each * CFS),
            curve_head_m=tuple(feet(1) * (365 - 20 * each**2)),
            curve_power_w=tuple(150_000.0 for _ in each),
        )
    )
    suction = Pipe(length_m=0, bore_m=feet(10 / 12), fittings=0.022 * 90 / (10 / 12))
    discharge = Pipe(length_m=0, bore_m=feet(8 / 12), fittings=0.028 * 4900 / (8 / 12))
    unit, main = (
        branch_of(curve, 0, (suction,)),
        Main(lift_m=feet(290), pipes=(discharge,)),
    )
    if solve == "speeds":
        flow = fixed_speed_flows([unit] * pumps, main, np.ones((pumps, 1))).flow_m3_s
    else:
        flow = junction_flows(
            [unit_table(unit, lowest_head_m=feet(290))] * pumps, main, np.full((pumps, 1), 2e5)
        ).flow_m3_s
    k_main, k_suction = (8 * 0.028 * 4900 / (8 / 12) ** 5, 8 * 0.022 * 90 / (10 / 12) ** 5)
    per_cfs2 = (k_main + k_suction / pumps**2) / (np.pi**2 * 9.80665 / feet(1))
    closed_form_cfs = (75 / (20 / pumps**2 + per_cfs2)) ** 0.5
    assert flow.sum() / CFS == pytest.approx(closed_form_cfs, rel=1e-5 if solve == "speeds" else 1e-4)
    assert flow.sum() / CFS == pytest.approx(printed_cfs, abs=0.0005)
