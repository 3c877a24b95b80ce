"""Arrays that a function cannot work on are refused in words: once numpy said what it could not do, and with what index
of which array nobody knew; or compiled code read beyond them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import pytest

from trackersim import InputError, load_job
from trackersim.arrays import check_array
from trackersim.job.water import Main, Store
from trackersim.power.label_fit import fit_label
from trackersim.power.module_table import module_table
from trackersim.power.soiling import soiling_by_day
from trackersim.power.strings import best_points
from trackersim.rack.delayed import delayed_rotation
from trackersim.rack.events import morning_events, solar_midnight_min
from trackersim.rack.geometry import Axis, sun_on_axis
from trackersim.rack.thermal import Forcing
from trackersim.rack.thermal_year import march_mornings, march_thermal
from trackersim.simulation.runner import simulate
from trackersim.sky.crowns import Crown, in_crown
from trackersim.sky.irradiance import light_on_plane, sky_light, view_at
from trackersim.sky.sun import sun_at, unix_seconds
from trackersim.sky.trees import beam_share, behind_horizon, near_crowns, sky_view
from trackersim.water.balance import balance
from trackersim.water.branch import PumpBranch
from trackersim.water.demand import demand_m3_s, evaporation_m3_s, inflow_m3_s
from trackersim.water.junction import junction_flows
from trackersim.water.operating import flow_at_power, operating_table
from trackersim.water.unit_table import unit_table
from trackersim.water.wear import pump_model

JOB = load_job("demo")
TIMES = pd.date_range("2025-06-01 12:00", periods=2, freq="h", tz="UTC")
NAN = float("nan")
SUN = np.array([[1.0, 0.0], [0.0, 1.0], [0.0, 0.0]])
DAYS = np.array([0, 1])
CROWN = Crown(
    bearing_deg=90.0, distance_m=20.0, half_width_m=5.0, base_m=-1.0, top_m=9.0, round_top=True,
    transmittance_by_day=np.array([0.1, 0.2]),
)  # fmt: skip
AXIS = Axis(azimuth_deg=180.0, tilt_deg=20.0)
ONES, MINUTES = np.ones(2), np.ones((2, 4))
SKY = dict(dni_w_m2=ONES, dhi_w_m2=ONES, ghi_w_m2=ONES, cos_zenith=ONES, day_of_year=DAYS + 1, ground_albedo=0.2)
ANGLES = ("rotation_deg", "sun_rotation_deg")
PLANE = dict.fromkeys((*ANGLES, "reach", "beam_share", "sky_share", "horizon_share"), ONES)
MORNING: dict[str, Any] = {
    **dict.fromkeys((*ANGLES, "true_elevation_deg", "beam_w_m2"), MINUTES),
    "midnight_min": np.zeros(2, dtype=int),
    "max_rotation_deg": 45.0,
}
FORCING = Forcing(*(np.ones((2, 4)) for _ in Forcing._fields))
THERMAL = load_job("demo", ["rack.kind=thermal"]).rack
TURNING: dict[str, Any] = {"max_rotation_deg": 45.0, "turning_min": 20.0, "lag_deg": 0.0}


def sun(times: Any = TIMES, **place: Any) -> Any:
    return sun_at(times, **{"latitude_deg": 36.0, "longitude_deg": -80.0} | place)


def plane(**changed: Any) -> Any:
    return light_on_plane(sky_light(**SKY), axis=AXIS, **PLANE | changed)


def strings(light: Any, cell_c: Any) -> Any:
    diode = fit_label(JOB.array)
    return best_points(light, cell_c, diode=diode, table=module_table(diode), substrings_per_module=3)


def balanced(available: Any, offered: Any) -> Any:
    job = JOB
    return balance(
        available_w=available, flow_if_running_m3_s=offered, controllers=[job.controller], pumps=[job.pump],
        sources=[job.source],
    )  # fmt: skip


def branch() -> PumpBranch:
    source = JOB.source
    return PumpBranch(
        model=pump_model(JOB.pump), pump=JOB.pump, source=source, pipes=JOB.pipes, static_head_m=source.lift_m
    )


def junction(power_w: Any) -> Any:
    return junction_flows([unit_table(branch(), lowest_head_m=0.0)], Main(), power_w)


REFUSED: dict[str, tuple[str, Callable[[], Any]]] = {
    "no instant": ("times", lambda: sun(pd.DatetimeIndex([], tz="UTC"))),
    "NaT": ("times", lambda: sun(pd.DatetimeIndex(["2025-01-01", None], tz="UTC"))),
    "no zone": ("times", lambda: sun(pd.DatetimeIndex(["2025-01-01"]))),
    "no times": ("times", lambda: sun(["2025-01-01"])),
    "seconds of no times": ("times", lambda: unix_seconds(pd.Index([1, 2]))),  # type: ignore[arg-type]
    "latitude": ("latitude_deg", lambda: sun(latitude_deg=NAN)),
    "beyond the pole": ("latitude_deg", lambda: sun(latitude_deg=95.0)),
    "longitude as text": ("longitude_deg", lambda: sun(longitude_deg="west")),
    "height": ("elevation_m", lambda: sun(elevation_m=np.inf)),
    "day beyond the crowns'": ("day", lambda: beam_share(SUN, np.array([0, 2]), [CROWN])),
    "day before the first": ("day", lambda: beam_share(SUN, np.array([-1, 0]), [CROWN])),
    "fewer days than suns": ("day", lambda: beam_share(SUN, DAYS[:1], [CROWN])),
    "one sun as a vector": ("direction", lambda: beam_share(SUN[:, 0], DAYS, [CROWN])),
    "sun without height": ("direction", lambda: in_crown(SUN[:2], CROWN)),
    "sun nowhere": ("direction", lambda: beam_share(SUN * NAN, DAYS, [CROWN])),
    "suns in rows": ("direction", lambda: near_crowns(SUN.T, [CROWN], within_m=1.0)),
    "suns in rows, no horizon": ("direction", lambda: behind_horizon(SUN.T, None)),
    "suns in rows, axis": ("direction", lambda: sun_on_axis(SUN.T, AXIS)),
    "normals in rows": ("normals", lambda: sky_view(SUN.T, 2, [CROWN])),
    "days that the crowns lack": ("crown.transmittance_by_day", lambda: sky_view(SUN, 3, [CROWN])),
    "day beyond the view's": ("day", lambda: view_at(sky_view(SUN, 2, []), day=DAYS + 1, rotation_deg=ONES)),
    "day 367": ("day_of_year", lambda: sky_light(**SKY | {"day_of_year": np.array([1, 367])})),
    "light of other instants": ("dhi_w_m2", lambda: sky_light(**SKY | {"dhi_w_m2": np.ones(3)})),
    "reach of other instants": ("reach", lambda: plane(reach=np.ones(3))),
    "an angle that is none": ("rotation_deg", lambda: plane(rotation_deg=np.array([0.0, NAN]))),
    "elevation in one row": ("true_elevation_deg", lambda: solar_midnight_min(np.ones(1440))),
    "beam of other days": ("beam_w_m2", lambda: morning_events(**MORNING | {"beam_w_m2": np.ones((3, 4))})),
    "midnight beyond the day": ("midnight_min", lambda: morning_events(**MORNING | {"midnight_min": np.array([0, 4])})),
    "sunshine of other days": ("sun_rotation_deg", lambda: delayed_rotation(MINUTES[:1], MINUTES > 0, ONES, **TURNING)),
    "forcing of other days": ("forcing.sky_w", lambda: march_thermal(THERMAL, FORCING._replace(sky_w=MINUTES[:1]))),
    "forcing of no day": ("forcing.air_c", lambda: march_mornings(THERMAL, FORCING._replace(air_c=ONES))),
    "shade of one canister": ("beam_share", lambda: march_thermal(THERMAL, FORCING, beam_share=np.ones((3, 1, 2, 4)))),
    "rain below nothing": ("rain_mm_by_day", lambda: soiling_by_day(np.array([-1.0]), lost_per_dry_day=0.001)),
    "light of one string": ("light_w_m2", lambda: strings(MINUTES, ONES)),
    "cells of other minutes": ("cell_c", lambda: strings(np.ones((3, 1, 3)), ONES)),
    "month 0": ("month_of_day", lambda: demand_m3_s(JOB.store, np.array([0]))),
    "month 13": ("month_of_day", lambda: inflow_m3_s(JOB.source, np.array([13]))),
    "power of no day": ("available_w", lambda: balanced(ONES[None], ONES[None])),
    "power of other days": ("flow_if_running_m3_s", lambda: balanced(MINUTES[None], MINUTES[None, :1])),
    "power nobody knows": ("power_w", lambda: flow_at_power(operating_table(branch()), [300.0, NAN])),
    "power of more pumps": ("power_w", lambda: junction(MINUTES)),
    "angles as text": ("rotation_deg", lambda: simulate(JOB, rotation_deg="x")),  # type: ignore[arg-type]
}


@pytest.mark.parametrize(("field", "call"), REFUSED.values(), ids=REFUSED)
def test_what_cannot_be_worked_on_is_refused(field: str, call: Callable[[], Any]) -> None:
    with pytest.raises(InputError) as caught:
        call()
    (fault,) = caught.value.faults
    assert fault.field == field
    assert fault.reason.endswith(".")
    assert fault.remedy.startswith(("Give", "Leave"))


def test_a_fault_names_the_place_and_the_value() -> None:
    with pytest.raises(InputError, match=r"beam = nan: is not finite \(place 1, 0, counted from 0\)"):
        check_array("beam", [[0.0], [NAN]], ("n", 1))
    with pytest.raises(InputError, match=r"beam = \(2,\): is not its shape\. Give an array \(n, 3\)"):
        check_array("beam", [0.0, 1.0], ("n", 3))
    with pytest.raises(InputError, match=r"-1\.0: is not 0 or more"):
        check_array("beam", -1.0, least=0)
    for ragged in ([[0.0], [0.0, 1.0]], [None], "x", {}):
        with pytest.raises(InputError, match="holds something that is no number"):
            check_array("beam", ragged)


def test_a_place_where_the_sun_is_never_up_is_none_of_these() -> None:
    none = np.empty((3, 0))
    assert beam_share(none, np.empty(0, dtype=int), [CROWN]).shape == (0,)
    assert near_crowns(none, [CROWN], within_m=1.0).shape == (0,)
    assert evaporation_m3_s(Store(), np.array([1])).tolist() == [0.0]
