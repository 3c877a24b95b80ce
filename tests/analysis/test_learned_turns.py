"""Early and late hold racks by physics that were learned from a few watched mornings, also in air never watched.

Each rack is learned (threshold and dose) from its flips on three clear mornings of March whose haze, air and wind
nobody told, and then asked about other mornings behind the same trees.

Measured once on 500 mornings (100 racks, five dates): 88.6 % lie between early and late; at −20, 20, 41, 70 and 95 °F
88, 90, 97, 80 and 88 %. Learned from one morning alone 84.2 %.
"""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from test_sampled_turns import BASE, RACKS, racks

from trackersim import load_job
from trackersim.analysis.calibration import learn
from trackersim.analysis.observations import Observation
from trackersim.analysis.observed_sky import HAZE, Air, Seen, air_range_k, day_weather, days_up_to, wind_range_m_s
from trackersim.analysis.rack_conditions import DAY_TO_DAY_MIN
from trackersim.analysis.rack_draws import scenes_on
from trackersim.analysis.sampled_mornings import runs_of, within
from trackersim.analysis.sampled_turns import LEAST, MOST, turns_of
from trackersim.arrays import FloatArray
from trackersim.clock import moment_at, wall_time
from trackersim.simulation.racks_side_by_side import MorningAir, moves_of
from trackersim.weather.weather import Weather

WATCHED = (dt.date(2025, 3, 18), dt.date(2025, 3, 20), dt.date(2025, 3, 22))
ASKED = ((dt.date(2025, 1, 20), -28.9), (dt.date(2025, 10, 10), 5.0), (dt.date(2025, 8, 3), 35.0))
WATCH_MIN = 3.0
JOB = load_job("demo", ["rack.kind=delayed", "weather.file=", "weather.clear_sky=true"])


def seen_flip(date: dt.date, minute: float, row: int) -> Observation:
    moment = moment_at(JOB.site, f"{wall_time(JOB.site, date, round(minute)):%Y-%m-%d %H:%M}")
    return Observation(row=row, what="flip", moment=moment, minute=minute, value=minute, error=WATCH_MIN)


@pytest.fixture(scope="module")
def foretold() -> list[tuple[float, float, float]]:
    """Early, late and the flip itself, of each rack on each morning asked about."""
    chance = np.random.default_rng(5)
    made = racks(chance)
    dates = [*WATCHED, *(date for date, _ in ASKED)]
    days = {date: days_up_to(JOB, date, before=0) for date in dates}
    airs = [*(Seen() for _ in WATCHED), *(Seen(air_c=air) for _, air in ASKED)]

    def drawn(date: dt.date, seen: Seen) -> Weather:
        day = days[date]
        haze = within(HAZE["clear"], chance.random())
        warmer = within(air_range_k(day.usual, seen, 480), chance.random())
        wind = within(wind_range_m_s(day.usual, "unknown"), chance.random())
        return day_weather(day, Air(haze=haze, warmer_k=warmer, wind_m_s=wind))

    weather = [[drawn(date, seen) for date, seen in zip(dates, airs, strict=True)] for _ in made]
    names = ("dni_w_m2", "dhi_w_m2", "air_c", "wind_m_s")
    air = MorningAir(**{name: np.array([[getattr(day, name) for day in row] for row in weather]) for name in names})
    own = [job.rack for job in made]
    scenes = scenes_on(BASE, [days[date] for date in dates])
    flips: FloatArray = moves_of(BASE, own, scenes, air, tree_power=np.ones(RACKS)).flip
    runs = [runs_of(JOB, days_up_to(JOB, date), Seen(sky="clear", air_c=air_c), 480) for date, air_c in ASKED]
    found = []
    for row in flips:
        told = row[: len(WATCHED)] + chance.normal(0, np.hypot(WATCH_MIN, DAY_TO_DAY_MIN), len(WATCHED))
        seen = [seen_flip(date, minute, n) for n, (date, minute) in enumerate(zip(WATCHED, told, strict=True), start=1)]
        job = learn(JOB, seen, ["rack.flip_threshold", "rack.flip_dose"]).learned_job
        for flip, ran in zip(row[len(WATCHED) :], runs, strict=True):
            turns = turns_of(job, ran).flip
            early, late = np.quantile(turns, LEAST, method="lower"), np.quantile(turns, MOST, method="higher")
            found.append((early, late, np.nan_to_num(flip, nan=np.inf) + chance.normal(0, DAY_TO_DAY_MIN)))
    return found


def test_most_mornings_of_learned_racks_lie_between_early_and_late(foretold: list[tuple[float, float, float]]) -> None:
    assert np.mean([early <= flip <= late for early, late, flip in foretold]) >= 0.8


def test_as_many_come_sooner_as_later(foretold: list[tuple[float, float, float]]) -> None:
    """The middle of the mornings lies in the middle of what was foretold, and not at one of its ends."""
    places = [(flip - early) / (late - early) for early, late, flip in foretold if np.isfinite(late)]
    assert 0.3 < np.median(places) < 0.7
