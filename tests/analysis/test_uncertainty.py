"""The spread of the figures: the same from any number of processes, every input really varied, ties are ties."""

from __future__ import annotations

import datetime as dt
import json
import multiprocessing
import os
import signal
import subprocess
import sys
import time
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from kept_draws import read_kept

from trackersim import Job, load_job, simulate
from trackersim.analysis.sample_file import KEPT_FILE
from trackersim.analysis.uncertain_inputs import (
    UNKNOWNS,
    Draw,
    Unknown,
    acting,
    cut_at,
    draw_of,
    ends_of,
    in_light,
    likely_draw,
    room_for_beam,
    varied,
)
from trackersim.analysis.uncertainty import AS_IT_IS, Beats, Figures, Spread, figures_of, rack_variants, spread
from trackersim.errors import InputError
from trackersim.job.files import with_overrides
from trackersim.job.ranges import range_of
from trackersim.job.whole_files import MARK
from trackersim.report.uncertainty import cut_words, spread_sentence, spread_table
from trackersim.simulation.processes import shared_out
from trackersim.simulation.scene import make_scene
from trackersim.sky.irradiance import SkyLight
from trackersim.weather.clearsky import clear_sky

FIRST, LAST = dt.date(2025, 3, 19), dt.date(2025, 3, 22)
DRAWS = 40
DRAWN = [unknown for unknown in UNKNOWNS if unknown.how in ("factor", "added")]


@pytest.fixture(scope="module")
def demo() -> Job:
    return load_job("demo")


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("kept")


@pytest.fixture(scope="module")
def two_workers(demo: Job, kept: Path) -> Spread:
    variants = {"itself": demo, "ideal": with_overrides(demo, {"rack.kind": "ideal"})}
    return spread(demo, variants, draws=DRAWS, seed=7, first_day=FIRST, last_day=LAST, workers=2, keep=kept)


def test_one_worker_and_two_give_the_same_to_the_last_digit(
    demo: Job, two_workers: Spread, tmp_path: Path, kept: Path
) -> None:
    variants = {name: job for name, job in two_workers.variants.items() if name != AS_IT_IS}
    alone = spread(demo, variants, draws=8, seed=7, first_day=FIRST, last_day=LAST, workers=1, keep=tmp_path)
    assert alone.draws == two_workers.draws[:8]  # fewer draws are the first of more
    assert alone.likely == two_workers.likely
    ours, theirs = ((folder / KEPT_FILE).read_text().splitlines()[1:10] for folder in (tmp_path, kept))
    assert ours == theirs


def test_another_seed_gives_other_figures(demo: Job, two_workers: Spread) -> None:
    other = spread(demo, draws=2, seed=8, first_day=FIRST, last_day=LAST, workers=1)
    assert other.likely[AS_IT_IS] == two_workers.likely[AS_IT_IS]
    assert all(mine[AS_IT_IS] != theirs[AS_IT_IS] for mine, theirs in zip(other.draws, two_workers.draws, strict=False))


def test_the_likely_run_is_the_plain_simulation(demo: Job, two_workers: Spread) -> None:
    plain = simulate(demo, first_day=FIRST, last_day=LAST)
    assert two_workers.likely[AS_IT_IS] == figures_of(plain)
    assert two_workers.likely[AS_IT_IS].m3_per_day == pytest.approx(plain.water_m3_per_day, rel=1e-12)


def test_the_median_is_near_the_likely_figure_and_the_ends_are_not(two_workers: Spread) -> None:
    band = two_workers.band(AS_IT_IS, "m3_per_day")
    assert band is not None
    assert band.middle == pytest.approx(band.likely, rel=0.05)
    assert band.low < 0.97 * band.likely
    assert band.high > 1.02 * band.likely


def test_a_variant_equal_to_the_job_beats_it_never(two_workers: Spread) -> None:
    for headline in ("m3_per_day", "worst_m3_per_day", "short_days"):
        assert two_workers.beats("itself", headline) == Beats(more=0, same=DRAWS, less=0)
    ideal = two_workers.beats("ideal")
    assert ideal is not None
    assert ideal.share > 0.9


def test_a_draw_belongs_to_seed_and_number_alone() -> None:
    assert draw_of(3, 5) == draw_of(3, 5)
    assert len({draw_of(seed, number).light_by_month for seed in (1, 2) for number in (1, 2, 3)}) == 6


@pytest.mark.parametrize("unknown", DRAWN, ids=lambda unknown: unknown.name)
def test_every_unknown_is_drawn_over_its_range_with_its_likely_value_in_the_middle(unknown: Unknown) -> None:
    values = np.array([draw_of(1, number).values[unknown.name] for number in range(1, 401)])
    assert unknown.least <= values.min() <= unknown.least + 0.1 * (unknown.most - unknown.least)
    assert unknown.most - 0.1 * (unknown.most - unknown.least) <= values.max() <= unknown.most
    assert 160 <= (values < unknown.likely).sum() <= 240


def test_light_varies_by_year_and_month_as_stated() -> None:
    factors = np.array([draw_of(1, number).light_by_month for number in range(1, 801)])
    assert factors.mean() == pytest.approx(1.0, abs=0.005)
    assert factors.mean(axis=1).std() == pytest.approx(np.sqrt(2 * 0.03**2 + 0.09**2 / 12), rel=0.12)
    assert factors.std() == pytest.approx(np.sqrt(2 * 0.03**2 + 0.09**2), rel=0.08)


def _one_moved(name: str, value: float) -> Draw:
    likely = likely_draw()
    return replace(likely, number=1, values={**likely.values, name: value})


@pytest.fixture(scope="module")
def spring(demo: Job) -> Job:
    """A job at which everything matters within two days: half-open leaves, a thermal rack with play, an old array."""
    return with_overrides(
        demo, {"trees.0.leaf_on": "04-03", "trees.0.leaf_off": "11-05", "rack.thermal.pivot_friction_nm": 20}
    )


SPRING_DAYS = {"first_day": dt.date(2025, 3, 25), "last_day": dt.date(2025, 3, 28)}


@pytest.fixture(scope="module")
def spring_m3(spring: Job) -> dict[str, float]:
    """Water of that job by its kind of rack."""
    kinds = ("thermal", "delayed")
    return {kind: simulate(with_overrides(spring, {"rack.kind": kind}), **SPRING_DAYS).water_m3 for kind in kinds}


@pytest.mark.parametrize("unknown", DRAWN, ids=lambda unknown: unknown.name)
def test_every_unknown_changes_the_water(spring: Job, spring_m3: dict[str, float], unknown: Unknown) -> None:
    kind = "thermal" if unknown.group == "thermal" else "delayed"
    job = with_overrides(spring, {"rack.kind": kind})
    end = unknown.least if unknown.least != unknown.likely else unknown.most
    moved = varied(job, _one_moved(unknown.name, end if unknown.name != "pump_wear" else unknown.most))
    assert moved != job
    assert unknown in acting(job)
    assert simulate(moved, **SPRING_DAYS).water_m3 != spring_m3[kind]


def test_what_a_job_lacks_is_not_said_to_vary(demo: Job) -> None:
    bare = with_overrides(demo, {"trees": [], "array.age_years": 0, "rack.kind": "ideal", "weather.file": "",
                                 "weather.clear_sky": True})  # fmt: skip
    assert {unknown.group for unknown in acting(bare)} == {"pipe", "pump", "lift", "dirt", "label"}
    assert acting(demo) != acting(bare)


def test_draws_stay_within_the_ranges_of_the_fields(demo: Job) -> None:
    edge = with_overrides(demo, {"trees.0.transmittance_leaf_on": 0.9, "rack.lag": 0, "pipes.0.c_value": 158})
    for number in range(1, 30):
        drawn = varied(edge, draw_of(2, number))  # an override out of range would raise
        assert drawn.trees[0].transmittance_leaf_on <= 1
        assert drawn.pipes[0].c_now <= range_of("pipes.0.c_value").high


def test_every_unit_varies_about_its_own_values(demo: Job) -> None:
    unit = demo.model_dump(mode="json", by_alias=True, exclude_none=True)
    units = [{key: unit[key] for key in ("array", "controller", "pump", "pipes", "source", "rack")} for _ in range(2)]
    both = with_overrides(demo, {"unit": units, "main": {"lift": 1, "pipes": [{"length": 10, "bore": 0.04}]}})
    both = with_overrides(both, {"unit.1.array.loss_per_year": 0.012})
    drawn = varied(both, _one_moved("loss_per_year", 1.5))
    assert [one.array.loss_per_year for one in drawn.units] == pytest.approx([0.009, 0.018])
    assert varied(both, _one_moved("c_value", 0.95)).main.pipes[0].c_now == pytest.approx(0.95 * 140)  # type: ignore[union-attr]


def test_a_lift_of_every_month_is_drawn_as_one(demo: Job) -> None:
    months = [20.0 + month for month in range(12)]
    job = with_overrides(demo, {"source.lift_by_month": months})
    drawn = varied(job, _one_moved("lift_height", 1.05))
    assert drawn.source.lifts_m == pytest.approx([1.05 * lift for lift in months])
    assert varied(demo, _one_moved("lift_height", 1.05)).source.lift_m == pytest.approx(1.05 * demo.source.lift_m)


def test_a_months_light_comes_out_as_drawn_and_no_beam_beats_a_clear_sky(demo: Job) -> None:
    scene = make_scene(demo, first_day=dt.date(2025, 1, 25), last_day=dt.date(2025, 2, 6))
    room = room_for_beam(demo, scene)
    month = np.asarray(scene.weather.times.month)
    for factor in (0.75, 0.97, 1.08, 1.25):
        lit = in_light(scene, replace(likely_draw(), number=1, light_by_month=(factor, 2 - factor) + (1.0,) * 10), room)
        for number, wanted in ((1, factor), (2, 2 - factor)):
            here = month == number
            assert lit.weather.ghi_w_m2[here].sum() == pytest.approx(
                wanted * scene.weather.ghi_w_m2[here].sum(), rel=2e-3
            )
        clear = clear_sky(scene.weather.times, scene.sun, latitude_deg=36.10, longitude_deg=-79.95,
                          elevation_m=demo.site.elevation_m).dni_w_m2[scene.up]  # fmt: skip
        assert (lit.light.beam_w_m2 <= np.maximum(clear, scene.light.beam_w_m2) + 1e-9).all()
        assert all((part >= 0).all() for part in (lit.light.beam_w_m2, lit.light.isotropic_w_m2, lit.weather.dhi_w_m2))


def test_the_split_sky_is_as_bright_as_drawn_in_dull_months_as_in_bright_ones(demo: Job) -> None:
    """The glow beside the sun goes with it in a dull month: it counts among what the month loses."""
    scene = make_scene(demo, first_day=dt.date(2025, 6, 1), last_day=dt.date(2025, 6, 10))
    room, up = room_for_beam(demo, scene), scene.up_direction[2]

    def level_w_m2(light: SkyLight) -> float:
        return float((light.isotropic_w_m2 + (light.beam_w_m2 + light.circumsolar_w_m2) * up).sum())

    for factor in (0.6, 0.9, 0.99, 1.01, 1.1, 1.5):
        lit = in_light(scene, replace(likely_draw(), number=1, light_by_month=(factor,) * 12), room)
        assert level_w_m2(lit.light) == pytest.approx(factor * level_w_m2(scene.light), rel=1e-3)
        assert lit.weather.ghi_w_m2.sum() == pytest.approx(factor * scene.weather.ghi_w_m2.sum(), rel=1e-3)


def test_bands_and_wins_of_made_up_figures(demo: Job) -> None:
    def at(water: float, short: int) -> Figures:
        return Figures(days=31, m3_per_day=water, by_month_m3_per_day=(water, *(None,) * 11), short_days=short,
                       used_m3_per_day=water, bought_kwh_per_day=0.0)  # fmt: skip

    draws = tuple({AS_IT_IS: at(float(n), 20 - n), "other": at(max(float(n), 4.0), 20 - n)} for n in range(11))
    found = Spread(job=demo, seed=1, asked=20, days=31, stopped=True, variants={AS_IT_IS: demo, "other": demo},
                   likely=draws[5], draws=draws)  # fmt: skip
    band = found.band(AS_IT_IS, "m3_per_day")
    assert band is not None
    assert (band.likely, band.low, band.middle, band.high) == (5, 1, 5, 9)
    assert found.beats("other") == Beats(more=4, same=7, less=0)
    assert found.beats("other", "short_days") == Beats(more=0, same=11, less=0)
    assert found.worst_month(AS_IT_IS) == 1


def test_several_pumps_are_no_one_pump(demo: Job) -> None:
    """A pair of pumps that nobody follows a store of was told as "this pump"."""
    main = {"lift": "10 ft", "pipes": [{"length": "90 ft", "bore": "2 in"}]}
    pair = with_overrides(demo, {"unit": [{"name": "upper"}, {"name": "lower"}], "main": main})
    flat = Figures(days=365, m3_per_day=5.0, by_month_m3_per_day=(5.0,) * 12, short_days=None,
                   used_m3_per_day=5.0, bought_kwh_per_day=0.0)  # fmt: skip
    for job, who in ((pair, "these 2 pumps give between"), (demo, "this pump gives between")):
        found = Spread(job=job, seed=1, asked=1, days=365, stopped=False, variants={AS_IT_IS: job},
                       likely={AS_IT_IS: flat}, draws=({AS_IT_IS: flat},))  # fmt: skip
        assert who in spread_sentence(found, "us")


def test_the_worst_month_is_each_draws_own(demo: Job) -> None:
    """Of a dull year it is another month than of a bright one: the middle of a fixed month is too much to count on."""

    def at(*months: float) -> Mapping[str, Figures]:
        by_month = (*months, *(None,) * (12 - len(months)))
        return {AS_IT_IS: Figures(days=90, m3_per_day=5.0, by_month_m3_per_day=by_month, short_days=None,
                                  used_m3_per_day=5.0, bought_kwh_per_day=0.0)}  # fmt: skip

    draws = (at(4.0, 2.0, 9.0), at(3.0, 2.5, 9.0), at(5.0, 6.0, 1.0), at(1.5, 6.0, 9.0))
    found = Spread(job=demo, seed=1, asked=4, days=365, stopped=False, variants={AS_IT_IS: demo},
                   likely=at(2.0, 3.0, 4.0), draws=draws)  # fmt: skip
    band = found.band(AS_IT_IS, "worst_m3_per_day")
    assert band is not None
    assert (band.likely, band.middle) == (2.0, 1.75)
    assert found.worst_month(AS_IT_IS) == 1
    told = spread_sentence(found, "si")
    assert "In its worst month, whichever that is (January most often), it is between 1.15 and 2.35 m³/day." in told
    assert spread_table(found, "si").rows[1][:2] == ("  worst month", "2.00")


def test_ranges_that_a_fields_limits_cut_are_named(demo: Job) -> None:
    clean = with_overrides(demo, {"array.soiling": 0.01, "rack.lag": 1, "pump.head_lost": 0, "pump.flow_lost": 0.1})
    cut = cut_at(clean)
    assert cut["array.soiling"] == cut["pump.head_lost"] == cut["rack.lag"] == 0
    assert "pump.flow_lost" not in cut
    least, _ = ends_of(clean)
    assert least.array.soiling == 0
    found = Spread(job=clean, seed=1, asked=1, days=1, stopped=False, variants={AS_IT_IS: clean}, likely={}, draws=())
    assert "array.soiling at 0" in cut_words(found, "us")
    assert "rack.lag at 0°" in cut_words(found, "us")
    assert "pump.flow_lost" not in cut_words(found, "us")


def test_without_a_demand_there_are_no_days_short(demo: Job) -> None:
    found = spread(
        with_overrides(demo, {"store.demand": 0}), draws=1, seed=1, first_day=FIRST, last_day=FIRST, workers=1
    )
    assert found.band(AS_IT_IS, "short_days") is None
    assert json.loads(json.dumps(found.summary()))["variants"][0]["short_days"] is None


def test_racks_are_those_the_job_has_not(demo: Job) -> None:
    assert list(rack_variants(demo)) == ["fixed rack", "thermal rack", "ideal rack"]


@pytest.mark.parametrize(("draws", "seed"), [(0, 1), (100_000, 1), (5, -1)])
def test_numbers_out_of_range_are_refused(demo: Job, draws: int, seed: int) -> None:
    with pytest.raises(InputError, match=r"draws|seed"):
        spread(demo, draws=draws, seed=seed)


def test_input_that_shows_itself_impossible_in_a_process_is_told(demo: Job) -> None:
    with pytest.raises(InputError, match="holds no day"):
        spread(demo, draws=4, seed=1, first_day=LAST, last_day=FIRST, workers=2)


def _square_unless_elsewhere(number: int) -> int:
    if multiprocessing.parent_process() is not None:
        os.kill(os.getpid(), signal.SIGKILL)
    return number * number


def test_draws_of_a_process_that_was_killed_are_made_up_for() -> None:
    with shared_out(_square_unless_elsewhere, range(8), workers=3) as answers:
        assert list(answers) == [n * n for n in range(8)]


def _begun(folder: Path, *more: str) -> subprocess.Popen[str]:
    command = [sys.executable, "-m", "trackersim", "spread", "demo", "--draws", "900", "--out", str(folder), *more]
    running = subprocess.Popen(
        [*command, "--from", str(FIRST), "--to", str(LAST)], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        start_new_session=True,
        # Where the tests run in the background, the shell has had Ctrl-C ignored, and children inherit that.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )  # fmt: skip
    until = time.monotonic() + 40
    while time.monotonic() < until and running.poll() is None:
        if any(path.read_text().count("\n") > 5 for path in folder.glob(f"{MARK}*/{KEPT_FILE}")):
            return running
        time.sleep(0.05)
    running.kill()
    raise AssertionError(f"no draws after 40 s: {running.communicate()}")


def test_ctrl_c_half_way_keeps_what_is_done(tmp_path: Path) -> None:
    running = _begun(tmp_path, "--json")
    os.killpg(running.pid, signal.SIGINT)
    told, complaints = running.communicate(timeout=30)
    assert running.returncode == 130, complaints
    assert "Traceback" not in complaints
    summary = json.loads(told)
    about, rows = read_kept(tmp_path)
    assert summary["stopped"]
    assert 3 < summary["draws"] < 900
    assert len(rows) - 1 in (summary["draws"], summary["draws"] + 1)
    assert [row["draw"] for row in rows] == list(range(len(rows)))
    assert about["asked"] == 900
    assert json.loads((tmp_path / "spread.json").read_text()) == summary


def test_a_hard_kill_leaves_the_older_draws_and_no_process(tmp_path: Path) -> None:
    (tmp_path / KEPT_FILE).write_text('{"asked": 3}\n')
    running = _begun(tmp_path)
    running.kill()
    running.communicate(timeout=30)
    assert read_kept(tmp_path) == ({"asked": 3}, [])
    until = time.monotonic() + 20
    while time.monotonic() < until and _alive_in_session(running.pid):
        time.sleep(0.1)
    assert not _alive_in_session(running.pid)


def _alive_in_session(session: int) -> list[str]:
    found = subprocess.run(["ps", "-o", "stat=,pid=", "-s", str(session)], capture_output=True, text=True, check=False)
    return [line for line in found.stdout.splitlines() if line.strip() and not line.strip().startswith("Z")]


def test_a_torn_last_line_is_left_out(tmp_path: Path) -> None:
    (tmp_path / KEPT_FILE).write_text('{"asked": 3}\n{"draw": 0}\n{"dra')
    assert read_kept(tmp_path) == ({"asked": 3}, [{"draw": 0}])


def test_clouds_are_drawn_anew_every_eighth_draw() -> None:
    job = load_job("demo")
    seeds = [varied(job, draw_of(3, number)).weather.seed for number in range(1, 25)]
    assert seeds == [1] * 8 + [2] * 8 + [3] * 8
    assert varied(job, likely_draw()).weather.seed == 0
    assert "clouds" in {unknown.name for unknown in acting(job)}
    smooth = with_overrides(job, {"weather.minutes": "smooth"})
    assert "clouds" not in {unknown.name for unknown in acting(smooth)}
