"""The sky picture of lost water: nothing lost twice or forgotten, where it belongs, and legible without colour."""

from __future__ import annotations

import datetime as dt
import io
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_rgb
from matplotlib.patches import Rectangle
from PIL import Image

from trackersim import Result, load_job, simulate
from trackersim.report import sky_loss as module
from trackersim.report.sky_loss import BIN_DEG, class_of, sky_loss, sky_loss_alt, sky_loss_figure
from trackersim.sky.sun import sun_at

CLEAR = ["weather.file=", "weather.clear_sky=true"]
DAYS = {"first_day": dt.date(2025, 3, 19), "last_day": dt.date(2025, 3, 22)}


@pytest.fixture(scope="module")
def own() -> Result:
    return simulate(load_job("demo", CLEAR), **DAYS)


@pytest.fixture(scope="module")
def reference() -> Result:
    return simulate(load_job("demo", [*CLEAR, "rack.kind=ideal", "trees=[]"]), **DAYS)


def grey(colour: object) -> float:
    return float(np.array([0.299, 0.587, 0.114]) @ np.array(to_rgb(colour)))


def test_all_lost_water_is_in_the_sky_once(own: Result, reference: Result) -> None:
    found = sky_loss(own, reference)
    assert found.total_m3 == pytest.approx(reference.water_m3 - own.water_m3, rel=1e-9)
    assert found.total_m3 > 1
    back = sky_loss(reference, own)
    np.testing.assert_allclose(back.lost_m3, -found.lost_m3, atol=1e-12)


def test_a_late_morning_turn_loses_its_water_in_the_east(own: Result, reference: Result) -> None:
    found = sky_loss(own, reference)
    east = found.bearing_deg[:-1] < 180
    assert found.lost_m3[:, east].sum() > 0.9 * found.lost_m3.sum()


def test_a_loss_of_one_minute_stands_where_the_sun_stood(own: Result) -> None:
    for minute in (700, 1440 + 1000):
        flow = own.minutes["flow_m3_s"].copy()
        flow[minute] += 1e-3
        found = sky_loss(own, replace(own, water=replace(own.water, flow_m3_s=flow[None])))
        site = own.job.site
        sun = sun_at(own.times[minute : minute + 1], latitude_deg=site.latitude_deg, longitude_deg=site.longitude_deg)
        row, column = np.argwhere(found.lost_m3 > 0.01).squeeze()
        assert found.elevation_deg[row] <= sun.elevation_deg[0] < found.elevation_deg[row] + BIN_DEG
        assert found.bearing_deg[column] <= sun.azimuth_deg[0] < found.bearing_deg[column] + BIN_DEG
        assert found.lost_m3[row, column] == pytest.approx(0.06, rel=1e-9)


def test_water_of_the_night_is_counted_beside_the_sky(own: Result) -> None:
    flow = own.minutes["flow_m3_s"].copy()
    flow[30] += 1e-3
    found = sky_loss(own, replace(own, water=replace(own.water, flow_m3_s=flow[None])))
    assert found.sun_down_m3 == pytest.approx(0.06, rel=1e-9)
    assert not found.lost_m3.any()


def test_results_of_other_minutes_are_refused(own: Result) -> None:
    other = simulate(load_job("demo", CLEAR), first_day=dt.date(2025, 6, 1), last_day=dt.date(2025, 6, 4))
    with pytest.raises(ValueError, match="different minutes"):
        sky_loss(own, other)


def test_classes_run_from_little_to_much() -> None:
    lost = np.array([[-5.0, -0.001, 0.0, 0.5, 2.0, 5.0, 10.0]])
    assert class_of(lost).tolist() == [[-1, 0, 0, 1, 2, 3, 4]]
    assert not class_of(np.zeros((2, 2))).any()


def test_every_bin_drawn_has_the_look_of_its_class(own: Result, reference: Result) -> None:
    found = sky_loss(own, reference)
    kind = class_of(found.lost_m3)
    axes = sky_loss_figure(own, reference, "us").axes[0]
    boxes = [patch for patch in axes.patches if isinstance(patch, Rectangle) and patch.get_width() == BIN_DEG]
    assert len(boxes) == (kind != 0).sum()
    for box in boxes:
        column = int(np.searchsorted(found.bearing_deg, box.get_x()))
        row = int(np.searchsorted(found.elevation_deg, box.get_y()))
        face, hatch = module._look(int(kind[row, column]))
        assert to_rgb(box.get_facecolor()) == pytest.approx(to_rgb(face))
        assert (box.get_hatch() or "") == hatch


def test_classes_part_in_black_and_white() -> None:
    tones = [grey(face) for face in module._FACES]
    assert all(light - dark > 0.12 for light, dark in zip([1.0, *tones], tones, strict=False) if dark != tones[0])
    assert 1 - tones[0] > 0.07
    assert len(set(module._HATCHES)) == len(module._HATCHES)
    assert module._GAIN_HATCH not in module._HATCHES


def test_the_legend_and_title_give_the_figures_in_the_units_asked_for(own: Result, reference: Result) -> None:
    lost = reference.water_m3 - own.water_m3
    for system, unit, factor in (("us", "gal", 1 / 3.785411784e-3), ("si", "m³", 1.0)):
        figure = sky_loss_figure(own, reference, system)  # type: ignore[arg-type]
        title = figure.axes[0].get_title(loc="left")
        assert "in 4 days" in title
        number = float(title.split("sky ")[1].split(" ")[0].replace(",", ""))
        assert number == pytest.approx(lost * factor, rel=5e-3)
        assert figure.legends[0].get_title().get_text().endswith(unit)
        top = figure.legends[0].get_texts()[-1].get_text().split(" to ")[1].replace(",", "")
        assert float(top) == pytest.approx(sky_loss(own, reference).lost_m3.max() * factor, rel=0.06)


def test_a_rack_held_against_itself_loses_nothing(own: Result) -> None:
    figure = sky_loss_figure(own, own, "us")
    assert not [patch for patch in figure.axes[0].patches if isinstance(patch, Rectangle)]
    assert "loses no water" in sky_loss_alt(own, own, "us")


def test_all_of_it_is_inside_the_picture(own: Result, reference: Result) -> None:
    figure = sky_loss_figure(own, reference, "us")
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    for artist in [figure.axes[0], *figure.legends]:
        box = artist.get_tightbbox()
        assert box is not None
        assert min(box.x0, box.y0) >= 0
        assert box.x1 <= figure.bbox.width + 1
        assert box.y1 <= figure.bbox.height + 1
    buffer = io.BytesIO()
    figure.savefig(buffer, format="png")
    assert Image.open(buffer).size == (640, 600)


def test_south_of_the_equator_the_morning_is_on_the_right() -> None:
    changes = ["site.latitude=-33", "site.longitude=150", "site.utc_offset=10", "site.timezone="]
    late = simulate(load_job("demo", [*CLEAR, *changes, "trees=[]"]), **DAYS)
    ideal = simulate(load_job("demo", [*CLEAR, *changes, "rack.kind=ideal", "trees=[]"]), **DAYS)
    found = sky_loss(late, ideal)
    east = found.bearing_deg[:-1] >= 0
    assert found.lost_m3[:, east].sum() > 0.8 * found.lost_m3.sum() > 0
    low, high = sky_loss_figure(late, ideal, "si").axes[0].get_xlim()
    assert low < 0 < 90 < high
