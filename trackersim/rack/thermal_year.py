"""A year of the thermal rack: all days side by side, each begun where the evening before left it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from trackersim.arrays import BoolArray, FloatArray, IndexArray
from trackersim.job.rack import Rack
from trackersim.rack.rows import as_rows, rows_of
from trackersim.rack.thermal import Forcing, State, resting_west_deg, step
from trackersim.side_by_side import march_days

# States this close are the same: K, K, kg, degrees, K, K. What warmth differs at midnight fades a hundredfold and more
# by sunrise. A start is held against the evening before, and a day that is taken again against what it did before.
_TOLERANCE = np.array([1e-7, 1e-7, 1e-9, 1e-9, 1e-7, 1e-7])
# In the dark, with no wind that pushes, nothing moves and canisters only follow the air: longer strides do.
_DARK_STRIDE_MIN = 5
# A day whose rack turns farther than this within a step, or moves more than this share of its liquid, takes the step
# again in this many shorter ones: a swing is over in minutes.
_SWIFT_DEG, _SWIFT_SHARE, _SWIFT_STEPS = 1.0, 0.01, 4
# A rack that follows the sun and swings back once travels four times its largest rotation. Where one travels more than
# this many times it, the day is taken again in the end with so many steps a minute: steps of a minute make a rack
# hunt that does not, near the frost in which it begins to. The morning after begins as it would have without.
_RESTLESS_TRAVEL, _RESTLESS_STEPS = 15.0, 8
_MAX_ROUNDS = 20


@dataclass(frozen=True, kw_only=True)
class ThermalHistory:
    """The rack through its days, at the centres of minutes: rotation [°] and liquid in the west canister [kg] (days,
    minutes), canister temperatures [°C] (2, days, minutes). `settled` is False if mornings and evenings did not come to
    agree within the rounds allowed.
    """

    rotation_deg: FloatArray
    west_kg: FloatArray
    canister_c: FloatArray
    rounds: int
    settled: bool


def march_thermal(
    rack: Rack, forcing: Forcing, *, beam_share: FloatArray | None = None, substeps: int = 1
) -> ThermalHistory:
    """March all days. The first day begins at rest in the west, at air temperature.

    Parameters
    ----------
    rack : Rack
        A thermal rack in its present condition.
    forcing : Forcing
        What drives it, every array (days, minutes); `beam_w` alike at both canisters, before trees.
    beam_share : FloatArray | None
        Shape (3, 2, days, minutes). Share of the direct light that reaches the west and the east canister with the
        rack at its east stop, centre and west stop; None where nothing stands in the way.
    substeps : int
        Steps a minute.

    Returns
    -------
    ThermalHistory
        Rotation, liquid and temperatures, minute by minute; `settled` says whether evenings and mornings agree.
    """
    rest_deg = np.full(len(forcing.air_c), resting_west_deg(rack))
    return _march(rack, rest_deg, forcing, beam_share, days_in_a_row=len(rest_deg), substeps=substeps)


def march_racks(racks: Sequence[Rack], forcing: Forcing, *, beam_share: FloatArray | None = None) -> ThermalHistory:
    """March several racks side by side, each through as many days of its own as `march_thermal` does one.

    Parameters
    ----------
    racks : Sequence[Rack]
        Shape (racks,). Thermal racks in their present condition, with the same stops and the same refrigerant.
    forcing : Forcing
        What drives them, every array (racks · days, minutes), the days of one rack below those of the other.
    beam_share : FloatArray | None
        Shape (3, 2, racks · days, minutes), as in `march_thermal`.

    Returns
    -------
    ThermalHistory
        Rows as in `forcing`.

    Raises
    ------
    ValueError
        If stops or refrigerants differ.
    """
    days = len(forcing.air_c) // len(racks)
    rest_deg = np.repeat([resting_west_deg(rack) for rack in racks], days)
    rows = as_rows([rack for rack in racks for _ in range(days)])
    return _march(rows, rest_deg, forcing, beam_share, days_in_a_row=days, substeps=1)


def _march(
    rack: Rack,
    rest_deg: FloatArray,
    forcing: Forcing,
    beam_share: FloatArray | None,
    *,
    days_in_a_row: int,
    substeps: int,
) -> ThermalHistory:
    """A rack, or several as one, through its rows, of which each rests in the west at an angle (rows,) of its own.

    Every day is first tried from rest. From then on it is taken only as far as it differs from what it did before:
    most nights the rack rests, and a canister has forgotten by the morning how warm it was at midnight.
    """
    course = _course_of(forcing, beam_share)
    edges = _no_edges(course)

    def run_days(chosen: IndexArray, start: FloatArray) -> FloatArray:
        return _walk(rack, course, chosen, start, edges, substeps=substeps)

    march = march_days(
        run_days,
        guess=_at_rest(rack, rest_deg, forcing.air_c[:, 0]),
        tolerance=_TOLERANCE,
        max_rounds=_MAX_ROUNDS,
        days_in_a_row=days_in_a_row,
    )
    _calmed(rack, course, march.start_state, edges, substeps=substeps)
    return _history_of(edges, rounds=march.rounds, settled=march.settled)


def march_mornings(racks: Sequence[Rack], forcing: Forcing, *, beam_share: FloatArray | None = None) -> FloatArray:
    """Mornings of several racks side by side, each begun at midnight at rest in the west, at air temperature.

    A rack that hunts is not taken again by shorter steps, as in a year: its first moments are those of the steps taken.

    Parameters
    ----------
    racks : Sequence[Rack]
        Shape (n,). Thermal racks in their present condition, with the same stops and the same refrigerant.
    forcing : Forcing
        What drives each, every array (n, minutes) from midnight on; `beam_w` alike at both canisters, before trees.
    beam_share : FloatArray | None
        Shape (3, 2, n, minutes), as in `march_thermal`.

    Returns
    -------
    FloatArray
        Shape (n, minutes). Rotation at the centres of minutes [degrees], + west.

    Raises
    ------
    ValueError
        If stops or refrigerants differ.
    """
    rows, course = as_rows(racks), _course_of(forcing, beam_share)
    start = _at_rest(rows, np.array([resting_west_deg(rack) for rack in racks]), forcing.air_c[:, 0])
    edges = _no_edges(course)
    _walk(rows, course, np.arange(course.days), start, edges, substeps=1)
    return _history_of(edges, rounds=1, settled=True).rotation_deg


def _at_rest(rack: Rack, rest_deg: FloatArray, air_c: FloatArray) -> FloatArray:
    """Start states (n, 6) of a rack, or of several as one, that rests in the west with all liquid there, as warm as the
    air (n,) throughout: °C west and east, kg in the west, degrees (n,), °C of the liquid west and east.
    """
    west_kg = np.broadcast_to(rack.thermal.liquid_now_kg, air_c.shape)
    return np.column_stack([air_c, air_c, west_kg, rest_deg, air_c, air_c])


class _Course(NamedTuple):
    """What drives the rack, laid out so that each day can be read at a minute of its own: at minute · days + day.

    `forcing` (10, minutes · days) in the order of `Forcing`; `beam_share` (6, minutes · days) or None, and whether less
    than all passes anywhere (minutes · days); `stride_min`: minutes that one stride from here on may take.
    """

    minutes: int
    days: int
    forcing: FloatArray
    beam_share: FloatArray | None
    shaded: BoolArray
    stride_min: IndexArray


def _course_of(forcing: Forcing, beam_share: FloatArray | None) -> _Course:
    days, minutes = forcing.air_c.shape
    share: FloatArray | None = None
    shaded: BoolArray = np.zeros(minutes * days, dtype=bool)
    if beam_share is not None:
        share = np.ascontiguousarray(beam_share.swapaxes(2, 3)).reshape(6, -1)
        shaded = np.asarray((share < 1).any(axis=0))
    # A minute with light, a sky seen unequally or wind that pushes is a stride of its own; darkness is taken in longer
    # ones.
    busy = (forcing.beam_w + forcing.diffuse_w > 0) | (forcing.wind_moment_nm != 0) | (forcing.sky_w != 0)
    minute = np.arange(minutes)
    next_busy = np.minimum.accumulate(np.where(busy, minute, minutes)[:, ::-1], axis=1)[:, ::-1]
    stride = np.clip(next_busy - minute, 1, _DARK_STRIDE_MIN)
    by_minute = np.stack([values.T for values in forcing]).reshape(len(forcing), -1)
    return _Course(minutes, days, by_minute, share, shaded, np.ascontiguousarray(stride.T).ravel())


def _no_edges(course: _Course) -> FloatArray:
    """Room for the states (6, minutes + 1, days) in which strides begin and end: NaN until they are walked."""
    return np.full((6, course.minutes + 1, course.days), np.nan)


def _history_of(edges: FloatArray, *, rounds: int, settled: bool) -> ThermalHistory:
    """What the edges of strides say of the centres of minutes."""
    edges = _between(edges)
    canister_west, canister_east, west, rotation = 0.5 * (edges[:4, :-1] + edges[:4, 1:]).transpose(0, 2, 1)
    return ThermalHistory(
        rotation_deg=np.ascontiguousarray(rotation),
        west_kg=np.ascontiguousarray(west),
        canister_c=np.stack([canister_west, canister_east]),
        rounds=rounds,
        settled=settled,
    )


def _calmed(rack: Rack, course: _Course, morning: FloatArray, edges: FloatArray, *, substeps: int) -> None:
    """Take days with a restless rack again by shorter steps, from their states in the morning (days, 6)."""
    rotation = _between(edges[3:4].copy())[0]
    travel = np.abs(np.diff(0.5 * (rotation[:-1] + rotation[1:]), axis=0)).sum(axis=0)
    restless = np.flatnonzero(travel > _RESTLESS_TRAVEL * rack.max_rotation_deg)
    if restless.size and substeps < _RESTLESS_STEPS:
        edges[:, :, restless] = np.nan
        _walk(rack, course, restless, morning[restless], edges, substeps=_RESTLESS_STEPS)


def _walk(
    rack: Rack, course: _Course, chosen: IndexArray, start: FloatArray, edges: FloatArray, *, substeps: int
) -> FloatArray:
    """The chosen days side by side from their starts (n, 6), each by steps of its own: fine ones where its rack swings.

    States go into `edges` (6, minutes + 1, days) where strides end, and those at the end of each day (n, 6) come back.
    A day is left as it was from where it comes to what stands there already. A step in which a rack turns far is not
    taken; finer ones take its place.
    """
    told = edges.reshape(len(edges), -1)
    told[:, chosen] = now = np.ascontiguousarray(start.T)
    lane, mine = chosen, rows_of(rack, chosen)
    minute = np.zeros(len(chosen), dtype=np.intp)
    done_s, fine_until_s = np.zeros((2, len(chosen)))
    while lane.size:
        here = minute * course.days + lane
        length = course.stride_min[here]
        whole_s = 60.0 * length
        coarse_s = whole_s / substeps
        fine = done_s < fine_until_s
        step_s = np.where(fine, np.minimum(coarse_s, 60.0) / _SWIFT_STEPS, coarse_s)
        state = State(now[:2], now[2], now[3], now[4:])
        after = step(mine, state, _forcing(mine, course, here + length // 2 * course.days, state), step_s).state
        refused = _swift(mine, state, after) & ~fine
        fine_until_s = np.where(refused, done_s + coarse_s, fine_until_s)
        done_s = np.where(refused, done_s, done_s + step_s)
        now = np.where(refused, now, np.vstack(after))
        over = done_s >= whole_s
        minute += np.where(over, length, 0)
        done_s[over] = fine_until_s[over] = 0.0
        there, reached = (minute * course.days + lane)[over], now[:, over]
        stays = minute < course.minutes
        stays[over] &= ~(np.abs(told[:, there] - reached) <= _TOLERANCE[:, None]).all(axis=0)
        told[:, there] = reached
        if not stays.all():
            lane, minute, done_s, fine_until_s = lane[stays], minute[stays], done_s[stays], fine_until_s[stays]
            now, mine = now[:, stays], rows_of(rack, lane)
    return edges[:, -1, chosen].T


def _between(edges: FloatArray) -> FloatArray:
    """States (6, minutes + 1, days) with those within strides, NaN until now, on the line between their ends."""
    known = ~np.isnan(edges[0])
    row = np.arange(len(known))[:, None]
    before = np.maximum.accumulate(np.where(known, row, 0))
    after = np.minimum.accumulate(np.where(known, row, len(known) - 1)[::-1])[::-1]
    place, day = np.nonzero(~known)
    begin, end = before[place, day], after[place, day]
    left = edges[:, begin, day]
    edges[:, place, day] = left + (place - begin) / (end - begin) * (edges[:, end, day] - left)
    return edges


def _swift(rack: Rack, before: State, after: State) -> BoolArray:
    """Days (n,) whose rack has moved far in one step."""
    turned = np.abs(after.rotation_deg - before.rotation_deg)
    moved = np.abs(after.west_kg - before.west_kg)
    return np.asarray((turned > _SWIFT_DEG) | (moved > _SWIFT_SHARE * rack.thermal.liquid_now_kg))


def _forcing(rack: Rack, course: _Course, here: IndexArray, state: State) -> Forcing:
    """What acts on each day's rack (n,) at its place in the course."""
    forcing = Forcing(*course.forcing.take(here, axis=1))
    if course.beam_share is None or not course.shaded[here].any():
        return forcing
    # Between the places that the canisters have at the stops and at centre.
    east, centre, west = course.beam_share.take(here, axis=1).reshape(3, 2, -1)
    lean = state.rotation_deg / rack.max_rotation_deg
    share = centre + np.maximum(lean, 0) * (west - centre) + np.maximum(-lean, 0) * (east - centre)
    return forcing._replace(beam_w=forcing.beam_w * share)
