"""The moving picture shows the simulated minute, inside its frame, and reads without colour."""

from __future__ import annotations

import datetime as dt
import io
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import Circle
from PIL import Image

from trackersim import Result, load_job, simulate
from trackersim.job.files import with_overrides
from trackersim.rack.geometry import Axis
from trackersim.show import rack_drawing
from trackersim.show.moment import day_sky, moment_of
from trackersim.show.moving import frame_alt_text, morning_frame, morning_gif

DAY = dt.date(2025, 6, 10)  # the oaks are in leaf
CLEAR = ["weather.file=", "weather.clear_sky=true"]
PLACES = ["site.latitude=-33", "site.longitude=150", "site.utc_offset=10", "site.timezone="]


def simulated(*overrides: str) -> Result:
    return simulate(load_job("demo", [*CLEAR, *overrides]), first_day=DAY, last_day=DAY)


@pytest.fixture(scope="module")
def thermal() -> Result:
    return simulated("rack.kind=thermal")


@pytest.fixture(scope="module")
def watched() -> Result:
    return simulated()


def grey(figure: Figure) -> npt.NDArray[np.float64]:
    """Grey values 0…1, rows from the top."""
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    return np.asarray(Image.fromarray(np.asarray(canvas.buffer_rgba())[:, :, :3]).convert("L"), dtype=float) / 255


def tone(picture: npt.NDArray[np.float64], axes: Axes, x: float, y: float, *, reach: int = 4) -> float:
    """Mean grey about a place in the axes' own units."""
    column, row = axes.transData.transform((x, y))
    top = picture.shape[0] - round(row)
    return float(picture[top - reach : top + reach + 1, round(column) - reach : round(column) + reach + 1].mean())


def words(figure: Figure) -> list[str]:
    return [text.get_text() for text in [*figure.texts, *figure.axes[1].texts]]


def half_full(result: Result, rotation_deg: float) -> Result:
    """The result with the rack held at an angle, half of the liquid in each canister and the west one 12 K warmer."""
    assert result.canisters is not None
    thermal = result.job.rack.thermal
    shape = result.canisters.west_kg.shape
    history = replace(
        result.canisters,
        west_kg=np.full(shape, thermal.liquid_kg * thermal.charge / 2),
        canister_c=np.stack([np.full(shape, 30.0), np.full(shape, 18.0)]),
    )
    return replace(
        result, canisters=history, minutes={**result.minutes, "rotation_deg": np.full(len(result.times), rotation_deg)}
    )


def test_the_frame_tells_clock_light_flow_and_canisters_of_its_minute(thermal: Result) -> None:
    minute = 600
    told = words(morning_frame(thermal, 0, minute, "si"))
    assert "11:00" in told  # ten o'clock standard time is eleven by daylight saving
    assert "EDT" in told
    flow = thermal.minutes["flow_m3_s"][minute] * 60_000
    assert any(text == f"{flow:.1f} L/min" for text in told)
    assert any(f"{thermal.minutes['plane_w_m2'][minute]:.0f} W/m²" in text for text in told)
    assert thermal.canisters is not None
    west_c, east_c = thermal.canisters.canister_c[:, 0, minute]
    assert sum(f"canister {celsius:.1f} °C" in text for celsius in (west_c, east_c) for text in told) == 2
    share = thermal.canisters.west_kg[0, minute] / 6.0
    assert f"{100 * share:.0f} % of liquid" in told


def test_the_plane_is_drawn_at_the_angle_of_the_rack_and_the_sun_where_it_stands(thermal: Result) -> None:
    for minute in (400, 600, 900):
        ground = morning_frame(thermal, 0, minute, "us").axes[1]
        sun = next(patch for patch in ground.patches if isinstance(patch, Circle) and patch.radius == 0.19)
        centre = np.array(sun.center) - rack_drawing._PIVOT
        drawn = np.degrees(np.arctan2(centre[0], centre[1]))  # west is on the right north of the equator
        assert drawn == pytest.approx(thermal.minutes["sun_rotation_deg"][minute], abs=1e-6)
        plane = next(patch for patch in ground.patches if not isinstance(patch, Circle) and len(patch.get_path()) == 5)
        corner = np.asarray(plane.get_path().vertices)
        edge = corner[1] - corner[0]
        rotation = thermal.minutes["rotation_deg"][minute]
        assert np.degrees(np.arctan2(-edge[1], edge[0])) == pytest.approx(rotation, abs=1e-6)


def test_the_sun_of_the_picture_agrees_with_the_simulated_one(thermal: Result) -> None:
    """The sky panel computes the sun anew: projected on the rack's axis it must give the series' own angle."""
    sky = day_sky(thermal, 0)
    elevation, azimuth = np.radians(sky.elevation_deg), np.radians(sky.azimuth_deg)
    direction = np.stack([np.cos(elevation) * np.sin(azimuth), np.cos(elevation) * np.cos(azimuth), np.sin(elevation)])
    axis = Axis(azimuth_deg=180.0, tilt_deg=25.0)
    angle = np.degrees(np.arctan2(axis.west @ direction, axis.centre_normal @ direction))
    np.testing.assert_allclose(angle[sky.up], thermal.minutes["sun_rotation_deg"][sky.up], atol=0.05)


def test_the_tree_line_hides_the_sun_in_the_minutes_in_which_the_beam_is_weakened(thermal: Result) -> None:
    sky = day_sky(thermal, 0)
    share = thermal.minutes["beam_share"]
    agree = []
    for minute in np.flatnonzero(sky.up).tolist():
        place = round(sky.azimuth_deg[minute] - sky.bearing_deg[0])
        height = sky.elevation_deg[minute]
        inside = any(tree.low_deg[place] <= height <= tree.high_deg[place] for tree in sky.trees)
        if share[minute] in (share.max(), share[share > 0].min()):  # not while shade crosses the array
            agree.append(inside == (share[minute] < 0.5))
    assert len(agree) > 300
    assert np.mean(agree) > 0.97


@pytest.mark.parametrize(
    "overrides",
    [
        {"site.name": "A very long name of a farm in the hills " * 5, "rack.kind": "thermal"},
        {"site.latitude": -33, "site.longitude": 150, "site.utc_offset": 10, "site.timezone": "",
         "rack.kind": "thermal", "rack.max_rotation": 85},
        {"site.timezone": "", "rack.kind": "fixed", "rack.fixed_rotation": -50},
    ],
)  # fmt: skip
def test_everything_stays_inside_the_frame_and_no_words_meet(overrides: dict[str, Any]) -> None:
    result = simulate(with_overrides(load_job("demo", CLEAR), overrides), first_day=DAY, last_day=DAY)
    for minute in (0, 330, 380, 480, 600, 1439):
        figure = morning_frame(result, 0, minute, "us")
        FigureCanvasAgg(figure).draw()
        width, height = figure.bbox.width, figure.bbox.height
        texts = [*figure.texts, *figure.axes[1].texts]
        boxes = [(text.get_text(), text.get_window_extent()) for text in texts]
        boxes += [(str(patch), patch.get_window_extent()) for patch in figure.axes[1].patches]
        for name, box in boxes:
            assert min(box.x0, box.y0) >= -0.5, name
            assert box.x1 <= width + 0.5, name
            assert box.y1 <= height + 0.5, name
        for number, (name, box) in enumerate(boxes[: len(texts)]):
            for other, beside in boxes[number + 1 : len(texts)]:
                aside = box.x1 <= beside.x0 or beside.x1 <= box.x0
                assert aside or box.y1 <= beside.y0 + 1 or beside.y1 <= box.y0 + 1, (name, other)


def test_letters_are_large_enough_for_a_phone(thermal: Result) -> None:
    """On a screen 390 pixels wide the smallest letters are 11 pixels high or more."""
    figure = morning_frame(thermal, 0, 500, "us")
    shrink = 390 / figure.bbox.width
    sizes = [text.get_fontsize() for text in [*figure.texts, *figure.axes[1].texts]]
    sizes += [label.get_fontsize() for label in figure.axes[0].get_xticklabels()]
    assert min(sizes) * figure.dpi / 72 * shrink >= 11


def test_it_reads_in_black_and_white(thermal: Result) -> None:
    """Neighbours differ by a fifth of the way from black to white, or stand apart by a black edge."""
    result = half_full(thermal, 0.0)
    minute = 480
    figure = morning_frame(result, 0, minute, "us")
    picture, (sky, ground) = grey(figure), figure.axes
    pivot, out = rack_drawing._PIVOT, rack_drawing._CANISTER_OUT
    for side in (-1, 1):
        liquid = tone(picture, ground, pivot[0] + side * out, pivot[1] - 0.14)
        vapour = tone(picture, ground, pivot[0] + side * out, pivot[1] + 0.14)
        assert vapour - liquid > 0.2
    warm = tone(picture, ground, pivot[0] + out, pivot[1] + 0.14)
    cool = tone(picture, ground, pivot[0] - out, pivot[1] + 0.14)
    assert cool - warm > 0.2
    plane = tone(picture, ground, 0.5, pivot[1] + 0.055, reach=2)
    assert tone(picture, ground, 0.5, pivot[1] + 0.35) - plane > 0.5
    above, below = tone(picture, ground, 1.5, -1.0), tone(picture, ground, 1.0, -1.9)
    assert above - below > 0.12
    tree = tone(picture, sky, 92, 6, reach=2)
    assert tone(picture, sky, 200, 6, reach=2) - tree > 0.2
    now = moment_of(result, 0, minute, day_sky(result, 0))
    around = [tone(picture, sky, now.azimuth_deg + aside, now.elevation_deg, reach=0) for aside in np.arange(0, 8, 0.2)]
    assert min(around) < 0.35  # its edge


def test_warmth_and_liquid_change_the_picture_without_words(thermal: Result) -> None:
    level = grey(morning_frame(half_full(thermal, 10.0), 0, 480, "us"))
    full = half_full(thermal, 10.0)
    assert full.canisters is not None
    more = replace(full, canisters=replace(full.canisters, west_kg=full.canisters.west_kg * 1.5))
    changed = np.abs(grey(morning_frame(more, 0, 480, "us")) - level) > 0.1
    rows = np.flatnonzero(changed.any(axis=1))
    assert rows.min() < 520  # in the canisters, well above the words in the ground
    colder = replace(full, canisters=replace(full.canisters, canister_c=full.canisters.canister_c[::-1].copy()))
    assert (np.abs(grey(morning_frame(colder, 0, 480, "us")) - level)[:520] > 0.1).any()


@pytest.mark.parametrize("share", [0.0, 0.1, 0.35, 0.5, 0.8, 1.0])
def test_the_liquid_fills_its_share_of_the_canister(share: float) -> None:
    surface = rack_drawing.liquid_surface(share)
    height = np.linspace(-1, surface, 20_001)
    width = 2 * np.sqrt(np.maximum(1 - height**2, 0))
    assert np.trapezoid(width, height) / np.pi == pytest.approx(share, abs=1e-3)


def test_a_watched_rack_has_empty_canisters_and_says_so(watched: Result) -> None:
    told = words(morning_frame(watched, 0, 500, "us"))
    assert any("drawn empty" in text for text in told)
    assert not any("of liquid" in text for text in told)
    assert "not part of a rack as watched" in frame_alt_text(watched, 0, 500, "us")


def test_a_fixed_rack_has_no_canisters() -> None:
    result = simulated("rack.kind=fixed")
    figure = morning_frame(result, 0, 500, "us")
    assert not any("canister" in text.lower() for text in words(figure))
    circles = [patch for patch in figure.axes[1].patches if isinstance(patch, Circle)]
    assert len(circles) == 2  # the pivot and the sun
    assert "canister" not in frame_alt_text(result, 0, 500, "us")


def test_east_lies_as_in_the_sky_of_its_hemisphere(thermal: Result) -> None:
    south = simulated("rack.kind=thermal", *PLACES)
    for result, west_right in ((thermal, True), (south, False)):
        figure = morning_frame(result, 0, 500, "us")
        centre = {text.get_text(): text.get_position()[0] for text in figure.axes[1].texts}
        assert (centre["WEST"] > centre["EAST"]) == west_right
        ticks = dict(
            zip(
                (label.get_text() for label in figure.axes[0].get_xticklabels()),
                figure.axes[0].get_xticks(),
                strict=True,
            )
        )
        assert (ticks["W"] > ticks["E"]) == west_right


def test_at_night_there_is_no_sun_and_no_water(thermal: Result) -> None:
    figure = morning_frame(thermal, 0, 60, "us")
    assert "The sun is down" in words(figure)
    assert "no water" in words(figure)
    assert not any(isinstance(patch, Circle) and patch.radius == 0.19 for patch in figure.axes[1].patches)


def test_alt_text_gives_the_minute_in_words(thermal: Result) -> None:
    text = frame_alt_text(thermal, 0, 600, "us")
    assert text.startswith("11:00 EDT, 10 June 2025: the sun is ")
    assert f"{thermal.minutes['flow_m3_s'][600] / 3.785411784e-3 * 60:.1f} gpm flows from the pipe" in text
    assert "West canister" in text
    assert "no water" in frame_alt_text(thermal, 0, 60, "us").lower()


def test_gif_has_the_frames_asked_for_and_they_differ(thermal: Result) -> None:
    told: list[float] = []
    data = morning_gif(
        thermal, 0, first_min=420, last_min=600, step_min=20, system="us", progress=lambda _, share: told.append(share)
    )
    picture = Image.open(io.BytesIO(data))
    assert picture.format == "GIF"
    assert picture.n_frames == 10
    assert picture.info["loop"] == 0
    frames = []
    for number in range(picture.n_frames):
        picture.seek(number)
        frames.append(np.asarray(picture.convert("L"), dtype=float))
    assert all((np.abs(one - other) > 25).sum() > 50 for one, other in pairwise(frames))
    assert told == sorted(told)
    assert told[-1] == 1.0
    # What stands still does not flicker: the name in the head.
    name = [frame[8:30, 300:530] for frame in frames]
    assert all(np.array_equal(name[0], other) for other in name[1:])
    assert len(data) < 300_000


def test_minutes_that_are_none_are_refused(thermal: Result) -> None:
    for minute, day in ((-1, 0), (1440, 0), (0, 1), (0, -1)):
        with pytest.raises(ValueError, match="outside"):
            morning_frame(thermal, day, minute, "us")
    for first, last, step in ((500, 400, 5), (0, 1440, 5), (0, 10, 0)):
        with pytest.raises(ValueError, match="none of a day"):
            morning_gif(thermal, 0, first_min=first, last_min=last, step_min=step, system="us")
