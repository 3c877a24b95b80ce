"""Where the water went, in words, in a table, and as a picture of steps going down."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from trackersim.analysis.loss_terms import SOURCE, TANK_FULL
from trackersim.analysis.losses import Losses, LossTerm
from trackersim.arrays import FloatArray
from trackersim.errors import counted
from trackersim.report.blocks import Answer, Picture, Table, sentences
from trackersim.report.chart_series import Chart, Series
from trackersim.report.figures import WIDTH_IN, new_figure, plain_text
from trackersim.report.remarks import closing_of, dangers_of
from trackersim.report.site_losses import NOTHING_M3, site_words
from trackersim.report.words import NOTABLY, listed, pumps_words, rack_words, the_pumps
from trackersim.units import System, rounded, show, shown_value, unit_label

# Colour and hatch of what a step is.
_LOOK = {"there": ("#3c4f5c", ""), "lost": ("#d9d3c7", "////"), "gained": ("#ffffff", "")}


def losses_answer(found: Losses, system: System, *, stands_m3_per_day: float | None = None) -> Answer:
    """The waterfall in words, as a picture and as a table; `stands_m3_per_day` as for `losses_chart`."""
    return Answer(
        headline=losses_sentence(found, system),
        blocks=(
            *sentences(site_words(found.site, system)),
            Picture(
                draw=lambda: losses_figure(found, system),
                alt=losses_alt(found, system),
                name="losses",
                charts=lambda: (losses_chart(found, system, stands_m3_per_day=stands_m3_per_day),),
            ),
            Table(header=losses_header(), rows=tuple(losses_rows(found, system)), title=losses_title(found, system)),
            *sentences(order_words(found), gain_words(found)),
            *sentences(closing_words(found, system)),
            *closing_of(system, found.result),
        ),
        dangers=dangers_of(system, found.result),
        summary=found.summary(),
    )


def losses_sentence(losses: Losses, system: System) -> str:
    """The account in two sentences for the customer."""
    name = losses.job.site.name
    if losses.ideal.water_m3 <= 0:
        return f"{name}: {pumps_words(losses.job)} would lift no water even at an ideal site, so nothing is lost."
    ideal, own = (
        show(_per_day(worth.water_m3, losses), "volume_per_day", system) for worth in (losses.ideal, losses.own)
    )
    share = 100 * losses.own.water_m3 / losses.ideal.water_m3
    pumps, lifts = pumps_words(losses.job), "it lifts" if len(losses.job.units) == 1 else "they lift"
    told = (
        f"{name}: with everything new, the rack following the sun and nothing in its way {pumps} would lift {ideal}; "
        f"now, on the {rack_words(losses.result)}, {lifts} {own}, {share:.0f} % of that."
    )
    largest = sorted(_losses(losses), key=lambda step: -step.lost.water_m3)[:3]
    full = _full_tank_words(losses, system)
    if not largest:
        return f"{told}{full or ' Nothing is lost that is worth a word.'}"
    parts = [
        f"{_named(step.cause, losses)} ({show(_per_day(step.lost.water_m3, losses), 'volume_per_day', system)})"
        for step in largest
    ]
    return f"{told} The largest {'losses are' if len(parts) > 1 else 'loss is'} {listed(parts)}.{full}"


def _full_tank_words(losses: Losses, system: System) -> str:
    """What a full tank holds back of the job as it stands, and how much of it is asked for; empty where `run` has no
    word for it either."""
    held = next((_per_day(step.alone.water_m3, losses) for step in losses.terms if step.cause == TANK_FULL), 0.0)
    if held < NOTHING_M3 or held <= (NOTABLY - 1) * _per_day(losses.own.water_m3, losses):
        return ""
    short = losses.result.shortfall_m3
    wanted = 0.0 if short is None else min(float(short.mean()), held)
    asked = f"at most {show(wanted, 'volume_per_day', system)} of it" if wanted >= NOTHING_M3 else "none of it"
    return (
        f" While the tank is full {the_pumps(losses.job, 'stand')}: {show(held, 'volume_per_day', system)} more could "
        f"be lifted, and {asked} is asked for."
    )


def _named(cause: str, losses: Losses) -> str:
    """A cause in the words of the site: the source by its kind."""
    if cause != SOURCE:
        return cause
    kinds = {unit.source.kind for unit in losses.job.units}
    return "well drawn down" if kinds == {"well"} else "collecting tank" if kinds == {"sump"} else "wells and tanks"


def _losses(losses: Losses) -> list[LossTerm]:
    """What takes water that is wanted: a full tank apart."""
    terms = [step for step in losses.terms if step.cause != TANK_FULL]
    return [step for step in terms if _per_day(step.lost.water_m3, losses) >= NOTHING_M3]


def _per_day(total: float, losses: Losses) -> float:
    return total / losses.days


def losses_title(losses: Losses, system: System) -> str:
    """What the table counts."""
    return (
        f"Water lifted in {unit_label('volume_per_day', system)}, energy taken by the motor while it gives water in "
        f"kWh in {counted(losses.days, 'day')}; causes in the order in which they are put back, + a gain"
    )


def losses_header() -> tuple[str, ...]:
    """Column heads of `losses_rows`."""
    return ("Cause", "Water", "Energy", "Mended alone:\nwater", "Mended alone:\nenergy")


def losses_rows(losses: Losses, system: System) -> list[tuple[str, ...]]:
    """The account: from the ideal, a row for each cause, to the job now; "–" for what the job has not."""

    def water(value_m3: float) -> float:
        return float(shown_value(_per_day(value_m3, losses), "volume_per_day", system))

    def whole(name: str, value_m3: float, energy_kwh: float) -> tuple[str, ...]:
        return (name, rounded(water(value_m3), 4), f"{energy_kwh:,.0f}", "", "")

    decimals = 0 if system == "us" else 2
    rows = [whole("ideal in every way", losses.ideal.water_m3, losses.ideal.energy_kwh)]
    for step in losses.terms:
        if not step.present:
            rows.append((_named(step.cause, losses), "–", "–", "–", "–"))
            continue
        lost, alone = step.lost, step.alone
        figures = (_signed(-water(lost.water_m3), decimals), _signed(-lost.energy_kwh))
        gains = (_signed(water(alone.water_m3), decimals), _signed(alone.energy_kwh))
        rows.append((_named(step.cause, losses), *figures, *gains))
    return [*rows, whole("now", losses.own.water_m3, losses.own.energy_kwh)]


def _signed(value: float, decimals: int = 0) -> str:
    return "0" if abs(value) < 0.5 / 10**decimals else f"{value:+,.{decimals}f}".replace("-", "−")


def gain_words(losses: Losses) -> str:
    """Steps that come out as a gain, named as such; empty without any."""
    water = [_named(step.cause, losses) for step in losses.terms if _per_day(step.lost.water_m3, losses) <= -NOTHING_M3]
    energy = [
        name
        for name, step in ((_named(step.cause, losses), step) for step in losses.terms)
        if step.lost.energy_kwh <= -0.5 and name not in water
    ]
    told = [f"a gain here, not a loss: {listed(water)}"] if water else []
    if energy:
        told.append(f"more energy for the motor, not less: {listed(energy)}")
    return "; ".join(told).capitalize() + "." if told else ""


def order_words(losses: Losses) -> str:
    """How to read the two pairs of columns."""
    told = (
        "Equipment comes first, each cause counted with those above it already at work; trees and the rack come last, "
        "each as the mean of both orders, so that all add up. “Mended alone” is what would be gained now "
        "if this one cause were gone and all others stayed; it does not add up."
    )
    if losses.job.store.kind == "tank" and losses.job.store.capacity_m3 is None:  # nothing else stops a pump when full
        told += " The tank's capacity is not given, so a full tank is not counted."
    return told


def closing_words(losses: Losses, system: System) -> str:
    """The one cause that costs most by itself."""
    best = max((step for step in losses.terms if step.cause != TANK_FULL), key=lambda step: step.alone.water_m3)
    gain = _per_day(best.alone.water_m3, losses)
    if gain < NOTHING_M3:
        return "No single cause is worth mending for its water."
    return f"Mended alone, {_named(best.cause, losses)} would gain most: {show(gain, 'volume_per_day', system)} more."


def losses_alt(losses: Losses, system: System) -> str:
    """The picture in words, for those who cannot see it."""
    rows = losses_rows(losses, system)
    steps = "; ".join(f"{row[0]} {row[1]}" for row in rows[1:-1] if row[1] not in ("–", "0"))
    unit = unit_label("volume_per_day", system)
    return (
        f"Steps going down from {rows[0][1]} {unit} (ideal in every way) to {rows[-1][1]} {unit} (now): "
        f"{steps or 'no cause takes anything'}."
    )


def losses_figure(losses: Losses, system: System) -> Figure:
    """The account as bars that hang from each other: dark for what is there, hatched for a loss, white for a gain."""
    figure = new_figure(WIDTH_IN, 5.0)
    axes: Axes = figure.subplots()
    chart = losses_chart(losses, system)
    for series in chart.series:
        assert series.begins is not None
        there = np.flatnonzero(np.isfinite(series.values))
        begins, ends = series.begins[there], series.values[there]
        colour, hatch = _LOOK[series.look]
        bars = axes.barh(there, ends - begins, left=begins, height=0.72, color=colour, hatch=hatch)
        if series.look != "there":
            bars.set_label(series.name)
            for bar in bars:
                bar.set(edgecolor="black", linewidth=0.7)
        for place, begin, end in zip(there.tolist(), begins, ends, strict=True):
            _figure_beside(axes, place, begin, end, series.told[place], whole=series.look == "there")
    axes.set_yticks(range(len(chart.across)), list(chart.across))
    axes.invert_yaxis()
    axes.spines[["top", "right", "left"]].set_visible(False)
    axes.tick_params(axis="y", length=0)
    axes.set_xlim(0, chart.limits[1] * 1.02)
    axes.set_xlabel(chart.axis)
    axes.set_title(plain_text(chart.title), loc="left")
    if len(chart.series) > 1:
        axes.legend(frameon=False, fontsize=9, loc="lower right")
    return figure


def _figure_beside(axes: Axes, place: int, begin: float, end: float, told: str, *, whole: bool) -> None:
    """The figure of one bar, where there is room."""
    edge = end if whole else begin
    tight = edge < 0.12 * axes.dataLim.xmax
    # Where the bars come near the side, figures of steps stand inside the picture, beyond the bar.
    spot, side = (end if tight else edge, place), "left" if tight else "right"
    colour = "white" if whole and not tight else "black"
    axes.annotate(f" {told} ", spot, ha=side, va="center", fontsize=9, color=colour)


def losses_chart(losses: Losses, system: System, *, stands_m3_per_day: float | None = None) -> Chart:
    """The account as bars that hang from each other; `stands_m3_per_day` is lifted by the job as it stands.

    Where something is supposed, the account is of what is looked at ("now"), as in the page's strip.
    """

    def water(value_m3: FloatArray | float) -> FloatArray:
        return np.asarray(shown_value(np.asarray(value_m3) / losses.days, "volume_per_day", system))

    rows = [row for row in losses_rows(losses, system) if row[1] != "–"]
    told = tuple(row[1] for row in rows)
    lost = np.array([step.lost.water_m3 for step in losses.terms if step.present])
    after = losses.ideal.water_m3 - np.cumsum(lost)
    begins = water(np.concatenate([[0.0], np.minimum(after, after + lost), [0.0]]))
    ends = water(np.concatenate([[losses.ideal.water_m3], np.maximum(after, after + lost), [losses.own.water_m3]]))
    whole = np.arange(len(rows)) % (len(rows) - 1) == 0
    gained = np.concatenate([[False], lost < 0, [False]])
    unit = unit_label("volume_per_day", system)
    return Chart(
        kind="steps",
        title=f"{losses.job.site.name}: where the water went",
        axis=f"Water lifted, {unit}",
        unit=unit,
        across=tuple(row[0] for row in rows),
        series=tuple(
            Series(name=name, look=look, values=np.where(shown, ends, np.nan), begins=begins, told=told)
            for look, name, shown in (("there", "water", whole), ("lost", "lost", ~whole & ~gained),
                                      ("gained", "gained", gained))
            if shown.any()
        ),
        limits=(0.0, max(float(ends[0]), float(ends[-1]), 1e-9)),
        level=None if stands_m3_per_day is None
        else ("the job as it stands", float(shown_value(stands_m3_per_day, "volume_per_day", system))),
    )  # fmt: skip
