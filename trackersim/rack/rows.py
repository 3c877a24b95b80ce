"""Several thermal racks as one, so that one step takes them side by side."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from trackersim.arrays import FloatArray, IndexArray
from trackersim.job.rack import Rack

# Numbers of `Thermal` in which racks that march side by side may differ, as they may in the tilt of their axes.
_OWN = (
    "charge", "shade_plates", "damper", "pivot_friction_nm", "balance_m", "moving_mass_kg", "lever_m", "liquid_kg",
    "residual_kg", "damping_nms", "plate_angle_deg", "plate_share_behind", "plates_pass", "shell_j_k", "mixing_min",
)  # fmt: skip


def as_rows(racks: Sequence[Rack]) -> Rack:
    """Several racks as one whose numbers are arrays (n,), one row each, so that a step takes them side by side.

    Parameters
    ----------
    racks : Sequence[Rack]
        Shape (n,). Thermal racks with the same stops and the same refrigerant.

    Returns
    -------
    Rack
        For `thermal.step` and what it calls only: its numbers are no longer those of a job.

    Raises
    ------
    ValueError
        If stops or refrigerants differ.
    """
    if len({(rack.max_rotation_deg, rack.thermal.refrigerant) for rack in racks}) != 1:
        raise ValueError("racks side by side need the same stops and the same refrigerant.")
    numbers = {name: np.array([getattr(rack.thermal, name) for rack in racks], dtype=float) for name in _OWN}
    tilt_deg = np.array([rack.axis_tilt_deg for rack in racks], dtype=float)
    return _with_numbers(racks[0], numbers, tilt_deg)


def rows_of(rack: Rack, rows: IndexArray) -> Rack:
    """Of what `as_rows` made, some rows; any other rack as it is.

    Parameters
    ----------
    rack : Rack
        A rack, or several as one.
    rows : IndexArray
        Shape (n,). Which of them, in this order.

    Returns
    -------
    Rack
        As `as_rows` makes it, with n rows; a single rack itself.
    """
    if np.ndim(rack.thermal.charge) == 0:
        return rack
    numbers = {name: np.asarray(getattr(rack.thermal, name))[rows] for name in _OWN}
    return _with_numbers(rack, numbers, np.asarray(rack.axis_tilt_deg)[rows])


def _with_numbers(rack: Rack, numbers: dict[str, FloatArray], tilt_deg: FloatArray) -> Rack:
    thermal = rack.thermal.model_copy(update=numbers)
    return rack.model_copy(update={"thermal": thermal, "axis_tilt_deg": tilt_deg})
