"""How much light the crowns of tree species pass, in leaf and bare, as published."""

from __future__ import annotations

from collections.abc import Mapping
from statistics import median
from types import MappingProxyType
from typing import NamedTuple


class SpeciesCrown(NamedTuple):
    """Share of light that a mature crown passes, a mean over the crown, in leaf and bare."""

    leaf_on: float
    leaf_off: float
    evergreen: bool = False


# Sky seen through the crown: Wilkinson, Modelling light attenuation by urban trees, PhD thesis, Manchester Metropolitan
# University (1992), as quoted in Tregenza & Sharples, Daylighting Algorithms (1993), algorithm 1.44.
_SKY_SEEN = {
    "alder": SpeciesCrown(0.24, 0.49),
    "ash": SpeciesCrown(0.22, 0.53),
    "beech": SpeciesCrown(0.19, 0.47),
    "birch": SpeciesCrown(0.24, 0.54),
    "hawthorn": SpeciesCrown(0.22, 0.44),
    "horse chestnut": SpeciesCrown(0.19, 0.52),
    "lime": SpeciesCrown(0.11, 0.54),
    "lombardy poplar": SpeciesCrown(0.13, 0.50),
    "oak": SpeciesCrown(0.17, 0.50),
    "scots pine": SpeciesCrown(0.27, 0.30, evergreen=True),
    "sycamore": SpeciesCrown(0.18, 0.54),
}
# One less the "mean percentage of shade" by a pyranometer under the northern edge of the crown: Gardner & Sydnor,
# J. Am. Soc. Hort. Sci. 109 (1984), abstract read. It holds some light of the open sky beside the crown, so the direct
# beam passes rather less.
_LIGHT_MEASURED = {
    "callery pear": SpeciesCrown(0.25, 0.57),
    "honeylocust": SpeciesCrown(0.44, 0.79),
    "kentucky coffeetree": SpeciesCrown(0.40, 0.85),
    "red maple": SpeciesCrown(0.31, 0.75),
    "zelkova": SpeciesCrown(0.39, 0.76),
}
SPECIES: Mapping[str, SpeciesCrown] = MappingProxyType(dict(sorted((_SKY_SEEN | _LIGHT_MEASURED).items())))
LEAFY = tuple(crown for crown in SPECIES.values() if not crown.evergreen)
# What stands for a tree of no named species.
TYPICAL = SpeciesCrown(median(crown.leaf_on for crown in LEAFY), median(crown.leaf_off for crown in LEAFY))
