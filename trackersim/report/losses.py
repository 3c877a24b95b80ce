"""Where the water went, in words, in a table, and as a picture of steps going down."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from trackersim.analysis.loss_terms import SOURCE
from trackersim.analysis.losses import Losses, LossTerm
from trackersim.arrays import FloatArray
from trackersim.errors import counted
from trackersim.report.blocks import Answer, Picture, Table, sentences
from trackersim.report.figures import WIDTH_IN, new_figure, plain_text
from trackersim.report.remarks import closing_of, dangers_of
from trackersim.report.site_losses import NOTHING_M3, site_figures, site_words
from trackersim.report.words import rack_words
from trackersim.units import System, rounded, show, shown_value, unit_label

_WHOLE, _LOSS, _GAIN = "#3c4f5c", "#d9d3c7", "#ffffff"


def losses_answer(found: Losses, system: System) -> Answer:
    """The waterfall in words, as a picture and as a table."""
    return Answer(
        headline=losses_sentence(found, system),
        blocks=(
            *sentences(site_words(found.site, system)),
            Picture(draw=lambda: losses_figure(found, system), alt=losses_alt(found, system), name="losses"),
            Table(header=losses_header(), rows=tuple(losses_rows(found, system)), title=losses_title(found, system)),
            *sentences(order_words(found), gain_words(found)),
            *closing_of(found.result),
            *sentences(closing_words(found, system)),
        ),
        figures=site_figures(found.site),
        dangers=dangers_of(found.result),
        summary=found.summary(),
    )


def losses_sentence(losses: Losses, system: System) -> str:
    """The account in two sentences for the customer."""
    name = losses.job.site.name
    if losses.ideal.water_m3 <= 0:
        return f"{name}: this pump would lift no water even at an ideal site, so nothing is lost."
    ideal, own = (
        show(_per_day(worth.water_m3, losses), "volume_per_day", system) for worth in (losses.ideal, losses.own)
    )
    share = 100 * losses.own.water_m3 / losses.ideal.water_m3
    told = (
        f"{name}: with everything new, the rack following the sun and nothing in its way this pump would lift {ideal}; "
        f"as it stands on the {rack_words(losses.result)} it lifts {own}, {share:.0f} % of that."
    )
    largest = sorted(_losses(losses), key=lambda step: -step.lost.water_m3)[:3]
    if not largest:
        return f"{told} Nothing is lost that is worth a word."
    parts = [
        f"{_named(step.cause, losses)} ({show(_per_day(step.lost.water_m3, losses), 'volume_per_day', system)})"
        for step in largest
    ]
    return f"{told} The largest {'losses are' if len(parts) > 1 else 'loss is'} {_listed(parts)}."


def _named(cause: str, losses: Losses) -> str:
    """A cause as somebody on site calls it: what its water comes from by the name of what is there."""
    if cause != SOURCE:
        return cause
    kinds = {unit.source.kind for unit in losses.job.units}
    return "well drawn down" if kinds == {"well"} else "collecting tank" if kinds == {"sump"} else "wells and tanks"


def _losses(losses: Losses) -> list[LossTerm]:
    return [step for step in losses.terms if _per_day(step.lost.water_m3, losses) >= NOTHING_M3]


def _listed(parts: list[str]) -> str:
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"


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
    """The account: from the ideal, a row for each cause, to the job as it stands; "–" for what the job has not."""

    def water(value_m3: float) -> float:
        return float(shown_value(_per_day(value_m3, losses), "volume_per_day", system))

    def whole(name: str, value_m3: float, energy_kwh: float) -> tuple[str, ...]:
        return (name, rounded(water(value_m3), 4), f"{energy_kwh:.0f}", "", "")

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
    return [*rows, whole("as it stands", losses.own.water_m3, losses.own.energy_kwh)]


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
    told = [f"{_listed(water)} {'is' if len(water) == 1 else 'are'} a gain here, not a loss"] if water else []
    if energy:
        told.append(f"{_listed(energy)} {'lets' if len(energy) == 1 else 'let'} the motor take more energy, not less")
    return "; ".join(told).capitalize() + "." if told else ""


def order_words(losses: Losses) -> str:
    """How to read the two pairs of columns."""
    told = (
        "Equipment comes first, each cause counted with those above it already at work; trees and the rack come last, "
        "each as the mean of both orders, so that all add up. “Mended alone” is what the job as it stands would gain "
        "if this one cause were gone and all others stayed; it does not add up."
    )
    if losses.job.store.capacity_m3 is None:
        told += " The tank's capacity is not given, so a full tank is not counted."
    return told


def closing_words(losses: Losses, system: System) -> str:
    """The one cause that costs most by itself."""
    best = max(losses.terms, key=lambda step: step.alone.water_m3)
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
        f"Steps going down from {rows[0][1]} {unit} (ideal in every way) to {rows[-1][1]} {unit} (as it stands): "
        f"{steps or 'no cause takes anything'}."
    )


def losses_figure(losses: Losses, system: System) -> Figure:
    """The account as bars that hang from each other: dark for what is there, hatched for a loss, white for a gain."""
    figure = new_figure(WIDTH_IN, 5.0)
    axes: Axes = figure.subplots()
    steps = [step for step in losses.terms if step.present]
    lost = np.array([_per_day(step.lost.water_m3, losses) for step in steps])
    after = _per_day(losses.ideal.water_m3, losses) - np.cumsum(lost)
    left = shown_value(np.minimum(after, after + lost), "volume_per_day", system)
    width = shown_value(np.abs(lost), "volume_per_day", system)
    ends = [
        float(shown_value(_per_day(w.water_m3, losses), "volume_per_day", system)) for w in (losses.ideal, losses.own)
    ]
    place = np.arange(1, len(steps) + 1)
    axes.barh([0, len(steps) + 1], ends, height=0.72, color=_WHOLE)
    for wanted, colour, hatch, name in ((lost >= 0, _LOSS, "////", "lost"), (lost < 0, _GAIN, "", "gained")):
        if wanted.any():
            axes.barh(place[wanted], width[wanted], left=left[wanted], height=0.72, color=colour, hatch=hatch,
                      edgecolor="black", linewidth=0.7, label=name)  # fmt: skip
    _name_bars(axes, losses_rows(losses, system), left, width, ends)
    axes.set_xlabel(f"Water lifted, {unit_label('volume_per_day', system)}")
    axes.set_title(plain_text(f"{losses.job.site.name}: where the water went"), loc="left")
    if steps:
        axes.legend(frameon=False, fontsize=9, loc="lower right")
    return figure


def _name_bars(axes: Axes, rows: list[tuple[str, ...]], left: FloatArray, width: FloatArray, ends: list[float]) -> None:
    """Causes at the side, figures beside the bars."""
    shown = [row for row in rows if row[1] != "–"]
    axes.set_yticks(range(len(shown)), [row[0] for row in shown])
    axes.invert_yaxis()
    axes.spines[["top", "right", "left"]].set_visible(False)
    axes.tick_params(axis="y", length=0)
    axes.set_xlim(0, max(*ends, 1e-9) * 1.02)
    room = 0.12 * max(*ends, 1e-9)
    for number, (row, edge) in enumerate(zip(shown, [ends[0], *left, ends[1]], strict=True)):
        whole, tight = number in (0, len(shown) - 1), edge < room
        # Where the bars come near the side, figures of steps stand inside the picture, beyond the bar.
        beyond = width[number - 1] if tight and not whole else 0.0
        spot = (edge + beyond, number)
        axes.annotate(f" {row[1]} ", spot, ha="left" if tight else "right", va="center", fontsize=9,
                      color="white" if whole and not tight else "black")  # fmt: skip
