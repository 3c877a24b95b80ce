"""In how many draws a measure pays: counted by hand from the draws, the same for all measures."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from trackersim import load_job
from trackersim.analysis.options import Options, options_of
from trackersim.analysis.paying import chances_of_paying
from trackersim.analysis.uncertainty import AS_IT_IS, Spread, spread
from trackersim.job.files import with_overrides
from trackersim.report.uncertainty import paying_blocks
from trackersim.units import held_value

DAYS = {"first_day": dt.date(2025, 4, 1), "last_day": dt.date(2025, 4, 3)}
DRAWS = 6


@pytest.fixture(scope="module")
def options() -> Options:
    wire = {"name": "thick wire", "cost": 450, "set": {"wire.0.gauge": "6"}}
    nothing = {"name": "nothing", "cost": 1, "set": {"wire.0.gauge": "10"}}
    job = load_job("demo", ["store.demand=9000 gal/day", "money.price_of_water=6 per 1000 gal"])
    return options_of(with_overrides(job, {"option": [wire, nothing]}), **DAYS)


@pytest.fixture(scope="module")
def drawn(options: Options) -> Spread:
    wanted = ("thick wire", "nothing", "one more string")
    variants = {name: options.jobs[name] for name in wanted}
    return spread(options.job, variants, draws=DRAWS, seed=3, workers=1, **DAYS)


def test_the_share_is_that_of_draws_with_money_left(options: Options, drawn: Spread) -> None:
    wire = next(each for each in options.choices if each.name == "thick wire")
    pays = []
    for draw in drawn.draws:
        gain = draw["thick wire"].used_m3_per_day - draw[AS_IT_IS].used_m3_per_day
        lost = (wire.used_gain_m3_per_day - wire.later_gain_m3_per_day) / 20
        left = -450.0
        for year in range(1, 21):
            gallons = 365 * (gain - lost * (year - 0.5)) / held_value(1.0, "volume", "us")
            left += gallons / 1000 * 6 / 1.05**year
        pays.append(left)
    chance = next(each for each in chances_of_paying(drawn, options) if each.name == "thick wire")
    assert chance.share == pytest.approx(np.mean(np.array(pays) > 0))
    assert chance.sure == pytest.approx(np.percentile(pays, 10) + 450, rel=1e-9)
    assert min(pays) < max(pays)


def test_what_changes_nothing_never_pays_however_the_draws_fall(options: Options, drawn: Spread) -> None:
    """With draws of its own it would win half of them: the same draws leave exactly nothing."""
    nothing = next(each for each in chances_of_paying(drawn, options) if each.name == "nothing")
    assert nothing.share == 0
    assert nothing.sure == pytest.approx(0, abs=1e-9)
    assert nothing.even == pytest.approx(0, abs=1e-9)


def test_where_the_cost_is_unknown_it_is_the_cost_below_which_it_pays(options: Options, drawn: Spread) -> None:
    string = next(each for each in chances_of_paying(drawn, options) if each.name == "one more string")
    assert string.share is None
    assert string.sure is not None
    assert string.even is not None
    assert 0 < string.sure < string.even
    table, words = paying_blocks(drawn, [string])
    assert table.rows == (("one more string", "–", f"{string.sure:,.0f}", f"{string.even:,.0f}"),)
    assert "in the same draws" in words.text


def test_without_a_price_of_water_nothing_can_be_said(options: Options, drawn: Spread) -> None:
    poor = replace(options, job=with_overrides(options.job, {"money.price_of_water": None}))
    for each in chances_of_paying(drawn, poor):
        assert (each.share, each.sure, each.even) == (None, None, None)
    assert {each.name for each in chances_of_paying(drawn, options)} == {"thick wire", "nothing", "one more string"}
