"""What a thermal rack's result must say: what it rests on, frost and hunting, and racks that cannot reach the sun."""

from __future__ import annotations

import numpy as np

from trackersim.arrays import FloatArray
from trackersim.errors import Notice, counted
from trackersim.job.model import Job
from trackersim.rack.events import ARRIVED_WITHIN_DEG
from trackersim.rack.refrigerant import out_of_range
from trackersim.rack.thermal import ThermalHistory, resting_west_deg

_HOT_C = 60.0  # a canister in full sun on a hot day without wind
_RESTLESS_DEG = 600.0  # of travel in a day: three times what following the sun takes


def thermal_notices(job: Job, history: ThermalHistory | None, *, has_wind_direction: bool) -> tuple[Notice, ...]:
    """What a thermal rack's result rests on, and what was unusual about it.

    Parameters
    ----------
    job : Job
        A job with a thermal rack.
    history : ThermalHistory | None
        What its canisters did; None for a rack that is stuck.
    has_wind_direction : bool
        Whether the weather says where the wind comes from.

    Returns
    -------
    tuple[Notice, ...]
        Assumptions first, then cautions.
    """
    thermal = job.rack.thermal
    notices = [
        Notice(
            text="Every number of the thermal rack is an assumption: no measured parameter set is published. Watch one "
            "clear morning and adjust it.",
            field="rack.thermal",
        )
    ]
    if history is not None and out_of_range(history.canister_c).any():
        low, high = float(history.canister_c.min()), float(history.canister_c.max())
        text = (
            f"Canisters go from {low:.0f} to {high:.0f} °C; beyond −40…80 °C the refrigerant's values at the end of "
            "that range were used."
        )
        notices.append(Notice(text=text, field="rack.thermal.refrigerant", level="caution"))
    if history is not None and (days := int((_travel_deg(history) > _RESTLESS_DEG).sum())):
        text = (
            f"On {counted(days, 'day')} the thermal rack swings back and forth between its stops, as the physics does "
            "in hard frost, with a bad balance, or on a cold day of broken cloud. "
            "Whether a real one does is not known: take its light on such days as a guess."
        )
        notices.append(Notice(text=text, field="rack.thermal", level="caution"))
    weight = thermal.liquid_now_kg * thermal.lever_m * np.cos(np.radians(job.rack.max_rotation_deg))
    top_heavy = -thermal.moving_mass_kg * thermal.balance_m * np.sin(np.radians(job.rack.max_rotation_deg))
    if top_heavy > weight > 0:
        text = (
            "With its weight so far above the pivot the liquid cannot lift the thermal rack from its stop: it stays "
            "there."
        )
        notices.append(Notice(text=text, field="rack.thermal.balance", level="caution"))
    rests_deg = resting_west_deg(job.rack)
    if job.rack.max_rotation_deg - rests_deg > ARRIVED_WITHIN_DEG and thermal.liquid_now_kg * thermal.lever_m > 0:
        text = (
            f"The thermal rack's liquid holds it no farther than {rests_deg:.0f}° of its "
            f"{job.rack.max_rotation_deg:.0f}°: in the morning "
            "it flips and then does not reach the sun, but stands short until the sun has come up to it. "
            "Too little liquid (a leak), too short a lever or too heavy a balance does this."
        )
        notices.append(Notice(text=text, field="rack.thermal.balance", level="caution"))
    if thermal.liquid_now_kg * thermal.lever_m == 0 and not thermal.stuck:
        text = "Without liquid or lever arm nothing turns this rack: it hangs as its balance leaves it."
        notices.append(Notice(text=text, field="rack.thermal.charge", level="caution"))
    if (filled := thermal.filled(_HOT_C)) > 1:
        text = (
            f"At {_HOT_C:g} °C the liquid would fill {filled:.2f} times what one canister holds. A canister quite full "
            "of liquid bursts: check liquid_kg, the refrigerant and the canister's size."
        )
        notices.append(Notice(text=text, field="rack.thermal.liquid_kg", level="caution"))
    if thermal.sky_view_difference or thermal.dew:
        text = (
            "Sky and dew on the canisters are taken alike on every morning: a clear sky, its dew point 5 K below the "
            "air, and a film of 0.1 mm where they are wet. The weather tells none of it; on cloudy or dry mornings it "
            "is too much."
        )
        notices.append(Notice(text=text, field="rack.thermal"))
    if thermal.wind_upset and not has_wind_direction:
        text = "The weather has no wind direction: all wind is taken to come from the west."
        notices.append(Notice(text=text, field="rack.thermal.wind_upset", level="caution"))
    return tuple(notices)


def _travel_deg(history: ThermalHistory) -> FloatArray:
    """Degrees that the rack travels each day (days,); about 200 for one that follows the sun and swings back once."""
    return np.asarray(np.abs(np.diff(history.rotation_deg, axis=1)).sum(axis=1))
