"""Synthetic racks whose condition is known, watched on three mornings with a watch's and an eye's errors.

`python tests/analysis/synthetic_racks.py` diagnoses some 300 of them and prints how often the true condition is among
the first two, how far the probabilities hold, and what the proposed observation is worth against a random one.
The truth is the program's own physics, drawn from the stated odds: this shows that the inference is right, not that
real racks obey it.
"""

from __future__ import annotations

import datetime as dt
import sys
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from trackersim import Job, load_job
from trackersim.analysis.diagnosis import (
    WATCH_MIN,
    Drawn,
    chance_of,
    draw,
    entropy_bits,
    posteriors,
    proposals,
    sound_name,
    waits_min,
)
from trackersim.analysis.observed_sky import Seen
from trackersim.analysis.rack_conditions import BY_EYE_DEG, CONDITIONS, DAY_TO_DAY_MIN, SIGNS, SOUND
from trackersim.analysis.watched_mornings import SeenMoment, SeenMorning
from trackersim.simulation.racks_side_by_side import Moves

COLUMN = {"flip": "flip", "facing": "arrival"}


class Site(NamedTuple):
    """A job, the mornings on which its rack is watched and tomorrow twice; how much colder than usual each is."""

    job: Job
    mornings: tuple[SeenMorning, ...]
    colder_k: tuple[float, ...]


def site(overrides: Sequence[str], first: dt.date, air_c: float | None) -> Site:
    seen = [Seen(sky="clear", wind="calm", air_c=air_c), Seen(sky="clear", wind="breeze", air_c=air_c),
            Seen(sky="haze", wind="calm", air_c=air_c)]  # fmt: skip
    days = [first + dt.timedelta(days=2 * n) for n in range(3)]
    mornings = [SeenMorning(date=day, seen=one) for day, one in zip(days, seen, strict=True)]
    tomorrow = [SeenMorning(date=days[-1] + dt.timedelta(days=1), seen=Seen(sky="clear", wind="calm"))] * 2
    return Site(load_job("demo", list(overrides)), (*mornings, *tomorrow), (0.0, 0.0, 0.0, 0.0, -15.0))


SITES = {
    "open and mild": site(["trees=[]"], dt.date(2025, 5, 10), None),
    "behind trees": site([], dt.date(2025, 6, 10), None),
    "open and cold": site(["trees=[]"], dt.date(2025, 1, 15), -12.0),
}


class Case(NamedTuple):
    """One synthetic rack: its site, true condition, what it is called, what was seen of it, and tomorrow's truth."""

    site: str
    condition: str
    called: str
    mornings: tuple[SeenMorning, ...]
    place: int
    moves: Moves


def cases(name: str, truth: Drawn, each: int, chance: np.random.Generator) -> Iterator[Case]:
    """`each` racks of every condition at a site, as seen."""
    watched = SITES[name].mornings[:3]
    called = sound_name(*waits_min(truth, 3))
    for condition in CONDITIONS:
        moves = truth.moves[condition]
        for place in range(each):
            bangs = bool(chance.random() < chance_of(SIGNS["bangs"], condition))
            seen = tuple(
                morning_seen(one, moves, place, n, chance, bangs=bangs if n == 0 else None)
                for n, one in enumerate(watched)
            )
            yield Case(name, condition, called if condition == SOUND else condition, seen, place, moves)


def morning_seen(
    morning: SeenMorning, moves: Moves, rack: int, column: int, chance: np.random.Generator, *, bangs: bool | None
) -> SeenMorning:
    """What somebody writes down of one rack on one morning."""

    def moment(minute: float) -> SeenMoment:
        off = chance.normal(0, np.hypot(WATCH_MIN, DAY_TO_DAY_MIN))
        return SeenMoment(minute=900.0, not_yet=True) if np.isnan(minute) else SeenMoment(minute=minute + off)

    return SeenMorning(
        date=morning.date,
        seen=morning.seen,
        flip=moment(moves.flip[rack, column]),
        facing=moment(moves.arrival[rack, column]),
        east_deg=float(moves.east_deg[rack, column] + chance.normal(0, BY_EYE_DEG)),
        signs={} if bangs is None else {"bangs": bangs},
    )


class Outcome(NamedTuple):
    """Of one case: the probability of every condition, and bits left after the proposed and after a random look."""

    case: Case
    chances: dict[str, float]
    bits: float
    proposed: float
    at_random: float


def outcomes(each: int, *, racks: int, seed: int = 5) -> list[Outcome]:
    """All cases diagnosed, `each` of every condition at every site."""
    chance, found = np.random.default_rng(seed), []
    for name, place in SITES.items():
        drawn = draw(place.job, place.mornings, colder_k=place.colder_k, racks=racks)
        truth = draw(place.job, place.mornings, colder_k=place.colder_k, racks=each, seed=987_654)
        for case in cases(name, truth, each, chance):
            posterior = posteriors(drawn, case.mornings)
            offered = [one.name for one in proposals(drawn, posterior, case.mornings)]
            left = [_bits_after(drawn, case, look, chance) for look in (offered[0], str(chance.choice(offered)))]
            bits = entropy_bits(np.array(list(posterior.by_condition.values())))
            found.append(Outcome(case, dict(posterior.by_condition), bits, *left))
    return found


def _bits_after(drawn: Drawn, case: Case, look: str, chance: np.random.Generator) -> float:
    """Entropy once the true rack has been looked at in that way: a sign, or a reading of tomorrow's morning."""
    tomorrow, column = SITES[case.site].mornings[-1], -1 if "cold" in look else -2
    if look in SIGNS:
        seen = bool(chance.random() < chance_of(SIGNS[look], case.condition))
        mornings = (*case.mornings, SeenMorning(date=tomorrow.date, seen=tomorrow.seen, signs={look: seen}))
        return entropy_bits(np.array(list(posteriors(drawn, mornings).by_condition.values())))
    whole = morning_seen(tomorrow, case.moves, case.place, column, chance, bangs=None)
    what = look.split(",")[0]
    values = {"flip": whole.flip, "facing": whole.facing, "east": whole.east_deg}
    one = SeenMorning(
        date=whole.date,
        seen=whole.seen,
        **{"east_deg" if what == "east" else what: values[what]},  # type: ignore[arg-type]
    )
    # The reading belongs to the column of the morning it was taken on.
    columns = [*range(len(case.mornings)), column]
    picked = drawn._replace(moves={name: _columns(moves, columns) for name, moves in drawn.moves.items()})
    return entropy_bits(np.array(list(posteriors(picked, (*case.mornings, one)).by_condition.values())))


def _columns(moves: Moves, columns: list[int]) -> Moves:
    names = ("flip", "arrival", "east_deg")
    return Moves(**{name: getattr(moves, name)[:, columns] for name in names})


def first_two(found: Sequence[Outcome]) -> float:
    """How often the true condition is one of the two most likely."""
    return float(np.mean([
        case.condition in sorted(chances, key=lambda name: -chances[name])[:2] for case, chances, *_ in found
    ]))  # fmt: skip


def reliability(found: Sequence[Outcome]) -> list[tuple[float, float, int]]:
    """By fifths of the stated probability: its mean, how often it was so, and of how many. Cases are weighed as common
    as their condition is, since each was drawn as often."""
    stated, true, weight = [], [], []
    for case, chances, *_ in found:
        for name, value in chances.items():
            stated.append(value)
            true.append(name == case.condition)
            weight.append(CONDITIONS[case.condition].odds)
    p, t, w = np.array(stated), np.array(true, dtype=float), np.array(weight)
    edges = (0.0, 0.05, 0.2, 0.4, 0.6, 0.8, 1.01)
    rows = []
    for low, high in pairwise(edges):
        chosen = (p >= low) & (p < high)
        if chosen.any():
            rows.append((
                float(np.average(p[chosen], weights=w[chosen])), float(np.average(t[chosen], weights=w[chosen])),
                int(chosen.sum()),
            ))  # fmt: skip
    return rows


if __name__ == "__main__":
    each, racks = (int(word) for word in sys.argv[1:3]) if len(sys.argv) > 2 else (15, 60)
    every = outcomes(each, racks=racks)
    print(f"{len(every)} racks: the true condition is among the first two of {first_two(every):.2f}")
    for condition in CONDITIONS:
        print(f"  {condition}: {first_two([o for o in every if o.case.condition == condition]):.2f}")
    for row in reliability(every):
        print("  said {:.2f}, was so {:.2f} ({} cases)".format(*row))
    weights = [CONDITIONS[o.case.condition].odds for o in every]
    for label in ("bits", "proposed", "at_random"):
        print(f"  {label}: {np.average([getattr(o, label) for o in every], weights=weights):.3f} bits")
