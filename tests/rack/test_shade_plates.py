"""Shade plates: which canister they light with the sun east, west and behind."""

from __future__ import annotations

import numpy as np
from thermal_makers import changed_rack, make_rack

from trackersim.job.rack import Rack
from trackersim.rack.shade_plates import plate_contrast
from trackersim.rack.thermal import numbers_of
from trackersim.rack.thermal_march import _lit_share


def lit_share(rack: Rack, offset_deg: np.ndarray) -> np.ndarray:
    """Of the west and the east canister (2, n)."""
    return np.array([_lit_share(numbers_of(rack), offset) for offset in offset_deg.tolist()]).T


def test_the_sun_from_the_east_lights_the_west_canister() -> None:
    offsets = np.array([-60.0, -25.0, -12.5, 0.0, 12.5, 25.0, 60.0])
    rack = make_rack(plate_angle_deg=25.0)
    west, east = lit_share(rack, offsets)
    np.testing.assert_allclose(west, [1, 1, 0.75, 0.5, 0.25, 0, 0])
    np.testing.assert_allclose(west + east, 1.0)
    np.testing.assert_array_equal(lit_share(changed_rack(rack, shade_plates=0.0), offsets), 0.5)
    half = lit_share(changed_rack(rack, shade_plates=0.5), offsets)[0]
    np.testing.assert_allclose(half, [0.75, 0.75, 0.625, 0.5, 0.375, 0.25, 0.25])


def test_a_sun_behind_the_rack_lights_the_shaded_canister_too() -> None:
    """From 90° off the rack's normal to 135° the contrast falls to the share left behind it, alike both ways."""
    rack = make_rack(plate_share_behind=0.6)
    for way in (1, -1):
        west, east = lit_share(rack, way * np.array([-60.0, -90.0, -112.5, -135.0, -170.0]))
        np.testing.assert_allclose(way * (west - east), [1.0, 1.0, 0.8, 0.6, 0.6])
        np.testing.assert_allclose(west + east, 1.0)
    whole = lit_share(make_rack(plate_share_behind=1.0), np.array([-140.0]))
    np.testing.assert_allclose(whole, [[1.0], [0.0]])


def test_the_march_has_the_plates_of_everybody_else() -> None:
    """Written twice, for arrays and for the compiled march."""
    for plate_angle_deg, share_behind in ((25.0, 0.8), (40.0, 0.0), (12.0, 1.0)):
        rack = make_rack(plate_angle_deg=plate_angle_deg, plate_share_behind=share_behind)
        offset = np.linspace(-180, 180, 1441)
        west, east = lit_share(rack, offset)
        contrast = plate_contrast(offset.copy(), plate_angle_deg=plate_angle_deg, share_behind=share_behind)
        np.testing.assert_allclose(east - west, contrast, atol=1e-12)
