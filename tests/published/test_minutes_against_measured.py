"""Minutes made from hours against measured ones, on water and on light: the record of minutes that pvlib 0.11.0 brings.

It is the Baseline Surface Radiation Network's of June 2016 at Payerne; its licence keeps it from lying here, so that
the test needs the folder `data` of that wheel (`.ci/run` brings it). Constants of `weather/broken_cloud` were fitted
to its first half, by other seeds than are drawn here.
"""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
from minutes_against_measured import compared

RECORD = Path(os.environ.get("PVLIB_OLDER_DATA", "/nowhere")) / "bsrn-pay0616.dat.gz"
SEEDS = 8


@pytest.mark.skipif(not RECORD.is_file(), reason="no pvlib 0.11.0 at hand: PVLIB_OLDER_DATA names its folder data")
@pytest.mark.parametrize("days", [(1, 15), (16, 30)], ids=["fitted", "other"])
def test_a_fortnight_of_made_minutes_lifts_what_measured_ones_lift(days: tuple[int, int]) -> None:
    found = compared(str(RECORD), *days, seeds=SEEDS)
    water = found.drawn[:, :, 0].mean(axis=0) / found.exact[:, 0] - 1
    assert len(water) == 4
    assert np.abs(water).max() <= 0.02, water
    # Hours joined smoothly lift more than their own minutes: what minutes are made for.
    assert (found.smooth[:, 0] / found.exact[:, 0] - 1).min() > 0.02
    made = {name: float(np.mean([each[name] for each in found.light_drawn])) for name in found.light}
    for name, value in found.light.items():
        if name.startswith("index"):
            assert made[name] == pytest.approx(value, abs=0.08), name
    assert made["above 1.1, %"] == pytest.approx(found.light["above 1.1, %"], abs=3)
    assert made["step, W/m²"] == pytest.approx(found.light["step, W/m²"], rel=0.2)
    assert made["starts a day at 250 W/m²"] == pytest.approx(found.light["starts a day at 250 W/m²"], rel=0.25)
