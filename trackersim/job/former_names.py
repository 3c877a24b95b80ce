"""Keys of a job that had another name in older files. They are read for ever and never written."""

from __future__ import annotations

from typing import Any

from trackersim.job.fields import refuse
from trackersim.job.pump import NO_LOAD_SHARE

# Former key -> key, of [[trees]].
TREE_KEYS = {"beam_in_leaf": "transmittance_leaf_on", "beam_bare": "transmittance_leaf_off"}
# Keys that older versions did not know, with the value that says nothing: hashed only with another one.
LATER_KEYS: dict[str, Any] = {
    "log": "", "power_per_k": None, "species": "", "minutes": "broken", "seed": 0, "no_load_share": NO_LOAD_SHARE,
    "tube_bore_m": 0.0048, "tube_length_m": 5.0, "plate_share_behind": 0.8, "gust_factor": 1.4,
    "plates_pass": 0.0, "sky_view_difference": 0.0, "dew": 0.0,
    "watched": {"on": "03-21", "sun_from": "", "air_c": 10.0, "wind_m_s": 2.0, "sky": "clear"},
    "flip_threshold_w_m2": None, "flip_dose_kj_m2": None, "flip_mornings": None,
    "backup": None, "hold_flow_m3_s": None,
}  # fmt: skip
FORMER_KEYS = {key: former for former, key in TREE_KEYS.items()}


def current_key(dotted: str) -> str:
    """The dotted key of a field as it is named now.

    >>> current_key("trees.0.beam_bare"), current_key("rack.kind")
    ('trees.0.transmittance_leaf_off', 'rack.kind')
    """
    section, dot, last = dotted.rpartition(".")
    return f"{section}{dot}{TREE_KEYS.get(last, last)}" if section.split(".")[0] == "trees" else dotted


def current_tree(tree: Any) -> Any:
    """A tree's plain data under today's keys; what is no table of keys is returned as it is."""
    if not isinstance(tree, dict):
        return tree
    for former, key in TREE_KEYS.items():
        if former in tree and key in tree:
            raise refuse(former, f"is the former name of {key}: give one of the two.")
    return {TREE_KEYS.get(key, key): value for key, value in tree.items()}


def current_data(data: dict[str, Any]) -> dict[str, Any]:
    """A job's plain data with its trees under today's keys; where both are given both stay, and are refused later."""
    trees = data.get("trees")
    if not isinstance(trees, list):
        return data
    return {**data, "trees": [_renamed(tree) if isinstance(tree, dict) else tree for tree in trees]}


def _renamed(tree: dict[str, Any]) -> dict[str, Any]:
    return {key if TREE_KEYS.get(key, key) in tree else TREE_KEYS.get(key, key): value for key, value in tree.items()}
