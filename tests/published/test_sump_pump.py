"""A fact of the trade, common practice, no source: what a pump of this class gives in full sun."""

from __future__ import annotations

import datetime as dt

import pytest

from trackersim import simulate
from trackersim.job.files import parse_job

GALLON_A_MINUTE_M3_S = 3.785411784e-3 / 60

# A pump in a 1000-gallon collecting tank lifts about 50 ft through a 1¼-inch riser into a 4-inch main; its controller
# is fed at 320–330 V DC. The pump and the modules are generic ones of the bundled tables.
SITE = """
[site]
latitude = 36
longitude = -80
utc_offset = -5
[weather]
clear_sky = true
[rack]
kind = "ideal"
axis_tilt = 25
[array]
module_class = "1990s-75W-36"
in_series = 20
in_parallel = 1
[controller]
rated = "1100 W"
start = "150 W"
min_input = "240 V"
max_input = "500 V"
[pump]
pump_class = "30gpm-60ft"
[[pipes]]
name = "riser"
length = "60 ft"
nominal = "1-1/4"
material = "plastic"
fittings = 5
[[pipes]]
name = "main"
length = "600 ft"
nominal = "4"
material = "plastic"
[source]
kind = "sump"
lift = "50 ft"
volume = "1000 gal"
inflow = "40000 gal/day"
"""


@pytest.mark.parametrize("month", [3, 6, 9])
def test_thirty_gallons_a_minute_through_a_narrow_riser_in_full_sun(month: int) -> None:
    day = dt.date(2025, month, 21)
    result = simulate(parse_job(SITE), first_day=day, last_day=day)
    noon = slice(690, 750)
    flow_gpm = result.minutes["flow_m3_s"][noon] / GALLON_A_MINUTE_M3_S
    assert flow_gpm.min() > 27
    assert flow_gpm.max() < 35
    # At full speed less is taken than could be: the voltage floats between best point and open circuit. While all is
    # taken, the controller is fed what the trade sees.
    volts, all_taken = result.minutes["input_v"], result.minutes["used_w"] > 0.999 * result.minutes["input_w"]
    held = all_taken & (result.minutes["used_w"] > 500)
    assert held.sum() > 20
    assert 295 < volts[held].mean() < 355  # cool cells in March, hot ones in June
    assert volts[held].mean() < volts[noon].mean() < 420
