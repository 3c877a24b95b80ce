"""One thing that could be done: the water it gives, what it costs, and what that is worth."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from trackersim.analysis.economics import (
    between,
    break_even_cost,
    cost_of_gain,
    net_present_value,
    present_value,
    simple_payback_years,
    yearly,
)
from trackersim.arrays import BoolArray
from trackersim.constants import DAYS_A_YEAR, MINUTES_A_DAY
from trackersim.job.economics import Money
from trackersim.job.model import Job
from trackersim.simulation.pumping import WaterSide
from trackersim.simulation.result import Result

LEAVE = "leave it as it is"


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """Water of one option: means a day lifted and used, lifted in the worst month, and days short of the demand.

    `starts_per_day` are those of all pumps; `bought_kwh_per_day` is drawn from a backup, 0 without one.

    Used is what the demand takes: out of a store that is followed, else of the water of the same day; all that is
    lifted where no demand is given. `short_days` and the longest row of them are None without a demand.
    """

    lifted_m3_per_day: float
    used_m3_per_day: float
    worst_m3_per_day: float
    worst_month: int
    short_days: int | None
    longest_short_days: int | None
    starts_per_day: float = 0.0
    bought_kwh_per_day: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Price:
    """What an option costs: now, a year, and for how long it lasts."""

    cost: float
    cost_per_year: float = 0.0
    life_years: float | None = None


@dataclass(frozen=True, kw_only=True)
class Choice:
    """One row: what it is, what it gives (None where `refused` says why not), what it costs (None: unknown).

    `gain_m3_per_day` of water lifted and `used_gain_m3_per_day` of water used are against leaving the site as it is,
    `later_gain_m3_per_day` of water used at the end of the horizon, when the modules of both have aged so long.
    Only water used is worth anything. `cost_per_m3` of it over the horizon, at today's
    money; `net_value` over the horizon, with water worth nothing where no price is given; `most_cost` that it may cost
    before that turns negative. `ready` is the name of a ready-made option, "" for the job's own, `presupposes` what
    must be so for its figures. `size` is a figure in its `pattern`, in SI, with its kind. `option` is the place among
    the job's options of the one that gives it its name and cost, None without any.

    `bought_kwh_per_day` is what it draws from a backup beyond what the site as it is draws, at the end of the horizon
    `later_bought_kwh_per_day`. Where the price of that is unknown nothing can be said of its worth but `most_per_kwh`,
    the price below which it pays. `repriced_per_day` is the money by which the option makes dearer what the site as it
    is draws already, at the end of the horizon `later_repriced_per_day`.
    """

    name: str
    ready: str = ""
    words: str = ""
    outcome: Outcome | None = None
    refused: str = ""
    price: Price | None = None
    gain_m3_per_day: float = 0.0
    used_gain_m3_per_day: float = 0.0
    later_gain_m3_per_day: float = 0.0
    presupposes: str = ""
    pattern: str = ""
    size: tuple[float, str] | None = None
    option: int | None = None
    bought_kwh_per_day: float = 0.0
    later_bought_kwh_per_day: float = 0.0
    price_per_kwh: float | None = None
    repriced_per_day: float = 0.0
    later_repriced_per_day: float = 0.0
    cost_per_m3: float | None = None
    payback_years: float | None = None
    net_value: float | None = None
    most_cost: float | None = None
    most_per_kwh: float | None = None


def outcome_of(result: Result) -> Outcome:
    """Water of one result."""
    return water_outcome(result.water, result.job, np.asarray(result.times[::MINUTES_A_DAY].month))


def water_outcome(water: WaterSide, job: Job, month: npt.NDArray[np.integer]) -> Outcome:
    """Water of one run of `job` over days in the months 1…12 `month` (days,).

    A day is short as `Result.days_meeting_demand` has it.
    """
    lifted = water.flow_m3_s.sum(axis=0).reshape(len(month), MINUTES_A_DAY).sum(axis=1) * 60
    wanted = np.array(job.store.demands_m3_per_day)[month - 1]
    used, short = np.minimum(lifted, wanted), lifted < wanted
    if water.store is not None:
        used, short = water.store.delivered_m3, water.store.shortfall_m3 > 1e-9 * np.maximum(wanted, 1e-9)
    asked = bool(wanted.any())
    by_month = {int(m): float(lifted[month == m].mean()) for m in np.unique(month)}
    worst = min(by_month, key=by_month.__getitem__)
    return Outcome(
        lifted_m3_per_day=float(lifted.mean()),
        used_m3_per_day=float((used if asked else lifted).mean()),
        worst_m3_per_day=by_month[worst],
        worst_month=worst,
        short_days=int(short.sum()) if asked else None,
        longest_short_days=_longest(short) if asked else None,
        starts_per_day=float(water.starts.mean()),
        bought_kwh_per_day=0.0 if water.bought_w is None else float(water.bought_w.sum()) / 60_000 / len(month),
    )


def _longest(happens: BoolArray) -> int:
    """Most days on end on which it happens (days,)."""
    day = np.arange(len(happens) + 1)
    latest_not = np.maximum.accumulate(np.where(np.r_[False, happens], -1, day))
    return int((day - latest_not).max())


def with_money(choice: Choice, money: Money) -> Choice:
    """What the choice costs and earns; without a price of water it earns nothing but what it saves a year."""
    choice = replace(choice, cost_per_m3=None, payback_years=None, net_value=None, most_cost=None, most_per_kwh=None)
    if choice.outcome is None:
        return choice
    if choice.name == LEAVE:
        return replace(choice, net_value=0.0)
    price = choice.price or Price(cost=0.0)
    rate, years, life = money.rate, money.horizon_years, price.life_years
    water_m3 = _yearly(choice.used_gain_m3_per_day, choice.later_gain_m3_per_day, years)
    bought_kwh = _yearly(choice.bought_kwh_per_day, choice.later_bought_kwh_per_day, years)
    worth = [m3 * (money.price_of_water or 0.0) - price.cost_per_year for m3 in water_m3]
    if choice.price_per_kwh is None and max(bought_kwh) > 0:
        if money.price_of_water is None:
            return choice
        left = net_present_value(cost=price.cost, gains=worth, rate=rate, life_years=life)
        return replace(choice, most_per_kwh=left / present_value(yearly(bought_kwh), rate=rate))
    repriced = _yearly(choice.repriced_per_day, choice.later_repriced_per_day, years)
    energy = [kwh * (choice.price_per_kwh or 0.0) + more for kwh, more in zip(bought_kwh, repriced, strict=True)]
    earned = [each - paid for each, paid in zip(worth, energy, strict=True)]
    if money.price_of_water is not None:
        choice = replace(choice, most_cost=break_even_cost(gains=earned, rate=rate, life_years=life))
    if choice.price is None:
        return choice
    running = [price.cost_per_year + paid for paid in energy]
    return replace(
        choice,
        cost_per_m3=cost_of_gain(cost=price.cost, costs_a_year=running, gains=water_m3, rate=rate, life_years=life),
        payback_years=simple_payback_years(cost=price.cost, gains=earned, life_years=life),
        net_value=net_present_value(cost=price.cost, gains=earned, rate=rate, life_years=life),
    )


def _yearly(now_per_day: float, later_per_day: float, years: int) -> tuple[float, ...]:
    """A year's sum for each year of the horizon, from today's mean a day to that at its end."""
    return tuple(DAYS_A_YEAR * each for each in between(now_per_day, later_per_day, years))
