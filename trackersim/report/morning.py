"""A morning in words and in one figure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from trackersim.analysis.first_look import FirstLook
from trackersim.analysis.morning import Morning
from trackersim.clock import hhmm, short_zone
from trackersim.constants import MINUTES_A_DAY
from trackersim.job.model import Job
from trackersim.report.blocks import Answer, Caution, Picture, Table, sentences
from trackersim.report.chart_series import Chart, day_charts
from trackersim.report.figures import day_figure
from trackersim.report.remarks import closing_of, dangers_of
from trackersim.report.safety import LOCKED, may_swing
from trackersim.report.site_losses import NOTHING_M3
from trackersim.report.words import FULL_SUN, first_light_words, pumps_words
from trackersim.simulation.result import Result
from trackersim.units import System, show

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_WAITED = {
    "light": "the sun was still low and weak",
    "cloud": "clouds hid the sun",
    "trees": "trees or the horizon kept the sun from the rack",
    "warmth": "the sun had to warm the canister",
}
_TURN = {"flip": "rack turns east", "arrival": "faces the sun"}


def _names(morning: Morning) -> dict[str, str]:
    """What the moments are called."""
    light = {"first_light": first_light_words(morning.own.job), "full_sun": FULL_SUN}
    return {"sunrise": "sunrise", **light, **_TURN}


# Less of the loss than this share is not worth a word.
_NOTHING = 0.01
# Sunshine that comes so near first light comes with it.
_SAME_MIN = 2


def morning_answer(found: Morning, system: System) -> Answer:
    """One morning: the clock of its events, what the rack waited for, and what that cost."""
    return Answer(
        headline=morning_sentence(found, system),
        blocks=(
            moment_table(found),
            *sentences(
                " ".join(filter(None, (sunshine_words(found), waiting_words(found), temperature_words(found, system))))
            ),
            Picture(
                draw=lambda: morning_figure(found, system),
                charts=lambda: morning_charts(found, system),
                alt="Angle of sun and rack, light and flow through that morning.",
                name="morning",
            ),
            Caution(text=safety_words(found.own.job)),
            *closing_of(system, found.own),
        ),
        dangers=dangers_of(system, found.own),
        summary=found.summary(),
    )


def safety_words(job: Job) -> str:
    """The care to take by whoever goes and looks."""
    swing = (
        "tie the rack off, it can swing without warning; leave the canisters alone, they are under pressure; "
        if may_swing(job)
        else ""
    )
    return (
        f"Before you go near it: {swing}open and lock the disconnect, modules in light are live. "
        f"{'' if swing else f'{LOCKED} '}Local codes and licensed practice decide."
    )


def morning_sentence(morning: Morning, system: System) -> str:
    """What happened and what it cost, in two or three sentences for a customer."""
    head = f"{morning.own.job.site.name}, {morning.date:%d %B %Y}: "
    if morning.moments["sunrise"] is None:
        night = morning.moments["first_light"] is None
        why = "" if night else ", since the sun does not set"
        return head + f"no sunrise on this day{why}, so there is no morning to explain."
    if morning.own.events is None:
        return head + f"the {morning.own.rack} rack does not wait for the morning sun."
    return head + _turning(morning) + " " + _cost(morning, system)


def chosen_words(look: FirstLook) -> str:
    """Which day is told where nobody asked for one, and why that."""
    date = look.telling_day
    clear = look.clear[(date - look.first_day).days]
    why = (
        "the rack loses nothing on any day"
        if not look.rack_loses
        else "a clear day with a usual loss by the rack"
        if clear
        else "no clear day tells of the rack's loss, so this is the one on which it lost most"
    )
    return f"{date.day} {date:%B}: {why}."


def _turning(morning: Morning) -> str:
    job, thermal = morning.own.job, morning.own.job.rack.thermal
    rack = f"the rack of {job.unit_names[0]}" if len(job.units) > 1 else "the rack"
    if morning.own.rack == "thermal" and thermal.stuck:
        return f"{rack} is stuck at {thermal.stuck_at_deg:g}° and does not turn."
    if morning.began_east:
        return f"the evening before left {rack} facing east, so it had no turn to make."
    flip = morning.moment("flip")
    if flip is None and morning.waited_for == "warmth":
        minutes = morning.waited_min["warmth"]
        return (
            f"{rack} never turned east, although the sun was on it for {minutes} min: too weak, too cold, or a fault."
        )
    if flip is None:
        return f"{rack} never turned east: {_longest(morning)}."
    gap = morning.between("sunrise", "flip")
    return f"{rack} turned east at {_clock(morning, 'flip')}, {gap} min after sunrise; {_longest(morning)}."


def _longest(morning: Morning) -> str:
    if not morning.waited_for:
        return "it did not have to wait"
    longest = morning.waited_min[morning.waited_for]
    share = "most of that time" if 2 * longest > sum(morning.waited_min.values()) else "the longest part of that time"
    return f"{share} ({longest} min) {_WAITED[morning.waited_for]}"


def _cost(morning: Morning, system: System) -> str:
    water = show(max(morning.water_lost_m3, 0.0), "volume", system)
    energy = f"{max(morning.energy_lost_kwh, 0.0):.2f} kWh"
    when = "By the time it faced the sun" if morning.moments["arrival"] is not None else "On that day"
    job = morning.own.job
    several = len(job.units) > 1
    who = f"{pumps_words(job)} were" if several else "it was"
    prompt = "racks that follow" if several else "a rack that follows"
    behind = f"{who} {water} of water and {energy} behind {prompt} the sun"
    return f"{when} {behind}{_net(morning, system)}."


def _net(morning: Morning, system: System) -> str:
    """What of the water lost was made good the same day; empty where nothing was."""
    caught, lost = morning.caught_up_m3, morning.water_lost_m3
    if caught <= max(_NOTHING * lost, NOTHING_M3):
        return ""
    job = morning.own.job
    kept = {
        "the collecting tank": any(unit.source.kind == "sump" for unit in job.units),
        f"the {job.store.kind}": job.store.capacity_m3 is not None,
    }
    # Where neither is followed, pump and well themselves lifted more after the turn.
    who = " and ".join(name for name, there in kept.items() if there) or "the pump"
    if caught >= (1 - _NOTHING) * lost:
        return f"; {who} made all of that good the same day"
    made, left = (show(m3, "volume", system) for m3 in (caught, lost - caught))
    return f"; {who} made {made} of that good the same day, so that it is {left} short"


def moment_table(morning: Morning) -> Table:
    """Sunrise, light, flip and arrival in the order they came: clock time, minutes after the one before."""
    rows: list[tuple[str, ...]] = []
    before: str | None = None
    names = _names(morning)
    in_order = sorted(names, key=lambda name: (morning.moments[name] is None, morning.moments[name]))
    for name in in_order:
        words = names[name]
        gap = morning.between(before, name) if before else None
        rows.append((words, _clock(morning, name), f"{gap}" if gap is not None else "–"))
        before = before if morning.moments[name] is None else name
    return Table(header=("Moment", "Clock", "Minutes after the one before"), rows=tuple(rows))


def sunshine_words(morning: Morning) -> str:
    """When that day's own sunshine came to the rack; empty where it came with first light."""
    own, usual = morning.moments["first_beam"], morning.moments["first_light"]
    if own is None or usual is None or abs(own - usual) <= _SAME_MIN:
        return ""
    why = "its air was clearer than usual" if own < usual else "cloud or haze kept it off"
    return (
        f"First light and full sun are those of a cloudless day; on this one sunshine was on the rack from "
        f"{_clock(morning, 'first_beam')} on: {why}."
    )


def temperature_words(morning: Morning, system: System) -> str:
    """Air and canisters at sunrise and at the turn, as far as they are known."""
    if morning.air_at_sunrise_c is None:
        return ""
    words = [f"Air at sunrise {show(morning.air_at_sunrise_c, 'temperature', system)}"]
    pair = morning.canister_c["swing"]
    if pair is not None:
        west, east = (show(value, "temperature", system) for value in pair)
        words.append(f"as it began to swing the west canister was at {west}, the east one at {east}")
    return "; ".join(words) + "."


def waiting_words(morning: Morning) -> str:
    """Where the minutes from sunrise to the turn went."""
    parts = [f"{minutes} min {name}" for name, minutes in morning.waited_min.items() if minutes]
    return "Waited for: " + ", ".join(parts) + "." if parts else ""


def morning_figure(morning: Morning, system: System) -> Figure:
    """Angle of sun and rack, light and flow from sunrise past arrival, the moments marked, beside an ideal rack."""
    marks = _marks(morning)
    return day_figure(_racks(morning), system, day=morning.day, marks=marks, span_min=_span_min(marks))


def morning_charts(morning: Morning, system: System) -> tuple[Chart, ...]:
    """The same as charts; the moments, whose names would lie on each other there, stand in the table above."""
    marks = _marks(morning)
    angle, *rest = day_charts(_racks(morning), system, morning.day, marks=marks, span_min=_span_min(marks))
    title = f"{angle.title}. Upright lines: the moments of the table, in its order." if marks else angle.title
    return replace(angle, title=title), *rest


def _racks(morning: Morning) -> dict[str, Result]:
    return {morning.own.rack: morning.own, "ideal": morning.ideal}


def _marks(morning: Morning) -> dict[str, int]:
    names = _names(morning)
    return {names[name]: minute for name, minute in morning.moments.items() if minute is not None and name in names}


def _span_min(marks: Mapping[str, int]) -> tuple[int, int]:
    """From before the first moment to past the last, and to the early afternoon."""
    last = max(marks.values(), default=720)
    return max(min(marks.values(), default=360) - 30, 0), min(max(last + 90, 13 * 60), MINUTES_A_DAY - 1)


def _clock(morning: Morning, name: str) -> str:
    moment = morning.moment(name)
    return "–" if moment is None else f"{hhmm(moment)} {short_zone(morning.own.job.site, moment)}"
