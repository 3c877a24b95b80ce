"""The same pump on a fixed, a late-turning and an ideal rack, and what lateness and trees cost."""

from __future__ import annotations

from collections.abc import Mapping

from trackersim.analysis.comparison import Comparison
from trackersim.analysis.losses import SiteLosses
from trackersim.analysis.made_minutes import MadeMinutes
from trackersim.job.rack import PASSIVE
from trackersim.report import alt, figures, words
from trackersim.report.blocks import Answer, Caution, Picture, sentences
from trackersim.report.chart_series import day_charts
from trackersim.report.remarks import closing_of, dangers_of
from trackersim.report.run import months_picture
from trackersim.report.site_losses import NOTHING_M3, site_words
from trackersim.simulation.result import Result
from trackersim.units import System, show

# Water gains this many times as much as light before that is explained.
_NOTABLY_MORE = 1.3


def comparison_answer(
    found: Comparison,
    system: System,
    *,
    stands: Result | None = None,
    most_m3_per_day: float = 0.0,
    day: int | None = None,
) -> Answer:
    """Words, pictures and the table of racks.

    `stands` and `most_m3_per_day` as for `months_picture`; `day` of the picture, from 0, is a sunny one by default.
    """
    own, racks = found.own, found.racks
    before = None if stands is None else {own.rack: stands}
    day = figures.show_day(next(iter(racks.values()))) if day is None else day
    return Answer(
        headline=words.headline(own, system),
        blocks=(
            *sentences(words.flip_words(own), site_words(found.site, system)),
            *sentences(
                turning_words(racks, own.rack, system), words.energy_words(own), minutes_words(found.minutes, system)
            ),
            months_picture(racks, system, own.rack, stands, most_m3_per_day),
            Picture(
                draw=lambda: figures.day_figure(racks, system, day=day),
                alt=alt.day_alt(racks, system, day=day),
                name="day",
                charts=lambda: day_charts(racks, system, day, before=before),
            ),
            words.compare_table(racks, system),
            *closing_of(system, own, *racks.values()),
        ),
        dangers=dangers_of(system, own, *racks.values()),
        summary=found.summary(),
    )


def front_answer(own: Result, racks: Mapping[str, Result], site: SiteLosses, system: System) -> Answer:
    """The first lines of the customer's sheet."""
    return Answer(
        headline=words.headline(own, system),
        blocks=(
            *sentences(words.flip_words(own), site_words(site, system), turning_words(racks, own.rack, system)),
            *(block for block in closing_of(system, own, *racks.values()) if isinstance(block, Caution)),
        ),
        dangers=dangers_of(system, own, *racks.values()),
    )


def minutes_words(made: MadeMinutes | None, system: System) -> str:
    """How much of the answer hangs on the minutes made of the weather's hours; empty where none were."""
    if made is None or made.own_m3_per_day <= 0:
        return ""
    other, smooth = (show(each, "volume_per_day", system) for each in (made.other_m3_per_day, made.smooth_m3_per_day))
    apart = 100 * abs(made.other_m3_per_day / made.own_m3_per_day - 1)
    more = 100 * (made.smooth_m3_per_day / made.own_m3_per_day - 1)
    return (
        "The weather's hours were broken into minutes of passing cloud: another draw of them gives "
        f"{other} ({apart:.1f} % apart); without passing cloud it would be {smooth} "
        f"({abs(more):.1f} % {'more' if more >= 0 else 'less'}), which no pump sees."
    )


def turning_words(racks: Mapping[str, Result], own_kind: str, system: System) -> str:
    """What turning at all gains over the fixed rack, of the late-turning rack to speak of, if any."""
    fixed, moving = racks.get("fixed"), _late_rack(racks, own_kind) or racks.get("ideal")
    if fixed is None or moving is None or not any(result.water_m3 > 0 for result in (fixed, moving)):
        return ""
    gain = moving.water_m3_per_day - fixed.water_m3_per_day
    if abs(gain) < NOTHING_M3:
        return f"Turning at all gains nothing over the {words.rack_words(fixed)}."
    # The per cent are of the rack that is named after "than" or "over".
    less = fixed if gain >= 0 else moving
    percent = f" ({100 * abs(gain) / less.water_m3_per_day:.1f} %)" if less.water_m3 > 0 else ""
    told = f"{show(abs(gain), 'volume_per_day', system)}{percent}"
    if gain >= 0:
        return f"Turning at all gains {told} over the {words.rack_words(fixed)}.{_light_words(fixed, moving)}"
    return f"The {words.rack_words(fixed)} would lift {told} more than the {words.rack_words(moving)}."


def _light_words(fixed: Result, moving: Result) -> str:
    """How much more light that is, and why water gains notably more; empty where it does not."""
    still, turned = (float(result.daily_light_kwh_m2.sum()) for result in (fixed, moving))
    if still <= 0 or fixed.water_m3 <= 0:
        return ""
    light, water = turned / still - 1, moving.water_m3 / fixed.water_m3 - 1
    if light <= 0 or water < _NOTABLY_MORE * light:
        return ""
    return (
        f" Light rises by {100 * light:.1f} % only: a pump needs some power before any water moves, so what light "
        "adds above that counts in full."
    )


def _late_rack(racks: Mapping[str, Result], own_kind: str) -> Result | None:
    """The job's own rack if it is one that waits and turns at all, else the rack as watched."""
    own = racks.get(own_kind)
    stuck = own is not None and own.rack == "thermal" and own.job.rack.thermal.stuck
    return racks.get(own_kind if own_kind in PASSIVE and not stuck else "delayed")
