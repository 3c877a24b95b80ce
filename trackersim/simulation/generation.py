"""Third stage of the chain: what one unit's array gives to its controller on the rack as it turns."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trackersim.arrays import FloatArray
from trackersim.job.model import Job
from trackersim.simulation.array_power import ArrayModel, ArrayPower, array_cell_c, array_model, array_power
from trackersim.simulation.array_shade import SubstringShade, array_shade
from trackersim.simulation.orientation import Orientation, axis_of
from trackersim.simulation.reuse import Reuse, worked_anew
from trackersim.simulation.scene import Scene
from trackersim.simulation.tracking import Tracking
from trackersim.sky.irradiance import PlaneLight, light_on_plane, rotation_grid_deg, view_at
from trackersim.sky.trees import SkyView, sky_view


@dataclass(frozen=True, kw_only=True, eq=False)
class Generation:
    """One unit from the light on its modules to its controller's input, all over sun-up minutes (n,)."""

    model: ArrayModel
    shade: SubstringShade
    light: PlaneLight
    cell_c: FloatArray
    power: ArrayPower


def generate(unit: Job, scene: Scene, tracking: Tracking, *, reuse: Reuse = worked_anew) -> Generation:
    """What one unit's array gives to its controller on the rack as it turns.

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
    model = reuse("modules", sections, lambda: array_model(unit, scene))
    view = sky_seen(unit, scene, reuse=reuse)
    return generated(unit, scene, tracking.orientation, tracking.rotation_deg.ravel()[scene.up], model=model, view=view)


def generated(
    unit: Job, scene: Scene, orientation: Orientation, rotation_deg: FloatArray, *, model: ArrayModel, view: SkyView
) -> Generation:
    """What one unit's array gives to its controller at angles of its rack.

    Parameters
    ----------
    unit : Job
        A job of one unit.
    scene : Scene
        Where the sun and the trees stand at every sun-up minute.
    orientation : Orientation
        The rack's axis in the scene.
    rotation_deg : FloatArray
        Shape (n,). Rotation in sun-up minutes [degrees], + west.
    model : ArrayModel
        Its modules, as `array_model` gives them.
    view : SkyView
        What the plane sees of the sky at each rotation, as `sky_seen` gives it.

    Returns
    -------
    Generation
        As `generate` gives it.
    """
    shade = array_shade(unit.array, scene, orientation, rotation_deg, places=model.places, edges=model.edges)
    light = _array_light(scene, orientation, view, rotation_deg, shade)
    cell_c = array_cell_c(unit, scene, light)
    power = array_power(unit, scene, model, light=light, cell_c=cell_c, shade=shade)
    return Generation(model=model, shade=shade, light=light, cell_c=cell_c, power=power)


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


def _array_light(
    scene: Scene, orientation: Orientation, view: SkyView, rotation_deg: FloatArray, shade: SubstringShade
) -> PlaneLight:
    """Light on the mean module at these angles."""
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
