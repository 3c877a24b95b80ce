"""What acts on the job's thermal rack minute by minute: light, air and wind as its canisters and its tube meet them."""

from __future__ import annotations

import numpy as np
from pvlib.atmosphere import alt2pres

from trackersim.arrays import FloatArray
from trackersim.job.model import Job
from trackersim.rack.canister import (
    canister_loss_w_k,
    clear_sky_emissivity,
    dew_loss_w_k,
    sky_loss_w,
    wet_loss_w_k,
)
from trackersim.rack.refrigerant import liquid_density_kg_m3
from trackersim.rack.thermal import Forcing, gravity_across_m_s2
from trackersim.rack.tube import tube_resistances
from trackersim.rack.wind import wind_at_height_m_s, wind_moment_nm
from trackersim.simulation.orientation import axis_of
from trackersim.weather.load import height_m

_ARRAY_W_M2 = 130.0  # of an older module's area, for a sail area nobody has measured (assumption)
_WESTERLY_DEG = 270.0
_DEW_POINT_BELOW_K = 5.0  # dew point below the air of a clear dawn, which weather files rarely tell (assumption)


def canister_forcing(
    job: Job,
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
        Shape (3, 2, days, minutes), as `canister_shares` gives it; None where nothing stands in the way.

    Returns
    -------
    Forcing
        Arrays (days, minutes); `beam_w` alike at both canisters, before trees.
    """
    thermal = job.rack.thermal
    takes_m2 = thermal.absorptance * thermal.canister_diameter_m * thermal.canister_length_m
    beam, diffuse = takes_m2 * square_beam_w_m2, takes_m2 * thermal.diffuse_share * dhi_w_m2
    laminar, turbulent = _tube_pa_s_kg(job, air_c)
    loss = canister_loss(job, wind_m_s=wind_m_s, air_c=air_c)
    lit = beam if beam_share is None else beam * beam_share[2, 0]  # at rest, in the west
    dew = _dew_w_k(job, wind_m_s=wind_m_s, air_c=air_c, light_w=lit + diffuse, dry_w_k=loss)
    return Forcing(
        sun_rotation_deg=sun_rotation_deg,
        beam_w=beam,
        diffuse_w=diffuse,
        air_c=air_c,
        loss_w_k=loss + dew,
        lift_pa=_lift_pa(job, air_c),
        laminar_pa_s_kg=laminar,
        turbulent_pa_s_kg=turbulent,
        wind_moment_nm=_wind_moment_nm(job, wind_m_s, wind_from_deg),
        sky_w=_sky_w(job, air_c),
    )


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
    wind_at_rack = wind_at_height_m_s(wind_m_s, height_m=job.rack.height_m)
    return canister_loss_w_k(job.rack.thermal, wind_m_s=wind_at_rack, air_c=air_c)


def _dew_w_k(
    job: Job, *, wind_m_s: FloatArray, air_c: FloatArray, light_w: FloatArray, dry_w_k: FloatArray
) -> FloatArray:
    """What dew adds to the heat loss of a canister until it has dried; 0 without dew."""
    thermal = job.rack.thermal
    if thermal.dew == 0:
        return np.zeros_like(dry_w_k)
    wind = wind_at_height_m_s(wind_m_s, height_m=job.rack.height_m)
    wet = wet_loss_w_k(thermal, wind_m_s=wind, air_c=air_c)
    return dew_loss_w_k(thermal, wet_w_k=wet, dry_w_k=dry_w_k, light_w=light_w)


def _sky_w(job: Job, air_c: FloatArray) -> FloatArray:
    """What the west canister loses to a clear cold sky, and the east one gains, by half the difference of their views.

    What both see alike is left out: it moves a flip by about a minute. So is cloud, which nobody tells by night.
    """
    thermal = job.rack.thermal
    if thermal.sky_view_difference == 0:
        return np.zeros_like(air_c)
    hour = np.broadcast_to((np.arange(air_c.shape[-1]) + 0.5) / 60, air_c.shape)
    sky = clear_sky_emissivity(air_c - _DEW_POINT_BELOW_K, hour=hour, pressure_hpa=float(alt2pres(height_m(job))) / 100)
    return 0.5 * thermal.sky_view_difference * sky_loss_w(thermal, air_c=air_c, sky_emissivity=sky)


def _lift_pa(job: Job, air_c: FloatArray) -> FloatArray:
    """Hydrostatic pressure between the canisters with the rack on edge, its liquid as warm as the air: ρ g 2L cos(axis
    tilt).
    """
    density = liquid_density_kg_m3(job.rack.thermal.fluid, air_c)
    return np.asarray(2 * job.rack.thermal.lever_m * gravity_across_m_s2(job.rack) * density)


def _tube_pa_s_kg(job: Job, air_c: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Laminar and turbulent resistance of the tube between the canisters, its liquid as warm as the air: by its bore
    and length, or as the job says.
    """
    thermal = job.rack.thermal
    if thermal.flow_resistance_pa_s_kg is not None:
        return np.full_like(air_c, thermal.flow_resistance_pa_s_kg), np.zeros_like(air_c)
    return tube_resistances(thermal.fluid, air_c, bore_m=thermal.tube_bore_m, length_m=thermal.tube_length_m)


def _wind_moment_nm(job: Job, wind_m_s: FloatArray, wind_from_deg: FloatArray | None) -> FloatArray:
    """Largest moment of the wind on the rack, 0 unless the job asks for it; without a direction it is from the west."""
    thermal = job.rack.thermal
    if not thermal.wind_upset:
        return np.zeros_like(wind_m_s)
    area = thermal.wind_area_m2 or job.array.rated_w / _ARRAY_W_M2
    return wind_moment_nm(
        wind_m_s=wind_at_height_m_s(wind_m_s, height_m=job.rack.height_m),
        wind_from_deg=np.full_like(wind_m_s, _WESTERLY_DEG) if wind_from_deg is None else wind_from_deg,
        axis=axis_of(job),
        area_m2=area,
        chord_m=float(np.sqrt(area)),
        coefficient=thermal.wind_coefficient,
        gust_factor=thermal.gust_factor,
    )
