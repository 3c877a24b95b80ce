"""The march against the same equations in steps of half a second, written once more (`plain_rack.py`).

A clear 21 March at 36° N; bores of 3, 4, 4.8 and 6 mm at three temperatures, side by side. At −22 °C the rack hunts:
that it does, and how far it travels, is the equations' doing and not the step's.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt
from plain_rack import PlainRack, drag_pa, flow_by_pressure, follow
from thermal_makers import changed_rack, clear_scene, make_rack, make_weather

from trackersim.job.rack import Rack
from trackersim.rack.thermal import Forcing
from trackersim.rack.thermal_year import march_thermal

FloatArray = npt.NDArray[np.float64]
BORES_M = (0.003, 0.004, 0.0048, 0.006)
FROM, TO = 330, 990  # before sunrise until it stands in the west again
WIND_NM, STIRRED_S = 40.0, 120.0  # wind that is felt but does not throw it over; liquid soon as warm as its wall
SETTLED = 20  # minutes until the plain rack has come to rest


def side_by_side(parts: list[Forcing]) -> Forcing:
    return Forcing(*(np.concatenate(values) for values in zip(*parts, strict=True)))


def plainly(rack: Rack, weather: Forcing, **changes: Any) -> FloatArray:
    """Rotation at the centres of minutes (minutes, columns)."""
    own = rack.thermal
    turns = follow(
        PlainRack(
            mass_kg=own.moving_mass_kg, balance_m=own.balance_m, lever_m=own.lever_m, liquid_kg=own.liquid_kg,
            residual_kg=own.residual_kg, friction_nm=own.pivot_friction_nm, damper_nms=own.damping_nms,
            plate_deg=own.plate_angle_deg, behind=own.plate_share_behind, shell_j_k=own.shell_j_k,
            **changes,
        ),
        air_c=weather.air_c.T, sun_deg=weather.sun_rotation_deg.T, beam_w=weather.beam_w.T,
        sky_w=weather.diffuse_w.T, loss_w_k=weather.loss_w_k.T, minutes=range(FROM, TO),
    )  # fmt: skip
    return np.asarray((turns[:-1] + turns[1:]) / 2)


def flip_min(turns: FloatArray) -> list[float]:
    """When each column first passes its centre, between two minutes by a line."""
    found = []
    for turn in turns.T:
        last = int(np.argmax(turn < 0)) - 1
        found.append(last + turn[last] / (turn[last] - turn[last + 1]))
    return found


def travel_deg(turns: FloatArray) -> FloatArray:
    return np.asarray(np.abs(np.diff(turns[SETTLED:], axis=0)).sum(axis=0))


CASES = [(air, bore) for air in (-22.0, 0.0, 30.0) for bore in BORES_M]
HUNTING = [number for number, (air, _) in enumerate(CASES) if air < -20]
CALM = [number for number, (air, _) in enumerate(CASES) if air > -20]


@cache
def both() -> tuple[FloatArray, FloatArray]:
    """The march and the plain rack: rotation (minutes, columns) of `CASES`, one in wind, and one of stirred liquid."""
    rack, scene = make_rack(), clear_scene()
    parts = [make_weather(scene, rack, days=(79,), air_c=air, bore_m=bore) for air, bore in CASES]
    mild = make_weather(scene, rack, days=(79,), air_c=10.0)
    windy = mild._replace(wind_moment_nm=np.full_like(mild.air_c, WIND_NM))
    whole = side_by_side([*parts, windy, mild])
    stirred = changed_rack(rack, mixing_s=STIRRED_S)
    marched = [march_thermal(rack, part) for part in (side_by_side([*parts, windy]),)] + [march_thermal(stirred, mild)]
    bores = np.array([bore for _, bore in CASES] + 2 * [0.0048])
    last = np.arange(len(bores)) == len(bores) - 1
    plain = plainly(
        rack, whole, bore_m=bores, mixing_s=np.where(last, STIRRED_S, rack.thermal.mixing_s),
        wind_nm=np.where(np.arange(len(bores)) == len(bores) - 2, WIND_NM, 0.0),
    )  # fmt: skip
    return np.concatenate([one.rotation_deg for one in marched]).T[FROM : TO - 1], plain


def test_flip_and_travel_are_those_of_half_seconds() -> None:
    marched, plain = both()
    assert np.abs(np.subtract(flip_min(marched), flip_min(plain))).max() < 0.5
    np.testing.assert_allclose(travel_deg(marched), travel_deg(plain), rtol=0.02)


def test_every_minute_is_that_of_half_seconds_where_it_does_not_hunt() -> None:
    marched, plain = (turns[:, CALM] for turns in both())
    assert (travel_deg(plain) < 220).all()
    assert np.sqrt(((marched - plain)[SETTLED:] ** 2).mean(axis=0)).max() < 0.5


def test_it_hunts_in_hard_frost_in_half_seconds_too() -> None:
    for turns in both():
        assert (travel_deg(turns[:, HUNTING]) > 400).all()


def test_the_plain_flow_is_that_of_the_drag_it_meets() -> None:
    """Identity, by the Reynolds number of the flow found: the two ways of the plain rack to its drag agree."""
    pressure, warm = np.geomspace(1.0, 1e5, 30), np.full(30, 10.0)
    for bore in BORES_M:
        rack = PlainRack(bore_m=bore)
        np.testing.assert_allclose(drag_pa(rack, flow_by_pressure(rack, warm)(pressure), warm), pressure, rtol=1e-9)
