"""The job's thermal rack in a scene: its constants, and what drives it minute by minute."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from pvlib.atmosphere import alt2pres

from trackersim.arrays import FloatArray, IndexArray
from trackersim.constants import GRAVITY_M_S2
from trackersim.errors import Notice, counted
from trackersim.job.model import Job
from trackersim.rack.canister import (
    canister_loss_w_k,
    canister_places_m,
    clear_sky_emissivity,
    dew_loss_w_k,
    sky_loss_w,
    wet_loss_w_k,
)
from trackersim.rack.events import ARRIVED_WITHIN_DEG
from trackersim.rack.geometry import Axis
from trackersim.rack.refrigerant import liquid_density_kg_m3, out_of_range
from trackersim.rack.thermal import Forcing, resting_west_deg
from trackersim.rack.thermal_year import ThermalHistory
from trackersim.rack.tube import tube_resistances
from trackersim.rack.wind import wind_at_height_m_s, wind_moment_nm
from trackersim.sky.crowns import Crown
from trackersim.sky.trees import HorizonProfile, beam_share
from trackersim.weather.load import height_m

_ARRAY_W_M2 = 130.0  # of an older module's area, for a sail area nobody has measured (assumption)
_WESTERLY_DEG = 270.0
_DEW_POINT_BELOW_K = 5.0  # dew point below the air of a clear dawn, which weather files rarely tell (assumption)
_HOT_C = 60.0  # a canister in full sun on a hot day without wind
_RESTLESS_DEG = 600.0  # of travel in a day: three times what following the sun takes


def canister_beam_share(
    direction: FloatArray,
    day: IndexArray,
    crowns: Sequence[Crown],
    horizon: HorizonProfile | None,
    *,
    axis: Axis,
    lever_m: float,
    max_rotation_deg: float,
) -> FloatArray:
    """Share of the direct beam that reaches the canisters.

    Suns above every crown and hill are not looked at one by one.

    Parameters
    ----------
    direction : FloatArray
        Shape (3, n). Unit vectors toward the sun: east, north, up.
    day : IndexArray
        Shape (n,). Row of each instant in `transmittance_by_day`.
    crowns : Sequence[Crown]
        Trees and rows, places relative to the rack's axis.
    horizon : HorizonProfile | None
        The far horizon; None for an open, level one.
    axis : Axis
        The axis of the rack.
    lever_m : float
        Distance from the axis to a canister [m].
    max_rotation_deg : float
        The stops [degrees].

    Returns
    -------
    FloatArray
        Shape (3, 2, n), 0…1: the rack at its east stop, centre and west stop; its west and its east canister.
    """
    share = np.ones((3, 2, direction.shape[1]))
    low = np.flatnonzero(direction[2] < _highest_sine(crowns, horizon, lever_m))
    for stop, rotation in enumerate((-max_rotation_deg, 0.0, max_rotation_deg)):
        places = canister_places_m(axis, lever_m=lever_m, rotation_deg=rotation)
        for side, (east, north, up) in enumerate(places.tolist()):
            share[stop, side, low] = beam_share(direction[:, low], day[low], crowns, horizon, from_m=(east, north, up))
    return share


def _highest_sine(crowns: Sequence[Crown], horizon: HorizonProfile | None, lever_m: float) -> float:
    """Sine of an elevation above which nothing stands, seen from anywhere on the rack."""
    tops = [np.arctan2(crown.top_m + lever_m, max(crown.distance_m - lever_m, 0.0)) for crown in crowns]
    hills = [np.radians(horizon.elevation_deg.max())] if horizon is not None else []
    return float(np.sin(max([0.0, *tops, *hills])))


def canister_light_w(job: Job, *, beam_w_m2: FloatArray, diffuse_w_m2: FloatArray) -> tuple[FloatArray, FloatArray]:
    """What one fully lit canister takes up of direct light that falls square on its side, and of the sky.

    Parameters
    ----------
    job : Job
        A job with a thermal rack.
    beam_w_m2 : FloatArray
        Any shape. Direct light on a plane at the true-tracking angle [W/m²].
    diffuse_w_m2 : FloatArray
        Any shape. Light of the level sky [W/m²].

    Returns
    -------
    tuple[FloatArray, FloatArray]
        Direct light and sky light that it takes up [W], each of its shape.
    """
    thermal = job.rack.thermal
    takes_m2 = thermal.absorptance * thermal.canister_diameter_m * thermal.canister_length_m
    return takes_m2 * beam_w_m2, takes_m2 * thermal.diffuse_share * diffuse_w_m2


def canister_loss(job: Job, *, wind_m_s: FloatArray, air_c: FloatArray) -> FloatArray:
    """Heat loss of one canister per kelvin, in the wind at the height of the rack.

    Parameters
    ----------
    job : Job
        A job with a thermal rack.
    wind_m_s : FloatArray
        Any shape. Wind at 10 m [m/s].
    air_c : FloatArray
        Of that shape. Temperature of the air [°C].

    Returns
    -------
    FloatArray
        Of that shape [W/K].
    """
    thermal = job.rack.thermal
    return canister_loss_w_k(
        wind_m_s=wind_at_height_m_s(wind_m_s, height_m=job.rack.height_m),
        air_c=air_c,
        diameter_m=thermal.canister_diameter_m,
        length_m=thermal.canister_length_m,
    )


def canister_dew_w_k(
    job: Job, *, wind_m_s: FloatArray, air_c: FloatArray, light_w: FloatArray, dry_w_k: FloatArray
) -> FloatArray:
    """What dew adds to the heat loss of the canisters until it has dried.

    Parameters
    ----------
    job : Job
        A job with a thermal rack.
    wind_m_s : FloatArray
        Shape (..., minutes), from midnight on. Wind at 10 m [m/s].
    air_c : FloatArray
        Of that shape. Temperature of the air [°C].
    light_w : FloatArray
        Of that shape. Light that a lit canister takes up [W].
    dry_w_k : FloatArray
        Of that shape. What a dry canister loses [W/K].

    Returns
    -------
    FloatArray
        Of that shape [W/K]; 0 without dew.
    """
    thermal = job.rack.thermal
    if thermal.dew == 0:
        return np.zeros_like(dry_w_k)
    size = {"diameter_m": thermal.canister_diameter_m, "length_m": thermal.canister_length_m}
    wind = wind_at_height_m_s(wind_m_s, height_m=job.rack.height_m)
    wet = wet_loss_w_k(wind_m_s=wind, air_c=air_c, **size)
    return dew_loss_w_k(wet_w_k=wet, dry_w_k=dry_w_k, light_w=light_w, share=thermal.dew, **size)


def canister_sky_w(job: Job, *, air_c: FloatArray) -> FloatArray:
    """What the west canister loses to a clear cold sky, and the east one gains, by half the difference of their views.

    What both see alike is left out: it moves a flip by about a minute. So is cloud, which nobody tells by night.

    Parameters
    ----------
    job : Job
        A job with a thermal rack.
    air_c : FloatArray
        Shape (..., minutes), from midnight on. Temperature of the air [°C].

    Returns
    -------
    FloatArray
        Of that shape [W]; 0 with views alike.
    """
    thermal = job.rack.thermal
    if thermal.sky_view_difference == 0:
        return np.zeros_like(air_c)
    hour = np.broadcast_to((np.arange(air_c.shape[-1]) + 0.5) / 60, air_c.shape)
    sky = clear_sky_emissivity(air_c - _DEW_POINT_BELOW_K, hour=hour, pressure_hpa=float(alt2pres(height_m(job))) / 100)
    size = {"diameter_m": thermal.canister_diameter_m, "length_m": thermal.canister_length_m}
    return 0.5 * thermal.sky_view_difference * sky_loss_w(air_c=air_c, sky_emissivity=sky, **size)


def canister_lift_pa(job: Job, *, air_c: FloatArray) -> FloatArray:
    """Hydrostatic pressure of the liquid between the canisters with the rack on edge: ρ g 2L cos(axis tilt).

    Parameters
    ----------
    job : Job
        A job with a thermal rack.
    air_c : FloatArray
        Any shape. Temperature of the air [°C], which the liquid has too.

    Returns
    -------
    FloatArray
        Shape of the temperature [Pa].
    """
    rise_m = 2 * job.rack.thermal.lever_m * np.cos(np.radians(job.rack.axis_tilt_deg))
    density = liquid_density_kg_m3(job.rack.thermal.fluid, air_c)
    return np.asarray(GRAVITY_M_S2 * rise_m * density)


def tube_of(job: Job, *, air_c: FloatArray) -> tuple[FloatArray, FloatArray]:
    """What the tube between the canisters does to the liquid: by its bore and length, or as the job says.

    Parameters
    ----------
    job : Job
        A job with a thermal rack.
    air_c : FloatArray
        Any shape. Temperature of the air [°C], which the liquid has too.

    Returns
    -------
    tuple[FloatArray, FloatArray]
        Each of that shape: laminar and turbulent resistance [Pa·s/kg], as `tube_resistances` gives them.
    """
    thermal = job.rack.thermal
    if thermal.flow_resistance_pa_s_kg is not None:
        return np.full_like(air_c, thermal.flow_resistance_pa_s_kg), np.zeros_like(air_c)
    return tube_resistances(thermal.fluid, air_c, bore_m=thermal.tube_bore_m, length_m=thermal.tube_length_m)


def wind_moment(job: Job, axis: Axis, *, wind_m_s: FloatArray, wind_from_deg: FloatArray | None) -> FloatArray:
    """Largest moment of the wind on the rack.

    Parameters
    ----------
    job : Job
        A job with a thermal rack.
    axis : Axis
        The axis of the rack.
    wind_m_s : FloatArray
        Any shape. Wind at 10 m [m/s].
    wind_from_deg : FloatArray | None
        Of that shape. True bearing that it comes from [degrees]; None for unknown, taken as from the west.

    Returns
    -------
    FloatArray
        Of that shape [N·m], 0 unless the job asks for it.
    """
    thermal = job.rack.thermal
    if not thermal.wind_upset:
        return np.zeros_like(wind_m_s)
    area = thermal.wind_area_m2 or job.array.rated_w / _ARRAY_W_M2
    return wind_moment_nm(
        wind_m_s=wind_at_height_m_s(wind_m_s, height_m=job.rack.height_m),
        wind_from_deg=np.full_like(wind_m_s, _WESTERLY_DEG) if wind_from_deg is None else wind_from_deg,
        axis=axis,
        area_m2=area,
        chord_m=float(np.sqrt(area)),
        coefficient=thermal.wind_coefficient,
        gust_factor=thermal.gust_factor,
    )


def canister_forcing(
    job: Job,
    axis: Axis,
    *,
    sun_rotation_deg: FloatArray,
    square_beam_w_m2: FloatArray,
    dhi_w_m2: FloatArray,
    air_c: FloatArray,
    wind_m_s: FloatArray,
    wind_from_deg: FloatArray | None = None,
    beam_share: FloatArray | None = None,
) -> Forcing:
    """What acts on the job's thermal rack through whole mornings or days.

    Parameters
    ----------
    job : Job
        A job of one unit with a thermal rack.
    axis : Axis
        The axis of the rack.
    sun_rotation_deg : FloatArray
        Shape (days, minutes), from midnight on. True-tracking angle [degrees], + west.
    square_beam_w_m2 : FloatArray
        Of that shape. Direct light on a plane at the true-tracking angle, before trees [W/m²].
    dhi_w_m2 : FloatArray
        Of that shape. Light of the level sky [W/m²].
    air_c : FloatArray
        Of that shape. Temperature of the air [°C].
    wind_m_s : FloatArray
        Of that shape. Wind at 10 m [m/s].
    wind_from_deg : FloatArray | None
        Of that shape. True bearing that the wind comes from [degrees]; None for unknown.
    beam_share : FloatArray | None
        Shape (3, 2, days, minutes), as `canister_beam_share`; None where nothing stands in the way.

    Returns
    -------
    Forcing
        Arrays (days, minutes); `beam_w` alike at both canisters, before trees.
    """
    beam, diffuse = canister_light_w(job, beam_w_m2=square_beam_w_m2, diffuse_w_m2=dhi_w_m2)
    laminar, turbulent = tube_of(job, air_c=air_c)
    loss = canister_loss(job, wind_m_s=wind_m_s, air_c=air_c)
    lit = beam if beam_share is None else beam * beam_share[2, 0]  # at rest, in the west
    dew = canister_dew_w_k(job, wind_m_s=wind_m_s, air_c=air_c, light_w=lit + diffuse, dry_w_k=loss)
    return Forcing(
        sun_rotation_deg=sun_rotation_deg,
        beam_w=beam,
        diffuse_w=diffuse,
        air_c=air_c,
        loss_w_k=loss + dew,
        lift_pa=canister_lift_pa(job, air_c=air_c),
        laminar_pa_s_kg=laminar,
        turbulent_pa_s_kg=turbulent,
        wind_moment_nm=wind_moment(job, axis, wind_m_s=wind_m_s, wind_from_deg=wind_from_deg),
        sky_w=canister_sky_w(job, air_c=air_c),
    )


def _travel_deg(history: ThermalHistory) -> FloatArray:
    """Degrees that the rack travels each day (days,); about 200 for one that follows the sun and swings back once."""
    return np.asarray(np.abs(np.diff(history.rotation_deg, axis=1)).sum(axis=1))


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
    if history is not None and not history.settled:
        text = (
            "Mornings and evenings of this rack did not come to agree: it carries over from day to day. Judge by eye."
        )
        notices.append(Notice(text=text, field="rack.thermal", level="caution"))
    if history is not None and (days := int((_travel_deg(history) > _RESTLESS_DEG).sum())):
        text = (
            f"On {counted(days, 'day')} this rack swings back and forth between its stops, as the physics does in hard "
            "frost, with a bad balance, or on a cold day of broken cloud. "
            "Whether a real one does is not known: take its light on such days as a guess."
        )
        notices.append(Notice(text=text, field="rack.thermal", level="caution"))
    weight = thermal.liquid_now_kg * thermal.lever_m * np.cos(np.radians(job.rack.max_rotation_deg))
    top_heavy = -thermal.moving_mass_kg * thermal.balance_m * np.sin(np.radians(job.rack.max_rotation_deg))
    if top_heavy > weight > 0:
        text = "With its weight so far above the pivot the liquid cannot lift this rack from its stop: it stays there."
        notices.append(Notice(text=text, field="rack.thermal.balance", level="caution"))
    rests_deg = resting_west_deg(job.rack)
    if job.rack.max_rotation_deg - rests_deg > ARRIVED_WITHIN_DEG and thermal.liquid_now_kg * thermal.lever_m > 0:
        text = (
            f"This rack's liquid holds it no farther than {rests_deg:.0f}° of its {job.rack.max_rotation_deg:.0f}°: in "
            "the morning it flips and then does not reach the sun, but stands short until the sun has come up to it. "
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
