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
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.patches import Circle, FancyBboxPatch, Rectangle
from PIL import Image

from trackersim import Result, load_job, simulate
from trackersim.arrays import FloatArray
from trackersim.job.files import with_overrides
from trackersim.rack.geometry import Axis
from trackersim.report.animation import rack_drawing
from trackersim.report.animation.inks import WATER
from trackersim.report.animation.morning_parts import draw_sky_still
from trackersim.report.animation.moving import (
    FRAME_MS,
    Frame,
    frames_of,
    gif_of,
    morning_minutes,
    turn_words,
)
from trackersim.report.animation.stage import Stage
from trackersim.report.moment import day_sky, moment_of, moment_words
from trackersim.units import System, show

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


def morning_frame(result: Result, day: int, minute: int, system: System, *, prompt: Result | None = None) -> Figure:
    """The picture of one minute."""
    stage = Stage(result, day, system, prompt)
    stage.put(minute)
    return stage.figure


def frame_alt_text(result: Result, day: int, minute: int, system: System) -> str:
    """The sentences of one minute."""
    return moment_words(moment_of(result, day, minute, day_sky(result, day)), result.rack, system)


def words(figure: Figure) -> list[str]:
    return [text.get_text() for text in [*figure.texts, *figure.axes[1].texts]]


def turned(result: Result, rotation_deg: FloatArray) -> Result:
    """The result with its rack at other angles (days · 1440,), and all else as it was."""
    (tracking,) = result.stages.trackings
    other = replace(tracking, rotation_deg=rotation_deg.reshape(tracking.rotation_deg.shape))
    return replace(result, stages=result.stages._replace(trackings=(other,)))


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
    return replace(turned(result, np.full(len(result.times), rotation_deg)), canisters=history)


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
    for minute in (0, 329, 381, 480, 601, 1439):
        figure = morning_frame(result, 0, minute, "us", prompt=result if minute % 2 else None)
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


@pytest.mark.parametrize("latitude", [-8.0, 8.0, 36.1])
def test_the_sun_stays_within_the_sky_of_its_frame(latitude: float) -> None:
    """North of the equator the sun of June stands in the north at noon: it once left the frame 140° from the south."""
    places = [f"site.latitude={latitude}", "site.longitude=0", "site.utc_offset=0", "site.timezone=", "trees=[]"]
    job = load_job("demo", [*CLEAR, *places])
    for date in (dt.date(2025, 6, 21), dt.date(2025, 12, 21)):
        sky = day_sky(simulate(job, first_day=date, last_day=date), 0)
        seen = sky.azimuth_deg[sky.up]
        assert sky.bearing_deg[0] <= seen.min()
        assert seen.max() <= sky.bearing_deg[-1]
        axes = Figure().subplots()
        draw_sky_still(axes, sky)
        names = {text.get_text(): place for text, place in zip(axes.get_xticklabels(), axes.get_xticks(), strict=True)}
        assert {names["E"] % 360, names["W"] % 360} == {90, 270}


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
    assert f"{show(thermal.minutes['flow_m3_s'][600], 'flow', 'us')} flows from the pipe" in text
    assert "West canister" in text
    assert "no water" in frame_alt_text(thermal, 0, 60, "us").lower()


def test_gif_has_the_frames_asked_for_and_they_differ(thermal: Result) -> None:
    told: list[float] = []
    minutes = range(420, 601, 20)
    data = gif_of(frames_of(thermal, 0, minutes, system="us", progress=lambda _, share: told.append(share)))
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


@pytest.fixture(scope="module")
def frames(thermal: Result) -> tuple[Frame, ...]:
    return frames_of(thermal, 0, morning_minutes(thermal, 0), system="us")


def pixels(frame: Frame) -> npt.NDArray[np.int64]:
    """Red, green and blue 0…255."""
    return np.asarray(Image.open(io.BytesIO(frame.png)).convert("RGB")).astype(int)


def test_a_frame_is_the_whole_figure_although_most_of_it_is_drawn_once(
    thermal: Result, frames: tuple[Frame, ...]
) -> None:
    """To a sixteenth before the palette (the past flow's line lies on itself), to an eighth in almost all after it."""
    stage = Stage(thermal, 0, "us")
    for frame in (frames[-1], frames[0], frames[len(frames) // 2]):  # not in order: nothing may be left behind
        figure = morning_frame(thermal, 0, frame.minute, "us")
        canvas = FigureCanvasAgg(figure)
        canvas.draw()
        whole = np.asarray(canvas.buffer_rgba())[:, :, :3].astype(int)
        assert np.abs(np.asarray(stage.picture(frame.minute)).astype(int) - whole).max() <= 16
        off = np.abs(pixels(frame) - whole).max(axis=2)
        assert (off > 32).mean() < 1e-3
        assert off.max() < 64


@pytest.mark.parametrize("warmer_k", [1.5, 3.0, 5.0, 8.0])
def test_every_warmth_survives_the_palette(thermal: Result, warmer_k: float) -> None:
    """The tint above the liquid, between the dots: half a step between neighbours of the palette at most."""
    result = half_full(thermal, 0.0)
    assert result.canisters is not None
    warmth = np.stack([np.full((1, 1440), 20.0 + warmer_k), np.full((1, 1440), 20.0)])
    result = replace(result, canisters=replace(result.canisters, canister_c=warmth))
    stage = Stage(result, 0, "us")
    before = np.asarray(stage.picture(480)).astype(int)
    (frame,) = frames_of(result, 0, [480], system="us")
    column, row = stage.figure.axes[1].transData.transform(np.add(rack_drawing._PIVOT, (rack_drawing._CANISTER_OUT, 0)))
    above = np.s_[750 - round(row) - 18 : 750 - round(row) - 4, round(column) - 10 : round(column) + 10]
    tint, drawn = pixels(frame)[above], before[above]
    assert np.quantile(np.abs(tint - drawn).max(axis=2), 0.6) <= 16


def test_nothing_of_one_minute_is_left_in_the_next(thermal: Result) -> None:
    stage = Stage(thermal, 0, "us")
    early, late, again = (np.asarray(stage.picture(minute)) for minute in (300, 800, 300))
    assert np.array_equal(early, again)
    assert not np.array_equal(early, late)


def test_frames_tell_their_minute_in_words(thermal: Result, frames: tuple[Frame, ...]) -> None:
    assert [frame.minute for frame in frames] == list(morning_minutes(thermal, 0))
    for frame in frames[::10]:
        assert frame.alt == frame_alt_text(thermal, 0, frame.minute, "us")
        hour, minute = divmod(frame.minute + 60, 60)  # daylight saving
        assert frame.clock == f"{hour:02d}:{minute:02d} EDT"
        assert frame.alt.startswith(frame.clock)


def test_a_morning_of_frames_is_small(frames: tuple[Frame, ...]) -> None:
    assert sum(len(frame.png) for frame in frames) < 1_500_000
    assert Image.open(io.BytesIO(frames[0].png)).size == (540, 750)


def test_the_morning_is_seen_from_before_sunrise_until_long_after_the_turn(thermal: Result, watched: Result) -> None:
    for result in (thermal, watched):
        minutes = morning_minutes(result, 0)
        sunrise, flip = int(result.morning.sunrise[0]), int(result.morning.flip[0])
        assert minutes[0] == sunrise - 60
        assert minutes[-1] == flip + 120
        assert flip in minutes
        assert max(np.diff(minutes)) <= 10
        assert min(np.diff(minutes)) > 0
        turning = np.flatnonzero(np.abs(np.diff(result.minutes["rotation_deg"][sunrise : flip + 60])) > 1) + sunrise
        assert len(turning) > 3
        assert set(turning.tolist()) <= set(minutes)
        assert len(minutes) < 70


def test_the_liquid_is_seen_on_its_way(thermal: Result) -> None:
    assert thermal.canisters is not None
    share = thermal.canisters.west_kg[0] / thermal.job.rack.thermal.liquid_kg
    passing = [minute for minute in morning_minutes(thermal, 0) if 0.05 < share[minute] < 0.95]
    assert len(passing) >= 8
    assert np.abs(np.diff(share[passing])).max() < 0.15


def test_a_rack_without_a_turn_is_shown_until_early_afternoon() -> None:
    for result in (simulated("rack.kind=fixed"), simulated("rack.flip_delay=500")):
        minutes = morning_minutes(result, 0)
        assert minutes[0] == int(result.morning.sunrise[0]) - 60
        assert minutes[-1] == 720  # thirteen o'clock by daylight saving


def test_the_whole_day_is_shown_until_after_sunset(thermal: Result) -> None:
    minutes = morning_minutes(thermal, 0, whole_day=True)
    lit = np.flatnonzero(thermal.minutes["plane_w_m2"] > 0)
    assert minutes[0] == morning_minutes(thermal, 0)[0]
    assert minutes[-1] == lit[-1] + 60
    assert int(thermal.morning.flip[0]) in minutes
    assert max(np.diff(minutes)) <= 20
    assert len(minutes) < 110


@pytest.mark.parametrize("day", [dt.date(2025, 6, 10), dt.date(2025, 12, 10)])
@pytest.mark.parametrize("kind", ["thermal", "delayed", "fixed"])
def test_without_night_or_without_day_there_is_a_morning_to_show(kind: str, day: dt.date) -> None:
    job = load_job("demo", [*CLEAR, "site.latitude=75", "site.timezone=", f"rack.kind={kind}"])
    result = simulate(job, first_day=day, last_day=day)
    for whole_day in (False, True):
        minutes = morning_minutes(result, 0, whole_day=whole_day)
        assert 0 <= minutes[0] < minutes[-1] <= 1439
        assert minutes[-1] - minutes[0] >= 120
        assert list(minutes) == sorted(set(minutes))
        assert len(minutes) < 130
    assert len(frames_of(result, 0, minutes[:2], system="si")) == 2


def test_a_rack_that_is_never_still_does_not_make_a_thousand_frames(thermal: Result) -> None:
    restless = 40 * np.sin(np.arange(1440) / 5)
    result = turned(thermal, restless)
    assert len(morning_minutes(result, 0, whole_day=True)) < 120


def test_the_gif_shows_the_frames(frames: tuple[Frame, ...]) -> None:
    some = frames[::8]
    picture = Image.open(io.BytesIO(gif_of(some)))
    assert picture.n_frames == len(some)
    for number, frame in enumerate(some):
        picture.seek(number)
        assert np.array_equal(np.asarray(picture.convert("RGB")).astype(int), pixels(frame))
        if number < len(some) - 1:
            assert picture.info["duration"] == FRAME_MS
    with pytest.raises(ValueError, match="no frames"):
        gif_of(())


def test_the_turn_is_told_in_a_sentence(thermal: Result, watched: Result) -> None:
    sunrise, flip = int(thermal.morning.sunrise[0]), int(thermal.morning.flip[0])
    hour, minute = divmod(flip + 60, 60)
    expected = f"On this day the thermal rack, by physics, turns east at {hour:02d}:{minute:02d}, "
    assert turn_words(thermal, 0) == f"{expected}{flip - sunrise} min after sunrise."
    assert "the late-turning rack turns east at" in turn_words(watched, 0)
    assert "does not turn from west to east" in turn_words(simulated("rack.flip_delay=500"), 0)
    assert turn_words(simulated("rack.kind=ideal"), 0) == "The ideal tracking rack does not wait for the morning sun."


def test_the_thermometers_rise_with_the_canisters(thermal: Result) -> None:
    """West on the right, north of the equator; each column between the day's coldest and warmest canister."""
    result = half_full(thermal, 0.0)
    assert result.canisters is not None
    warmed = result.canisters.canister_c.copy()
    warmed[:, 0, :400] = -10.0
    result = replace(result, canisters=replace(result.canisters, canister_c=warmed))

    def columns(minute: int) -> list[float]:
        axes = morning_frame(result, 0, minute, "us").axes[1]
        glasses = [(patch.get_x(), patch.get_height()) for patch in axes.patches if type(patch) is Rectangle]
        return [height for _, height in sorted(glasses)]

    (cold_east, cold_west), (east, west) = columns(300), columns(480)
    assert cold_east == cold_west < east < west
    assert east - cold_east == pytest.approx((west - cold_west) * 28 / 40)


def test_words_leave_the_thermometers_alone_on_a_hot_day(thermal: Result) -> None:
    hot = half_full(thermal, 0.0)
    assert hot.canisters is not None
    hot = replace(hot, canisters=replace(hot.canisters, canister_c=hot.canisters.canister_c + 35.0))
    figure = morning_frame(hot, 0, 480, "us")
    FigureCanvasAgg(figure).draw()
    told = [text for text in figure.axes[1].texts if "warmer" in text.get_text()]
    assert len(told) == 1
    words_box = told[0].get_window_extent()
    glasses = [patch.get_window_extent() for patch in figure.axes[1].patches if isinstance(patch, FancyBboxPatch)]
    assert len(glasses) == 2
    assert max(glass.x1 for glass in glasses) + 5 < words_box.x0


def test_a_full_canister_still_shows_a_level_and_its_warmth(thermal: Result) -> None:
    result = half_full(thermal, 0.0)
    assert result.canisters is not None
    everything = np.full_like(result.canisters.west_kg, thermal.job.rack.thermal.liquid_kg)
    result = replace(result, canisters=replace(result.canisters, west_kg=everything))
    figure = morning_frame(result, 0, 480, "us")
    picture, ground = grey(figure), figure.axes[1]
    (x, y), out, radius = rack_drawing._PIVOT, rack_drawing._CANISTER_OUT, rack_drawing._CANISTER_RADIUS
    assert tone(picture, ground, x + out, y + 0.72 * radius, reach=2) > 0.5
    assert tone(picture, ground, x + out, y + 0.2 * radius, reach=2) < 0.4


def test_minutes_that_are_none_are_refused(thermal: Result) -> None:
    for minute, day in ((-1, 0), (1440, 0), (0, 1), (0, -1)):
        with pytest.raises(ValueError, match="outside"):
            morning_frame(thermal, day, minute, "us")
        with pytest.raises(ValueError, match="outside"):
            frames_of(thermal, day, [minute], system="us")


def test_the_ghost_stands_where_the_prompt_rack_would_and_only_where_it_differs(watched: Result) -> None:
    prompt = simulated("rack.kind=ideal")
    flip = int(watched.morning.flip[0])
    for minute, differs in ((flip - 20, True), (flip + 200, False)):
        own = float(watched.by_day("rotation_deg")[0, minute])
        ghost = float(prompt.by_day("rotation_deg")[0, minute])
        assert (abs(own - ghost) > rack_drawing._SAME_DEG) == differs
        figure = morning_frame(watched, 0, minute, "us", prompt=prompt)
        dashed = [patch for patch in figure.axes[1].patches if patch.get_zorder() == 1.5]
        assert len(dashed) == differs
        for patch in dashed:
            (x1, y1), (x2, y2) = patch.get_xy()[:2]
            assert abs(np.degrees(np.arctan2(y1 - y2, x2 - x1))) == pytest.approx(abs(ghost), abs=1e-6)
    (frame,) = frames_of(watched, 0, [flip - 20], system="us", prompt=prompt)
    assert frame.alt.startswith(frame_alt_text(watched, 0, flip - 20, "us"))
    ghost = float(prompt.by_day("rotation_deg")[0, flip - 20])
    flow = show(float(prompt.by_day("flow_m3_s")[0, flip - 20]), "flow", "us")
    assert frame.alt.endswith(f" Had it turned at once it would face {-ghost:.0f}° east and lift {flow}.")


def test_the_water_lost_is_hatched_in_proportion(watched: Result) -> None:
    """The hatched area over that of the day's own flow is the water lost over the water lifted."""
    prompt = simulated("rack.kind=ideal")
    axes = morning_frame(watched, 0, 1439, "us", prompt=prompt).axes[1]
    hatched = [band for band in axes.collections if band.get_hatch() == "////"]
    filled = [band for band in axes.collections if np.allclose(band.get_facecolor()[0][:3], to_rgb(WATER))]
    lost, lifted = (
        max(sum(_area(path.vertices) for path in band.get_paths()) for band in bands) for bands in (hatched, filled)
    )
    gap = (prompt.by_day("flow_m3_s") - watched.by_day("flow_m3_s"))[0].clip(min=0).sum()
    assert gap > 0
    assert lost / lifted == pytest.approx(gap / watched.by_day("flow_m3_s")[0].sum(), rel=0.05)


def _area(corners: npt.NDArray[np.float64]) -> float:
    x, y = corners.T
    return float(abs(x @ np.roll(y, 1) - y @ np.roll(x, 1))) / 2
