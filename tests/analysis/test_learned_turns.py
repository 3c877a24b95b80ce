"""Early and late hold racks by physics that were learned from watched mornings, also in air never watched.

Each rack is learned (threshold and dose) from its flips on one or on three clear mornings of March whose haze, air and
wind nobody told, and then asked about ten other mornings behind the same trees: at −20 °F, in wind at 20 °F, at 41 °F,
in haze at 70 °F and at 95 °F, where −20 and 95 °F lie 36 K colder and 28 K warmer than the air on watch.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest
from engine_table import Table, table_of
from test_sampled_turns import BASE, racks

from trackersim import Job, load_job
from trackersim.analysis.calibrated_file import write_learned
from trackersim.analysis.calibration import learn
from trackersim.analysis.flip_check import check_flip
from trackersim.analysis.forward_model import engine_for
from trackersim.analysis.observations import Observation, mornings_behind
from trackersim.analysis.observed_sky import (
    HAZE,
    Air,
    Days,
    Seen,
    SkyWord,
    WindWord,
    air_range_k,
    day_weather,
    days_up_to,
    wind_range_m_s,
    within,
)
from trackersim.analysis.rack_conditions import DAY_TO_DAY_MIN
from trackersim.analysis.rack_draws import scenes_on
from trackersim.analysis.sampled_mornings import RUNS, runs_of
from trackersim.analysis.sampled_turns import (
    EACH,
    LEAST,
    MOST,
    flip_minutes,
    learned_from,
    light_of_runs,
    watched_racks,
)
from trackersim.analysis.untold_air import untold_air
from trackersim.arrays import FloatArray
from trackersim.clock import moment_at, wall_time
from trackersim.job.files import with_overrides
from trackersim.report.flip_check import note_words
from trackersim.simulation import watched
from trackersim.simulation.racks_side_by_side import MorningAir, moves_of
from trackersim.weather.weather import Weather

WATCHED = (dt.date(2025, 3, 18), dt.date(2025, 3, 20), dt.date(2025, 3, 22))
WATCH_MIN = 3.0
JOB = load_job("demo", ["rack.kind=delayed", "weather.file=", "weather.clear_sky=true"])
PAIR = ("rack.flip_threshold", "rack.flip_dose")
COUNT, TIMES = 50, 2  # racks, and mornings of each kind


class Kind(NamedTuple):
    """A kind of morning: its date, and what is told of it."""

    date: dt.date
    air_c: float | None = None
    sky: SkyWord = "clear"
    wind: WindWord = "unknown"

    @property
    def seen(self) -> Seen:
        return Seen(sky=self.sky, wind=self.wind, air_c=self.air_c)


ASKED = {
    "colder": Kind(dt.date(2025, 1, 20), -28.9),
    "windy": Kind(dt.date(2025, 1, 20), -6.7, wind="windy"),
    "like those watched": Kind(dt.date(2025, 10, 10), 5.0),
    "hazy": Kind(dt.date(2025, 6, 21), 21.1, sky="haze"),
    "warmer": Kind(dt.date(2025, 8, 3), 35.0),
}


def seen_flip(date: dt.date, minute: float, row: int) -> Observation:
    moment = moment_at(JOB.site, f"{wall_time(JOB.site, date, round(minute)):%Y-%m-%d %H:%M}")
    return Observation(row=row, what="flip", moment=moment, minute=minute, value=minute, error=WATCH_MIN)


def flips_by_physics(chance: np.random.Generator, kinds: list[Kind]) -> FloatArray:
    """Flips of racks that differ, each on a morning of every kind with haze, air and wind of its own (racks, kinds)."""
    days = [days_up_to(JOB, kind.date, before=0) for kind in kinds]
    names = ("dni_w_m2", "dhi_w_m2", "air_c", "wind_m_s")
    found, made = [], racks(chance, COUNT)
    for some in np.array_split(np.arange(COUNT), 2):
        weather = [[drawn(chance, kind, day) for kind, day in zip(kinds, days, strict=True)] for _ in some]
        air = MorningAir(**{name: np.array([[getattr(day, name) for day in row] for row in weather]) for name in names})
        own = [made[rack].rack for rack in some]
        found.append(moves_of(BASE, own, scenes_on(BASE, days), air, tree_power=np.ones(len(some))).flip)
    return np.concatenate(found)


def drawn(chance: np.random.Generator, kind: Kind, day: Days) -> Weather:
    haze = within(HAZE[kind.sky], chance.random())
    warmer = within(air_range_k(day.usual, kind.seen, 480), chance.random())
    wind = within(wind_range_m_s(day.usual, kind.wind), chance.random())
    return day_weather(day, Air(haze=haze, warmer_k=warmer, wind_m_s=wind))


@cache
def table() -> Table:
    """Of flips on the mornings watched."""
    engine = engine_for(JOB, PAIR, [seen_flip(date, 540.0, row) for row, date in enumerate(WATCHED)])
    grid = np.log(np.geomspace(25, 500, 20)), np.log(np.geomspace(25, 500, 13))
    straight = table_of(JOB, lambda values: engine(np.exp(values)), *grid)  # in logarithms
    return Table(JOB, lambda values: straight(np.log(np.maximum(values, 1.0))))


@cache
def in_drawn_air() -> Callable[[FloatArray], FloatArray]:
    """Flips in the air that nobody told, on the mornings watched."""
    air = untold_air(JOB, PAIR, [seen_flip(date, 540.0, row) for row, date in enumerate(WATCHED)])
    assert air is not None
    grid = np.log(np.geomspace(25, 500, 9)), np.log(np.geomspace(25, 500, 6))
    straight = table_of(JOB, lambda values: air(np.exp(values)), *grid)
    return lambda values: straight(np.log(np.maximum(values, 1.0)))


class Foretold(NamedTuple):
    """Early and late by how many mornings were learned from, and the flips themselves, all (racks, mornings)."""

    early: dict[int, FloatArray]
    late: dict[int, FloatArray]
    flip: FloatArray

    def inside(self, count: int) -> FloatArray:
        """1 where the flip lies between."""
        return ((self.early[count] <= self.flip) & (self.flip <= self.late[count])).astype(float)


@pytest.fixture(scope="module")
def foretold() -> Foretold:
    chance = np.random.default_rng(5)
    flips = flips_by_physics(chance, [*map(Kind, WATCHED), *(kind for kind in ASKED.values() for _ in range(TIMES))])
    told = flips[:, : len(WATCHED)] + chance.normal(0, np.hypot(WATCH_MIN, DAY_TO_DAY_MIN), (COUNT, len(WATCHED)))
    flip = np.nan_to_num(flips[:, len(WATCHED) :], nan=np.inf)
    flip = flip + chance.normal(0, DAY_TO_DAY_MIN, flip.shape)
    lights = [
        light_of_runs(JOB, runs_of(JOB, days_up_to(JOB, kind.date), kind.seen, 480)[1:]) for kind in ASKED.values()
    ]
    early, late = {}, {}
    with pytest.MonkeyPatch.context() as patch:
        answers = table()
        # The morning that stands for those watched is the same for all racks: made once.
        patch.setattr(watched, "_made_morning", cache_of_one(watched._made_morning))
        for count in (1, len(WATCHED)):
            few = Table(JOB, lambda values, count=count: answers(values)[:count])  # type: ignore[misc]
            patch.setattr("trackersim.analysis.calibration.engine_for", lambda job, keys, seen, few=few: few)
            some = lambda values, count=count: in_drawn_air()(values)[:, :count]  # noqa: E731
            patch.setattr("trackersim.analysis.calibration.untold_air", lambda job, keys, seen, some=some: some)
            spans = [spans_of_learned(row[:count], lights) for row in told]
            early[count], late[count] = np.repeat(np.array(spans), TIMES, axis=1).transpose(2, 0, 1)
    return Foretold(early, late, flip)


def cache_of_one(make: Callable[..., object]) -> Callable[..., object]:
    made: list[object] = []
    return lambda *args: made[0] if made else made.append(make(*args)) or made[0]


def spans_of_learned(told: FloatArray, lights: list[watched.RisingLight]) -> list[tuple[float, float]]:
    """Early and late on mornings of every kind, of the rack learned from flips told."""
    seen = [seen_flip(date, minute, row) for row, (date, minute) in enumerate(zip(WATCHED, told, strict=False))]
    may_be = watched_racks(learn(JOB, seen, PAIR).learned_job, RUNS * EACH)
    found = []
    for light in lights:
        turns = flip_minutes(light, may_be)
        early, late = np.quantile(turns, LEAST, method="lower"), np.quantile(turns, MOST, method="higher")
        found.append((float(early), float(late)))
    return found


@pytest.mark.parametrize("count", [1, len(WATCHED)])
def test_nine_of_ten_of_500_mornings_lie_between_early_and_late(foretold: Foretold, count: int) -> None:
    """Measured once on 2,000 others for each count: see the guide, "watched_rack"."""
    inside = foretold.inside(count)
    groups = dict(zip(ASKED, np.split(inside, len(ASKED), axis=1), strict=True))
    shares = {name: round(float(group.mean()), 3) for name, group in groups.items()}
    print(f"learned from {count}: {inside.mean():.3f} of {inside.size}; {shares}")
    assert inside.size == 500
    assert 0.85 <= inside.mean() <= 0.95
    for name, group in groups.items():
        assert 0.80 <= group.mean() <= 0.97, name


def test_as_many_come_sooner_as_later(foretold: Foretold) -> None:
    """The middle of the mornings lies in the middle of what was foretold, and not at one of its ends."""
    for count, early in foretold.early.items():
        late = foretold.late[count]
        with np.errstate(invalid="ignore"):
            places = ((foretold.flip - early) / (late - early))[np.isfinite(late)]
        assert 0.3 < np.median(places) < 0.7


def test_three_mornings_tell_more_than_one(foretold: Foretold) -> None:
    bounded = np.isfinite(foretold.late[1]) & np.isfinite(foretold.late[3])
    widths = {count: np.median((foretold.late[count] - foretold.early[count])[bounded]) for count in (1, 3)}
    print(widths)
    assert 1.15 < widths[1] / widths[3] < 2
    assert 25 < widths[3] < 70


def test_the_table_learns_what_the_engine_does(monkeypatch: pytest.MonkeyPatch) -> None:
    seen = [
        seen_flip(date, minute, row) for row, (date, minute) in enumerate(zip(WATCHED, (455, 470, 462), strict=True))
    ]
    by_engine = learn(JOB, seen, PAIR)
    answers, air = table(), in_drawn_air()
    monkeypatch.setattr("trackersim.analysis.calibration.engine_for", lambda job, keys, seen: answers)
    monkeypatch.setattr("trackersim.analysis.calibration.untold_air", lambda job, keys, seen: air)
    by_table = learn(JOB, seen, PAIR)
    for field, other in zip(by_engine.fields, by_table.fields, strict=True):
        assert other.value == pytest.approx(field.value, rel=0.05)


def learned_job(**rack: float) -> Job:
    return with_overrides(JOB, {"rack.flip_threshold": 130.0, "rack.flip_dose": 150.0,
                                **{f"rack.{key}": value for key, value in rack.items()}})  # fmt: skip


def spread_min(job: Job) -> float:
    """How far early and late lie apart on a clear morning of October."""
    check = check_flip(job, moment_at(job.site, "2025-10-10 09:00"), seen=Seen(sky="clear", air_c=5.0))
    span = check.spans["flip"]
    assert span.early is not None
    assert span.late is not None
    return span.late - span.early


def test_the_more_mornings_the_nearer_early_and_late() -> None:
    widths = [spread_min(learned_job(flip_mornings=count)) for count in (1, 3, 12)]
    print(widths)
    assert widths[0] > widths[1] + 3 > widths[2] + 3


def test_a_job_that_does_not_say_from_how_many_is_taken_as_from_one_and_says_so() -> None:
    old, one = learned_job(), learned_job(flip_mornings=1)
    assert learned_from(old) == 1
    assert spread_min(old) == spread_min(one)
    notes = [" ".join(note_words(check_flip(job, moment_at(JOB.site, "2025-10-10 09:00")), "us")) for job in (old, one)]
    assert "It was learned from 1 morning, since the job does not say from how many" in notes[0]
    assert "It was learned from 1 morning: the fewer" in notes[1]
    assert learned_from(JOB) is None
    assert learned_from(BASE) is None


def test_learn_writes_from_how_many_mornings(tmp_path: Path) -> None:
    """A morning on which both flip and arrival were seen is one; a later delay by hand drops the number."""
    seen = [seen_flip(date, 470.0, row) for row, date in enumerate(WATCHED[:2])]
    seen.append(Observation(**{**vars(seen[0]), "what": "arrival", "value": 490.0, "minute": 490.0}))
    found = learn(JOB, seen, PAIR)
    assert found.summary()["flip_mornings"] == 2
    assert found.learned_job.rack.flip_mornings == 2
    write_learned("demo", tmp_path / "new.toml", found, "us")
    again = load_job(tmp_path / "new.toml")
    assert again.rack.flip_mornings == 2
    assert with_overrides(again, {"rack.flip_delay": 50.0}).rack.flip_mornings is None
    by_delay = learn(again, seen[:1], ["rack.flip_delay"])
    assert by_delay.learned_job.rack.flip_mornings == 1
    write_learned(str(tmp_path / "new.toml"), tmp_path / "third.toml", by_delay, "us")
    assert load_job(tmp_path / "third.toml").rack.flip_mornings == 1


def test_what_says_nothing_of_the_flip_counts_no_morning() -> None:
    flip = seen_flip(WATCHED[0], 470.0, 1)
    angle, flow = (Observation(**{**vars(flip), "what": what}) for what in ("rotation", "flow"))
    assert mornings_behind(["rack.lag", "pump.head_lost"], [flip]) == {}
    assert mornings_behind(["rack.flip_delay"], [flow]) == {}
    assert mornings_behind(["rack.flip_delay"], [flow, angle]) == {"rack.flip_mornings": 1}
    assert mornings_behind(["unit.1.rack.flip_dose"], [flip, flip]) == {"unit.1.rack.flip_mornings": 1}
