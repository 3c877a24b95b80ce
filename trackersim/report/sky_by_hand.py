"""The sky as plain data for a picture in which trees are moved: the sun's paths, water lost, horizon, trees."""

from __future__ import annotations

from typing import Any

import numpy as np

from trackersim.analysis.sky_seen import horizon_over
from trackersim.clock import on_clock
from trackersim.job.model import Job
from trackersim.job.place import Tree
from trackersim.report.sky_loss import BIN_DEG, SkyLoss, class_of
from trackersim.report.sun_path import SunPath, compass_words, half_width_deg, middle_deg, name_places, sun_path
from trackersim.simulation.obstacles import crowns_of
from trackersim.units import System, held_value, unit_label

_PATHS = ((6, "June"), (3, "March, September"), (12, "December"))
_LEAST_TOP_DEG, _OVER_DEG = 45.0, 8.0
_LEAST_CROWN_M = 0.3
_MOST_M = 120.0


def tree_label(tree: Tree, number: int) -> str:
    """What a tree is called: its name, or its place in the list."""
    return tree.name or f"{'row' if tree.kind == 'row' else 'tree'} {number + 1}"


def sky_data(job: Job, found: SkyLoss, alt: str, system: System) -> dict[str, Any]:
    """The sky that the rack of `job` sees, as `page.components.sky_trees` draws it.

    Bearings are true degrees over an unbroken range with the noon sun in the middle, heights degrees above level and
    metres; `eye_m` is the axis above the ground on which a tree stands, `step` the finest height that a hand sets.
    """
    middle = middle_deg(job)
    days = [sun_path(job, month, step_min=10) for month, _ in _PATHS]
    places, widest = name_places(days, job), half_width_deg(days, job)
    paths = [_path(job, day, name, at) for day, (_, name), at in zip(days, _PATHS, places, strict=True) if at]
    seen = [point for path in paths for piece in path["pieces"] for point in piece]
    top_deg = min(max([_LEAST_TOP_DEG, *(height + _OVER_DEG for _, height in seen)]), 90.0)
    return {
        "alt": alt,
        "from_deg": middle - widest,
        "to_deg": middle + widest,
        "top_deg": top_deg,
        "bin_deg": BIN_DEG,
        "cells": _cells(found),
        "horizon": _horizon(job, middle - widest, middle + widest),
        "paths": paths,
        "ticks": [[tick, compass_words(tick)] for tick in _ticks(middle, widest)],
        "trees": _trees(job),
        "unit": unit_label("length", system),
        "unit_m": held_value(1.0, "length", system),
        "step": 1.0 if system == "us" else 0.25,
        "most_m": _MOST_M,
    }


def _path(job: Job, day: SunPath, name: str, at: tuple[float, float]) -> dict[str, Any]:
    """The sun's way of one day, the full hours of the wall's clock on it, and where its name stands."""
    full = np.flatnonzero(day.up & (np.asarray(on_clock(job.site, day.times).minute) == 0))
    return {
        "name": name,
        "pieces": [_pairs(piece[:, 0], piece[:, 1]) for piece in day.pieces],
        "hours": _pairs(day.bearing_deg[full], day.height_deg[full]),
        "at": [round(each, 2) for each in at],
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
