"""The runner: what a change cannot touch is not worked out again, and what is shared equals what is fresh."""

from __future__ import annotations

import datetime as dt
import threading
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from trackersim import InputError, Job, Result, compare, load_job, simulate
from trackersim.job.files import with_overrides
from trackersim.job.rack import _TURNED_BY, Rack
from trackersim.quantity_reading import without_unit
from trackersim.simulation.reuse import StageCache
from trackersim.simulation.runner import CancelledError, Runner, on_rack
from trackersim.simulation.scene import make_scene
from trackersim.simulation.tickets import Queue, holding

DAYS = {"first_day": dt.date(2025, 3, 20), "last_day": dt.date(2025, 3, 21)}
THREE = Path(__file__).parents[1] / "saved_jobs" / "three_pumps.toml"
SUMP = THREE.with_name("sump.toml")

# For each section of a job, changes of its fields that a simulation could read, and of those that it reads nowhere.
CHANGES: dict[str, dict[str, Any]] = {
    "site": {
        "site.name": "elsewhere", "site.latitude": 36.4, "site.longitude": -79.0, "site.elevation": 700,
        "site.utc_offset": -4, "site.timezone": "America/Chicago", "site.design_low": -40, "site.ground_albedo": 0.5,
        "site.slope": 12, "site.downhill": 300, "site.magnetic_declination": 9,
    },
    "weather": {
        "weather.file": "sample:clear-spring-day", "weather.year": 2024, "weather.seed": 1, "weather.minutes": "smooth",
    },
    "horizon": {"horizon.points": [[80, 12], [120, 15]]},
    "trees": {"trees": [], "trees.0.height": "50 ft", "trees.0.beam_bare": 0.9, "trees.1.bearing_from": "magnetic"},
    "rack": {
        "rack.kind": "thermal", "rack.axis_tilt": 10, "rack.axis_azimuth": 160, "rack.max_rotation": 40,
        "rack.height": "12 ft", "rack.flip_delay": 90, "rack.turning": 40, "rack.lag": 8,
    },
    "array": {
        "array.age_years": 0, "array.soiling": 0.2, "array.mismatch": 0.05, "array.isc_per_k": 0.001,
        "array.layout.strung_by": "columns", "array.layout.gap_across": "12 in", "array.faiman_u0": 20,
        "array.bypass_diodes": 1,
    },
    "wire": {"wire": [], "wire.0.gauge": "14 AWG", "wire.1.length": "400 ft"},
    "controller": {
        "controller.start": "400 W", "controller.stop": "100 W", "controller.efficiency": 0.8,
        "controller.track_high": "66 V", "controller.rated": "500 W", "controller.max_input": "130 V",
    },
    "pump": {"pump.head_lost": 0.2, "pump.max_speed": 0.9, "pump.cutout_flow": "4 gpm", "pump.cutout_tries": 1},
    "pipes": {"pipes.c_value": 70, "pipes.length": "900 ft"},
    "source": {"source.lift": "150 ft", "source.specific_capacity": "0.3 gpm/ft"},
    "store": {"store.capacity": "1000 gal", "store.demand": "900 gal/day"},
    "money": {"money.price_of_water": 3},
    "backup": {"backup.power": "800 W", "backup.when": "dull"},
}  # fmt: skip
CASES = [(section, key) for section, fields in CHANGES.items() for key in fields]


def same(one: Result, other: Result) -> bool:
    """Whether two results are the same, byte for byte."""
    arrays = all(np.array_equal(one.minutes[name], other.minutes[name]) for name in other.minutes)
    water = [(getattr(each.water, name)) for each in (one, other) for name in ("starts", "cutouts", "running")]
    return (
        arrays
        and all(np.array_equal(a, b) for a, b in zip(water[:3], water[3:], strict=True))
        and one.summary() == other.summary()
        and one.job == other.job
        and one.coldest_c == other.coldest_c
        and all(np.array_equal(getattr(one.morning, n), getattr(other.morning, n)) for n in vars(other.morning))
    )


@pytest.fixture(scope="module")
def warm() -> Runner:
    """A runner that has already simulated the demo on every rack, and one thing of each section changed."""
    runner = Runner(load_job("demo"), **DAYS)
    runner.racks()
    return runner


def test_every_section_of_a_job_is_tried() -> None:
    assert set(CHANGES) | {"main", "unit", "option"} == set(Job.model_fields)


@pytest.mark.parametrize(("section", "key"), CASES)
def test_shared_equals_fresh(warm: Runner, section: str, key: str) -> None:
    changed = with_overrides(warm.job, {key: CHANGES[section][key]})
    days = {} if key == "weather.file" else DAYS
    if days:
        assert same(warm.run(changed), simulate(changed, **days))
        assert same(warm.run(), simulate(warm.job, **days))  # and the change has left nothing behind
    else:
        runner = Runner(warm.job)
        runner.run()
        assert same(runner.run(changed), simulate(changed))


@pytest.mark.parametrize(
    "changes",
    [
        {"unit.1.array.in_parallel": 2, "unit.1.array.layout.rows": 2}, {"unit.0.source.lift": "100 ft"},
        {"unit.2.source.inflow": "900 gal/day"}, {"main.lift": "60 ft"}, {"unit.2.rack.fixed_tilt": 50},
        {"unit.0.pump.head_lost": 0.3}, {"store.capacity": None},
    ],
)  # fmt: skip
def test_shared_equals_fresh_with_three_pumps(changes: dict[str, Any]) -> None:
    runner = Runner(load_job(THREE), **DAYS)
    runner.run()
    changed = with_overrides(runner.job, changes)
    assert same(runner.run(changed), simulate(changed, **DAYS))


@pytest.mark.parametrize(
    "changes",
    [{"source.inflow": "400 gal/day"}, {"source.volume": "300 gal"}, {"source.low_stop": 0.4, "source.restart": 0.9}],
)
def test_shared_equals_fresh_at_a_sump(changes: dict[str, Any]) -> None:
    runner = Runner(load_job(SUMP), **DAYS)
    runner.run()
    changed = with_overrides(runner.job, changes)
    assert same(runner.run(changed), simulate(changed, **DAYS))


def made_by(runner: Runner, job: Job) -> set[str]:
    """The stages that a run of `job` works out anew."""
    before = runner.made
    runner.run(job)
    return {stage for stage, count in runner.made.items() if count > before[stage]}


@pytest.mark.parametrize(
    ("changes", "stages"),
    [
        ({"money.price_of_water": 3}, set()),
        ({"site.name": "elsewhere"}, set()),
        ({"site.design_low": -30}, set()),
        ({"rack.flip_delay": 95}, {"tracking", "generation", "water"}),
        ({"store.demand": "900 gal/day"}, {"water"}),
        ({"pump.head_lost": 0.1}, {"pump station", "water"}),
        ({"array.soiling": 0.1}, {"modules", "generation", "water"}),
        (
            {"trees.0.height": "20 ft"},
            {"scene", "sky view", "rising light", "tracking", "modules", "generation", "water"},
        ),
    ],
)
def test_a_change_works_out_only_what_it_can_touch(changes: dict[str, Any], stages: set[str]) -> None:
    runner = Runner(load_job("demo"), **DAYS)
    runner.racks(["delayed", "ideal"])
    assert made_by(runner, with_overrides(runner.job, changes)) == stages


def test_another_draw_of_the_clouds_takes_sun_and_joined_light_that_are_there() -> None:
    runner = Runner(load_job("demo"), **DAYS)
    runner.run()
    for changes in ({"weather.seed": 1}, {"weather.minutes": "smooth"}):
        made = made_by(runner, with_overrides(runner.job, changes))
        assert "place" in made
        assert not made & {"sun", "joined light"}


def test_another_delay_leaves_the_other_racks_as_they_are() -> None:
    runner = Runner(load_job("demo"), **DAYS)
    runner.racks()
    later = with_overrides(runner.job, {"rack.flip_delay": 120})
    for kind in ("fixed", "thermal", "ideal"):
        assert made_by(runner, on_rack(later, kind)) == set()


# All of a rack but its kind and its log, changed.
RACK_NUMBERS: dict[str, Any] = {
    "axis_tilt_deg": 10, "axis_azimuth_deg": 160, "max_rotation_deg": 40, "height_m": "12 ft", "fixed_tilt_deg": 40,
    "fixed_azimuth_deg": 200, "fixed_rotation_deg": 20, "flip_delay_min": 90, "watched": {"air": "20 F"},
    "flip_threshold_w_m2": 150, "flip_dose_kj_m2": 100, "flip_mornings": 3, "turning_min": 40, "lag_deg": 8,
    "thermal": {"charge": 0.6, "stuck_at": 10},
}  # fmt: skip
OF_THE_AXIS = {"axis_tilt_deg", "axis_azimuth_deg", "fixed_tilt_deg", "fixed_azimuth_deg"}


@pytest.mark.parametrize("kind", ["fixed", "delayed", "thermal", "ideal"])
def test_a_rack_s_numbers_of_another_kind_are_not_read(warm: Runner, kind: str) -> None:
    """All that the key of its tracking leaves out changes nothing, neither warm nor cold."""
    assert set(RACK_NUMBERS) == set(Rack.model_fields) - {"kind", "log"}
    own = set(_TURNED_BY[kind]) | OF_THE_AXIS  # type: ignore[index]
    usual = on_rack(warm.job, kind)
    rest = {f"rack.{without_unit(name)}": value for name, value in RACK_NUMBERS.items() if name not in own}
    changed = with_overrides(usual, rest)
    assert changed.rack != usual.rack
    fresh, as_it_was = simulate(changed, **DAYS), simulate(usual, **DAYS)
    assert same(warm.run(changed), fresh)
    assert all(np.array_equal(fresh.minutes[name], as_it_was.minutes[name]) for name in fresh.minutes)


def test_a_stage_wanted_twice_at_once_is_worked_out_once() -> None:
    cache, begun, go = StageCache(), threading.Event(), threading.Event()

    def slow() -> str:
        begun.set()
        assert go.wait(10)
        return "found"

    found: list[str] = []
    threads = [threading.Thread(target=lambda: found.append(cache.get("place", 1, slow))) for _ in range(3)]
    for thread in threads:
        thread.start()
    assert begun.wait(10)
    go.set()
    for thread in threads:
        thread.join(10)
    assert found == ["found"] * 3
    assert cache.made["place"] == 1


def test_what_fails_is_not_kept() -> None:
    cache = StageCache()
    with pytest.raises(ZeroDivisionError):
        cache.get("place", 1, lambda: 1 / 0)
    assert cache.get("place", 1, lambda: "found") == "found"


def test_the_cache_is_bounded_by_the_arrays_that_it_holds() -> None:
    cache = StageCache(most_bytes=2_000)
    for key in (1, 2, 1, 3):
        cache.get("place", key, lambda: np.zeros(100))  # 800 bytes
    made = cache.made["place"]
    cache.get("place", 1, object)  # used last but one: still there
    assert cache.made["place"] == made
    cache.get("place", 2, object)  # the least used: forgotten
    assert cache.made["place"] == made + 1
    for key in range(50):
        cache.get("place", (key,), lambda: {"a": [np.zeros(100)], "b": np.zeros(20)[:3]})
        assert 0 < cache.held_bytes <= 2_000


def test_what_cannot_be_counted_leaves_nobody_waiting() -> None:
    """Once wrong: whoever asked for it next would have waited for ever."""

    class Uncounted:
        @property
        def __dict__(self) -> dict[str, object]:  # type: ignore[override]
            raise RuntimeError("changed while it was looked through")

    cache, found = StageCache(), []
    with pytest.raises(RuntimeError):
        cache.get("stage", 1, Uncounted)
    later = threading.Thread(target=lambda: found.append(cache.get("stage", 1, lambda: "again")), daemon=True)
    later.start()
    later.join(10)
    assert found == ["again"]


def test_what_is_too_large_is_not_kept() -> None:
    cache = StageCache(most_bytes=2_000)
    assert len(cache.get("place", 1, lambda: np.zeros(1_000))) == 1_000
    assert cache.held_bytes == 0


def test_an_array_in_two_outputs_is_held_once() -> None:
    cache, shared = StageCache(most_bytes=2_000), np.zeros(200)
    cache.get("place", 1, lambda: (shared, 1))
    cache.get("scene", 1, lambda: {"place": shared.reshape(20, 10)})
    assert cache.held_bytes == 1_600
    cache.get("scene", 1, lambda: pytest.fail("it was kept"))
    cache.get("place", 1, lambda: pytest.fail("it was kept"))


def test_what_is_counted_is_what_is_held() -> None:
    """Outputs that share arrays come and go; the cache counts by itself what is counted here anew."""
    cache, chance = StageCache(most_bytes=20_000), np.random.default_rng(1)
    pool = [np.zeros(size) for size in chance.integers(10, 400, size=30)]
    for key in range(300):
        cache.get("place", key, lambda: [pool[number] for number in chance.integers(0, 30, size=3)])
        cache.get("scene", int(chance.integers(0, key + 1)), lambda: np.zeros(int(chance.integers(1, 500))))
        assert cache.held_bytes == cache._bytes <= 20_000
    assert cache.held_bytes > 10_000


def test_many_jobs_are_held_within_the_bound() -> None:
    """What simulations leave behind is bounded, whatever they were of; a second look at the last one is free."""
    cache = StageCache(most_bytes=3_000_000)
    job = load_job("demo")
    held = []
    for number in range(8):
        other = with_overrides(job, {"site.latitude": 35 + number / 10, "rack.flip_delay": 30 + number})
        runner = Runner(other, **DAYS, cache=cache)
        runner.run()
        held.append(cache.held_bytes)
    assert max(held) <= 3_000_000
    assert min(held[3:]) > 1_000_000  # and it keeps something
    assert made_by(runner, other) == set()


def test_called_off_elsewhere_is_worked_out_here() -> None:
    """Two want one output: what ends the first, such as a visitor who leaves, does not end the second."""
    cache, begun, go = StageCache(), threading.Event(), threading.Event()

    def called_off() -> str:
        begun.set()
        assert go.wait(10)
        raise CancelledError

    def first() -> None:
        with pytest.raises(CancelledError):
            cache.get("place", 1, called_off)

    found: list[str] = []
    one = threading.Thread(target=first)
    other = threading.Thread(target=lambda: found.append(cache.get("place", 1, lambda: "found")))
    one.start()
    assert begun.wait(10)
    other.start()
    go.set()
    one.join(10)
    other.join(10)
    assert found == ["found"]


def test_a_run_can_be_called_off() -> None:
    stop = threading.Event()
    runner = Runner(load_job("demo"), **DAYS, cancelled=stop.is_set)
    assert runner.run().water_m3 > 0
    stop.set()
    with pytest.raises(CancelledError):
        runner.run()


def test_no_more_simulations_at_once_than_there_are_places(monkeypatch: pytest.MonkeyPatch) -> None:
    from trackersim.simulation import runner as module

    at_once, most, lock = 0, 0, threading.Lock()
    inner = module.track

    def counted(*args: Any, **kwargs: Any) -> Any:
        nonlocal at_once, most
        with lock:
            at_once += 1
            most = max(most, at_once)
        try:
            return inner(*args, **kwargs)
        finally:
            with lock:
                at_once -= 1

    monkeypatch.setattr(module, "QUEUE", Queue(1))
    monkeypatch.setattr(module, "track", counted)
    runner = Runner(load_job("demo"), **DAYS)
    runner.run_all([with_overrides(runner.job, {"rack.flip_delay": n}) for n in range(30, 36)])
    assert most == 1


def test_simulations_queue_with_the_question_they_belong_to(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of two questions that wait, the one asked first is worked on to its end, whichever thread came first."""
    from trackersim.simulation import runner as module

    queue, worked, inner = Queue(1), [], module.track
    monkeypatch.setattr(module, "QUEUE", queue)
    monkeypatch.setattr(module, "track", lambda unit, *a, **k: (worked.append(unit.site.name), inner(unit, *a, **k))[1])
    asked = {"first": queue.new(), "second": queue.new()}

    def ask(name: str) -> None:
        with holding(asked[name]):
            runner = Runner(with_overrides(load_job("demo"), {"site.name": name}), **DAYS, threads=2)
        runner.run_all([with_overrides(runner.job, {"rack.flip_delay": n}) for n in (40, 41, 42)])

    threads = [threading.Thread(target=ask, args=(name,)) for name in ("second", "first")]
    with queue.place(queue.new()):
        for number, thread in enumerate(threads, start=1):
            thread.start()
            while len(queue._waiting) < 2 * number:
                time.sleep(0.002)
    for thread in threads:
        thread.join(30)
    assert worked == ["first"] * 3 + ["second"] * 3


def test_units_on_racks_of_their_own_are_simulated_as_they_stand() -> None:
    """The job's own kind of rack is what stands there, even where one unit has another."""
    runner = Runner(load_job(THREE), **DAYS)
    kind = runner.job.rack.kind
    assert {unit.rack.kind for unit in runner.job.units} > {kind}
    own = runner.racks([kind])[kind]
    assert own.water_m3 == runner.run().water_m3
    assert own.water_m3 != runner.run(on_rack(runner.job, kind)).water_m3


def test_what_contradicts_itself_or_is_no_job_is_refused() -> None:
    job = load_job("demo")
    scene = Runner(job, **DAYS).scene()
    with pytest.raises(InputError, match="has its own weather and days"):
        simulate(job, scene=scene, **DAYS)
    with pytest.raises(InputError, match="is no scene"):
        simulate(job, scene=3)  # type: ignore[arg-type]
    with pytest.raises(InputError, match="is no job"):
        simulate("demo")  # type: ignore[arg-type]
    with pytest.raises(InputError, match="is no job"):
        Runner(job, **DAYS).run("demo")  # type: ignore[arg-type]
    with pytest.raises(InputError, match="is no list of kinds of rack"):
        compare(job, kinds=3, **DAYS)  # type: ignore[arg-type]


@pytest.mark.parametrize("changed", ["site.latitude=40", "site.longitude=-80", "site.elevation=1000", "site.timezone="])
def test_the_scene_of_another_site_is_refused(changed: str) -> None:
    """It gave the other site's answer under the hash of this job."""
    job = load_job("demo")
    other = load_job("demo", [changed, "site.utc_offset=-6"] if changed == "site.timezone=" else [changed])
    with pytest.raises(InputError, match="is of another site"):
        simulate(job, scene=make_scene(other, **DAYS))


def test_a_scene_with_other_trees_is_asked_about_on_purpose() -> None:
    job = load_job("demo")
    bare = make_scene(with_overrides(job, {"trees": []}), **DAYS)
    assert simulate(job, scene=bare).water_m3 > simulate(job, **DAYS).water_m3


def test_nobody_writes_into_what_runs_share() -> None:
    """Whoever wrote into an array of `result.stages` changed every later result of that runner."""
    runner = Runner(load_job("demo", ["rack.kind=thermal"]), **DAYS)
    result = runner.run()
    scene, (tracking,), (given,) = result.stages
    shared = (scene.beam_share, scene.light.beam_w_m2, scene.weather.dni_w_m2, scene.sun.direction,
              scene.crowns[0].transmittance_by_day, tracking.rotation_deg, tracking.orientation.reach,
              given.power.input_w, given.light.plane_w_m2, given.cell_c, result.water.flow_m3_s,
              next(iter(result.water.stops.values())), result.morning.flip, result.canisters.west_kg)  # fmt: skip
    for values in shared:
        with pytest.raises(ValueError, match="read-only"):
            values[...] = 0
    changed = with_overrides(runner.job, {"controller.start": "400 W"})
    assert same(runner.run(changed), simulate(changed, **DAYS))
