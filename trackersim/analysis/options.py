"""What could be done about a site, held against leaving it as it is: the job's own options and ready-made ones.

Water is counted as lifted and as used: beyond the demand it is worth nothing. Gains are told a day and counted as if
every year were the days simulated. Money is at today's prices.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from trackersim.analysis import measures as ready
from trackersim.analysis.alternatives import LEAVE, Choice, Outcome, Price, outcome_of, water_outcome, with_money
from trackersim.analysis.losses import SiteLosses, site_losses
from trackersim.analysis.measures import Ready
from trackersim.analysis.tilts import Tilted, best_tilts
from trackersim.errors import InputError
from trackersim.job.economics import Option
from trackersim.job.files import option_job, with_overrides
from trackersim.job.model import Job
from trackersim.simulation.result import Result
from trackersim.simulation.runner import Progress, Runner
from trackersim.weather.load import native_weather

# Trees beyond this number are ranked by the direct light they take alone, and only the first of them simulated.
_MOST_TREES = 6


@dataclass(frozen=True, kw_only=True)
class TreeRank:
    """One tree and the water a day that felling it alone would gain."""

    number: int
    name: str
    gain_m3_per_day: float


@dataclass(frozen=True, kw_only=True)
class Options:
    """All choices of one job; trees by the water felling each would gain, most first.

    Choices begin with leaving it as it is and repairing the rack; then come those whose cost is known, the best first,
    and the rest by the water used that they gain, then by water lifted.
    """

    job: Job
    own: Result
    site: SiteLosses
    choices: tuple[Choice, ...]
    trees: tuple[TreeRank, ...]

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
                    **vars(choice),
                    "outcome": choice.outcome and vars(choice.outcome),
                    "price": choice.price and vars(choice.price),
                }
                for choice in self.choices
            ],
            "trees": [dict(vars(tree)) for tree in self.trees],
            "site": self.site.summary(),
        }


def option_variants(job: Job) -> dict[str, Job]:
    """The job with each of its own options, and each ready-made one that needs no search, carried out.

    A ready-made one that this job cannot have is left out.
    """
    variants = {option.name: option_job(job, n) for n, option in enumerate(job.option) if option.set}
    low_c = float(native_weather(job).air_c.min()) if job.site.design_low_c is None else job.site.design_low_c
    for each in ready.plain_options(job, low_c):
        made = _carried_out(job, each)[1]
        if made is not None:
            variants.setdefault(each.words, made)
    return variants


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
    site = site_losses(runner, job)
    here = outcome_of(site.own)
    tell("one tree after the other", 0.1)
    trees = _ranked_trees(job, runner, here)
    jobs = _candidates(job, site.own.coldest_c, trees)
    todo = [each for _, each in jobs if each is not None]
    done = runner.run_all(todo, each=lambda share: tell("one option after the other", 0.25 + 0.4 * share))
    results = iter(done)
    choices = [_choice(made, None if each is None else outcome_of(next(results)), here) for made, each in jobs]
    tell("the best fixed tilt", 0.65)
    month = runner.scene(job).month_of_day
    choices += [
        _locked_choice(each, water_outcome(each.water, each.job, month), here) for each in best_tilts(job, runner)
    ]
    tell("done", 1.0)
    return Options(job=job, own=site.own, site=site, choices=_priced(job, here, choices), trees=trees)


def _ranked_trees(job: Job, runner: Runner, here: Outcome) -> tuple[TreeRank, ...]:
    """Every tree, or of many those that take most direct light, by the water that felling it alone would gain."""
    felled = {number: with_overrides(job, ready.without_tree(job, number)) for number in range(len(job.trees))}
    if len(felled) > _MOST_TREES:
        light = runner.scene(job).light.beam_w_m2
        taken = {n: float(light @ runner.scene(other).beam_share) for n, other in felled.items()}
        felled = {n: felled[n] for n in sorted(taken, key=lambda n: -taken[n])[:_MOST_TREES]}
    outcomes = [outcome_of(result) for result in runner.run_all(list(felled.values()))]
    ranks = [
        TreeRank(
            number=n,
            name=ready.tree_name(job, n),
            gain_m3_per_day=outcome.lifted_m3_per_day - here.lifted_m3_per_day,
        )
        for n, outcome in zip(felled, outcomes, strict=True)
    ]
    return tuple(sorted(ranks, key=lambda rank: -rank.gain_m3_per_day))


def _candidates(job: Job, coldest_c: float, trees: Sequence[TreeRank]) -> list[tuple[Ready, Job | None]]:
    """The job's own options, then ready-made ones, each with its job; None where it cannot be."""
    own = [
        (Ready(name="", words=option.name), option_job(job, n))
        for n, option in enumerate(job.option)
        if not option.ready
    ]
    all_ready = (*ready.plain_options(job, coldest_c), *_tree_options(job, trees))
    return [*own, *(_carried_out(job, each) for each in all_ready)]


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
        Ready(name="fell-best-tree", words=f"{best.name} felled", changes=ready.without_tree(job, best.number)),
        Ready(
            name="trim-best-tree", words=f"{best.name} cut to ⅔ height", changes=ready.trimmed_tree(job, best.number)
        ),
    )


def _choice(made: Ready, outcome: Outcome | None, here: Outcome) -> Choice:
    return Choice(
        name=made.words,
        ready=made.name,
        words=made.words,
        outcome=outcome,
        refused=made.refused,
        gain_m3_per_day=0.0 if outcome is None else outcome.lifted_m3_per_day - here.lifted_m3_per_day,
        used_gain_m3_per_day=0.0 if outcome is None else outcome.used_m3_per_day - here.used_m3_per_day,
    )


def _locked_choice(tilted: Tilted, outcome: Outcome, here: Outcome) -> Choice:
    degrees = ", ".join(f"{tilt}" for tilt in tilted.tilts_deg)
    settings = {"lock-best-tilt": "locked", "two-tilts": "two settings,", "four-tilts": "four settings,"}[tilted.name]
    return _choice(Ready(name=tilted.name, words=f"{settings} {degrees}° tilt"), outcome, here)


def _priced(job: Job, here: Outcome, choices: Sequence[Choice]) -> tuple[Choice, ...]:
    """The choices with the costs that the job gives them, after the row of leaving it as it is."""
    own = [option for option in job.option if not option.ready]
    by_ready: Mapping[str, Option] = {option.ready: option for option in job.option if option.ready}
    leave = Choice(name=LEAVE, words=LEAVE, outcome=here, price=Price(cost=0.0))
    told = [with_money(leave, job.money)]
    for number, choice in enumerate(choices):
        option = own[number] if number < len(own) else by_ready.get(choice.ready)
        name = option.name if option is not None and option.name else choice.name
        price = None
        if option is not None and option.cost is not None:
            price = Price(cost=option.cost, cost_per_year=option.cost_per_year, life_years=option.life_years)
        told.append(with_money(replace(choice, name=name, price=price), job.money))
    return (told[0], *sorted(told[1:], key=_rank))


def _rank(choice: Choice) -> tuple[float, ...]:
    """Repair first; what has a cost by what is left of it, or by what its water costs; the rest by the water gained."""
    water = (-choice.used_gain_m3_per_day, -choice.gain_m3_per_day)
    repairs = choice.ready != "repair-rack"
    if choice.price is None:
        return (repairs, 1.0, 0.0, *water)
    if choice.cost_per_m3 is None:
        return (repairs, 0.5, choice.price.cost, *water)
    value = choice.net_value if choice.most_cost is not None else None
    return (repairs, 0.0, choice.cost_per_m3 if value is None else -value, *water)
