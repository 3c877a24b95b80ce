"""What could be done about a site, held against leaving it as it is: the job's own options and ready-made ones.

Water is counted as lifted and as used: beyond the demand it is worth nothing. Gains are told a day, of today; money
counts them as if every year were the days simulated, and as they go over the horizon, evenly from today's to those
with modules as old and trees as tall as they are at its end, both simulated. What is bought again when its life is over
is new again. Money is at today's prices.
"""

from __future__ import annotations

import calendar
import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

from trackersim.analysis import measures as ready
from trackersim.analysis.alternatives import LEAVE, Choice, Outcome, Price, outcome_of, water_outcome, with_money
from trackersim.analysis.array_measures import in_the_cold
from trackersim.analysis.loss_terms import for_units
from trackersim.analysis.losses import SiteLosses, site_losses
from trackersim.analysis.ready_made import Ready
from trackersim.analysis.tilts import Tilted, best_tilts
from trackersim.analysis.tree_shading import grown
from trackersim.analysis.water_measures import water_options
from trackersim.errors import InputError
from trackersim.job.economics import Money
from trackersim.job.files import option_job, with_overrides
from trackersim.job.model import Job
from trackersim.simulation.day_figures import DayFigures
from trackersim.simulation.result import Result
from trackersim.simulation.runner import Progress, Runner

# Trees beyond this number are ranked by the direct light they take alone, and only the first of them simulated.
_MOST_TREES = 6
# The oldest array that a job may have.
_OLDEST_YEARS = 60.0


@dataclass(frozen=True, kw_only=True)
class TreeRank:
    """One tree and the water a day that felling it alone would gain."""

    number: int
    name: str
    gain_m3_per_day: float


@dataclass(frozen=True, kw_only=True)
class Options:
    """All choices of one job; trees by the water felling each would gain, most first.

    `jobs` are those of the choices by their `words`, but for the ones that change with the season; `unpriced` are the
    choices but leaving it as it is, before any money, in the order in which they were made up.
    Choices begin with leaving it as it is and repairing the rack; then come those whose cost is known, by the money for
    each m³ of used water, the rest by the water used that they gain, then by water lifted, and what costs for nothing.
    """

    job: Job
    site: SiteLosses
    choices: tuple[Choice, ...]
    unpriced: tuple[Choice, ...]
    jobs: Mapping[str, Job]
    trees: tuple[TreeRank, ...]

    @property
    def own(self) -> DayFigures:
        """The job as it stands."""
        return self.site.own

    @property
    def asked(self) -> bool:
        """Whether the job says how much water is wanted."""
        return any(self.job.store.demands_m3_per_day)

    @property
    def stored(self) -> bool:
        """Whether the job's store is followed."""
        return self.job.store.capacity_m3 is not None

    @property
    def leave(self) -> Choice:
        """The row of doing nothing."""
        return self.choices[0]

    def summary(self) -> dict[str, Any]:
        """Plain data, as `options --json` prints it (SI)."""
        return {
            "job": self.job.site.name,
            "days": self.own.days,
            "demand_given": self.asked,
            "store_followed": self.stored,
            "money": self.job.money.model_dump(mode="json", by_alias=True),
            "options": [
                {
                    **{name: value for name, value in vars(choice).items() if name not in ("pattern", "option")},
                    "outcome": choice.outcome and vars(choice.outcome),
                    "price": choice.price and vars(choice.price),
                }
                for choice in self.choices
            ],
            "trees": [dict(vars(tree)) for tree in self.trees],
            "site": self.site.summary(),
        }


def options_of(
    job: Job,
    *,
    first_day: dt.date | None = None,
    last_day: dt.date | None = None,
    progress: Progress | None = None,
    runner: Runner | None = None,
) -> Options:
    """Every option of `job` over the days of its weather. Raises `InputError` as `simulate` does."""
    tell = progress or (lambda words, share: None)
    tell("weather, sun and trees", 0.0)
    runner = Runner(job, first_day=first_day, last_day=last_day) if runner is None else runner
    runner.scene(job)
    tell("the site as it is", 0.05)
    site, own, older = site_losses(runner, job).without_minutes(), runner.run(job), aged(job)
    then = outcome_of(runner.run(older))
    here = Years(outcome_of(own), then, then)
    tell("one tree after the other", 0.1)
    trees = ranked_trees(job, runner, here.now.lifted_m3_per_day)
    made = _candidates(job, own, trees, runner)
    anew = [option_job(older, n) for n, option in enumerate(job.option) if not option.ready]
    todo = [run for n, (_, each) in enumerate(made) if each is not None for run in _runs(each, anew[n : n + 1])]
    found = runner.of_each(todo, outcome_of, each=lambda share: tell("one option after the other", 0.25 + 0.5 * share))
    years = iter([Years(*found[first : first + 3]) for first in range(0, len(found), 3)])
    choices = [_choice(ready, each, None if each is None else next(years), here, job) for ready, each in made]
    tell("the best fixed tilt", 0.8)
    month = runner.scene(job).month_of_day
    jobs = {choice.words: each for choice, (_, each) in zip(choices, made, strict=True) if each is not None}
    for tilted in best_tilts(job, runner, older=older):
        now, later = (water_outcome(water, tilted.job, month) for water in (tilted.water, tilted.later))
        choices.append(_locked_choice(tilted, Years(now, later, later), here, job))
        if len(tilted.tilts_deg) == 1:
            jobs[choices[-1].words] = tilted.job
    tell("done", 1.0)
    return Options(
        job=job,
        site=site,
        choices=_priced(job, here.now, choices),
        unpriced=tuple(choices),
        jobs=jobs,
        trees=trees,
    )


def without_prices(job: Job) -> Job:
    """The job with all taken away that changes no water in its options: the years looked ahead stay, no name does.

    Jobs that differ only in prices are equal without them, and `repriced` gives the options of one from the other's.
    """
    unknown = {"cost": None, "cost_per_year": 0.0, "life_years": None}
    options = (each.model_copy(update=unknown) for each in job.option if not each.ready or each.hold_flow_m3_s)
    money = Money(horizon_years=job.money.horizon_years)
    return job.of_water.model_copy(update={"option": tuple(options), "money": money})


def repriced(found: Options, job: Job) -> Options:
    """The options of `job` from those of a job that differs in nothing but prices and its name.

    Raises `ValueError` if it does.
    """
    if without_prices(job) != without_prices(found.job):
        raise ValueError("the two jobs differ in more than their prices.")
    outcome = found.leave.outcome
    assert outcome is not None
    return replace(found, job=job, site=found.site.of_job(job), choices=_priced(job, outcome, found.unpriced))


class Years(NamedTuple):
    """What a job gives today, at the end of the horizon, and then with the option carried out anew."""

    now: Outcome
    later: Outcome
    renewed: Outcome


def aged(job: Job) -> Job:
    """The job with its modules older, and its trees taller, by the years looked ahead."""
    years = job.money.horizon_years
    return with_overrides(
        grown(job, years),
        for_units(job, lambda unit: {"array.age_years": min(unit.array.age_years + years, _OLDEST_YEARS)}),
    )


def _runs(changed: Job, anew: Sequence[Job]) -> tuple[Job, Job, Job]:
    """The jobs behind the `Years` of a changed one.

    `anew` is the option carried out at the end of the horizon. None but the job's own can change what ages: of those
    that are ready-made a cut tree is kept as it is, and more modules are as old as those beside them.
    """
    later = aged(changed)
    return changed, later, anew[0] if anew else later


def ranked_trees(job: Job, runner: Runner, here_m3_per_day: float) -> tuple[TreeRank, ...]:
    """Every tree, or of many those that take most direct light, by the water that felling it alone would gain.

    `here_m3_per_day` is what the job lifts with all its trees.
    """
    felled = {number: with_overrides(job, ready.without_tree(job, number)) for number in range(len(job.trees))}
    if len(felled) > _MOST_TREES:
        light = runner.scene(job).light.beam_w_m2
        taken = {n: float(light @ runner.scene(other).beam_share) for n, other in felled.items()}
        felled = {n: felled[n] for n in sorted(taken, key=lambda n: -taken[n])[:_MOST_TREES]}
    outcomes = runner.of_each(list(felled.values()), outcome_of)
    ranks = [
        TreeRank(
            number=n,
            name=ready.tree_name(job, n),
            gain_m3_per_day=outcome.lifted_m3_per_day - here_m3_per_day,
        )
        for n, outcome in zip(felled, outcomes, strict=True)
    ]
    return tuple(sorted(ranks, key=lambda rank: -rank.gain_m3_per_day))


def _candidates(job: Job, own: Result, trees: Sequence[TreeRank], runner: Runner) -> list[tuple[Ready, Job | None]]:
    """The job's own options, then ready-made ones, each with its job; None where it cannot be."""
    own_options = [_own_option(job, n, own.coldest_c) for n, option in enumerate(job.option) if not option.ready]
    all_ready = (
        *ready.plain_options(job, own.coldest_c),
        *_tree_options(job, trees),
        *water_options(job, own, runner),
    )
    return [*own_options, *(_carried_out(job, each) for each in all_ready)]


def _own_option(job: Job, number: int, coldest_c: float) -> tuple[Ready, Job | None]:
    """One of the job's own options, held against the cold where it changes the strings' voltage or what they meet."""
    changed = option_job(job, number)
    made, voltage = Ready(name="", words=job.option[number].name), in_the_cold(changed, coldest_c)
    if voltage == in_the_cold(job, coldest_c):
        return made, changed
    why, presupposed = voltage
    return (made.not_here(why), None) if why else (replace(made, presupposes=presupposed), changed)


def _carried_out(job: Job, measure: Ready) -> tuple[Ready, Job | None]:
    """A ready-made option with the job that it makes; None, and why, where that cannot be."""
    if measure.changes is None:
        return measure, None
    try:
        return measure, with_overrides(job, measure.changes)
    except InputError as error:
        return replace(measure, changes=None, refused=str(error.faults[0])), None


def _tree_options(job: Job, trees: Sequence[TreeRank]) -> tuple[Ready, ...]:
    if not trees:
        reason = "no tree is given"
        return tuple(
            Ready(name=name, words=words, refused=reason)
            for name, words in (("fell-best-tree", "tree felled"), ("trim-best-tree", "tree trimmed"))
        )
    best = trees[0]
    return (
        Ready(
            name="fell-best-tree",
            words=f"{best.name} felled",
            presupposes="that it may be felled, and by whom",
            changes=ready.without_tree(job, best.number),
        ),
        Ready(
            name="trim-best-tree",
            words=f"{best.name} cut to ⅔ height",
            presupposes="that it may be cut, and is cut again as it grows",
            changes=ready.trimmed_tree(job, best.number),
        ),
    )


def _choice(made: Ready, changed: Job | None, years: Years | None, here: Years, own: Job) -> Choice:
    choice = Choice(
        name=made.title,
        ready=made.name,
        words=made.title,
        refused=made.refused,
        presupposes=made.presupposes,
        pattern=made.words,
        size=made.size,
    )
    if years is None:
        return choice
    now, later, renewed = years
    own_price = None if own.backup is None else own.backup.price_per_kwh
    # An option that takes the backup away saves what its power costs today.
    price = own_price if changed is None or changed.backup is None else changed.backup.price_per_kwh
    return replace(
        choice,
        outcome=now,
        gain_m3_per_day=now.lifted_m3_per_day - here.now.lifted_m3_per_day,
        used_gain_m3_per_day=now.used_m3_per_day - here.now.used_m3_per_day,
        later_gain_m3_per_day=later.used_m3_per_day - here.later.used_m3_per_day,
        renewal_gain_m3_per_day=renewed.used_m3_per_day - later.used_m3_per_day,
        bought_kwh_per_day=now.bought_kwh_per_day - here.now.bought_kwh_per_day,
        later_bought_kwh_per_day=later.bought_kwh_per_day - here.later.bought_kwh_per_day,
        renewal_bought_kwh_per_day=renewed.bought_kwh_per_day - later.bought_kwh_per_day,
        price_per_kwh=price,
        own_kwh_per_day=here.now.bought_kwh_per_day,
        later_own_kwh_per_day=here.later.bought_kwh_per_day,
        own_price_per_kwh=own_price,
    )


def _locked_choice(tilted: Tilted, years: Years, here: Years, own: Job) -> Choice:
    tilts = [(f"{abs(tilt)}°", " facing away" if tilt < 0 else "") for tilt in tilted.tilts_deg]
    presupposes = "a lock that holds in wind"
    if tilted.name == "lock-best-tilt":
        words = "locked at {} tilt{}".format(*tilts[0])
    else:
        set_at = ", ".join(
            f"{tilt}{away} {calendar.month_abbr[months[0]]}–{calendar.month_abbr[months[-1]]}"
            for (tilt, away), months in zip(tilts, tilted.months, strict=True)
        )
        words = f"{'two' if tilted.name == 'two-tilts' else 'four'} settings: {set_at}"
        presupposes += ", and somebody who sets it on the first day of each setting"
    if min(tilted.tilts_deg) < 0:
        presupposes += (
            "; facing away: a rack that can lean to the other side too, away from where its axis's low end points"
        )
    made = Ready(name=tilted.name, words=words, presupposes=presupposes)
    return _choice(made, tilted.job, years, here, own)


def _priced(job: Job, here: Outcome, choices: Sequence[Choice]) -> tuple[Choice, ...]:
    """The choices with the costs that the job gives them, after the row of leaving it as it is."""
    own = [number for number, option in enumerate(job.option) if not option.ready]
    by_ready: dict[str, int] = {option.ready: number for number, option in enumerate(job.option) if option.ready}
    leave = Choice(name=LEAVE, words=LEAVE, outcome=here, price=Price(cost=0.0))
    told = [with_money(leave, job.money)]
    for number, choice in enumerate(choices):
        place = own[number] if number < len(own) else by_ready.get(choice.ready)
        option = None if place is None else job.option[place]
        name = option.name if option is not None and option.name else choice.name
        price = None
        if option is not None and option.cost is not None:
            price = Price(cost=option.cost, cost_per_year=option.cost_per_year, life_years=option.life_years)
        told.append(with_money(replace(choice, name=name, price=price, option=place), job.money))
    return (told[0], *sorted(told[1:], key=_rank))


def _rank(choice: Choice) -> tuple[float, ...]:
    """Repair first; what has a cost by the money for each m³ it gains; the rest by the water gained.

    Of the rest is what has a cost, but draws power whose price is unknown: it does not cost for nothing.
    """
    water = (-choice.used_gain_m3_per_day, -choice.gain_m3_per_day)
    repairs = choice.ready != "repair-rack"
    if choice.price is None or (choice.cost_per_m3 is None and choice.used_gain_m3_per_day > 0):
        return (repairs, 1.0, 0.0, *water)
    if choice.cost_per_m3 is None:
        return (repairs, 2.0, choice.price.cost, *water)
    return (repairs, 0.0, choice.cost_per_m3, *water)
