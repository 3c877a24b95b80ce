"""What the array gives at its terminals and the controller: evenly lit by a table of modules, unevenly by strings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from trackersim.arrays import FloatArray
from trackersim.job.model import Job
from trackersim.power.cell_temperature import cell_temperature_c
from trackersim.power.diode import Diode
from trackersim.power.label_fit import fit_label
from trackersim.power.module_table import AT_THE_TERMINALS, ModuleTable, module_table, table_place
from trackersim.power.soiling import soiling_by_day
from trackersim.power.strings import best_points
from trackersim.rack.wind import wind_at_height_m_s
from trackersim.simulation.array_shade import SubstringShade, array_places
from trackersim.simulation.electrics import controller_end, module_end
from trackersim.simulation.scene import Scene
from trackersim.sky.irradiance import PlaneLight
from trackersim.sky.shading import ArrayPlaces, ShadeEdges, shade_edges

# Less difference of light than this within the array counts as evenly lit [W/m²].
_EVEN_W_M2 = 5.0


class ArrayPower(NamedTuple):
    """What the array could give, all (n,): its best power at its terminals, and power and voltage at the controller."""

    array_w: FloatArray
    input_w: FloatArray
    input_v: FloatArray


@dataclass(frozen=True, kw_only=True)
class ArrayModel:
    """Modules of one unit, at their terminals and as the controller gets them, and where they lie; tabulated once.

    `at_controller` is through the wire and within the controller's limits. `places` and `edges` are where and when
    trees are looked at module by module.
    """

    diode: Diode
    module: ModuleTable
    at_controller: ModuleTable
    places: ArrayPlaces
    edges: ShadeEdges


def array_model(unit: Job, scene: Scene) -> ArrayModel:
    """Model the modules of one unit: their degraded diode and its tables, where they lie, when shade crosses them.

    Parameters
    ----------
    unit : Job
        A job of one unit; its array, wire and controller are read.
    scene : Scene
        Where the sun and the trees stand at every sun-up minute.

    Returns
    -------
    ArrayModel
        Tabulated once and shared by every rack in this scene.

    Raises
    ------
    InputError
        If no single-diode curve passes near the label.
    """
    array = unit.array
    diode, places = fit_label(array).degraded(array.power_share), array_places(array)
    return ArrayModel(
        diode=diode,
        module=module_table(diode),
        at_controller=module_table(diode, module_end(unit)),
        places=places,
        edges=edges_in(scene, places),
    )


def edges_in(scene: Scene, places: ArrayPlaces) -> ShadeEdges:
    """When trees are looked at module by module in a scene.

    Parameters
    ----------
    scene : Scene
        Where the sun and the trees stand at every sun-up minute.
    places : ArrayPlaces
        Where on the array they are looked at.

    Returns
    -------
    ShadeEdges
        As `array_shade` takes them.
    """
    beam_w_m2 = scene.light.beam_w_m2 + scene.light.circumsolar_w_m2
    return shade_edges(scene.up_direction, beam_w_m2, scene.crowns, radius_m=places.radius_m)


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


def array_power(
    job: Job, scene: Scene, model: ArrayModel, *, light: PlaneLight, cell_c: FloatArray, shade: SubstringShade
) -> ArrayPower:
    """Power of the array: evenly lit by the tables of one module, unevenly by its strings.

    Parameters
    ----------
    job : Job
        A job of one unit.
    scene : Scene
        Where the sun and the trees stand at every sun-up minute.
    model : ArrayModel
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
    at = table_place(absorbed_w_m2=lit, cell_c=cell_c)
    power = ArrayPower(
        array_w=model.module.power_w(at) * modules,
        input_w=model.at_controller.power_w(at) * modules,
        input_v=model.at_controller.voltage_v(at) * array.in_series,
    )
    # Between a place of the table that reaches the controller's window and one that does not, a line means nothing.
    short = power.input_v < job.controller.lowest_v * (1 - 1e-9)
    power.input_w[short], power.input_v[short] = 0.0, 0.0
    if not len(shade.minutes):
        return power
    edges = shade.minutes
    beam = (light.open_beam_w_m2 * clean)[edges, None, None]
    substrings = np.maximum(lit[edges, None, None] + beam * (shade.substring - shade.mean[:, None, None]), 0.0)
    uneven = np.ptp(substrings.reshape(len(edges), -1), axis=1) > _EVEN_W_M2
    minutes, substrings = edges[uneven], substrings[uneven]
    own, limited = best_points(
        substrings,
        cell_c[minutes],
        diode=model.diode,
        table=model.module,
        substrings_per_module=max(array.diodes, 1),
        bypassed=array.diodes > 0,
        far_ends=(AT_THE_TERMINALS, controller_end(job)),
    )
    power.array_w[minutes] = own.power_w
    power.input_w[minutes] = limited.power_w
    power.input_v[minutes] = limited.voltage_v
    return power


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


def _clean_share(job: Job, scene: Scene) -> FloatArray:
    """Share of light that passes the dirt in sun-up minutes (n,)."""
    return 1 - soiling_share(job, scene)[scene.up_day]


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
    per_day, rain, before = job.array.soiling_per_day, scene.weather.rain_mm_by_day, scene.weather.days_before
    if per_day is None or rain is None:
        return np.full(scene.days, job.array.soiling)
    return soiling_by_day(rain, lost_per_dry_day=per_day)[before : before + scene.days]
