"""What ails a passive rack, from a few watched mornings.

Bayes' rule over the conditions of `rack_conditions`: one is as likely as it is common times how well its racks
(`rack_draws`) show what was seen. Late because of trees, or of cold, is no fault: what is left to a sound rack is told
as that which made it wait. The observation proposed for tomorrow is the one that is expected to lower the entropy of
the conditions most.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from scipy.stats import norm

from trackersim.analysis.observed_sky import Seen
from trackersim.analysis.rack_as_watched import AsWatched, rack_as_watched
from trackersim.analysis.rack_conditions import (
    BY_EYE_DEG,
    CONDITIONS,
    DAY_TO_DAY_MIN,
    SIGNS,
    SOUND,
    Sign,
)
from trackersim.analysis.rack_draws import RACKS, Drawn, draw
from trackersim.analysis.watched_mornings import SeenMoment, SeenMorning
from trackersim.arrays import FloatArray
from trackersim.errors import InputError
from trackersim.job.model import Job
from trackersim.simulation.racks_side_by_side import UNTIL_MIN, Moves
from trackersim.simulation.runner import Progress

WATCH_MIN = 3.0  # a moment by the watch, one standard deviation
# The racks drawn are few: each stands for its neighbours within this much (one standard deviation). With it the
# probabilities hold (tests/analysis/synthetic_racks.py); without it they are too sure.
BETWEEN_MIN = 8.0
_SD_MIN = math.sqrt(WATCH_MIN**2 + DAY_TO_DAY_MIN**2 + BETWEEN_MIN**2)
_BLUNDER = 0.02  # of readings that have nothing to do with the rack (assumption)
_SPAN_MIN, _SPAN_DEG = 600.0, 100.0  # within which such readings lie
_COLD_K = 15.0  # colder than usual: the cold morning that may be proposed
# A sound rack that waits this much longer than in the open on a mild morning is told to be late by that.
_LATE_MIN = 5.0
_BINS = np.arange(240.0, UNTIL_MIN + 1, 10.0)
_BINS_DEG = np.arange(-60.0, 91.0, 10.0)
TREES, COLD = "late by trees", "cold only"
# What a watched morning may tell of how the rack moves, each with the field of `Moves` that holds it.
WATCHED: Mapping[str, tuple[str, str]] = {
    "facing": ("the time at which it faces the sun", "arrival"),
    "flip": ("the time at which it passes its centre", "flip"),
    "east": ("how far east it stands at the most", "east_deg"),
}


class SoundSpan(NamedTuple):
    """When a sound rack does something: minutes of the standard day; nine in ten lie between early and late."""

    early: float
    likely: float
    late: float


class Proposal(NamedTuple):
    """An observation for tomorrow: what to do, and by how many bits it is expected to lower the uncertainty."""

    name: str
    words: str
    bits: float

    @property
    def looks_at(self) -> str:
        """What is looked at, on whatever morning."""
        return self.name.partition(",")[0]


@dataclass(frozen=True, kw_only=True)
class Likely:
    """A condition and how likely it is; `name` is as in `rack_conditions`, or what makes a sound rack late."""

    name: str
    condition: str
    probability: float


@dataclass(frozen=True, kw_only=True)
class RackDiagnosis:
    """The conditions, most likely first; the mornings; what a sound rack would have done on each; what to do tomorrow.

    `sound_flip` and `sound_facing` have for each morning the minutes at which a sound rack passes its centre, and at
    which it faces the sun, None where it does not. `watched` is the job's delayed rack as it flipped; None where no
    flip was timed, and for another rack. `alike` are pairs of conditions that watched mornings hardly tell apart.
    """

    job: Job
    mornings: tuple[SeenMorning, ...]
    likely: tuple[Likely, ...]
    sound_flip: tuple[SoundSpan | None, ...]
    sound_facing: tuple[SoundSpan | None, ...]
    waits_for_trees_min: float
    waits_for_warmth_min: float
    proposals: tuple[Proposal, ...]
    watched: AsWatched | None
    alike: tuple[tuple[str, str], ...]

    @property
    def first(self) -> Likely:
        """The most likely one."""
        return self.likely[0]

    @property
    def not_looked_at(self) -> tuple[str, ...]:
        """What none of the mornings tells of: names in `WATCHED` and `SIGNS`."""
        told = {name for morning in self.mornings for name in morning.looked_at}
        return tuple(name for name in (*WATCHED, *SIGNS) if name not in told)

    @property
    def bits(self) -> float:
        """Entropy of the conditions: 0 is certain."""
        return entropy_bits(np.array([each.probability for each in self.likely]))

    def summary(self) -> dict[str, Any]:
        """Plain data (SI; minutes of the standard day)."""
        return {
            "job": self.job.site.name,
            "mornings": len(self.mornings),
            "conditions": [{"name": each.name, "probability": each.probability} for each in self.likely],
            "uncertainty_bits": self.bits,
            "not_looked_at": list(self.not_looked_at),
            "sound_rack_flips_min": [None if span is None else span._asdict() for span in self.sound_flip],
            "sound_rack_faces_sun_min": [None if span is None else span._asdict() for span in self.sound_facing],
            "waits_for_trees_min": self.waits_for_trees_min,
            "waits_for_warmth_min": self.waits_for_warmth_min,
            "delay_as_watched_min": None if self.watched is None else self.watched.delay_min,
            "tomorrow": [proposal._asdict() for proposal in self.proposals],
            "hardly_told_apart": [list(pair) for pair in self.alike],
        }


def diagnose(job: Job, mornings: Sequence[SeenMorning], *, progress: Progress | None = None) -> RackDiagnosis:
    """What ails the rack of a job with one unit. Raises `InputError` for a rack that nothing turns."""
    check_turns(job)
    tomorrow = max(morning.date for morning in mornings) + dt.timedelta(days=1)
    usual = Seen(sky="clear", wind="calm")
    proposed = [SeenMorning(date=tomorrow, seen=usual)] * 2
    drawn = draw(job, [*mornings, *proposed], colder_k=[*[0.0] * len(mornings), 0.0, -_COLD_K], progress=progress)
    posterior = posteriors(drawn, mornings)
    count = len(mornings)
    trees, warmth = waits_min(drawn, count)
    named = _named(posterior.by_condition, trees, warmth)
    return RackDiagnosis(
        job=job,
        mornings=tuple(mornings),
        likely=named,
        sound_flip=tuple(_span(drawn.moves[SOUND].flip[:, n]) for n in range(count)),
        sound_facing=tuple(_span(drawn.moves[SOUND].arrival[:, n]) for n in range(count)),
        waits_for_trees_min=trees,
        waits_for_warmth_min=warmth,
        proposals=proposals(drawn, posterior, mornings),
        watched=rack_as_watched(job, mornings),
        alike=_alike(drawn, count),
    )


def check_turns(job: Job) -> None:
    """Raise `InputError` unless the job's rack is one that turns by itself."""
    if job.rack.kind in ("delayed", "thermal", "logged"):
        return
    raise InputError.of(
        "rack.kind", job.rack.kind, "is a rack that no sun turns: there is nothing to diagnose.",
        'For a passive rack give "delayed" (as watched) or "thermal" (by physics).',
    )  # fmt: skip


class Posterior(NamedTuple):
    """How likely each condition is, and within it each of its racks (racks,); each adds up to 1."""

    by_condition: Mapping[str, float]
    racks: Mapping[str, FloatArray]


def posteriors(drawn: Drawn, mornings: Sequence[SeenMorning]) -> Posterior:
    """Bayes' rule; the mornings are the first of those drawn."""
    weighed, racks = {}, {}
    for name, condition in CONDITIONS.items():
        density = shown_density(drawn.moves[name], mornings) * _signs_density(name, mornings)
        total = float(density.sum())
        racks[name] = density / total if total > 0 else np.full(len(density), 1 / len(density))
        weighed[name] = condition.odds * total / len(density)
    whole = sum(weighed.values())
    return Posterior({name: value / whole for name, value in weighed.items()}, racks)


def shown_density(moves: Moves, mornings: Sequence[SeenMorning]) -> FloatArray:
    """How well each rack (racks,) shows what was seen: the product over all readings, each with a share of blunders."""
    density = np.ones(len(moves.flip))
    for n, morning in enumerate(mornings):
        for seen, minute in ((morning.flip, moves.flip[:, n]), (morning.facing, moves.arrival[:, n])):
            if seen is not None:
                density = density * _moment_density(minute, seen)
        if morning.east_deg is not None:
            off = norm.pdf(morning.east_deg, moves.east_deg[:, n], BY_EYE_DEG)
            density = density * ((1 - _BLUNDER) * off + _BLUNDER / _SPAN_DEG)
    return density


def _moment_density(minute: FloatArray, seen: SeenMoment) -> FloatArray:
    if seen.not_yet:
        later = np.where(np.isnan(minute), 1.0, norm.sf(seen.minute, np.nan_to_num(minute), _SD_MIN))
        return np.asarray((1 - _BLUNDER) * later + _BLUNDER / 2)
    near = np.where(np.isnan(minute), 0.0, norm.pdf(seen.minute, np.nan_to_num(minute), _SD_MIN))
    return np.asarray((1 - _BLUNDER) * near + _BLUNDER / _SPAN_MIN)


def chance_of(sign: Sign, condition: str) -> float:
    """How often a sign is seen in a condition."""
    return sign.seen_in.get(condition, sign.else_seen)


def _signs_density(condition: str, mornings: Sequence[SeenMorning]) -> float:
    """A sign that is seen on any morning counts once, as seen; one that was only missed, as missed."""
    density = 1.0
    for name, sign in SIGNS.items():
        told = [morning.signs[name] for morning in mornings if name in morning.signs]
        if told:
            chance = chance_of(sign, condition)
            density *= chance if any(told) else 1 - chance
    return density


def waits_min(drawn: Drawn, count: int) -> tuple[float, float]:
    """Minutes that trees, and then cold, make a sound rack wait, in the middle of the mornings and racks."""
    late, in_open, mild = (
        np.nan_to_num(flip[: len(drawn.open_flip), :count], nan=float(UNTIL_MIN))
        for flip in (drawn.moves[SOUND].flip, drawn.open_flip, drawn.mild_flip)
    )
    return float(np.median(late - in_open)), float(np.median(in_open - mild))


def sound_name(trees_min: float, warmth_min: float) -> str:
    """What a sound rack is called that waits so long for trees and for warmth."""
    if max(trees_min, warmth_min) < _LATE_MIN:
        return SOUND
    return TREES if trees_min >= warmth_min else COLD


def _named(by_condition: Mapping[str, float], trees_min: float, warmth_min: float) -> tuple[Likely, ...]:
    names = {SOUND: sound_name(trees_min, warmth_min)}
    found = [
        Likely(name=names.get(condition, condition), condition=condition, probability=probability)
        for condition, probability in by_condition.items()
    ]
    return tuple(sorted(found, key=lambda each: -each.probability))


def _span(minutes: FloatArray) -> SoundSpan | None:
    known = np.sort(minutes[np.isfinite(minutes)])
    if len(known) < len(minutes) / 2:
        return None
    low, middle, high = np.quantile(known, (0.05, 0.5, 0.95))
    return SoundSpan(float(low), float(middle), float(high))


def entropy_bits(shares: FloatArray) -> float:
    """Entropy of shares that add up to 1.

    >>> entropy_bits(np.array([0.5, 0.5])), entropy_bits(np.array([1.0, 0.0]))
    (1.0, 0.0)
    """
    some = shares[shares > 0]
    return max(0.0, float(-(some * np.log2(some)).sum()))


def proposals(drawn: Drawn, posterior: Posterior, mornings: Sequence[SeenMorning]) -> tuple[Proposal, ...]:
    """What could be looked at tomorrow, the most telling first. The last two mornings drawn are tomorrow, usual and
    cold; signs that were looked for already are not proposed."""
    found = []
    looks = [(name, *told, -2) for name, told in WATCHED.items()]
    for name in ("facing", "flip"):
        words, what = WATCHED[name]
        looks.append((f"{name}, cold", f"{words} on a cold clear morning", what, -1))
    for name, words, what, column in looks:
        shares = {
            condition: _outcomes(getattr(drawn.moves[condition], what)[:, column], posterior.racks[condition], what)
            for condition in CONDITIONS
        }
        found.append(Proposal(name, words, information_bits(posterior.by_condition, shares)))
    looked_for = {name for morning in mornings for name in morning.looked_at}
    for name, sign in SIGNS.items():
        if name not in looked_for:
            yes = {condition: chance_of(sign, condition) for condition in CONDITIONS}
            shares = {condition: np.array([chance, 1 - chance]) for condition, chance in yes.items()}
            found.append(Proposal(name, sign.question, information_bits(posterior.by_condition, shares)))
    return tuple(sorted(found, key=lambda each: -each.bits))


def _outcomes(values: FloatArray, weights: FloatArray, what: str) -> FloatArray:
    """Share of each outcome as it would be read, and of none at all."""
    edges, sd = (_BINS_DEG, BY_EYE_DEG) if what == "east_deg" else (_BINS, _SD_MIN)
    happens = np.isfinite(values)
    spread = np.diff(norm.cdf(edges[None, :], np.nan_to_num(values)[:, None], sd), axis=1) * happens[:, None]
    shares = weights @ np.column_stack([spread, ~happens])
    return np.asarray(shares / shares.sum())


def information_bits(chances: Mapping[str, float], outcomes: Mapping[str, FloatArray]) -> float:
    """Mutual information of conditions and an observation: by how much it is expected to lower the entropy.

    Parameters
    ----------
    chances : Mapping[str, float]
        How likely each condition is; adds up to 1.
    outcomes : Mapping[str, FloatArray]
        For each condition, shares (k,) of the outcomes of the observation; each adds up to 1.

    Returns
    -------
    float
        0 bits for an observation that tells nothing, at most the entropy of the conditions.

    >>> even = {"a": 0.5, "b": 0.5}
    >>> information_bits(even, {"a": np.array([1.0, 0.0]), "b": np.array([0.0, 1.0])})
    1.0
    """
    whole = sum(chances[name] * shares for name, shares in outcomes.items())
    left = sum(chances[name] * entropy_bits(shares) for name, shares in outcomes.items())
    return max(0.0, entropy_bits(np.asarray(whole)) - left)


def _alike(drawn: Drawn, count: int) -> tuple[tuple[str, str], ...]:
    """Pairs of conditions that flip, facing and angle of the mornings watched hardly tell apart: at equal odds, less
    than a quarter of a bit by any one of them."""
    names, pairs = list(CONDITIONS), []
    even = np.full(RACKS, 1 / RACKS)
    for n, one in enumerate(names):
        for other in names[n + 1 :]:
            most = 0.0
            for what in ("flip", "arrival", "east_deg"):
                for column in range(count):
                    shares = {}
                    for name in (one, other):
                        values = getattr(drawn.moves[name], what)[:, column]
                        shares[name] = _outcomes(values, even[: len(values)] * RACKS / len(values), what)
                    most = max(most, information_bits({one: 0.5, other: 0.5}, shares))
            if most < 0.25:
                pairs.append((one, other))
    return tuple(pairs)
