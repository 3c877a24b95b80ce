"""Pictures that answer the pointer: the series of `report/chart_series` as Vega-Lite, drawn in the visitor's browser.

Colours are those of the theme, light or dark, and always the same for the same thing; axes stay where they are when the
job is changed. A specification is plain data: altair, which would write the same, takes a second to come.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import streamlit as st

from trackersim.page import parts
from trackersim.report.alt import curves_alt
from trackersim.report.chart_series import Chart, Series

Spec = dict[str, Any]

# What has which of the theme's colours, and which dash of a curve: the order of chartCategoricalColors.
_ORDER = ("ideal", "delayed", "logged", "fixed", "thermal", "sun")
_DASH = {"ideal": [7, 4], "delayed": [], "logged": [7, 3, 2, 3], "fixed": [2, 3], "thermal": [9, 3, 2, 3], "sun": []}
_STEPS = ("there", "lost", "gained")
_GHOST: Spec = {"stroke": "currentColor", "strokeOpacity": 0.75}
_LETTERS: Spec = {"labelFontSize": 13, "labelColor": "currentColor", "titleColor": "currentColor"}
# So short a span has a figure at every hour [min].
_MORNING_MIN = 8 * 60
# Of curves every second minute is drawn: a pixel is no narrower.
_EVERY_MIN = 2


def show_charts(charts: Sequence[Chart], alt: str) -> None:
    """Charts one below the other; `alt` stands for them to those who cannot see them."""
    for chart in charts:
        if chart is charts[0]:
            _show(chart, alt, legend=True)
        else:
            _show(chart, curves_alt(chart), legend=False)


def _show(chart: Chart, alt: str, *, legend: bool) -> None:
    if chart.title:
        parts.caption(chart.title)
    layers, height = {"bars": (_bars, 340), "curves": (_curves, 260 if legend else 210), "steps": (_steps, 0)}[
        chart.kind
    ]
    spec = {
        "height": height or 30 * len(chart.across) + 110,
        "layer": layers(chart, legend),
        "config": {"view": {"stroke": None}, "axis": {**_LETTERS, "titleFontSize": 13},
                   "legend": {**_LETTERS, "orient": "top", "columns": 2, "labelLimit": 280, "offset": 28}},
        "usermeta": {"embedOptions": {"renderer": "svg"}},
    }  # fmt: skip
    if chart.before:
        ghost = f"{'Outlined' if chart.kind == 'bars' else 'Thin'}: {chart.before.name}."
        alt = f"{alt} {ghost}"
        if legend:
            parts.caption(ghost)
    st.vega_lite_chart(spec, width="stretch", alt=alt)


def _bars(chart: Chart, legend: bool) -> list[Spec]:
    """Bars side by side over the months; outlined, the job as it stands."""
    names = [series.name for series in chart.series]
    across = {"field": "across", "type": "nominal", "sort": None, "title": None,
              "scale": {"domain": list(chart.across), "paddingInner": 0.2},
              "axis": {"labelExpr": "slice(datum.label, 0, width > 420 ? 3 : 1)", "labelAngle": 0}}  # fmt: skip
    beside = {"field": "name", "sort": None, "scale": {"domain": names, "paddingInner": 0}}
    amount = _amount(chart)
    if chart.level is not None:
        amount["title"] += f" (line: {chart.level[0]})"  # words at the line would lie on the bars
    place = {"x": across, "xOffset": beside, "y": amount}
    tips = [_tip("across", "Month"), _tip("name", "Rack"), _tip("told", "Water a day")]
    layers: list[Spec] = [
        {
            "data": {"values": [row for series in chart.series for row in _rows(chart, series)]},
            "mark": {"type": "bar"},
            "encoding": {**place, "color": _colour(chart.series, _ORDER, legend), "tooltip": tips},
        }
    ]
    if chart.before:
        # It stands where the rack does that it is compared with.
        own = next((each.name for each in chart.series if each.look == chart.before.look), names[0])
        rows = [{**row, "whose": row["name"], "name": own} for row in _rows(chart, chart.before)]
        layers.append(
            {
                "data": {"values": rows},
                "mark": {"type": "bar", "fillOpacity": 0, "strokeDash": [3, 2], "strokeWidth": 1.5, **_GHOST},
                "encoding": {**place, "tooltip": [_tip("across", "Month"), _tip("whose", "Rack"), tips[2]]},
            }
        )
    return [*layers, *_level(chart, "y", amount)]


def _curves(chart: Chart, legend: bool) -> list[Spec]:
    """Curves over the wall clock; the pointer picks a minute and is told the figures of all."""
    assert chart.times is not None
    shown = [*chart.series, *([chart.before] if chart.before else [])]
    first, last = chart.span_min
    minutes = np.asarray(chart.times.hour) * 60 + np.asarray(chart.times.minute)
    rows: list[Spec] = [
        {"minute": int(minutes[at]), "clock": f"{chart.times[at]:%H:%M}"}
        | {f"v{number}": _number(each.values[at]) for number, each in enumerate(shown)}
        | {f"t{number}": _words(chart, each, at) for number, each in enumerate(shown)}
        for at in range(first, last + 1, _EVERY_MIN)
    ]
    hours = [60 * hour for hour in range(0, 25, 1 if last - first <= _MORNING_MIN else 2)]
    across = {"field": "minute", "type": "quantitative", "title": None, "scale": {"nice": False, "zero": False},
              "axis": {"values": hours, "grid": False,
                       "labelExpr": "(datum.value < 600 ? '0' : '') + datum.value / 60 + ':00'"}}  # fmt: skip
    layers: list[Spec] = []
    for number, series in enumerate(shown):
        ghost = series is chart.before
        look: Spec = (
            {"strokeDash": [2, 3], "strokeWidth": 1.5, **_GHOST} if ghost else {"strokeDash": _DASH[series.look]}
        )
        wide = 5 if series.look == "sun" else 2.5
        mark = {"type": "line", "strokeWidth": wide, "strokeOpacity": 0.5 if series.look == "sun" else 1, **look}
        encoding: Spec = {"x": across, "y": {**_amount(chart), "field": f"v{number}"}}
        if not ghost:
            encoding["color"] = {**_colour(chart.series, _ORDER, legend), "datum": series.name}
            del encoding["color"]["field"]
        layers.append({"mark": {**mark, "clip": True}, "encoding": encoding})
    tips = [_tip("clock", "Time"), *(_tip(f"t{number}", each.name) for number, each in enumerate(shown))]
    pointed = {"name": "pointed", "select": {"type": "point", "on": "pointerover", "clear": "pointerout",
                                             "nearest": True, "fields": ["minute"]}}  # fmt: skip
    layers.append(
        {
            "params": [pointed],
            "mark": {"type": "rule", "color": "currentColor", "strokeWidth": 1, "aria": False},
            "encoding": {
                "x": across,
                "opacity": {"condition": {"param": "pointed", "empty": False, "value": 0.8}, "value": 0},
                "tooltip": tips,
            },
        }
    )
    return [*_marks(chart, minutes, across), {"data": {"values": rows}, "layer": layers}]


def _marks(chart: Chart, minutes: np.ndarray, across: Spec) -> list[Spec]:
    """Upright lines at moments; the pointer is told their names."""
    if not chart.marks:
        return []
    rows = [{"minute": int(minutes[at]), "name": name} for name, at in chart.marks.items()]
    mark = {"type": "rule", "color": "currentColor", "strokeDash": [2, 3], "strokeOpacity": 0.7, "aria": False}
    return [{"data": {"values": rows}, "mark": mark, "encoding": {"x": across, "tooltip": [_tip("name", "Moment")]}}]


def _steps(chart: Chart, legend: bool) -> list[Spec]:
    """Bars that hang from each other, a row for each cause, with its figure beside."""
    rows = [row for series in chart.series for row in _rows(chart, series)]
    across = {"field": "across", "type": "nominal", "sort": list(chart.across), "title": None,
              "axis": {"labelLimit": 150, "ticks": False, "domain": False, "labelOverlap": False}}  # fmt: skip
    # Beside the longest bar stands its figure.
    amount = _amount(chart) | {
        "scale": {"domain": [0, 1.18 * chart.limits[1]], "nice": False},
        "axis": {"tickCount": 5},
    }
    room = 0.16 * chart.limits[1]
    beside = {"field": "beside", "type": "quantitative"}
    layers: list[Spec] = [
        {
            "mark": {"type": "bar", "height": 18, "minBandSize": 2},
            "encoding": {
                "y": across,
                "x": {**amount, "field": "begins"},
                "x2": {"field": "value"},
                "color": _colour(chart.series, _STEPS, legend),
                "tooltip": [_tip("across", "Cause"), _tip("told", "Water a day")],
            },
        }
    ]
    for tight, align in ((True, "left"), (False, "right")):
        layers.append(
            {
                "transform": [{"filter": f"datum.tight === {str(tight).lower()}"}],
                "mark": {"type": "text", "align": align, "dx": 4 if tight else -4, "fontSize": 13,
                         "color": "currentColor", "aria": False},
                "encoding": {"y": across, "x": {**amount, **beside}, "text": {"field": "figure"}},
            }
        )  # fmt: skip
    for row in rows:
        left = min(row["begins"], row["value"])
        row["tight"] = left < room
        row["beside"] = row["value"] if row["tight"] else left
    return [*_level(chart, "x", amount), {"data": {"values": rows}, "layer": layers}]


def _rows(chart: Chart, series: Series) -> Iterable[Spec]:
    """A row for each place that has a figure."""
    begins = np.zeros(len(series.values)) if series.begins is None else series.begins
    for place in np.flatnonzero(np.isfinite(series.values)).tolist():
        yield {
            "across": chart.across[place],
            "name": series.name,
            "value": _number(series.values[place]),
            "begins": _number(begins[place]),
            "figure": series.words(place),
            "told": _words(chart, series, place),
        }


def _level(chart: Chart, along: str, amount: Spec) -> list[Spec]:
    """A line across; the pointer is told its name and figure. Beside bars that lie, its name stands above it."""
    if chart.level is None:
        return []
    name, value = chart.level
    row = {"value": _number(value), "name": name, "told": f"{value:,.0f} {chart.unit}"}
    mark = {"type": "rule", "color": "currentColor", "strokeWidth": 2, "strokeDash": [6, 4] if along == "x" else []}
    encoding = {along: amount, "tooltip": [_tip("name", "Line"), _tip("told", "Water a day")]}
    layer: list[Spec] = [{"mark": mark, "encoding": encoding}]
    if along == "x":
        named = {"type": "text", "text": name, "color": "currentColor", "fontSize": 13, "dy": -7, "aria": False}
        layer.append({"mark": {**named, "align": "center"}, "encoding": {"x": amount, "y": {"value": 0}}})
    return [{"data": {"values": [row]}, "layer": layer}]


def _amount(chart: Chart) -> Spec:
    return {
        "field": "value",
        "type": "quantitative",
        "title": chart.axis.replace("\n", " "),
        "scale": {"domain": list(chart.limits), "nice": False},
        # Above the axis, so that it can be read upright and pictures one below the other begin at one line.
        "axis": {
            "minExtent": 44,
            "maxExtent": 44,
            "titleAngle": 0,
            "titleAlign": "left",
            "titleBaseline": "bottom",
            "titleX": -44,
            "titleY": -8,
            "tickCount": 5,
            **({"values": [-90, -45, 0, 45, 90]} if chart.unit == "°" else {}),
        },
    }


def _colour(series: Iterable[Series], order: tuple[str, ...], legend: bool) -> Spec:
    """Each look's own colour of the theme, whichever looks are shown."""
    names = {each.look: each.name for each in series}
    shown = {"title": None, "values": list(names.values()), "symbolOpacity": 1} if legend else None
    domain = [names.get(look, look) for look in order]
    return {"field": "name", "type": "nominal", "scale": {"domain": domain}, "legend": shown}


def _tip(field: str, title: str) -> Spec:
    return {"field": field, "type": "nominal", "title": title}


def _words(chart: Chart, series: Series, place: int) -> str:
    return f"{series.words(place)} {chart.unit}" if math.isfinite(series.values[place]) else "–"


def _number(value: float) -> float | None:
    return float(f"{value:.6g}") if math.isfinite(value) else None
