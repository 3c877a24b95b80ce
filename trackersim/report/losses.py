"""Where the water went, in words, in a table, and as a picture of steps going down."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from trackersim.analysis.losses import Ledger, Step
from trackersim.arrays import FloatArray
from trackersim.errors import counted
from trackersim.report.figures import WIDTH_IN, plain_text
from trackersim.report.words import rack_words
from trackersim.units import System, rounded, show, shown_value, unit_label

# Less than this a day is not worth a word [m³/day]: about a quarter of a gallon.
_NOTHING_M3 = 0.001
_WHOLE, _LOSS, _GAIN = "#3c4f5c", "#d9d3c7", "#ffffff"


def losses_sentence(ledger: Ledger, system: System) -> str:
    """The account in two sentences for the customer."""
    name = ledger.job.site.name
    if ledger.ideal.water_m3 <= 0:
        return f"{name}: this pump would lift no water even at an ideal site, so nothing is lost."
    ideal, own = (
        show(_per_day(worth.water_m3, ledger), "volume_per_day", system) for worth in (ledger.ideal, ledger.own)
    )
    share = 100 * ledger.own.water_m3 / ledger.ideal.water_m3
    told = (
        f"{name}: with everything new, the rack following the sun and nothing in its way this pump would lift {ideal}; "
        f"as it stands on the {rack_words(ledger.result)} it lifts {own}, {share:.0f} % of that."
    )
    largest = sorted(_losses(ledger), key=lambda step: -step.lost.water_m3)[:3]
    if not largest:
        return f"{told} Nothing is lost that is worth a word."
    parts = [
        f"{step.cause} ({show(_per_day(step.lost.water_m3, ledger), 'volume_per_day', system)})" for step in largest
    ]
    return f"{told} The largest {'losses are' if len(parts) > 1 else 'loss is'} {_listed(parts)}."


def _losses(ledger: Ledger) -> list[Step]:
    return [step for step in ledger.steps if _per_day(step.lost.water_m3, ledger) >= _NOTHING_M3]


def _listed(parts: list[str]) -> str:
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"


def _per_day(total: float, ledger: Ledger) -> float:
    return total / ledger.days


def losses_title(ledger: Ledger, system: System) -> str:
    """What the table counts."""
    return (
        f"Water lifted in {unit_label('volume_per_day', system)}, energy taken by the motor while it gives water in "
        f"kWh in {counted(ledger.days, 'day')}; causes in the order in which they are put back, + a gain"
    )


def losses_header() -> tuple[str, ...]:
    """Column heads of `losses_rows`."""
    return ("Cause", "Water", "Energy", "Mended alone:\nwater", "Mended alone:\nenergy")


def losses_rows(ledger: Ledger, system: System) -> list[tuple[str, ...]]:
    """The account: from the ideal, a row for each cause, to the job as it stands; "–" for what the job has not."""

    def water(value_m3: float) -> float:
        return float(shown_value(_per_day(value_m3, ledger), "volume_per_day", system))

    def whole(name: str, value_m3: float, energy_kwh: float) -> tuple[str, ...]:
        return (name, rounded(water(value_m3), 4), f"{energy_kwh:.0f}", "", "")

    decimals = 0 if system == "us" else 2
    rows = [whole("ideal in every way", ledger.ideal.water_m3, ledger.ideal.energy_kwh)]
    for step in ledger.steps:
        if not step.present:
            rows.append((step.cause, "–", "–", "–", "–"))
            continue
        lost, alone = step.lost, step.alone
        figures = (_signed(-water(lost.water_m3), decimals), _signed(-lost.energy_kwh))
        rows.append((step.cause, *figures, _signed(water(alone.water_m3), decimals), _signed(alone.energy_kwh)))
    return [*rows, whole("as it stands", ledger.own.water_m3, ledger.own.energy_kwh)]


def _signed(value: float, decimals: int = 0) -> str:
    return "0" if abs(value) < 0.5 / 10**decimals else f"{value:+,.{decimals}f}".replace("-", "−")


def gain_words(ledger: Ledger) -> str:
    """Steps that come out as a gain, named as such; empty without any."""
    water = [step.cause for step in ledger.steps if _per_day(step.lost.water_m3, ledger) <= -_NOTHING_M3]
    energy = [step.cause for step in ledger.steps if step.lost.energy_kwh <= -0.5 and step.cause not in water]
    told = [f"{_listed(water)} {'is' if len(water) == 1 else 'are'} a gain here, not a loss"] if water else []
    if energy:
        told.append(f"{_listed(energy)} {'lets' if len(energy) == 1 else 'let'} the motor take more energy, not less")
    return "; ".join(told).capitalize() + "." if told else ""


def order_words(ledger: Ledger) -> str:
    """How to read the two pairs of columns."""
    told = (
        "The steps add up because each is counted with the causes above it already at work; in another order they "
        "would differ. “Mended alone” is what mending this one cause would gain on the site as it stands, and does not "
        "add up: a mended flip counts with its wait behind trees, and trees gone from beam or sky leave the flip as it "
        "is."
    )
    if ledger.job.store.capacity_m3 is None:
        told += " The tank's capacity is not given, so a full tank is not counted."
    return told


def closing_words(ledger: Ledger, system: System) -> str:
    """The one thing to mend first."""
    best = max(ledger.steps, key=lambda step: step.alone.water_m3)
    gain = _per_day(best.alone.water_m3, ledger)
    if gain < _NOTHING_M3:
        return "No single cause is worth mending for its water."
    return f"Mended alone, {best.cause} would gain most: {show(gain, 'volume_per_day', system)} more."


def losses_alt(ledger: Ledger, system: System) -> str:
    """The picture in words, for those who cannot see it."""
    rows = losses_rows(ledger, system)
    steps = "; ".join(f"{row[0]} {row[1]}" for row in rows[1:-1] if row[1] not in ("–", "0"))
    unit = unit_label("volume_per_day", system)
    return (
        f"Steps going down from {rows[0][1]} {unit} (ideal in every way) to {rows[-1][1]} {unit} (as it stands): "
        f"{steps or 'no cause takes anything'}."
    )


def losses_figure(ledger: Ledger, system: System) -> Figure:
    """The account as bars that hang from each other: dark for what is there, hatched for a loss, white for a gain."""
    figure = Figure(figsize=(WIDTH_IN, 5.0), layout="constrained")
    axes: Axes = figure.subplots()
    steps = [step for step in ledger.steps if step.present]
    lost = np.array([_per_day(step.lost.water_m3, ledger) for step in steps])
    after = _per_day(ledger.ideal.water_m3, ledger) - np.cumsum(lost)
    left = shown_value(np.minimum(after, after + lost), "volume_per_day", system)
    width = shown_value(np.abs(lost), "volume_per_day", system)
    ends = [
        float(shown_value(_per_day(w.water_m3, ledger), "volume_per_day", system)) for w in (ledger.ideal, ledger.own)
    ]
    place = np.arange(1, len(steps) + 1)
    axes.barh([0, len(steps) + 1], ends, height=0.72, color=_WHOLE)
    for wanted, colour, hatch, name in ((lost >= 0, _LOSS, "////", "lost"), (lost < 0, _GAIN, "", "gained")):
        if wanted.any():
            axes.barh(place[wanted], width[wanted], left=left[wanted], height=0.72, color=colour, hatch=hatch,
                      edgecolor="black", linewidth=0.7, label=name)  # fmt: skip
    _name_bars(axes, losses_rows(ledger, system), left, width, ends)
    axes.set_xlabel(f"Water lifted, {unit_label('volume_per_day', system)}")
    axes.set_title(plain_text(f"{ledger.job.site.name}: where the water went"), loc="left")
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
