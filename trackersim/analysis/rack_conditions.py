"""Conditions of a passive rack that a diagnosis tells apart: how common each is, what it changes, and what one sees.

How common a condition is among old racks that somebody has been called to, how far it goes, and how often a sign is
seen with it, is common practice, no source: `CONDITIONS`, `SIGNS` and `MAKE_SPREAD` hold all of it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

from trackersim.job.thermal import Thermal

SOURCE = "common practice, no source"
SOUND, STUCK = "sound", "stuck"

Changes = Mapping[str, float]


class Condition(NamedTuple):
    """One condition: how common it is, what a technician sees, what mends it, and what it does to a sound rack.

    `changes` gives fields of `Thermal` from a share 0…1 (how far it goes, all shares alike); a stuck rack has none.
    """

    odds: float
    sees: str
    mends: str
    changes: Callable[[Thermal, float], Changes]


def _balance(thermal: Thermal, share: float) -> Changes:
    """Top-heavy in one half of all cases, far too heavy below the pivot in the other."""
    if share < 0.5:
        return {"balance_m": -0.08 * (0.5 - share) / 0.5}
    return {"balance_m": min(thermal.balance_m + 0.05 + 0.2 * (share - 0.5) / 0.5, 0.5)}


CONDITIONS: Mapping[str, Condition] = {
    SOUND: Condition(0.40, "it turns as its sun, air and trees let it", "nothing", lambda thermal, share: {}),
    "leaked charge": Condition(
        0.16, "it turns, but stops short of the sun or hangs level; perhaps an oily mark",
        "find the leak and recharge: licensed work",
        lambda thermal, share: {"charge": thermal.charge * (0.25 + 0.6 * share)},
    ),
    "sticking pivot": Condition(
        0.10, "it waits, then jumps, and lags all day; stiff by hand", "clean and grease, or new bearings",
        lambda thermal, share: {"pivot_friction_nm": thermal.pivot_friction_nm + 8 + 40 * share},
    ),
    "worn damper": Condition(
        0.09, "it turns in time, but swings in wind and bangs at its stops", "new damper",
        lambda thermal, share: {"damper": thermal.damper * (0.05 + 0.35 * share)},
    ),
    "plates bent": Condition(
        0.08, "it turns late, wanders, and stops short of the sun; plates not straight", "straighten or replace plates",
        lambda thermal, share: {"shade_plates": thermal.shade_plates * (0.25 + 0.55 * share)},
    ),
    "out of balance": Condition(
        0.07, "it flops from stop to stop, or stays near level; something added or taken off", "balance it anew",
        _balance,
    ),
    STUCK: Condition(
        0.10, "it does not move all day", "find what holds it: a tie, a seized pivot", lambda thermal, share: {}
    ),
}  # fmt: skip
# What a stuck rack most often does: it rests where the evening left it.
STUCK_IN_THE_WEST = 0.7
# Of numbers of its make that nobody has measured: standard deviation of the logarithm, one draw a rack.
MAKE_SPREAD: Mapping[str, float] = {
    "absorptance": 0.06, "liquid_kg": 0.06, "moving_mass_kg": 0.06, "tube_bore_m": 0.10, "pivot_friction_nm": 0.35,
}  # fmt: skip
# From day to day one rack scatters about what the physics says by this much [min], and an angle by eye by this [°].
DAY_TO_DAY_MIN, BY_EYE_DEG = 5.0, 7.0


class Sign(NamedTuple):
    """Something that is seen or not: the question, and how often it is seen in each condition, else in any."""

    question: str
    seen_in: Mapping[str, float]
    else_seen: float


SIGNS: Mapping[str, Sign] = {
    "bangs": Sign("listen whether it bangs or swings in wind", {"worn damper": 0.75, "out of balance": 0.4}, 0.05),
    "stiff": Sign("feel, tied off and with help, if its pivot is stiff", {"sticking pivot": 0.8, STUCK: 0.9}, 0.07),
    "oily": Sign("look for an oily mark on canisters, tube and joints", {"leaked charge": 0.55}, 0.03),
    "bent": Sign("look whether the shade plates are straight and all there", {"plates bent": 0.85}, 0.08),
}  # fmt: skip
