"""The sky as plain data for a picture in which trees are moved: the sun's paths, water lost, horizon, trees."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from trackersim.analysis.sky_seen import horizon_over, sun_over
from trackersim.clock import on_clock, standard_zone
from trackersim.job.model import Job
from trackersim.job.place import Tree
from trackersim.report.sky_loss import BIN_DEG, SkyLoss, class_of
from trackersim.simulation.obstacles import crowns_of
from trackersim.units import System, held_value, unit_label

_PATHS = ((6, "June"), (3, "March, September"), (12, "December"))
_WIDEST_DEG, _LEAST_TOP_DEG, _OVER_DEG = 130.0, 45.0, 8.0
_LEAST_CROWN_M = 0.3
_MOST_M = 120.0
_COMPASS = {0: "N", 90: "E", 180: "S", 270: "W"}


def tree_label(tree: Tree, number: int) -> str:
    """What a tree is called: its name, or its place in the list."""
    return tree.name or f"{'row' if tree.kind == 'row' else 'tree'} {number + 1}"


def sky_data(job: Job, found: SkyLoss, alt: str, system: System) -> dict[str, Any]:
    """The sky that the rack of `job` sees, as `page.components.sky_trees` draws it.

    Bearings are true degrees over an unbroken range with the noon sun in the middle, heights degrees above level and
    metres; `eye_m` is the axis above the ground on which a tree stands, `step` the finest height that a hand sets.
    """
    middle = 180.0 if job.site.latitude_deg >= 0 else 0.0
    paths = [_path(job, month, name, middle) for month, name in _PATHS]
    seen = [point for path in paths for point in path["points"]]
    widest = max([_WIDEST_DEG, *(abs(bearing - middle) + 5 for bearing, _ in seen)])
    widest = min(widest, 180.0)
    top_deg = min(max([_LEAST_TOP_DEG, *(height + _OVER_DEG for _, height in seen)]), 90.0)
    return {
        "alt": alt,
        "from_deg": middle - widest,
        "to_deg": middle + widest,
        "top_deg": top_deg,
        "bin_deg": BIN_DEG,
        "cells": _cells(found),
        "horizon": _horizon(job, middle - widest, middle + widest),
        "paths": [path for path in paths if path["points"]],
        "ticks": [[tick, _COMPASS.get(tick % 360, f"{tick % 360}°")] for tick in _ticks(middle, widest)],
        "trees": _trees(job),
        "unit": unit_label("length", system),
        "unit_m": held_value(1.0, "length", system),
        "step": 1.0 if system == "us" else 0.25,
        "most_m": _MOST_M,
    }


def _path(job: Job, month: int, name: str, middle: float) -> dict[str, Any]:
    """The sun on the 21st of a month: a point every ten minutes, the full hours of the wall's clock, and the summit."""
    start = pd.Timestamp(job.weather.year, month, 21, tz=standard_zone(job.site))
    times = pd.date_range(start, periods=144, freq="10min")
    east, north, up = sun_over(job, times).direction
    height = np.degrees(np.arcsin(np.clip(up, -1, 1)))
    bearing = middle + (np.degrees(np.arctan2(east, north)) - middle + 180) % 360 - 180
    order = np.argsort(bearing)
    shown = order[height[order] > 0]
    full = shown[np.asarray(on_clock(job.site, times).minute)[shown] == 0]
    summit = int(np.argmax(height))
    return {
        "name": name,
        "points": _pairs(bearing[shown], height[shown]),
        "hours": _pairs(bearing[full], height[full]),
        "at": [round(float(bearing[summit]), 2), round(float(height[summit]), 2)],
    }


def _pairs(bearing: np.ndarray, height: np.ndarray) -> list[list[float]]:
    return [[round(float(b), 2), round(float(h), 2)] for b, h in zip(bearing, height, strict=True)]


def _cells(found: SkyLoss) -> list[dict[str, float]]:
    kind = class_of(found.lost_m3)
    return [
        {
            "bearing_deg": float(found.bearing_deg[column]),
            "elevation_deg": float(found.elevation_deg[row]),
            "kind": int(kind[row, column]),
        }
        for row, column in np.argwhere(kind != 0).tolist()
    ]


def _horizon(job: Job, start: float, stop: float) -> list[list[float]]:
    bearing = np.arange(start, stop + 1, 1.0)
    height = horizon_over(job, bearing % 360)
    return _pairs(bearing, height) if height.any() else []


def _ticks(middle: float, widest: float) -> list[int]:
    return [tick for tick in range(int(middle) - 180, int(middle) + 181, 30) if abs(tick - middle) <= widest - 10]


def _trees(job: Job) -> list[dict[str, Any]]:
    summer = np.array([172 if job.site.latitude_deg >= 0 else 355])
    made = []
    for number, (tree, crown) in enumerate(zip(job.trees, crowns_of(job, summer), strict=True)):
        made.append(
            {
                "number": number,
                "name": tree_label(tree, number),
                "row": tree.kind == "row",
                "bare": tree.leaf == "leafy",
                "bearing_deg": crown.bearing_deg,
                "facing_deg": crown.facing_deg,
                "distance_m": crown.distance_m,
                "half_width_m": crown.half_width_m,
                "base_m": crown.base_m,
                "height_m": tree.height_m,
                "eye_m": tree.height_m - crown.top_m,
                "least_m": tree.crown_base_m + _LEAST_CROWN_M,
            }
        )
    return made
