"""Shade plates: what they give either canister of the light, by where the sun stands off the rack's normal."""

from __future__ import annotations

import numpy as np

from trackersim.arrays import FloatArray

# The sun comes behind the rack where it stands farther than this from its normal, and is well behind so much farther on
# (assumption).
ABEAM_DEG, BEHIND_WITHIN_DEG = 90.0, 45.0


def plate_contrast(offset_deg: FloatArray, *, plate_angle_deg: float, share_behind: float) -> FloatArray:
    """What sound shade plates give the east canister more than the west one, as a share of the beam: −1…1.

    The plates let the sun from the east (negative offset) onto the west canister: that swings the rack east. They were
    not made to stand in the way of a sun that has come behind the rack: from 90° off on their contrast falls, and from
    135° on `share_behind` of it is left.

    Parameters
    ----------
    offset_deg : FloatArray
        Any shape. How far west of the rack's normal the sun stands [degrees].
    plate_angle_deg : float
        Offset at which one canister is fully shaded [degrees].
    share_behind : float
        Share of the contrast with the sun well behind the rack, 0…1.

    Returns
    -------
    FloatArray
        Shape of the offset; negative with the west canister lit more.
    """
    lean = np.minimum(np.maximum(offset_deg / plate_angle_deg, -1.0), 1.0)
    behind = np.minimum(np.maximum((np.abs(offset_deg) - ABEAM_DEG) / BEHIND_WITHIN_DEG, 0.0), 1.0)
    lean *= 1 - (1 - share_behind) * behind
    return np.asarray(lean)
