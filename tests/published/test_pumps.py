"""Pumps and their meeting with a system against printed examples. P printed, I identity, C computed."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from fixed_speed import branch_of

from trackersim.job.pipework import Pipe
from trackersim.job.pump import Pump
from trackersim.job.water import Source
from trackersim.quantity_reading import read_quantity
from trackersim.water.operating import operating_table
from trackersim.water.pipes import fittings_head_m
from trackersim.water.pump import hydraulic_power_w, pump_curve, pump_head_m, pump_power_w
from trackersim.water.source import drawdown_m, yield_limit_m3_s


def gpm(flow: float) -> float:
    return read_quantity(f"{flow} gpm", "m**3/s")


def feet(length: float) -> float:
    return read_quantity(f"{length} ft", "m")


def horsepower(power_w: float) -> float:
    return power_w / read_quantity("1 hp", "W")


def sheet(flow_gpm: list[float], head_ft: list[float], efficiency: list[float] | None = None) -> Pump:
    """A sheet in US units with a motor without loss; constant input where efficiency plays no part."""
    power = None if efficiency else tuple(150_000.0 for _ in flow_gpm)
    return Pump(
        curve_flow_m3_s=tuple(gpm(q) for q in flow_gpm),
        curve_head_m=tuple(feet(h) for h in head_ft),
        curve_power_w=power,
        curve_efficiency=tuple(efficiency) if efficiency else None,
        motor_efficiency=1.0,
    )


def pipes_losing(*, head_m: float, flow_m3_s: float, bore_m: float) -> tuple[Pipe, ...]:
    """A pipe that loses exactly `head_m` · (Q/`flow_m3_s`)² and nothing else."""
    k_sum = head_m / float(fittings_head_m(flow_m3_s, bore_m=bore_m, k_sum=1.0))
    return (Pipe(length_m=0, bore_m=bore_m, fittings=k_sum),)


# P: Hydraulic Institute pump-curve table; the head at zero flow is ours, the table starts at 500 gpm.
@pytest.mark.parametrize(("flow_gpm", "power_hp"), [(500, 36.1), (900, 45.2), (1200, 46.6)])
def test_brake_power_of_the_printed_curve(flow_gpm: float, power_hp: float) -> None:
    curve = pump_curve(sheet([0, 500, 900, 1200], [195, 186, 155, 100], [0, 0.65, 0.78, 0.65]))
    assert horsepower(float(pump_power_w(curve, gpm(flow_gpm)))) == pytest.approx(power_hp, abs=0.1)


# P: Hydraulic Institute, worked example 1, 1740 to 1566 rpm (its other rows contradict themselves).
@pytest.mark.parametrize(("slow_gpm", "slow_ft"), [(180, 167), (900, 143), (1800, 95)])
def test_affinity_of_the_printed_example(slow_gpm: float, slow_ft: float) -> None:
    curve = pump_curve(sheet([0, 200, 1000, 2000], [208, 206, 176, 117]))
    head = float(pump_head_m(curve, gpm(slow_gpm), speed=1566 / 1740)) / feet(1)
    assert head == pytest.approx(slow_ft, abs=0.6)


def test_combined_curve_example() -> None:
    # P: Hydraulic Institute: pump 380 − 0.06 Q − 0.0018 Q², system 265 + 7.75e-4 Q² (ft, gpm): 200 gpm at 296 ft.
    flow = np.linspace(0, 400, 60)
    curve = pump_curve(sheet(flow.tolist(), (380 - 0.06 * flow - 0.0018 * flow**2).tolist()))
    pipes = pipes_losing(head_m=feet(7.75e-4 * 200**2), flow_m3_s=gpm(200), bore_m=0.08)
    table = operating_table(branch_of(curve, feet(265), pipes))
    assert table.flow_m3_s[-1] / gpm(1) == pytest.approx(200, abs=0.5)
    assert table.head_m[-1] / feet(1) == pytest.approx(296, abs=0.5)


# C: 1.272 and 1.547 cfs are the values handed down. A suction line for each pump, as the row words it, gives 1.5485
# by closed form; 1.547 needs one shared suction line and g 32.2. Hence 0.002 here and the closed form to rounding.
@pytest.mark.parametrize(("pumps", "listed_cfs"), [(1, 1.272), (2, 1.547)])
def test_pumps_side_by_side_on_one_main(pumps: int, listed_cfs: float) -> None:
    cfs = feet(1) ** 3
    each = np.linspace(0, 3.5, 60) * cfs
    curve = pump_curve(
        Pump(
            curve_flow_m3_s=tuple(pumps * each),
            curve_head_m=tuple(feet(1) * (365 - 20 * (each / cfs) ** 2)),
            curve_power_w=tuple(150_000.0 for _ in each),
        )
    )
    discharge_bore = feet(8 / 12)
    discharge = float(fittings_head_m(cfs, bore_m=discharge_bore, k_sum=0.028 * 4900 / (8 / 12)))
    suction = float(fittings_head_m(cfs / pumps, bore_m=feet(10 / 12), k_sum=0.022 * 90 / (10 / 12)))
    pipes = pipes_losing(head_m=discharge + suction, flow_m3_s=cfs, bore_m=discharge_bore)
    flow = operating_table(branch_of(curve, feet(290), pipes)).flow_m3_s[-1]
    closed_form_cfs = (75 / (20 / pumps**2 + (discharge + suction) / feet(1))) ** 0.5
    assert flow / cfs == pytest.approx(closed_form_cfs, rel=1e-4)
    assert flow / cfs == pytest.approx(listed_cfs, abs=0.002)


@pytest.mark.parametrize("speed", [1.0, 0.85])
def test_one_pump_network_equals_epanet(speed: float, tmp_path: Path) -> None:
    # C: EPANET through wntr: reservoir, pump with a one-point curve, Hazen–Williams pipe with fittings, reservoir.
    pump = Pump(rated_flow_m3_s=0.0014, rated_head_m=27.0)
    pipes = (Pipe(length_m=180, bore_m=0.035, c_value=130, fittings=6),)
    table = operating_table(branch_of(pump_curve(pump), 20, pipes, max_speed=speed))
    ours = table.flow_m3_s[-1]
    theirs = _epanet_flow_m3_s(pipes, lift_m=20, rated=(0.0014, 27.0), speed=speed, folder=tmp_path)
    assert ours == pytest.approx(theirs, rel=5e-4)


def _epanet_flow_m3_s(
    pipes: tuple[Pipe, ...], *, lift_m: float, rated: tuple[float, float], speed: float, folder: Path
) -> float:
    # wntr 1.5 imports `six` without declaring it; an ImportError of it skips this one test only.
    wntr = pytest.importorskip("wntr", exc_type=ImportError)
    network = wntr.network.WaterNetworkModel()
    network.options.hydraulic.inpfile_units = "LPS"
    network.options.hydraulic.accuracy = 1e-8
    network.options.time.duration = 0
    network.add_reservoir("well", base_head=0.0)
    network.add_reservoir("outlet", base_head=lift_m)
    network.add_junction("foot", base_demand=0.0, elevation=0.0)
    network.add_curve("point", "HEAD", [rated])
    network.add_pump("pump", "well", "foot", pump_type="HEAD", pump_parameter="point", speed=speed)
    network.add_pipe(
        "pipe",
        "foot",
        "outlet",
        length=pipes[0].length_m,
        diameter=pipes[0].inside_m,
        roughness=pipes[0].c_now,
        minor_loss=pipes[0].fittings,
    )
    results = wntr.sim.EpanetSimulator(network).run_sim(file_prefix=str(folder / "net"))
    return float(results.link["flowrate"].loc[0, "pipe"])


def test_hydraulic_energy_of_a_cubic_metre_metre() -> None:
    # I: 1000 · 9.80665 / 3600 Wh.
    assert hydraulic_power_w(1 / 3600, 1.0) == pytest.approx(2.724, abs=0.0005)


def test_gauge_pressure_as_head() -> None:
    # I: 1 psi = 2.31 ft, through the same ρ g that gives the pump's power.
    head_m = read_quantity("1 psi", "Pa") / float(hydraulic_power_w(1.0, 1.0))
    assert head_m / feet(1) == pytest.approx(2.31, abs=0.005)


def test_specific_capacity() -> None:
    # P: 20 gpm at 40 ft of drawdown is 0.5 gpm/ft; 30 gpm then draws the well down by 60 ft.
    capacity = read_quantity("0.5 gpm/ft", "m**3/s/m")
    source = Source(lift_m=0, specific_capacity_m3_s_per_m=capacity, max_drawdown_m=feet(40))
    assert drawdown_m(gpm(30), source) / feet(1) == pytest.approx(60)
    assert yield_limit_m3_s(source) / gpm(1) == pytest.approx(20)
