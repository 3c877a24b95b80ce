"""Light on a moving plane behind trees.

The unblocked sky is split first (Perez et al., Solar Energy 44, 1990); then each part is weakened by what stands in
its way: beam and circumsolar by the beam share, the isotropic sky by the sky share, the horizon band by the open part
of the horizon. A blocked sun is not a sky without sun.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt
from pvlib import atmosphere, iam, irradiance
from scipy.interpolate import PchipInterpolator

from trackersim.arrays import FloatArray, between, check_array, place_on_grid
from trackersim.rack.geometry import Axis, cos_incidence, cos_plane_tilt
from trackersim.sky.trees import SkyView

IntArray = npt.NDArray[np.integer]

_COSINES = 2000  # steps of the table of what passes the glass of a beam
_STEEPEST_DEG = 90  # at which that of diffuse light ends
_MIN_COS_ZENITH = float(np.cos(np.radians(85.0)))  # as in the Perez model


@dataclass(frozen=True, kw_only=True)
class SkyLight:
    """The open sky at n sun-up instants, split so that any plane can be lit from it [W/m², all (n,)].

    `beam`: direct normal. `circumsolar`: per unit cosine of incidence, like the beam. `isotropic`: on a level plane.
    `horizon`: on an upright plane; may be negative. `ground`: reflected upward.
    """

    beam_w_m2: FloatArray
    circumsolar_w_m2: FloatArray
    isotropic_w_m2: FloatArray
    horizon_w_m2: FloatArray
    ground_w_m2: FloatArray


@dataclass(frozen=True, kw_only=True)
class PlaneLight:
    """Light on the plane at n instants: `plane_w_m2` falls on it, `absorbed_w_m2` passes its glass.

    `open_beam_w_m2` is what passes the glass of the beam where no tree or hill stands in its way.
    """

    plane_w_m2: FloatArray
    absorbed_w_m2: FloatArray
    open_beam_w_m2: FloatArray


def sky_light(
    *,
    dni_w_m2: FloatArray,
    dhi_w_m2: FloatArray,
    ghi_w_m2: FloatArray,
    cos_zenith: FloatArray,
    day_of_year: IntArray,
    ground_albedo: float,
) -> SkyLight:
    """Split the open sky at sun-up instants (n,) by the Perez model of pvlib.

    The brightness coefficients depend on the sky alone, so pvlib is asked once, for an upright plane facing the sun,
    and every rack shares the answer. Diffuse light beyond what is found at that height of the sun (an hourly mean
    pressed into the few minutes after sunrise) counts as isotropic: none of it can come from beside the sun.

    Parameters
    ----------
    dni_w_m2 : FloatArray
        Shape (n,). Direct normal light [W/m²].
    dhi_w_m2 : FloatArray
        Shape (n,). Diffuse light on a level plane [W/m²].
    ghi_w_m2 : FloatArray
        Shape (n,). Global light on a level plane [W/m²].
    cos_zenith : FloatArray
        Shape (n,). Cosine of the sun's zenith angle; above 0 at sun-up instants.
    day_of_year : IntArray
        Shape (n,). Day of the year, 1…366.
    ground_albedo : float
        Share of light that the ground reflects, 0…1.

    Returns
    -------
    SkyLight
        The parts of the sky (n,) [W/m²].

    Raises
    ------
    InputError
        For arrays of different lengths, or with what is no finite number or no day of a year.
    """
    check_array("cos_zenith", cos_zenith, ("n",))
    own = np.shape(cos_zenith)
    for name, values in (("dni_w_m2", dni_w_m2), ("dhi_w_m2", dhi_w_m2), ("ghi_w_m2", ghi_w_m2)):
        check_array(name, values, own)
    check_array("day_of_year", day_of_year, own, least=1, most=366)
    zenith = np.degrees(np.arccos(np.clip(cos_zenith, 0, 1)))
    extra = np.asarray(irradiance.get_extra_radiation(np.arange(367)))[day_of_year]
    usual = np.minimum(dhi_w_m2, _rarest_diffuse_w_m2(extra, cos_zenith))
    with np.errstate(divide="ignore", invalid="ignore"):  # older pvlib divides by a diffuse light of 0
        parts = irradiance.perez(
            90.0,
            0.0,
            usual,
            dni_w_m2,
            extra,
            zenith,
            np.zeros_like(zenith),
            atmosphere.get_relative_airmass(np.minimum(zenith, 89.9)),
            return_components=True,
        )
    isotropic = np.clip(2 * np.nan_to_num(parts["poa_isotropic"]), 0, usual)
    return SkyLight(
        beam_w_m2=dni_w_m2,
        circumsolar_w_m2=(usual - isotropic) / np.maximum(cos_zenith, _MIN_COS_ZENITH),
        isotropic_w_m2=isotropic + (dhi_w_m2 - usual),
        horizon_w_m2=np.nan_to_num(parts["poa_horizon"]),
        ground_w_m2=ground_albedo * ghi_w_m2,
    )


def _rarest_diffuse_w_m2(extra_w_m2: FloatArray, cos_zenith: FloatArray) -> FloatArray:
    """Diffuse light that is exceeded extremely rarely (Long & Dutton, BSRN quality tests, 2002): 0.75 E₀ µ^1.2 + 30."""
    return np.asarray(0.75 * extra_w_m2 * np.clip(cos_zenith, 0, 1) ** 1.2 + 30.0)


def light_on_plane(
    sky: SkyLight,
    *,
    rotation_deg: FloatArray,
    sun_rotation_deg: FloatArray,
    reach: FloatArray,
    axis: Axis,
    beam_share: FloatArray,
    sky_share: FloatArray,
    horizon_share: FloatArray,
) -> PlaneLight:
    """Light on the plane at its rotation, all arrays (n,) over sun-up instants.

    `absorbed_w_m2` is weakened by reflection at the glass (physical model, De Soto et al., Solar Energy 80, 2006):
    the beam by its own incidence, the rest by the mean over their part of the dome (Marion, Solar Energy 147, 2017).

    Parameters
    ----------
    sky : SkyLight
        The split sky at the same n instants.
    rotation_deg : FloatArray
        Shape (n,). Rotation of the rack [degrees], + west.
    sun_rotation_deg : FloatArray
        Shape (n,). True-tracking angle of the sun [degrees], + west.
    reach : FloatArray
        Shape (n,). Cosine of incidence at the true-tracking angle.
    axis : Axis
        The axis of the rack.
    beam_share : FloatArray
        Shape (n,). Share of the beam that passes trees and horizon, 0…1.
    sky_share : FloatArray
        Shape (n,). Part of the isotropic sky that the plane still sees, 0…1.
    horizon_share : FloatArray
        Shape (n,). Part of the horizon band that it still sees, 0…1.

    Returns
    -------
    PlaneLight
        Light on the plane and behind its glass (n,) [W/m²], never below 0.

    Raises
    ------
    InputError
        For an array of another length than those of `sky`, or with what is no finite number.
    """
    for name, values in (
        ("rotation_deg", rotation_deg),
        ("sun_rotation_deg", sun_rotation_deg),
        ("reach", reach),
        ("beam_share", beam_share),
        ("sky_share", sky_share),
        ("horizon_share", horizon_share),
    ):
        check_array(name, values, sky.beam_w_m2.shape)
    incidence = cos_incidence(sun_rotation_deg=sun_rotation_deg, reach=reach, rotation_deg=rotation_deg)
    cos_tilt = cos_plane_tilt(rotation_deg, axis_tilt_deg=axis.tilt_deg)
    open_beam = (sky.beam_w_m2 + sky.circumsolar_w_m2) * incidence
    direct = open_beam * beam_share
    isotropic = sky.isotropic_w_m2 * (1 + cos_tilt) / 2 * sky_share
    horizon = sky.horizon_w_m2 * np.sqrt(1 - cos_tilt**2) * horizon_share
    ground = sky.ground_w_m2 * (1 - cos_tilt) / 2
    passes = _diffuse_passing(np.degrees(np.arccos(cos_tilt)))
    open_beam *= _beam_passing(incidence)
    absorbed = open_beam * beam_share + isotropic * passes[0] + horizon * passes[1] + ground * passes[2]
    # Negative horizon brightening may not take more than the sky gives.
    return PlaneLight(
        plane_w_m2=np.maximum(direct + isotropic + horizon + ground, 0.0),
        absorbed_w_m2=np.maximum(absorbed, 0.0),
        open_beam_w_m2=open_beam,
    )


def rotation_grid_deg(max_rotation_deg: float) -> FloatArray:
    """The rotations at which the sky view is tabulated: every degree, and a last one past the stop.

    Parameters
    ----------
    max_rotation_deg : float
        Stop on either side of centre [degrees].

    Returns
    -------
    FloatArray
        Shape (k,). Rising, symmetric about 0 [degrees].
    """
    stop = int(np.ceil(max_rotation_deg))
    return np.arange(-stop, stop + 1, dtype=float)


def view_at(view: SkyView, *, day: IntArray, rotation_deg: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Sky share and horizon share (n,) on simulated days `day` (n,) at `rotation_deg` (n,).

    The view is tabulated on `rotation_grid_deg` (interpolated), or for one rotation only (used as it is).

    Parameters
    ----------
    view : SkyView
        What the plane sees, tabulated over rotations and kinds of day.
    day : IntArray
        Shape (n,). Number of each instant's simulated day.
    rotation_deg : FloatArray
        Shape (n,). Rotation of the rack [degrees], + west.

    Returns
    -------
    tuple[FloatArray, FloatArray]
        Sky share and horizon share, 0…1.

    Raises
    ------
    InputError
        For arrays of different lengths, and for a `day` that the view does not have.
    """
    check_array("day", day, ("n",), least=0, most=len(view.kind_of_day) - 1)
    check_array("rotation_deg", rotation_deg, np.shape(day))
    kind = view.kind_of_day[day]
    count = view.sky_share.shape[0]
    if count == 1:
        return view.sky_share[0, kind], view.horizon_share[0, kind]
    lower, part = place_on_grid(np.clip(rotation_deg + (count - 1) / 2, 0, count - 1), steps=count - 1)

    kinds = view.sky_share.shape[1]
    place = lower * kinds + kind
    return between(view.sky_share, place, part, step=kinds), between(view.horizon_share, place, part, step=kinds)


@cache
def _beam_table() -> FloatArray:
    """At cosines of incidence of 0…1 by `1 / _COSINES`."""
    return np.asarray(iam.physical(np.degrees(np.arccos(np.linspace(0, 1, _COSINES + 1)))))


def _beam_passing(incidence_cosine: FloatArray) -> FloatArray:
    return between(_beam_table(), *place_on_grid(incidence_cosine * _COSINES, steps=_COSINES))


# Share of light from sky, horizon and ground that passes the glass of a plane tilted so far [degrees]: means over their
# parts of the dome as `pvlib.iam.marion_diffuse("physical", tilt)` integrates them (pvlib 0.16.1; tested). The routine
# takes a third of a second for these, and every program would wait for it. At 0° there is neither horizon nor ground.
_DIFFUSE = np.array([
    (1.0, 0.944472645175, 0.098099134892, 0.040683617551),
    (7.5, 0.947002756038, 0.452714300400, 0.341501914026),
    (15.0, 0.951306271860, 0.676200952185, 0.546630840117),
    (22.5, 0.955053370932, 0.798470842486, 0.675578719265),
    (30.0, 0.957675389134, 0.868071123332, 0.759714302820),
    (37.5, 0.959165927061, 0.908938204236, 0.816427613402),
    (45.0, 0.959647197290, 0.933552101808, 0.855660926263),
    (52.5, 0.959244089420, 0.948675140915, 0.883456259581),
    (60.0, 0.958033230309, 0.958079874513, 0.903567385413),
    (67.5, 0.956032640383, 0.963913702687, 0.918398786813),
    (75.0, 0.953190181064, 0.967409580687, 0.929509453764),
    (82.5, 0.949388649822, 0.969261173739, 0.937950158044),
    (90.0, 0.944404794632, 0.969819290574, 0.944404794632),
]).T  # fmt: skip


@cache
def _diffuse_table() -> FloatArray:
    """At each degree of tilt 0…90, rows sky, horizon, ground: they are smooth, so a shape-preserving spline does."""
    knots, *rows = _DIFFUSE
    tilt = np.arange(0.0, _STEEPEST_DEG + 1)
    return np.stack([PchipInterpolator(knots, row)(np.maximum(tilt, knots[0])) for row in rows])


def _diffuse_passing(tilt_deg: FloatArray) -> list[FloatArray]:
    """Shares that pass of light from sky, horizon and ground; turned down they are taken as upright."""
    degree, share = place_on_grid(np.minimum(tilt_deg, _STEEPEST_DEG), steps=_STEEPEST_DEG)
    return [between(row, degree, share) for row in _diffuse_table()]
