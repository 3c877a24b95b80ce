"""The words of one choice: its name, the water it wins, and whether it pays. Terminal, page and sheet say the same."""

from __future__ import annotations

from trackersim.analysis.alternatives import Choice
from trackersim.analysis.options import Options
from trackersim.units import System, held_value, rounded, show, shown_value, unit_label

# Less gained than this share of today's water is within what such a figure can say.
SAME_SHARE = 0.005


def real_choices(options: Options) -> list[Choice]:
    """Rows with figures, but for leaving it as it is."""
    return [choice for choice in options.choices[1:] if choice.outcome is not None]


def name_of(choice: Choice, system: System) -> str:
    """What a choice is called, a figure in its name in the reader's units."""
    if choice.size is None or choice.name != choice.words:
        return choice.name
    return choice.pattern.format(show(*choice.size, system, digits=2))


def by_water(options: Options) -> tuple[Choice, ...]:
    """The choices that can be, repair first, then by wanted water won: an order that no price changes."""
    return tuple(
        sorted(
            real_choices(options),
            key=lambda each: (each.ready != "repair-rack", -each.used_gain_m3_per_day, -each.gain_m3_per_day),
        )
    )


def won_words(choice: Choice, options: Options, system: System) -> str:
    """The water that a choice wins or costs, of what is wanted and of what is lifted where they differ."""
    used, lifted = (gain_words(m3, system) for m3 in (choice.used_gain_m3_per_day, choice.gain_m3_per_day))
    unit = unit_label("volume_per_day", system)
    if not options.asked or used == lifted:
        return f"{lifted} {unit}"
    return f"{used} {unit} of wanted water ({lifted} lifted)"


def pays_words(choice: Choice, options: Options, system: System) -> str:
    """Whether a choice pays, and below which cost; as far as costs and the price of water are known."""
    money = options.job.money
    if choice.saving_unknown:
        return "today's power has no price, so its money cannot be told"
    if choice.used_gain_m3_per_day <= 0 and (choice.most_cost or 0.0) <= 0:
        return "does not pay, whatever it costs: it wins no water that is wanted"
    if choice.most_per_kwh is not None:
        most = choice.most_per_kwh
        return f"pays below {money.currency}{most:.2f} per kWh" if most > 0 else "does not pay at any price of energy"
    if money.price_of_water is None:
        if choice.cost_per_m3 is None:
            return ""
        price = f"{money.currency}{per_volume(choice.cost_per_m3, system):,.2f} per {volume_words(system)}"
        return f"pays where water is worth more than {price}"
    if choice.most_cost is None:
        return ""
    if choice.most_cost <= 0:
        return "does not pay, whatever it costs"
    below = f"pays below {amount_words(choice.most_cost, options)}"
    if choice.net_value is None or choice.price is None:
        return below
    value = amount_words(abs(choice.net_value), options)
    if choice.net_value <= 0:
        return f"does not pay: {value} worse than leaving it; it {below}"
    back = "" if choice.payback_years is None else f", back in {choice.payback_years:.1f} years"
    return f"pays: {value} better than leaving it{back}; it {below}"


def gain_words(m3_per_day: float, system: System) -> str:
    value = float(shown_value(m3_per_day, "volume_per_day", system))
    told = f"{value:+,.{0 if system == 'us' else 2}f}"
    return "0" if not told.strip("+-0.,") else told.replace("-", "−")


def per_volume(price_per_m3: float, system: System) -> float:
    """A price of one m³ as that of the volume of `volume_words`."""
    return price_per_m3 * held_value(1000.0 if system == "us" else 1.0, "volume", system)


def volume_words(system: System) -> str:
    return f"1000 {unit_label('volume', system)}" if system == "us" else unit_label("volume", system)


def amount_cell(value: float | None) -> str:
    """An amount in a table, "1,240" or "−85"; "–" for one that is not known."""
    return "–" if value is None else f"{value:,.0f}".replace("-0", "0").replace("-", "−")


def amount_words(value: float, options: Options) -> str:
    return f"{options.job.money.currency}{rounded(value)}"
