"""The job's modules in the scene: where they lie, what shade crosses them, and what they give when unevenly lit."""

from __future__ import annotations

from dataclasses import dataclass
from functools import reduce
from typing import NamedTuple

import numpy as np

from trackersim.arrays import FloatArray, IndexArray
from trackersim.job.array import Array
from trackersim.job.model import Job
from trackersim.power.cell_temperature import cell_temperature_c
from trackersim.power.diode import Diode
from trackersim.power.label_fit import fit_label
from trackersim.power.module_table import ModuleTable, best_point, best_power_w, module_table
from trackersim.power.soiling import soiling_by_day
from trackersim.power.strings import BestPoint, array_curve, best_on_curve
from trackersim.rack.wind import wind_at_height_m_s
from trackersim.simulation.electrics import array_side_ohm, module_limits, module_wire_ohm
from trackersim.simulation.reuse import Reuse, worked_anew
from trackersim.simulation.scene import Scene
from trackersim.simulation.tracking import Orientation, Tracking, axis_of
from trackersim.sky.irradiance import PlaneLight, light_on_plane, rotation_grid_deg, view_at
from trackersim.sky.shading import ArrayPlaces, ModuleShade, ShadeEdges, module_shade, shade_edges
from trackersim.sky.trees import SkyView, sky_view

# Where a substring is looked at: shares of its long and short side (its outer cells, about).
_LONG, _SHORT = (0.1, 0.5, 0.9), (0.2, 0.8)
# Less difference of light than this within the array counts as evenly lit [W/m²].
_EVEN_W_M2 = 5.0


@dataclass(frozen=True, kw_only=True)
class SubstringShade:
    """Minutes (m,) in which shade may lie unevenly on the array, and the beam share then.

    `mean` (m,) over the whole array; `substring` (m, strings, substrings) of the darkest place of each substring:
    cells in series pass what the weakest of them bears.
    """

    minutes: IndexArray
    mean: FloatArray
    substring: FloatArray

    def over(self, beam_share: FloatArray) -> FloatArray:
        """The beam share of the whole array (n,), given that at the axis (n,)."""
        share = beam_share.copy()
        share[self.minutes] = self.mean
        return share


def array_places(array: Array) -> ArrayPlaces:
    """Places looked at on an array, ordered by place in a substring, then string, module in it, and its substring.

    Parameters
    ----------
    array : Array
        Its modules and how they lie are read.

    Returns
    -------
    ArrayPlaces
        Metres across and along the axis, and off it.
    """
    out = array.laid_out
    row, column = np.divmod(np.arange(array.module_count), out.columns)
    if out.strung_by == "columns":
        column, row = np.divmod(np.arange(array.module_count), out.rows)
    pitch_across, pitch_along = out.module_width_m + out.gap_across_m, out.module_height_m + out.gap_along_m
    corner_across = -out.width_m / 2 + column * pitch_across
    corner_along = -out.height_m / 2 + row * pitch_along
    inside_across, inside_along = _in_module(max(array.diodes, 1), out.module_width_m, out.module_height_m)
    return ArrayPlaces(
        across_m=(corner_across[:, None] + inside_across[:, None, :]).ravel(),
        along_m=(corner_along[:, None] + inside_along[:, None, :]).ravel(),
        off_axis_m=out.above_axis_m,
    )


def _in_module(substrings: int, width_m: float, height_m: float) -> tuple[FloatArray, FloatArray]:
    """Places (in substring, substrings) in one module from its corner: they lie along its long side, side by side."""
    short, long = np.meshgrid(np.array(_SHORT), np.array(_LONG))
    from_side = (short.reshape(-1, 1) + np.arange(substrings)) / substrings
    from_end = long.reshape(-1, 1) + np.zeros(substrings)
    across, along = (from_side, from_end) if width_m <= height_m else (from_end, from_side)
    return across * width_m, along * height_m


def substring_shade(array: Array, shade: ModuleShade) -> SubstringShade:
    """Shade of places gathered to substrings and strings.

    Parameters
    ----------
    array : Array
        Its strings are read.
    shade : ModuleShade
        Beam share at every place of `array_places`.

    Returns
    -------
    SubstringShade
        Of the darkest place of each substring, and the mean of all.
    """
    minutes, substrings = len(shade.minutes), max(array.diodes, 1) * array.in_series
    places = shade.share.reshape(minutes, len(_LONG) * len(_SHORT), array.in_parallel * substrings)
    darkest = reduce(np.minimum, places.swapaxes(0, 1))
    return SubstringShade(
        minutes=shade.minutes,
        mean=shade.share.mean(axis=1, dtype=np.float64),
        substring=darkest.reshape(minutes, array.in_parallel, substrings).astype(np.float64),
    )


def array_shade(
    job: Job, scene: Scene, orientation: Orientation, machine: Machine, rotation_deg: FloatArray
) -> SubstringShade:
    """The shade on the array of a rack as it turns.

    Parameters
    ----------
    job : Job
        A job of one unit.
    scene : Scene
        Where the sun and the trees stand at every sun-up minute.
    orientation : Orientation
        Its axis in the scene.
    machine : Machine
        Its modules as `array_model` gives them.
    rotation_deg : FloatArray
        Shape (n,). Rotation in sun-up minutes [degrees], + west.

    Returns
    -------
    SubstringShade
        Only of minutes in which shade may lie unevenly on it.
    """
    shade = module_shade(
        scene.up_direction,
        scene.up_day,
        rotation_deg,
        axis=orientation.axis,
        places=machine.places,
        crowns=scene.crowns,
        edges=machine.edges,
        hidden=scene.hidden,
    )
    return substring_shade(job.array, shade)


def array_light(
    scene: Scene, orientation: Orientation, view: SkyView, rotation_deg: FloatArray, shade: SubstringShade
) -> PlaneLight:
    """Light on the mean module of a rack as it turns.

    Parameters
    ----------
    scene : Scene
        Where the sun and the trees stand at every sun-up minute.
    orientation : Orientation
        Its axis in the scene.
    view : SkyView
        What the plane sees of the sky at each rotation.
    rotation_deg : FloatArray
        Shape (n,). Rotation in sun-up minutes [degrees], + west.
    shade : SubstringShade
        What trees do to its modules.

    Returns
    -------
    PlaneLight
        Arrays (n,) over sun-up minutes [W/m²].
    """
    sky_share, horizon_share = view_at(view, day=scene.up_day, rotation_deg=rotation_deg)
    return light_on_plane(
        scene.light,
        rotation_deg=rotation_deg,
        sun_rotation_deg=orientation.sun_rotation_deg[scene.up],
        reach=orientation.reach[scene.up],
        axis=orientation.axis,
        beam_share=shade.over(scene.beam_share),
        sky_share=sky_share,
        horizon_share=horizon_share,
    )


def array_cell_c(job: Job, scene: Scene, light: PlaneLight) -> FloatArray:
    """Temperature of the cells of an array held at its best point.

    Parameters
    ----------
    job : Job
        A job of one unit.
    scene : Scene
        Where the sun and the trees stand at every sun-up minute.
    light : PlaneLight
        Light on its mean module (n,).

    Returns
    -------
    FloatArray
        Shape (n,) [°C].
    """
    return cell_temperature_c(
        plane_w_m2=light.plane_w_m2,
        air_c=scene.weather.air_c[scene.up],
        wind_m_s=wind_at_height_m_s(scene.weather.wind_m_s[scene.up], height_m=job.rack.height_m),
        faiman_u0=job.array.faiman_u0,
        faiman_u1=job.array.faiman_u1,
    )


class ArrayPower(NamedTuple):
    """What the array could give, all (n,): its best power at its terminals, and power and voltage at the controller."""

    array_w: FloatArray
    input_w: FloatArray
    input_v: FloatArray


@dataclass(frozen=True, kw_only=True)
class Machine:
    """Modules of one unit, at their terminals and as the controller gets them, and where they lie; tabulated once.

    `at_controller` is through the wire and within the controller's limits. `places` and `edges` are where and when
    trees are looked at module by module.
    """

    diode: Diode
    module: ModuleTable
    at_controller: ModuleTable
    places: ArrayPlaces
    edges: ShadeEdges


@dataclass(frozen=True, kw_only=True, eq=False)
class Generation:
    """One unit from the light on its modules to its controller's input, all over sun-up minutes (n,)."""

    machine: Machine
    shade: SubstringShade
    light: PlaneLight
    cell_c: FloatArray
    power: ArrayPower


def generate(unit: Job, scene: Scene, tracking: Tracking, *, reuse: Reuse = worked_anew) -> Generation:
    """Third stage of the chain: what one unit's array gives to its controller on the rack as it turns.

    Parameters
    ----------
    unit : Job
        A job of one unit: its sections `array`, `wire` and `controller`, and of its rack the axis and the stops, are
        read.
    scene : Scene
        As `make_scene` gives it.
    tracking : Tracking
        As `track` gives it.
    reuse : Reuse
        Keeps what other racks in this scene share; by default nothing is kept.

    Returns
    -------
    Generation
        Shade and light on the modules [W/m²], cell temperature [°C], power [W] and voltage [V] at the controller.
        Nothing in it is NaN.

    Notes
    -----
    Cells follow the wind and light of the same minute, without inertia. Evenly lit arrays are looked up in tables of
    one module (to 1600 W/m², −50 to 120 °C); unevenly lit ones are worked out string by string.
    """
    sections = (scene.key, unit.array, unit.wire, unit.controller)
    machine = reuse("modules", sections, lambda: array_model(unit, scene))
    view = sky_seen(unit, scene, reuse=reuse)
    rotation_deg = tracking.rotation_deg.ravel()[scene.up]
    shade = array_shade(unit, scene, tracking.orientation, machine, rotation_deg)
    light = array_light(scene, tracking.orientation, view, rotation_deg, shade)
    cell_c = array_cell_c(unit, scene, light)
    power = array_power(unit, scene, machine, light=light, cell_c=cell_c, shade=shade)
    return Generation(machine=machine, shade=shade, light=light, cell_c=cell_c, power=power)


def sky_seen(unit: Job, scene: Scene, *, reuse: Reuse = worked_anew) -> SkyView:
    """What the module plane sees of the sky past trees and hills at each rotation that the rack can take.

    Parameters
    ----------
    unit : Job
        A job of one unit.
    scene : Scene
        Where the sun and the trees stand at every sun-up minute.
    reuse : Reuse
        Keeps what other jobs share; by default nothing is kept.

    Returns
    -------
    SkyView
        Shares of sky and horizon band at each rotation and kind of day.
    """
    rack, axis = unit.rack, axis_of(unit)
    rotations = (
        np.array([rack.fixed_rotation_deg]) if rack.kind == "fixed" else rotation_grid_deg(rack.max_rotation_deg)
    )
    view: SkyView = reuse(
        "sky view",
        (scene.key, axis, rotations.tobytes()),
        lambda: sky_view(axis.normals(rotations), scene.days, scene.crowns, scene.horizon),
    )
    return view


def array_model(unit: Job, scene: Scene) -> Machine:
    """Model the modules of one unit: their degraded diode and its tables, where they lie, when shade crosses them.

    Parameters
    ----------
    unit : Job
        A job of one unit; its array, wire and controller are read.
    scene : Scene
        Where the sun and the trees stand at every sun-up minute.

    Returns
    -------
    Machine
        Tabulated once and shared by every rack in this scene.

    Raises
    ------
    InputError
        If no single-diode curve passes near the label.
    """
    array = unit.array
    diode, places = fit_label(array).degraded(array.power_share), array_places(array)
    return Machine(
        diode=diode,
        module=module_table(diode),
        at_controller=module_table(diode, wire_ohm=module_wire_ohm(unit), limits=module_limits(unit)),
        places=places,
        edges=shade_edges(
            scene.up_direction,
            scene.light.beam_w_m2 + scene.light.circumsolar_w_m2,
            scene.crowns,
            radius_m=places.radius_m,
        ),
    )


def soiling_share(job: Job, scene: Scene) -> FloatArray:
    """Share of light lost to dirt on each day.

    Parameters
    ----------
    job : Job
        A job of one unit.
    scene : Scene
        Its rain, where the weather has any, washes the modules.

    Returns
    -------
    FloatArray
        Shape (days,); 0…1.
    """
    per_day, rain = job.array.soiling_per_day, scene.weather.rain_mm_by_day
    if per_day is None or rain is None:
        return np.full(scene.days, job.array.soiling)
    return soiling_by_day(rain, lost_per_dry_day=per_day)


def _clean_share(job: Job, scene: Scene) -> FloatArray:
    """Share of light that passes the dirt in sun-up minutes (n,)."""
    return 1 - soiling_share(job, scene)[scene.up_day]


def absorbed_by_cells(job: Job, scene: Scene, light: PlaneLight) -> FloatArray:
    """Light that passes dirt and glass of the mean module.

    Parameters
    ----------
    job : Job
        A job of one unit.
    scene : Scene
        Where the sun and the trees stand at every sun-up minute.
    light : PlaneLight
        Light on its mean module (n,).

    Returns
    -------
    FloatArray
        Shape (n,) [W/m²].
    """
    return light.absorbed_w_m2 * _clean_share(job, scene)


def array_power(
    job: Job, scene: Scene, machine: Machine, *, light: PlaneLight, cell_c: FloatArray, shade: SubstringShade
) -> ArrayPower:
    """Power of the array: evenly lit by the tables of one module, unevenly by its strings.

    Parameters
    ----------
    job : Job
        A job of one unit.
    scene : Scene
        Where the sun and the trees stand at every sun-up minute.
    machine : Machine
        Its modules as `array_model` gives them.
    light : PlaneLight
        Light on its mean module (n,).
    cell_c : FloatArray
        Shape (n,). Temperature of its cells [°C].
    shade : SubstringShade
        What trees do to its substrings.

    Returns
    -------
    ArrayPower
        Best power at the array's terminals; power and voltage at the controller. All (n,).
    """
    array, modules = job.array, job.array.module_count
    clean = _clean_share(job, scene)
    lit = light.absorbed_w_m2 * clean
    array_w = best_power_w(machine.module, absorbed_w_m2=lit, cell_c=cell_c) * modules
    input_w, input_v = best_point(machine.at_controller, absorbed_w_m2=lit, cell_c=cell_c)
    power = ArrayPower(array_w, input_w * modules, input_v * array.in_series)
    # Between a place of the table that reaches the controller's window and one that does not, a line means nothing.
    short = power.input_v < job.controller.lowest_v * (1 - 1e-9)
    power.input_w[short], power.input_v[short] = 0.0, 0.0
    if not len(shade.minutes):
        return power
    at = shade.minutes
    beam = (light.open_beam_w_m2 * clean)[at, None, None]
    substrings = np.maximum(lit[at, None, None] + beam * (shade.substring - shade.mean[:, None, None]), 0.0)
    rows = np.flatnonzero(np.ptp(substrings.reshape(len(at), -1), axis=1) > _EVEN_W_M2)
    if not rows.size:
        return power
    own, limited = _uneven(job, substrings[rows], cell_c[at[rows]], machine.diode, machine.module)
    power.array_w[at[rows]] = own.power_w
    power.input_w[at[rows]] = limited.power_w
    power.input_v[at[rows]] = limited.voltage_v
    return power


def _uneven(
    job: Job, light: FloatArray, cell_c: FloatArray, diode: Diode, table: ModuleTable
) -> tuple[BestPoint, BestPoint]:
    """Best point of unevenly lit strings (m, strings, substrings) at the array's terminals, and at the controller."""
    array, control = job.array, job.controller
    curve = array_curve(
        light,
        cell_c,
        diode=diode,
        table=table,
        substrings_per_module=max(array.diodes, 1),
        bypassed=array.diodes > 0,
    )
    limited = best_on_curve(
        curve,
        wire_ohm=array_side_ohm(job),
        low_v=control.lowest_v,
        high_v=np.inf if control.highest_v is None else control.highest_v,
        max_a=np.inf if control.max_input_current_a is None else control.max_input_current_a,
    )
    return best_on_curve(curve), limited
