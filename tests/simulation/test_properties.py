"""Random valid jobs give finite, non-negative, bounded results; broken ones give `InputError` and nothing else."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from trackersim import InputError, Job, Result, simulate
from trackersim.job.files import job_from_data

SETTINGS = {"deadline": None, "suppress_health_check": list(HealthCheck), "derandomize": True}


def between(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False)


def tree() -> st.SearchStrategy[dict[str, Any]]:
    return st.fixed_dictionaries(
        {
            "kind": st.sampled_from(["tree", "row"]),
            "bearing": between(0, 359),
            "distance": between(30, 200),
            "height": between(5, 40),
            "width": between(1, 20),
            "crown_base": between(0, 4),
            "leaf": st.sampled_from(["leafy", "evergreen"]),
            "beam_in_leaf": between(0, 1),
            "beam_bare": between(0, 1),
        }
    )


def thermal() -> st.SearchStrategy[dict[str, Any]]:
    return st.fixed_dictionaries(
        {
            "charge": between(0, 1.2),
            "shade_plates": between(0, 1),
            "damper": between(0.05, 200),
            "pivot_friction_nm": between(0, 500),
            "balance": between(-0.2, 0.5),
            "stuck": st.booleans(),
            "stuck_at": between(-20, 20),
            "refrigerant": st.sampled_from(["R-134a", "R-12", "R-22", "propane", "n-butane"]),
            "lever": between(0, 6),
            "wind_upset": st.booleans(),
        }
    )


@st.composite
def rack(draw: st.DrawFn) -> dict[str, Any]:
    kind = draw(st.sampled_from(["fixed", "ideal", "delayed", "thermal"]))
    fields: dict[str, Any] = {
        "kind": kind,
        "axis_tilt": draw(between(0, 75)),
        "max_rotation": draw(between(20, 85)),
        "height": draw(between(0.5, 5)),
        "flip_delay": draw(between(0, 300)),
        "turning": draw(between(1, 120)),
        "lag": draw(between(0, 20)),
        "thermal": draw(thermal()),
    }
    if draw(st.booleans()):
        return {**fields, "fixed_rotation": draw(between(-20, 20))}
    return {**fields, "fixed_tilt": draw(between(0, 90)), "fixed_azimuth": draw(between(0, 359))}


@st.composite
def array(draw: st.DrawFn) -> dict[str, Any]:
    cells = draw(st.sampled_from([32, 36, 60, 72, 144]))
    voc, isc = cells * draw(between(0.55, 0.70)), draw(between(2, 12))
    vmp, imp = voc * draw(between(0.78, 0.84)), isc * draw(between(0.90, 0.95))
    return {
        "in_series": draw(st.integers(1, 12)),
        "in_parallel": draw(st.integers(1, 6)),
        "cells": cells,
        "vmp": vmp,
        "imp": imp,
        "voc": voc,
        "isc": isc,
        "isc_per_k": draw(between(0.0002, 0.0008)),
        "voc_per_k": draw(between(-0.0040, -0.0025)),
        "age_years": draw(between(0, 40)),
        "soiling": draw(between(0, 0.5)),
    }


def pump() -> st.SearchStrategy[dict[str, Any]]:
    common = {"cutout_flow": between(0, 1e-4), "cutout_delay": between(0, 30), "cutout_retry": between(1, 120)}
    sheet = st.builds(
        lambda flow, head, efficiency: {
            "curve_flow": [0, flow / 2, flow],
            "curve_head": [head, head * 0.85, head * 0.4],
            "curve_power": [share * 9790 * flow * head / efficiency for share in (0.4, 0.6, 0.75)],
        },
        between(1e-4, 0.01),
        between(5, 200),
        between(0.15, 0.7),
    )
    point = st.fixed_dictionaries({"rated_flow": between(1e-4, 0.02), "rated_head": between(5, 150)})
    return st.builds(lambda a, b: {**a, **b}, st.one_of(sheet, point), st.fixed_dictionaries(common))


SAMPLE_DAYS = st.sampled_from(["sample:clear-spring-day", "sample:broken-cloud-day"]).map(lambda file: {"file": file})
TYPICAL_YEAR = st.just({"file": "sample:typical-year"})
CLEAR_SKY = st.fixed_dictionaries(
    {"clear_sky": st.just(True), "coldest": between(-40, 10), "warmest": between(23, 45), "wind": between(0, 20)}
)


def job_data(weather: st.SearchStrategy[dict[str, Any]], latitude: st.SearchStrategy[float]) -> st.SearchStrategy[Any]:
    return st.fixed_dictionaries(
        {
            "site": st.fixed_dictionaries(
                {
                    "latitude": latitude,
                    "longitude": between(-84, -75),
                    "elevation": between(0, 3000),
                    "utc_offset": st.just(-5),
                }
            ),
            "weather": weather,
            "horizon": st.lists(between(0, 40), min_size=0, max_size=5).map(
                lambda heights: {"points": [[40.0 * n, height] for n, height in enumerate(heights)]}
            ),
            "trees": st.lists(tree(), max_size=3),
            "rack": rack(),
            "array": array(),
            "wire": st.one_of(
                st.fixed_dictionaries(
                    {"length": between(0.1, 3000), "gauge": st.sampled_from(["18", "14", "10", "6", "2/0"])}
                ),
                st.fixed_dictionaries(
                    {"length": between(0.1, 300), "area": between(0.3, 100), "material": st.just("aluminium")}
                ),
            ),
            "controller": st.fixed_dictionaries(
                {"rated": between(300, 10_000), "start": between(0, 250), "efficiency": between(0.5, 1)}
            ),
            "pump": pump(),
            "pipes": st.fixed_dictionaries(
                {"length": between(0, 2000), "bore": between(0.015, 0.2), "fittings": between(0, 50)}
            ),
            "source": st.fixed_dictionaries(
                {"lift": between(0, 150)},
                optional={"specific_capacity": between(1e-6, 0.01), "max_drawdown": between(0.1, 100)},
            ),
        }
    )


def assert_bounded(job: Job, result: Result) -> None:
    minutes = result.minutes
    for name, values in minutes.items():
        assert np.isfinite(values).all(), name
    for name in ("plane_w_m2", "array_w", "flow_m3_s", "head_m", "beam_share"):
        assert (minutes[name] >= 0).all(), name
    assert minutes["beam_share"].max() <= 1
    assert np.abs(minutes["rotation_deg"]).max() <= job.rack.max_rotation_deg + 1e-9
    assert minutes["plane_w_m2"].max() < 2000
    assert minutes["array_w"].max() <= 2 * job.array.rated_w
    wire_to_water_w = minutes["flow_m3_s"] * minutes["head_m"] * 9810
    assert (wire_to_water_w <= minutes["array_w"] + 1e-6).all()
    assert result.monthly["days"].sum() == result.days


@settings(max_examples=400, **SETTINGS)
@given(data=job_data(SAMPLE_DAYS, between(32, 40)))
def test_random_jobs_on_sample_days_are_bounded(data: dict[str, Any]) -> None:
    job = job_from_data(data)
    assert_bounded(job, simulate(job))


@settings(max_examples=40, **SETTINGS)
@given(data=job_data(TYPICAL_YEAR, between(32, 40)), day=st.integers(0, 363))
def test_random_jobs_in_the_typical_year_are_bounded(data: dict[str, Any], day: int) -> None:
    job = job_from_data(data)
    first = dt.date(2025, 1, 1) + dt.timedelta(days=day)
    assert_bounded(job, simulate(job, first_day=first, last_day=first + dt.timedelta(days=1)))


@settings(max_examples=100, **SETTINGS)
@given(data=job_data(CLEAR_SKY, between(-89, 89)), day=st.integers(0, 363))
def test_random_jobs_anywhere_under_a_clear_sky_are_bounded(data: dict[str, Any], day: int) -> None:
    job = job_from_data(data)
    first = dt.date(2025, 1, 1) + dt.timedelta(days=day)
    assert_bounded(job, simulate(job, first_day=first, last_day=first + dt.timedelta(days=1)))


NONSENSE = st.one_of(
    st.just(float("nan")),
    st.just(float("inf")),
    st.just(-1e9),
    st.just("70 bananas"),
    st.just({"a": 1}),
    st.just([]),
    st.just(None),
    st.just("−"),
    st.just(b"bytes"),
)
PLACES = [
    ("site", "latitude"), ("site", "elevation"), ("site", "utc_offset"), ("weather", "file"), ("rack", "kind"),
    ("rack", "axis_tilt"), ("rack", "flip_delay"), ("array", "cells"), ("array", "vmp"), ("array", "in_series"),
    ("wire", "length"), ("wire", "gauge"), ("controller", "rated"), ("controller", "efficiency"),
    ("pump", "curve_head"),
    ("pipes", "bore"), ("pipes", "length"), ("source", "lift"), ("horizon", "points"), ("store", "demand"),
]  # fmt: skip


@settings(max_examples=500, **SETTINGS)
@given(data=job_data(SAMPLE_DAYS, between(32, 40)), place=st.sampled_from(PLACES), nonsense=NONSENSE)
def test_a_broken_field_gives_an_input_error_that_names_it(
    data: dict[str, Any], place: tuple[str, str], nonsense: Any
) -> None:
    section, field = place
    given_or_not = {("site", "elevation"), ("site", "utc_offset"), ("rack", "axis_tilt"), ("pump", "curve_head")}
    if (place == ("horizon", "points") and nonsense == []) or (place in given_or_not and nonsense is None):
        return
    data.setdefault(section, {})[field] = nonsense
    with pytest.raises(InputError) as caught:
        simulate(job_from_data(data))
    assert any(fault.field.startswith(section) for fault in caught.value.faults)
    assert all(fault.reason and fault.remedy for fault in caught.value.faults)
