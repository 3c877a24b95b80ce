"""Light on the moving plane: pvlib's own total under an open sky, and what blocking takes away."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
import pytest
from pvlib import atmosphere, iam, irradiance
from rays import Ray

from trackersim.rack.geometry import Axis, sun_on_axis
from trackersim.sky.irradiance import _DIFFUSE, PlaneLight, SkyLight, _diffuse_passing, light_on_plane, sky_light

ALBEDO = 0.2


@dataclass(frozen=True, kw_only=True)
class Skies:
    """Random suns and skies, with pvlib's word for each."""

    elevation: np.ndarray
    azimuth: np.ndarray
    dni: np.ndarray
    dhi: np.ndarray
    ghi: np.ndarray
    day_of_year: np.ndarray


def random_skies(kind: str, count: int = 400) -> Skies:
    random = np.random.default_rng(20250620)
    low = {"low-sun": (0.5, 6.0)}.get(kind, (6.0, 89.0))
    elevation = random.uniform(*low, count)
    azimuth = random.uniform(0, 360, count)
    sine = np.sin(np.radians(elevation))
    dni = {"overcast": np.zeros(count), "clear": 950 * sine**0.3}.get(kind, random.uniform(0, 900, count) * sine**0.5)
    dhi = random.uniform(5, 90, count) if kind == "clear" else random.uniform(2, 400, count) * sine
    return Skies(
        elevation=elevation,
        azimuth=azimuth,
        dni=dni,
        dhi=dhi,
        ghi=dhi + dni * sine,
        day_of_year=random.integers(1, 366, count),
    )


def split(ray: Ray, skies: Skies) -> SkyLight:
    return sky_light(
        dni_w_m2=skies.dni,
        dhi_w_m2=skies.dhi,
        ghi_w_m2=skies.ghi,
        cos_zenith=ray(skies.elevation, skies.azimuth)[2],
        day_of_year=skies.day_of_year,
        ground_albedo=ALBEDO,
    )


def lit(
    ray: Ray,
    skies: Skies,
    axis: Axis,
    rotation: float,
    *,
    beam: float = 1.0,
    sky: float = 1.0,
    band: float = 1.0,
) -> PlaneLight:
    count = len(skies.elevation)
    sun_rotation, reach = sun_on_axis(ray(skies.elevation, skies.azimuth), axis)
    return light_on_plane(
        split(ray, skies),
        rotation_deg=np.full(count, rotation),
        sun_rotation_deg=sun_rotation,
        reach=reach,
        axis=axis,
        beam_share=np.full(count, beam),
        sky_share=np.full(count, sky),
        horizon_share=np.full(count, band),
    )


def pvlib_total(skies: Skies, axis: Axis, rotation: float) -> pd.DataFrame:
    normal = axis.normals(rotation)
    tilt = float(np.degrees(np.arccos(normal[2])))
    zenith = 90 - skies.elevation
    parts = irradiance.get_total_irradiance(
        tilt,
        float(np.degrees(np.arctan2(normal[0], normal[1]))) % 360,
        zenith,
        skies.azimuth,
        skies.dni,
        skies.ghi,
        skies.dhi,
        dni_extra=irradiance.get_extra_radiation(skies.day_of_year),
        airmass=atmosphere.get_relative_airmass(zenith),
        albedo=ALBEDO,
        model="perez",
    )
    return pd.DataFrame(parts)


PLANES = [
    pytest.param(Axis(azimuth_deg=180.0, tilt_deg=25.0), 0.0, id="south-25"),
    pytest.param(Axis(azimuth_deg=180.0, tilt_deg=25.0), -50.0, id="tilted-axis-east-stop"),
    pytest.param(Axis(azimuth_deg=0.0, tilt_deg=30.0), 37.3, id="southern-hemisphere-west"),
    pytest.param(Axis(azimuth_deg=180.0, tilt_deg=90.0), 0.0, id="upright"),
]


@pytest.mark.parametrize(("axis", "rotation"), PLANES)
@pytest.mark.parametrize("kind", ["low-sun", "overcast", "clear", "mixed"])
def test_open_sky_gives_pvlibs_perez_total(ray: Ray, axis: Axis, rotation: float, kind: str) -> None:
    # Computed with pvlib (Perez 1990). Where the sky's sum is negative pvlib sets the whole sky to 0, while the engine
    # lets the negative horizon band also eat into beam and ground: such rows are compared separately below.
    skies = random_skies(kind)
    expected = pvlib_total(skies, axis, rotation)
    # Where Perez's circumsolar share exceeds 1 the engine holds the isotropic part at 0; pvlib lets it go negative.
    usual = (expected["poa_sky_diffuse"].to_numpy() > 0) & (split(ray, skies).isotropic_w_m2 > 0)
    got = lit(ray, skies, axis, rotation).plane_w_m2
    assert usual.mean() > 0.9
    assert np.abs(got - expected["poa_global"].to_numpy())[usual].max() < 0.1


@pytest.mark.parametrize(("axis", "rotation"), PLANES)
def test_negative_sky_sums_stay_close_to_pvlib(ray: Ray, axis: Axis, rotation: float) -> None:
    for kind in ("low-sun", "overcast", "clear", "mixed"):
        skies = random_skies(kind)
        difference = lit(ray, skies, axis, rotation).plane_w_m2 - pvlib_total(skies, axis, rotation)["poa_global"]
        assert np.abs(difference).max() < 5.0


def test_level_plane_catches_the_global_light(ray: Ray) -> None:
    # Identity: beam · sin(elevation) + all the diffuse, the Perez split notwithstanding (sun above 5°).
    skies = random_skies("mixed")
    got = lit(ray, skies, Axis(azimuth_deg=180.0, tilt_deg=0.0), 0.0).plane_w_m2
    assert got == pytest.approx(skies.ghi, abs=1e-6)


def test_a_blocked_sun_keeps_the_isotropic_sky(ray: Ray) -> None:
    skies = random_skies("clear")
    axis = Axis(azimuth_deg=180.0, tilt_deg=25.0)
    blocked = lit(ray, skies, axis, 0.0, beam=0.0).plane_w_m2
    open_ = lit(ray, skies, axis, 0.0).plane_w_m2
    assert (blocked > 0).all()
    assert (blocked <= open_ + 1e-9).all()
    # Blocking the beam is not the same as a sky whose beam is 0: that would be read as overcast, and brighter.
    cloud = Skies(**{**skies.__dict__, "dni": np.zeros_like(skies.dni), "ghi": skies.dhi})
    overcast = lit(ray, cloud, axis, 0.0).plane_w_m2
    assert (blocked < overcast + 0.2 * skies.ghi * 0.05).mean() > 0.9


def test_half_a_beam_lies_halfway(ray: Ray) -> None:
    skies = random_skies("mixed")
    axis = Axis(azimuth_deg=180.0, tilt_deg=25.0)
    none, half, whole = (lit(ray, skies, axis, -20.0, beam=share).plane_w_m2 for share in (0.0, 0.5, 1.0))
    assert half == pytest.approx((none + whole) / 2, abs=1e-9)


def test_everything_blocked_leaves_the_ground_only(ray: Ray) -> None:
    skies = random_skies("mixed")
    axis = Axis(azimuth_deg=180.0, tilt_deg=60.0)
    got = lit(ray, skies, axis, 0.0, beam=0.0, sky=0.0, band=0.0).plane_w_m2
    assert got == pytest.approx(ALBEDO * skies.ghi * 0.25, abs=1e-9)  # (1 − cos 60°)/2


@pytest.mark.parametrize("kind", ["low-sun", "overcast", "clear", "mixed"])
def test_light_is_never_negative_nor_missing_and_glass_never_adds(ray: Ray, kind: str) -> None:
    skies = random_skies(kind)
    for rotation in (-85.0, -30.0, 0.0, 55.0, 85.0):
        for beam, sky, band in ((1.0, 1.0, 1.0), (0.0, 0.2, 1.0), (0.05, 0.7, 0.0)):
            light = lit(ray, skies, Axis(azimuth_deg=180.0, tilt_deg=35.0), rotation, beam=beam, sky=sky, band=band)
            for values in (light.plane_w_m2, light.absorbed_w_m2):
                assert np.isfinite(values).all()
                assert (values >= 0).all()
            # Up to the rounding of a negative horizon band that glass weakens too.
            assert (light.absorbed_w_m2 <= light.plane_w_m2 + 2.0).all()


def test_a_dark_sky_gives_no_light(ray: Ray) -> None:
    skies = random_skies("mixed", 20)
    dark = Skies(**{**skies.__dict__, **{name: np.zeros(20) for name in ("dni", "dhi", "ghi")}})
    light = lit(ray, dark, Axis(azimuth_deg=180.0, tilt_deg=25.0), 10.0)
    assert (light.plane_w_m2 == 0).all()
    assert (light.absorbed_w_m2 == 0).all()


def test_a_beam_without_any_diffuse_light_is_a_beam(ray: Ray) -> None:
    skies = random_skies("clear", 50)
    sine = np.sin(np.radians(skies.elevation))
    bare = Skies(**{**skies.__dict__, "dhi": np.zeros(50), "ghi": skies.dni * sine})
    got = lit(ray, bare, Axis(azimuth_deg=180.0, tilt_deg=0.0), 0.0).plane_w_m2
    assert got == pytest.approx(skies.dni * sine, abs=1e-9)


def test_the_table_of_glass_losses_is_what_pvlib_integrates() -> None:
    for tilt, *shares in _DIFFUSE.T[[0, 1, 6, 12]]:
        direct = iam.marion_diffuse("physical", tilt)
        assert shares == pytest.approx([direct[name] for name in ("sky", "horizon", "ground")], abs=1e-9)


@pytest.mark.parametrize("tilt", [2.3, 11.0, 26.4, 33.3, 48.7, 59.1, 71.9, 83.6, 89.5])
def test_glass_losses_of_diffuse_light_at_odd_tilts(tilt: float) -> None:
    # Computed with pvlib: Marion, Solar Energy 147 (2017), physical glass.
    direct = iam.marion_diffuse("physical", tilt)
    table = np.array(_diffuse_passing(np.array([tilt])))[:, 0]
    expected = np.array([direct[name] for name in ("sky", "horizon", "ground")])
    # Held against the part of the light it applies to: a nearly level plane hardly sees horizon and ground.
    cosine, sine = np.cos(np.radians(tilt)), np.sin(np.radians(tilt))
    weight = np.array([(1 + cosine) / 2, sine, (1 - cosine) / 2])
    assert np.abs((table - expected) * weight).max() < 3e-4
    if tilt > 5:
        assert table == pytest.approx(expected, abs=1e-3)


def test_glass_passes_the_square_beam_and_stops_the_grazing_one(ray: Ray) -> None:
    axis = Axis(azimuth_deg=180.0, tilt_deg=0.0)
    elevation = np.array([89.99, 30.0, 2.0])
    sine = np.sin(np.radians(elevation))
    skies = Skies(
        elevation=elevation,
        azimuth=np.array([180.0, 180.0, 180.0]),
        dni=np.full(3, 800.0),
        dhi=np.zeros(3),
        ghi=800 * sine,
        day_of_year=np.array([150, 151, 152]),
    )
    light = lit(ray, skies, axis, 0.0)
    share = light.absorbed_w_m2 / light.plane_w_m2
    assert share == pytest.approx(iam.physical(90 - elevation), abs=2e-4)  # computed with pvlib
