"""The passive rack as somebody has watched it: it needs so many minutes of sun, then turns, then lags.

Same output as the physics of the canisters, without canisters. All days are marched side by side.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from trackersim.arrays import FloatArray

# Sunshine begins at this direct light (World Meteorological Organization, Guide to Instruments, sunshine duration).
SUNSHINE_W_M2 = 120.0


def delayed_rotation(
    sun_rotation_deg: FloatArray,
    beam_w_m2: FloatArray,
    *,
    midnight_min: npt.NDArray[np.integer] | None = None,
    max_rotation_deg: float,
    flip_delay_min: float,
    turning_min: float,
    lag_deg: float,
    step_min: float = 1.0,
) -> FloatArray:
    """Rotation (days, minutes) of a rack that rests at the west stop until it has been sunned long enough.

    `beam_w_m2` (days, minutes) is the direct light that reaches the rack past trees. Sunshine (≥ 120 W/m²) is counted
    from solar midnight, `midnight_min` (days,), or the day's first minute: what shines before is the evening before.
    With `flip_delay_min` of it the rack passes its centre: it has started half a turn earlier (or at once, if the delay
    is shorter than that), and from then on turns toward the true-tracking angle less `lag_deg` at stop-to-stop speed 2
    · max / `turning_min`. In shade or cloud it holds still. Every day starts at the west stop, whatever the evening
    before.

    Parameters
    ----------
    sun_rotation_deg : FloatArray
        Shape (days, minutes). True-tracking angle of the sun [degrees], + west.
    beam_w_m2 : FloatArray
        Shape (days, minutes). Direct light past trees [W/m²].
    midnight_min : npt.NDArray[np.integer] | None
        Shape (days,). Minute of solar midnight; None for each day's first minute.
    max_rotation_deg : float
        Stop on either side of centre [degrees].
    flip_delay_min : float
        Sunshine until the rack passes its centre [min].
    turning_min : float
        Time from stop to stop [min].
    lag_deg : float
        How far it points east of the sun [degrees].
    step_min : float
        Time between columns [min].

    Returns
    -------
    FloatArray
        Shape (days, minutes). Rotation [degrees], + west, within the stops.
    """
    days, minutes = sun_rotation_deg.shape
    sunny = beam_w_m2 >= SUNSHINE_W_M2
    if midnight_min is not None:
        sunny &= np.arange(minutes) >= midnight_min[:, None]
    # Half of the way from stop to stop is done when the rack flips, that is, passes its centre.
    release_min = max(flip_delay_min - turning_min / 2, 0.0)
    warm = np.cumsum(sunny, axis=1) * step_min > release_min
    target = np.clip(sun_rotation_deg - lag_deg, -max_rotation_deg, max_rotation_deg)
    stride = 2 * max_rotation_deg / turning_min * step_min
    reach = np.where(warm & sunny, stride, 0.0)
    rotation = np.empty((days, minutes))
    now = np.full(days, max_rotation_deg)
    # Minute-major copies keep each step's reads contiguous.
    targets, reaches = np.ascontiguousarray(target.T), np.ascontiguousarray(reach.T)
    for minute in range(minutes):
        if reaches[minute].any():
            now = now + np.clip(targets[minute] - now, -reaches[minute], reaches[minute])
        rotation[:, minute] = now
    return rotation
