"""The card to leave with the owner."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from matplotlib.image import imread

from trackersim import load_job, simulate
from trackersim.analysis.day_ahead import Tomorrow, card_for
from trackersim.analysis.day_flow import FlowPart, Running, day_flow
from trackersim.clock import hhmm, today_at
from trackersim.errors import InputError
from trackersim.report import day_ahead
from trackersim.report.day_ahead import (
    card_figure,
    card_sentence,
    card_text,
    day_answer,
    hour_table,
    moment_table,
    pump_words,
    total_words,
)
from trackersim.report.day_calls import call_words, last_words, note_words
from trackersim.units import held_value

JOB = load_job("demo")
SPRING = dt.date(2025, 3, 21)


@pytest.fixture(scope="module")
def card() -> Tomorrow:
    return card_for(JOB, SPRING)


def test_the_morning_comes_in_order(card: Tomorrow) -> None:
    moments = [card.sunrise, card.full_sun, card.water.likely, card.sunset]
    assert moments == sorted(moments, key=lambda minute: minute or 0)
    assert card.flip.early < card.flip.likely < card.flip.late  # type: ignore[operator]
    assert card.flip.likely < card.arrival.likely  # type: ignore[operator]
    assert card.call_flip == (card.flip.late or 0) + 30


def test_cold_air_told_moves_the_turn_later_and_leaves_its_end_open(card: Tomorrow) -> None:
    cold = card_for(JOB, SPRING, air_c=-28.9)  # −20 °F
    assert cold.flip.likely > card.flip.likely + 60  # type: ignore[operator]
    assert cold.flip.late is None
    assert cold.call_flip is None
    assert cold.summary()["air_c"] == -28.9


def test_where_a_sound_rack_often_stays_west_that_is_said_and_a_call_waits_for_several_mornings() -> None:
    """It blamed a weak sun for whatever gave no time to call, and then gave none."""
    cold = card_for(JOB, SPRING, air_c=-28.9)
    (turn,) = cold.turns
    assert turn.call is None
    assert 0.05 < turn.never / turn.runs < 0.5
    assert turn.call_if_repeated is not None
    told = f"{hhmm(cold.clock(turn.call_if_repeated))} on 3 sunny mornings one after another."
    assert any(line.endswith(told) for line in call_words(cold, "us"))
    assert f"on about {round(10 * turn.never / turn.runs)} of 10 such mornings" in last_words(cold)
    assert "weak a sun" not in last_words(cold)


def test_hours_add_up_to_the_day(card: Tomorrow) -> None:
    for day in card.days.values():
        assert sum(flow for _, flow in day.hours) * 3600 == pytest.approx(day.total_m3, rel=1e-9)
    assert len({hour for hour, _ in card.days["clear"].hours}) == len(card.days["clear"].hours)


def test_light_cloud_brings_less_and_still_something(card: Tomorrow) -> None:
    clear, cloudy = (card.days[sky].total_m3 for sky in ("clear", "light cloud"))
    assert 0.2 * clear < cloudy < 0.9 * clear


def test_hours_are_those_of_the_wall_with_daylight_saving() -> None:
    told = {zone: card_for(load_job("demo", [f"site.timezone={zone}"]), SPRING) for zone in ("America/New_York", "")}
    summer, standard = (dict(one.days["clear"].hours) for one in told.values())
    assert summer[13] == pytest.approx(standard[12], rel=1e-9)
    assert "EDT" in told["America/New_York"].zone
    assert told[""].zone.startswith("standard time")


def test_the_words_say_when_to_call_and_end_with_one_sentence(card: Tomorrow) -> None:
    text = card_text(card, "us")
    for line in call_words(card, "us"):
        assert line.split()[0].startswith("Call")
    latest = card.clock(card.call_flip)
    assert latest is not None
    assert f"{latest:%H:%M}" in text
    assert "swing without warning" in text
    assert "pressure" in text
    assert text.rstrip().split("\n\n")[-1].startswith("In short:")
    assert last_words(card).count(".") == 1


def test_rows_are_in_the_units_asked_for(card: Tomorrow) -> None:
    us, si = (hour_table(card, system).rows for system in ("us", "si"))
    assert us[-1][1].endswith("gal")
    assert si[-1][1].endswith("m³")
    noon = next(row for row in us if row[0].startswith("13:00"))
    flow_m3_s = dict(card.days["clear"].hours)[13]
    assert held_value(float(noon[1]), "flow", "us") == pytest.approx(flow_m3_s, rel=0.01)
    # What a bucket takes at that hour, by hand: 5 US gallons are 18.927 L.
    assert noon[3] == f"{0.0189271 / flow_m3_s:.0f} s"
    metric = next(row for row in si if row[0].startswith("13:00"))
    assert metric[3] == f"{0.020 / flow_m3_s:.0f} s"
    assert {len(row) for row in us} == {5}


def test_nobody_holds_a_bucket_under_a_dry_pipe() -> None:
    assert day_ahead._fill(Running(0, 60, 0.0), "us") == "–"
    assert day_ahead._fill(Running(60, 60, 0.020 / 601), "si") == "–"
    assert day_ahead._fill(Running(60, 60, 0.020 / 599), "si") == "599 s"
    # The pump stops before the bucket is full.
    assert day_ahead._fill(Running(5, 60, 0.020 / 301), "si") == "–, runs 5 min"


def test_a_bucket_fills_while_the_pump_runs_and_not_at_the_mean_of_the_hour(card: Tomorrow) -> None:
    """A pump that stood for 43 min of an hour had 109 s for a bucket that takes 31 s while it runs."""
    flow_m3_s = 0.0189271 / 31
    clear = replace(
        card.days["clear"],
        hours=((9, flow_m3_s * 17 / 60), (10, flow_m3_s)),
        parts=((9, (FlowPart((), 43, 0.0), FlowPart((0,), 17, flow_m3_s))), (10, (FlowPart((0,), 60, flow_m3_s),))),
    )
    told = replace(card, days={"clear": clear, "light cloud": card.days["light cloud"]})
    first, whole, _ = hour_table(told, "us").rows
    assert (first[3], whole[3]) == ("31 s, runs 17 min", "31 s")
    assert held_value(float(first[1]), "flow", "us") == pytest.approx(flow_m3_s * 17 / 60, rel=0.02)
    assert told.summary()["days"]["clear"]["hours"][0]["running_minutes"] == 17
    assert "it stands for the rest of that hour, and that is right" in " ".join(card_text(told, "us").split())


def test_before_full_sun_nobody_is_asked_to_wait_for_it(card: Tomorrow) -> None:
    """Water through branches came before full sun, and so did the time to call, "in full sun"."""
    early = replace(card, full_sun=(card.call_water or 0) + 60)
    (line,) = (line for line in call_words(early, "us") if "no water" in line)
    assert "full sun" not in line
    assert "under a clear sky" in line


def test_a_fixed_rack_has_no_turn_to_call_about() -> None:
    card = card_for(load_job("demo", ["rack.kind=fixed"]), SPRING)
    assert not card.turns
    assert card.flip.likely is None
    assert not any("west" in line for line in call_words(card, "us"))
    assert "turn east" not in card_sentence(card, "us")
    # Once wrong: the owner was told to stay clear since it can swing.
    assert "without warning" not in card_text(card, "us")
    assert not any("swings" in getattr(block, "text", "") for block in day_answer(card, "us").blocks)


def test_haze_makes_the_water_of_a_fixed_rack_early_or_late() -> None:
    """Once wrong: nothing was drawn where no rack waits: early, likely and late were one minute, the call 30 later."""
    card = card_for(load_job("demo", ["rack.kind=fixed"]), SPRING)
    early, likely, late = card.water.early, card.water.likely, card.water.late
    assert early is not None
    assert likely is not None
    assert late is not None
    assert early < likely < late
    assert card.call_water == late + 30


def test_only_a_tank_is_told_to_stop_the_pump_when_full(card: Tomorrow) -> None:
    """Once wrong: "with room in the tank" of a pump that waters a field; a pond runs over and stops nothing either."""
    for kind, told in (("tank", True), ("pond", False), ("field", False)):
        store = JOB.store.model_copy(update={"kind": kind})
        one = replace(card, job=JOB.model_copy(update={"store": store}))
        assert ("room in the tank" in " ".join(call_words(one, "us"))) == told
        assert ("full tank" in " ".join(note_words(one))) == told


def test_a_thermal_rack_has_a_card_too() -> None:
    card = card_for(load_job("demo", ["rack.kind=thermal"]), SPRING)
    assert card.turns
    assert card.flip.late is not None
    assert card.water.early <= card.water.likely <= card.water.late  # type: ignore[operator]


@pytest.mark.parametrize("latitude", [36.1, 67.5])
def test_noon_is_when_the_sun_passes_the_axis_under_a_midnight_sun_too(latitude: float) -> None:
    job = load_job("demo", [f"site.latitude={latitude}", "site.timezone=", "weather.file=", "weather.clear_sky=true"])
    (turn,) = card_for(job, SUMMER).turns
    # 79.95° W on the clock of UTC−5: noon at 12:20 and the equation of time, two minutes in June.
    assert turn.noon == pytest.approx(12 * 60 + 22, abs=4)


def test_a_polar_night_and_a_lift_too_high_are_told_in_words() -> None:
    north = ["site.latitude=72", "site.timezone=", "trees=[]", "weather.file=", "weather.clear_sky=true"]
    dark = card_for(load_job("demo", north), dt.date(2025, 12, 21))
    assert "does not rise" in card_sentence(dark, "us")
    assert "%" not in total_words(dark, "us")
    assert not call_words(dark, "us")
    card_figure(dark, "us")
    dry = card_for(load_job("demo", ["source.lift=500 ft"]), SPRING)
    assert "no water" in card_sentence(dry, "us")
    assert "do not expect water" in last_words(dry)


def test_under_a_midnight_sun_water_is_told_of() -> None:
    """Once "the sun does not rise on this day, so no water is pumped. That is 434 % of the 2,000 gal wanted"."""
    north = ["site.latitude=72", "site.timezone=", "trees=[]", "weather.file=", "weather.clear_sky=true"]
    light = card_for(load_job("demo", north), dt.date(2025, 6, 21))
    assert light.sunrise is None
    assert "does not rise" not in card_sentence(light, "us")
    assert "The pump then lifts about" in card_sentence(light, "us")


def test_a_tank_s_level_does_not_enter() -> None:
    full = card_for(load_job("demo", ["store.capacity=3000 gal", "store.start=1"]), SPRING)
    assert full.days["clear"].total_m3 > held_value(5000, "volume", "us")


def test_what_a_backup_lifts_is_none_of_the_sun_s(card: Tomorrow) -> None:
    """A grid through the night once had water start at one in the morning, and counted as water of a clear day."""
    beside = card_for(load_job("demo", ["backup.kind=grid"]), SPRING)
    assert "What the grid lifts comes beside all this." in " ".join(card_text(beside, "us").split())
    assert (beside.days["clear"].total_m3, beside.water, beside.call_m3) == (
        card.days["clear"].total_m3,
        card.water,
        card.call_m3,
    )


def test_by_default_it_is_the_day_after_the_site_s_today() -> None:
    assert card_for(JOB).date - today_at(JOB.site) == dt.timedelta(days=1)


def test_a_day_too_far_off_is_one_fault() -> None:
    with pytest.raises(InputError) as told:
        card_for(JOB, dt.date(1800, 1, 1))
    assert [fault.field for fault in told.value.faults] == ["date"]


def test_the_figure_has_ink_and_no_colour(card: Tomorrow, tmp_path: Path) -> None:
    card_figure(card, "us").savefig(tmp_path / "card.png", dpi=60)
    image = imread(tmp_path / "card.png")[..., :3]
    assert np.ptp(image) > 0.9
    assert np.abs(image - image.mean(axis=2, keepdims=True)).max() < 0.02


SPRINGS = Path(__file__).parents[1] / "sites" / "two_springs.toml"
SUMMER = dt.date(2025, 6, 21)


@pytest.fixture(scope="module")
def springs() -> Tomorrow:
    return card_for(load_job(SPRINGS), SUMMER)


def test_several_pumps_give_few_flows_and_no_mean(springs: Tomorrow) -> None:
    rows = {row[0]: row[1:] for row in hour_table(springs, "us").rows}
    # 45 gpm with both, 23 with one, by hand in tests/sites.
    assert rows["11:00–12:00"][0] == "23 or 45"
    assert "expect 0, 23 or 45 gpm" in pump_words(springs, "us")[0]
    for day in springs.days.values():
        for (hour, mean), (same, parts) in zip(day.hours, day.parts, strict=True):
            assert hour == same
            assert sum(part.minutes for part in parts) == 60
            if 11 <= hour < 16:
                for part in parts:
                    flows = {0: [0.0], 1: [23.0, 23.4], 2: [45.0]}[len(part.units)]
                    assert min(abs(part.flow_m3_s / 6.309e-5 - flow) for flow in flows) < 0.5
            if day is springs.days["clear"]:  # where no cloud passes, a part's median is nearly its mean
                told = sum(part.minutes * part.flow_m3_s for part in parts)
                assert mean * 60 == pytest.approx(told, rel=0.01, abs=0.005)


@pytest.mark.parametrize("weather", [[], ["weather.clear_sky=false", "weather.file=sample:typical-year"]])
def test_an_hour_and_its_parts_are_those_of_the_minutes(weather: list[str]) -> None:
    """An hour's flow is the mean of its minutes, a part's the median of those in which the same pumps give water."""
    job = load_job(SPRINGS, weather)
    result = simulate(job, first_day=SUMMER, last_day=SUMMER)
    units = pd.DataFrame({number: minutes["flow_m3_s"] for number, minutes in enumerate(result.unit_minutes)})
    clock = result.times.tz_convert(job.site.timezone).hour
    day, seen = day_flow(job, result), 0
    for (hour, mean), (_, parts) in zip(day.hours, day.parts, strict=True):
        here = units[clock == hour]
        wet = here.sum(axis=1)[here.sum(axis=1) > 0]
        assert day.running[hour][:2] == (len(wet), len(here))
        assert day.running[hour].flow_m3_s == pytest.approx(wet.mean() if len(wet) else 0.0, rel=1e-12)
        assert mean == pytest.approx(here.sum(axis=1).mean(), rel=1e-12)
        assert sum(part.minutes for part in parts) == len(here) == 60
        for part in parts:
            alike = here[(here > 0).eq([number in part.units for number in units.columns]).all(axis=1)]
            assert part.minutes == len(alike)
            assert part.flow_m3_s == pytest.approx(alike.sum(axis=1).median(), rel=1e-12)
            seen += len(part.units) > 0
    assert seen > 10


def test_sun_turn_and_water_come_in_that_order(springs: Tomorrow) -> None:
    names = [row[0] for row in moment_table(springs).rows]
    assert names == [
        "sunrise", "first light", "full sun", "racks turn east", "they face the sun", "water from north spring",
        "water from south spring", "sunset",
    ]  # fmt: skip
    text = card_sentence(springs, "us")
    assert text.index("turn east") < text.index("water should start")
    shaded = card_sentence(card_for(JOB, SPRING), "us")
    assert shaded.index("there is full sun at") < shaded.index("turn east") < shaded.index("water should start")


def test_of_three_pumps_one_that_stands_is_told_by_the_flow_of_the_others() -> None:
    """Once wrong: flows of one alone or all were told, so that two running seemed impossible, and no call came."""
    units = ", ".join(
        f"{{name='{name}', source={{lift='{lift} ft'}}}}" for name, lift in (("A", 90), ("B", 95), ("C", 100))
    )
    changes = [f"unit=[{units}]", "main={lift='20 ft', pipes={length='200 ft', bore='2 in'}}", "trees=[]"]
    job = load_job("demo", [*changes, "rack.kind=fixed"])
    card = card_for(job, SPRING)
    assert len(card.levels_m3_s) == 1 + 3 + 3 + 1
    gpm = held_value(1.0, "flow", "us")
    assert card.levels_m3_s[-2] > 1.5 * card.levels_m3_s[3]
    (line,) = (each for each in call_words(card, "us") if "a pump stands" in each)
    shown = f"{card.levels_m3_s[-2] / gpm:.2g}"
    assert f"no more than about {shown} gpm" in line
    assert hhmm(card.clock(card.brightest)) in line
    assert "all but one or all" in pump_words(card, "us")[0]
    alike = replace(card, levels_m3_s=(0.0, 1e-4, 9.5e-4, 1e-3))  # nobody tells the last two apart
    (line,) = (each for each in call_words(alike, "us") if "a pump stands" in each)
    assert "about 1.6 gpm" in line


def test_what_a_pump_waits_for_is_told_for_each(springs: Tomorrow) -> None:
    told = pump_words(springs, "us")[0]
    assert "south spring runs" in told
    assert "(source low)" in told[told.index("south spring") :]
    north, south = springs.days["clear"].states
    assert sum(north.values()) == sum(south.values()) == 1440
    # By hand: 9,000 gal run in a day, 1,350 gal stand above the low stop, 23.4 gpm go out: some 440 min at full speed.
    assert 220 < next(iter(south.values())) < 520
    summary = springs.summary()
    assert [unit["name"] for unit in summary["units"]] == ["north spring", "south spring"]


def test_racks_that_differ_turn_each_for_itself() -> None:
    late = load_job(SPRINGS, ["unit.1.rack.flip_delay=120 min"])
    card = card_for(late, SUMMER)
    assert [turn.units for turn in card.turns] == [(0,), (1,)]
    first, second = (turn.flip.likely or 0 for turn in card.turns)
    # Seventy minutes more on a mild day in March; in June the early sun is lower and the way longer.
    assert 70 < second - first < 100
    assert any("rack at south spring still faces west" in line for line in call_words(card, "us"))
    # Water from the late one comes later too.
    assert (card.waters[1].likely or 0) > (card.waters[0].likely or 0) + 20
    # A fixed one beside it has no turn, and the card is still for the other.
    fixed = card_for(load_job(SPRINGS, ["unit.0.rack.kind=fixed"]), SUMMER)
    assert [turn.units for turn in fixed.turns] == [(1,)]


def test_haze_makes_the_water_of_a_fixed_rack_among_waiting_ones_early_or_late_too() -> None:
    """Once wrong: only its runs with the other rack's earliest and latest turn counted, so that late was likely."""
    spring = dt.date(2025, 3, 21)
    still = {number: f"unit.{number}.rack.kind=fixed" for number in (0, 1)}
    alone = card_for(load_job(SPRINGS, list(still.values())), spring).waters[0]
    among = card_for(load_job(SPRINGS, [still[0]]), spring)
    for part in ("early", "likely", "late"):
        assert abs(getattr(among.waters[0], part) - getattr(alone, part)) <= 2
    assert among.waters[0].early < among.waters[0].likely < among.waters[0].late  # type: ignore[operator]
    # The other rack's water is as with both waiting.
    both = card_for(load_job(SPRINGS), spring).waters[1]
    for part in ("early", "likely", "late"):
        assert abs(getattr(among.waters[1], part) - getattr(both, part)) <= 5
    # Only one of the two racks is to be looked at.
    assert "look at the rack at south spring at" in last_words(among)


def test_the_figure_of_several_pumps_shows_their_steps(springs: Tomorrow) -> None:
    (axes,) = card_figure(springs, "us").axes
    clear = axes.lines[0].get_ydata()
    assert len(clear) == 1440
    near = [min(abs(flow - level) for level in (0.0, 23.0, 23.4, 45.0)) < 0.5 for flow in clear[660:960]]
    assert np.mean(near) > 0.95
