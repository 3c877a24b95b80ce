"""Sentences about results: what a customer would be told, before any table."""

from __future__ import annotations

import calendar
from collections.abc import Iterable, Mapping, Sequence

from trackersim.constants import DAYS_A_YEAR
from trackersim.errors import Notice, counted
from trackersim.job.economics import Money
from trackersim.job.model import Job
from trackersim.report.blocks import Table
from trackersim.simulation.day_figures import DayFigures
from trackersim.simulation.pump_station import PAIR
from trackersim.units import System, rounded, show, shown_number, unit_label

MONTHS = tuple(calendar.month_name)[1:]

# So much more is worth a word.
NOTABLY = 1.01

# How each kind of rack is spoken of.
RACK_WORDS: dict[str, str] = {
    "fixed": "fixed rack",
    "delayed": "late-turning rack",
    "thermal": "thermal rack, by physics",
    "ideal": "ideal tracking rack",
    "logged": "rack as logged",
}

# The two words for the morning's light; `analysis.light_moments` says what they mean.
FULL_SUN = "full sun"


def first_light_words(job: Job) -> str:
    """First light, past what stands there."""
    return "first light through the branches" if job.trees else "first light"


def side_words(rotation_deg: float) -> str:
    """ "50° west" or "level": how a rack stands."""
    angle = abs(rotation_deg)
    return "level" if angle < 0.5 else f"{angle:.0f}° {'west' if rotation_deg > 0 else 'east'}"


def listed(parts: Sequence[str], *, last: str = "and") -> str:
    """ "a, b and c"; one alone as it is."""
    return f"{', '.join(parts[:-1])} {last} {parts[-1]}" if len(parts) > 1 else parts[0]


def flows_words(flows_m3_s: Iterable[float], system: System) -> str:
    """ "0, 23 or 45": flows of which one is to be found, in the unit that stands beside them; equal ones once."""
    once = dict.fromkeys(shown_number(flow, "flow", system, digits=2) for flow in flows_m3_s)
    return listed(list(once), last="or")


def stays_words(never: int, runs: int) -> str:
    """How many mornings have no turn of the rack, where neither that nor a turn is rare.

    >>> stays_words(97, 192)
    'on about 5 of 10 such mornings'
    """
    return f"on about {min(max(round(10 * never / runs), 1), 9)} of 10 such mornings"


# Where an answer sends somebody to a pump.
AT_THE_WELL = (
    "Wells, sumps and tanks are confined spaces: never enter alone. Lock out the supply before touching a pump; pipe "
    "and pump need a safe lift."
)


def all_notices(results: Iterable[DayFigures]) -> list[Notice]:
    """The notices of all results, once each, dangers first."""
    once = dict.fromkeys(notice for result in results for notice in result.notices)
    return sorted(once, key=lambda notice: ("danger", "caution", "note").index(notice.level))


def rack_words(result: DayFigures) -> str:
    """The rack of a result, in words; of several racks that are not of one kind, no name is that of all."""
    return "racks as they are" if racks_differ(result.job) else first_rack_words(result)


def first_rack_words(result: DayFigures) -> str:
    """The rack of its first unit, with the angle of one that stands still."""
    rack = result.job.rack
    if result.rack == "thermal" and rack.thermal.stuck:
        return _stuck_words(rack.thermal.stuck_at_deg)
    if result.rack != "fixed":
        return RACK_WORDS[result.rack]
    if rack.fixed_rotation_deg:
        return _stuck_words(rack.fixed_rotation_deg)
    tilt = rack.axis_tilt_taken_deg if rack.fixed_tilt_deg is None else rack.fixed_tilt_deg
    facing = rack.fixed_azimuth_deg
    return f"rack fixed at {tilt:g}° tilt" + (f" facing {facing:g}°" if facing is not None else "")


def _stuck_words(rotation_deg: float) -> str:
    side = "west" if rotation_deg > 0 else "east"
    return f"rack stuck {abs(rotation_deg):g}° to the {side}" if rotation_deg else "rack stuck at its centre"


def racks_differ(job: Job) -> bool:
    """Whether the job's units stand on racks of more than one kind."""
    return len({unit.rack.kind for unit in job.units}) > 1


def pumps_words(job: Job) -> str:
    """ "this pump", or "these 3 pumps"."""
    return "this pump" if len(job.units) == 1 else f"these {len(job.units)} pumps"


def the_pumps(job: Job, verb: str) -> str:
    """ "the pump lifts", or "the pumps lift": `verb` is that of several."""
    return f"the pump {verb}s" if len(job.units) == 1 else f"the pumps {verb}"


def running_words(job: Job) -> str:
    """Which of several pumps run at the flows that may be found at the pipe."""
    return "no pump, one alone or both" if len(job.units) == PAIR else "no pump, one alone, all but one or all"


# Beside figures of a job without a weather file.
CLOUDLESS = "Every day is taken as cloudless: the most the place can give."


def sky_words(result: DayFigures) -> str:
    """That the days are cloudless, before a figure that is therefore the most a place can give; else empty."""
    return "under a sky without a cloud, the most the place can give, " if result.job.weather.clear_sky else ""


def headline(result: DayFigures, system: System) -> str:
    """One sentence: water a day, its best and worst month, and whether it covers the demand."""
    water = show(result.water_m3_per_day, "volume_per_day", system)
    sky = f"{sky}and " if (sky := sky_words(result)) else ""
    lifts = f"{'lifts' if len(result.job.units) == 1 else 'lift'} about {water} on average"
    if result.could_m3_per_day > NOTABLY * result.water_m3_per_day:
        could = show(result.could_m3_per_day, "volume_per_day", system)
        lifts = f"could lift about {could} on average; the {result.job.store.kind} takes {water}"
    rack = rack_words(result)
    rack += "," if "," in rack else ""  # "thermal rack, by physics," closes what it opens
    sentence = f"{result.job.site.name}: {sky}on the {rack} {pumps_words(result.job)} {lifts}"
    per_day = water_per_day_by_month(result)
    if len(per_day) > 1:
        worst, best = min(per_day, key=per_day.__getitem__), max(per_day, key=per_day.__getitem__)
        least, most = (shown_number(per_day[m], "volume_per_day", system) for m in (worst, best))
        sentence += f", from {least} in {MONTHS[worst - 1]} to {most} in {MONTHS[best - 1]}"
    return sentence + "." + demand_words(result, system)


def demand_words(result: DayFigures, system: System) -> str:
    """A second sentence on the demand, empty without one."""
    met = result.days_meeting_demand
    if met is None:
        return ""
    done = "lifted" if result.shortfall_m3 is None else "met"  # from a store that is followed, water of other days too
    wanted = wanted_words(result, system)
    return f" The {wanted} wanted in the {result.job.store.kind} are {done} on {met} of {counted(result.days, 'day')}."


def wanted_words(result: DayFigures, system: System) -> str:
    """What is wanted a day in the months simulated, least and most where they differ; empty without a demand."""
    demands = result.job.store.demands_m3_per_day
    wanted = [demands[month - 1] for month in result.monthly_means.index.tolist()]
    most = show(max(wanted), "volume_per_day", system)
    if max(wanted) <= min(wanted):
        return most if max(wanted) > 0 else ""
    return f"{shown_number(min(wanted), 'volume_per_day', system)} to {most}"


def flip_words(result: DayFigures) -> str:
    """A sentence on the morning turn, of several racks that of the first; empty for one that has none."""
    flip = result.flip_summary()
    turned = flip["days_flipped"]
    if turned is None:
        return ""
    of = f" of {result.job.unit_names[0]}" if len(result.job.units) > 1 else ""
    if not turned:
        return f"The rack{of} never turned east in the days simulated."
    words = f"{f'The rack{of}' if of else 'It'} turned east on {turned:.0f} of {counted(result.days, 'day')}"
    if flip["median_min_after_sunrise"] is not None and flip["median_min_after_first_beam"] is not None:
        half = "half of them " if turned > 1 else ""
        words += (
            f", {half}within {flip['median_min_after_sunrise']:.0f} min of sunrise "
            f"({flip['median_min_after_first_beam']:.0f} min after the sun first reached it)"
        )
    stayed = result.days - turned
    return words + (f"; on {counted(int(stayed), 'day')} it did not." if stayed else ".")


def energy_words(result: DayFigures) -> str:
    """What the array could give to its controller and what is used of it."""
    could, used = result.daily["input_kwh"].mean(), result.daily["used_kwh"].mean()
    if not could > 0:
        return "The array gives nothing here."
    several = "s" if len(result.job.units) > 1 else ""
    told = f"The array{several} could give {could:.1f} kWh a day, of which {used:.1f} are used"
    rest = round(used, 1) < round(could, 1)  # as printed: else there is none to speak of
    told += f": the rest finds the pump{several} at rest, or already at full speed." if rest else "."
    return f"{told}{_backup_words(result, used)}"


def _backup_words(result: DayFigures, used_kwh_per_day: float) -> str:
    """What the grid or a generator gives beside the sun, and what the sun's part would cost; empty without one."""
    backup, bought_kwh, money = result.job.backup, result.bought_kwh, result.job.money
    if backup is None or bought_kwh is None:
        return ""
    told = f" The {backup.kind} gives {bought_kwh / result.days:.1f} kWh a day"
    if backup.price_per_kwh is None:
        return f"{told}."
    paid, same = (
        f"{money.currency}{kwh * backup.price_per_kwh * DAYS_A_YEAR:,.0f}"
        for kwh in (bought_kwh / result.days, used_kwh_per_day)
    )
    # Not what the sun spares: it also lifts water that nobody would buy.
    return f"{told}, {paid} a year; as much as the sun gives would cost {same} a year."


def worth_words(water_m3_per_day: float, money: Money) -> str:
    """What so much water a day is worth in a year, empty without a price of water."""
    if money.price_of_water is None:
        return ""
    worth = abs(water_m3_per_day) * DAYS_A_YEAR * money.price_of_water
    return f"{money.currency}{rounded(worth)} a year at the price of water given"


def water_per_day_by_month(result: DayFigures) -> dict[int, float]:
    """Mean water a day [m³/day] of each month that was simulated."""
    means = result.monthly_means
    return dict(zip(means.index.tolist(), means["water_m3"].tolist(), strict=True))


def month_table(result: DayFigures, system: System) -> Table:
    """Water, energy that could be given, energy used and light of each month that was simulated."""
    means = result.monthly_means
    water = [shown_number(m3, "volume_per_day", system) for m3 in means["water_m3"].tolist()]
    energies = [[f"{kwh:.2f}" for kwh in means[name].tolist()] for name in ("input_kwh", "used_kwh", "plane_kwh_m2")]
    head = f"Water, {unit_label('volume_per_day', system)}"
    return Table(
        header=("Month", head, "Could give, kWh", "Used, kWh", "Light, kWh/m²"),
        rows=tuple(zip((MONTHS[month - 1] for month in means.index.tolist()), water, *energies, strict=True)),
        title="Means a day",
    )


def compare_table(results: Mapping[str, DayFigures], system: System) -> Table:
    """The racks beside each other, a row each."""
    ideal = results.get("ideal")
    rows: list[tuple[str, ...]] = []
    for result in results.values():
        worst = min(water_per_day_by_month(result).values())
        flip = result.flip_summary()["median_min_after_sunrise"]
        rows.append(
            (
                rack_words(result).replace("rack ", "").replace(" rack", ""),
                shown_number(result.water_m3_per_day, "volume_per_day", system),
                f"{100 * result.water_m3 / ideal.water_m3:.1f} %" if ideal and ideal.water_m3 > 0 else "–",
                shown_number(worst, "volume_per_day", system),
                f"{result.daily['used_kwh'].mean():.1f}/{result.daily['input_kwh'].mean():.1f}",
                f"{result.daily['plane_kwh_m2'].mean():.2f}",
                f"{flip:.0f}" if flip is not None else "–",
            )
        )
    unit = unit_label("volume_per_day", system)
    return Table(
        header=("Rack", "Water", "of ideal", "worst", "Used", "Light", "Turns"),
        rows=tuple(rows),
        title=f"Water in {unit}, on average and in the worst month; energy used / could be given, kWh a day; light, "
        "kWh/m² a day; turn, min from sunrise",
    )


def provenance_words(result: DayFigures) -> str:
    """One line to trace the figures by."""
    origin = result.provenance
    return (
        f"trackersim {origin.version} · job {origin.job_sha256[:12]} · weather {origin.weather_name} "
        f"{origin.weather_sha256[:12]} · {origin.first_day} to {origin.last_day}"
    )
