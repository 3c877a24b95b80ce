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
    renewed_shares,
    simple_payback_years,
    yearly,
)
from trackersim.arrays import FloatArray
from trackersim.constants import DAYS_A_YEAR, MINUTES_A_DAY
from trackersim.job.economics import Money
from trackersim.job.model import Job
from trackersim.simulation.pumping import WaterSide
from trackersim.simulation.result import Result
from trackersim.water.demand import demand_each_day_m3, longest_dry_spell, short_days

LEAVE = "leave it as it is"


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """Water of one option: means a day lifted and used, lifted in the worst month, and days short of the demand.

    `starts_per_day` are those of all pumps; `bought_kwh_per_day` is drawn from a backup, 0 without one, and
    `sun_kwh_per_day` from the arrays beside it, None without one or where that was not asked.

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
    sun_kwh_per_day: float | None = None


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
    `later_gain_m3_per_day` of water used at the end of the horizon, when modules have aged and trees grown so long with
    both; `renewal_gain_m3_per_day` is what is gained beyond that if it is then carried out anew, as it is whenever its
    life is over. Only water used is worth anything. `cost_per_m3` of it over the horizon, at today's
    money; `net_value` over the horizon, with water worth nothing where no price is given; `most_cost` that it may cost
    before that turns negative. `ready` is the name of a ready-made option, "" for the job's own, `presupposes` what
    must be so for its figures. `size` is a figure in its `pattern`, in SI, with its kind. `option` is the place among
    the job's options of the one that gives it its name and cost, None without any.

    `bought_kwh_per_day` is what it draws from a backup beyond the `own_kwh_per_day` that the site as it is draws, at
    the end of the horizon `later_bought_kwh_per_day` beyond `later_own_kwh_per_day`. Where the price of what it draws
    is unknown nothing can be said of its worth but `most_per_kwh`, the price below which it pays.
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
    renewal_gain_m3_per_day: float = 0.0
    presupposes: str = ""
    pattern: str = ""
    size: tuple[float, str] | None = None
    option: int | None = None
    bought_kwh_per_day: float = 0.0
    later_bought_kwh_per_day: float = 0.0
    renewal_bought_kwh_per_day: float = 0.0
    price_per_kwh: float | None = None
    own_kwh_per_day: float = 0.0
    later_own_kwh_per_day: float = 0.0
    own_price_per_kwh: float | None = None
    cost_per_m3: float | None = None
    payback_years: float | None = None
    net_value: float | None = None
    most_cost: float | None = None
    most_per_kwh: float | None = None

    @property
    def saving_unknown(self) -> bool:
        """Whether it buys power at a known price in place of some whose price is unknown: no money can be told."""
        own = max(self.own_kwh_per_day, self.later_own_kwh_per_day)
        return own > 0 and self.own_price_per_kwh is None and self.price_per_kwh is not None


def outcome_of(result: Result) -> Outcome:
    """Water of one result."""
    outcome = water_outcome(result.water, result.job, result.stages.scene.month_of_day)
    if result.water.bought_w is None:
        return outcome
    return replace(outcome, sun_kwh_per_day=float(result.daily["used_kwh"].mean()))


def water_outcome(water: WaterSide, job: Job, month: npt.NDArray[np.integer]) -> Outcome:
    """Water of one run of `job` over days in the months 1…12 `month` (days,)."""
    lifted, used, wanted = _lifted_m3(water), used_each_day_m3(water, job, month), demand_each_day_m3(job.store, month)
    asked = bool(wanted.any())
    by_month = {int(m): float(lifted[month == m].mean()) for m in np.unique(month)}
    worst = min(by_month, key=by_month.__getitem__)
    return Outcome(
        lifted_m3_per_day=float(lifted.mean()),
        used_m3_per_day=float(used.mean()),
        worst_m3_per_day=by_month[worst],
        worst_month=worst,
        short_days=int(short_days(delivered_m3=used, demand_m3=wanted).sum()) if asked else None,
        longest_short_days=longest_dry_spell(delivered_m3=used, demand_m3=wanted) if asked else None,
        starts_per_day=float(water.starts.mean()),
        bought_kwh_per_day=0.0 if water.bought_w is None else float(water.bought_w.sum()) / 60_000 / len(month),
    )


def used_each_day_m3(water: WaterSide, job: Job, month: npt.NDArray[np.integer]) -> FloatArray:
    """Water of each day (days,) that the demand takes; all that is lifted where none is given."""
    lifted, wanted = _lifted_m3(water), demand_each_day_m3(job.store, month)
    if not wanted.any():
        return lifted
    return np.minimum(lifted, wanted) if water.store is None else water.store.delivered_m3


def _lifted_m3(water: WaterSide) -> FloatArray:
    return np.asarray(water.flow_m3_s.sum(axis=0).reshape(-1, MINUTES_A_DAY).sum(axis=1) * 60)


def with_money(choice: Choice, money: Money) -> Choice:
    """What the choice costs and earns; without a price of water it earns nothing but what it saves a year."""
    choice = replace(choice, cost_per_m3=None, payback_years=None, net_value=None, most_cost=None, most_per_kwh=None)
    if choice.outcome is None:
        return choice
    if choice.name == LEAVE:
        return replace(choice, net_value=0.0)
    price = choice.price or Price(cost=0.0)
    rate, years, life = money.rate, money.horizon_years, price.life_years
    gains = (choice.used_gain_m3_per_day, choice.later_gain_m3_per_day, choice.renewal_gain_m3_per_day)
    water_m3 = _yearly(*gains, years=years, life_years=life)
    paid, unpriced_kwh = _power(choice, years=years, life_years=life)
    running = [price.cost_per_year + each for each in paid]
    earned = [m3 * (money.price_of_water or 0.0) - each for m3, each in zip(water_m3, running, strict=True)]
    unpriced = present_value(yearly(unpriced_kwh), rate=rate)
    if choice.saving_unknown or (unpriced > 0 and money.price_of_water is None):
        return choice
    if unpriced > 0:
        left = net_present_value(cost=price.cost, gains=earned, rate=rate, life_years=life)
        return replace(choice, most_per_kwh=left / unpriced)
    if money.price_of_water is not None:
        choice = replace(choice, most_cost=break_even_cost(gains=earned, rate=rate, life_years=life))
    if choice.price is None:
        return choice
    return replace(
        choice,
        cost_per_m3=cost_of_gain(cost=price.cost, costs_a_year=running, gains=water_m3, rate=rate, life_years=life),
        payback_years=simple_payback_years(cost=price.cost, gains=earned, life_years=life),
        net_value=net_present_value(cost=price.cost, gains=earned, rate=rate, life_years=life),
    )


def _power(choice: Choice, *, years: int, life_years: float | None) -> tuple[list[float], list[float]]:
    """Money that a backup's power costs more than today in each year, and the kWh beyond that of an unknown price.

    Where neither price is known the power is taken to be the same: only what is drawn more is then beyond.
    """
    extra = (choice.bought_kwh_per_day, choice.later_bought_kwh_per_day, choice.renewal_bought_kwh_per_day)
    extra_kwh = _yearly(*extra, years=years, life_years=life_years)
    own_kwh = _yearly(choice.own_kwh_per_day, choice.later_own_kwh_per_day, years=years)
    if choice.price_per_kwh is None and choice.own_price_per_kwh is None:
        return [0.0] * years, list(extra_kwh)
    drawn_kwh = [more + own for more, own in zip(extra_kwh, own_kwh, strict=True)]
    spared = [own * (choice.own_price_per_kwh or 0.0) for own in own_kwh]
    if choice.price_per_kwh is None:
        return [-each for each in spared], drawn_kwh
    paid = [drawn * choice.price_per_kwh - each for drawn, each in zip(drawn_kwh, spared, strict=True)]
    return paid, [0.0] * years


def _yearly(
    now_per_day: float,
    later_per_day: float,
    renewal_per_day: float = 0.0,
    *,
    years: int,
    life_years: float | None = None,
) -> tuple[float, ...]:
    """A year's sum for each year of the horizon, from today's mean a day to that at its end, renewals counted."""
    mean = zip(between(now_per_day, later_per_day, years), renewed_shares(years, life_years), strict=True)
    return tuple(DAYS_A_YEAR * (each + newer * renewal_per_day) for each, newer in mean)
