"""What trees and the late flip cost, in words: the two figures that every answer quotes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from trackersim.analysis.losses import LATE, SiteLosses, rack_cause
from trackersim.report.words import pumps_words, rack_words, racks_differ
from trackersim.units import System, held_value, shown_value, unit_label

# Less than this a day is not worth a word [m³/day]: half a gallon, which would be printed as 0.
NOTHING_M3 = 0.0019
# Water a day is told to the gallon or to ten litres, as the page's figures and the table of losses are.
DECIMALS: Mapping[System, int] = {"us": 0, "si": 2}


def added_up(parts: Sequence[float], *, step: float) -> tuple[int, ...]:
    """Whole and parts in whole steps: each part as it is printed elsewhere, and the whole as what these add up to.

    So the whole may differ from its own rounding by a step or so: it is quoted nowhere else to the last digit.

    >>> added_up((3.4, 3.4, 3.4), step=1.0)
    (9, 3, 3, 3)
    """
    printed = [round(part / step) for part in parts]
    return (sum(printed), *printed)


def site_words(site: SiteLosses, system: System) -> str:
    """What the site would give, what rack and trees take of it, and what a repair wins back, in a sentence or two."""
    whole = site.open_prompt_m3_per_day
    if whole <= 0:
        return "No rack lifts any water in these days."
    parts = [part for part in (_rack_part(site, system), _tree_part(site, system)) if part]
    if not parts:
        return ""
    where = "Without the trees and on" if site.own.job.trees else "On"
    start = f"{where} a rack that follows the sun {pumps_words(site.own.job)} would lift {_whole_words(site, system)}"
    both = ", each the mean of mending it first and mending it last" if len(parts) > 1 else ""
    return f"{start}: {' and '.join(parts)}{both}.{repair_words(site, system)}"


def _whole_words(site: SiteLosses, system: System) -> str:
    """Water without trees and lateness, as what is lifted, late and trees add up to in the steps that are printed."""
    step = held_value(10.0 ** -DECIMALS[system], "volume_per_day", system)
    whole, *_ = added_up((site.own.water_m3_per_day, site.late_m3_per_day, site.trees_m3_per_day), step=step)
    return in_steps(whole * step, system)


def in_steps(water_m3_per_day: float, system: System) -> str:
    """So much water a day in the steps of the page: no place shows another figure than the next."""
    value = float(shown_value(water_m3_per_day, "volume_per_day", system))
    return f"{value:,.{DECIMALS[system]}f} {unit_label('volume_per_day', system)}"


def _rack_part(site: SiteLosses, system: System) -> str:
    late = site.late_m3_per_day
    if abs(late) < NOTHING_M3:
        return ""
    late_flip = rack_cause(site.own.job) == LATE
    name = "turning late" if late_flip else f"the {rack_words(site.own)}"
    verb = ("cost" if late >= 0 else "gain") + ("" if racks_differ(site.own.job) and not late_flip else "s")
    return f"{name} {verb} {_of_whole(late, site, system)}"


def _tree_part(site: SiteLosses, system: System) -> str:
    trees = site.trees_m3_per_day
    if not site.own.job.trees or abs(trees) < NOTHING_M3:
        return ""
    return f"the trees {'cost' if trees >= 0 else 'gain'} {_of_whole(trees, site, system)}"


def _of_whole(water_m3_per_day: float, site: SiteLosses, system: System) -> str:
    percent = 100 * abs(water_m3_per_day) / site.open_prompt_m3_per_day
    return f"{in_steps(abs(water_m3_per_day), system)} ({percent:.1f} %)"


def repair_words(site: SiteLosses, system: System) -> str:
    """A sentence on what of the late flip a repair wins back, with a space before it; empty where that is nothing."""
    repair, late = site.won_back_m3_per_day, site.late_m3_per_day
    if repair is None or repair < NOTHING_M3 or late < NOTHING_M3:
        return ""
    of, won = (float(shown_value(each, "volume_per_day", system)) for each in (late, repair))
    decimals = DECIMALS[system]
    if repair >= late:
        return " A repair would win all of that back."
    return f" A repair wins back {won:,.{decimals}f} of the {of:,.{decimals}f}; the rest is the nature of such a rack."
