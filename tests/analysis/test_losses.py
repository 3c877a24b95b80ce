"""`trackersim losses`: the account closes, its ends are what plain runs give, and what is not there takes nothing."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from trackersim import InputError, Job, load_job, simulate
from trackersim.analysis.loss_terms import ELECTRICAL, mended, new_c
from trackersim.analysis.losses import CAUSES, Ledger, Step, Worth, losses_of, motor_kwh
from trackersim.job.files import demo_text, parse_job
from trackersim.report import losses as show_losses
from trackersim.simulation.electrics import controller_w, motor_side_loss_w, motor_w

DAYS = {"first_day": dt.date(2025, 3, 19), "last_day": dt.date(2025, 3, 22)}
TREES = CAUSES[1], *CAUSES[3:6]
STORE = ["store.capacity=2000 gal", "store.demand=1200 gal/day"]
SUMP = ['source.kind="sump"', "source.volume=800 gal", "source.inflow=2500 gal/day"]
ALIKE = (
    '\n[main]\nlift = "5 ft"\npipes = {length = "100 ft", nominal = "2"}\n'
    '[[unit]]\nname = "upper"\n[[unit]]\nname = "lower"\n'
)
STEP = {name: number for number, name in enumerate(CAUSES)}


def account(*changes: str) -> Ledger:
    return losses_of(load_job("demo", list(changes)), **DAYS)


@pytest.fixture(scope="module")
def demo() -> Ledger:
    return account()


@pytest.fixture(scope="module")
def others() -> dict[str, Ledger]:
    return {
        "thermal": account("rack.kind=thermal"),
        "store and sump": account(*STORE, *SUMP, "pump.head_lost=10 %", "pump.flow_lost=5 %", "pipes.scale=0.05 in"),
        "fixed west": account("rack.kind=fixed", "rack.fixed_rotation=50"),
        "two alike": losses_of(parse_job(demo_text() + ALIKE), **DAYS),
    }


def test_the_account_closes_and_its_ends_are_plain_runs(demo: Ledger, others: dict[str, Ledger]) -> None:
    for name, ledger in {"demo": demo, **others}.items():
        own = simulate(ledger.job, **DAYS)
        assert ledger.own.water_m3 == own.water_m3, name
        assert ledger.own.energy_kwh == motor_kwh(own), name
        lost = [sum(step.lost[n] for step in ledger.steps) for n in (0, 1)]
        assert ledger.ideal.water_m3 - lost[0] == pytest.approx(ledger.own.water_m3, abs=1e-9), name
        assert ledger.ideal.energy_kwh - lost[1] == pytest.approx(ledger.own.energy_kwh, abs=1e-9), name
        assert tuple(step.cause for step in ledger.steps) == CAUSES, name
        assert ledger.ideal.water_m3 > ledger.own.water_m3 > 0, name


def test_the_ideal_is_the_ideal_site_described_by_hand(demo: Ledger) -> None:
    ideal = load_job(
        "demo",
        ["trees=[]", "rack.kind=ideal", "array.age_years=0", "array.soiling=0", "array.mismatch=0", "wire=[]",
         "controller.rated=5000 W", "controller.start=0", "controller.start_delay=0", "controller.min_input=0.1 V",
         "controller.track_low=0.2 V", "controller.track_high=1900 V", "controller.max_input=2000 V",
         "pump.cutout_flow=0", "pipes.c_value=150", "source.specific_capacity=1000 gpm/ft"],
    )  # fmt: skip
    assert simulate(ideal, **DAYS).water_m3 == pytest.approx(demo.ideal.water_m3, rel=1e-3)


@pytest.mark.parametrize("kind", ["delayed", "thermal", "fixed"])
def test_without_trees_the_tree_steps_are_exactly_nothing(kind: str) -> None:
    ledger = account("trees=[]", f"rack.kind={kind}")
    for cause in TREES:
        step = ledger.steps[STEP[cause]]
        assert (step.lost, step.alone, step.present) == (Worth(0, 0), Worth(0, 0), False)
    assert "trees" not in show_losses.losses_alt(ledger, "us")


def test_what_a_job_has_not_takes_nothing(demo: Ledger) -> None:
    perfect = account("array.age_years=0", "array.soiling=0", "array.mismatch=0", "wire=[]", "pipes.c_value=150")
    for cause in ("age, dirt and mismatch", "wire", "pipe and pump wear", "tank full"):
        step = perfect.steps[STEP[cause]]
        assert (step.lost, step.alone, step.present) == (Worth(0, 0), Worth(0, 0), False), cause
    for cause in ("age, dirt and mismatch", "wire", "late flip", "later still behind trees", "source"):
        assert demo.steps[STEP[cause]].lost.water_m3 > 0, cause
        assert demo.steps[STEP[cause]].present, cause


def test_racks_that_do_not_flip_are_never_late(others: dict[str, Ledger]) -> None:
    steps = others["fixed west"].steps
    assert [steps[n].present for n in (0, 1)] == [False, False]
    assert [steps[n].lost for n in (0, 1)] == [Worth(0, 0)] * 2
    assert steps[2].lost.energy_kwh > 0.2 * others["fixed west"].ideal.energy_kwh
    ideal = account("rack.kind=ideal")
    assert [step.lost for step in ideal.steps[:3]] == [Worth(0, 0)] * 3


def test_an_hour_later_costs_only_the_flip() -> None:
    """Without trees, under a clear sky: the later rack loses more to its flip; pointing after arrival is as before."""
    clear = ["weather.file=sample:clear-spring-day", "trees=[]"]
    sooner, later = (losses_of(load_job("demo", [*clear, f"rack.flip_delay={minutes} min"])) for minutes in (30, 90))
    gap = [later.steps[n].lost.energy_kwh - sooner.steps[n].lost.energy_kwh for n in (0, 2)]
    assert gap[0] > 0.3
    assert abs(gap[1]) < 0.02


def test_mended_alone_is_the_job_with_that_one_thing_mended(demo: Ledger) -> None:
    own = simulate(demo.job, **DAYS).water_m3
    by_hand = {
        "wire": ["wire=[]"],
        "age, dirt and mismatch": ["array.age_years=0", "array.soiling=0", "array.mismatch=0"],
        "pipe and pump wear": ["pipes.c_value=150"],
    }
    for cause, changes in by_hand.items():
        gain = simulate(load_job("demo", changes), **DAYS).water_m3 - own
        assert demo.steps[STEP[cause]].alone.water_m3 == pytest.approx(gain, abs=1e-9), cause


def test_the_last_cause_alone_is_its_step(others: dict[str, Ledger]) -> None:
    last = others["store and sump"].steps[-1]
    assert last.cause == "tank full"
    assert last.lost == last.alone
    assert last.lost.water_m3 > 0.1


def test_an_endless_source_does_not_run_dry(others: dict[str, Ledger]) -> None:
    step = others["store and sump"].steps[STEP["source"]]
    assert step.lost.water_m3 > 1
    endless = mended(others["store and sump"].job, ("source",))
    assert (endless.source.kind, endless.source.volume_m3, endless.source.specific_capacity_m3_s_per_m) == (
        "well", None, None,
    )  # fmt: skip


def test_trees_in_the_west_delay_no_flip() -> None:
    west = 'trees=[{kind="row", bearing=270, distance="20 m", height="10 m", width="100 m", leaf="evergreen"}]'
    ledger = losses_of(load_job("demo", ["weather.file=sample:clear-spring-day", west]))
    assert ledger.steps[STEP["later still behind trees"]].lost == Worth(0, 0)
    assert ledger.steps[STEP["trees and hills: beam"]].lost.energy_kwh > 0.1


def test_a_controller_without_limits_leaves_the_wire_and_its_efficiency_alone() -> None:
    curve = ['controller.efficiency_load="10 25 50 100 %"', 'controller.efficiency_curve="70 85 92 94 %"']
    job = load_job("demo", curve)
    free = mended(job, ("controller limits and start",))
    power = np.linspace(0, 1000, 40)
    assert controller_w(free, power) == pytest.approx(controller_w(job, power), rel=1e-9)
    output = np.linspace(10, 900, 40)
    assert motor_side_loss_w(free, output) == pytest.approx(motor_side_loss_w(job, output), rel=1e-9)
    assert controller_w(free, np.array([3000.0])) > 1900
    assert (free.controller.start_w, free.controller.lowest_v, free.controller.highest_v) == (0, 0, None)


def test_a_new_pipe_is_never_worse_than_today() -> None:
    old, good = (load_job("demo", [f"pipes.c_value={c}"]).pipes[0] for c in (90, 158))
    steel = load_job("demo", ["pipes.c_value=60", 'pipes.material="steel"']).pipes[0]
    assert [new_c(pipe) for pipe in (old, good, steel)] == [150, 158, 140]


def test_energy_is_what_the_motor_takes_while_it_gives_water(demo: Ledger) -> None:
    result = demo.result
    flow, power = result.minutes["flow_m3_s"], result.minutes["input_w"]
    reached = motor_w(demo.job, power[flow > 0]).sum() / 60_000
    assert 0.5 * reached < demo.own.energy_kwh <= reached
    weak = simulate(load_job("demo", ["source.lift=600 ft"]), **DAYS)
    assert weak.water_m3 == 0
    assert motor_kwh(weak) == 0


def test_units_on_unlike_racks_are_told_in_one_sentence() -> None:
    job = parse_job(demo_text() + ALIKE + 'rack = {kind = "fixed"}\n')
    with pytest.raises(InputError, match="racks of their own") as refused:
        losses_of(job, **DAYS)
    assert [fault.field for fault in refused.value.faults] == ["unit"]


def test_gains_are_named_as_gains(demo: Ledger, others: dict[str, Ledger]) -> None:
    assert show_losses.gain_words(demo) == "" or "gain" in show_losses.gain_words(demo)
    for ledger in (demo, *others.values()):
        for step in ledger.steps:
            if step.lost.energy_kwh < -0.5:
                assert step.cause in show_losses.gain_words(ledger).lower()
    better = replace(demo.steps[3], lost=Worth(-1.0, -2.0))
    steps: tuple[Step, ...] = (*demo.steps[:3], better, *demo.steps[4:])
    gained = replace(demo, steps=steps)
    assert show_losses.gain_words(gained) == "Trees and hills: beam is a gain here, not a loss."
    assert dict((row[0], row[1]) for row in show_losses.losses_rows(gained, "us"))["trees and hills: beam"] == "+66"
    assert len(show_losses.losses_figure(gained, "us").axes[0].get_legend().get_texts()) == 2


def test_words_table_and_picture_tell_the_same(demo: Ledger) -> None:
    rows = show_losses.losses_rows(demo, "us")
    ideal, own = (shown for shown in (rows[0][1], rows[-1][1]))
    alt = show_losses.losses_alt(demo, "us")
    assert ideal in alt
    assert own in alt
    axes = show_losses.losses_figure(demo, "us").axes[0]
    texts = {text.get_text().strip() for text in axes.texts}
    assert {ideal, own} <= texts
    assert [label.get_text() for label in axes.get_yticklabels()] == [row[0] for row in rows if row[1] != "–"]
    assert any(patch.get_hatch() for patch in axes.patches)
    largest = max(demo.steps, key=lambda step: step.alone.water_m3)
    assert largest.cause in show_losses.closing_words(demo, "us")
    assert len(ELECTRICAL) == 6


def test_a_pump_that_never_lifts_is_told_so() -> None:
    ledger = account("source.lift=600 ft")
    assert "no water even at an ideal site" in show_losses.losses_sentence(ledger, "us")
    assert show_losses.losses_figure(ledger, "us").axes
    assert isinstance(ledger.job, Job)


def test_a_mended_flip_and_pointing_together_make_an_ideal_rack(demo: Ledger) -> None:
    """Until arrival a mended rack points as an ideal one, from then on as it does; the two halves fit together."""
    ideal = motor_kwh(simulate(load_job("demo", ["rack.kind=ideal"]), **DAYS))
    flip, trees, pointing = (demo.steps[n].alone.energy_kwh for n in (0, 1, 2))
    assert flip + pointing == pytest.approx(ideal - demo.own.energy_kwh, rel=0.02)
    assert flip > trees > 0.05
    assert flip > 5 * abs(pointing)
